"""The free order: the quickest found without asking whether a person could follow it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.clock.follow import list_beginnings, time_by_modes
from chainplan.order.clock.protocol import NEVER_S
from chainplan.order.clock.waits import least_wait_s
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    from chainplan.arrays import IntArray
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.work import HandWork
    from chainplan.order.tuning import SearchTuning


_SOONER_S = 1e-9
"""Less is rounding, not time won."""


def _neighbours(
    order: IntArray,
    count: int,
    rng: np.random.Generator,
    waiting: IntArray,
    tuning: SearchTuning,
) -> IntArray:
    """Orders one move away: two joins swapped, one moved, a stretch turned round.

    Half of the moves take hold of a step that waits, if such steps are named.
    """
    joins = order.shape[0]
    out = np.tile(order, (count, 1))
    kind = rng.integers(0, 3, count)
    one = rng.integers(0, joins, count)
    if waiting.size:
        beside = rng.random(count) < tuning.beside_waits
        one = np.where(beside, waiting[rng.integers(0, waiting.size, count)], one)
    near = np.clip(
        one + rng.integers(-tuning.move_reach, tuning.move_reach + 1, count), 0, joins - 1
    )
    other = np.where(rng.random(count) < tuning.far_moves, rng.integers(0, joins, count), near)
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


def build_held(
    work: HandWork,
    modes: Follower,
    first: int,
    weight_s_k: float,
    tuning: SearchTuning = USUAL.search,
) -> IntArray:
    """Weld next, among the nearest joins left, the soonest and coolest allowed, fingers included.

    ``weight_s_k``: seconds that one kelvin less before the weld is worth.
    """
    joins = work.joins
    order = np.zeros(joins, dtype=np.int32)
    left = np.ones(joins, dtype=bool)
    order[0], left[first] = first, False
    state = modes.cold(1) + modes.weld[order[:1]]
    for step in range(1, joins):
        last = order[step - 1]
        free = np.flatnonzero(left).astype(np.int32)
        seconds = work.step_s(np.full(free.shape[0], last, dtype=np.int32), free)
        if free.shape[0] > tuning.near:
            pick = np.argsort(seconds, kind="stable")[: tuning.near]
            free, seconds = free[pick], seconds[pick]
        lag = seconds + work.after_s[last] + work.handle_s
        many = np.repeat(state, free.shape[0], axis=0)
        ready = modes.allows(many, free, lag)
        wait = np.where(ready, 0.0, np.inf)
        if not ready.any():
            some = slice(None, tuning.most_asked)
            wait[some] = least_wait_s(modes, many[some], free[some], lag[some])
        warm = modes.own_k(modes.fade(many, lag), free).max(axis=1)
        cost = np.where(np.isfinite(wait), seconds + wait, NEVER_S) + weight_s_k * warm
        best = int(np.lexsort((free, cost))[0])
        late = wait[best] if np.isfinite(wait[best]) else 0.0
        order[step], left[free[best]] = free[best], False
        state = modes.fade(state, lag[best : best + 1] + late) + modes.weld[free[best]]
    return order


def improve_held(
    work: HandWork,
    modes: Follower,
    leading: Follower,
    order: IntArray,
    *,
    rounds: int,
    batch: int,
    seed: int,
    tuning: SearchTuning = USUAL.search,
) -> IntArray:
    """Climb downhill in bench time with every limit counted, the fingers' too.

    Moves are timed side by side in the leading corner, from the first step that a round may
    change; the best of a round is then timed in all corners. Same seed, same result.
    """
    joins = order.shape[0]
    if joins < 3 or rounds < 1:
        return order
    rng = np.random.default_rng(seed)
    timed = time_by_modes(modes, work, order)
    best_s = float(timed.bench_s[0]) if timed.feasible[0] else np.inf
    begun = list_beginnings(leading, work, order)
    for _ in range(rounds):
        first = int(tuning.most_late * rng.random() * (joins - 1))
        waiting = np.flatnonzero(timed.wait_s[0, first:]).astype(np.int32)
        tails = _neighbours(order[first:], batch, rng, waiting, tuning)
        tries = np.concatenate([np.tile(order[:first], (batch, 1)), tails], axis=1)
        quick = time_by_modes(leading, work, tries, begun[first], most_s=best_s)
        seconds = np.where(quick.feasible, quick.bench_s, np.inf)
        for row in np.argsort(seconds, kind="stable")[:2].tolist():
            if seconds[row] >= best_s - _SOONER_S:
                break
            full = time_by_modes(modes, work, tries[row])
            if full.feasible[0] and full.bench_s[0] < best_s - _SOONER_S:
                order, timed, best_s = tries[row], full, float(full.bench_s[0])
                begun = list_beginnings(leading, work, order)
                break
    return order
