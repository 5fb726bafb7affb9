"""Choosing the order to follow: the pattern that takes the least bench time within the limits."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.said import said
from chainplan.order.clock.protocol import Settling, keep_back, settle, warmest_c
from chainplan.order.pattern.families import list_patterns
from chainplan.order.pattern.passes import (
    join_tiny_passes,
    lay_out_passes,
    list_rings,
    order_of,
)
from chainplan.order.pattern.plain import plainest
from chainplan.order.pattern.sketch import sketch_patterns
from chainplan.order.piece.grid import group_sequence

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IntArray
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.pattern.pattern import Pattern, PlannedPass
    from chainplan.order.piece.grid import JoinGrid
    from chainplan.order.piece.situation import Situation
    from chainplan.order.piece.work import HandWork
    from chainplan.order.tuning import Effort, SearchTuning


@frozen
class Followable:
    """A pattern laid out and timed."""

    pattern: Pattern
    passes: tuple[PlannedPass, ...]
    settled: Settled
    unheld_s: float  # the quickest pattern of all if no fingers held the piece
    to_remember: int  # passes, and words beside them, to be kept in mind


def _near_parts(clock: Clock) -> list[int]:
    """Find joins whose own weld takes up a good share of what a part can bear, worst first."""
    situation, tuning = clock.situation, clock.situation.tuning.search
    base_c = situation.heat.networks[clock.lead].base_c
    share = np.zeros(situation.work.joins)
    for part in clock.watched:
        joins, peaks = clock.alone_k(clock.lead, part.node)
        spare = float(keep_back(part.limit_c - base_c[part.node], clock.margin_k))
        if spare > 0:
            share[joins] = np.maximum(share[joins], peaks / spare)
    near = np.flatnonzero(share > tuning.near_share)
    ranked = near[np.argsort(-share[near], kind="stable")]
    worst: list[int] = ranked[: tuning.most_alone].tolist()
    return worst


def patterns_to_try(situation: Situation, effort: Effort) -> list[Pattern]:
    """List the patterns that suit a piece: more of them for few joins, few for very many."""
    joins, limits, tuning = situation.work.joins, situation.limits, situation.tuning.search
    window = (np.inf, np.inf)
    if situation.held:
        window = (limits.hold_from_mm, limits.hold_to_mm)
    rich = joins <= tuning.many
    most = effort.patterns * (tuning.richer if rich else 1)
    most = min(most, max(tuning.fewest_patterns, tuning.laid_out // joins))
    return list_patterns(
        situation.grid,
        joins,
        window,
        most,
        rich=rich,
        clip_units=_clip_units(situation),
        tuning=situation.tuning.pattern,
    )


def _clip_units(situation: Situation) -> int:
    """Most units or columns within reach of one place of the clip; 0 if it is never moved."""
    work, column = situation.work, situation.grid.column
    if work.clip_ring.shape[0] < 2:
        return 0
    order = np.lexsort((column, work.clip))
    fresh = np.diff(work.clip[order], prepend=-1) != 0
    first = np.flatnonzero(fresh)
    new = fresh | (np.diff(column[order], prepend=-1) != 0)
    return int(np.add.reduceat(new, first).max())


def choose_followable(clock: Clock, effort: Effort) -> Followable:
    """Find the pattern within the limits that costs least; among nearly equal ones a cool one.

    What a pattern costs is its bench time and, for everything that has to be kept in mind, some
    seconds. Patterns are ranked by what they promise; the foremost are timed in full, in every bad
    corner, until no other can cost less. If end to end keeps every limit without a wait, it is
    taken and nothing else is looked at; if any other order gains little over it with its pauses, it
    is taken too.
    """
    plain = _take_end_to_end(clock)
    if plain is not None:
        return plain
    situation = clock.situation
    work, grid, tuning = situation.work, situation.grid, situation.tuning.search
    patterns = patterns_to_try(situation, effort)
    listed: list[tuple[Pattern, list[int]]] = [(pattern, []) for pattern in patterns]
    alone = _near_parts(clock)
    if alone:
        listed += [(pattern, alone) for pattern in patterns if pattern.passes >= 2]
    sketches = sketch_patterns(grid, work, listed)
    orders = sketches.orders
    bare_s, score_s = clock.promise_s(orders)
    lines = sketches.lines.tolist()
    words = np.asarray(
        [_words(item, said, work, tuning) for item, said in zip(listed, lines, strict=True)]
    )
    price_s = tuning.a_thing_s * (words - 1.0)
    found = _settle_best(clock, orders, score_s, price_s)
    unheld_s = min(item.bench_s for item in found.values())
    if situation.held:
        none_s = np.zeros(orders.shape[0])
        bare = _settle_best(clock, orders, bare_s, none_s, held=False)
        unheld_s = min(unheld_s, *(item.bench_s for item in bare.values()))
    cost_s = {k: item.bench_s + float(price_s[k]) for k, item in found.items()}
    best_s = min(cost_s.values())
    close = [k for k in found if cost_s[k] <= best_s * (1 + tuning.nearly)]
    chosen = close[0]
    if len(close) > 1:
        warm = [warmest_c(clock, found[k].order, found[k].start_s) for k in close]
        chosen = min(
            zip(close, warm, strict=True),
            key=lambda item: (
                round(item[1] / tuning.as_cool_k),
                int(words[item[0]]),
                item[0],
            ),
        )[0]
    settled, by_group = _choose_by_group(clock, orders, chosen, found[chosen])
    passes: list[PlannedPass] = []
    for group, index in by_group.items():
        pattern, apart = listed[index]
        every = lay_out_passes(grid, pattern, work, apart)
        passes += [item for item in every if (item.face, item.setting) == group]
    best = Followable(
        pattern=listed[chosen][0],
        passes=tuple(join_tiny_passes(passes, grid)),
        settled=settled,
        unheld_s=min(unheld_s, settled.bench_s),
        to_remember=int(words[chosen]),
    )
    return _if_little_is_gained(clock, best) or best


def _if_little_is_gained(clock: Clock, best: Followable) -> Followable | None:
    """Take end to end with its pauses where the best order gains little over it; else None."""
    if not best.settled.feasible:
        return None
    work, grid = clock.situation.work, clock.situation.grid
    enough_s = best.settled.bench_s + clock.situation.tuning.say.little_of(best.settled.bench_s)
    pattern = plainest(grid, work)
    passes = lay_out_passes(grid, pattern, work)
    settled = clock.settle_all(order_of(passes)[None, :], Settling(most_s=enough_s))[0]
    if not settled.feasible or settled.bench_s > enough_s:
        return None
    return Followable(
        pattern=pattern,
        passes=tuple(_say_plainly(item, grid) for item in join_tiny_passes(passes, grid)),
        settled=settled,
        unheld_s=min(best.unheld_s, settled.bench_s),
        to_remember=1,
    )


def _take_end_to_end(clock: Clock) -> Followable | None:
    """Take end to end if it keeps every limit without a wait; None if it does not."""
    work, grid = clock.situation.work, clock.situation.grid
    pattern = plainest(grid, work)
    passes = lay_out_passes(grid, pattern, work)
    settled = settle(clock, order_of(passes)) if _no_wait(clock, order_of(passes)) else None
    if settled is None or not settled.feasible or settled.waiting_s > 0:
        return None
    return Followable(
        pattern=pattern,
        passes=tuple(_say_plainly(item, grid) for item in join_tiny_passes(passes, grid)),
        settled=settled,
        unheld_s=settled.bench_s,
        to_remember=1,
    )


def _say_plainly(item: PlannedPass, grid: JoinGrid) -> PlannedPass:
    """Say a pass that takes every ring from one to another, in their own order, just so."""
    rings = grid.ring[item.joins]
    if rings.shape[0] < 2 or (np.diff(rings) != 1).any():
        return item
    stem = said("line.one_after_another", first=rings[0] + 1, last=rings[-1] + 1)
    return replace(item, stem=stem)


def _no_wait(clock: Clock, order: IntArray) -> bool:
    """Whether an order needs no wait at the bench's own pace."""
    return clock.needs_no_wait(order, clock.situation.work.handle_s)


def _words(
    listed: tuple[Pattern, list[int]], lines: int, work: HandWork, tuning: SearchTuning
) -> int:
    """Count what has to be kept in mind: where each pass begins, and every rule beside.

    What is done from one place of the clip is done from all of them alike, and counts once.
    """
    pattern, alone = listed
    words = pattern.backward + pattern.turn_first + bool(pattern.run) + (pattern.classes > 1)
    words += pattern.by_clip
    places = max(work.clip_ring.shape[0], 1) if pattern.by_clip else 1
    return -(-lines // places) + tuning.a_word * (words + len(alone))


def _choose_by_group(
    clock: Clock, laid: IntArray, chosen: int, settled: Settled
) -> tuple[Settled, dict[tuple[int, int], int]]:
    """Let joins of one face and setting follow a pattern of their own where they have to wait.

    Sections of different rings need different strides. Group after group, from the second, every
    pattern is tried for the group while all others stay as they are. ``laid``: the order of every
    pattern; a group takes the same stretch of each.

    Returns
    -------
    Settled, dict
        The order, and the number of the pattern of each group of face and setting.
    """
    work, tuning = clock.situation.work, clock.situation.tuning.search
    groups = group_sequence(work)[0]
    by_group = dict.fromkeys(groups, chosen)
    if len(groups) == 1 or not settled.feasible:
        return settled, by_group
    for group in groups[1:]:
        mine = (work.face[settled.order] == group[0]) & (work.setting[settled.order] == group[1])
        if settled.wait_s[mine].sum() < tuning.worth_its_own * settled.bench_s:
            continue
        first, end = int(np.argmax(mine)), int(np.argmax(mine)) + int(mine.sum())
        begun = clock.begin(settled.order[:first])
        tries: dict[bytes, tuple[int, IntArray]] = {}
        for index, own in enumerate(laid[:, first:end]):
            whole = np.concatenate([settled.order[:first], own, settled.order[end:]])
            tries.setdefault(own.tobytes(), (index, whole))
        orders = np.asarray([whole for _, whole in tries.values()], dtype=np.int32)
        most_s = settled.bench_s * (1 - tuning.nearly)
        better = clock.settle_all(orders, Settling(most_s=most_s, begun=begun))
        best = min(range(len(better)), key=lambda k: (not better[k].feasible, better[k].bench_s))
        if better[best].feasible:
            settled, by_group[group] = better[best], [index for index, _ in tries.values()][best]
    return settled, by_group


def _settle_best(
    clock: Clock,
    orders: IntArray,
    promise_s: FloatArray,
    price_s: FloatArray,
    *,
    held: bool = True,
) -> dict[int, Settled]:
    """Settle orders in every bad corner, the most promising first, until none can cost less.

    ``price_s``: what keeping each of them in mind adds to its time.

    A promise may be far off what an order takes in another corner: orders are given up at a time a
    little above the best promise, and only if none keeps to that is the time raised and all are
    asked again.

    Returns
    -------
    dict
        The orders that were settled within the time. If none keeps the limits at all, the most
        promising one, timed as far as it can.
    """
    tuning = clock.situation.tuning.search
    promise_s = promise_s + price_s
    ranked = np.argsort(promise_s, kind="stable")
    most_s = tuning.close * float(promise_s[ranked[0]])
    for _ in range(tuning.most_rises):
        found: dict[int, Settled] = {}
        begin, count = 0, 1
        while begin < ranked.shape[0] and len(found) < clock.most_settled:
            costs = (item.bench_s + float(price_s[k]) for k, item in found.items())
            best_s = min(costs, default=np.inf)
            enough_s = min(most_s, best_s * (1 + tuning.nearly))
            some = ranked[begin : begin + count]
            some = some[promise_s[some] <= enough_s]
            if some.size == 0:
                break
            least_s = float(price_s[some].min())
            how = Settling(held=held, most_s=enough_s - least_s)
            settled = clock.settle_all(orders[some], how)
            found |= {int(k): item for k, item in zip(some, settled, strict=True) if item.feasible}
            begin, count = begin + count, min(2 * count, tuning.at_once)
        if found:
            return found
        most_s *= tuning.rise
    first = int(ranked[0])
    return {first: settle(clock, orders[first], held=held)}


def list_ring_by_ring(situation: Situation, chosen: Followable, free: Settled) -> Followable | None:
    """Say the free order ring by ring, where joins are few and that saves a good deal of time.

    So few numbers can be followed without a pattern. None if the pattern does as well, or nearly.
    """
    work, tuning = situation.work, situation.tuning.search
    few = work.joins <= tuning.few_joins and free.feasible and free.held
    few = few and chosen.settled.waiting_s > 0
    if not few or free.bench_s > (1 - tuning.worth_listing) * chosen.settled.bench_s:
        return None
    turns = np.diff(work.face[free.order]) | np.diff(work.setting[free.order])
    passes: list[PlannedPass] = []
    for stretch in np.split(free.order, np.flatnonzero(turns) + 1):
        face, setting = int(work.face[stretch[0]]), int(work.setting[stretch[0]])
        passes += list_rings(situation.grid, stretch, face, setting)
    return replace(
        chosen,
        passes=tuple(passes),
        settled=free,
        unheld_s=min(chosen.unheld_s, free.bench_s),
        to_remember=len(passes),
    )
