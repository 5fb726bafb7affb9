"""Choosing the order to follow: the pattern that takes the least bench time within the limits."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.clock.follow import grip_temperatures_c, list_beginnings, time_by_modes
from chainplan.order.clock.situation import MOST_SEARCHED
from chainplan.order.pattern.families import list_patterns
from chainplan.order.pattern.passes import (
    Pattern,
    PlannedPass,
    join_tiny_passes,
    lay_out_passes,
    list_rings,
    order_of,
)
from chainplan.order.piece.grid import group_sequence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.order.clock.situation import Settled, Situation


NEARLY = 0.005
"""Bench times closer than this share count as equal; then the cooler order wins."""

NEVER_S = 1e9
"""Added to the time of what cannot be welded so, to rank it last."""

_MOST_ALONE = 8
_MANY = 250
_RICHER = 4
_AS_COOL_K = 2.0
_A_WORD = 2
_MOST_SAMPLED = 80
_WORTH_ITS_OWN = 0.02
_FEW_JOINS = 24
_WORTH_LISTING = 0.05
_AT_ONCE = 8
_ROOM = 1.5
_CLOSE = 1.05
_RAISE = 1.25
_MOST_RAISES = 10
_WORTH_RANKING = 1.1
_SECONDS_A_KELVIN = 0.5
"""Only ranks candidates: what one step one kelvin too warm to hold costs in the end, roughly."""


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How much is tried. Counts, not seconds, so that the same input gives the same plan."""

    patterns: int
    rounds: int
    batch: int
    states: int  # looks of the exact search
    exact: int  # up to so many joins all orders are looked at, if the states are enough
    greedy: int
    held: int  # rounds of the search that sees the fingers, times joins, times nodes


EFFORTS = {
    "usual": Effort(
        patterns=40,
        rounds=24,
        batch=32,
        states=150_000,
        exact=12,
        greedy=2,
        held=80_000,
    ),
    "thorough": Effort(
        patterns=80,
        rounds=400,
        batch=64,
        states=1_000_000,
        exact=14,
        greedy=6,
        held=4_000_000,
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


def patterns_to_try(situation: Situation, effort: Effort) -> list[Pattern]:
    """List the patterns of the portfolio that suit a piece; more of them for few joins."""
    joins, limits = situation.work.joins, situation.limits
    window = (limits.hold_from_mm, limits.hold_to_mm)
    if situation.hold is None:
        window = (np.inf, np.inf)
    most = effort.patterns * (_RICHER if joins <= _MANY else 1)
    return list_patterns(situation.grid, joins, window, most, rich=joins <= _MANY)


def choose_followable(situation: Situation, effort: Effort) -> Followable:
    """Find the quickest pattern within the limits; among nearly equal ones a cool, plain one.

    All patterns are timed side by side without the fingers. Those that then leave the fingers no
    cool place are put back by how much and how often they do; the foremost are timed in full until
    no other pattern can be quicker.
    """
    work, grid, patterns = situation.work, situation.grid, patterns_to_try(situation, effort)
    listed: list[tuple[Pattern, list[int]]] = [(pattern, []) for pattern in patterns]
    alone = _near_parts(situation)
    if alone:
        listed += [(pattern, alone) for pattern in patterns if pattern.passes >= 2]
    laid = [lay_out_passes(grid, pattern, work, apart, say=False) for pattern, apart in listed]
    orders = np.asarray([order_of(passes) for passes in laid], dtype=np.int32)
    bare_s, score_s = _promise_s(situation, orders)
    found = _settle_best(situation, orders, score_s)
    unheld_s = min(item.bench_s for item in found.values())
    if situation.hold is not None:
        bare = _settle_best(situation, orders, bare_s, held=False)
        unheld_s = min(unheld_s, *(item.bench_s for item in bare.values()))
    best_s = min(item.bench_s for item in found.values())
    close = [k for k, item in found.items() if item.bench_s <= best_s * (1 + NEARLY)]
    warm = [situation.warmest_c(found[k].order, found[k].start_s) for k in close]
    chosen = min(
        zip(close, warm, strict=True),
        key=lambda item: (round(item[1] / _AS_COOL_K), _words(*listed[item[0]]), item[0]),
    )[0]
    settled, by_group = _choose_by_group(situation, laid, chosen, found[chosen])
    passes: list[PlannedPass] = []
    for group, index in by_group.items():
        pattern, apart = listed[index]
        every = lay_out_passes(grid, pattern, work, apart)
        passes += [item for item in every if (item.face, item.setting) == group]
    return Followable(
        pattern=listed[chosen][0],
        passes=tuple(join_tiny_passes(passes, grid)),
        settled=settled,
        unheld_s=min(unheld_s, settled.bench_s),
    )


def _words(pattern: Pattern, alone: Sequence[int]) -> int:
    """Count what has to be said about a pattern's passes beside where they begin."""
    words = pattern.backward + pattern.turn_first + bool(pattern.run) + (pattern.classes > 1)
    return pattern.passes + _A_WORD * (words + len(alone))


def _choose_by_group(
    situation: Situation, laid: Sequence[Sequence[PlannedPass]], chosen: int, settled: Settled
) -> tuple[Settled, dict[tuple[int, int], int]]:
    """Let joins of one face and setting follow a pattern of their own where they have to wait.

    Sections of different rings need different strides. Group after group, from the second, every
    pattern is tried for the group while all others stay as they are.

    Returns
    -------
    Settled, dict
        The order, and the number of the pattern of each group of face and setting.
    """
    work, groups = situation.work, group_sequence(situation.work)[0]
    by_group = dict.fromkeys(groups, chosen)
    if len(groups) == 1 or not settled.feasible:
        return settled, by_group
    for group in groups[1:]:
        mine = (work.face[settled.order] == group[0]) & (work.setting[settled.order] == group[1])
        if settled.wait_s[mine].sum() < _WORTH_ITS_OWN * settled.bench_s:
            continue
        first, end = int(np.argmax(mine)), int(np.argmax(mine)) + int(mine.sum())
        begun = list_beginnings(situation.modes, work, settled.order[:first])[-1]
        tries: dict[bytes, tuple[int, IntArray]] = {}
        for index, passes in enumerate(laid):
            own = order_of([item for item in passes if (item.face, item.setting) == group])
            whole = np.concatenate([settled.order[:first], own, settled.order[end:]])
            tries.setdefault(own.tobytes(), (index, whole))
        orders = np.asarray([whole for _, whole in tries.values()], dtype=np.int32)
        better = situation.settle_all(orders, most_s=settled.bench_s * (1 - NEARLY), begun=begun)
        best = min(range(len(better)), key=lambda k: (not better[k].feasible, better[k].bench_s))
        if better[best].feasible:
            settled, by_group[group] = better[best], [index for index, _ in tries.values()][best]
    return settled, by_group


def _settle_best(
    situation: Situation, orders: IntArray, promise_s: FloatArray, *, held: bool = True
) -> dict[int, Settled]:
    """Settle orders in every bad corner, the most promising first, until no other can be quicker.

    What an order promises comes from one corner, so another corner may make it much slower: orders
    are given up at a time a little above the best promise, and only if none keeps to that is the
    time raised and all are asked again.

    Returns
    -------
    dict
        The orders that were settled within the time. If none keeps the limits at all, the most
        promising one, timed as far as it can.
    """
    ranked = np.argsort(promise_s, kind="stable")
    most_s = _CLOSE * float(promise_s[ranked[0]])
    for _ in range(_MOST_RAISES):
        found: dict[int, Settled] = {}
        begin, count = 0, 1
        while begin < ranked.shape[0]:
            best_s = min((item.bench_s for item in found.values()), default=np.inf)
            enough_s = min(most_s, best_s * (1 + NEARLY))
            some = ranked[begin : begin + count]
            some = some[promise_s[some] <= enough_s]
            if some.size == 0:
                break
            settled = situation.settle_all(orders[some], held=held, most_s=enough_s)
            found |= {int(k): item for k, item in zip(some, settled, strict=True) if item.feasible}
            begin, count = begin + count, min(2 * count, _AT_ONCE)
        if found:
            return found
        most_s *= _RAISE
    first = int(ranked[0])
    return {first: situation.settle(orders[first], held=held)}


def _promise_s(situation: Situation, orders: IntArray) -> tuple[FloatArray, FloatArray]:
    """Time patterns in the leading corner: without the fingers, and with what they cost.

    Of pieces with few joins every pattern is timed with the fingers, of others those that a sample
    of the places to hold finds promising.
    """
    work, quick = situation.work, situation.quick_modes
    bare = time_by_modes(quick.bare(), work, orders, most_s=_enough_s(situation, orders))
    bare_s = np.where(bare.feasible, bare.bench_s, NEVER_S + bare.bench_s)
    if situation.hold is None:
        return bare_s, bare_s
    if work.joins > MOST_SEARCHED:
        return bare_s, score_held_s(situation, orders, bare.start_s, bare_s)
    return bare_s, _held_s(situation, orders, bare_s)


def _held_s(situation: Situation, orders: IntArray, bare_s: FloatArray) -> FloatArray:
    """Time with the fingers, in the leading corner; those far from the best are given up."""
    held_s: FloatArray = NEVER_S + bare_s
    ranked = np.argsort(bare_s, kind="stable")
    best_s = np.inf
    for some in (ranked[:_AT_ONCE], ranked[_AT_ONCE:]):
        if some.size:
            most_s = _WORTH_RANKING * best_s
            timed = time_by_modes(
                situation.quick_modes, situation.work, orders[some], most_s=most_s
            )
            held_s[some[timed.feasible]] = timed.bench_s[timed.feasible]
            best_s = float(held_s.min()) if timed.feasible.any() else np.inf
    return held_s


def _enough_s(situation: Situation, orders: IntArray) -> float:
    """Bench time beyond which a pattern is not worth timing to its end.

    The best of a few patterns, waits included, with room for what the fingers may add.
    """
    quick, work = situation.quick_modes.bare(), situation.work
    plain_s = work.gaps_s(orders).sum(axis=1)
    spread = np.argsort(plain_s, kind="stable")[:: max(1, orders.shape[0] // _AT_ONCE)]
    most_s = _RAISE * float(plain_s.min(initial=np.inf))
    for _ in range(_MOST_RAISES):
        some = time_by_modes(quick, work, orders[spread], most_s=most_s)
        if some.feasible.any():
            return _ROOM * float(np.min(some.bench_s, initial=np.inf, where=some.feasible))
        most_s *= _RAISE
    return np.inf


def score_held_s(
    situation: Situation, orders: IntArray, start_s: FloatArray, least_s: FloatArray
) -> FloatArray:
    """Add to times what the fingers will roughly cost; looked at where it may matter."""
    score: FloatArray = least_s.copy()
    thinned = max(1, situation.work.joins // _MOST_SAMPLED)
    sample = np.arange(thinned // 2, situation.work.joins, thinned, dtype=np.int32)
    ranked = np.argsort(least_s, kind="stable")
    clean_s = np.inf
    for begin in range(0, ranked.shape[0], _AT_ONCE):
        some = ranked[begin : begin + _AT_ONCE]
        some = some[least_s[some] <= clean_s]
        if some.size == 0:
            break
        grip = grip_temperatures_c(
            situation.quick_modes, situation.work, orders[some], start_s[some], sample
        )
        over = np.maximum(grip - situation.limits.finger_limit_c, 0.0).sum(axis=1)
        score[some] += _SECONDS_A_KELVIN * thinned * over
        clean_s = min(clean_s, float(score[some].min()))
    return score


def list_ring_by_ring(situation: Situation, chosen: Followable, free: Settled) -> Followable | None:
    """Say the free order ring by ring, where joins are few and that saves a good deal of time.

    So few numbers can be followed without a pattern. None if the pattern does as well, or nearly.
    """
    work = situation.work
    few = work.joins <= _FEW_JOINS and free.feasible and free.held
    if not few or free.bench_s > (1 - _WORTH_LISTING) * chosen.settled.bench_s:
        return None
    turns = np.diff(work.face[free.order]) | np.diff(work.setting[free.order])
    passes: list[PlannedPass] = []
    for stretch in np.split(free.order, np.flatnonzero(turns) + 1):
        face, setting = int(work.face[stretch[0]]), int(work.setting[stretch[0]])
        passes += list_rings(situation.grid, stretch, face, setting)
    return replace(
        chosen, passes=tuple(passes), settled=free, unheld_s=min(chosen.unheld_s, free.bench_s)
    )
