"""Cut a piece into strips and tiles that fit on paper, at a scale at which numbers fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.wire.arcs import extent_mm

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import AnyIntArray, BoolArray, FloatArray, IndexArray
    from chainplan.report.wire.arcs import Rings, View


NUMBER_PT = 13.7
"""Type size of the numbers at the joins: figures of 3.5 mm, which are read at arm's length."""
BOX_HEIGHT_MM = 5.4
"""Figures of `NUMBER_PT` are 3.5 mm high; with rim and air they are read as one thing."""
LANE_MM = BOX_HEIGHT_MM + 0.8
"""From lane to lane: a box and white between it and the next."""
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
PIN_MM = 0.9
"""On a tile a number's box stands so far above the middle of its dot: the dot holds it like a pin,
so that it cannot be taken for another's."""
TIGHT_HEIGHT_MM = 4.3
"""Height of a box on a tile: its figures and a hair of white."""
TILE_AIR_MM = (1.2, 1.9)
"""Between boxes side by side, where the bars of a wait may stand; from a box to the dot above."""
AROUND_TILE_MM = 23.0
"""Map, row and column numbers, fingers and air around a tile."""
UNDER_TITLE_MM = 26.5
"""What is left of the room kept for a title, of two lines, and the marks around one tile."""
NARROW_RINGS, NARROW_ROWS = 4.0, 3
"""Up to so many ring diameters and rows across a piece is drawn in strips, a wider one in tiles:
with more rows, leaders to numbers above and below would cross each other's joins."""
MOST_SHIFT_MM = 9.5
"""A number stands at most so far to the side of its join before a second lane is opened: its leader
leaves its box near the edge, and is then still steeper than half upright."""


@dataclass(frozen=True, slots=True, kw_only=True)
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


@dataclass(frozen=True, slots=True, kw_only=True)
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

    @property
    def said(self) -> str:
        """Say how large it is drawn."""
        return say_scale(self.scale)


TRUE_WITHIN = 1e-6
"""Scales nearer to 1 than this are 1: rounding only."""


def say_scale(scale: float) -> str:
    """Say how large something is drawn.

    Examples
    --------
    >>> say_scale(1.0), say_scale(2.4), say_scale(0.62)
    ('true size', '2.4 × true size', '0.62 × true size')
    """
    return "true size" if abs(scale - 1.0) < TRUE_WITHIN else f"{scale:.2g} × true size"


def number_width_mm(largest: int, *, tight: bool = False) -> float:
    """Width of the box around a number; ``tight`` on tiles, where it is not bold. [mm]."""
    text = "8" * len(str(largest))
    return text_width_mm(text, NUMBER_PT, bold=not tight) + (0.9 if tight else 1.8)


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
    least = SMALLEST_RING_MM / outer
    narrow = extent[3] - extent[1] <= NARROW_RINGS * outer and rows <= NARROW_ROWS
    box = number_width_mm(largest_number) + 1.0
    true = False
    if narrow:
        lanes = _lane_scale(points_mm, box)
        high = extent[3] - extent[1] + (2 * np.ceil(lanes) + 1) * LANE_MM
        crowd = _crowd_scale(points_mm, box)
        true = outer >= SMALLEST_TRUE_RING_MM and lanes <= MOST_TRUE_LANES and high <= height_mm
        true = true and crowd <= 1.0
        wanted = max(least, lanes, crowd)
        most = (height_mm - 5 * LANE_MM) / (extent[3] - extent[1])
    else:
        wanted = max(least, _tile_scale(points_mm, number_width_mm(largest_number, tight=True)))
        most = 5 * least
    scale = min(wanted, most, 4 * least)
    fits = min(width_mm / (extent[2] - extent[0]), height_mm / (extent[3] - extent[1]))
    small = fits >= scale  # a small piece may fill the sheet
    scale = min(fits, most, (3 if narrow else 5) * least) if small else _round_scale(scale)
    overlap = 1.2 * outer
    if not small:
        if not narrow:
            most = min(most, _stacking_scale(extent[3] - extent[1], scale, height_mm))
        scale = _fill_width(extent[2] - extent[0], width_mm, scale, overlap, most)
    if true:
        scale = 1.0
    across = _spans(extent[0], extent[2], width_mm / scale, overlap)
    if narrow:
        up = [((extent[1], extent[3]), (-np.inf, np.inf))]
    else:
        up = _spans(extent[1], extent[3], height_mm / scale, overlap)[::-1]
    windows = [
        Window(
            number=0,
            window_mm=(x[0], y[0], x[1], y[1]),
            core_mm=(core_x[0], core_y[0], core_x[1], core_y[1]),
        )
        for y, core_y in up
        for x, core_x in across
    ]
    numbered = [
        Window(number=k, window_mm=w.window_mm, core_mm=w.core_mm) for k, w in enumerate(windows, 1)
    ]
    return Cut(
        narrow=narrow, scale=scale, outer_mm=outer, extent_mm=extent, windows=tuple(numbered)
    )


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


def _spans(
    low: float, high: float, room: float, overlap: float
) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Cut a length into equal spans that overlap; with each the part that is its own."""
    length = high - low
    count = _span_count(length, room, overlap)
    span = (length + (count - 1) * overlap) / count
    starts = [low + k * (span - overlap) for k in range(count)]
    seams = [-np.inf, *(start + overlap / 2 for start in starts[1:]), np.inf]
    return [((start, start + span), (seams[k], seams[k + 1])) for k, start in enumerate(starts)]


def spread_lane(wanted_mm: FloatArray, width_mm: float, low: float, high: float) -> FloatArray:
    """Move numbers along their lane as little as possible so that none overlaps.

    Least squares under order: with ``z_k = x_k − k·width`` the places must not fall, which is
    isotonic regression.

    Parameters
    ----------
    wanted_mm : array, shape (k,)
        Where the middles would stand, ascending. [mm]
    width_mm : float
        Width of a number with its gap. [mm]
    low, high : float
        Ends of the lane. [mm]

    Returns
    -------
    array, shape (k,)
        Middles, ascending, at least ``width_mm`` apart wherever the lane is long enough. [mm]

    Examples
    --------
    >>> spread_lane(np.array([10.0, 11.0]), 5.0, 0.0, 100.0).tolist()
    [8.0, 13.0]
    """
    from scipy.optimize import isotonic_regression

    count = len(wanted_mm)
    steps = np.arange(count) * width_mm
    level = isotonic_regression(wanted_mm - steps).x if count else np.zeros(0)
    least, most = low + width_mm / 2, high - width_mm / 2 - (count - 1) * width_mm
    places: FloatArray = np.clip(level, least, max(least, most)) + steps
    return places


@dataclass(frozen=True, slots=True, kw_only=True)
class Lanes:
    """Where the numbers of a strip stand: a side, a lane away from the strip, and a place."""

    upper: npt.NDArray[np.bool_]  # (k,)
    lane: IndexArray  # (k,) 0 next to the strip
    x_mm: FloatArray  # (k,) on the sheet
    lanes: tuple[int, int]  # above, below


def place_numbers(
    x_mm: FloatArray,
    rise_mm: FloatArray,
    box_mm: float,
    low: float,
    high: float,
    *,
    first: AnyIntArray | None = None,
) -> Lanes:
    """Place the numbers of a strip above and below it, each near its join.

    Of a pair the number that is welded first stands above, the other below, whichever join of the
    two is seen above the other.

    Parameters
    ----------
    x_mm : array, shape (k,)
        Joins along the strip, on the sheet, in the order in which they are welded. [mm]
    rise_mm : array, shape (k,)
        How far each lies above the middle of the strip. [mm]
    box_mm : float
        Width of a number with its gap. [mm]
    low, high : float
        Ends of the strip. [mm]
    first : array, shape (p,), optional
        Index of the first join of each pair; the second follows it.
    """
    order = np.lexsort((np.arange(len(x_mm)), np.round(x_mm)))  # within a mm in welding order
    upper = rise_mm >= 0
    larger = max(np.count_nonzero(upper), np.count_nonzero(~upper))
    if larger * box_mm > 0.6 * (high - low) and larger > 0.6 * len(x_mm):
        upper = np.zeros(len(x_mm), dtype=bool)
        upper[order[::2]] = True
    paired = np.zeros(len(x_mm), dtype=bool)
    if first is not None:
        upper[first], upper[first + 1] = True, False
        paired[first] = paired[first + 1] = True
    found = _fill_lanes(x_mm, upper, order, box_mm, low, high)
    if max(found.lanes) > 1:
        other = _fill_lanes(
            x_mm, _evade(x_mm, upper, order, box_mm, paired), order, box_mm, low, high
        )
        if sum(other.lanes) < sum(found.lanes):
            return other
    return found


def _evade(
    x_mm: FloatArray, upper: BoolArray, order: IndexArray, box_mm: float, paired: BoolArray
) -> BoolArray:
    """Send a number to the other side where that is free and its own is taken; pairs stay."""
    sides = upper.copy()
    taken = {True: -np.inf, False: -np.inf}
    for k in order.tolist():
        own = bool(upper[k])
        if not paired[k] and taken[own] + box_mm > x_mm[k] >= taken[not own] + box_mm:
            own = not own
        sides[k] = own
        taken[own] = float(x_mm[k])
    return sides


def _fill_lanes(
    x_mm: FloatArray, upper: BoolArray, order: IndexArray, box_mm: float, low: float, high: float
) -> Lanes:
    """Place numbers whose sides are chosen, in as many lanes as they need."""
    place = np.array(x_mm, dtype=float)
    lane = np.zeros(len(x_mm), dtype=np.intp)
    lanes = [0, 0]
    for side in (True, False):
        mine = order[upper[order] == side]
        for count in (1, 2, 3, 4):
            for k in range(count):
                here = mine[k::count]
                lane[here] = k
                place[here] = spread_lane(x_mm[here], box_mm, low, high)
            lanes[0 if side else 1] = count if len(mine) else 0
            shift = np.abs(place[mine] - x_mm[mine]).max(initial=0.0)
            if shift <= MOST_SHIFT_MM or count * 4 > len(mine):
                break
    return Lanes(upper=upper, lane=lane, x_mm=place, lanes=(lanes[0], lanes[1]))
