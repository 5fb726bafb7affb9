"""What is drawn onto a strip of the piece: joins, numbers, arrows, ruler, parts, fingers.

Every mark differs in shape as well as in colour: a join of the pass is a filled dot with its
number in a box; the first number of a pass stands white on black, the last has a double rim; where
passes share a picture, every other one has grey boxes; joins welded in earlier passes are small
grey dots; closed rings a small open circle; heat-sensitive parts a hatched field with a name; the
place where the piece is held a heavy bar under the strip.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.diagram.drawn.strips import (
    BOX_HEIGHT_MM,
    LANE_MM,
    NUMBER_PT,
    TIGHT_HEIGHT_MM,
    number_width_mm,
)
from chainplan.report.paper.lettering import shorten_text, text_width_mm
from chainplan.report.paper.sheet import GREY, INK, PALE, WHITE, Path

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import AnyIntArray, BoolArray, FloatArray
    from chainplan.report.diagram.drawn.strips import Lanes
    from chainplan.report.paper.sheet import Picture, Sheet


MARK = "#12307a"
"""Joins of the pass: a deep blue that prints nearly black."""
WARM = "#a34700"
"""Heat-sensitive parts: a dark orange, always hatched as well."""
DOT_MM = 0.8
"""Radius of a join's dot: seen at arm's length, and smaller than the smallest ring shown (3 mm)."""
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
ROW_APART_MM = 3.0
"""Rows whose joins lie nearer to one level are named together, one above the other."""
COLUMN_LINE_MM = 4.2
"""From the columns of odd rows to those of even ones."""
ROW_MM = 5.0
"""Height of a line of words or of the map above a strip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A heat-sensitive part or a fitting: where it is on the piece, as seen, and what it is."""

    name: str
    left_mm: float
    right_mm: float
    text: str
    warm: bool = True  # has a temperature that it must not pass


@dataclass(frozen=True, slots=True, kw_only=True)
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


@dataclass(frozen=True, slots=True, kw_only=True)
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


def zone_span(picture: Picture, zone: Zone) -> tuple[float, float] | None:
    """Return left and right edge of a part on the sheet, or None if the strip does not show it."""
    low, high = picture.left_mm, picture.left_mm + picture.width_mm
    left = picture.left_mm + (zone.left_mm - picture.window_mm[0]) * picture.scale
    right = picture.left_mm + (zone.right_mm - picture.window_mm[0]) * picture.scale
    if right - left < 5.0:
        left, right = (left + right) / 2 - 2.5, (left + right) / 2 + 2.5
    if right < low - 0.5 or left > high + 0.5:
        return None
    return max(left, low - 3.0), min(right, high + 3.0)


def zone_label(zone: Zone) -> tuple[str, float]:
    """Return what is written at a part, and how wide that is. [mm]."""
    text = shorten_text(f"{zone.name}: {zone.text}", RULER_PT, 90.0, bold=True)
    return text, text_width_mm(text, RULER_PT, bold=True)


def place_zones(
    picture: Picture, zones: Sequence[Zone], free_mm: float
) -> list[tuple[Zone, float, int]]:
    """Place the labels of parts in lines above a strip so that none covers another.

    Parameters
    ----------
    picture : Picture
        The strip.
    zones : sequence of Zone
        Parts of the piece; those that the strip does not show are left out.
    free_mm : float
        Left edge of what is free in the uppermost line. [mm]

    Returns
    -------
    list of (Zone, float, int)
        Each part, the left edge of its label, and its line from above. [mm]
    """
    low, high = picture.left_mm, picture.left_mm + picture.width_mm
    placed = []
    free = [max(free_mm, low)]
    for middle, zone in middles_of_zones(picture, zones):
        width = zone_label(zone)[1]
        wanted = max(min(middle - width / 2, high - width), low)
        row = next((k for k, edge in enumerate(free) if edge <= min(middle, high - width)), None)
        if row is None:
            row = len(free)
            free.append(low)
        left = max(wanted, free[row])
        free[row] = left + width + 4.0
        placed.append((zone, left, row))
    return sorted(placed, key=_row)  # so that a lower label covers the line from a higher one


def middles_of_zones(picture: Picture, zones: Sequence[Zone]) -> list[tuple[float, Zone]]:
    """Return the parts that a strip shows from left to right, with their middles on the sheet."""
    spans = [(zone, zone_span(picture, zone)) for zone in zones]
    return sorted(((sum(span) / 2, zone) for zone, span in spans if span is not None), key=_first)


def draw_zone(
    sheet: Sheet,
    picture: Picture,
    zone: Zone,
    *,
    top_mm: float,
    bottom_mm: float,
    text_mm: tuple[float, float],
) -> None:
    """Hatch a heat-sensitive part and write its name and limit above it, from ``text_mm`` on.

    A fitting that any heat may reach is an outline.

    The upper and lower edge of the hatched field are ``top_mm`` and ``bottom_mm``.
    """
    span = zone_span(picture, zone)
    if span is None:
        return
    left, right = span
    if bottom_mm - top_mm < 4.0:
        top_mm, bottom_mm = (top_mm + bottom_mm) / 2 - 2.0, (top_mm + bottom_mm) / 2 + 2.0
    rise = bottom_mm - top_mm
    lines = []
    for start in np.arange(left - rise, right, 2.6).tolist():
        a, b = max(start, left), min(start + rise, right)
        if b > a:
            lines.append([(a, bottom_mm - (a - start)), (b, bottom_mm - (b - start))])
    colour = WARM if zone.warm else INK
    if zone.warm:
        sheet.segments(np.array(lines), width_mm=0.3, colour=colour)
    sheet.line(
        [(left, top_mm), (right, top_mm), (right, bottom_mm), (left, bottom_mm), (left, top_mm)],
        width_mm=0.5, colour=colour, dash_mm=(1.6, 0.9) if zone.warm else (),
    )  # fmt: skip
    text, width = zone_label(zone)
    x, base = text_mm
    middle = (left + right) / 2
    middle = min(max(middle, x + 0.3), x + width - 0.3)
    sheet.line([(middle, top_mm), (middle, base + 0.8)], width_mm=0.35, colour=colour)
    sheet.box(x - 0.4, base - 3.1, width + 0.8, 3.9, fill=WHITE)
    sheet.write(x, base, text, RULER_PT, bold=True, colour=colour)


def _row(place: tuple[Zone, float, int]) -> int:
    return place[2]


def _first(pair: tuple[float, Zone]) -> float:
    return pair[0]


def draw_rows(
    sheet: Sheet, picture: Picture, joins_mm: FloatArray, row: AnyIntArray, column: AnyIntArray
) -> None:
    """Write the rows left of a picture, level with their joins, and the columns below it.

    Odd and even rows each have a line of columns, since one's rings stand between the other's.

    Parameters
    ----------
    sheet, picture : Sheet, Picture
        The strip or tile.
    joins_mm : array, shape (n, 2)
        Joins of all rings: right and up, in the picture's own mm.
    row, column : array, shape (n,)
        Of each ring, from 0.
    """
    left, lower, right, upper = picture.window_mm
    x, y = joins_mm[:, 0], joins_mm[:, 1]
    inside = np.flatnonzero((x > left) & (x < right) & (y > lower) & (y < upper))
    if not len(inside):
        return
    place = picture.on_sheet(joins_mm)
    rows, where = np.unique(row[inside], return_inverse=True)
    high = np.bincount(where, weights=place[inside, 1]) / np.bincount(where)
    level = np.inf
    named: list[tuple[float, list[int]]] = []
    for k in np.argsort(-high, kind="stable").tolist():
        if high[k] < level - ROW_APART_MM:
            level = float(high[k])
            named.append((level, [int(rows[k]) + 1]))
        else:
            named[-1][1].append(int(rows[k]) + 1)
    for at_mm, numbers in named:
        for k, row_number in enumerate(sorted(numbers)[:2]):
            base = at_mm + 1.2 + ROW_APART_MM * (k - (min(len(numbers), 2) - 1) / 2)
            at = (picture.left_mm - 1.0, base)
            sheet.write(*at, str(row_number), RULER_PT, anchor="end", colour=GREY)
    below = picture.top_mm + picture.height_mm + 4.2
    upwards = rows[np.argsort(-high, kind="stable")].tolist()
    for word, parity in (("odd", 0), ("even", 1)):
        number = next((each for each in upwards if each % 2 == parity), None)
        if number is not None:
            line = inside[row[inside] == number]
            _write_columns(sheet, picture, place, line, column, below, word)
            below += COLUMN_LINE_MM


def number_rings(
    sheet: Sheet, picture: Picture, centre_mm: FloatArray, row: AnyIntArray, taken_mm: FloatArray,
    half_mm: tuple[float, float],
) -> None:  # fmt: skip
    """Write its number into the first ring of each row that no box covers.

    ``centre_mm``: middles of all rings as seen; ``taken_mm``: middles of the boxes on the sheet,
    which reach ``half_mm`` to the side and up.
    """
    left, lower, right, upper = picture.window_mm
    inside = np.flatnonzero(
        (centre_mm[:, 0] > left) & (centre_mm[:, 0] < right)
        & (centre_mm[:, 1] > lower) & (centre_mm[:, 1] < upper)
    )  # fmt: skip
    place = picture.on_sheet(centre_mm[inside])
    free = np.ones(inside.size, dtype=bool)
    for x, y in taken_mm.tolist():
        free &= (np.abs(place[:, 0] - x) > half_mm[0] + 4.0) | (
            np.abs(place[:, 1] - y) > half_mm[1] + 2.0
        )
    order = np.lexsort((place[:, 0], row[inside]))
    order = order[free[order]]
    _, first = np.unique(row[inside][order], return_index=True)
    for k in order[first].tolist():
        text = str(inside[k] + 1)
        wide = text_width_mm(text, RULER_PT) + 0.8
        x, y = place[k].tolist()
        sheet.box(x - wide / 2, y - 1.6, wide, 3.2, fill=WHITE)
        sheet.write_centred(x, y, text, RULER_PT, bold=False, colour=GREY)


def _write_columns(
    sheet: Sheet, picture: Picture, place: FloatArray, rings: AnyIntArray, column: AnyIntArray,
    base_mm: float, word: str,
) -> None:  # fmt: skip
    """Write one line of column numbers, each below the joins of its rings."""
    at = (picture.left_mm - 1.0, base_mm)
    sheet.write(*at, word, RULER_PT, anchor="end", colour=GREY)
    free = -np.inf
    for k in rings[np.argsort(place[rings, 0], kind="stable")].tolist():
        text = str(int(column[k]) + 1)
        width = text_width_mm(text, RULER_PT)
        if place[k, 0] - width / 2 > free + 2.0:
            sheet.write(place[k, 0], base_mm, text, RULER_PT, anchor="middle", colour=GREY)
            free = place[k, 0] + width / 2


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
