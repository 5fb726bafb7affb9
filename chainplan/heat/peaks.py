"""The highest of a temperature between the moments at which it was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.heat.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.arrays import FloatArray


def raise_peak(
    warm_at: Callable[[FloatArray], FloatArray], times_s: FloatArray, warm: FloatArray
) -> float:
    """Find the highest value of a smooth curve that was read at some moments.

    Around the highest readings it is read again between their neighbours, ever closer. A part has
    no weld of its own, so its temperature is smooth; it could only be higher elsewhere if it rose
    and fell between two readings that are both below the highest ones.

    Parameters
    ----------
    warm_at : callable
        The curve at any moments.
    times_s, warm : array, shape (k,)
        Moments and readings. [s]

    Returns
    -------
    float
        The highest value, never below the highest reading.
    """
    order = np.argsort(times_s, kind="stable")
    times_s, warm = times_s[order], warm[order]
    highest = float(warm.max())
    share = np.linspace(0.0, 1.0, tuning().closer + 2)[1:-1]
    for _ in range(tuning().closer_rounds):
        best = np.sort(np.argsort(-warm, kind="stable")[: tuning().most_raised])
        low = times_s[np.maximum(best - 1, 0)]
        high = times_s[np.minimum(best + 1, len(times_s) - 1)]
        between = (low[:, None] + (high - low)[:, None] * share).ravel()
        times_s = np.unique(np.concatenate([low, high, times_s[best], between]))
        warm = warm_at(times_s)
        highest = max(highest, float(warm.max()))
    return highest
