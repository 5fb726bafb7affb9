"""Learning rate and pace from the minutes of copy after copy."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from chainplan.record.learning.intervals import LEVEL, Estimate

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray

PERCENTS = np.linspace(51.0, 100.0, 981)
"""Rates that are tried; at 50 % every copy but the first would take no time."""
LEAST_FREE = 2
"""Copies beyond one a piece and one for the rate, below which no rate is told."""


def unit_share(copy: FloatArray, percent: float) -> FloatArray:
    """Time of one copy over the first copy's, by Wright's cumulative-average curve.

    Examples
    --------
    >>> import numpy as np
    >>> unit_share(np.array([1.0, 2.0, 3.0, 4.0]), 80).round(3).tolist()
    [1.0, 0.6, 0.506, 0.454]
    """
    power = 1 + np.log2(percent / 100)
    found: FloatArray = copy**power - np.maximum(copy - 1, 0.0) ** power
    return found


class Curve(NamedTuple):
    """What copy after copy says: the rate in per cent, and the first copies' time over the plan."""

    rate: Estimate
    factor: Estimate


def fit_curve(
    minutes: FloatArray, planned: FloatArray, copy: FloatArray, piece: IndexArray
) -> Curve | None:
    """Fit one learning rate and one pace to the copies of several pieces.

    What is left of the logarithms is taken as normal. Each interval holds the values that Fisher's
    F does not refuse with the other free (profile likelihood). For the rate each piece has a pace
    of its own, so that an easy weave does not pass for learning; for the pace all have one.

    Parameters
    ----------
    minutes, planned : array of shape (n,)
        What each copy took, and what a first copy should take by the plan.
    copy, piece : array of shape (n,)
        Which copy of its piece it was, from 1, and which piece.

    Returns
    -------
    Curve or None
        None if there are too few copies.
    """
    pieces, number, count = np.unique(piece, return_inverse=True, return_counts=True)
    free = len(minutes) - len(pieces) - 1
    if free < LEAST_FREE or count.max() < 3:
        return None
    shares = np.array([np.log(unit_share(copy, percent)) for percent in PERCENTS])
    left = np.log(minutes / planned) - shares  # (rates, n)
    means = np.stack([left[:, number == k].mean(axis=1) for k in range(len(pieces))], axis=1)
    rate = _rate((left - means[:, number]) ** 2, free, len(minutes))
    level = left.mean(axis=1)
    squares = ((left - level[:, None]) ** 2).sum(axis=1)
    return Curve(rate, _factor(level, squares, len(minutes)))


def _rate(squares: FloatArray, free: int, n: int) -> Estimate:
    from scipy.special import fdtri

    sums = squares.sum(axis=1)
    best = int(np.argmin(sums))
    inside = PERCENTS[sums <= sums[best] * (1 + float(fdtri(1, free, LEVEL)) / free)]
    return Estimate(float(PERCENTS[best]), float(inside[0]), float(inside[-1]), n, free + 1)


def _factor(level: FloatArray, squares: FloatArray, n: int) -> Estimate:
    """Pace with the rate free: the sum of squares is known along every rate."""
    from scipy.special import fdtri

    free = n - 2
    least = float(squares.min())
    most = least * (1 + float(fdtri(1, free, LEVEL)) / free)
    inside = squares <= most
    reach = np.sqrt(np.maximum(most - squares[inside], 0.0) / n)
    low, high = (level[inside] - reach).min(), (level[inside] + reach).max()
    shift = least / free / 2  # from the middle of a lognormal to its mean
    value, low, high = (
        float(np.exp(x + shift)) for x in (level[int(np.argmin(squares))], low, high)
    )
    return Estimate(value, low, high, n, n)
