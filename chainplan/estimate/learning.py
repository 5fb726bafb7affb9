"""Learning curves: the same work gets quicker each time the number done doubles."""

from __future__ import annotations

import math


def learning_exponent(percent: float) -> float:
    """Exponent of a learning curve, ``log2(percent/100)``; 0 without learning, else negative."""
    return math.log2(percent / 100)


def mean_share(copies: int, percent: float) -> float:
    """Mean time a copy as a share of the first copy's, by Wright's cumulative-average curve.

    Examples
    --------
    >>> [round(100 * mean_share(n, 80), 2) for n in (1, 2, 4, 8, 16)]
    [100.0, 80.0, 64.0, 51.2, 40.96]
    """
    return float(copies ** learning_exponent(percent)) if copies > 0 else 1.0


def unit_share(copy: int, percent: float) -> float:
    """Time of one copy as a share of the first copy's, by Crawford's unit curve.

    The two curves of one percentage differ: do not mix them. The estimates use Wright's.

    Examples
    --------
    >>> round(10 * sum(unit_share(n, 80) for n in range(1, 21)), 3)
    104.849
    """
    return float(copy ** learning_exponent(percent))
