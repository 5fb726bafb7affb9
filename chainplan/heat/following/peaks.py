"""True peaks of single nodes between welds: looked for in every interval, then closed in on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.thermal.heat import Modes

    Rises = Callable[[IntArray, FloatArray], FloatArray]
    """Rise at lags, shape (rows, lags), after the welds of some rows."""


SHARES = np.array([0.0, 0.02, 0.06, 0.12, 0.2, 0.32, 0.48, 0.7, 1.0])
"""Shares of an interval at which a peak is looked for first: a rise is steepest at its start."""
AFTER_S = 900.0
"""How long after the last weld a peak is looked for. [s]."""
_CLOSEST = 8
_HALVINGS = 30
_AT_ONCE = 128
"""Intervals that are closed in on, halvings of each (to a billionth of it), and intervals looked
at together. Judgement: the peak is in one of the warmest few; more at once only take memory."""


def highest_between(rises: Rises, gap_s: FloatArray) -> float:
    """Find the highest rise in any of some intervals. [K].

    Parameters
    ----------
    rises : callable
        Rise at some lags after the beginning of some intervals.
    gap_s : array, shape (k,)
        Length of each interval. [s]

    Notes
    -----
    Of the intervals whose samples come highest, the arc between the neighbours of the highest
    sample is cut down by thirds: within it a node's rise has one peak, sums of few decays apart.
    """
    lags = gap_s[:, None] * SHARES
    found = np.concatenate(
        [
            rises(
                np.arange(first, min(first + _AT_ONCE, len(gap_s)), dtype=np.int32),
                lags[first : first + _AT_ONCE],
            )
            for first in range(0, len(gap_s), _AT_ONCE)
        ]
    )
    best = found.argmax(axis=1)
    rows = np.argsort(-found.max(axis=1), kind="stable")[:_CLOSEST].astype(np.int32)
    low = lags[rows, np.maximum(best[rows] - 1, 0)]
    high = lags[rows, np.minimum(best[rows] + 1, len(SHARES) - 1)]
    for _ in range(_HALVINGS):
        third = (high - low) / 3
        value = rises(rows, np.stack([low + third, high - third], axis=1))
        falls = value[:, 0] >= value[:, 1]
        low, high = np.where(falls, low, low + third), np.where(falls, high - third, high)
    top = rises(rows, ((low + high) / 2)[:, None])
    return float(max(top.max(initial=0.0), found.max(initial=0.0)))


def highest_by_modes(modes: Modes, node: int, times: FloatArray, after: FloatArray) -> float:
    """Find the highest rise of one node over a run of welds. [K].

    Parameters
    ----------
    modes : Modes
        The network's own.
    node : int
        Which node.
    times : array, shape (k,)
        When the welds fall, ascending. [s]
    after : array, shape (k, modes)
        Modal states just after them.
    """
    weight = after * (modes.vectors[node] / modes.root_capacity[node])

    def rises(row: IntArray, lag: FloatArray) -> FloatArray:
        decay = np.exp(-lag[..., None] * modes.rate_per_s)
        found: FloatArray = np.einsum("rlm,rm->rl", decay, weight[row])
        return found

    return highest_between(rises, np.append(np.diff(times), AFTER_S))
