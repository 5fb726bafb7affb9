"""What stands around a strip: where the fingers hold, and the small map of the piece."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.diagram.drawn.marks import RULER_PT
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import GREY, INK, PALE, WHITE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.report.paper.sheet import Sheet

SHORTEST_HOLD_MM = 5.0
"""A shorter end of a piece is not held: fingers find no grip on it."""


def hold_spans(
    at_mm: float, near_mm: float, far_mm: float, shown: tuple[float, float]
) -> list[tuple[float, float]]:
    """Return where the piece is held on both sides of a join, as far as the strip shows it."""
    spans = []
    for side in (-1, 1):
        ends = sorted((at_mm + side * near_mm, at_mm + side * far_mm))
        left, right = max(ends[0], shown[0]), min(ends[1], shown[1])
        if right - left >= 2.0:
            spans.append((left, right))
    return spans


def draw_hold(
    sheet: Sheet,
    spans: Sequence[tuple[float, float]],
    y_mm: float,
    right_mm: float,
    text: str = "",
) -> None:
    """Draw where the piece is held while a first join is welded.

    ``text`` names that join; it keeps left of ``right_mm``.
    """
    for left, right in spans:
        sheet.box(left, y_mm - 0.9, right - left, 1.8, fill=PALE, stroke=INK)
    if not text or not spans:
        return
    end = spans[-1][1] + 1.2
    if end + text_width_mm(text, RULER_PT, bold=True) <= right_mm:
        sheet.write(end, y_mm + 1.2, text, RULER_PT, bold=True)
    else:
        sheet.write(spans[-1][0] - 1.2, y_mm + 1.2, text, RULER_PT, bold=True, anchor="end")


def map_scale(extent: tuple[float, float, float, float]) -> float:
    """Scale of the small map of a piece."""
    length, width = extent[2] - extent[0], extent[3] - extent[1]
    return min(46.0 / length, 9.0 / max(width, 1e-6))


def draw_map(
    sheet: Sheet,
    left_mm: float,
    top_mm: float,
    extent: tuple[float, float, float, float],
    window: tuple[float, float, float, float],
) -> None:
    """Draw the small map: the whole piece as a frame, the part that is shown filled."""
    length, width = extent[2] - extent[0], extent[3] - extent[1]
    scale = map_scale(extent)
    high = max(width * scale, 2.4)
    left = left_mm
    sheet.box(left, top_mm, length * scale, high, fill=WHITE, stroke=GREY)
    y = (extent[3] - window[3]) * scale if width * scale > 2.4 else 0.0
    tall = (window[3] - window[1]) * scale if width * scale > 2.4 else high
    sheet.box(
        left + (window[0] - extent[0]) * scale, top_mm + y,
        max((window[2] - window[0]) * scale, 0.8), max(tall, 0.8), fill=INK,
    )  # fmt: skip
