"""What the order gained, said honestly: at the usual values first, and never against idle waits."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import LimitKind
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.model.order import Chance, Gains, OrderComparison, SetAside, Unpaused
    from chainplan.order.clock.protocol import Clock
    from chainplan.order.search.choose import Followable
    from chainplan.order.tuning import SayTuning


def say_gained(
    clock: Clock,
    chosen: Followable,
    comparisons: Sequence[OrderComparison],
    parts: Mapping[str, float],
    gains: Gains,
    chance: Chance | None,
    *,
    proved: bool,
) -> tuple[str, ...]:
    """Say in plain sentences what the order gained, and what it did not."""
    if not chosen.settled.feasible:
        return ("No order can keep the limits: see the advice.",)
    by_name = {item.name: item for item in comparisons}
    mine, free = by_name["to follow"], by_name["free"]
    aside = clock.situation.set_aside
    out = [_say_set_aside(aside)] if aside else []
    out.append(say_ends(gains, other=bool(aside)) + say_benches(gains, chance))
    out.append(
        "Order lowers peaks only: every order brings the same heat into the piece, so fingers and "
        "parts are as warm on average in a job of the same length."
    )
    bound_s = sum(parts.values())
    gap = mine.bench_time_s / bound_s - 1 if bound_s > 0 else 0.0
    out += _say_gap(clock, mine, parts, gap=gap, unheld_s=chosen.unheld_s)
    out += _say_price(mine, free, clock.situation.tuning.say, gap=gap, proved=proved,
                      searched=clock.follows)  # fmt: skip
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


def say_ends(gains: Gains, *, other: bool = False) -> str:
    """Compare with end to end: at the usual values first, then at the bad end.

    ``other``: some limit has been set aside.
    """
    which = "every other limit" if other else "every limit"
    broken = [item for item in gains.unpaused if item.high_after_s is not None]
    if not broken:
        kept, near = (
            f"End to end keeps {which} without a pause, at the bad end too",
            _say_near(gains),
        )
        if gains.is_end_to_end:
            return f"{kept}: weld one after another.{near}"
        moving_s = max(gains.unpaused_s - gains.order_s, 0.0)
        return f"{kept}; this order only saves {show_duration(moving_s)} of moving.{near}"
    crossed = f"Welded end to end without a pause, {_say_crossings(broken)}."
    if gains.is_end_to_end:
        return (
            "No other order is worth following here: weld end to end, with "
            f"{show_duration(gains.order_wait_s)} of pauses. {crossed}"
        )
    saved, first = _say_saved(gains)
    kept = _say_kept(broken)
    return f"{saved} {crossed} {kept}" if first else f"{crossed} {kept} {saved}"


def say_benches(gains: Gains, chance: Chance | None) -> str:
    """Say how many plausible benches could weld end to end without a pause, and how many this way.

    Empty where chance was not reckoned, where hardly any bench fails, or where end to end is taken.
    """
    share = gains.unpaused_kept
    if chance is None or share is None or gains.is_end_to_end or gains.asked_by is None:
        return ""
    return (
        f" Of 100 plausible benches {_in_100(share)} could weld end to end without a pause, and "
        f"{_in_100(chance.keeps_all)} can follow this order."
    )


def _in_100(share: float) -> int:
    """Round a share down to whole benches of a hundred."""
    return math.floor(100 * share + 1e-9)


def _say_near(gains: Gains) -> str:
    """Say what comes nearest to its limit end to end without a pause."""
    warm = [item for item in gains.unpaused if item.high_c - item.usual_c >= 1]
    if not warm:
        return ""
    item = min(warm, key=lambda item: item.limit_c - item.high_c)
    return (
        f" Nearest to its limit comes the {item.said}: {item.usual_c:.0f} °C at the usual values, "
        f"{item.high_c:.0f} °C at the bad end, limit {item.limit_c:.0f} °C."
    )


def _the(item: Unpaused) -> str:
    """Name what a limit is of, as the subject of a sentence."""
    if item.kind is LimitKind.FINGERS:
        return "the fingers"
    return f"the {item.name}" if item.kind is LimitKind.PART else "rings before their welds"


def _limit(item: Unpaused) -> str:
    """Name a limit, and what asks for it where the subject does not say so."""
    limit = f"{item.limit_c:.0f} °C"
    if item.kind in (LimitKind.FINGERS, LimitKind.PART):
        return limit
    reason = "your own limit" if item.kind is LimitKind.INTERPASS else item.name.split(", ")[0]
    return f"{limit} ({reason})"


def _listed(words: Sequence[str]) -> str:
    """Join words as people do: "one, two and three"."""
    return " and ".join([*([", ".join(words[:-1])] if words[1:] else []), words[-1]])


def _say_crossings(broken: Sequence[Unpaused]) -> str:
    """Say which limits are passed, and when: at the usual values first, then at the bad end."""
    usual = sorted(
        (item for item in broken if item.usual_after_s is not None),
        key=lambda item: item.usual_after_s or 0.0,
    )
    bad = sorted(
        (item for item in broken if item.usual_after_s is None),
        key=lambda item: item.high_after_s or 0.0,
    )
    said = []
    if usual:
        said.append(
            _listed(
                [_say_crossing(item, usual[k - 1] if k else None) for k, item in enumerate(usual)]
            )
        )
    if bad:
        each = [
            f"{'' if k and _the(bad[k - 1]) == _the(item) else _the(item) + ' '}"
            f"{'' if usual or k else 'would pass '}{_limit(item)} "
            f"after {show_duration(item.high_after_s or 0)}"
            for k, item in enumerate(bad)
        ]
        holds = "" if usual else "every limit holds at the usual values, but "
        also = " also" if usual else ""
        said.append(f"{holds}at the bad end{also} {_listed(each)}")
    return ", ".join(said)


def _say_crossing(item: Unpaused, before: Unpaused | None) -> str:
    """Say when a limit is passed that does not hold at the usual values either.

    ``before``: what has been said just before; what both are of is not said twice.
    """
    usual, bad = show_duration(item.usual_after_s or 0), show_duration(item.high_after_s or 0)
    would, where = ("", "") if before else ("would pass ", " at the usual values")
    at_bad = "as soon" if usual == bad else bad
    whose = "" if before and _the(before) == _the(item) else f"{_the(item)} "
    return f"{whose}{would}{_limit(item)} after {usual}{where} ({at_bad} at the bad end)"


def _say_kept(broken: Sequence[Unpaused]) -> str:
    """Say how warm the same things stay in the order to follow."""
    each: dict[str, tuple[float, float]] = {}
    one = {_the(item) for item in broken if item.kind is LimitKind.PART}
    for item in broken:
        known = each.get(_the(item), (-np.inf, -np.inf))
        each[_the(item)] = (
            max(known[0], item.order_usual_c),
            max(known[1], item.order_high_c),
        )
    said = [
        f"{name} {('stays ' if name in one else 'stay ') if k == 0 else ''}below {_above(usual)} °C"
        f" ({_above(high)}{' at the bad end' if k == 0 else ''})"
        for k, (name, (usual, high)) in enumerate(each.items())
    ]
    return f"In this order {_listed(said)}."


def _above(warm_c: float) -> int:
    """Round up to a whole degree that the temperature stays below."""
    return int(np.ceil(warm_c + 1e-9))


def _say_saved(gains: Gains) -> tuple[str, bool]:
    """Say what the order saves against end to end with its pauses.

    Returns
    -------
    str, bool
        The words, and whether they come first: where order gains little, at least usually.
    """
    usual, high = gains.saved_usual_s, gains.saved_high_s
    if high is None:
        return "End to end cannot keep the limits with any pauses; this order can.", False
    order, ends = show_duration(gains.order_s), show_duration(gains.order_s + high)
    more = "" if gains.fingers_counted else " or more (pauses for the fingers not counted)"
    paused = "end to end with the pauses that it needs"
    if high < gains.little_s:
        gained = "little" if high > 0 else "no time"
        return (
            f"Order gains {gained} here: {paused} takes {ends}{more} at the bad end, this order "
            f"{order}.",
            True,
        )
    if usual is None or usual < gains.little_s:
        text = "This order pays only where the bench runs hot (the bad end)."
        return f"{text} {_say_usually(gains, ends, more)}", True
    return (
        f"Against {paused} you save {show_duration(usual)} at the usual values and "
        f"{show_duration(high)}{more} at the bad end "
        f"({show_duration(gains.order_s + usual)} and {ends} against {order}).",
        False,
    )


def _say_usually(gains: Gains, ends: str, more: str) -> str:
    """Say what end to end takes if all is as usual, and what to be safe at the bad end."""
    order = show_duration(gains.order_s)
    safe = (
        f"with pauses that are enough at the bad end too, end to end takes {ends}{more}, and this "
        "order keeps every limit there."
    )
    if gains.ends_usual_s is None:
        return f"W{safe[1:]}"
    bare = gains.ends_usual_s <= gains.unpaused_s + 0.05
    how = "without a pause" if bare else "with the pauses that it needs"
    usual = show_duration(gains.ends_usual_s)
    if usual == order:
        alike = f"{usual} {how}, about as long as this order"
        return f"At the usual values end to end takes {alike}; {safe}"
    return f"At the usual values end to end takes {usual} {how}, this order {order}; {safe}"


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
        counted = (
            ": the proof counts it for each place of an order by itself, not which cool place is "
            "held when."
        )
        left_out = ", which the proof leaves out on a piece of so many joins."
        few = situation.work.joins <= situation.tuning.proof.most_assignment_joins
        out.append(f"Most of that is the limit for the fingers{counted if few else left_out}")
    elif gap > tuning.gap and clock.follows:
        moving = mine.travel_mm / situation.work.move_mm_s - parts["moving"]
        waiting = mine.wait_s - parts["cooling"]
        why = f"{show_duration(max(waiting, 0))} of waiting" if waiting > moving else ""
        why = why or f"{show_duration(max(moving, 0))} of moving"
        out.append(
            f"Most of that is {why} that cannot be proved necessary: the proof counts heat at one "
            "weld at a time and at the parts, not all that builds up on the way."
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
        if gap <= tuning.proved_gap:
            return ["All other orders have been ruled out: none is quicker."]
        return [
            "All other orders that weld each join at the first whole second at which the limits "
            "allow it have been ruled out: none is quicker by more than a second."
        ]
    if better > tuning.close_s:
        best = f"the best of all orders{at_once}" if proved else "the best order found"
        return [f"Being easy to follow costs {show_duration(better)} against {best}."]
    if searched:
        return [
            "Being easy to follow costs nothing that the search could find: no freer order tried "
            "is quicker."
        ]
    return []
