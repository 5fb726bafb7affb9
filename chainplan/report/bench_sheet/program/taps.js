// What taps and keys do.

const tenth = (seconds) => Math.round(seconds * 10) / 10;

function record(result, note = "") {
  if (shown < 0 || shown === null) return;
  const start = cameUp, end = now();
  const waited = wait ? Math.max(0, Math.min(clock(), wait.until) - (start + link.offset_ms)) / 1000 : 0;
  const slept = awake.slept / 1000;
  const gap = Math.max(0, (end - start - pausedFor) / 1000 - waited);
  // Nobody works so long at one join: the whole gap is set apart, and no pace is told from it.
  const away = slept > 0 || gap > Math.max(content.away_s, content.away_times * planned(shown));
  store.add({
    t: shown, r: result, n: note, at: timeStamp(new Date()),
    w: away ? "" : tenth(gap), v: tenth(waited), a: away ? tenth(gap) : "",
  });
}

// A tap that comes so soon after the join came up was meant for the one before.
function tooSoon() {
  return now() - cameUp < content.guard_ms;
}

function isWaiting() {
  return wait !== null && wait.until > clock();
}

function tapDone() {
  if ($("done").disabled || shown < 0 || shown === null) return;
  if (tooSoon()) return say(t("tap.too_soon"));
  if (isWaiting()) return say(t("tap.hold", { time: showDuration((wait.until - clock()) / 1000) }));
  finish();
}

function finish() {
  awake.listen();
  awake.hold();
  record("done");
  if (store.settings.jumped !== null) store.settings.jumped = shown;
  show();
}

// Done during a wait is held down, so that it is meant.
let holding = 0;
function holdDone() {
  if ($("done").disabled || holding || !isWaiting() || tooSoon()) return;
  $("done").classList.add("held");
  holding = setTimeout(() => {
    releaseDone();
    if (!$("done").disabled) finish();
  }, content.hold_ms);
}

function releaseDone() {
  clearTimeout(holding);
  holding = 0;
  $("done").classList.remove("held");
}

function tapBad() {
  if ($("bad").disabled || shown < 0 || tooSoon()) return;
  $("choices").hidden = false;
  $("buttons").hidden = true;
  $("again").focus();
  say(t("say.bad"));
}

function restart() {
  cameUp = now();
  pausedFor = 0;
  awake.slept = 0;
}

function tapAgain() {
  record("again");
  restart();
  small = false;
  show();
  $("done").focus();
  say(t("button.again"));
}

function tapLater() {
  const task = shown;
  record("later");
  if (store.next() === task) restart();
  show();
  $("done").focus();
}

function tapBroken() {
  tapBack();
  const { piece, ring } = taskInfo(shown);
  const size = piece.sizes[piece.size_of.length ? piece.size_of[ring] : 0];
  const through = piece.links ? piece.links[ring].map((other) => other + 1).join(", ") : "";
  $("broken-steps").replaceChildren(
    element("li", t("broken.out", { ring: ring + 1 })),
    element("li", t("broken.new", size)),
    ...(through ? [element("li", t("broken.through", { rings: through }))] : []),
    element("li", t("broken.turn")),
    element("li", t("broken.then")),
  );
  $("broken").showModal();
}

function keepBroken() {
  $("broken").close();
  record("broken");
  restart();
  show();
  say(t("action.broken"));
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
    restart();
  }
  show({ fresh: false });
  tapBack();
  say(t(text ? "note.kept" : "note.none"));
}

function tapUndo() {
  if (checking >= 0 && $("check-undo").disabled) return;
  const event = store.undo();
  if (!event) return;
  const check = CHECKS.has(event.r);
  if (store.settings.jumped !== null && event.r !== "note" && !check) store.settings.jumped = event.t;
  if (checking >= 0 && check) checking = event.t;
  shown = null;
  show();
  const result = t(`result.${event.r}`);
  say(check ? t("check.undone", { result, ring: taskInfo(event.t).ring + 1 }) : t("say.undone", { result, step: tasks.step[event.t] + 1 }));
}

function tapPause() {
  pausedAt = now();
  awake.drop();
  $("paused").showModal();
}

function endPause() {
  if (pausedAt) pausedFor += now() - pausedAt;
  pausedAt = 0;
  awake.slept = 0;
}

// ---- Another join than the next -----------------------------------------------------------------

// Go to a join: a welded one is opened again first, if that is meant.
function goTo(task) {
  if (task < 0) return;
  for (const dialog of document.querySelectorAll("dialog[open]")) dialog.close();
  const taken = link.apart(task);
  if (taken) {
    say(t("watch.taken", { person: taken }));
    return ask(t("jump.taken", { person: taken }), () => {});
  }
  if (store.result[task] === DONE) return askReopen(task);
  store.settings.jumped = task;
  store.saveSettings();
  shown = null;
  show();
  $("title").focus();
}

let reopening = -1;
function askReopen(task) {
  reopening = task;
  const info = taskInfo(task);
  $("reopen-text").textContent = t("reopen.text", { ring: info.ring + 1, piece: pieceTitle(info) });
  $("reopen").showModal();
}

// Its tick was a mistake: it is taken back. Or it turned out bad: it is to be welded again.
function reopen(result) {
  $("reopen").close();
  const event = store.doneBy.get(reopening);
  if (result === "mistake" && event) store.takeBack(event);
  else store.add({ t: reopening, r: "again", n: "", at: timeStamp(new Date()), w: "", v: "", a: "" });
  goTo(reopening);
}

function goToNumber() {
  const info = shown !== null && shown >= 0 ? taskInfo(shown) : null;
  const piece = Number($("jump-piece").value), copy = Number($("jump-copy").value || 1) - 1;
  const ring = Number($("jump-ring").value) - 1;
  const step = steps[piece]?.[ring];
  const task = step === undefined || step < 0 ? -1 : tasks.find(piece, copy, step);
  $("jump-result").textContent = "";
  if (task < 0) {
    $("jump-result").textContent = t("jump.no_join", { ring: $("jump-ring").value, piece: pieces[piece].name, rings: pieces[piece].rings });
    return;
  }
  if (info && info.task === task) return $("passes").close();
  goTo(task);
}

function tapPicture(event) {
  if (weaving.copy) return;
  const box = picture.canvas.getBoundingClientRect();
  const task = picture.joinAt(event.clientX - box.left, event.clientY - box.top);
  if (checking >= 0) return task >= 0 && isDrawn(task) ? check(task) : undefined;
  if (task < 0 || task === shown || task >= tasks.count) return;
  const info = taskInfo(task);
  const state = store.result[task] === DONE ? "jump.welded" : "jump.open";
  ask(t(state, { ring: info.ring + 1, step: info.step + 1 }), () => goTo(task));
}

// ---- Keys -------------------------------------------------------------------------------------

function pressed(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  const target = event.target;
  const typing = target instanceof HTMLTextAreaElement || target instanceof HTMLInputElement || target instanceof HTMLSelectElement;
  if (typing || !store.settings.keys) return;
  const key = event.key.toLowerCase();
  const dialog = document.querySelector("dialog[open]");
  if (dialog) {
    if (dialog.id === "paused" && key === "p") { event.preventDefault(); dialog.close(); }
    return;
  }
  const choosing = !$("choices").hidden;
  const looking = checking >= 0;
  const onButton = target instanceof HTMLButtonElement;
  const taps = weaving.copy ?
    { d: tapWoven, u: undoWoven, backspace: undoWoven, escape: leaveWeaving, "+": nearer, "=": nearer, "-": farther } :
    looking ?
    { g: () => tapCheck("good"), b: () => tapCheck("bad"), u: tapUndo, backspace: tapUndo, escape: leaveChecks, "+": nearer, "=": nearer, "-": farther } :
    choosing ?
    { 1: tapAgain, 2: tapLater, 3: tapNote, 4: tapBroken, escape: tapBack } :
    { d: tapDone, n: tapBad, u: tapUndo, backspace: tapUndo, p: tapPause, "+": nearer, "=": nearer, "-": farther };
  if (!choosing && !looking && key === " " && !onButton) taps[" "] = taps.d;
  const tap = taps[key];
  if (!tap || (event.repeat && tap !== nearer && tap !== farther)) return;
  event.preventDefault();
  if (tap === tapDone && isWaiting()) holdDone();
  tap();
}

function zoomBy(factor) {
  store.settings.zoom = Math.min(4, Math.max(0.15, store.settings.zoom * factor));
  store.saveSettings();
  draw();
}
function nearer() { zoomBy(1.25); }
function farther() { zoomBy(0.8); }
