"""What many orders promise: timed in one corner, to rank them before they are settled in all."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from chainplan.order.clock.follow import grip_temperatures_c, time_by_modes
from chainplan.order.clock.protocol import NEVER_S

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IntArray
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.work import HandWork
    from chainplan.order.tuning import SearchTuning


def time_bare(
    quick: Follower, work: HandWork, orders: IntArray, tuning: SearchTuning
) -> tuple[FloatArray, FloatArray]:
    """Time orders without the fingers: start and bench time. [s]."""
    enough_s = _enough_s(quick, work, orders, tuning)
    bare = time_by_modes(quick.bare(), work, orders, most_s=enough_s)
    return bare.start_s, np.where(bare.feasible, bare.bench_s, NEVER_S + bare.bench_s)


class HeldWork(NamedTuple):
    """What orders are timed with the fingers by; ``finger_c`` is their limit."""

    quick: Follower
    work: HandWork
    finger_c: float
    tuning: SearchTuning


def time_held(by: HeldWork, orders: IntArray, bare: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Time orders with the fingers. [s].

    Of pieces with few joins every pattern is timed with the fingers, of others those that a sample
    of the places to hold finds promising. ``bare``: start and bench time without them.
    """
    if by.work.joins > by.tuning.most_searched:
        return score_held_s(by, orders, bare)
    return _held_s(by.quick, by.work, orders, bare[1], by.tuning)


def _held_s(
    quick: Follower, work: HandWork, orders: IntArray, bare_s: FloatArray, tuning: SearchTuning
) -> FloatArray:
    """Time with the fingers, in the leading corner; those far from the best are given up."""
    held_s: FloatArray = NEVER_S + bare_s
    ranked = np.argsort(bare_s, kind="stable")
    best_s = np.inf
    for some in (ranked[: tuning.at_once], ranked[tuning.at_once :]):
        if some.size:
            most_s = tuning.worth_ranking * best_s
            timed = time_by_modes(quick, work, orders[some], most_s=most_s)
            held_s[some[timed.feasible]] = timed.bench_s[timed.feasible]
            best_s = float(held_s.min()) if timed.feasible.any() else np.inf
    return held_s


def _enough_s(quick: Follower, work: HandWork, orders: IntArray, tuning: SearchTuning) -> float:
    """Bench time beyond which a pattern is not worth timing to its end.

    The best of a few patterns, waits included, with room for what the fingers may add.
    """
    bare = quick.bare()
    plain_s = work.gaps_s(orders).sum(axis=1)
    few = np.argsort(plain_s, kind="stable")[:: max(1, orders.shape[0] // tuning.at_once)]
    most_s = tuning.rise * float(plain_s.min(initial=np.inf))
    for _ in range(tuning.most_rises):
        some = time_by_modes(bare, work, orders[few], most_s=most_s)
        if some.feasible.any():
            return tuning.room * float(np.min(some.bench_s, initial=np.inf, where=some.feasible))
        most_s *= tuning.rise
    return np.inf


def score_held_s(by: HeldWork, orders: IntArray, bare: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Add to times what the fingers will roughly cost; looked at where it may matter.

    ``bare``: start and bench time without the fingers.
    """
    work, tuning = by.work, by.tuning
    start_s, least_s = bare
    score: FloatArray = least_s.copy()
    thinned = max(1, work.joins // tuning.most_sampled)
    sample = np.arange(thinned // 2, work.joins, thinned, dtype=np.int32)
    ranked = np.argsort(least_s, kind="stable")
    clean_s = np.inf
    for begin in range(0, ranked.shape[0], tuning.at_once):
        some = ranked[begin : begin + tuning.at_once]
        some = some[least_s[some] <= clean_s]
        if some.size == 0:
            break
        grip = grip_temperatures_c(by.quick, work, orders[some], start_s[some], sample)
        over = np.maximum(grip - by.finger_c, 0.0).sum(axis=1)
        score[some] += tuning.seconds_a_kelvin * thinned * over
        clean_s = min(clean_s, float(score[some].min()))
    return score
