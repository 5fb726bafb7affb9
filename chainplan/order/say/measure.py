"""What end to end would do to the limits without a pause, and what pauses would cost it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import Gains, LimitKind, Unpaused
from chainplan.order.clock.protocol import settle
from chainplan.order.clock.select import make_clock
from chainplan.order.limits import check_limits, usual_corner
from chainplan.order.piece.ring_limits import list_ring_limits
from chainplan.order.proof.verify import ALLOWANCE_K, simulate_order

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.order import LimitCheck
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.piece.situation import Situation
    from chainplan.order.proof.verify import Simulated
    from chainplan.order.search.choose import Followable


def simulate_unpaused(situation: Situation, order: IntArray) -> Simulated:
    """Simulate an order in which nobody waits, in every corner."""
    return simulate_order(
        situation.layout,
        situation.joins,
        situation.heat,
        situation.work.ring[order],
        np.cumsum(situation.work.gaps_s(order)),
        pace=situation.pace,
        limits=situation.limits,
        corners=situation.heat.corners,
        clip_ring=situation.work.clip_rings(order),
        tuning=situation.tuning.proof,
    )


def measure_gains(
    clock: Clock,
    chosen: Followable,
    ends: Settled,
    seen: Simulated,
    checks: Sequence[LimitCheck],
    unpaused_kept: float | None = None,
) -> Gains:
    """Measure what the order to follow gains over end to end.

    Parameters
    ----------
    clock, chosen
        The piece, and the order to follow.
    ends : Settled
        End to end with the pauses that it needs at the bad end.
    seen : Simulated
        End to end without a pause.
    checks : sequence of LimitCheck
        The limits, and how near the order to follow comes to them.
    unpaused_kept : float, optional
        Share of plausible benches on which end to end keeps every limit without a pause.
    """
    situation = clock.situation
    paused = _settle_usual(clock, ends)
    tuning = situation.tuning
    same = np.array_equal(chosen.settled.order, ends.order)
    little_s = tuning.say.little_of(chosen.settled.bench_s)
    return Gains(
        unpaused=_list_unpaused(situation, seen, checks),
        unpaused_s=situation.work.bench_s(ends.order, seen.start_s),
        ends_usual_s=paused.bench_s if paused.feasible else None,
        ends_high_s=ends.bench_s if ends.feasible else None,
        fingers_counted=ends.held and paused.held,
        order_s=chosen.settled.bench_s,
        order_wait_s=chosen.settled.waiting_s,
        is_end_to_end=same,
        to_remember=chosen.to_remember,
        a_thing_s=tuning.search.a_thing_s,
        little_s=little_s,
        unpaused_kept=unpaused_kept,
    )


def _settle_usual(clock: Clock, ends: Settled) -> Settled:
    """Time end to end with the pauses that it needs at the usual values."""
    situation = clock.situation
    heat = situation.heat
    usual = replace(situation, heat=heat.judged_at((usual_corner(heat),)))
    return settle(make_clock(usual), ends.order, held=ends.held)


def _list_unpaused(
    situation: Situation, seen: Simulated, checks: Sequence[LimitCheck]
) -> tuple[Unpaused, ...]:
    """Set each limit that is kept beside what end to end would do to it, a part by its name."""
    heat = situation.heat
    corners = ((usual_corner(heat),), heat.bad_corners)
    rings = {item.name: item.limit_c for item in list_ring_limits(heat, situation.limits)}
    parts = iter(heat.parts)
    found: dict[tuple[LimitKind, str], Unpaused] = {}
    for mine, there in zip(checks, check_limits(situation, seen), strict=True):
        node = next(parts).node if mine.kind is LimitKind.PART else -1
        if not situation.keeps(mine.kind, mine.name):
            continue
        passed: list[float | None] = []
        for group, warm_c in zip(corners, (there.usual_c, there.high_c), strict=True):
            after: list[float] = []
            if warm_c > mine.limit_c + ALLOWANCE_K or mine.name in rings:
                after = [
                    when
                    for corner in group
                    if (when := _passes_s(situation, seen, corner, mine, rings, node)) is not None
                ]
            passed.append(min(after, default=None))
        item = Unpaused(
            kind=mine.kind,
            name=mine.name,
            said=mine.said,
            limit_c=mine.limit_c,
            ring=there.ring,
            usual_c=there.usual_c,
            high_c=there.high_c,
            usual_after_s=passed[0],
            high_after_s=passed[1],
            order_usual_c=mine.usual_c,
            order_high_c=mine.high_c,
        )
        key = (item.kind, item.name)
        found[key] = _warmer_of(found[key], item) if key in found else item
    return tuple(found.values())


def _warmer_of(one: Unpaused, other: Unpaused) -> Unpaused:
    """Put two places of one part together: the warmer of each counts."""

    def first(*times: float | None) -> float | None:
        return min((time for time in times if time is not None), default=None)

    warmer = max(one, other, key=lambda item: item.high_c - item.limit_c)
    return replace(
        warmer,
        usual_c=max(one.usual_c, other.usual_c),
        high_c=max(one.high_c, other.high_c),
        usual_after_s=first(one.usual_after_s, other.usual_after_s),
        high_after_s=first(one.high_after_s, other.high_after_s),
        order_usual_c=max(one.order_usual_c, other.order_usual_c),
        order_high_c=max(one.order_high_c, other.order_high_c),
    )


def _passes_s(
    situation: Situation,
    seen: Simulated,
    corner: str,
    check: LimitCheck,
    rings: dict[str, FloatArray],
    node: int,
) -> float | None:
    """When a run of welds first passes a limit in a corner; None if it never does. [s]."""
    if check.kind is LimitKind.PART:
        return _part_passes_s(situation, seen, corner, check.limit_c, node)
    if check.kind is LimitKind.FINGERS:
        if seen.grips is None:
            return None
        steps: IntArray = seen.grips.steps
        over: BoolArray = seen.held_c[corner] > check.limit_c + ALLOWANCE_K
    else:
        steps = np.arange(seen.ring.shape[0], dtype=np.int32)
        over = seen.runs[corner].before_c > rings[check.name][seen.ring] + ALLOWANCE_K
    return float(seen.start_s[steps[np.argmax(over)]]) if over.any() else None


def _part_passes_s(
    situation: Situation, seen: Simulated, corner: str, limit_c: float, node: int
) -> float | None:
    """When a part first passes its limit, looked up on even times and then between two. [s]."""
    tuning = situation.tuning.proof
    low, high = 0.0, float(seen.start_s[-1]) + tuning.cooling_s
    nodes = np.full(tuning.peak_times, node, dtype=np.int32)
    found = None
    for _ in range(2):
        times = np.linspace(low, high, tuning.peak_times)
        warm = situation.heat.temperatures_c(corner, seen.ring, seen.start_s, nodes, times)
        over = np.flatnonzero(warm > limit_c + ALLOWANCE_K)
        if over.size == 0:
            return found
        found = float(times[over[0]])
        low, high = float(times[max(int(over[0]) - 1, 0)]), found
    return found
