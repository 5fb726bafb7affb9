// How long to wait before a join: the plan's own wait, more for a hand quicker than the plan's, and
// a rest where the plan's order was left. And how long the rest of the work will take.

const FEW = 6;             // joins before a hand's own pace is told
const LAST = 10;           // joins that it is told from

// Seconds of planned work for one join, its wait apart.
const planned = (task) => pieces[tasks.piece[task]].pace[tasks.step[task]] / 10;

// The share of the planned seconds that the last joins of a copy took, waits apart; null: too few.
function ownShare(key) {
  let work = 0, plan = 0, joins = 0;
  for (let at = store.events.length - 1; at >= 0 && joins < LAST; at--) {
    const event = store.events[at];
    if (event.r !== "done" || event.w === "" || store.undone.has(event.i) || copyKey(event.t) !== key) continue;
    work += event.w;
    plan += planned(event.t);
    joins++;
  }
  return joins >= FEW && plan > 0 ? work / plan : null;
}

// The wait before a join, counted from the last weld of the same copy: { seconds from that weld,
// why: "" the plan's own, "faster", "rest", "cold" or "skipped" }.
function waitBefore(task) {
  const { piece, step, pass } = taskInfo(task);
  const last = store.lastWeld.get(copyKey(task));
  const plan = piece.wait[step];
  if (!last) return { from: 0, seconds: plan, why: "", share: null };
  const back = tasks.step[last.t];
  const found = { from: last.ms, seconds: plan, why: "", share: null };
  if (step <= back) {
    // Out of the plan's order: one join after a rest, a whole stretch from cold.
    const stretch = store.settings.jumped !== null && openAfter(task) > 3 && passOf(piece, back) !== pass;
    found.seconds = Math.max(plan, stretch ? piece.cold_s : piece.rest_s);
    found.why = found.seconds > plan ? (stretch ? "cold" : "rest") : "";
    return found;
  }
  const share = ownShare(copyKey(task));
  if (share !== null && share < content.faster_share) {
    const more = waitWhenFaster(piece, step, share);
    found.share = share;
    if (more > plan) Object.assign(found, { seconds: more, why: "faster" });
  }
  // Joins left out between would have taken time in which others cooled.
  let missing = 0;
  for (let at = back + 1; at < step; at++) missing += piece.pace[at] / 10 + piece.wait[at];
  missing = Math.min(missing, content.skipped_s);
  if (missing > 0 && found.seconds < plan + missing) Object.assign(found, { seconds: plan + missing, why: "skipped" });
  return found;
}

function openAfter(task) {
  const { piece, pass, copy, step } = taskInfo(task);
  let open = 0;
  for (let at = step; at < pass.first + pass.joins; at++) {
    const each = tasks.find(pieces.indexOf(piece), copy - 1, at);
    if (each >= 0 && store.result[each] === OPEN) open++;
  }
  return open;
}

// The wait that the plan worked out for a quicker hand; where it has none, as long as it takes to
// keep to the plan's own pace.
function waitWhenFaster(piece, step, share) {
  const pace = piece.pace[step] / 10;
  const fit = piece.faster.filter((item) => item.share <= share);
  if (fit.length) return fit.reduce((a, b) => (a.share > b.share ? a : b)).wait[step];
  const quickest = piece.faster[piece.faster.length - 1];
  if (!quickest) return Math.ceil(piece.wait[step] + (1 - share) * pace);
  return Math.ceil(quickest.wait[step] + (quickest.share - share) * pace);
}

// Seconds still to go: at the plan's pace, and at the pace of the last joins.
function timeLeft() {
  let work = 0, waits = 0;
  for (let task = 0; task < tasks.count; task++) {
    if (store.result[task] === DONE) continue;
    work += planned(task);
    waits += pieces[tasks.piece[task]].wait[tasks.step[task]];
  }
  let taken = 0, plan = 0, joins = 0;
  for (let at = store.events.length - 1; at >= 0 && joins < 60; at--) {
    const event = store.events[at];
    if (event.r !== "done" || event.w === "" || store.undone.has(event.i)) continue;
    taken += event.w;
    plan += planned(event.t);
    joins++;
  }
  const own = joins >= 10 && plan > 0;
  return { seconds: work * (own ? taken / plan : 1) + waits, own };
}
