// Weaving, before anything is welded: line by line which rings come from which bag, and a tick for
// each line. A line is a row of a sheet or some rings of a chain, [section, row, ring, runs, text].
// What is ticked is kept in the browser; the log has joins only.

const weaving = {
  copy: null,              // the copy that is being woven: { which, number }
  cameUp: 0,               // when its line came up (ms)
  ticked: {},              // "piece copy" → lines that are woven, from the first on

  key: () => `${store.key} weaving`,

  load() {
    try {
      this.ticked = JSON.parse(localStorage.getItem(this.key()) || "{}");
    } catch (error) {
      store.kept = false;
    }
  },

  save() {
    try {
      localStorage.setItem(this.key(), JSON.stringify(this.ticked));
    } catch (error) {
      store.kept = false;
    }
  },

  done: ({ which, number }) => Math.min(weaving.ticked[`${which} ${number}`] || 0, pieces[which].weaving.lines.length),

  tick(copy, lines) {
    this.ticked[`${copy.which} ${copy.number}`] = lines;
    this.save();
  },
};

const canWeave = () => pieces.some((piece) => piece.weaving);

// Rings of each bag in the first lines of a piece, and in the last of these.
function bagCounts({ bags, lines }, count) {
  const here = bags.map(() => 0), so_far = bags.map(() => 0);
  lines.slice(0, count).forEach(([, , , runs], at) => {
    for (let k = 0; k < runs.length; k += 2) {
      so_far[runs[k + 1]] += runs[k];
      if (at === count - 1) here[runs[k + 1]] += runs[k];
    }
  });
  return { here, so_far };
}

// The rings of a line, from the first to the last.
function ringsOfLine(piece, at) {
  const { lines, line_of } = piece.weaving;
  if (line_of) return [...line_of.keys()].filter((ring) => line_of[ring] === at);
  const first = lines[at][2], end = at + 1 < lines.length ? lines[at + 1][2] : piece.rings;
  return Array.from({ length: end - first }, (_, k) => first + k);
}

function lineName(piece, at) {
  const [section, row] = piece.weaving.lines[at];
  const rings = ringsOfLine(piece, at);
  const several = piece.weaving.lines.some((line) => line[0] !== section);
  if (row) return t(several ? "weave.section_row" : "weave.row", { section: section + 1, row });
  return t("weave.rings", { first: rings[0] + 1, last: rings.at(-1) + 1 });
}

function bagBox(bag) {
  const box = element("span", bag.letter, "bag");
  box.style.background = bag.tint;
  return box;
}

// ---- The list of what is woven ------------------------------------------------------------------

function openWeaving() {
  const rows = [];
  pieces.forEach((piece, which) => {
    if (!piece.weaving) return;
    rows.push(planText("h3", piece.name));
    if (piece.notes) rows.push(element("p", noteText(piece)));
    for (const bag of piece.weaving.bags) {
      const row = element("p"), total = bag.rings * piece.quantity;
      row.append(bagBox(bag), " ", bagName(bag), ": ", t(piece.quantity > 1 ? "weave.bag_copies" : "weave.bag", { rings: bag.rings, total }));
      rows.push(row);
    }
    for (let number = 0; number < piece.quantity; number++) rows.push(weavingRow(piece, { which, number }));
  });
  $("weaving-list").replaceChildren(...rows);
  $("weaving").showModal();
}

function bagName(bag) {
  return planText("span", `${bag.title}, ${bag.temper_said}, ${bag.wire} mm × ${bag.inner} mm`);
}

function weavingRow(piece, copy) {
  const lines = piece.weaving.lines.length, done = weaving.done(copy);
  const title = pieceTitle({ piece, copy: copy.number + 1 });
  const row = element("div", undefined, "pass-row");
  const go = element("button", t("weave.go"));
  go.type = "button";
  go.setAttribute("aria-label", `${t("weave.go")}: ${title}`);
  go.addEventListener("click", () => weave(copy));
  row.append(element("span", done === lines ? "☑" : "☐"), element("span", title), element("span", t("weave.count", { done, lines })), go);
  return row;
}

// ---- One line after another ---------------------------------------------------------------------

function weave(copy) {
  for (const dialog of document.querySelectorAll("dialog[open]")) dialog.close();
  checking = -1;
  weaving.copy = copy;
  showWeaving();
  $("title").focus();
}

function showWeaving() {
  const { copy } = weaving, piece = pieces[copy.which], plan = piece.weaving;
  const lines = plan.lines.length, at = weaving.done(copy), over = at === lines;
  for (const id of ["choices", "buttons", "check-buttons", "action", "wait", "countdown", "end"]) $(id).hidden = true;
  for (const id of ["left", "where", "face", "pass"]) $(id).textContent = "";
  $("app").classList.remove("waiting");
  $("weaving-buttons").hidden = $("strip").hidden = false;
  $("alarm").hidden = store.kept;
  $("alarm").textContent = store.kept ? "" : t("alarm.not_kept");
  $("piece").textContent = pieceTitle({ piece, copy: copy.number + 1 });
  $("count").textContent = t("weave.count", { done: at, lines });
  $("progress").max = lines;
  $("progress").value = at;
  $("progress").textContent = `${at} / ${lines}`;
  $("title").textContent = over ? t("weave.over") : lineName(piece, at);
  $("place").textContent = over ? "" : plan.lines[at][4];
  $("setting").textContent = over ? t("weave.compare") : t(plan.lines[at][1] ? "weave.how_row" : "weave.how_chain");
  const { here, so_far } = bagCounts(plan, over ? at : at + 1);
  $("watch").replaceChildren(...plan.bags.map((bag, k) => {
    const item = element("li");
    item.append(bagBox(bag), " ", bagName(bag), ": ", t(over ? "weave.all" : "weave.line", { here: here[k], so_far: so_far[k], rings: bag.rings }));
    return item;
  }));
  $("strip").replaceChildren(...(over ? [] : stripOf(plan, at)));
  $("weave-done").disabled = over;
  $("weave-undo").disabled = !at;
  weaving.cameUp = now();
  draw();
  say([$("title").textContent, $("place").textContent].filter(Boolean).join(". "));
}

// A box with a letter for each ring of a line.
function stripOf({ bags, lines }, at) {
  const boxes = [], runs = lines[at][3];
  for (let k = 0; k < runs.length; k += 2) {
    const bag = bags[runs[k + 1]];
    for (let ring = 0; ring < runs[k]; ring++) {
      const box = element("span", bag.letter);
      box.style.background = bag.tint;
      boxes.push(box);
    }
  }
  return boxes;
}

function tapWoven() {
  if ($("weave-done").disabled) return;
  if (now() - weaving.cameUp < content.guard_ms) return say(t("tap.too_soon"));
  weaving.tick(weaving.copy, weaving.done(weaving.copy) + 1);
  awake.listen();
  awake.hold();
  showWeaving();
}

function undoWoven() {
  const done = weaving.done(weaving.copy);
  if (!done) return;
  weaving.tick(weaving.copy, done - 1);
  showWeaving();
}

function leaveWeaving() {
  weaving.copy = null;
  shown = null;
  $("weaving-buttons").hidden = $("strip").hidden = true;
  $("view").hidden = false;
  for (const id of ["setting", "where"]) $(id).textContent = "";
  show();
  $("title").focus();
}

// The same sheet in another tab ticked a line.
function takeOverWeaving() {
  weaving.load();
  if (weaving.copy) showWeaving();
}

// ---- The picture --------------------------------------------------------------------------------

// The rings that are woven, faint, and those of this line with the letters of their bags.
function drawWeaving() {
  const { copy } = weaving, piece = pieces[copy.which], at = weaving.done(copy);
  const label = at < piece.weaving.lines.length ? t("weave.picture", { line: lineName(piece, at) }) : t("weave.over");
  picture.canvas.setAttribute("aria-label", label);
  picture.drawLine(piece, at, store.settings.zoom);
}

picture.drawLine = function drawLine(piece, at, zoom) {
  const [pen, wide, high] = this.fit();
  const look = getComputedStyle(document.documentElement);
  const colour = (name) => look.getPropertyValue(name).trim();
  this.place = null;
  if (!piece.picture) {
    pen.font = "600 16px system-ui, sans-serif";
    pen.fillStyle = colour("--ink");
    pen.textAlign = "center";
    pen.fillText(t("picture.too_large"), wide / 2, high / 2);
    return;
  }
  const { lines, bags } = piece.weaving, over = at === lines.length;
  const view = this.turned(piece, { up: [0, 1, 0], toward: [0, 0, 1] });
  const own = ringsOfLine(piece, over ? at - 1 : at);
  let left = Infinity, right = -Infinity, across = 0, y = 0;
  for (const k of own) {
    left = Math.min(left, view.x[k] - view.reach[k]);
    right = Math.max(right, view.x[k] + view.reach[k]);
    across = Math.max(across, 2 * view.reach[k]);
    y += view.y[k] / own.length;
  }
  const fit = (wide - 24) / (right - left);
  const scale = zoom * Math.min(150 / across, Math.max(24 / across, fit));
  // A line that is wider than the screen shows its beginning.
  const x = Math.min((left + right) / 2, left + (wide / 2 - 12) / scale);
  const sx = (mm) => wide / 2 + (mm - x) * scale, sy = (mm) => high / 2 - (mm - y) * scale;
  const line_of = piece.weaving.line_of || lineOfRings(piece);
  const inSight = [];
  for (let k = 0; k < view.n; k++) {
    if (line_of[k] <= at && Math.abs(view.x[k] - x) - view.reach[k] < wide / 2 / scale &&
        Math.abs(view.y[k] - y) - view.reach[k] < high / 2 / scale) inSight.push(k);
  }
  this.wires(pen, view, inSight.slice(-6000), sx, sy, scale, colour, (k) => (line_of[k] === at ? BARE : SHUT));
  if (over) return;
  const size = Math.min(22, Math.max(10, across * scale * 0.4));
  pen.font = `700 ${size}px system-ui, sans-serif`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  const runs = lines[at][3];
  let ring = 0;
  for (let k = 0; k < runs.length; k += 2) {
    const bag = bags[runs[k + 1]];
    for (let n = 0; n < runs[k]; n++, ring++) {
      const px = sx(view.x[own[ring]]), py = sy(view.y[own[ring]]), w = Math.max(size, pen.measureText(bag.letter).width + 4);
      pen.fillStyle = bag.tint;
      pen.fillRect(px - w / 2, py - size / 2 - 1, w, size + 2);
      pen.strokeStyle = pen.fillStyle = "#000";
      pen.lineWidth = 1;
      pen.strokeRect(px - w / 2, py - size / 2 - 1, w, size + 2);
      pen.fillText(bag.letter, px, py + 1);
    }
  }
  pen.textBaseline = "alphabetic";
};

// The line of each ring, where the rings of a line follow each other.
function lineOfRings(piece) {
  const found = new Int32Array(piece.rings);
  piece.weaving.lines.forEach((line, at) => found.fill(at, line[2]));
  return found;
}
