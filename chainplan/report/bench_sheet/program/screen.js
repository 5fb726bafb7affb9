// What is on the screen.

let shown = null;        // the task on the screen
let before = null;       // the task welded before it, for what changes in between
let cameUp = 0;          // when it came up (ms)
let pausedAt = 0;        // when the pause began, 0 if none
let pausedFor = 0;       // ms of pauses since it came up
let wait = null;         // its wait: { until, why, seconds, share }
let small = false;       // whether the large countdown was put aside for this wait
let said = "";

function say(text) {
  $("said").textContent = text === said ? `${text}\u00a0` : text;
  said = $("said").textContent;
}

// ---- The join on the screen -------------------------------------------------------------------

function show({ fresh = true } = {}) {
  if (weaving.copy) return showWeaving();
  if (checking >= 0) return showCheck();
  $("check-buttons").hidden = true;
  const task = tasks.count ? store.next() : -1;
  const changed = task !== shown;
  shown = task;
  if (fresh && changed) {
    before = lastDone();
    cameUp = now();
    pausedFor = 0;
    awake.slept = 0;
    small = false;
  }
  if (fresh) wait = task >= 0 ? waitOf(task) : null;
  $("choices").hidden = true;
  $("buttons").hidden = false;
  $("alarm").hidden = store.kept;
  $("alarm").textContent = store.kept ? "" : t("alarm.not_kept");
  showProgress();
  if (!content.one_by_one) return showTooLarge();
  if (task < 0) return showEnd();
  const info = taskInfo(task);
  const { piece, pass } = info;
  const last = before === null ? null : taskInfo(before);
  $("end").hidden = true;
  $("done").disabled = $("bad").disabled = false;
  $("piece").textContent = pieceTitle(info);
  $("title").textContent = ringTitle(info);
  $("place").textContent = ringPlace(info, last);
  const count = t("join.count", { step: info.step + 1, joins: piece.ring.length });
  const name = piece.of_unit || inRows(info) ? [t("title.ring", { ring: info.ring + 1 })] : [];
  $("where").textContent = [...name, count, t("pass.of", { number: pass.number, passes: piece.passes.at(-1).number })].join(" · ");
  $("face").textContent = t(`face.${pass.face}`);
  $("face").className = pass.face;
  $("setting").replaceChildren(...settingParts(pass));
  $("pass").replaceChildren(element("span", pass.text));
  showAction(info, last);
  showWatch(info);
  showWait();
  draw();
  if (changed) say([$("title").textContent, $("face").textContent, $("action").textContent].filter(Boolean).join(". "));
}

// The setting, each part of it on one line.
function settingParts(pass) {
  return settingText(pass).split(", ").flatMap((part, k, all) => {
    const span = element("span", part + (k < all.length - 1 ? "," : ""), "whole");
    return k ? [" ", span] : [span];
  });
}

function lastDone() {
  const works = (event) => event.r !== "note" && !CHECKS.has(event.r);
  return store.lastTap && works(store.lastTap) ? store.lastTap.t : lastOf(works);
}

function lastOf(wanted) {
  for (let at = store.events.length - 1; at >= 0; at--) {
    const event = store.events[at];
    if (event.r !== "undo" && !store.undone.has(event.i) && store.own(event) && wanted(event)) return event.t;
  }
  return null;
}

function waitOf(task) {
  const found = waitBefore(task);
  return { ...found, until: found.from ? Math.min(found.from, clock()) + found.seconds * 1000 : 0 };
}

// What changes before this join: piece, copy, face, setting.
function showAction(info, last) {
  const actions = [];
  const other = !last || last.piece !== info.piece || last.copy !== info.copy;
  if (other) {
    if (last || info.piece.notes) actions.push(t("action.take_up", { piece: pieceTitle(info) }));
    if (info.piece.notes) actions.push(noteText(info.piece));
  } else if (last.pass.face !== info.pass.face) {
    actions.push(t(`action.turn.${info.pass.face}`));
  }
  if (info.piece.clip.length) {
    const clip = info.piece.clip[info.step];
    if (other || last.piece.clip[last.step] !== clip) actions.push(t("action.clip", { ring: clip }));
  }
  if (!last || last.pass.setting !== info.pass.setting) actions.push(t("action.set", { setting: settingText(info.pass) }));
  if (last && !actions.length && last.pass !== info.pass) actions.push(t("action.new_pass", { number: info.pass.number }));
  if (store.result[info.task] === LATER) actions.push(t("action.was_left"));
  if (store.broken.has(info.task)) actions.push(t("action.broken"));
  $("action").hidden = !actions.length;
  $("action").textContent = actions.join(" ");
}

// What to look out for at this join.
function showWatch(info) {
  const { piece, pass, step } = info;
  const lines = [];
  if (!wovenCopies(store.events)[tasks.piece[info.task]][info.copy - 1]) {
    lines.push([t("watch.unwoven", { when: dayTime(piece.woven[info.copy - 1]) })]);
  }
  const agains = store.agains.get(info.task) || 0;
  if (agains) lines.push([t("watch.again", { n: agains }), "warm"]);
  const taken = link.apart(info.task);
  if (taken) lines.push([t("watch.taken", { person: taken }), "warm"]);
  if (piece.picture) lines.push([t("watch.electrode", { way: approach.words(info) })]);
  if (piece.both.includes(step)) lines.push([t("watch.both")]);
  const x = piece.picture ? piece.picture.join[3 * info.ring] / 100 : null;
  for (const part of piece.parts.filter((one) => one.warm)) {
    const away = x === null ? 0 : Math.max(part.left - x, x - part.right, 0);
    const values = { part: part.name, limit: part.limit, mm: Math.round(away) };
    if (away < 30) lines.push([t(away < 1 ? "watch.part_here" : "watch.part_near", values), "warm"]);
  }
  if (info.warm > 45) {
    const values = { degrees: info.warm, limit: piece.below[step] };
    lines.push([t(values.limit ? "watch.warm_limit" : "watch.warm", values), "warm"]);
  }
  if (content.hold_mm[1] > 0 && !piece.loose.includes(step)) {
    const far = { from: content.hold_mm[0], to: content.hold_mm[1] };
    lines.push([piece.short ? t("watch.tweezers") : t(content.hold_both ? "watch.hold_both" : "watch.hold", far)]);
    if (content.hold_end && !piece.short) lines.push([t("watch.hold_end")]);
  }
  if (wait && wait.share !== null) {
    const seconds = planned(info.task);
    const values = { own: (wait.share * seconds).toFixed(1), planned: seconds.toFixed(1), seconds: wait.seconds };
    lines.push([t(wait.why === "faster" ? "watch.faster_wait" : "watch.faster", values), wait.why === "faster" ? "warm" : undefined]);
  }
  const note = store.notes.get(info.task);
  if (note) lines.push([t("watch.noted", { note })]);
  const items = lines.map(([text, name]) => element("li", text, name));
  if (!piece.clip.length && piece.earthed) items.push(element("li", piece.earthed));
  if (pass.note) items.push(element("li", pass.note));
  $("watch").replaceChildren(...items);
}

function showProgress() {
  $("progress").max = Math.max(1, tasks.count);
  $("progress").value = store.done;
  $("progress").textContent = `${store.done} / ${tasks.count}`;
  const later = store.result.reduce((sum, result) => sum + (result === LATER), 0);
  $("count").textContent = t(later ? "count.later" : "count", { done: store.done, joins: tasks.count, later });
  const left = timeLeft();
  $("left").textContent = tasks.count && store.done < tasks.count ?
    t(left.own ? "left.own" : "left", { time: showDuration(left.seconds) }) : "";
  $("undo").disabled = !store.lastTap;
  $("check-undo").disabled = !store.lastTap || !CHECKS.has(store.lastTap.r);
  $("open-weaving").hidden = !canWeave();
  $("open-checks").hidden = !content.checks.length || !content.one_by_one;
  $("end-checks").hidden = !openChecks().length;
  $("twice").hidden = !store.twice.size;
  if (store.twice.size) {
    const [task, [one, other]] = [...store.twice][0];
    const info = taskInfo(task);
    $("twice").textContent = t("twice", {
      n: store.twice.size, ring: info.ring + 1, piece: pieceTitle(info),
      one: one.p || "–", other: other.p || "–", at: clockTime(one.ms), then: clockTime(other.ms),
    });
  }
}

function showTooLarge() {
  $("piece").textContent = content.job;
  $("title").textContent = t("too_large");
  $("pass").textContent = t("too_large.instead");
  for (const id of ["action", "wait", "buttons", "view", "end"]) $(id).hidden = true;
}

function showEnd() {
  const over = tasks.count > 0 && store.done === tasks.count;
  $("piece").textContent = content.job;
  $("title").textContent = t(!tasks.count ? "end.nothing" : over ? "end.all_done" : "end.none_for_you");
  for (const id of ["place", "setting", "where", "face", "pass"]) $(id).textContent = "";
  $("watch").replaceChildren();
  $("action").hidden = $("wait").hidden = $("countdown").hidden = true;
  $("done").disabled = $("bad").disabled = true;
  $("end").hidden = !over;
  $("end-next").textContent = t(link.shared ? "end.shared" : "end.alone", { folder: content.job });
  $("end-save").hidden = link.shared;
  draw();
  say($("title").textContent);
}

function draw() {
  if (weaving.copy) return drawWeaving();
  const at = checking >= 0 ? checking : shown;
  const info = at >= 0 && at !== null ? taskInfo(at) : null;
  picture.draw(info, store.settings.zoom);
  picture.canvas.setAttribute("aria-label", info ?
    t("picture.label", { ring: info.ring + 1, rings: info.piece.rings, face: t(`face.${info.pass.face}`) }) : t("picture.none"));
}

// The countdown of a wait; runs on the clock, so that a reload or a pause does not lengthen it.
function showWait() {
  const seconds = wait ? Math.ceil((wait.until - clock()) / 1000) : 0;
  const over = seconds <= 0;
  if (!over && $("wait").hidden) say(t("wait.say", { time: showDuration(seconds) }));
  if (over && !$("wait").hidden) {
    say(t("wait.over"));
    awake.call();
  }
  $("wait").hidden = over;
  $("countdown").hidden = over || small || !store.settings.large || wait.seconds < content.large_from_s;
  $("app").classList.toggle("waiting", !over);
  $("done-word").textContent = t(over ? "button.done" : "button.hold");
  if (over) return;
  const info = taskInfo(shown);
  const reason = info.piece.reasons[info.piece.why[info.step]] || "";
  const text = wait.why ? t(`wait.${wait.why}`) : reason ? t("wait.for", { reason }) : t("wait.cool");
  for (const id of ["wait-text", "large-text"]) $(id).textContent = text;
  for (const id of ["wait-time", "large-time"]) $(id).textContent = showDuration(seconds);
}

setInterval(() => {
  awake.tick();
  if (checking < 0 && !weaving.copy && shown !== null && shown >= 0) showWait();
}, 250);
