// The work as a list of tasks: one join of one copy of one piece each, in the order of the batch.

const pieces = content.pieces;

// The step that welds each ring of a piece; −1 where none does.
const steps = pieces.map((piece) => {
  const found = new Int32Array(piece.rings).fill(-1);
  (piece.ring || []).forEach((ring, step) => { found[ring] = step; });
  return found;
});

const tasks = (() => {
  const count = content.turns.reduce((sum, turn) => sum + turn[3], 0);
  const drawn = content.checks.flatMap((lot) => lot.drawn);
  const piece = new Uint16Array(count + drawn.length);
  const copy = new Uint16Array(count + drawn.length);
  const step = new Int32Array(count + drawn.length);
  let at = 0;
  for (const [which, number, first, steps] of content.turns) {
    for (let k = 0; k < steps; k++, at++) {
      piece[at] = which;
      copy[at] = number;
      step[at] = first + k;
    }
  }
  // The task of each step of each copy: the turns of a batch interleave pieces and copies.
  const places = pieces.map((each) => Array.from({ length: each.quantity }, () => new Int32Array(each.ring ? each.ring.length : 0).fill(-1)));
  for (let k = 0; k < count; k++) places[piece[k]][copy[k]][step[k]] = k;
  const find = (which, number, at) => places[which]?.[number]?.[at] ?? -1;
  // Joins to check that were welded before this sheet was made: tasks behind the others, with a
  // ring and no step.
  const ring = new Map();
  let all = count;
  const known = new Map();
  for (const [which, number, one] of drawn) {
    const order = steps[which][one];
    if (order >= 0 && find(which, number, order) >= 0) continue;
    piece[all] = which;
    copy[all] = number;
    step[all] = -1;
    ring.set(all, one);
    known.set(`${which} ${number} ${one}`, all++);
  }
  // The task of a ring of a copy, welded before or not; −1: there is none.
  const ofRing = (which, number, one) => {
    const order = steps[which]?.[one] ?? -1;
    const task = order < 0 ? -1 : find(which, number, order);
    return task >= 0 ? task : known.get(`${which} ${number} ${one}`) ?? -1;
  };
  return { count, all, piece, copy, step, ring, find, ofRing };
})();

// A piece's copy as one number: what has one heat.
const copyKey = (task) => tasks.piece[task] * 65536 + tasks.copy[task];

// The pass that a step belongs to (passes are in the order of their first steps).
function passOf(piece, step) {
  const passes = piece.passes;
  let low = 0, high = passes.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (passes[middle].first <= step) low = middle; else high = middle - 1;
  }
  return passes[low];
}

// A view of a ring that was welded before, from the side of its join.
function seenFrom(piece, ring) {
  const to = piece.picture ? piece.picture.approach[3 * ring + 2] : 1;
  const face = to >= 0 ? "front" : "back";
  const alike = piece.passes.find((pass) => pass.face === face);
  const look = alike || { up: [0, 1, 0], toward: [0, 0, to >= 0 ? 1 : -1] };
  return { number: 0, text: "", face, first: 0, joins: 0, up: look.up, toward: look.toward, note: "" };
}

// All that is known of one task.
function taskInfo(task) {
  const piece = pieces[tasks.piece[task]];
  const step = tasks.step[task];
  if (step < 0) {
    const ring = tasks.ring.get(task);
    return { task, piece, step, copy: tasks.copy[task] + 1, ring, warm: 0, pass: seenFrom(piece, ring) };
  }
  return {
    task, piece, step,
    copy: tasks.copy[task] + 1,
    ring: piece.ring[step],
    warm: piece.warm[step],
    pass: passOf(piece, step),
  };
}

// Which copies of each piece lie woven by the schedule at this time, or were begun all the same.
function wovenCopies(events) {
  const lies = pieces.map((piece) => piece.woven.map((at) => !at || Date.now() >= Date.parse(at)));
  for (const event of events) lies[tasks.piece[event.t]][tasks.copy[event.t]] = true;
  return lies;
}

function pieceTitle(info) {
  const name = info.piece.name;
  return info.piece.quantity > 1 ? t("piece.copy", { name, copy: info.copy, copies: info.piece.quantity }) : name;
}

function settingText(pass) {
  return t("setting", { power: pass.power, hits: t("hits", { n: pass.hits }), tip: t(`tip.${pass.tip}`) });
}

// The user's own note on a piece.
function noteText(piece) {
  const text = piece.notes.trim();
  return t("note.of_piece", { note: /[.!?…]$/.test(text) ? text : `${text}.` });
}

// ---- Where a ring is, as a hand finds it --------------------------------------------------------

// Which of the rings that a hand counts as one: "front", "upper", "left" … as seen in the pass; ""
// where a ring counts for itself.
function whichOfUnit(info) {
  const { piece, pass, ring } = info;
  if (!piece.of_unit || !piece.picture) return "";
  const unit = piece.of_unit[ring];
  const fellows = [];
  for (let k = ring; k >= 0 && piece.of_unit[k] === unit; k--) fellows.unshift(k);
  for (let k = ring + 1; k < piece.rings && piece.of_unit[k] === unit; k++) fellows.push(k);
  if (fellows.length < 2) return "";
  const centre = piece.picture.centre;
  const seen = (k) => {
    const at = [centre[3 * k], centre[3 * k + 1], centre[3 * k + 2]];
    const along = (axis) => at[0] * axis[0] + at[1] * axis[1] + at[2] * axis[2];
    return [at[0], along(pass.up), along(pass.toward)];
  };
  const places = fellows.map(seen);
  const spread = [0, 1, 2].map((axis) => Math.max(...places.map((p) => p[axis])) - Math.min(...places.map((p) => p[axis])));
  const axis = spread.indexOf(Math.max(...spread));
  const rank = fellows.slice().sort((a, b) => seen(a)[axis] - seen(b)[axis]).indexOf(ring);
  const [low, top] = [["left", "right"], ["lower", "upper"], ["rear", "front"]][axis];
  if (rank === 0) return low;
  return rank === fellows.length - 1 ? top : "middle";
}

// Whether a ring is counted in the rows of a sheet: those that hold a fitting to it are not.
function inRows(info) {
  return info.piece.row.length > 0 && !info.piece.beside.includes(info.step);
}

// "pair 19, front ring" – or "ring 38", or its row and place in a sheet.
function ringTitle(info) {
  const { piece, ring, step } = info;
  if (inRows(info)) return t("title.row", { row: piece.row[step], place: piece.column[step] });
  if (piece.of_unit) {
    const number = piece.of_unit[ring] + 1;
    const which = whichOfUnit(info);
    if (which) return t(`title.${piece.unit}.${which}`, { number });
    return t(`title.${piece.unit}`, { number });
  }
  return t("title.ring", { ring: ring + 1 });
}

// "158 mm from the start, 41 rings to the right" of the join before.
function ringPlace(info, last) {
  const { piece, ring } = info;
  const lines = [];
  if (piece.picture && !piece.loose.includes(info.step)) {
    const mm = Math.max(0, piece.picture.join[3 * ring] / 100 - piece.start_mm);
    lines.push(t("place.start", { mm: Math.round(mm) }));
  }
  if (last && last.piece === piece && last.copy === info.copy && last.ring !== ring && piece.picture && !piece.row.length) {
    const way = piece.picture.join[3 * ring] - piece.picture.join[3 * last.ring];
    const far = Math.abs(way) > piece.picture.wire[0];   // its own pair's other ring is neither
    if (far) lines.push(t(way > 0 ? "place.right" : "place.left", { n: Math.abs(ring - last.ring) }));
  }
  return lines.join(" · ");
}
