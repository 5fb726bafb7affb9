// The work as a list of tasks: one join of one copy of one piece each, in the order of the batch.

const $ = (id) => document.getElementById(id);
const content = JSON.parse($("content").textContent);
const pieces = content.pieces;

const tasks = (() => {
  const count = content.turns.reduce((sum, turn) => sum + turn[3], 0);
  const piece = new Uint16Array(count);
  const copy = new Uint16Array(count);
  const step = new Uint32Array(count);
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
  return { count, piece, copy, step, find };
})();

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

// All that is known of one task.
function taskInfo(task) {
  const piece = pieces[tasks.piece[task]];
  const step = tasks.step[task];
  return {
    task, piece, step,
    copy: tasks.copy[task] + 1,
    ring: piece.ring[step],
    wait: piece.wait[step],
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

// When it will be, as people say it.
function wovenText(info) {
  const at = new Date(info.piece.woven[info.copy - 1]);
  const day = at.toLocaleDateString("en-GB", { weekday: "short", day: "numeric", month: "short" });
  const two = (number) => String(number).padStart(2, "0");
  return `${day}, ${two(at.getHours())}:${two(at.getMinutes())}`;
}

// The user's own note on a piece, as a sentence.
function noteText(piece) {
  const text = piece.notes.trim();
  return `Note: ${text}${/[.!?…]$/.test(text) ? "" : "."}`;
}

function showDuration(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  if (whole < 60) return `${whole} s`;
  if (whole < 300) return whole % 60 ? `${Math.floor(whole / 60)} min ${whole % 60} s` : `${whole / 60} min`;
  const minutes = Math.round(whole / 60);
  if (minutes < 60) return `${minutes} min`;
  return minutes % 60 ? `${Math.floor(minutes / 60)} h ${minutes % 60} min` : `${minutes / 60} h`;
}

// Date and time with the offset from UTC, to the second.
function timeStamp(date) {
  const two = (number) => String(number).padStart(2, "0");
  const offset = -date.getTimezoneOffset();
  const sign = offset < 0 ? "-" : "+";
  const away = Math.abs(offset);
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}` +
    `T${two(date.getHours())}:${two(date.getMinutes())}:${two(date.getSeconds())}` +
    `${sign}${two(Math.floor(away / 60))}:${two(away % 60)}`;
}
