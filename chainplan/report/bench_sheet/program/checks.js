// Checks by lot: which joins were drawn, what was found, and what follows. A join is named once it is
// welded, so that nobody welds those that will be looked at with more care than the others.

let checking = -1;       // the task that is being checked; −1: none

const lots = content.checks.map((lot) => ({
  ...lot,
  tasks: lot.drawn.map(([which, copy, ring]) => tasks.ofRing(which, copy, ring)),
}));
const before_sheet = new Map(lots.flatMap((lot) => lot.tasks.map((task, k) => [task, lot.found[k]])));

const isDrawn = (task) => before_sheet.has(task);
const isWelded = (task) => task >= tasks.count || store.result[task] === DONE || foundAt(task) !== "";

// What the first check of a join found: "good", "bad", or "" for not checked yet.
function foundAt(task) {
  return before_sheet.get(task) || store.checked.get(task)?.r || "";
}

// Joins that were drawn, are welded and wait for their check.
function openChecks() {
  return lots.flatMap((lot) => lot.tasks.filter((task) => isWelded(task) && !foundAt(task)));
}

// Joins of one copy that were drawn and are welded.
function checksOf(which, copy) {
  return lots.flatMap((lot) => lot.tasks.filter((task) => tasks.piece[task] === which && tasks.copy[task] === copy && isWelded(task)));
}

function judgeLot(lot) {
  const told = lot.tasks.map(foundAt);
  const good = told.filter((found) => found === "good").length, bad = told.filter((found) => found === "bad").length;
  const verdict = bad >= lot.reject ? "reject" : good + bad >= lot.tasks.length ? "accept" : "more";
  return { good, bad, left: lot.tasks.length - good - bad, verdict };
}

function lotText(lot) {
  const { good, bad, left, verdict } = judgeLot(lot);
  return [
    t("check.lot", { lot: lot.lot, size: lot.tasks.length, joins: lot.joins, accept: lot.accept, limit: lot.limit }),
    t("check.so_far", { good, bad, left }), t(`check.${verdict}`),
  ];
}

function openCheckList() {
  const rows = [];
  for (const lot of lots) {
    const [about, so_far, verdict] = lotText(lot);
    rows.push(planText("h3", lot.lot), element("p", about), element("p", so_far), element("p", verdict, "verdict"));
    const named = lot.tasks.filter(isWelded);
    for (const task of named) rows.push(checkRow(task));
    const hidden = lot.tasks.length - named.length;
    if (hidden) rows.push(element("p", t("check.hidden", { n: hidden })));
  }
  $("check-list").replaceChildren(...rows);
  $("check-start").hidden = !openChecks().length;
  $("checks").showModal();
}

function checkRow(task) {
  const info = taskInfo(task), found = foundAt(task);
  const row = element("div", undefined, "pass-row");
  const words = t("check.join", { ring: info.ring + 1, piece: pieceTitle(info) });
  row.append(
    element("span", found ? (found === "good" ? "☑" : "☒") : "◇"), element("span", words),
    element("span", found ? t(`result.${found}`) : ""),
  );
  if (!found) {
    const go = element("button", t("check.go"));
    go.type = "button";
    go.setAttribute("aria-label", `${t("check.go")}: ${words}`);
    go.addEventListener("click", () => check(task));
    row.append(go);
  }
  return row;
}

// Show one of the joins that are to be checked.
function check(task) {
  for (const dialog of document.querySelectorAll("dialog[open]")) dialog.close();
  checking = task;
  cameUp = now();
  showCheck();
  $("title").focus();
}

function showCheck() {
  const info = taskInfo(checking), lot = lots.find((each) => each.tasks.includes(checking));
  for (const id of ["choices", "buttons", "action", "wait", "countdown", "end", "alarm"]) $(id).hidden = true;
  $("app").classList.remove("waiting");
  showProgress();
  $("check-buttons").hidden = false;
  $("piece").textContent = pieceTitle(info);
  $("title").textContent = info.step < 0 && info.piece.row.length ? t("title.ring", { ring: info.ring + 1 }) : ringTitle(info);
  $("place").textContent = [t("title.ring", { ring: info.ring + 1 }), ringPlace(info, null)].filter(Boolean).join(" · ");
  $("face").textContent = t(`face.${info.pass.face}`);
  $("face").className = info.pass.face;
  $("setting").textContent = t("check.look");
  $("watch").replaceChildren(...lotText(lot).map((text) => element("li", text)));
  $("where").textContent = foundAt(checking) ? t("check.found", { result: t(`result.${foundAt(checking)}`) }) : "";
  $("pass").textContent = "";
  $("check-good").disabled = $("check-bad").disabled = foundAt(checking) !== "";
  draw();
  say([t("check.title"), $("title").textContent].join(": "));
}

function tapCheck(found) {
  if (checking < 0 || foundAt(checking) || tooSoon()) return;
  store.add({ t: checking, r: found, n: "", at: timeStamp(new Date()), w: "", v: "", a: "" });
  const next = openChecks();
  if (next.length) return check(next[0]);
  leaveChecks();
  openCheckList();
}

function leaveChecks() {
  checking = -1;
  shown = null;
  $("check-buttons").hidden = true;
  for (const id of ["setting", "where"]) $(id).textContent = "";
  show();
}
