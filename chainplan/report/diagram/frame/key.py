"""What each mark on the pages means: a word at the foot of a page, a sentence on the cover."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.reference.texts import ENGLISH
from chainplan.report.diagram.drawn.marks import (
    DOT_MM,
    MARK,
    SHADE,
    TINT,
    draw_clips,
    draw_direction,
)
from chainplan.report.diagram.drawn.parts import WARM
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import GREY, INK, PALE, WHITE

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from chainplan.reference.texts import Texts
    from chainplan.report.paper.sheet import Sheet

SMALL_PT = 9.0
"""The least that reads at arm's length."""


GAP_MM = 3.6
"""White between two marks of the key, or less where all of them fill the line."""


@frozen
class Mark:
    """How a mark is drawn at a left edge and a middle; its meaning is in the table of texts."""

    draw: Callable[[Sheet, float, float], None]
    width_mm: float  # with the gap to its word; 0: it is explained on the cover alone
    label: str = ""  # key of a word that the cover shows in its place, before a number


def draw_key(
    sheet: Sheet, left_mm: float, y_mm: float, names: Collection[str], t: Texts = ENGLISH
) -> None:
    """Draw the key of the named marks in one line; names are those of `MARKS`."""
    shown = [
        (mark, t(f"sheet.word.{name}"))
        for name, mark in MARKS.items()
        if name in names and mark.width_mm
    ]
    wide = sum(mark.width_mm + text_width_mm(word, SMALL_PT) for mark, word in shown)
    gap = min(GAP_MM, (sheet.width_mm - 2 * left_mm - wide) / max(len(shown) - 1, 1))
    x = left_mm
    for mark, word in shown:
        mark.draw(sheet, x, y_mm - 1.2)
        sheet.write(x + mark.width_mm, y_mm, word, SMALL_PT)
        x += mark.width_mm + text_width_mm(word, SMALL_PT) + gap


def _join(sheet: Sheet, x: float, middle: float) -> None:
    sheet.discs(np.array([[x + 1.2, middle]]), DOT_MM, fill=MARK)
    sheet.box(x + 3.2, middle - 2.1, 6.0, 4.2, fill=WHITE, stroke=MARK)
    sheet.write_centred(x + 6.2, middle, "2", SMALL_PT)


def _ring(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x, middle - 1.1, 6.0, 2.2, fill=TINT, stroke=GREY)


def _start(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x, middle - 2.1, 6.0, 4.2, fill=INK)
    sheet.write_centred(x + 3.0, middle, "1", SMALL_PT, colour=WHITE)


def _end(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x + 0.6, middle - 1.5, 4.8, 3.0, stroke=MARK)
    sheet.box(x, middle - 2.1, 6.0, 4.2, stroke=INK, line_mm=0.45)
    sheet.write_centred(x + 3.0, middle, "9", SMALL_PT)


def _shaded(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x, middle - 2.1, 6.0, 4.2, fill=SHADE, stroke=MARK)


def _wait(sheet: Sheet, x: float, middle: float) -> None:
    for bar in (0.0, 0.9):
        sheet.box(x + bar, middle - 1.9, 0.5, 3.8, fill=INK)


def _before(sheet: Sheet, x: float, middle: float) -> None:
    sheet.discs(np.array([[x + 1.0, middle]]), 0.6, fill=GREY)


def _closed(sheet: Sheet, x: float, middle: float) -> None:
    sheet.discs(np.array([[x + 1.0, middle]]), 0.8, fill=WHITE, stroke=INK)


def _cool(sheet: Sheet, x: float, middle: float) -> None:
    ends = [[(x + k, middle + 2.0), (x + k + 2.4, middle - 2.0)] for k in (0.0, 2.0, 4.0)]
    sheet.segments(np.array(ends), width_mm=0.3, colour=WARM)


def _clip(sheet: Sheet, x: float, middle: float) -> None:
    draw_clips(sheet, np.array([[x + 1.6, middle]]))


def _hold(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x, middle - 0.9, 6.0, 1.7, fill=PALE, stroke=INK)


def _way(sheet: Sheet, x: float, middle: float) -> None:
    draw_direction(sheet, x, x + 10.0, middle, forward=True)


def _from_to(sheet: Sheet, x: float, middle: float) -> None:
    sheet.line([(x, middle), (x + 10.0, middle)], width_mm=0.35, colour=MARK)
    corners = np.array([(x + 6.2, middle), (x + 4.0, middle - 1.0), (x + 4.0, middle + 1.0)])
    sheet.areas([corners], fill=MARK)


def _dashed(sheet: Sheet, x: float, middle: float) -> None:
    ends = [(x + 1.0, middle - 2.0), (x + 1.0, middle + 2.0)]
    sheet.line(ends, width_mm=0.3, colour=GREY, dash_mm=(0.8, 0.8))


def _map(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x, middle - 1.2, 10.0, 2.4, fill=WHITE, stroke=GREY)
    sheet.box(x, middle - 1.2, 3.4, 2.4, fill=INK)


def _axis(sheet: Sheet, x: float, middle: float) -> None:
    sheet.line([(x, middle - 1.6), (x + 10.0, middle - 1.6)], width_mm=0.25, colour=GREY)
    sheet.line([(x + 2.0, middle - 1.6), (x + 2.0, middle)], width_mm=0.5, colour=INK)
    sheet.line([(x + 7.0, middle - 1.6), (x + 7.0, middle - 0.4)], width_mm=0.25, colour=GREY)


def _strip_rows(sheet: Sheet, x: float, middle: float) -> None:
    sheet.write(x + 3.0, middle + 1.2, "2", SMALL_PT, colour=GREY)


MARKS = {
    "join": Mark(draw=_join, width_mm=10.4),
    "ring": Mark(draw=_ring, width_mm=7.2),
    "start": Mark(draw=_start, width_mm=7.2),
    "end": Mark(draw=_end, width_mm=7.2),
    "shaded": Mark(draw=_shaded, width_mm=7.2),
    "wait": Mark(draw=_wait, width_mm=2.8),
    "before": Mark(draw=_before, width_mm=2.8),
    "closed": Mark(draw=_closed, width_mm=3.0),
    "cool": Mark(draw=_cool, width_mm=7.4),
    "clip": Mark(draw=_clip, width_mm=4.6),
    "hold": Mark(draw=_hold, width_mm=7.2),
    "way": Mark(draw=_way, width_mm=0.0),
    "from_to": Mark(draw=_from_to, width_mm=0.0),
    "dashed": Mark(draw=_dashed, width_mm=0.0),
    "map": Mark(draw=_map, width_mm=0.0),
    "axis": Mark(draw=_axis, width_mm=0.0),
    "strip_rows": Mark(draw=_strip_rows, width_mm=0.0),
    "rows": Mark(draw=_strip_rows, width_mm=0.0, label="sheet.odd"),
}
"""Marks that the cover explains, and in a word the foot of each page that they are on."""
