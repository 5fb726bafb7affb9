"""Intervals that say how far a figure from the record can be trusted."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray

LEVEL = 0.90
"""Chance with which the true value lies within an interval."""
LEAST_GROUPS = 3
"""Independent stretches below which no interval is given."""


class Estimate(NamedTuple):
    """A figure with its interval; without enough stretches the interval is endless."""

    value: float
    low: float
    high: float
    n: int
    groups: int


def ratio(top: FloatArray, bottom: FloatArray, group: IndexArray) -> Estimate:
    """Sum of ``top`` over sum of ``bottom``, with an interval from how the groups differ.

    Joins of one stint are not independent: whoever is tired is tired at all of them. So whole
    stints are compared: the interval is that of a ratio estimator with the groups' sums as its
    observations, with Student's t of (number of groups − 1) degrees of freedom.

    Parameters
    ----------
    top, bottom : array of shape (n,)
        What was measured, and what it is measured against (planned seconds, or ones for a mean).
    group : array of shape (n,)
        Number of the stint that each belongs to.

    References
    ----------
    Cochran, Sampling Techniques, 3rd ed., 1977, section 6.4 (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> found = ratio(np.array([2.0, 4.0, 3.0]), np.ones(3), np.array([0, 1, 2]))
    >>> round(found.value, 3), round(found.low, 3), round(found.high, 3)
    (3.0, 1.314, 4.686)
    """
    from scipy.special import stdtrit

    _, number = np.unique(group, return_inverse=True)
    tops, bottoms = np.bincount(number, top), np.bincount(number, bottom)
    groups = len(tops)
    total = bottoms.sum()
    value = float(tops.sum() / total) if total > 0 else float("nan")
    if groups < LEAST_GROUPS or not np.isfinite(value):
        return Estimate(value, -float("inf"), float("inf"), len(top), groups)
    left = tops - value * bottoms
    error = float(np.sqrt(groups / (groups - 1) * np.sum(left**2)) / total)
    reach = float(stdtrit(groups - 1, 0.5 + LEVEL / 2)) * error
    return Estimate(value, value - reach, value + reach, len(top), groups)


def mean(values: FloatArray) -> Estimate:
    """Mean of independent values with Student's interval."""
    return ratio(np.asarray(values, float), np.ones(len(values)), np.arange(len(values)))
