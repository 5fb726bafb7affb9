"""The rest of one piece's order: what is left of the old one, or a new one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.order import Earthing, Pass
from chainplan.model.said import said
from chainplan.reference.texts import in_english

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.bench.groups import PaceSettings
    from chainplan.model.job import Job
    from chainplan.model.order import WeldOrder
    from chainplan.model.plan import PiecePlan
    from chainplan.model.said import Phrase
    from chainplan.model.thermal.heat import HeatModel
    from chainplan.record.rest import FolderOrder, FolderPass


def rest_of_order(order: WeldOrder, old: FolderOrder, left: BoolArray) -> WeldOrder:
    """Keep what is left of the order that the folder has, with the numbers that its rows had."""
    from chainplan.order import seconds_by_cause

    kept = left[old.ring]
    if kept.all() and len(old.ring) == len(order.ring):
        return order
    pace_s = old.pace_s
    wait_s = old.wait_s[kept]
    all_waits_s = np.zeros(len(kept))
    all_waits_s[kept] = wait_s
    causes = _wait_limits(order, old)
    passes: list[Pass] = []
    for entry in old.passes:
        of_pass = old.pass_number == entry.number
        count = int((of_pass & kept).sum())
        if not count:
            continue
        text, line = entry.text, entry.said
        if count < int(of_pass.sum()):
            following = int(old.ring[of_pass & kept][0]) + 1
            line = said("line.left", text=line or text, n=count, ring=following)
            text = in_english(line)
        rest = of_pass & kept
        passes.append(
            _pass_of(entry, text, line, count, float(pace_s[rest].sum()),
                     float(all_waits_s[rest].sum()),
                     seconds_by_cause(causes[rest], all_waits_s[rest], order.limits))
        )  # fmt: skip
    first = np.cumsum([0, *(work.joins for work in passes)])
    passes = [
        replace(work, first_step=int(at)) for work, at in zip(passes, first[:-1], strict=True)
    ]
    worked_s = np.cumsum(pace_s[kept] + wait_s)
    return replace(
        order,
        ring=old.ring[kept],
        pass_number=old.pass_number[kept],
        start_s=worked_s,
        wait_s=wait_s,
        interpass_low_c=old.interpass_low_c[kept],
        interpass_usual_c=old.interpass_usual_c[kept],
        interpass_high_c=old.interpass_high_c[kept],
        passes=tuple(passes),
        row_step=old.step[kept],
        row_start_s=old.start_s[kept],
        wait_limit=causes[kept],
        row_wait_s=old.wait_s[kept],
        faster=(),
        earthing=_earthed(old, kept),
        **_times(pace_s[kept], wait_s),
    )


def _earthed(old: FolderOrder, kept: BoolArray) -> Earthing | None:
    """Tell how what is left is earthed: as the folder has it, the clip where it was to sit."""
    told = old.earthing
    if told is None:
        return None
    return Earthing(
        way=told.way,
        why=told.why,
        clip_ring=old.clip[kept] if old.clip is not None and len(old.clip) else None,
        clip_s=told.clip_s,
        tweezers_s=told.tweezers_s,
        times=(),
        said="Earthed as planned before.",
    )


def _wait_limits(order: WeldOrder, old: FolderOrder) -> IntArray:
    """Find the limit that asks for each wait by its name; −1 where there is none."""
    place = {check.name: k for k, check in reversed(list(enumerate(order.limits)))}
    return np.array([place.get(name, -1) for name in old.wait_for], dtype=np.int32)


def _pass_of(
    entry: FolderPass, text: str, line: Phrase | None, joins: int, work_s: float, wait_s: float,
    wait_for: Mapping[str, float],
) -> Pass:  # fmt: skip
    return Pass(
        number=entry.number, text=text, said=line, face=entry.face, first_step=0, joins=joins,
        seconds=work_s + wait_s, wait_s=wait_s, setting=entry.setting, wait_for=wait_for,
    )  # fmt: skip


def _times(pace_s: FloatArray, wait_s: FloatArray) -> dict[str, Any]:
    """Give the bench time of a rest, and the bound that needs no proof: the work without waits."""
    bench_s, work_s = float((pace_s + wait_s).sum()), float(pace_s.sum())
    return {
        "bench_time_s": bench_s,
        "lower_bound_s": work_s,
        "bound_parts": {"the work itself": work_s},
        "free_time_s": bench_s,
        "comparisons": (),
        "gains": None,
        "gained": ("What is left of an order that was planned before.",),
        "end_to_end": None,
        "trace_time_s": None,
        "trace_c": {},
    }


def ordered_anew(piece: PiecePlan, job: Job, welded: BoolArray) -> WeldOrder:
    """Order the joins that are left from the cold state, as if the others were closed already."""
    from chainplan.estimate import first_settings
    from chainplan.order import find_order

    joins = replace(piece.joins, welded=welded)
    settings = [line.setting for line in first_settings(job, piece.layout)]
    return find_order(
        piece.layout, joins, piece.heat, settings=settings, pace=job.bench.pace,
        limits=job.bench.heat, lead=job.bench.lead, seed=piece.order.seed,
    )  # fmt: skip


def too_warm(piece: PiecePlan, job: Job, order: WeldOrder) -> bool:
    """Whether an order of what is left, begun from cold, would pass a limit of temperature."""
    from chainplan.estimate import first_settings
    from chainplan.model.order import LimitKind
    from chainplan.order import verify_order

    open_now = np.zeros(piece.layout.rings, dtype=bool)
    open_now[order.ring] = True
    found = verify_order(
        piece.layout, replace(piece.joins, welded=~open_now & ~piece.joins.pre_closed),
        piece.heat, order.ring, order.start_s,
        settings=[line.setting for line in first_settings(job, piece.layout)],
        pace=pace_at_bench(order, job), limits=job.bench.heat,
    )  # fmt: skip
    aside = {(str(item.kind), item.name) for item in order.set_aside}
    return any(
        str(item.kind) in {str(kind) for kind in LimitKind}
        and (str(item.kind), item.limit) not in aside
        for item in found
    )


def timed_anew(piece: PiecePlan, job: Job, order: WeldOrder) -> WeldOrder:
    """Keep the order of what is left, and give it the shortest waits that keep every limit."""
    from chainplan.estimate import first_settings
    from chainplan.order import Before, resume_order

    open_now = np.zeros(piece.layout.rings, dtype=bool)
    open_now[order.ring] = True
    nothing = Before(ring=order.ring[:0], at_s=order.start_s[:0], ago_s=0.0)
    timed = resume_order(
        piece.layout, replace(piece.joins, welded=~open_now & ~piece.joins.pre_closed),
        piece.heat, nothing, order.ring, extra_s=_clip_moves_s(order),
        settings=[line.setting for line in first_settings(job, piece.layout)],
        pace=pace_at_bench(order, job), limits=job.bench.heat, seed=order.seed,
    )  # fmt: skip
    last_s = order.bench_time_s - float(order.start_s[-1])
    pace_s = np.diff(timed.start_s - np.cumsum(timed.wait_s), prepend=0.0)
    passes, ended_s = [], 0.0
    for work in order.passes:
        own = slice(work.first_step, work.first_step + work.joins)
        end_s = float(timed.start_s[own][-1])
        wait_s = float(timed.wait_s[own].sum())
        passes.append(replace(work, seconds=end_s - ended_s, wait_s=wait_s))
        ended_s = end_s
    return replace(
        order,
        start_s=timed.start_s,
        wait_s=timed.wait_s,
        row_start_s=timed.start_s,
        row_wait_s=timed.wait_s,
        interpass_low_c=timed.low_c,
        interpass_usual_c=timed.usual_c,
        interpass_high_c=timed.high_c,
        wait_limit=np.full(len(order.ring), -1, dtype=np.int32),
        passes=tuple(passes),
        **(_times(pace_s, timed.wait_s) | {"bench_time_s": float(timed.start_s[-1]) + last_s}),
    )


WARMER_K = 0.5
"""Rows are told anew from so much on: in whole degrees they are out by half a degree anyway."""


def _clip_moves_s(order: WeldOrder) -> FloatArray | None:
    """Seconds that moving the return lead's clip takes before each step; None without a clip."""
    earthing = order.earthing
    if earthing is None or earthing.clip_ring is None:
        return None
    clip = earthing.clip_ring
    moved: FloatArray = earthing.clip_s * (np.diff(clip, prepend=clip[:1]) != 0)
    return moved


def with_limits(piece: PiecePlan, job: Job, order: WeldOrder, heat: HeatModel) -> WeldOrder:
    """Say how warm everything gets in the order of what is left, begun from cold."""
    from chainplan.estimate import first_settings
    from chainplan.order import limits_of_order
    from chainplan.order.say.causes import seconds_by_cause

    if not len(order.ring):
        return order
    open_now = np.zeros(piece.layout.rings, dtype=bool)
    open_now[order.ring] = True
    checks, causes, before_c = limits_of_order(
        piece.layout, replace(piece.joins, welded=~open_now & ~piece.joins.pre_closed), heat,
        order.ring, order.start_s,
        settings=[line.setting for line in first_settings(job, piece.layout)],
        pace=pace_at_bench(order, job), limits=job.bench.heat, wait_s=order.wait_s, seed=order.seed,
        set_aside=order.set_aside,
    )  # fmt: skip
    # A wait that stays keeps the reason that its row and its pass tell.
    old = order.wait_limit
    if old is not None and order.limits:
        place = {check.name: k for k, check in reversed(list(enumerate(checks)))}
        moved = np.array([place.get(check.name, -1) for check in order.limits], dtype=np.int32)
        told = np.where(old >= 0, moved[np.clip(old, 0, len(moved) - 1)], -1)
        causes = np.where((told >= 0) & (order.wait_s > 0), told, causes).astype(np.int32)
    passes = []
    for work in order.passes:
        own = slice(work.first_step, work.first_step + work.joins)
        reasons = seconds_by_cause(causes[own], order.wait_s[own], checks)
        passes.append(replace(work, wait_for=reasons))
    # Rows tell what the whole order had, which is warmer, unless joins between them are left out.
    if order.row_step is None or not (np.diff(order.row_step) > 1).any():
        return replace(order, limits=checks, wait_limit=causes, passes=tuple(passes))
    names = ("interpass_low_c", "interpass_usual_c", "interpass_high_c")
    warm: dict[str, Any] = {
        name: np.where(now > getattr(order, name) + WARMER_K, now, getattr(order, name))
        for name, now in zip(names, before_c, strict=True)
    }
    return replace(order, limits=checks, wait_limit=causes, passes=tuple(passes), **warm)


def pace_at_bench(order: WeldOrder, job: Job) -> PaceSettings:
    """Give the hand's pace, with the grip of earthed tweezers where the order wants it."""
    pace = job.bench.pace
    return pace if order.earthing is None else order.earthing.pace_of(pace)


def told_anew(piece: PiecePlan, job: Job, order: WeldOrder, heat: HeatModel) -> PiecePlan:
    """Put what is left in a piece's place, with what is said of what stands by.

    ``heat`` is the piece's with the hits that repairs have beyond the usual ones.
    Its chance is that of the whole order and was not drawn anew, so it is no longer told.
    """
    from chainplan.heat import say_stand_by, stand_by
    from chainplan.order.say.chances import say_chance

    near_mm = job.bench.electrode.beforehand_distance_mm
    aside = bool(order.set_aside)
    past = {
        *say_chance(piece.order.chance, some_aside=aside),
        *say_chance(order.chance, some_aside=aside),
        *say_stand_by(piece.stand_by, near_mm),
    }
    standing = stand_by(
        piece.layout, heat, piece.piece.parts, joins_mm=piece.joins.point_mm,
        in_place=~piece.joins.pre_closed, ring=order.ring, start_s=order.start_s, near_mm=near_mm,
    )  # fmt: skip
    advice = (text for text in order.advice if text not in past)
    order = replace(order, chance=None, advice=(*advice, *say_stand_by(standing, near_mm)))
    return replace(piece, order=order, stand_by=standing)
