"""Numbers at the joins: how large their boxes are, and where they stand beside a strip."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.report.paper.lettering import text_width_mm

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import AnyIntArray, BoolArray, FloatArray, IndexArray


NUMBER_PT = 13.7
"""Type size of the numbers at the joins: figures of 3.5 mm, which are read at arm's length."""
BOX_HEIGHT_MM = 5.4
"""Figures of `NUMBER_PT` are 3.5 mm high; with rim and air they are read as one thing."""
LANE_MM = BOX_HEIGHT_MM + 0.8
"""From lane to lane: a box and white between it and the next."""
PIN_MM = 0.9
"""On a tile a number's box stands so far above the middle of its dot: the dot holds it like a pin,
so that it cannot be taken for another's."""
TIGHT_HEIGHT_MM = 4.3
"""Height of a box on a tile: its figures and a hair of white."""
TILE_AIR_MM = (1.2, 1.9)
"""Between boxes side by side, where the bars of a wait may stand; from a box to the dot above."""
MOST_SHIFT_MM = 9.5
"""A number stands at most so far to the side of its join before a second lane is opened: its leader
leaves its box near the edge, and is then still steeper than half upright."""


def number_width_mm(largest: int, *, tight: bool = False) -> float:
    """Width of the box around a number; ``tight`` on tiles, where it is not bold. [mm]."""
    text = "8" * len(str(largest))
    return text_width_mm(text, NUMBER_PT, bold=not tight) + (0.9 if tight else 1.8)


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


@frozen
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
