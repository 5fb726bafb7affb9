"""What the person at the bench is told of a piece: notes, waits, holding, every limit in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import ReturnLead
from chainplan.model.order import LimitKind
from chainplan.units import show_duration, show_wait

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from chainplan.arrays import FloatArray
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.order import Earthing, LimitCheck, Pass, WeldOrder, WeldSetting
    from chainplan.model.piece.layout import Layout
    from chainplan.model.plan import PiecePlan


SHORTEST_WAIT_S = 0.5
"""Waits below are not worth a word: moving the hand takes longer."""


def setting_text(setting: WeldSetting) -> str:
    """Write a welder setting in words."""
    hits = "1 hit" if setting.hits == 1 else f"{setting.hits} hits"
    return f"{setting.power_j:.3g} J, {hits}, {setting.tip} tip"


def say_joins(first: int, count: int) -> str:
    """Name joins that follow one another by their numbers.

    Examples
    --------
    >>> say_joins(166, 1), say_joins(13, 12)
    ('join 166', 'joins 13–24')
    """
    return f"join {first}" if count == 1 else f"joins {first}–{first + count - 1}"


def say_counts(rings: int, joins: int) -> str:
    """Say how many rings and joins a piece has.

    Examples
    --------
    >>> say_counts(456, 456), say_counts(1, 1)
    ('456 rings, 456 joins', '1 ring, 1 join')
    """
    return f"{rings} ring{'' if rings == 1 else 's'}, {joins} join{'' if joins == 1 else 's'}"


def say_waits(waits_s: FloatArray, first: int) -> str:
    """Say the waits before joins that follow one another, the first of them by its number."""
    long = np.flatnonzero(waits_s >= SHORTEST_WAIT_S)
    if not len(long):
        return "no waits"
    if len(long) == len(waits_s) > 1 and np.ptp(waits_s) < 1.0:
        return f"wait {show_wait(float(waits_s.max()))} before each join"
    if len(long) > 4:
        total = show_duration(float(waits_s.sum()))
        return f"{len(long)} waits, {total} in all: see the bench sheet"
    said = (f"{show_wait(float(waits_s[k]))} before join {first + k}" for k in long)
    return "wait " + ", ".join(said)


def limit_text(check: LimitCheck) -> str:
    """Say how warm something gets at the usual values and at the bad end, in whole degrees.

    A broken limit is rounded up, so that the numbers do not read as if it held.
    """
    warmest = round(check.high_c) if check.holds else math.ceil(check.high_c)
    too_warm = "" if check.holds else "TOO WARM, "
    return (
        f"{check.said}: {too_warm}usually {check.usual_c:.0f} °C, warmest {warmest} °C, "
        f"limit {check.limit_c:.0f} °C"
    )


def limits_in_words(checks: Iterable[LimitCheck]) -> list[str]:
    """Say every limit once; of parts of one name the warmest counts."""
    warmest: dict[str, LimitCheck] = {}
    for check in checks:
        known = warmest.get(check.name)
        if known is None or check.high_c - check.limit_c > known.high_c - known.limit_c:
            warmest[check.name] = check
    return [limit_text(check) for check in warmest.values()]


def say_pass(work: Pass) -> str:
    """Return a pass in words without its face, for places where a tag shows that."""
    return work.text.removeprefix(f"{work.face}, ")


def loose_rings(layout: Layout) -> npt.NDArray[np.bool_]:
    """Tell which rings hang in no weave, shape (n,): nobody holds a chain at them."""
    forms = np.array([section.form == "loose" for section in layout.sections])
    return np.asarray(forms[layout.section], dtype=np.bool_)


def fingers_hold(order: WeldOrder) -> bool:
    """Whether fingers hold the piece at any join: a short one has no place that far from it."""
    return any(check.kind is LimitKind.FINGERS for check in order.limits)


_EARTHED = {
    ReturnLead.TWEEZERS: "Grip each ring with the earthed tweezers while it is welded.",
    ReturnLead.BLOCK: "Lay the piece on the earthed block, the ring to be welded resting on it.",
}


def earthed_how(earthing: Earthing) -> str:
    """Say what to do with the return lead."""
    if earthing.way is not ReturnLead.CLIP:
        return _EARTHED[earthing.way]
    places = earthing.clip_places
    put = f"Clip the return lead onto ring {places[0] + 1}"
    if len(places) == 1:
        return f"{put} and leave it there."
    times = "once" if len(places) == 2 else f"{len(places) - 1} times"
    return f"{put}; it is moved {times}, where the passes and the bench sheet say so."


def near_an_end(heat: HeatSettings) -> str:
    """Say how an end is held, where that differs."""
    return "; near an end hold that end with cross-lock tweezers" if ends_in_tweezers(heat) else ""


def ends_in_tweezers(heat: HeatSettings) -> bool:
    """Whether tweezers hold an end of a piece that fingers hold elsewhere."""
    return heat.held_bare and heat.end_tweezers and heat.sides_held == 1


def instructions(plan: PiecePlan, heat: HeatSettings) -> list[str]:
    """Say what to do with a piece: the user's notes, waits, how to hold it, its limits."""
    order = plan.order
    lines = [f"Note: {plan.piece.notes}"] if plan.piece.notes.strip() else []
    if not order.ring.size:
        return lines
    waits = order.wait_s[order.wait_s >= SHORTEST_WAIT_S]
    if waits.size:
        said = "1 wait" if waits.size == 1 else f"{waits.size} waits"
        total = show_duration(float(waits.sum()))
        do = f"{said}, {total} in all, where two strokes stand before a number."
    else:
        do = "No waits: weld on without a pause."
    if not loose_rings(plan.layout)[order.ring].all():
        far = f"{heat.hold_from_mm:g} to {heat.hold_to_mm:g} mm away from the join"
        if heat.held_bare and not fingers_hold(order):
            do += f" It is too short to be held {far}: hold it with cross-lock tweezers at an end."
        else:
            how = "your fingers" if heat.held_bare else "cross-lock tweezers or a clamp"
            side = "on both sides" if heat.sides_held > 1 else "on its cooler side"
            do += f" Hold it with {how}, {far}, {side}{near_an_end(heat)}."
    lines.append(do)
    if order.earthing is not None:
        lines.append(earthed_how(order.earthing))
    limits = " · ".join(limits_in_words(order.limits))
    if limits:
        lines.append(limits[:1].upper() + limits[1:])
    if any(check.kind is LimitKind.METAL for check in order.limits):
        lines.append(
            "What the metal does counts before a ring's weld: its own is over in seconds, under "
            "argon, and the same in every order."
        )
    return lines
