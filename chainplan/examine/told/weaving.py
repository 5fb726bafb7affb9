"""The weaving on the bench sheet: every ring once, from the bag of its metal and size."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.reading import SHEET
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.arrays import IndexArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

_GROUP = re.compile(r"(\d+) × \(([^()]*)\)(?:, )?")


@check("the weaving is the rings")
def check_weaving(files: PlanFiles, teller: Teller) -> None:
    """Compare bags and lines inside bench-sheet.html with rings.csv, ring by ring."""
    for piece in files.pieces:
        told = piece.sheet.get("weaving")
        if told is None:
            loose = bool((piece.rings["weave"] == "loose-joins").all())
            few = piece.count <= _MOST_WOVEN and "ring" in piece.sheet
            teller.true(SHEET, f"{piece.name}, weaving", loose or not few, "none", "its lines")
            continue
        bag = _check_bags(files, piece, told["bags"], teller)
        _check_lines(piece, told, bag, teller)


_MOST_WOVEN = 40_000
"""Rings of a piece that has lines on the sheet, at most: as many as it can show in a picture."""


def _check_bags(
    files: PlanFiles, piece: PieceFiles, bags: list[dict[str, Any]], teller: Teller
) -> IndexArray:
    """Compare the bags with the rings; return which of them each ring belongs into, or −1."""
    rings = piece.rings
    bag, tempers = np.full(piece.count, -1), _tempers(files, piece)
    sources = {item["title"].partition(": ")[0] for item in files.plan["estimates"]["sources"]}
    letters = [item["letter"] for item in bags]
    teller.same(SHEET, f"{piece.name}, bags", len(set(letters)), len(bags))
    for number, item in enumerate(bags):
        place = f"{piece.name}, bag {item['letter']}"
        own = rings["metal"] == item["metal"]
        for name in ("wire", "inner"):
            sizes = np.array([f"{size:.3g}" for size in rings[f"{name}_mm"].tolist()])
            own &= sizes == item[name]
        own &= tempers == item["temper"]
        wires = [w for w in files.plan["estimates"]["wire"] if _is_of(w, piece, item)]
        if wires:
            known = {wire["temper"] for wire in wires}
            teller.true(SHEET, f"{place}, temper", item["temper"] in known, item, known)
        teller.same(SHEET, f"{place}, rings", item["rings"], int(np.count_nonzero(own)))
        if piece.language == "en":
            good = item["title"] in sources
            teller.true(SHEET, f"{place}, title", good, item["title"], "a metal of the plan")
            teller.same(SHEET, f"{place}, temper_said", item["temper_said"], item["temper"])
        colour = re.fullmatch("#[0-9a-f]{6}", item["tint"]) is not None
        teller.true(SHEET, f"{place}, tint", colour, item["tint"], "a colour")
        bag[own] = number
    for of, said in (("metal", "title"), ("temper", "temper_said")):  # whatever the language
        known = {item[of] for item in bags}
        pairs = {(item[of], item[said]) for item in bags}
        names = {item[said] for item in bags if item[said]}
        good = len(pairs) == len(known) == len(names)
        teller.true(SHEET, f"{piece.name}, bags, {said}", good, pairs, "a name of its own each")
    where = f"{piece.name}, bags, of all rings"
    teller.same(SHEET, where, int(np.count_nonzero(bag >= 0)), piece.count)
    return bag


def _tempers(files: PlanFiles, piece: PieceFiles) -> Any:
    """Temper of each ring, by its section and metal, shape (n,)."""
    counts = next(row for row in files.estimates("counts") if row["piece"] == piece.name)
    known = {(group["section"] + 1, group["metal"]): group["temper"] for group in counts["groups"]}
    of_ring = zip(piece.rings["section"].tolist(), piece.rings["metal"].tolist(), strict=True)
    return np.array([known.get(key, "") for key in of_ring], dtype=np.str_)


def _is_of(wire: dict[str, Any], piece: PieceFiles, bag: dict[str, Any]) -> bool:
    sizes = (f"{wire['wire_mm']:.3g}", f"{wire['inner_mm']:.3g}")
    return bool(
        wire["piece"] == piece.name
        and wire["metal"] == bag["metal"]
        and sizes == (bag["wire"], bag["inner"])
    )


def _check_lines(piece: PieceFiles, told: dict[str, Any], bag: IndexArray, teller: Teller) -> None:
    """Every ring stands in one line, in its order; a row of a sheet is one line."""
    lines = told["lines"]
    lengths = [sum(line[3][::2]) for line in lines]
    teller.same(SHEET, f"{piece.name}, rings of all lines", sum(lengths), piece.count)
    if sum(lengths) != piece.count:
        return
    line_of = np.asarray(told.get("line_of", np.repeat(np.arange(len(lines)), lengths)))
    rings, letters = piece.rings, [item["letter"] for item in told["bags"]]
    for number, (section, row, first, runs, text) in enumerate(lines):
        place = f"{piece.name}, line {number + 1}"
        own = np.flatnonzero(line_of == number)
        teller.same(SHEET, f"{place}, rings", len(own), lengths[number])
        teller.same(SHEET, f"{place}, first ring", first, int(own[0]) if len(own) else None)
        sections = np.unique(rings["section"][own]).tolist()
        teller.same(SHEET, f"{place}, section", [section + 1], sections)
        whole = rings["section"] == section + 1
        several = int(rings["row"][whole].max(initial=1)) > 1
        rows = np.unique(rings["row"][own]).tolist()
        teller.same(SHEET, f"{place}, row", [row], rows if several else [0])
        if several:
            every = int(np.count_nonzero(whole & (rings["row"] == row)))
            teller.same(SHEET, f"{place}, rings of the row", len(own), every)
        found = np.repeat(runs[1::2], runs[::2]).tolist()
        teller.same(SHEET, f"{place}, bags", found, bag[own].tolist())
        words = [letters[k] if 0 <= k < len(letters) else "?" for k in found]
        teller.same(SHEET, f"{place}, in words", _spelt_out(text), words)


def _spelt_out(text: str) -> list[str]:
    """Turn "2 × (2 A, 1 B), 1 A" into a letter a ring."""
    plain = _GROUP.sub(lambda found: f"{found[2]}, " * int(found[1]), text)
    parts = [part.split(" ") for part in plain.split(", ") if part]
    return [letter for count, letter in parts for _ in range(int(count))]
