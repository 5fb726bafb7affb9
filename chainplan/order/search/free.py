"""Searching for the free order: the quickest found, whether or not a person could follow it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.clock.follow import time_by_modes
from chainplan.order.clock.situation import MOST_SEARCHED
from chainplan.order.search.choose import NEVER_S, score_held_s
from chainplan.order.search.climb import build_held, improve_held
from chainplan.order.search.exact import find_best_of_all

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IntArray
    from chainplan.order.clock.follower import Modes
    from chainplan.order.clock.situation import Settled, Situation
    from chainplan.order.pattern.passes import PlannedPass
    from chainplan.order.search.choose import Effort, Followable


_FEWEST_ROUNDS = 4
_BESIDE_S_K = 0.2
_BY_FINGERS = 1.05


def there_and_back(passes: Sequence[PlannedPass]) -> IntArray:
    """Run every other pass the other way: less travel, but the place is easily lost at the turn."""
    return np.concatenate(
        [item.joins[::-1] if number % 2 else item.joins for number, item in enumerate(passes)]
    ).astype(np.int32)


def find_free(
    situation: Situation,
    chosen: Followable,
    known: Sequence[Settled],
    bound_s: float,
    effort: Effort,
) -> tuple[Settled, bool]:
    """Best order found without asking whether a person could follow it.

    Returns
    -------
    Settled, bool
        The order, and whether it is proved best among orders that weld each join as soon as the
        limits allow.
    """
    best = min(known, key=lambda settled: (not settled.feasible, settled.bench_s))
    if not best.feasible:
        return best, False
    if best.bench_s <= bound_s * (1 + 1e-9) + 1e-6:
        return best, True
    if situation.work.joins > MOST_SEARCHED:
        best = _find_free_of_many(situation, chosen, best)
        return _improve(situation, best, effort), False
    return _find_free_by_modes(situation, situation.modes, chosen, best, effort)


def _find_free_of_many(situation: Situation, chosen: Followable, best: Settled) -> Settled:
    """Try a few orders that nobody could follow; settle the best if it looks quicker."""
    work, quick = situation.work, situation.quick_modes
    found = [there_and_back(chosen.passes)]
    if chosen.settled.bench_s <= _BY_FINGERS * chosen.unheld_s:
        found.append(build_held(work, quick.bare(), int(best.order[0]), _BESIDE_S_K))
    tries = np.asarray(found)
    timed = time_by_modes(quick.bare(), work, tries, most_s=best.bench_s)
    score_s = np.where(timed.feasible, timed.bench_s, NEVER_S + timed.bench_s)
    if situation.hold is not None:
        score_s = score_held_s(situation, tries, timed.start_s, score_s)
    first = int(np.argmin(score_s))
    if score_s[first] >= best.bench_s:
        return best
    settled = situation.settle(tries[first])
    return settled if settled.feasible and settled.bench_s < best.bench_s else best


def _improve(situation: Situation, start: Settled, effort: Effort, fewest: int = 0) -> Settled:
    """Search near an order; the larger the piece, the fewer rounds, down to the fewest."""
    work, modes = situation.work, situation.modes
    rounds = min(effort.held // (work.joins * modes.rate.shape[1]), effort.rounds)
    order = improve_held(
        work,
        modes,
        situation.quick_modes,
        start.order,
        rounds=max(rounds, fewest),
        batch=effort.batch,
        seed=situation.seed,
    )
    return min([start, situation.settle(order)], key=lambda item: item.bench_s)


def _find_free_by_modes(
    situation: Situation, modes: Modes, chosen: Followable, best: Settled, effort: Effort
) -> tuple[Settled, bool]:
    """Search for the free order of a small piece with every limit in sight, the fingers' too."""
    work = situation.work
    leading = situation.quick_modes
    spread = (0.5, 0.05, 1.0, 0.1, 0.2, 2.0)[: 2 * effort.greedy]
    first = int(best.order[0])
    tries = [there_and_back(chosen.passes)]
    tries += [build_held(work, leading, first, weight) for weight in spread]
    settled = situation.settle_all(np.asarray(tries))
    start = min([best, *settled], key=lambda item: (not item.feasible, item.bench_s))
    start = _improve(situation, start, effort, _FEWEST_ROUNDS)
    if work.joins > effort.exact:
        return start, False
    order, proved = find_best_of_all(work, modes, start.order, most_looks=effort.states)
    return min([start, situation.settle(order)], key=lambda item: item.bench_s), proved
