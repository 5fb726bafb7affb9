"""The free order: the quickest found without asking whether a person could follow it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.timing import time_orders

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.order.timing import Caps
    from chainplan.order.work import Work

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]

_NEAR = 24


def build_greedily(work: Work, caps: Sequence[Caps], first: int, weight_s_k: float) -> IntArray:
    """Weld next, among the nearest joins left, the one that is soonest ready and coolest.

    Parameters
    ----------
    work, caps
        Joins and limits.
    first : int
        Join to start with.
    weight_s_k : float
        Seconds that one kelvin below the limit is worth. [s/K]

    Returns
    -------
    array, shape (m,)
        An order.
    """
    joins = work.joins
    left = np.ones(joins, dtype=bool)
    order = np.zeros(joins, dtype=np.int32)
    start = np.zeros(joins)
    order[0], start[0] = first, work.handle_s
    left[first] = False
    window = max((cap.field.window_s for cap in caps), default=0.0)
    for step in range(1, joins):
        last = order[step - 1]
        free = np.flatnonzero(left).astype(np.int32)
        seconds = work.step_s(np.full(free.shape[0], last, dtype=np.int32), free)
        if free.shape[0] > _NEAR:
            pick = np.argpartition(seconds, _NEAR)[:_NEAR]
            free, seconds = free[pick], seconds[pick]
        at = start[step - 1] + work.after_s[last] + work.handle_s + seconds
        low = int(np.searchsorted(start[:step], float(at.min()) - window))
        cost = seconds.copy()
        source = order[low:step]
        lag = at[:, None] - start[None, low:step]
        for cap in caps:
            rise = cap.field.rise_k(work.ring[free][:, None], source[None, :], lag).sum(axis=1)
            over = np.maximum(rise - cap.join_k[free], 0.0)
            cost = np.maximum(cost, seconds + weight_s_k * rise + 3.0 * over)
        chosen = int(np.lexsort((free, cost))[0])
        order[step], start[step] = free[chosen], at[chosen]
        left[free[chosen]] = False
    return order


def _neighbours(order: IntArray, count: int, rng: np.random.Generator) -> IntArray:
    """Orders one move away: two joins swapped, one moved, a stretch turned round."""
    joins = order.shape[0]
    out = np.tile(order, (count, 1))
    kind = rng.integers(0, 3, count)
    one = rng.integers(0, joins, count)
    near = np.clip(one + rng.integers(-25, 26, count), 0, joins - 1)
    other = np.where(rng.random(count) < 0.35, rng.integers(0, joins, count), near)
    for row in range(count):
        low, high = sorted((int(one[row]), int(other[row])))
        if kind[row] == 0:
            out[row, [low, high]] = out[row, [high, low]]
        elif kind[row] == 1:
            moved = out[row, one[row]]
            out[row] = np.insert(np.delete(out[row], one[row]), other[row], moved)
        else:
            out[row, low : high + 1] = out[row, low : high + 1][::-1]
    return out


def improve(
    work: Work,
    caps: Sequence[Caps],
    order: IntArray,
    *,
    rounds: int,
    batch: int,
    seed: int,
) -> IntArray:
    """Climb downhill in bench time, waits included: in each round the best of a batch of moves.

    All moves of a batch are timed side by side. Same seed, same result.
    """
    rng = np.random.default_rng(seed)
    if order.shape[0] < 3:
        return order
    best = float(time_orders(work, caps, order).bench_s[0])
    for _ in range(rounds):
        tries = _neighbours(order, batch, rng)
        timed = time_orders(work, caps, tries)
        seconds = np.where(timed.feasible, timed.bench_s, np.inf)
        winner = int(np.argmin(seconds))
        if seconds[winner] < best - 1e-9:
            order, best = tries[winner], float(seconds[winner])
    return order
