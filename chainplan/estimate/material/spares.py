"""Spare rings, so that the chance of running short is below a stated risk."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from chainplan.errors import InputError
from chainplan.estimate.tuning import tuning


def chance_of_running_short(rings: int, spares: int, bad_share: float) -> float:
    """Chance that more than ``spares`` of ``rings + spares`` rings are bad (no unit).

    Notes
    -----
    ``P(X > s)`` with X binomial of n + s rings. Only the numbers near the mean are summed, each
    from the ratio to the one before, in logarithms: the work grows with the root of the rings.

    Examples
    --------
    >>> round(1 - chance_of_running_short(500, 22, 0.03), 4)
    0.9542
    """
    if bad_share <= 0:
        return 0.0
    made = rings + spares
    mean = made * bad_share
    spread = tuning().binomial_width * math.sqrt(mean * (1 - bad_share)) + 30
    first, last = max(0, math.floor(mean - spread)), min(made, math.ceil(mean + spread))
    k = np.arange(first, last)
    steps = np.log((made - k) / (k + 1)) + math.log(bad_share) - math.log1p(-bad_share)
    logs = np.concatenate(([0.0], np.cumsum(steps)))
    weight = np.exp(logs - logs.max())
    short = weight[max(spares + 1 - first, 0) :]
    return float(short.sum() / weight.sum())


@lru_cache(maxsize=4096)
def spare_rings(rings: int, bad_share: float, risk: float) -> int:
    """Fewest spare rings whose chance of not being enough is at most the risk.

    Parameters
    ----------
    rings : int
        Good rings that are needed.
    bad_share : float
        Share of the rings that turn out bad. [-]
    risk : float
        Accepted chance of running short. [-]

    Raises
    ------
    InputError
        If the share is not below 1 or the risk is not above 0.

    Examples
    --------
    >>> spare_rings(1000, 0.05, 0.05), spare_rings(100, 0.0, 0.05)
    (65, 0)
    """
    if not 0 <= bad_share < 1:
        message = f"share of bad rings is {bad_share!r}; it must be from 0 to below 1"
        raise InputError(message)
    if not 0 < risk < 1:
        message = f"accepted chance of running short is {risk!r}; it must be between 0 and 1"
        raise InputError(message)
    if rings <= 0 or bad_share == 0:
        return 0
    low, high = -1, max(1, math.ceil(rings * bad_share / (1 - bad_share)))
    step = max(1, math.ceil(math.sqrt(high)))
    while chance_of_running_short(rings, high, bad_share) > risk:
        low, high, step = high, high + step, 2 * step
    while high - low > 1:
        middle = (low + high) // 2
        if chance_of_running_short(rings, middle, bad_share) > risk:
            low = middle
        else:
            high = middle
    return high
