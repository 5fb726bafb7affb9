"""Where numbers stand on a tile: each pinned to its dot, none on another number."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray

AIR_MM = 0.3
"""Between two boxes at least."""
_PLACES = ((0, -1), (0, 1), (1, 0), (-1, 0), (0, -2), (0, 2), (1, -1), (-1, -1), (1, 1), (-1, 1))
"""Boxes to the side and down from above the dot, the first that is free: above, below, beside …"""


def pin_numbers(
    points_mm: FloatArray, width_mm: float, height_mm: float, pin_mm: float
) -> FloatArray:
    """Place the boxes of numbers at their dots, in the order of welding.

    Parameters
    ----------
    points_mm : array, shape (k, 2)
        Dots on the sheet, y downwards. [mm]
    width_mm, height_mm : float
        Of a box. [mm]
    pin_mm : float
        From the middle of a dot to the edge of its box. [mm]

    Returns
    -------
    array, shape (k, 2)
        Middles of the boxes. [mm]

    Examples
    --------
    >>> pin_numbers(np.array([[0.0, 0.0], [1.0, 0.0]]), 9.0, 4.0, 1.0).tolist()
    [[0.0, -3.0], [1.0, 3.0]]
    """
    sides = np.array(_PLACES, dtype=float)
    steps = np.sign(sides) * np.array([width_mm / 2 + pin_mm, height_mm / 2 + pin_mm])
    steps += np.sign(sides) * (np.abs(sides) - 1).clip(0) * (height_mm + AIR_MM)
    middles = np.empty((len(points_mm), 2))
    room = np.array([width_mm, height_mm]) + AIR_MM
    for k, point in enumerate(np.asarray(points_mm, dtype=float)):
        tried = point + steps
        over = (np.abs(tried[:, None] - middles[None, :k]) < room).all(axis=2).any(axis=1)
        middles[k] = tried[int(np.argmin(over))]
    return middles
