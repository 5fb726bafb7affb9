"""Pages for whoever weaves: bags of rings, what it looks like, and every line ring by ring."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from chainplan.reference import find_metal
from chainplan.reference.colours import tint_of_metal
from chainplan.report.diagram.frame.key import SMALL_PT
from chainplan.report.diagram.frame.pages import TEXT_PT, Pages
from chainplan.report.paper.lettering import fold_text
from chainplan.report.paper.sheet import GREY, INK, WHITE
from chainplan.report.text.weaving import fill_bags, has_design, weaving_lines
from chainplan.report.wire.metal_picture import (
    SWATCH_MM,
    design_picture,
    draw_swatch,
    looks_of_metals,
    metals_shown,
)

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.arrays import IndexArray
    from chainplan.model.piece.layout import Layout
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.report.paper.sheet import Sheet
    from chainplan.report.text.weaving import Bag, WeavingLine

TICK_MM, NAME_MM, STRIP_MM, TOTAL_MM = 7.0, 40.0, 105.0, 50.0
"""Columns of a line: a box to tick, its name, its rings in boxes, and the running totals."""
BOX_MM = 3.5
"""A ring's box at most: its letter in 7 pt reads at arm's length."""
LETTERED_MM = 2.6
"""From so wide on a box has its letter; below, its mark, down to `MARKED_MM`."""
MARKED_MM = 1.2
"""Narrowest box whose mark is still seen."""
LINE_MM = 4.6
"""A line of the written design."""
MOST_LINES = 1500
"""Lines that are written, some 60 pages; beyond, the design is drawn by its picture alone."""
PICTURE_HIGH_MM = 80.0
"""Most of a page that the picture may take."""


def write_weaving(plan: Plan, folder: Path, *, paper: str = "A4") -> list[Path]:
    """Write ``weaving.pdf`` if a piece has rings of several metals or sizes; return the files."""
    from chainplan.report.paper.pdf import write_pdf

    chosen = [piece for piece in plan.pieces if has_design(piece.layout)]
    if not chosen:
        return []
    title = f"Weaving: {plan.job.name}"
    pages = Pages(paper, title, plan.stamp.of_work)
    for number, piece in enumerate(chosen):
        add_weaving(pages, plan, piece, f"weaving{number}")
    target = folder / "weaving.pdf"
    target.write_bytes(write_pdf(pages.finish(), title=title))
    return [target]


def add_weaving(pages: Pages, plan: Plan, piece: PiecePlan, key: str) -> None:
    """Add the pages of one piece: bags and picture, then its lines in weaving order."""
    layout = piece.layout
    bags, bag = fill_bags(layout)
    pages.turn_page(f"{piece.piece.name}, weaving")
    _add_bags(pages, plan, piece, bags)
    _add_picture(pages, layout, key)
    _add_lines(pages, layout, bags, bag)


def _add_bags(pages: Pages, plan: Plan, piece: PiecePlan, bags: tuple[Bag, ...]) -> None:
    copies = piece.piece.quantity
    metals = metals_shown(piece.layout)
    looks = dict(zip(metals, looks_of_metals(metals), strict=True))
    pages.write_lines(["Put the rings ready, a bag each"], size_pt=12, bold=True, line_mm=6.5)
    for number, bag in enumerate(bags):
        title = find_metal(bag.metal, own=plan.job.metals).title
        text = (
            f"{title}, {bag.temper}, {bag.wire_mm:.3g} mm wire, {bag.inner_mm:.3g} mm inside: "
            f"{bag.rings} rings" + (f" a piece, {bag.rings * copies} in all" if copies > 1 else "")
        )
        if not pages.has_room(5.6):
            pages.turn_page(pages.headings[-1])
        _draw_ring(pages.sheet, pages.left_mm, pages.y_mm + 0.7, 4.2, number, bag)
        left = pages.left_mm + 9.0
        if len(metals) > 1:
            middle = pages.y_mm + 2.8
            draw_swatch(pages.sheet, looks[bag.metal], left_mm=left, middle_mm=middle)
            left += SWATCH_MM + 2.0
        pages.sheet.write(left, pages.y_mm + 4.2, text, TEXT_PT)
        pages.y_mm += 5.6
    total = sum(bag.rings for bag in bags)
    pages.write_lines([f"{total} rings a piece in all; put some spare ones into each bag."])


def _add_picture(pages: Pages, layout: Layout, key: str) -> None:
    """Show the piece as it will look, at its true size where it fits."""
    room = min(pages.bottom_mm - pages.y_mm - 8.0, PICTURE_HIGH_MM)
    if room < 15.0:
        return
    shown = design_picture(
        layout, key, left_mm=pages.left_mm, top_mm=pages.y_mm + 7.0,
        wide_mm=pages.width_mm, high_mm=room,
    )  # fmt: skip
    if shown is None:
        return
    picture, rings = shown
    part = "" if rings == layout.rings else f"; its first {rings} rings"
    size = "at its true size" if abs(picture.scale - 1) < 0.01 else f"{picture.scale:.2g} times"
    pages.write_lines([f"What it looks like, {size}{part}"], size_pt=SMALL_PT)
    pages.sheet.pictures.append(picture)
    pages.y_mm = picture.top_mm + picture.height_mm + 3.0


def _add_lines(pages: Pages, layout: Layout, bags: tuple[Bag, ...], bag: IndexArray) -> None:
    sheet = layout.sections[0].rows > 1
    heads = ["In weaving order, row by row from the lowest of the picture" if sheet else
             "In weaving order, from the left of the picture"]  # fmt: skip
    pages.write_lines(heads, size_pt=12, bold=True, line_mm=7.0)
    lines = weaving_lines(layout, bag, len(bags))
    for line in islice(lines, MOST_LINES):
        _add_line(pages, line, bags)
    rest = sum(1 for _ in lines)
    if rest:
        pages.write_text(f"{rest} more lines are not written; rings.csv has every ring.")


def _add_line(pages: Pages, line: WeavingLine, bags: tuple[Bag, ...]) -> None:
    letters = [item.letter for item in bags]
    totals = ", ".join(
        f"{count} {letter}" for count, letter in zip(line.totals, letters, strict=True) if count
    )
    counts = ", ".join(
        f"{count} {letter}" for count, letter in zip(line.counts, letters, strict=True) if count
    )
    words_mm = pages.width_mm - TICK_MM - NAME_MM - STRIP_MM - TOTAL_MM - 6.0
    text = fold_text(line.text, SMALL_PT, words_mm)
    so_far = [*fold_text(f"here {counts}", SMALL_PT, TOTAL_MM),
              *fold_text(f"so far {totals}", SMALL_PT, TOTAL_MM)]  # fmt: skip
    high = max(len(text), len(so_far), 1) * LINE_MM + 1.6
    if not pages.has_room(high):
        pages.turn_page(pages.headings[-1])
    sheet, top = pages.sheet, pages.y_mm
    sheet.box(pages.left_mm, top + 1.2, 4.0, 4.0, stroke=INK)
    x = pages.left_mm + TICK_MM
    sheet.write(x, top + 4.4, line.name, SMALL_PT, bold=True)
    x += NAME_MM
    _draw_strip(sheet, x, top + 1.4, line.bag, bags)
    x += STRIP_MM + 3.0
    for number, words in enumerate(text):
        sheet.write(x, top + 4.4 + number * LINE_MM, words, SMALL_PT)
    x += words_mm + 3.0
    for number, words in enumerate(so_far):
        sheet.write(x, top + 4.4 + number * LINE_MM, words, SMALL_PT, colour=GREY)
    sheet.line([(pages.left_mm, top + high), (pages.right_mm, top + high)], width_mm=0.1,
               colour=GREY)  # fmt: skip
    pages.y_mm += high


def _draw_strip(
    sheet: Sheet, left: float, top: float, bag: IndexArray, bags: tuple[Bag, ...]
) -> None:
    """Draw the rings of a line as boxes, in their metals' colours with letters or marks."""
    wide = min(BOX_MM, STRIP_MM / max(len(bag), 1))
    high = min(BOX_MM, 3.4)
    edges = np.flatnonzero(np.diff(bag)) + 1
    if wide >= LETTERED_MM:
        for place, number in enumerate(bag.tolist()):
            box = (left + place * wide, top, wide, high)
            sheet.box(*box, fill=tint_of_metal(bags[number].metal), stroke=INK, line_mm=0.15)
            sheet.write_centred(
                box[0] + wide / 2, top + high / 2, bags[number].letter, 6.5, colour=INK
            )
        return
    starts = np.concatenate([[0], edges]).tolist()
    ends = np.append(edges, len(bag)).tolist()
    for begin, end in zip(starts, ends, strict=True):
        number = int(bag[begin])
        sheet.box(
            left + begin * wide,
            top,
            (end - begin) * wide,
            high,
            fill=tint_of_metal(bags[number].metal),
        )
        middle = np.arange(begin, end) * wide + left + wide / 2
        if wide >= MARKED_MM:
            _mark(sheet, np.column_stack([middle, np.full(len(middle), top + high / 2)]), wide,
                  number)  # fmt: skip
        else:
            _hatch(sheet, (left + begin * wide, top, (end - begin) * wide, high), number)
    sheet.box(left, top, len(bag) * wide, high, stroke=INK, line_mm=0.15)


def _draw_ring(sheet: Sheet, left: float, top: float, wide: float, number: int, bag: Bag) -> None:
    """Draw a bag's box as it stands in the lines: colour, letter and its mark beside."""
    sheet.box(left, top, wide, wide, fill=tint_of_metal(bag.metal), stroke=INK, line_mm=0.3)
    sheet.write_centred(left + wide / 2, top + wide / 2, bag.letter, SMALL_PT)
    _mark(sheet, np.array([[left + wide + 1.4, top + wide / 2]]), 2.0, number)


def _mark(sheet: Sheet, middle: np.ndarray, wide: float, number: int) -> None:
    """Mark rings of a bag so that they differ in grey too: nothing, dot, stroke, cross, ring …."""
    half = wide * 0.3
    kind = number % 6
    if kind in (1, 4):
        sheet.discs(middle, half * (0.6 if kind == 1 else 0.9), fill=INK if kind == 1 else WHITE,
                    stroke=INK)  # fmt: skip
    strokes = {2: [(1, -1)], 3: [(1, -1), (1, 1)], 5: [(0, 1)]}.get(kind, [])
    for across, down in strokes:
        way = np.array([across, down]) * half
        sheet.segments(np.stack([middle - way, middle + way], axis=1), width_mm=0.25)


def _hatch(sheet: Sheet, box: tuple[float, float, float, float], number: int) -> None:
    """Hatch a run whose rings are too narrow for marks: no lines, or some at a slant or upright."""
    left, top, wide, high = box
    slant = {1: 0.0, 2: 1.0, 3: -1.0, 4: 0.0, 5: 1.0}.get(number % 6)
    if slant is None:
        return
    step = 0.9 if number % 6 < 4 else 0.5
    x = np.arange(left + step / 2, left + wide, step)
    lean = min(slant * high, step) if slant >= 0 else max(slant * high, -step)
    ends = np.stack(
        [np.column_stack([x, np.full(len(x), top)]),
         np.column_stack([np.clip(x + lean, left, left + wide), np.full(len(x), top + high)])],
        axis=1,
    )  # fmt: skip
    sheet.segments(ends, width_mm=0.12)
