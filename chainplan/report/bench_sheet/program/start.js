// Putting it all together when the page opens.

function fillLists() {
  $("caution-list").replaceChildren(...content.cautions.flatMap((caution, at) => {
    const text = element("dd", caution.text);
    text.append(element("small", caution.source));
    const known = at && content.cautions[at - 1].topic === caution.topic;
    return known ? [text] : [element("dt", caution.topic), text];
  }));
  $("column-list").replaceChildren(...content.columns.flatMap(([name, means]) => [planText("dt", name), element("dd", means)]));
}

function acknowledge() {
  store.settings.read = today();
  store.saveSettings();
  $("cautions").close();
}

function listen() {
  const taps = {
    done: tapDone, bad: tapBad, undo: tapUndo, pause: tapPause, again: tapAgain, later: tapLater,
    "with-note": tapNote, "ring-broken": tapBroken, back: tapBack, "note-save": keepNote,
    "note-cancel": () => $("note").close(), "broken-yes": keepBroken, "broken-no": () => $("broken").close(),
    resume: () => $("paused").close(), nearer, farther, export: exportLog, "end-save": exportLog, clear: clearAll,
    "open-checks": openCheckList, "end-checks": openCheckList, "check-start": () => check(openChecks()[0]),
    "check-good": () => tapCheck("good"), "check-bad": () => tapCheck("bad"), "check-undo": tapUndo, "check-back": leaveChecks,
    "open-weaving": openWeaving, "weave-done": tapWoven, "weave-undo": undoWoven, "weave-back": leaveWeaving,
    "open-passes": openPasses, "open-log": openLog, "open-settings": () => $("settings").showModal(),
    "open-cautions": () => $("cautions").showModal(), print: () => { $("passes").close(); window.print(); },
    "sure-no": () => $("sure").close(), "sure-yes": () => { $("sure").close(); whenSure(); },
    "reopen-mistake": () => reopen("mistake"), "reopen-bad": () => reopen("again"), "reopen-no": () => $("reopen").close(),
    "jump-go": goToNumber, "large-less": () => { small = true; showWait(); $("title").focus(); }, acknowledge,
  };
  for (const [id, tap] of Object.entries(taps)) $(id).addEventListener("click", tap);
  for (const button of document.querySelectorAll("dialog .close")) {
    button.addEventListener("click", () => button.closest("dialog").close());
  }
  $("done").addEventListener("pointerdown", holdDone);
  for (const kind of ["pointerup", "pointerleave", "pointercancel", "blur"]) $("done").addEventListener(kind, releaseDone);
  $("done").addEventListener("contextmenu", (event) => event.preventDefault());
  document.addEventListener("keyup", releaseDone);
  picture.canvas.addEventListener("click", tapPicture);
  $("jump-piece").addEventListener("change", fillCopies);
  $("paused").addEventListener("close", endPause);
  // The cautions are read before anything else: Escape does not pass them by, neither in browsers
  // that know closedby nor in those that close a dialog at the second Escape whatever we say.
  const read = () => store.settings.read === today();
  $("cautions").addEventListener("cancel", (event) => { if (!read()) event.preventDefault(); });
  $("cautions").addEventListener("close", () => {
    if (!read()) return $("cautions").showModal();
    restart();
    $("title").focus();
  });
  $("import").addEventListener("change", importLog);
  listenToSettings();
  document.addEventListener("keydown", pressed);
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible" && store.lastTap) awake.hold(); });
  window.addEventListener("beforeprint", fillPaper);
  new ResizeObserver(draw).observe($("view"));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  // The same sheet in another tab: take over what was ticked there.
  window.addEventListener("storage", (event) => {
    if (event.key === weaving.key()) return takeOverWeaving();
    if (event.key !== store.key || link.shared) return;
    store.load();
    show();   // the clock of a join that stays runs on
    say(t("say.other_tab"));
  });
}

store.load();
store.saveSettings();
weaving.load();
fillLists();
listen();
showSettings();
show();
link.start();
if (store.settings.read !== today()) $("cautions").showModal();
