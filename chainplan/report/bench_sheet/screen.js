// What is on the screen, and what taps and keys do.

let shown = null;        // the task on the screen
let before = null;       // the task welded before it, for what changes in between
let cameUp = 0;          // when it came up (ms)
let pausedAt = 0;        // when the pause began, 0 if none
let pausedFor = 0;       // ms of pauses since it came up
let waitUntil = 0;       // when its wait is over
let said = "";

const now = () => Date.now();

function say(text) {
  $("said").textContent = text === said ? `${text}\u00a0` : text;
  said = $("said").textContent;
}

// ---- The join on the screen -------------------------------------------------------------------

function show({ fresh = true } = {}) {
  const task = tasks.count ? store.next() : -1;
  const changed = task !== shown;
  shown = task;
  if (fresh && changed) {
    before = lastDone();
    cameUp = now();
    pausedFor = 0;
    const last = store.events[store.events.length - 1];
    waitUntil = task >= 0 && last ? (Date.parse(last.at) || 0) + taskInfo(task).wait * 1000 : 0;
  }
  $("choices").hidden = true;
  $("buttons").hidden = false;
  $("alarm").hidden = store.kept;
  $("alarm").textContent = store.kept ? "" :
    "This browser does not keep what you tick. Save the log before you close the page.";
  showProgress();
  if (!content.one_by_one) return showTooLarge();
  if (task < 0) return showEnd();
  const info = taskInfo(task);
  const { piece, pass } = info;
  $("done").disabled = $("bad").disabled = false;
  $("piece").textContent = piece.quantity > 1 ? `${piece.name}, copy ${info.copy} of ${piece.quantity}` : piece.name;
  $("title").textContent = `join ${info.step + 1} · ring ${info.ring + 1}`;
  $("where").textContent = piece.row.length ? `row ${piece.row[info.step]} · pass ${pass.number} of ${piece.passes.at(-1).number}` :
    `pass ${pass.number} of ${piece.passes.at(-1).number}`;
  $("face").textContent = pass.face;
  $("face").className = pass.face;
  // "1 hit" stays on one line
  $("setting").textContent = pass.setting.split(", ").map((part) => part.replace(/ /g, "\u00a0")).join(", ");
  $("pass").textContent = pass.text;
  showAction(info);
  showWatch(info);
  showWait();
  draw();
  if (changed) say(`Join ${info.step + 1}, ring ${info.ring + 1}, ${pass.face}. ${$("action").hidden ? "" : $("action").textContent}`);
}

function lastDone() {
  for (let at = store.events.length - 1; at >= 0; at--) if (store.events[at].r !== "note") return store.events[at].t;
  return null;
}

// What changes before this join: piece, copy, face, setting.
function showAction(info) {
  const actions = [];
  const last = before === null ? null : taskInfo(before);
  if (!last || last.piece !== info.piece || last.copy !== info.copy) {
    if (last || info.piece.notes) actions.push(`Take up ${info.piece.name}${info.piece.quantity > 1 ? `, copy ${info.copy}` : ""}.`);
    if (info.piece.notes) actions.push(noteText(info.piece));
  } else if (last && last.pass.face !== info.pass.face) {
    actions.push(`Turn the piece to its ${info.pass.face}, about its length: its start stays on the left.`);
  }
  if (info.piece.clip.length) {
    const clip = info.piece.clip[info.step];
    const same = last && last.piece === info.piece && last.copy === info.copy;
    if (!same || last.piece.clip[last.step] !== clip) actions.push(`Put the return lead's clip on ring ${clip}.`);
  } else if (info.piece.earthed && (!last || last.piece !== info.piece)) actions.push(info.piece.earthed);
  if (!last || last.pass.setting !== info.pass.setting) actions.push(`Set the welder: ${info.pass.setting}. Try it on scrap.`);
  if (last && !actions.length && last.pass !== info.pass) actions.push(`New pass: ${info.pass.text}`);
  if (store.result[info.task] === LATER) actions.push("This one was left for later.");
  $("action").hidden = !actions.length;
  $("action").textContent = actions.join(" ");
}

// What to look out for at this join.
function showWatch(info) {
  const { piece, pass, step } = info;
  const lines = [];
  if (!wovenCopies(store.events)[tasks.piece[info.task]][info.copy - 1]) lines.push([`By the schedule this copy lies woven from ${wovenText(info)} on: begin it if it does.`]);
  const agains = store.agains.get(info.task) || 0;
  if (agains) lines.push([`Weld it again (it was not good ${agains === 1 ? "once" : `${agains} times`}).`, "warm"]);
  if (piece.both.includes(step)) lines.push(["Heavy wire: weld it from both sides."]);
  const x = piece.picture ? piece.picture.join[3 * info.ring] / 100 : null;
  for (const part of piece.parts.filter((one) => one.warm)) {
    const away = x === null ? 0 : Math.max(part.left - x, x - part.right, 0);
    if (away < 30) lines.push([`${part.name} is ${away < 1 ? "right here" : `${Math.round(away)} mm away`}: keep it ${part.text}.`, "warm"]);
  }
  if (info.warm > 45) lines.push([`The ring may be ${info.warm} °C warm: tweezers, no fingers${piece.below[step] ? `; above ${piece.below[step]} °C wait until it has cooled` : ""}.`, "warm"]);
  if (content.hold_mm[1] > 0 && !piece.loose.includes(step)) {
    const far = `${content.hold_mm[0]} to ${content.hold_mm[1]} mm away from the join, ${content.hold_both ? "on both sides" : "on its cooler side"}`;
    lines.push([piece.short ? "Hold the piece with tweezers at an end: it is too short for fingers." : `Hold the piece ${far}.`]);
  }
  if (pass.note) lines.push([`Setting: ${pass.note}`]);
  const note = store.notes.get(info.task);
  if (note) lines.push([`Noted: ${note}`]);
  $("watch").replaceChildren(...lines.map(([text, name]) => element("li", text, name)));
}

function showProgress() {
  $("progress").max = Math.max(1, tasks.count);
  $("progress").value = store.done;
  $("progress").textContent = `${store.done} of ${tasks.count}`;
  $("count").textContent = `${store.done} of ${tasks.count} joins welded`;
  const later = store.result.reduce((sum, result) => sum + (result === LATER), 0);
  if (later) $("count").textContent += `, ${later} for later`;
  const left = store.left();
  $("left").textContent = tasks.count && store.done < tasks.count ?
    `about ${showDuration(left.seconds)} left${left.own ? " at your pace" : ""}` : "";
  $("undo").disabled = !store.events.length;
}

function showTooLarge() {
  $("piece").textContent = content.job;
  $("title").textContent = "Too many joins for one list";
  $("pass").textContent = "Use the list of passes and the diagrams.";
  for (const id of ["action", "wait", "buttons", "view"]) $(id).hidden = true;
}

function showEnd() {
  $("piece").textContent = content.job;
  $("title").textContent = tasks.count ? "All joins are welded" : "There is nothing to weld";
  $("setting").textContent = "";
  $("where").textContent = "";
  $("face").textContent = "";
  $("pass").textContent = tasks.count ? "Save the log: the next plan learns from it." : "";
  $("watch").replaceChildren();
  $("action").hidden = $("wait").hidden = true;
  $("done").disabled = $("bad").disabled = true;
  draw();
  say($("title").textContent);
}

function draw() {
  const info = shown >= 0 && shown !== null ? taskInfo(shown) : null;
  picture.draw(info, store.settings.zoom);
  picture.canvas.setAttribute("aria-label", info ?
    `Ring ${info.ring + 1} of ${info.piece.rings}, seen from the ${info.pass.face}, its join marked in the middle` :
    "No join");
}

// The countdown of a wait; runs on the clock, so that a reload or a pause does not lengthen it.
function showWait() {
  const seconds = Math.ceil((waitUntil - now()) / 1000);
  const over = seconds <= 0;
  if (!over && $("wait").hidden) say(`Wait ${showDuration(seconds)}`);
  if (over && !$("wait").hidden) say("The wait is over");
  $("wait").hidden = over;
  const info = shown >= 0 ? taskInfo(shown) : null;
  const reason = info && info.piece.reasons[info.piece.why[info.step]];
  $("wait-text").textContent = reason ? `let it cool: ${reason}` : "let it cool";
  $("wait-time").textContent = over ? "" : showDuration(seconds);
}

setInterval(() => { if (shown !== null && shown >= 0) showWait(); }, 250);

// ---- Taps -------------------------------------------------------------------------------------

function record(result, note = "") {
  if (shown < 0 || shown === null) return;
  const waited = Math.max(0, Math.min(now(), waitUntil || 0) - cameUp) / 1000;
  const work = Math.max(0, (now() - cameUp - pausedFor) / 1000 - waited);
  const tenth = (seconds) => Math.round(seconds * 10) / 10;
  store.add({ t: shown, r: result, n: note, at: timeStamp(new Date()), w: tenth(work), v: tenth(waited) });
}

function tapDone() {
  if ($("done").disabled || shown < 0) return;
  record("done");
  show();
}

function tapBad() {
  if ($("bad").disabled || shown < 0) return;
  $("choices").hidden = false;
  $("buttons").hidden = true;
  $("again").focus();
  say("Not good. 1: weld it again, 2: leave for later, 3: write a note");
}

function tapAgain() {
  record("again");
  cameUp = now();
  pausedFor = 0;
  waitUntil = 0;
  show();
  $("done").focus();
  say("Weld it again");
}

function tapLater() {
  const task = shown;
  record("later");
  if (store.next() === task) cameUp = now();
  show();
  $("done").focus();
}

function tapBack() {
  $("choices").hidden = true;
  $("buttons").hidden = false;
  $("bad").focus();
}

function tapNote() {
  $("note-text").value = store.notes.get(shown) || "";
  $("note").showModal();
  $("note-text").focus();
}

function keepNote() {
  const text = $("note-text").value.replace(/\s+/g, " ").trim();
  $("note").close();
  if (text) {
    record("note", text);
    cameUp = now();
    pausedFor = 0;
  }
  show({ fresh: false });
  tapBack();
  say(text ? "Note kept" : "No note");
}

function tapUndo() {
  const event = store.undo();
  if (!event) return;
  shown = null;
  show();
  waitUntil = 0;
  showWait();
  say(`Taken back: ${event.r}, join ${tasks.step[event.t] + 1}`);
}

function tapPause() {
  pausedAt = now();
  $("paused").showModal();
}

$("paused").addEventListener("close", () => {
  if (pausedAt) pausedFor += now() - pausedAt;
  pausedAt = 0;
});

// ---- Log, passes, print -----------------------------------------------------------------------

function openLog() {
  $("log-state").textContent = `${store.events.length} taps. ` + (store.kept ?
    "They are kept in this browser, on this device only." : "This browser does not keep them: save the log.");
  $("log-text").value = logAsCsv(store.events);
  $("import-result").textContent = "";
  $("log").showModal();
}

function exportLog() {
  const address = URL.createObjectURL(new Blob([logAsCsv(store.events)], { type: "text/csv" }));
  const link = element("a");
  link.href = address;
  link.download = `${content.job.replace(/[^\p{L}\p{N} _-]/gu, "_").slice(0, 60)} log.csv`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}

async function importLog() {
  const file = $("import").files[0];
  if (!file) return;
  $("import").value = "";
  if (file.size > 50e6) {
    $("import-result").textContent = "This file is too large for a log.";
    return;
  }
  const { events, problems } = eventsFromCsv(await file.text());
  const report = (text) => {
    $("import-result").textContent = [text, ...problems.slice(0, 5),
      ...(problems.length > 5 ? [`… and ${problems.length - 5} more`] : [])].join(" ");
  };
  if (!events.length) return report("Nothing was taken up.");
  const take = () => {
    store.replace(events);
    shown = null;
    show();
    $("log-text").value = logAsCsv(store.events);
    report(`${events.length} taps taken up.`);
  };
  if (store.events.length) ask(`Replace the ${store.events.length} taps that are here by ${events.length} from the file?`, take);
  else take();
}

// Ask before something is lost.
let whenSure = null;
function ask(text, then) {
  whenSure = then;
  $("sure-text").textContent = text;
  $("sure").showModal();
  $("sure-no").focus();
}

function clearAll() {
  ask("Forget all that was ticked on this sheet?", () => {
    store.replace([]);
    shown = null;
    show();
    $("log").close();
  });
}

function openPasses() {
  const rows = [];
  for (const piece of pieces) {
    rows.push(element("h3", piece.name));
    if (piece.notes) rows.push(element("p", noteText(piece)));
    const welded = new Map();
    for (let task = 0; task < tasks.count; task++) {
      if (pieces[tasks.piece[task]] !== piece || store.result[task] !== DONE) continue;
      const pass = passOf(piece, tasks.step[task]);
      welded.set(pass, (welded.get(pass) || 0) + 1);
    }
    const here = shown >= 0 && shown !== null ? taskInfo(shown) : null;
    for (const pass of piece.passes) {
      const all = pass.joins * piece.quantity, some = welded.get(pass) || 0;
      const row = element("div", undefined, here && here.pass === pass ? "pass-row now" : "pass-row");
      row.append(
        element("span", some === all ? "☑" : "☐"),
        element("span", `${pass.number}. ${pass.text}`),
        element("span", `${some} of ${all}`),
      );
      rows.push(row);
    }
  }
  $("pass-list").replaceChildren(...rows);
  $("passes").showModal();
  document.querySelector("#pass-list .now")?.scrollIntoView({ block: "center" });
}

// ---- Keys -------------------------------------------------------------------------------------

function pressed(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  const target = event.target;
  const typing = target instanceof HTMLTextAreaElement || target instanceof HTMLInputElement;
  if (typing || !store.settings.keys) return;
  const key = event.key.toLowerCase();
  const dialog = document.querySelector("dialog[open]");
  if (dialog) {
    if (dialog.id === "paused" && key === "p") { event.preventDefault(); dialog.close(); }
    return;
  }
  const choosing = !$("choices").hidden;
  const onButton = target instanceof HTMLButtonElement;
  const taps = choosing ?
    { 1: tapAgain, 2: tapLater, 3: tapNote, escape: tapBack } :
    { d: tapDone, n: tapBad, u: tapUndo, backspace: tapUndo, p: tapPause, "+": nearer, "=": nearer, "-": farther };
  if (!choosing && key === " " && !onButton) taps[" "] = tapDone;
  const tap = taps[key];
  if (!tap || (event.repeat && tap !== nearer && tap !== farther)) return;
  event.preventDefault();
  tap();
}

function zoomBy(factor) {
  store.settings.zoom = Math.min(4, Math.max(0.15, store.settings.zoom * factor));
  store.save(Infinity);
  draw();
}
function nearer() { zoomBy(1.25); }
function farther() { zoomBy(0.8); }

// ---- Start ------------------------------------------------------------------------------------

function fillLists() {
  $("caution-list").replaceChildren(...content.cautions.flatMap((caution, at) => {
    const text = element("dd", caution.text);
    text.append(element("small", caution.source));
    const known = at && content.cautions[at - 1].topic === caution.topic;
    return known ? [text] : [element("dt", caution.topic), text];
  }));
  $("column-list").replaceChildren(...content.columns.flatMap(([name, means]) => [element("dt", name), element("dd", means)]));
}

function listen() {
  const taps = {
    done: tapDone, bad: tapBad, undo: tapUndo, pause: tapPause, again: tapAgain, later: tapLater,
    "with-note": tapNote, back: tapBack, "note-save": keepNote, "note-cancel": () => $("note").close(),
    resume: () => $("paused").close(), nearer, farther, export: exportLog, clear: clearAll,
    "open-passes": openPasses, "open-log": openLog, "open-keys": () => $("keys").showModal(),
    "open-cautions": () => $("cautions").showModal(), print: () => { $("passes").close(); window.print(); },
    "sure-no": () => $("sure").close(), "sure-yes": () => { $("sure").close(); whenSure(); },
    acknowledge: () => { store.settings.acknowledged = true; store.save(Infinity); $("cautions").close(); },
  };
  for (const [id, tap] of Object.entries(taps)) $(id).addEventListener("click", tap);
  for (const button of document.querySelectorAll("dialog .close")) {
    button.addEventListener("click", () => button.closest("dialog").close());
  }
  // The cautions are read before anything else: Escape does not pass them by, neither in browsers
  // that know closedby nor in those that close a dialog at the second Escape whatever we say.
  $("cautions").addEventListener("cancel", (event) => { if (!store.settings.acknowledged) event.preventDefault(); });
  $("cautions").addEventListener("close", () => {
    if (!store.settings.acknowledged) return $("cautions").showModal();
    cameUp = now();
    $("title").focus();
  });
  $("import").addEventListener("change", importLog);
  $("keys-on").checked = store.settings.keys;
  $("keys-on").addEventListener("change", () => { store.settings.keys = $("keys-on").checked; store.save(Infinity); });
  document.addEventListener("keydown", pressed);
  window.addEventListener("beforeprint", fillPaper);
  new ResizeObserver(draw).observe($("view"));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  // The same sheet in another tab: take over what was ticked there.
  window.addEventListener("storage", (event) => {
    if (event.key !== store.key) return;
    store.load();
    shown = null;
    show();
    say("Taken over from another tab");
  });
}

store.load();
store.save(Infinity);
fillLists();
listen();
show();
if (!store.settings.acknowledged) $("cautions").showModal();
