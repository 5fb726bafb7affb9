"""Choosing the order to follow and the free order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.exact import find_best_of_all
from chainplan.order.hold import grip_temperatures_c
from chainplan.order.patterns import Pattern, lay_out_passes, list_patterns, order_of
from chainplan.order.search import build_greedily, improve
from chainplan.order.timing import time_orders

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.order.patterns import PlannedPass
    from chainplan.order.situation import Settled, Situation

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]

NEARLY = 0.005
"""Bench times closer than this share count as equal; then the cooler order wins."""
MOST_SEARCHED = 150
_MOST_ALONE = 8
_EXPLAINED = 0.02
_MANY = 250
_MOST_SAMPLED = 80
_SECONDS_A_KELVIN = 0.5
"""Only ranks candidates: what one step one kelvin too warm to hold costs in the end, roughly."""


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How much is tried. Counts, not seconds, so that the same input gives the same plan."""

    patterns: int
    finalists: int
    rounds: int
    batch: int
    states: int
    exact: int  # up to so many joins all orders are looked at
    greedy: int


EFFORTS = {
    "usual": Effort(patterns=40, finalists=3, rounds=8, batch=32, states=3000, exact=7, greedy=2),
    "thorough": Effort(
        patterns=80, finalists=10, rounds=250, batch=64, states=40_000, exact=12, greedy=6
    ),
}


@dataclass(frozen=True, kw_only=True)
class Followable:
    """A pattern laid out and timed."""

    pattern: Pattern
    passes: tuple[PlannedPass, ...]
    settled: Settled
    unheld_s: float  # the quickest pattern of all if no fingers held the piece


def _near_parts(situation: Situation) -> list[int]:
    """Find joins whose own weld takes up a good share of what a part can bear, worst first."""
    share = np.zeros(situation.work.joins)
    for cap in situation.caps(leading=True):
        for node, spare in zip(cap.part_node.tolist(), cap.part_k.tolist(), strict=True):
            if spare > 0:
                share = np.maximum(share, cap.field.peaks_k(node) / spare)
    near = np.flatnonzero(share > 0.2)
    worst: list[int] = near[np.argsort(-share[near], kind="stable")][:_MOST_ALONE].tolist()
    return worst


def choose_followable(situation: Situation, effort: Effort) -> Followable:
    """Find the quickest pattern within the limits; among nearly equal ones the coolest.

    All patterns are timed side by side without the fingers. Those that then leave the fingers no
    cool place are put back by how much and how often they do; the foremost are timed in full until
    no other pattern can be quicker.
    """
    work, grid = situation.work, situation.grid
    window = (situation.limits.hold_from_mm, situation.limits.hold_to_mm)
    if situation.hold is None:
        window = (np.inf, np.inf)
    patterns = list_patterns(
        grid,
        work.joins,
        window,
        effort.patterns,
        backward=bool(situation.heat.parts) and work.joins <= _MANY,
        jumps=work.joins <= _MANY,
    )
    laid = [(pattern, lay_out_passes(grid, pattern, work)) for pattern in patterns]
    alone = _near_parts(situation)
    if alone:
        laid += [
            (pattern, lay_out_passes(grid, pattern, work, alone))
            for pattern in patterns
            if pattern.stride * pattern.classes >= 2
        ]
    orders = np.asarray([order_of(passes) for _, passes in laid], dtype=np.int32)
    timed = time_orders(work, situation.caps(leading=work.joins > _MANY), orders)
    least_s = np.where(timed.feasible, timed.bench_s, 1e9 + timed.bench_s)
    finalists: list[Followable] = []
    ranked, score_s = _rank(situation, orders, timed.start_s, least_s)
    for index in ranked:
        best = min((f.settled.bench_s for f in finalists if f.settled.feasible), default=np.inf)
        if score_s[index] > best * (1 + NEARLY):
            break
        if len(finalists) >= effort.finalists:
            break
        pattern, passes = laid[index]
        settled = situation.settle(orders[index])
        finalists.append(
            Followable(
                pattern=pattern,
                passes=tuple(passes),
                settled=settled,
                unheld_s=float(least_s.min()),
            )
        )
    best = min(f.settled.bench_s for f in finalists)
    close = [f for f in finalists if f.settled.bench_s <= best * (1 + NEARLY)]
    if len(close) == 1:
        return close[0]
    warm = [situation.warmest_c(f.settled.order, f.settled.start_s) for f in close]
    return close[int(np.argmin(np.round(warm)))]


def _rank(
    situation: Situation, orders: IntArray, start_s: FloatArray, least_s: FloatArray
) -> tuple[list[int], FloatArray]:
    """Order by time and by what the fingers will roughly add to it, the most promising first."""
    ranked: list[int] = np.argsort(least_s, kind="stable").tolist()
    if situation.hold is None:
        return ranked, least_s
    score = least_s.copy()
    clean_s = np.inf
    thinned = max(1, situation.work.joins // _MOST_SAMPLED)
    sample = np.arange(thinned // 2, situation.work.joins, thinned, dtype=np.int32)
    for index in ranked:
        if least_s[index] > clean_s:
            break
        grip = grip_temperatures_c(
            situation.hold,
            situation.work,
            orders[index],
            start_s[index],
            steps=sample,
            corners=[situation.leading],
        )
        over = thinned * float(np.maximum(grip - situation.hold.limit_c, 0.0).sum())
        score[index] += _SECONDS_A_KELVIN * over
        clean_s = min(clean_s, score[index])
    rescored: list[int] = np.argsort(score, kind="stable").tolist()
    return rescored, score


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
    work, caps = situation.work, situation.caps(leading=situation.work.joins > _MANY)
    tries: list[IntArray] = []
    proved = False
    if work.joins <= effort.exact:
        order, proved = find_best_of_all(work, caps, best.order, most_states=effort.states)
        tries.append(order)
    if best.bench_s > bound_s * (1 + _EXPLAINED):
        tries.append(there_and_back(chosen.passes))
        spread = (0.0, 0.2, 0.05, 0.5, 0.1, 1.0)[: effort.greedy]
        first = int(best.order[0])
        tries += [build_greedily(work, caps, first, weight) for weight in spread]
    if not tries:
        return best, False
    timed = time_orders(work, caps, np.asarray(tries))
    least_s = np.where(timed.feasible, timed.bench_s, np.inf)
    many = work.joins > MOST_SEARCHED
    held = situation.hold is not None and many
    ranked, score_s = (
        _rank(situation, np.asarray(tries), timed.start_s, least_s)
        if held
        else (np.argsort(least_s, kind="stable").tolist(), least_s)
    )
    start = tries[ranked[0]] if score_s[ranked[0]] < best.bench_s else best.order
    if held and start is best.order:
        return best, False
    by_fingers = situation.hold is not None and chosen.settled.bench_s > 1.05 * chosen.unheld_s
    if not proved and not held and not by_fingers:
        rounds = max(effort.rounds // 8, 1) if many else effort.rounds
        batch = effort.batch // 2 if many else effort.batch
        start = improve(work, caps, start, rounds=rounds, batch=batch, seed=situation.seed)
    settled = situation.settle(start)
    if settled.feasible and settled.bench_s < best.bench_s:
        return settled, proved and situation.hold is None
    return best, proved and situation.hold is None
