// The plain list for printing: passes with a box each, and every join with a box.

const MOST_PRINTED = 3000;

function element(tag, text, name) {
  const made = document.createElement(tag);
  if (text !== undefined) made.textContent = text;
  if (name) made.className = name;
  return made;
}

function box() {
  return element("span", undefined, "box");
}

function fillPaper() {
  const paper = $("paper");
  paper.replaceChildren(element("h1", `Weld order: ${content.job}`));
  const cautions = element("ul");
  for (const caution of content.cautions) cautions.append(element("li", `${caution.topic}: ${caution.text}`));
  paper.append(cautions);
  for (const piece of pieces) {
    paper.append(element("h2", piece.name));
    const copies = piece.quantity > 1 ? `${piece.quantity} copies, one list each. ` : "";
    const passes = piece.passes.length === 1 ? "1 pass" : `${piece.passes.length} passes`;
    paper.append(element("p", `${copies}${passes}, about ${showDuration(piece.bench_s)}.`));
    if (piece.notes) paper.append(element("p", noteText(piece)));
    if (piece.limits.length) paper.append(element("p", piece.limits.join(" · ")));
    for (const pass of piece.passes) {
      const line = element("h3");
      line.append(box(), `pass ${pass.number}: ${pass.text} (${pass.setting})`);
      paper.append(line);
      if (!piece.ring || piece.ring.length > MOST_PRINTED) continue;
      const list = element("ul", undefined, "boxes");
      for (let step = pass.first; step < pass.first + pass.joins; step++) {
        const item = element("li");
        const wait = piece.wait[step] ? `, wait\u00a0${piece.wait[step]}\u00a0s` : "";
        item.append(box(), `${step + 1}: ring ${piece.ring[step] + 1}${wait}`);
        list.append(item);
      }
      paper.append(list);
    }
  }
  paper.append(element("p", content.stamp));
}
