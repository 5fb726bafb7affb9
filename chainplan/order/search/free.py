"""Searching for the free order: the quickest found, whether or not a person could follow it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.clock.exact import ExactClock
from chainplan.order.clock.follow import time_by_modes
from chainplan.order.clock.promise import HeldWork, score_held_s
from chainplan.order.clock.protocol import NEVER_S, settle
from chainplan.order.search.climb import build_held, improve_held
from chainplan.order.search.exact import find_best_of_all

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IntArray
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.pattern.pattern import PlannedPass
    from chainplan.order.search.choose import Followable
    from chainplan.order.tuning import Effort


_REACHED = 1e-9
"""An order this close to its bound, as a share, stands on it: rounding only."""


def there_and_back(passes: Sequence[PlannedPass]) -> IntArray:
    """Run every other pass the other way: less travel, but the place is easily lost at the turn."""
    return np.concatenate(
        [item.joins[::-1] if number % 2 else item.joins for number, item in enumerate(passes)]
    ).astype(np.int32)


def find_free(
    clock: Clock,
    chosen: Followable,
    known: Sequence[Settled],
    bound_s: float,
    effort: Effort,
) -> tuple[Settled, bool]:
    """Best order found without asking whether a person could follow it.

    Searched for only where the clock goes weld by weld; otherwise the best of the known ones.

    Returns
    -------
    Settled, bool
        The order, and whether it is proved best among orders that weld each join as soon as the
        limits allow.
    """
    best = min(known, key=lambda settled: (not settled.feasible, settled.bench_s))
    if not best.feasible:
        return best, False
    if best.bench_s <= bound_s * (1 + _REACHED) + 1e-6:
        return best, True
    if not isinstance(clock, ExactClock):
        return best, False
    if clock.situation.work.joins > clock.situation.tuning.search.most_searched:
        best = _find_free_of_many(clock, chosen, best)
        return _improve(clock, best, effort), False
    return _find_free_of_few(clock, chosen, best, bound_s, effort)


def _find_free_of_many(clock: ExactClock, chosen: Followable, best: Settled) -> Settled:
    """Try a few orders that nobody could follow; settle the best if it looks quicker."""
    situation, quick = clock.situation, clock.quick
    work, tuning = situation.work, situation.tuning.search
    found = [there_and_back(chosen.passes)]
    if chosen.settled.bench_s <= tuning.by_fingers * chosen.unheld_s:
        first, weight = int(best.order[0]), tuning.beside_s_k
        found.append(build_held(work, quick.bare(), first, weight, tuning))
    tries = np.asarray(found)
    timed = time_by_modes(quick.bare(), work, tries, most_s=best.bench_s)
    score_s = np.where(timed.feasible, timed.bench_s, NEVER_S + timed.bench_s)
    if situation.held:
        limit_c = situation.limits.kept_finger_c
        by = HeldWork(quick, work, limit_c, tuning)
        score_s = score_held_s(by, tries, (timed.start_s, score_s))
    first = int(np.argmin(score_s))
    if score_s[first] >= best.bench_s:
        return best
    settled = settle(clock, tries[first])
    return settled if settled.feasible and settled.bench_s < best.bench_s else best


def _improve(clock: ExactClock, start: Settled, effort: Effort, fewest: int = 0) -> Settled:
    """Search near an order; the larger the piece, the fewer rounds, down to the fewest."""
    work, follower = clock.situation.work, clock.follower
    rounds = min(effort.held // (work.joins * follower.rate.shape[1]), effort.rounds)
    order = improve_held(
        work,
        follower,
        clock.quick,
        start.order,
        rounds=max(rounds, fewest),
        batch=effort.batch,
        seed=clock.situation.seed,
        tuning=clock.situation.tuning.search,
    )
    return min([start, settle(clock, order)], key=lambda item: item.bench_s)


def _find_free_of_few(
    clock: ExactClock, chosen: Followable, best: Settled, bound_s: float, effort: Effort
) -> tuple[Settled, bool]:
    """Search for the free order of a small piece with every limit in sight, the fingers' too."""
    work, tuning = clock.situation.work, clock.situation.tuning.search
    first = int(best.order[0])
    tries = [there_and_back(chosen.passes)]
    weights = tuning.greedy_s_k[: 2 * effort.greedy]
    tries += [build_held(work, clock.quick, first, weight, tuning) for weight in weights]
    settled = clock.settle_all(np.asarray(tries))
    start = min([best, *settled], key=lambda item: (not item.feasible, item.bench_s))
    if work.joins > max(tuning.few_best, effort.exact):
        start = _improve(clock, start, effort, tuning.fewest_rounds)
        far = start.bench_s > (1 + tuning.worth_restarts) * bound_s
        few = work.joins <= tuning.few_joins
        return (_start_anew(clock, start) if far and few else start), False
    looks = effort.states if work.joins <= effort.exact else 0
    order, proved = find_best_of_all(
        work, clock.follower, start.order, most_looks=looks, tuning=tuning
    )
    return min([start, settle(clock, order)], key=lambda item: item.bench_s), proved


def _start_anew(clock: ExactClock, best: Settled) -> Settled:
    """Search near orders drawn at random too: a search near one alone gets stuck beside it."""
    situation, tuning = clock.situation, clock.situation.tuning.search
    work, rng = situation.work, np.random.default_rng(situation.seed)
    for number in range(tuning.restarts):
        order = improve_held(
            work,
            clock.follower,
            clock.quick,
            rng.permutation(work.joins).astype(np.int32),
            rounds=tuning.restart_rounds,
            batch=tuning.restart_batch,
            seed=situation.seed + number,
            tuning=tuning,
        )
        best = min([best, settle(clock, order)], key=lambda item: (not item.feasible, item.bench_s))
    return best
