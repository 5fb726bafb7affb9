// The log as CSV, out and in: one row an event.

function guardedCell(text) {
  const cell = content.guarded.includes(text.charAt(0)) ? "'" + text : text;
  return /[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
}

function unguardedCell(cell) {
  return cell.charAt(0) === "'" && cell.length > 1 && content.guarded.includes(cell.charAt(1)) ? cell.slice(1) : cell;
}

function logAsCsv(events) {
  const rows = [content.columns.map((column) => column[0])];
  for (const event of events) {
    const info = taskInfo(event.t);
    rows.push([
      content.plan, info.piece.name, info.copy, info.step + 1 || "", info.pass.number || "", info.ring + 1,
      event.r, event.n, event.at, event.w, event.v, event.a, event.p, event.u || "", event.i,
    ].map((value) => guardedCell(String(value))));
  }
  return "\ufeff" + rows.map((row) => row.join(",")).join("\r\n") + "\r\n";
}

// Cells of a CSV text; quoted cells may hold commas, quotes and line ends.
function csvRows(text) {
  const rows = [];
  let row = [], cell = "", quoted = false, any = false;
  const body = text.replace(/^\ufeff/, "");
  for (let at = 0; at < body.length; at++) {
    const letter = body[at];
    if (quoted) {
      if (letter === '"' && body[at + 1] === '"') { cell += '"'; at++; }
      else if (letter === '"') quoted = false;
      else cell += letter;
    } else if (letter === '"' && cell === "") { quoted = true; any = true; }
    else if (letter === ",") { row.push(cell); cell = ""; any = true; }
    else if (letter === "\n" || letter === "\r") {
      if (letter === "\r" && body[at + 1] === "\n") at++;
      if (any || cell !== "") { row.push(cell); rows.push(row); }
      row = []; cell = ""; any = false;
    } else { cell += letter; any = true; }
  }
  if (any || cell !== "") { row.push(cell); rows.push(row); }
  return rows;
}

// Events of a saved log, and what in it could not be used.
function eventsFromCsv(text) {
  const rows = csvRows(text);
  const names = content.columns.map((column) => column[0]);
  const head = (rows[0] || []).map((name) => name.trim());
  const missing = names.filter((name) => !head.includes(name));
  if (missing.length) return { events: [], problems: [t("import.no_log", { column: missing[0] })] };
  const at = Object.fromEntries(names.map((name) => [name, head.indexOf(name)]));
  const find = new Map();
  for (let task = 0; task < tasks.all; task++) {
    find.set(`${tasks.copy[task] + 1} ${taskInfo(task).ring + 1} ${pieces[tasks.piece[task]].name}`, task);
  }
  const number = (text) => (text === "" || !Number.isFinite(Number(text)) ? "" : Number(text));
  const events = [], problems = [];
  let others = 0;
  rows.slice(1).forEach((row, place) => {
    const cell = (name) => unguardedCell(row[at[name]] ?? "");
    const task = find.get(`${cell("copy")} ${cell("ring")} ${cell("piece")}`);
    const result = cell("result");
    const ms = Date.parse(cell("at"));
    if (task === undefined || cell("step") !== String(tasks.step[task] + 1 || "")) {
      problems.push(t("import.no_join", { row: place + 2 }));
    } else if (!content.results.includes(result)) {
      problems.push(t("import.no_result", { row: place + 2, result: result.slice(0, 40), known: content.results.join(", ") }));
    } else if (!/^[0-9a-f-]{36}$/.test(cell("id")) || Number.isNaN(ms)) {
      problems.push(t("import.no_id", { row: place + 2 }));
    } else {
      if (cell("plan") !== content.plan) others++;
      events.push({
        i: cell("id"), t: task, r: result, n: cell("note").slice(0, 500), at: cell("at").slice(0, 40), ms,
        w: number(cell("work_s")), v: number(cell("waited_s")), a: number(cell("apart_s")),
        p: cell("person").slice(0, 60), u: cell("undoes"), d: "",
      });
    }
  });
  if (others) problems.push(t("import.earlier", { n: others }));
  return { events, problems };
}
