"""Marks at joins: own rings, dots, numbers in boxes, and the arrows from one to the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.report.diagram.drawn.strips import (
    BOX_HEIGHT_MM,
    LANE_MM,
    NUMBER_PT,
    TIGHT_HEIGHT_MM,
    number_width_mm,
)
from chainplan.report.paper.sheet import INK, WHITE, Path

if TYPE_CHECKING:
    from chainplan.arrays import AnyIntArray, BoolArray, FloatArray
    from chainplan.report.diagram.drawn.strips import Lanes
    from chainplan.report.paper.sheet import Picture, Sheet


MARK = "#12307a"
"""Joins of the pass: a deep blue that prints nearly black."""

DOT_MM = 0.8
"""Radius of a join's dot: seen at arm's length, and smaller than the smallest ring shown (3 mm)."""
CLIP_MM = 1.5
"""Half a diamond's height: larger than a dot, and of another shape."""
DOT_RIM_MM = 0.35
"""White around it, so that it stands clear of the wire."""
RIM_MM = 0.65
"""The last number's second rim is so far within its box, or around a tight one: two lines with
white between them."""
LEADER_INSET_MM = 1.0
"""A leader meets its box at least so far from the corner, so that it is not the next one's."""
WAIT_MM = 1.5
"""Room for the two bars of a wait between numbers, beyond their usual gap."""
RULER_PT = 9.0
"""The least that reads at arm's length."""
TINT = "#8fa9df"
"""The ring whose join it is, as far as it is seen: in grey print clearly darker than the others."""
SHADE = "#cfd8ea"
"""Boxes of every other pass where several share a picture."""


@frozen
class Joins2D:
    """Joins in the order in which they are welded, within one window."""

    number: AnyIntArray  # (k,) what is written at them
    points_mm: FloatArray  # (k, 2) on the sheet
    waits: BoolArray  # (k,) a wait comes before
    starts: BoolArray  # (k,) the first of a pass
    ends: BoolArray  # (k,) the last of a pass
    shaded: BoolArray  # (k,) in a grey box, to tell it from the passes before and after


def draw_own_rings(
    sheet: Sheet, picture: Picture, arcs_mm: FloatArray, seen: BoolArray, wire_mm: FloatArray
) -> None:
    """Fill what is seen of the rings around their joins, each as wide as its wire without its rim.

    Parameters
    ----------
    sheet, picture : Sheet, Picture
        Where the rings are shown.
    arcs_mm : array, shape (k, m, 2)
        Arcs of the rings: right and up, in the picture's own mm.
    seen : array, shape (k, m)
        Which of their points are seen.
    wire_mm : array, shape (k,)
        Wire of each ring.
    """
    for wire in np.unique(wire_mm).tolist():
        own = seen & (wire_mm == wire)[:, None]
        if not own.any():
            continue
        first = own & ~np.pad(own, ((0, 0), (1, 0)))[:, :-1]
        sheet.marks.append(
            Path(points_mm=picture.on_sheet(arcs_mm[own]), first=first[own], stroke=TINT,
                 width_mm=FILL_SHARE * wire * picture.scale)
        )  # fmt: skip


FILL_SHARE = 0.74
"""Of a wire's width: what the pictures leave light between the dark edges."""


@frozen
class NumberLook:
    """How the numbers of a picture are boxed."""

    width_mm: float
    height_mm: float
    bold: bool
    rim_mm: float  # the last number's second rim is so far within its box; outside if below 0
    bars_mm: float  # middle of the bars of a wait, left of the box


def number_look(largest: int, *, tight: bool = False) -> NumberLook:
    """Choose how numbers are boxed: beside strips, or tight on tiles."""
    width = number_width_mm(largest, tight=tight)
    if tight:
        return NumberLook(
            width_mm=width, height_mm=TIGHT_HEIGHT_MM, bold=False, rim_mm=-RIM_MM, bars_mm=0.5
        )
    return NumberLook(
        width_mm=width, height_mm=BOX_HEIGHT_MM, bold=True, rim_mm=RIM_MM, bars_mm=1.5
    )


def draw_clips(sheet: Sheet, places_mm: FloatArray) -> None:
    """Mark the rings that the clip sits on by a dark diamond with a white rim."""
    for size, colour in ((CLIP_MM + 0.5, WHITE), (CLIP_MM, INK)):
        corners = size * np.array([(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)])
        sheet.areas((place + corners for place in places_mm), fill=colour)


def draw_numbers(sheet: Sheet, joins: Joins2D, middles: FloatArray, look: NumberLook) -> None:
    """Draw the dots of the joins and their numbers in boxes, with a line from one to the other."""
    half, rise = look.width_mm / 2, look.height_mm / 2
    anchors = middles.copy()  # a leader goes straight up or down if its box is wide enough for that
    reach = half - LEADER_INSET_MM
    anchors[:, 0] = np.clip(joins.points_mm[:, 0], middles[:, 0] - reach, middles[:, 0] + reach)
    ends = np.stack([joins.points_mm, anchors], axis=1)
    sheet.segments(ends, width_mm=0.85, colour=WHITE)
    sheet.segments(ends, width_mm=0.3, colour=MARK)
    corner = np.array([(-half, -rise), (half, -rise), (half, rise), (-half, rise)])
    starts = joins.starts
    for plain, fill in ((~starts & ~joins.shaded, WHITE), (~starts & joins.shaded, SHADE)):
        boxes = (middle + corner for middle in middles[plain])
        sheet.areas(boxes, fill=fill, stroke=MARK, width_mm=0.3)
    sheet.areas((middle + corner for middle in middles[starts]), fill=INK, stroke=INK)
    rim = corner - np.sign(corner) * look.rim_mm
    for middle in middles[joins.ends & ~starts]:
        sheet.areas([middle + corner], stroke=INK, width_mm=0.45)
        sheet.areas([middle + rim], stroke=MARK, width_mm=0.3)
    bars = middles[joins.waits] - np.array([half + look.bars_mm, 0.0])
    for shift in (-0.55, 0.35):
        sheet.areas((bar + np.array([shift, 0.0]) + _BAR for bar in bars), fill=INK)
    for number, middle, start in zip(
        joins.number.tolist(), middles.tolist(), starts.tolist(), strict=True
    ):
        colour = WHITE if start else INK
        at = middle[0], middle[1]
        sheet.write_centred(*at, str(number), NUMBER_PT, bold=look.bold, colour=colour)
    draw_dots(sheet, joins.points_mm)


def draw_dots(sheet: Sheet, places_mm: FloatArray) -> None:
    """Draw the dots of joins, shape (k, 2)."""
    sheet.discs(places_mm, DOT_MM + DOT_RIM_MM, fill=WHITE)
    sheet.discs(places_mm, DOT_MM, fill=MARK)


# One of the two bars of a wait: as high as the figures beside it, half a mm wide.
_BAR = np.array([(0.0, -1.9), (0.5, -1.9), (0.5, 1.9), (0.0, 1.9)])


def lane_middles(lanes: Lanes, top_mm: float, bottom_mm: float) -> FloatArray:
    """Return the middles of the number boxes above and below a strip, shape (k, 2)."""
    off = (lanes.lane + 0.5) * LANE_MM + 0.8
    y = np.where(lanes.upper, top_mm - off, bottom_mm + off)
    return np.column_stack([lanes.x_mm, y])


def draw_way(sheet: Sheet, joins: Joins2D, *, least_mm: float = 6.0) -> None:
    """Draw the way from each join to the next with an arrow head on every longer step.

    Steps that leave the strip or tile are not drawn, nor those from one pass to the next.
    """
    points = joins.points_mm
    follows = (np.diff(joins.number) == 1) & ~joins.starts[1:]
    if not follows.any():
        return
    ends = np.stack([points[:-1], points[1:]], axis=1)[follows]
    sheet.segments(ends, width_mm=0.35, colour=MARK)
    step = ends[:, 1] - ends[:, 0]
    length = np.hypot(step[:, 0], step[:, 1])
    draw_heads(sheet, ends.mean(axis=1)[length >= least_mm], step[length >= least_mm])


def draw_heads(sheet: Sheet, tips: FloatArray, along: FloatArray, size_mm: float = 1.9) -> None:
    """Draw arrow heads, shape (k, 2), that point along given directions."""
    if not len(tips):
        return
    unit = along / np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)[:, None]
    side = np.column_stack([-unit[:, 1], unit[:, 0]])
    front = tips + unit * size_mm * 0.6
    back = tips - unit * size_mm * 0.6
    corners = np.stack([front, back + side * size_mm * 0.55, back - side * size_mm * 0.55], axis=1)
    sheet.areas(corners, fill=MARK)


def draw_direction(sheet: Sheet, left: float, right: float, y_mm: float, *, forward: bool) -> None:
    """Draw one long arrow beside a strip: the direction in which the pass goes on."""
    tail, tip = (left, right) if forward else (right, left)
    sheet.line([(tail, y_mm), (tip, y_mm)], width_mm=0.5, colour=MARK)
    draw_heads(sheet, np.array([[tip, y_mm]]), np.array([[tip - tail, 0.0]]), 2.6)
