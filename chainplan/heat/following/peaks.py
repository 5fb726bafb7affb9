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
_EARLIEST, _EARLY_STEP = 0.2, 1.7
"""Thin wire gives its heat to what it touches within milliseconds, so peaks are looked for from a
fifth of the quickest mode's time on, each so many times as late as the one before."""
_CLOSEST = 8
_HALVINGS = 30
_AT_ONCE = 128
"""Intervals that are closed in on, halvings of each (to a billionth of it), and intervals looked
at together. Judgement: the peak is in one of the warmest few; more at once only take memory."""


def highest_between(
    rises: Rises, gap_s: FloatArray, early_s: FloatArray | None = None, early: Rises | None = None
) -> float:
    """Find the highest rise in any of some intervals. [K].

    Parameters
    ----------
    rises : callable
        Rise at some lags after the beginning of some intervals.
    gap_s : array, shape (k,)
        Length of each interval. [s]
    early_s : array, shape (lags,), optional
        Further lags at which a peak is looked for first: soon after each weld, …
    early : callable, optional
        … and the rises of some rows at each of these.

    Notes
    -----
    Of the intervals whose samples come highest, the arc between the neighbours of the highest
    sample is cut down by thirds: within it a node's rise has one peak, sums of few decays apart.
    """
    lags = gap_s[:, None] * SHARES
    every = [
        np.arange(first, min(first + _AT_ONCE, len(gap_s)), dtype=np.int32)
        for first in range(0, len(gap_s), _AT_ONCE)
    ]
    found = np.concatenate([rises(rows, lags[rows]) for rows in every])
    if early is not None and early_s is not None and len(early_s):
        soon = np.broadcast_to(early_s, (len(gap_s), len(early_s)))
        risen = np.concatenate([early(rows, early_s) for rows in every])
        inside = soon < gap_s[:, None]
        lags = np.hstack([lags, np.where(inside, soon, 0.0)])
        found = np.hstack([found, np.where(inside, risen, found[:, :1])])
        order = np.argsort(lags, axis=1, kind="stable")
        lags, found = np.take_along_axis(lags, order, 1), np.take_along_axis(found, order, 1)
    best = found.argmax(axis=1)
    rows = np.argsort(-found.max(axis=1), kind="stable")[:_CLOSEST].astype(np.int32)
    low = lags[rows, np.maximum(best[rows] - 1, 0)]
    high = lags[rows, np.minimum(best[rows] + 1, lags.shape[1] - 1)]
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

    def soon(row: IntArray, lag: FloatArray) -> FloatArray:
        found: FloatArray = weight[row] @ np.exp(-np.outer(modes.rate_per_s, lag))
        return found

    gap_s = np.append(np.diff(times), AFTER_S)
    return highest_between(rises, gap_s, _early_s(modes, gap_s), soon)


def _early_s(modes: Modes, gap_s: FloatArray) -> FloatArray:
    """Lags soon after a weld, the quickest mode being quicker than the first share tells. [s]."""
    first_s = _EARLIEST / max(float(modes.rate_per_s.max()), 1e-12)
    until_s = float(SHARES[1]) * float(gap_s[:-1].max(initial=0.0))
    if first_s >= until_s:
        return np.zeros(0)
    many = int(np.ceil(np.log(until_s / first_s) / np.log(_EARLY_STEP)))
    lags: FloatArray = np.asarray(first_s * _EARLY_STEP ** np.arange(many), dtype=np.float64)
    return lags
