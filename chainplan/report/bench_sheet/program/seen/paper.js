// The plain list for printing: passes with a box each, and every join with a box.

const MOST_PRINTED = 3000;

function box() {
  return element("span", undefined, "box");
}

function fillPaper() {
  const paper = $("paper");
  paper.replaceChildren(element("h1", t("paper.title", { job: content.job })));
  const cautions = element("ul");
  for (const caution of content.cautions) cautions.append(element("li", `${caution.topic}: ${caution.text}`));
  paper.append(cautions);
  for (const piece of pieces) {
    paper.append(element("h2", piece.name));
    if (piece.quantity > 1) paper.append(element("p", t("paper.copies", { n: piece.quantity })));
    paper.append(element("p", t("paper.passes", { n: piece.passes.length, time: showDuration(piece.bench_s) })));
    if (piece.notes) paper.append(element("p", noteText(piece)));
    if (piece.limits.length) paper.append(element("p", piece.limits.join(" · ")));
    for (const pass of piece.passes) {
      const line = element("h3");
      line.append(box(), `${t("pass.number", { number: pass.number })}: `, element("span", pass.text), ` (${settingText(pass)})`);
      paper.append(line);
      if (!piece.ring || piece.ring.length > MOST_PRINTED) continue;
      const list = element("ul", undefined, "boxes");
      for (let step = pass.first; step < pass.first + pass.joins; step++) {
        const item = element("li");
        const values = { step: step + 1, ring: piece.ring[step] + 1, seconds: piece.wait[step] };
        item.append(box(), t(values.seconds ? "paper.join_wait" : "paper.join", values));
        list.append(item);
      }
      paper.append(list);
    }
  }
  for (const lot of lots) {
    paper.append(element("h2", t("check.title")), ...lotText(lot).slice(0, 2).map((text) => element("p", text)));
    const list = element("ul", undefined, "boxes");
    for (const task of lot.tasks) {
      const info = taskInfo(task), found = foundAt(task);
      const item = element("li");
      item.append(box(), `${t("check.join", { ring: info.ring + 1, piece: pieceTitle(info) })}${found ? `: ${t(`result.${found}`)}` : ""}`);
      list.append(item);
    }
    paper.append(list);
  }
  paper.append(element("p", content.stamp));
}
