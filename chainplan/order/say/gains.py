"""What the order gained against other orders under the same limits, said honestly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import OrderComparison
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import IntArray
    from chainplan.order.clock.situation import Settled, Situation
    from chainplan.order.search.choose import Followable


_CLOSE_S = 1.0
_PROVED_GAP = 1e-6
_GAP = 0.10
_WARMER_K = 3.0
_HELD_SHARE = 0.02


def time_plain_orders(
    situation: Situation, orders: Mapping[str, IntArray], mine_s: float, *, every: bool
) -> dict[str, Settled]:
    """Time the orders that people use without a plan, under the same limits as the order to follow.

    On a long piece the fingers are left out where an order takes longer than ``mine_s`` even so:
    they could only add to it. ``every``: count them always.
    """
    stacked = np.asarray(list(orders.values()))
    if every or situation.hold is None:
        return dict(zip(orders, situation.settle_all(stacked), strict=True))
    timed = situation.settle_all(stacked, held=False)
    close = [
        row
        for row, (name, item) in enumerate(zip(orders, timed, strict=True))
        if item.bench_s < mine_s or (name == "end to end" and item.waiting_s == 0)
    ]
    if close:
        for row, item in zip(close, situation.settle_all(stacked[close]), strict=True):
            timed[row] = item
    return dict(zip(orders, timed, strict=True))


def compare(
    situation: Situation, chosen: Settled, free: Settled, baselines: Mapping[str, Settled]
) -> tuple[OrderComparison, ...]:
    """Set the order to follow beside the free one and the plain ones, all within the limits."""
    named = {"to follow": chosen, "free": free, **baselines}
    out = []
    for name, settled in named.items():
        out.append(
            OrderComparison(
                name=name,
                bench_time_s=settled.bench_s,
                wait_s=settled.waiting_s,
                travel_mm=situation.work.travel_mm(settled.order),
                warmest_interpass_c=situation.warmest_c(settled.order, settled.start_s),
                warmest_without_waits_c=situation.warmest_without_waits_c(settled.order),
                feasible=settled.feasible,
                note=_note(settled),
                fingers_counted=settled.held,
            )
        )
    return tuple(out)


def _note(settled: Settled) -> str:
    if not settled.feasible:
        return "cannot keep the limits; timed as far as it can"
    if not settled.held:
        return "at least: the fingers are not counted, they could only lengthen it"
    return ""


def say_gained(
    situation: Situation,
    chosen: Followable,
    comparisons: Sequence[OrderComparison],
    parts: Mapping[str, float],
    *,
    proved: bool,
) -> tuple[str, ...]:
    """Say in plain sentences what the order gained, and what it did not."""
    by_name = {item.name: item for item in comparisons}
    mine, ends, free = by_name["to follow"], by_name["end to end"], by_name["free"]
    out: list[str] = []
    if not mine.feasible:
        return ("No order can keep the limits: see the advice.",)
    saved = ends.bench_time_s - mine.bench_time_s
    if ends.wait_s == 0:
        out.append(
            "With no limit binding, order saves no time: end to end keeps every limit without a "
            f"wait ({show_duration(ends.bench_time_s)}; warmest join "
            f"{ends.warmest_interpass_c:.0f} °C before its weld, at the bad end)."
        )
        if chosen.pattern.stride > 1 and saved > _CLOSE_S:
            out.append(f"This order only spares the hand some way: {show_duration(saved)}.")
    elif saved > _CLOSE_S and not ends.fingers_counted:
        out.append(
            f"End to end takes {show_duration(ends.bench_time_s)} even with tweezers instead of "
            f"fingers, {show_duration(ends.wait_s)} of it waiting; this order keeps the limit for "
            f"the fingers too, takes {show_duration(mine.bench_time_s)} and saves "
            f"{show_duration(saved)} or more."
        )
    elif saved > _CLOSE_S:
        out.append(
            f"Under the same limits end to end takes {show_duration(ends.bench_time_s)}, "
            f"{show_duration(ends.wait_s)} of it waiting; this order takes "
            f"{show_duration(mine.bench_time_s)} and saves {show_duration(saved)}."
        )
    else:
        out.append(
            "No order found is quicker to follow than end to end, which has to wait "
            f"{show_duration(ends.wait_s)} for the piece to cool."
        )
    cooler = ends.warmest_without_waits_c - mine.warmest_without_waits_c
    if cooler >= _WARMER_K:
        out.append(
            f"Without any wait the warmest join would be at {ends.warmest_without_waits_c:.0f} °C "
            f"before its weld end to end, and at {mine.warmest_without_waits_c:.0f} °C in this "
            "order (bad end of the uncertain numbers)."
        )
    out.append(
        "Order lowers peaks only: every order brings the same heat into the piece, so fingers and "
        "parts are as warm on average in a job of the same length."
    )
    out += _say_gap(situation, mine, free, parts, proved=proved, unheld_s=chosen.unheld_s)
    return tuple(out)


def _say_gap(
    situation: Situation,
    mine: OrderComparison,
    free: OrderComparison,
    parts: Mapping[str, float],
    *,
    proved: bool,
    unheld_s: float,
) -> list[str]:
    bound = sum(parts.values())
    gap = mine.bench_time_s / bound - 1 if bound > 0 else 0.0
    share = "less than 1 %" if gap < 0.01 else f"{np.ceil(100 * gap):.0f} %"
    out = [
        f"Proved: no order takes less than {show_duration(bound)}; this one is {share} above that."
    ]
    held = mine.bench_time_s - unheld_s
    if gap > _GAP and situation.hold is not None and held > gap * bound / 2:
        out.append("Most of that is the limit for the fingers, which the proof leaves out.")
    elif gap > _GAP:
        moving = mine.travel_mm / situation.work.move_mm_s - parts["moving"]
        waiting = mine.wait_s - parts["cooling"]
        why = f"{show_duration(max(waiting, 0))} of waiting" if waiting > moving else ""
        why = why or f"{show_duration(max(moving, 0))} of moving"
        out.append(
            f"Most of that is {why} that cannot be proved necessary: the proof counts heat at the "
            "last weld and at the parts, not what the fingers feel or what builds up on the way."
        )
    if situation.hold is not None and held > _HELD_SHARE * mine.bench_time_s:
        out.append(
            f"The limit for the fingers costs {show_duration(held)}: held with tweezers the "
            f"quickest pattern takes {show_duration(unheld_s)}."
        )
    better = mine.bench_time_s - free.bench_time_s
    at_once = " if each join is welded as soon as the limits allow" if gap > _PROVED_GAP else ""
    if proved and better <= _CLOSE_S:
        by = " by more than a second" if better > 0 else ""
        out.append(f"All other orders have been ruled out: none is quicker{by}{at_once}.")
    elif better > _CLOSE_S:
        best = f"the best of all orders{at_once}" if proved else "the best order found"
        out.append(f"Being easy to follow costs {show_duration(better)} against {best}.")
    else:
        out.append(
            "Being easy to follow costs nothing that the search could find: no freer order tried "
            "is quicker."
        )
    return out
