"""What the person at the bench is told of a piece: notes, waits, holding, every limit in words.

``t``: the texts of the language that is spoken there.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import ReturnLead
from chainplan.model.order import LimitKind
from chainplan.model.said import Phrase, said, said_effect, said_part
from chainplan.reference.texts import ENGLISH
from chainplan.units import show_duration, show_wait

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from chainplan.arrays import FloatArray
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.order import (
        Earthing,
        LimitCheck,
        Pass,
        SetAside,
        WeldOrder,
        WeldSetting,
    )
    from chainplan.model.piece.layout import Layout
    from chainplan.model.plan import PiecePlan
    from chainplan.reference import Caution
    from chainplan.reference.texts import Texts


SHORTEST_WAIT_S = 0.5
"""Waits below are not worth a word: moving the hand takes longer."""


def setting_text(setting: WeldSetting, t: Texts = ENGLISH) -> str:
    """Write a welder setting in words."""
    hits = said("hits", n=setting.hits)
    return t("setting", power=f"{setting.power_j:.3g}", hits=hits, tip=t(f"tip.{setting.tip}"))


def say_joins(first: int, count: int, t: Texts = ENGLISH) -> str:
    """Name joins that follow one another by their numbers.

    Examples
    --------
    >>> say_joins(166, 1), say_joins(13, 12)
    ('join 166', 'joins 13–24')
    """
    if count == 1:
        return t("sheet.join", number=first)
    return t("sheet.joins", first=first, last=first + count - 1)


def say_waits(waits_s: FloatArray, first: int, t: Texts = ENGLISH) -> str:
    """Say the waits before joins that follow one another, the first of them by its number."""
    long = np.flatnonzero(waits_s >= SHORTEST_WAIT_S)
    if not len(long):
        return t("sheet.wait.none")
    if len(long) == len(waits_s) > 1 and np.ptp(waits_s) < 1.0:
        return t("sheet.wait.each", time=show_wait(float(waits_s.max())))
    if len(long) > 4:
        total = show_duration(float(waits_s.sum()))
        return t("sheet.wait.many", n=len(long), time=total)
    each = (
        t("sheet.wait.one", time=show_wait(float(waits_s[k])), number=first + int(k)) for k in long
    )
    return t("sheet.wait.at", waits=", ".join(each))


def limit_name(check: LimitCheck | SetAside) -> Phrase | str:
    """Name a limit; rings are meant before their welds, and a part has its own name."""
    if check.kind is LimitKind.INTERPASS:
        return said("limit.each_ring")
    if check.kind is LimitKind.FINGERS:
        return said("limit.fingers")
    if check.kind is LimitKind.PART:
        return said_part(check.name)
    return said("limit.before", effect=said_effect(check.name))


def limit_text(check: LimitCheck, t: Texts = ENGLISH) -> str:
    """Say how warm something gets at the usual values and at the bad end, in whole degrees.

    A broken limit is rounded up, so that the numbers do not read as if it held.
    """
    warmest = round(check.high_c) if check.holds else math.ceil(check.high_c)
    key = "limit.holds" if check.holds else "limit.broken"
    usual, limit = f"{check.usual_c:.0f}", f"{check.limit_c:.0f}"
    return t(key, name=limit_name(check), usual=usual, degrees=warmest, limit=limit)


def limits_in_words(checks: Iterable[LimitCheck], t: Texts = ENGLISH) -> list[str]:
    """Say every limit once; of parts of one name the warmest counts."""
    warmest: dict[str, LimitCheck] = {}
    for check in checks:
        known = warmest.get(check.name)
        if known is None or check.high_c - check.limit_c > known.high_c - known.limit_c:
            warmest[check.name] = check
    return [limit_text(check, t) for check in warmest.values()]


def topic_key(topic: str) -> str:
    """Key of the text of a caution's topic.

    Examples
    --------
    >>> topic_key("arc light")
    'topic.arc_light'
    """
    return f"topic.{topic.replace(' ', '_')}"


def source_in(caution: Caution, t: Texts) -> str:
    """Tell a caution's source: a title as it was published, or that there is none."""
    practice = ENGLISH("source.practice")
    return caution.source.replace(practice, t("source.practice"))


def pass_text(work: Pass, t: Texts = ENGLISH) -> str:
    """Return a pass in words; one that was planned before languages stands in English."""
    return work.text if work.said is None else t.say(work.said)


def say_pass(work: Pass, t: Texts = ENGLISH) -> str:
    """Return a pass in words without its face, for places where a tag shows that."""
    return pass_text(work, t).removeprefix(f"{t(f'face.{work.face.split()[0]}')}, ")


def loose_rings(layout: Layout) -> npt.NDArray[np.bool_]:
    """Tell which rings hang in no weave, shape (n,): nobody holds a chain at them."""
    forms = np.array([section.form == "loose" for section in layout.sections])
    return np.asarray(forms[layout.section], dtype=np.bool_)


def fingers_hold(order: WeldOrder) -> bool:
    """Whether fingers hold the piece at any join: a short one has no place that far from it."""
    return any(check.kind is LimitKind.FINGERS for check in order.limits)


def earthed_how(earthing: Earthing, t: Texts = ENGLISH) -> str:
    """Say what to do with the return lead."""
    if earthing.way is not ReturnLead.CLIP:
        return t(f"earthed.{earthing.way}")
    places = earthing.clip_places
    moves = len(places) - 1
    key = {0: "earthed.clip", 1: "earthed.clip_once"}.get(moves, "earthed.clip_moved")
    return t(key, ring=places[0] + 1, times=moves)


def ends_in_tweezers(heat: HeatSettings) -> bool:
    """Whether tweezers hold an end of a piece that fingers hold elsewhere."""
    return heat.held_bare and heat.end_tweezers and heat.sides_held == 1


def instructions(plan: PiecePlan, heat: HeatSettings, t: Texts = ENGLISH) -> list[str]:
    """Say what to do with a piece: the user's notes, waits, how to hold it, its limits."""
    order = plan.order
    lines = [t("note.of_piece", note=plan.piece.notes)] if plan.piece.notes.strip() else []
    if not order.ring.size:
        return lines
    waits = order.wait_s[order.wait_s >= SHORTEST_WAIT_S]
    do = t("sheet.no_waits")
    if waits.size:
        do = t("sheet.waits", n=waits.size, time=show_duration(float(waits.sum())))
    if not loose_rings(plan.layout)[order.ring].all():
        do += f" {_say_hold(heat, t, short=heat.held_bare and not fingers_hold(order))}"
    lines.append(do)
    if order.earthing is not None:
        lines.append(earthed_how(order.earthing, t))
    limits = " · ".join(limits_in_words(order.limits, t))
    if limits:
        lines.append(limits[:1].upper() + limits[1:])
    if any(check.kind is LimitKind.METAL for check in order.limits):
        lines.append(t("sheet.metal"))
    return lines


def _say_hold(heat: HeatSettings, t: Texts, *, short: bool) -> str:
    """Say what a piece is held with, and where."""
    how = "fingers" if heat.held_bare else "tweezers"
    side = "_both" if heat.sides_held > 1 else "_end" if ends_in_tweezers(heat) else ""
    key = "sheet.hold.short" if short else f"sheet.hold.{how}{side}"
    return t(key, **{"from": f"{heat.hold_from_mm:g}", "to": f"{heat.hold_to_mm:g}"})
