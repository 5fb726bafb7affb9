// Log, passes, settings, and questions before something is lost.

function openLog() {
  $("log-state").textContent = `${t("log.taps", { n: store.events.length })} ${link.state()}`;
  $("log-text").value = logAsCsv(store.events);
  $("import-result").textContent = "";
  $("log").showModal();
}

function exportLog() {
  const address = URL.createObjectURL(new Blob([logAsCsv(store.events)], { type: "text/csv" }));
  const saved = element("a");
  saved.href = address;
  saved.download = `${content.job.replace(/[^\p{L}\p{N} _-]/gu, "_").slice(0, 60)} log.csv`;
  saved.click();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}

// Take in a saved log: what is new in it is added, nothing is replaced.
async function importLog() {
  const file = $("import").files[0];
  if (!file) return;
  $("import").value = "";
  if (file.size > 50e6) {
    $("import-result").textContent = t("import.too_large");
    return;
  }
  const { events, problems } = eventsFromCsv(await file.text());
  const fresh = store.merge(events);
  for (const event of events) link.keep(event);
  if (fresh) {
    shown = null;
    show();
    $("log-text").value = logAsCsv(store.events);
  }
  const more = problems.length > 5 ? [t("import.more", { n: problems.length - 5 })] : [];
  const told = events.length ? t("import.taken", { n: fresh, known: events.length - fresh }) : t("import.nothing");
  $("import-result").textContent = [told, ...problems.slice(0, 5), ...more].join(" ");
}

let whenSure = null;
function ask(text, then) {
  whenSure = then;
  $("sure-text").textContent = text;
  $("sure").showModal();
  $("sure-no").focus();
}

function clearAll() {
  ask(t("sure.clear"), () => {
    store.clear();
    store.settings.jumped = null;
    shown = null;
    show();
    $("log").close();
  });
}

function openPasses() {
  const rows = [];
  const here = shown >= 0 && shown !== null ? taskInfo(shown) : null;
  pieces.forEach((piece, which) => {
    for (let copy = 0; copy < piece.quantity; copy++) {
      rows.push(element("h3", pieceTitle({ piece, copy: copy + 1 })));
      if (piece.notes && !copy) rows.push(element("p", noteText(piece)));
      const extra = link.shared ? link.pieceRow(which, copy) : null;
      if (extra) rows.push(extra);
      for (const pass of piece.passes) rows.push(passRow(which, copy, pass, here));
    }
  });
  $("pass-list").replaceChildren(...rows);
  fillJump(here);
  $("passes").showModal();
  document.querySelector("#pass-list .now")?.scrollIntoView({ block: "center" });
}

function passRow(which, copy, pass, here) {
  const piece = pieces[which];
  let welded = 0, open = -1, there = 0;
  for (let step = pass.first; content.one_by_one && step < pass.first + pass.joins; step++) {
    const task = tasks.find(which, copy, step);
    if (task < 0) continue;
    there++;
    if (store.result[task] === DONE) welded++;
    else if (open < 0) open = task;
  }
  const now_here = here && here.piece === piece && here.copy === copy + 1 && here.pass === pass;
  const row = element("div", undefined, now_here ? "pass-row now" : "pass-row");
  row.append(
    element("span", there && welded === there ? "☑" : "☐"),
    element("span", `${pass.number}. ${pass.text}`),
    element("span", t("pass.welded", { done: welded, joins: there || pass.joins })),
  );
  if (open >= 0) {
    const go = element("button", t("pass.go"));
    go.type = "button";
    go.setAttribute("aria-label", t("pass.go_to", { number: pass.number, piece: pieceTitle({ piece, copy: copy + 1 }) }));
    go.addEventListener("click", () => goTo(open));
    row.append(go);
    if (link.shared) row.append(link.passButton(which, copy, pass));
  }
  return row;
}

function fillJump(here) {
  $("jump").hidden = !content.one_by_one;
  $("jump-piece").replaceChildren(...pieces.map((piece, which) => {
    const option = element("option", piece.name);
    option.value = which;
    return option;
  }));
  $("jump-piece").value = here ? pieces.indexOf(here.piece) : 0;
  $("jump-copy").value = here ? here.copy : 1;
  $("jump-ring").value = "";
  $("jump-result").textContent = "";
  fillCopies();
}

function fillCopies() {
  const piece = pieces[Number($("jump-piece").value)];
  $("jump-copies").hidden = piece.quantity < 2;
  $("jump-copy").max = piece.quantity;
  $("jump-one").hidden = pieces.length < 2;
}

// ---- Settings of this device --------------------------------------------------------------------

const SWITCHES = { "keys-on": "keys", "left-on": "left", "sound-on": "sound", "shake-on": "shake", "large-on": "large" };

function showSettings() {
  for (const [id, name] of Object.entries(SWITCHES)) $(id).checked = store.settings[name];
  $("app").classList.toggle("left", store.settings.left);
}

function listenToSettings() {
  for (const [id, name] of Object.entries(SWITCHES)) {
    $(id).addEventListener("change", () => {
      store.settings[name] = $(id).checked;
      store.saveSettings();
      awake.listen();
      showSettings();
      draw();
    });
  }
  $("awake-state").textContent = t(awake.possible ? "awake.yes" : link.shared ? "awake.no_shared" : "awake.no");
}
