"""Dots of joins set apart where they would fall on one another, each beside its own join.

Joins of a pair often lie within a wire's width of each other, or one behind the other. Their
numbers stand above and below, the first to be welded always above; the dots are moved so that each
leader reaches its own dot without touching the other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import AnyIntArray, BoolArray, FloatArray

APART_MM = 2.1
"""Middles of two dots are at least so far apart: two radii and the white rim between them."""
PAIR_MM = 2.4
"""Joins welded one after the other that lie no further apart along the strip are one pair."""
STACKED_SHARE = 0.4
"""From this share of `APART_MM` on, dots of a pair are moved up and down; below, to the sides."""
ROUNDS = 12
"""Rounds of moving near dots apart: groups of four come apart in fewer than six."""
MOST_MOVE_MM = 1.6
"""A dot stays so near to its join: a third of the smallest ring that is shown."""


def pairs_of(x_mm: FloatArray, step: AnyIntArray, group: AnyIntArray | None = None) -> AnyIntArray:
    """Find joins welded one after the other at one place along a strip, or of one pair of rings.

    Parameters
    ----------
    x_mm : array, shape (k,)
        Places along the strip, in the order in which they are welded. [mm]
    step : array, shape (k,)
        Places in the weld order.
    group : array, shape (k,), optional
        The pair, three or single ring that each join is of: those of one are together however far
        apart they are drawn.

    Returns
    -------
    array, shape (p,)
        Index of the first join of each pair; no join is in two of them.

    Examples
    --------
    >>> pairs_of(np.array([0.0, 0.5, 20.0, 20.1, 20.2]), np.array([1, 2, 3, 4, 5])).tolist()
    [0, 2]
    """
    near = np.abs(np.diff(x_mm)) <= PAIR_MM
    if group is not None:
        near |= np.diff(group) == 0
    near &= np.diff(step) == 1
    found: list[int] = []
    for k in np.flatnonzero(near).tolist():
        if not found or found[-1] < k - 1:
            found.append(k)
    return np.array(found, dtype=np.intp)


def spread_dots(
    places_mm: FloatArray, step: AnyIntArray, *, paired: bool, group: AnyIntArray | None = None
) -> FloatArray:
    """Move dots apart where they would fall on one another.

    Parameters
    ----------
    places_mm : array, shape (k, 2)
        Joins on the sheet, y downwards, in the order in which they are welded. [mm]
    step : array, shape (k,)
        Places in the weld order.
    paired : bool
        Whether numbers stand above and below, the first of a pair above.
    group : array, shape (k,), optional
        As of `pairs_of`.

    Returns
    -------
    array, shape (k, 2)
        Where the dots are drawn, each near its join. [mm]
    """
    places = np.array(places_mm, dtype=float).reshape(-1, 2)
    if len(places) < 2:
        return places
    if paired:
        first = pairs_of(places[:, 0], step, group)
        _set_pairs_apart(places, first, first + 1)
    _push_apart(places)
    move = places - places_mm
    far = np.hypot(move[:, 0], move[:, 1])
    scale: FloatArray = np.minimum(1.0, MOST_MOVE_MM / np.maximum(far, 1e-9))
    return places_mm + move * scale[:, None]


def _set_pairs_apart(places: FloatArray, first: AnyIntArray, second: AnyIntArray) -> None:
    """Move the dots of pairs, in place: one above the other, else the first to the left."""
    below = places[second, 1] - places[first, 1]
    stacked = (below > STACKED_SHARE * APART_MM) & (below < APART_MM)
    rise = np.where(stacked, APART_MM - below, 0.0) / 2
    places[first, 1] -= rise
    places[second, 1] += rise
    beside = below <= STACKED_SHARE * APART_MM
    beside &= np.abs(places[second, 0] - places[first, 0]) < APART_MM
    middle = (places[first, 0] + places[second, 0]) / 2
    for part, side in ((first, -0.5), (second, 0.5)):
        places[part[beside], 0] = middle[beside] + side * APART_MM


def _push_apart(places: FloatArray) -> None:
    """Push dots away from each other, in place, until all are apart or the rounds are over."""
    from scipy.spatial import cKDTree

    for _ in range(ROUNDS):
        near = cKDTree(places).query_pairs(APART_MM * (1 - 1e-6), output_type="ndarray")
        if not len(near):
            return
        one, two = near.T
        away = places[two] - places[one]
        length = np.hypot(away[:, 0], away[:, 1])
        same: BoolArray = length < 1e-3
        # The next one to the right, the one after it down, and so on round.
        turn = (two - one - 1)[same] * np.pi / 2
        away[same] = np.column_stack([np.cos(turn), np.sin(turn)])
        length[same] = 0.0
        push = away / np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-9)[:, None]
        push *= (APART_MM - length)[:, None] / 2
        np.add.at(places, two, push)
        np.add.at(places, one, -push)
