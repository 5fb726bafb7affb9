// The board of whoever runs the shop: asks every two seconds how far all is. It changes nothing but
// who has taken what, and whether the plan is shared at all.

const language = document.documentElement.lang;
const content = { language, texts: JSON.parse($("texts").textContent) };
const token = take_token(() => sessionStorage, "board");

// A moment, or a day alone where the plan knows no hour.
const time = (text) => {
  const hour = /T00:00:00$/.test(text) ? {} : { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
  return new Date(text).toLocaleString(language, { weekday: "short", day: "numeric", month: "short", ...hour });
};

const LATER_MS = 3600e3;   // so much later than planned is worth a word

function ready(piece) {
  const values = { time: time(piece.finish), planned: piece.planned && time(piece.planned) };
  const later = piece.planned && new Date(piece.finish) - new Date(piece.planned) >= LATER_MS;
  return t(later ? "board.ready_planned" : "board.ready", values);
}

function row(list, name, value, late) {
  if (value === null || value === undefined || value === "") return;
  list.push(element("dt", name), element("dd", value, late ? "late" : undefined));
}

function showWhole(told) {
  const job = told.jobs[0];
  const sum = (name) => told.pieces.reduce((all, piece) => all + piece[name], 0);
  const lines = [];
  row(lines, t("board.done"), t("board.of", { done: sum("done"), joins: sum("joins") }));
  row(lines, t("board.left"), sum("left"));
  row(lines, t("board.not_good"), sum("not_good") || "");
  row(lines, t("board.later"), sum("later") || "");
  if (job.pace !== null) {
    const percent = Math.round(Math.abs(job.pace - 1) * 100);
    row(lines, t("board.pace"), t(job.pace > 1 ? "board.slower" : "board.faster", { percent }));
  } else row(lines, t("board.pace"), t("board.no_pace"));
  row(lines, t("board.finish"), job.finish ? time(job.finish) : "");
  if (job.cylinder_bar !== null) {
    row(lines, t("board.cylinder"), t("board.bar", { bar: Math.round(job.cylinder_bar), joins: job.cylinder_joins ?? "–" }));
  }
  row(lines, t("board.there"), told.there.join(", ") || t("board.nobody"));
  for (const late of told.plan.late) row(lines, t("board.late"), t("board.late_days", { piece: late.piece, n: late.days, due: time(`${late.due}T00:00:00`) }), true);
  $("whole").replaceChildren(...lines);
  $("done-bar").max = Math.max(1, sum("joins"));
  $("done-bar").value = sum("done");
}

function stationName(name) {
  return t(`board.station.${name.replaceAll(/[ -]/g, "_")}`);
}

function showPieces(told) {
  const rows = told.pieces.map((piece) => {
    const which = told.plan.pieces.findIndex((each) => each.name === piece.name);
    const item = element("li");
    const several = told.plan.pieces[which]?.copies > 1;
    item.append(element("h3", several ? t("piece.copy", { name: piece.name, copy: piece.copy, copies: told.plan.pieces[which].copies }) : piece.name));
    const parts = [t("board.of", { done: piece.done, joins: piece.joins })];
    if (piece.not_good) parts.push(t("board.bad_count", { n: piece.not_good }));
    if (piece.later) parts.push(t("board.later_count", { n: piece.later }));
    if (piece.people.length) parts.push(piece.people.join(", "));
    if (piece.finish) parts.push(ready(piece));
    item.append(element("p", parts.join(" · ")));
    const due = told.plan.pieces[which]?.due;
    if (due && piece.finish && piece.finish.slice(0, 10) > due) {
      item.append(element("p", t("board.after_due", { due: time(`${due}T00:00:00`) }), "late"));
    }
    const station = told.stations.find((each) => each.piece === piece.name && each.copy === piece.copy);
    if (station) item.append(element("p", t("board.station", { station: stationName(station.station), person: station.person || "–" })));
    for (const claim of told.taken.filter((each) => each.piece === which && each.copy === piece.copy - 1)) {
      const line = element("p", `${t("board.taken", { person: claim.person || "–", first: claim.first + 1, last: claim.first + claim.steps })} `);
      const button = element("button", t("board.take_back"));
      button.type = "button";
      button.addEventListener("click", async () => {
        await ask_server("release", { piece: claim.piece, copy: claim.copy, first: claim.first });
        look();
      });
      line.append(button);
      item.append(line);
    }
    return item;
  });
  $("pieces").replaceChildren(...rows);
}

function showPapers(told) {
  if ($("papers").childElementCount) return;
  $("papers").replaceChildren(...told.plan.files.map((name) => {
    const item = element("li"), button = element("button", name);
    button.type = "button";
    button.addEventListener("click", () => fetchPaper(name));
    item.append(button);
    return item;
  }));
  const code = URL.createObjectURL(new Blob([told.code], { type: "image/svg+xml" }));
  $("code").src = code;
}

async function fetchPaper(name) {
  const answer = await ask_server(`file/${encodeURIComponent(name)}`, undefined, 15000);
  if (!answer.ok) return;
  const link = element("a");
  link.href = URL.createObjectURL(await answer.blob());
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

let told_before = "";
async function look() {
  try {
    const answer = await ask_server("progress");
    if (answer.status === 401) return fail();
    if (!answer.ok) throw new Error(answer.status);
    const told = await answer.json();
    if (!told.plan) return fail();
    $("board").hidden = false;
    $("job").textContent = told.plan.job;
    $("state").textContent = t("board.until", { time: time(told.until_ms) });
    const same = JSON.stringify([told.pieces, told.jobs.map((job) => ({ ...job, now: "" })), told.taken, told.twice, told.there, told.log, told.stations]);
    if (same === told_before) return;
    told_before = same;
    showWhole(told);
    showPieces(told);
    showPapers(told);
    $("log").replaceChildren(...told.log.map((line) => element("li", line)).reverse());
    $("twice").hidden = !told.twice.length;
    if (told.twice.length) {
      $("twice").textContent = told.twice.slice(0, 20).map((each) => t("board.twice", {
        ring: each.ring, piece: each.piece, one: each.people[0] || "–", other: each.people[1] || "–", at: time(each.at[0]), then: time(each.at[1]),
      })).join(" ");
    }
  } catch (error) {
    $("state").textContent = t("board.away");
  }
}

let asking = 0;
function fail() {
  clearInterval(asking);
  $("board").hidden = true;
  $("no-entry").hidden = false;
}

$("stop").addEventListener("click", () => {
  $("sure-text").textContent = t("board.stop_text");
  $("sure").showModal();
  $("sure-no").focus();
});
$("sure-no").addEventListener("click", () => $("sure").close());
$("sure-yes").addEventListener("click", async () => {
  $("sure").close();
  await ask_server("stop", {});
  clearInterval(asking);
  $("state").textContent = t("board.stopped");
  $("stop").disabled = true;
});

if (token) {
  asking = setInterval(look, 2000);
  look();
} else fail();
