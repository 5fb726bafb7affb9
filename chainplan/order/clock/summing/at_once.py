"""Waits of very large pieces: before all joins that are too warm, or as an even, slower pace."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IntArray
    from chainplan.order.clock.protocol import Settled
    from chainplan.order.clock.summing.sums import Sums


def place_waits(sums: Sums, order: IntArray, room_s: float) -> tuple[FloatArray, bool]:
    """Put waits before the joins that are too warm, all at once, again until none is.

    Given up when they come to more than ``room_s``.
    """
    gaps = sums.situation.work.gaps_s(order)
    wait = np.zeros(order.shape[0])
    every = np.arange(order.shape[0], dtype=np.int32)
    for _ in range(sums.tuning.wait_rounds):
        start = np.cumsum(gaps + wait)
        hot = sums.too_warm(order, start, every)
        if hot.size == 0:
            return wait, True
        for later in sums.tuning.waits_s:
            still = sums.too_warm(order, start, hot, later)
            wait[np.setdiff1d(hot, still)] += later
            hot = still
            if hot.size == 0:
                break
        wait[hot] += sums.tuning.waits_s[-1]
        if wait.sum() > room_s:
            return wait, False
    return wait, sums.too_warm(order, np.cumsum(gaps + wait), every).size == 0


def even_pace_s(sums: Sums, order: IntArray, most_s: float) -> float:
    """Smallest even wait before every join that keeps all below the limit, by bisection. [s].

    Longer than ``tuning.slowest_s`` if there is none, or none up to ``most_s``.
    """
    gaps = sums.situation.work.gaps_s(order)
    every = np.arange(order.shape[0], dtype=np.int32)
    hot = every[:0]

    def fits(wait_s: float) -> bool:
        nonlocal hot
        start = np.cumsum(gaps + wait_s)
        if sums.too_warm(order, start, hot).size:  # those that were too warm before
            return False
        hot = sums.too_warm(order, start, every)
        return hot.size == 0

    low, high = 0.0, sums.tuning.waits_s[0]
    while not fits(high):
        low, high = high, 2 * high
        if low > most_s or high > sums.tuning.slowest_s:
            return 2 * sums.tuning.slowest_s
    for _ in range(sums.tuning.halvings):
        middle = (low + high) / 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high


def spare_parts(sums: Sums, found: Settled, most_s: float) -> Settled:
    """Wait before every join next to a part until the part keeps its limit."""
    best = found
    for part in sums.watched:
        near = sums.near_steps(sums.situation.heat.bad_corners[0], part.node, best.order)
        for later in (0.0, *sums.tuning.waits_s):
            wait = best.wait_s.copy()
            wait[near] += later
            trial = sums.timed(best.order, wait, feasible=True, even_pace=best.even_pace)
            if trial.bench_s > most_s:
                return replace(best, feasible=False)
            if sums.over_part_k(trial.order, trial.start_s, part) <= 0:
                best = trial
                break
        else:
            return replace(best, feasible=False)
    return best


def slow_down(sums: Sums, bare: Settled, most_s: float) -> Settled:
    """Weld at a slower even pace until the fingers find cool places, and no ring is too warm."""
    every = np.arange(bare.order.shape[0], dtype=np.int32)
    wait_s = 0.0
    while wait_s <= sums.tuning.slowest_s:
        trial = bare
        if wait_s:
            wait = bare.wait_s + wait_s
            trial = sums.timed(bare.order, wait, feasible=True, even_pace=bare.even_pace)
        if trial.bench_s > most_s:
            return replace(bare, feasible=False)
        cool = all(
            sums.cool_to_hold(trial.order, trial.start_s, most)
            for most in (sums.tuning.held_steps, None)
        )
        if cool and (not wait_s or not sums.too_warm(trial.order, trial.start_s, every).size):
            return trial
        wait_s = max(1.0, float(np.ceil(sums.tuning.slower * wait_s)))
    return replace(bare, feasible=False)
