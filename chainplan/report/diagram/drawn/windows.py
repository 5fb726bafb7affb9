"""Cut a piece into strips and tiles that fit on paper, at a scale at which numbers fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.reference.texts import ENGLISH
from chainplan.report.diagram.drawn.strips import (
    LANE_MM,
    MOST_SHIFT_MM,
    PIN_MM,
    TIGHT_HEIGHT_MM,
    TILE_AIR_MM,
    number_width_mm,
)
from chainplan.report.wire.arcs import extent_mm

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray
    from chainplan.reference.texts import Texts
    from chainplan.report.wire.arcs import Rings, View


SMALLEST_RING_MM = 5.0
"""An enlarged ring is at least this large, so that its join can be told from its neighbour's: two
dots of 1.9 mm then stand apart on it."""
SMALLEST_TRUE_RING_MM = 3.0
"""From this outer diameter on strips are drawn at true size: a dot of 1.9 mm still lies within."""
CROWDS = (6, 8, 10, 12, 16, 24)
"""Joins near each other that are looked at together: runs of two to six pairs, and beyond."""
CLEAR_SHARE = 0.8
"""Dots nearer than this share of what sets them apart are taken for one."""
MOST_TRUE_LANES = 2.6
"""Lanes of numbers on either side, on average where joins are densest, up to which they are: with
more, the leaders are longer than a few rings."""
SCALES = tuple(round(10 ** (step / 20), 3) for step in range(-20, 41))
"""An eighth larger each, so that passes share their pictures of the piece."""
AROUND_TILE_MM = 23.0
"""Map, row and column numbers, fingers and air around a tile."""
UNDER_TITLE_MM = 26.5
"""What is left of the room kept for a title, of two lines, and the marks around one tile."""
NARROW_RINGS, NARROW_ROWS = 4.0, 3
"""Up to so many ring diameters and rows across a piece is drawn in strips, a wider one in tiles:
with more rows, leaders to numbers above and below would cross each other's joins."""


Extent = tuple[float, float, float, float]
"""Left, lower, right and upper edge, in mm of the piece."""
Span = tuple[tuple[float, float], tuple[float, float]]
"""What a window shows along one axis, and the part of it whose joins it numbers."""
AROUND_PASS_RINGS = 1.2
"""Of a wide piece this much is shown around the joins of a pass, in diameters of its
widest ring: the rings that are welded and their neighbours whole, so that the place is found."""


MOST_ENLARGED = 1.3
"""A part of a wide piece that leaves room on its page is drawn larger, up to so many times: beyond,
what is seen around the joins, and where fingers hold, would leave the page."""


@frozen
class Window:
    """A part of the piece that is shown in one strip or tile (right and up, in mm)."""

    number: int
    window_mm: tuple[float, float, float, float]  # left, lower, right, upper, overlap included
    core_mm: tuple[float, float, float, float]  # joins in here are numbered in this window

    def holds(self, points_mm: FloatArray, *, core: bool = True) -> npt.NDArray[np.bool_]:
        """Tell which points lie in the window."""
        left, lower, right, upper = self.core_mm if core else self.window_mm
        x, y = points_mm[:, 0], points_mm[:, 1]
        return (x >= left) & (x < right) & (y >= lower) & (y < upper)


@frozen
class Cut:
    """How one pass is spread over strips or tiles."""

    narrow: bool  # strips with numbers above and below; else tiles with numbers at the joins
    scale: float
    outer_mm: float  # outer diameter of a usual ring
    extent_mm: tuple[float, float, float, float]
    windows: tuple[Window, ...]

    @property
    def true(self) -> bool:
        """Whether a piece may be laid on its picture."""
        return abs(self.scale - 1.0) < TRUE_WITHIN

    def said(self, t: Texts) -> str:
        """Say how large it is drawn."""
        return say_scale(self.scale, t)


TRUE_WITHIN = 1e-6
"""Scales nearer to 1 than this are 1: rounding only."""


def say_scale(scale: float, t: Texts = ENGLISH) -> str:
    """Say how large something is drawn.

    Examples
    --------
    >>> say_scale(1.0), say_scale(2.4), say_scale(0.62)
    ('true size', '2.4 × true size', '0.62 × true size')
    """
    if abs(scale - 1.0) < TRUE_WITHIN:
        return t("sheet.true")
    return t("sheet.scale", scale=f"{scale:.2g}")


def cut_piece(
    rings: Rings,
    view: View,
    points_mm: FloatArray,
    largest_number: int,
    *,
    rows: int,
    width_mm: float,
    height_mm: float,
) -> Cut:
    """Choose scale and windows for one pass: strips at true size wherever their numbers allow it.

    Parameters
    ----------
    rings : Rings
        The whole piece.
    view : View
        From where this pass is welded.
    points_mm : array, shape (k, 2)
        Joins of the pass as seen. [mm]
    largest_number : int
        Largest number that is written at a join.
    rows : int
        Rows across the piece.
    width_mm, height_mm : float
        Room on the sheet for one strip or tile. [mm]
    """
    extent = extent_mm(rings, view)
    outer = 2 * float(np.median(rings.mean_radius_mm)) + float(np.median(rings.wire_mm))
    narrow = extent[3] - extent[1] <= NARROW_RINGS * outer and rows <= NARROW_ROWS
    room = (width_mm, height_mm)
    if narrow:
        scale, across, up = _cut_strips(extent, outer, points_mm, largest_number, room)
    else:
        widest = float((2 * rings.mean_radius_mm + rings.wire_mm).max())
        scale, across, up = _cut_tiles(extent, (outer, widest), points_mm, largest_number, room)
    parts = [(x, y) for y in up for x in across]
    windows = tuple(
        Window(
            number=number,
            window_mm=(x[0][0], y[0][0], x[0][1], y[0][1]),
            core_mm=(x[1][0], y[1][0], x[1][1], y[1][1]),
        )
        for number, (x, y) in enumerate(parts, 1)
    )
    return Cut(narrow=narrow, scale=scale, outer_mm=outer, extent_mm=extent, windows=windows)


def _cut_strips(
    extent: Extent, outer: float, points_mm: FloatArray, largest: int, room_mm: tuple[float, float]
) -> tuple[float, list[Span], list[Span]]:
    """Cut along the piece: scale, spans along it, and its whole width."""
    width_mm, height_mm = room_mm
    length, high = extent[2] - extent[0], extent[3] - extent[1]
    least = SMALLEST_RING_MM / outer
    box = number_width_mm(largest) + 1.0
    lanes = _lane_scale(points_mm, box)
    crowd = _crowd_scale(points_mm, box)
    needed = high + (2 * np.ceil(lanes) + 1) * LANE_MM
    true = outer >= SMALLEST_TRUE_RING_MM and lanes <= MOST_TRUE_LANES and needed <= height_mm
    most = (height_mm - 5 * LANE_MM) / high
    scale = min(max(least, lanes, crowd), most, 4 * least)
    fits = min(width_mm / length, height_mm / high)
    overlap = 1.2 * outer
    if true and crowd <= 1.0:
        scale = 1.0
    elif fits >= scale:  # a small piece may fill the sheet
        scale = min(fits, most, 3 * least)
    else:
        scale = _fill_width(length, width_mm, _round_scale(scale), overlap, most)
    across = _spans(extent[0], extent[2], width_mm / scale, overlap)
    return scale, across, [((extent[1], extent[3]), (-np.inf, np.inf))]


def _cut_tiles(
    extent: Extent,
    ring_mm: tuple[float, float],
    points_mm: FloatArray,
    largest: int,
    room_mm: tuple[float, float],
) -> tuple[float, list[Span], list[Span]]:
    """Cut what is welded out of a wide piece: scale, spans across it, spans up from the last.

    ``ring_mm``: outer diameters of a usual and of the widest ring.
    """
    width_mm, height_mm = room_mm
    outer, widest = ring_mm
    least = SMALLEST_RING_MM / outer
    most = 5 * least
    wanted = max(least, _tile_scale(points_mm, number_width_mm(largest, tight=True)))
    scale = min(wanted, 4 * least)
    fits = min(width_mm / (extent[2] - extent[0]), height_mm / (extent[3] - extent[1]))
    overlap = 1.2 * outer
    if fits >= scale:  # a small piece may fill the sheet
        return min(fits, most), [_whole(extent, 0)], [_whole(extent, 1)]
    scale = _round_scale(scale)
    left, lower, right, upper = _around(points_mm, extent, AROUND_PASS_RINGS * widest)
    most = min(most, _stacking_scale(upper - lower, scale, height_mm))
    if right - left > width_mm / scale:
        scale = _fill_width(right - left, width_mm, scale, overlap, most)
        across = _spans(left, right, width_mm / scale, overlap)
    else:
        room = min(width_mm / (right - left), max(height_mm / (upper - lower), scale))
        scale = min(most, MOST_ENLARGED * scale, room)
        across = [(_page_around(left, right, extent, width_mm / scale), (-np.inf, np.inf))]
    up = _spans(lower, upper, height_mm / scale, overlap)[::-1]
    return scale, across, up


def _whole(extent: Extent, axis: int) -> Span:
    return (extent[axis], extent[axis + 2]), (-np.inf, np.inf)


def _around(points_mm: FloatArray, extent: Extent, margin: float) -> Extent:
    """Find what of the piece lies around some joins, in steps of twice the margin. [mm].

    Passes whose joins lie among each other then have one window, and its picture once in the file.
    """
    origin, step = np.array(extent[:2]), 2 * margin
    low = origin + step * np.floor((points_mm.min(axis=0) - margin - origin) / step)
    high = origin + step * np.ceil((points_mm.max(axis=0) + margin - origin) / step)
    left, lower = np.maximum(low, extent[:2]).tolist()
    right, upper = np.minimum(high, extent[2:]).tolist()
    return left, lower, right, upper


def _page_around(left: float, right: float, extent: Extent, room: float) -> tuple[float, float]:
    """Place a window as wide as the page over what is welded, at one of few places.

    Windows at few places let passes share their pictures of the piece, and show where fingers hold.
    """
    room = min(room, extent[2] - extent[0])
    places = np.append(np.arange(extent[0], extent[2] - room, room / 4), extent[2] - room)
    holds = places[(places <= left) & (places + room >= right)]
    if not holds.size:
        middle = (left + right - room) / 2
        start = min(max(middle, extent[0]), extent[2] - room)
    else:
        start = float(holds[np.abs(holds + room / 2 - (left + right) / 2).argmin()])
    return start, start + room


def _round_scale(scale: float) -> float:
    """Take the next larger scale of the series, so that passes share their pictures."""
    for step in SCALES:
        if step >= scale * 0.95:
            return step
    return SCALES[-1]


def _fill_width(length: float, width: float, scale: float, overlap: float, most: float) -> float:
    """Enlarge a scale until the strips, no more of them than before, are as wide as the sheet."""
    count = _span_count(length, width / scale, overlap)
    return min(most, width * count / (length + (count - 1) * overlap) * (1 - 1e-9))


def _stacking_scale(high: float, scale: float, height: float) -> float:
    """Largest scale at which no fewer tiles stand below one another on a sheet than at this one."""
    tiles = int((height + UNDER_TITLE_MM) / (high * scale + AROUND_TILE_MM))
    if tiles < 1:
        return np.inf
    return max(scale, ((height + UNDER_TITLE_MM) / tiles - AROUND_TILE_MM) / high)


def _lane_scale(points_mm: FloatArray, box_mm: float) -> float:
    """Scale at which numbers fit into one lane above and one below the strip."""
    if len(points_mm) < 2:
        return 0.0
    x = np.sort(points_mm[:, 0])
    run = min(16, len(x) - 1)
    spread = (x[run:] - x[:-run]).min()
    return float(run * box_mm / 2 / max(spread, 1e-6) * 1.1)


def _crowd_scale(points_mm: FloatArray, box_mm: float) -> float:
    """Scale at which dots of a crowd come clear, and its numbers fit into two lanes to a side."""
    from chainplan.report.diagram.drawn.dots import APART_MM, MOST_MOVE_MM, spread_dots

    x = np.sort(points_mm[:, 0])
    scale = 0.0
    for run in CROWDS:
        if len(x) >= run:
            spread = max(float((x[run - 1 :] - x[: len(x) - run + 1]).min()), 1e-6)
            scale = max(scale, (run * box_mm / 4 - 2 * MOST_SHIFT_MM) / spread)
    for step in SCALES:
        if step < max(scale, 1.0):
            continue
        places = spread_dots(points_mm * step * (1, -1), np.arange(len(points_mm)), paired=True)
        if _nearest_mm(places) >= CLEAR_SHARE * APART_MM or step * MOST_MOVE_MM > 8.0:
            return max(scale, step if step > 1.0 else scale)
    return scale


def _nearest_mm(places_mm: FloatArray) -> float:
    """How near the two nearest of some places are. [mm]."""
    from scipy.spatial import cKDTree

    if len(places_mm) < 2:
        return float(np.inf)
    return float(cKDTree(places_mm).query(places_mm, k=2)[0][:, 1].min())


def _tile_scale(points_mm: FloatArray, box_mm: float) -> float:
    """Scale at which nearly all numbers stand clear of the next join's number."""
    if len(points_mm) < 2:
        return 0.0
    from scipy.spatial import cKDTree

    beside, above = TILE_AIR_MM
    boxes = points_mm / (box_mm + beside, PIN_MM + TIGHT_HEIGHT_MM + above)
    nearest = cKDTree(boxes).query(boxes, k=2, p=np.inf)[0][:, 1]
    return float(1.02 / max(np.percentile(nearest, 10), 1e-6))


def _span_count(length: float, room: float, overlap: float) -> int:
    if length <= room:
        return 1
    return int(np.ceil((length - overlap) / max(room - overlap, overlap)))


def _spans(low: float, high: float, room: float, overlap: float) -> list[Span]:
    """Cut a length into equal spans that overlap; with each the part that is its own."""
    length = high - low
    count = _span_count(length, room, overlap)
    span = (length + (count - 1) * overlap) / count
    starts = [low + k * (span - overlap) for k in range(count)]
    seams = [-np.inf, *(start + overlap / 2 for start in starts[1:]), np.inf]
    return [((start, start + span), (seams[k], seams[k + 1])) for k, start in enumerate(starts)]
