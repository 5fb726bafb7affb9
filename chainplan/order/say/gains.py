"""What the order gained against other orders under the same limits, said honestly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.model.order import OrderComparison, SetAside
    from chainplan.order.clock.protocol import Clock
    from chainplan.order.search.choose import Followable
    from chainplan.order.tuning import SayTuning


def say_gained(
    clock: Clock,
    chosen: Followable,
    comparisons: Sequence[OrderComparison],
    parts: Mapping[str, float],
    *,
    proved: bool,
) -> tuple[str, ...]:
    """Say in plain sentences what the order gained, and what it did not."""
    if not chosen.settled.feasible:
        return ("No order can keep the limits: see the advice.",)
    by_name = {item.name: item for item in comparisons}
    mine, ends, free = by_name["to follow"], by_name["end to end"], by_name["free"]
    aside, tuning = clock.situation.set_aside, clock.situation.tuning.say
    out = [_say_set_aside(aside)] if aside else []
    out += _say_saved(mine, ends, tuning, stride=chosen.pattern.stride, other=bool(aside))
    cooler = ends.warmest_without_waits_c - mine.warmest_without_waits_c
    if cooler >= tuning.warmer_k:
        out.append(
            f"Without any wait the warmest join would be at {ends.warmest_without_waits_c:.0f} °C "
            f"before its weld end to end, and at {mine.warmest_without_waits_c:.0f} °C in this "
            "order (bad end of the uncertain numbers)."
        )
    out.append(
        "Order lowers peaks only: every order brings the same heat into the piece, so fingers and "
        "parts are as warm on average in a job of the same length."
    )
    bound_s = sum(parts.values())
    gap = mine.bench_time_s / bound_s - 1 if bound_s > 0 else 0.0
    out += _say_gap(clock, mine, parts, gap=gap, unheld_s=chosen.unheld_s)
    out += _say_price(mine, free, tuning, gap=gap, proved=proved, searched=clock.follows)
    return tuple(out)


def _say_set_aside(items: Sequence[SetAside]) -> str:
    """Name the limits that the order does without, before anything else is said."""
    named = [f"{item.name} ({item.limit_c:.0f} °C)" for item in items]
    names = " and ".join([*([", ".join(named[:-1])] if named[1:] else []), named[-1]])
    some, its = ("limit", "it is") if len(items) == 1 else ("limits", "they are")
    how = "No order keeps" if all(item.proved for item in items) else "No order tried keeps"
    return (
        f"{how} the {some} for {names}: {its} set aside, see the advice. This order keeps every "
        "other limit."
    )


def _say_saved(
    mine: OrderComparison, ends: OrderComparison, tuning: SayTuning, *, stride: int, other: bool
) -> list[str]:
    """Compare the order with end to end; ``other``: some limit has been set aside."""
    saved = ends.bench_time_s - mine.bench_time_s
    if ends.wait_s == 0:
        which = "other " if other else ""
        out = [
            f"With no {which}limit binding, order saves no time: end to end keeps every {which}"
            f"limit without a wait ({show_duration(ends.bench_time_s)}; warmest join "
            f"{ends.warmest_interpass_c:.0f} °C before its weld, at the bad end)."
        ]
        if stride > 1 and saved > tuning.close_s:
            out.append(f"This order only spares the hand some way: {show_duration(saved)}.")
        return out
    if saved > tuning.close_s and not ends.fingers_counted:
        return [
            f"End to end takes {show_duration(ends.bench_time_s)} even with tweezers instead of "
            f"fingers, {show_duration(ends.wait_s)} of it waiting; this order keeps the limit for "
            f"the fingers too, takes {show_duration(mine.bench_time_s)} and saves "
            f"{show_duration(saved)} or more."
        ]
    if saved > tuning.close_s:
        return [
            f"Under the same limits end to end takes {show_duration(ends.bench_time_s)}, "
            f"{show_duration(ends.wait_s)} of it waiting; this order takes "
            f"{show_duration(mine.bench_time_s)} and saves {show_duration(saved)}."
        ]
    return [
        "No order found is quicker to follow than end to end, which has to wait "
        f"{show_duration(ends.wait_s)} for the piece to cool."
    ]


def _say_gap(
    clock: Clock,
    mine: OrderComparison,
    parts: Mapping[str, float],
    *,
    gap: float,
    unheld_s: float,
) -> list[str]:
    """Say how far above the bound the order stands, and what lies between."""
    situation, tuning = clock.situation, clock.situation.tuning.say
    bound_s = sum(parts.values())
    share = "less than 1 %" if gap < 0.01 else f"{np.ceil(100 * gap):.0f} %"
    out = [
        f"Proved: no order takes less than {show_duration(bound_s)}; this one is {share} above "
        "that."
    ]
    held_s = mine.bench_time_s - unheld_s
    if gap > tuning.gap and situation.held and held_s > gap * bound_s / 2:
        out.append("Most of that is the limit for the fingers, which the proof leaves out.")
    elif gap > tuning.gap and clock.follows:
        moving = mine.travel_mm / situation.work.move_mm_s - parts["moving"]
        waiting = mine.wait_s - parts["cooling"]
        why = f"{show_duration(max(waiting, 0))} of waiting" if waiting > moving else ""
        why = why or f"{show_duration(max(moving, 0))} of moving"
        out.append(
            f"Most of that is {why} that cannot be proved necessary: the proof counts heat at the "
            "last weld and at the parts, not what the fingers feel or what builds up on the way."
        )
    if not clock.follows:
        out.append(
            "On a piece of this size the proof counts handling, turning and moving alone, and no "
            "freer order is searched for."
        )
    if situation.held and held_s > tuning.held_share * mine.bench_time_s:
        out.append(
            f"The limit for the fingers costs {show_duration(held_s)}: held with tweezers the "
            f"quickest pattern takes {show_duration(unheld_s)}."
        )
    return out


def _say_price(
    mine: OrderComparison,
    free: OrderComparison,
    tuning: SayTuning,
    *,
    gap: float,
    proved: bool,
    searched: bool,
) -> list[str]:
    """Say what being easy to follow costs."""
    better = mine.bench_time_s - free.bench_time_s
    at_once = ""
    if gap > tuning.proved_gap:
        at_once = " if each join is welded as soon as the limits allow"
    if proved and better <= tuning.close_s:
        by = " by more than a second" if better > 0 else ""
        return [f"All other orders have been ruled out: none is quicker{by}{at_once}."]
    if better > tuning.close_s:
        best = f"the best of all orders{at_once}" if proved else "the best order found"
        return [f"Being easy to follow costs {show_duration(better)} against {best}."]
    if searched:
        return [
            "Being easy to follow costs nothing that the search could find: no freer order tried "
            "is quicker."
        ]
    return []
