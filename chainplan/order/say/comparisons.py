"""The order to follow beside the orders that people use without a plan, under the same limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import OrderComparison
from chainplan.order.clock.protocol import Settling, warmest_c
from chainplan.order.limits import warmest_before_c

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.order.clock.protocol import Clock, Settled
    from chainplan.order.piece.situation import Situation
    from chainplan.order.proof.verify import Simulated


def time_plain_orders(
    clock: Clock, orders: Mapping[str, IntArray], mine_s: float, *, every: bool
) -> dict[str, Settled]:
    """Time the orders that people use without a plan, under the same limits as the order to follow.

    On a long piece the fingers are left out where an order takes longer than ``mine_s`` even so:
    they could only add to it; but end to end, which people do weld, is timed with them wherever
    the clock goes weld by weld. ``every``: count them always.
    """
    stacked = np.asarray(list(orders.values()))
    if every or not clock.situation.held:
        return dict(zip(orders, clock.settle_all(stacked), strict=True))
    timed = clock.settle_all(stacked, Settling(held=False))
    close = [
        row
        for row, (name, item) in enumerate(zip(orders, timed, strict=True))
        if item.bench_s < mine_s
        or (name == "end to end" and (clock.follows or item.waiting_s == 0))
    ]
    if close:
        for row, item in zip(close, clock.settle_all(stacked[close]), strict=True):
            timed[row] = item
    return dict(zip(orders, timed, strict=True))


def compare(
    clock: Clock,
    chosen: Settled,
    free: Settled,
    baselines: Mapping[str, Settled],
    simulated: Sequence[Simulated],
) -> tuple[OrderComparison, ...]:
    """Set the order to follow beside the free one and the plain ones, all within the limits.

    ``simulated``: runs that were simulated already; of large pieces they need no second look.
    """
    situation = clock.situation
    named = {"to follow": chosen, "free": free, **baselines}
    seen: dict[int, tuple[float, float]] = {}
    out = []
    for name, settled in named.items():
        if id(settled) not in seen:
            seen[id(settled)] = _warmest_c(clock, settled, simulated)
        warm, warm_plain = seen[id(settled)]
        out.append(
            OrderComparison(
                name=name,
                bench_time_s=settled.bench_s,
                wait_s=settled.waiting_s,
                travel_mm=situation.work.travel_mm(settled.order),
                warmest_interpass_c=warm,
                warmest_without_waits_c=warm_plain,
                feasible=settled.feasible and not situation.set_aside,
                note=_note(situation, settled),
                fingers_counted=settled.held,
            )
        )
    return tuple(out)


def _warmest_c(
    clock: Clock, settled: Settled, simulated: Sequence[Simulated]
) -> tuple[float, float]:
    """Warmest join before its weld: with the waits, and if nobody waited. [°C]."""
    ring = clock.situation.work.ring[settled.order]

    def look(start_s: FloatArray) -> float:
        for run in () if clock.follows else simulated:  # both sum the same kernels
            if np.array_equal(run.ring, ring) and np.array_equal(run.start_s, start_s):
                return float(warmest_before_c(clock.situation, run).max())
        return warmest_c(clock, settled.order, start_s)

    warm = look(settled.start_s)
    if settled.waiting_s == 0:
        return warm, warm
    return warm, look(np.cumsum(clock.situation.work.gaps_s(settled.order)))


def _note(situation: Situation, settled: Settled) -> str:
    notes = []
    if not settled.feasible:
        notes.append("cannot keep the limits; timed as far as it can")
    elif situation.set_aside:
        names = ", ".join(item.name for item in situation.set_aside)
        notes.append(f"without the limit for {names}, which cannot be kept")
    if settled.even_pace:
        notes.append("waits as an even, slower pace")
    if not settled.held:
        notes.append("at least: the fingers are not counted, they could only lengthen it")
    return "; ".join(notes)
