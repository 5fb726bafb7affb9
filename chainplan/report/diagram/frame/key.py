"""What each mark on the pages means: a word at the foot of a page, a sentence on the cover."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
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

    from chainplan.report.paper.sheet import Sheet

SMALL_PT = 9.0
"""The least that reads at arm's length."""


@frozen
class Mark:
    """A mark, how it is drawn at a left edge and a middle, and what it means."""

    draw: Callable[[Sheet, float, float], None]
    width_mm: float  # with the gap to its word
    word: str  # at the foot of a page; empty: on the cover alone
    sentence: str


def draw_key(sheet: Sheet, left_mm: float, y_mm: float, names: Collection[str]) -> None:
    """Draw the key of the named marks in one line; names are those of `MARKS`."""
    x = left_mm
    for name, mark in MARKS.items():
        if name in names and mark.word:
            mark.draw(sheet, x, y_mm - 1.2)
            sheet.write(x + mark.width_mm, y_mm, mark.word, SMALL_PT)
            x += mark.width_mm + text_width_mm(mark.word, SMALL_PT) + 3.6


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


def _rows(sheet: Sheet, x: float, middle: float) -> None:
    sheet.write(x, middle + 1.2, "odd 1", SMALL_PT, colour=GREY)


def _strip_rows(sheet: Sheet, x: float, middle: float) -> None:
    sheet.write(x + 3.0, middle + 1.2, "2", SMALL_PT, colour=GREY)


MARKS = {
    "join": Mark(
        draw=_join, width_mm=10.4, word="join, its number",
        sentence="A join. The numbers are the order; of two at one place the upper one is welded "
        "first.",
    ),
    "ring": Mark(
        draw=_ring, width_mm=7.2, word="its ring",
        sentence="The ring whose join it is, as far as it is seen.",
    ),
    "start": Mark(
        draw=_start, width_mm=7.2, word="first of a pass",
        sentence="First join of a pass.",
    ),
    "end": Mark(
        draw=_end, width_mm=7.2, word="last",
        sentence="Last join of a pass.",
    ),
    "shaded": Mark(
        draw=_shaded, width_mm=7.2, word="every other pass",
        sentence="Every other small pass where several share a picture.",
    ),
    "wait": Mark(
        draw=_wait, width_mm=2.8, word="wait first",
        sentence="Wait first: how long stands in the title or the table.",
    ),
    "before": Mark(
        draw=_before, width_mm=2.8, word="welded before",
        sentence="Welded in an earlier pass.",
    ),
    "closed": Mark(
        draw=_closed, width_mm=3.0, word="closed before weaving",
        sentence="Closed before weaving: nothing to weld.",
    ),
    "cool": Mark(
        draw=_cool, width_mm=7.4, word="keep cool",
        sentence="Keep it below the limit named there. Joins inside the hatching are welded too, "
        "each in its turn.",
    ),
    "clip": Mark(
        draw=_clip, width_mm=4.6, word="clip here",
        sentence="The return lead's clip sits on this ring, from the join on that the title names.",
    ),
    "hold": Mark(
        draw=_hold, width_mm=7.2, word="hold here at the start",
        sentence="Hold within the bar at the first join; of two bars, the piece's first page says "
        "whether the cooler side is enough. From then on the hold moves along with the joins, as "
        "far away.",
    ),
    "way": Mark(
        draw=_way, width_mm=0.0, word="",
        sentence="The way of all joins of a pass along its strips.",
    ),
    "from_to": Mark(
        draw=_from_to, width_mm=0.0, word="",
        sentence="From join to join, where a pass goes to and fro.",
    ),
    "dashed": Mark(
        draw=_dashed, width_mm=0.0, word="",
        sentence="Beyond it, joins have their numbers on the next strip.",
    ),
    "map": Mark(
        draw=_map, width_mm=0.0, word="",
        sentence="The whole piece; black is what is drawn below.",
    ),
    "axis": Mark(
        draw=_axis, width_mm=0.0, word="",
        sentence="Millimetres from the start, which stays on the left when the piece is turned "
        "over; at dark marks the pass goes on, at the ring, pair or column named.",
    ),
    "strip_rows": Mark(
        draw=_strip_rows, width_mm=0.0, word="",
        sentence="Rows of a narrow strip, on the left, level with their joins.",
    ),
    "rows": Mark(
        draw=_rows, width_mm=0.0, word="",
        sentence="Columns, of odd and of even rows; rows stand on the left, level with their "
        "joins. A grey number within a ring is the ring's own.",
    ),
}  # fmt: skip
"""Marks that the cover explains, and in a word the foot of each page that they are on."""
