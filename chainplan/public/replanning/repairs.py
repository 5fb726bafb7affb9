"""Joins that are to be welded again, in passes of their own behind the rest."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.order import Pass
from chainplan.model.piece.joins import FACES
from chainplan.model.said import said
from chainplan.public.replanning.rest import pace_at_bench, with_limits
from chainplan.reference.texts import in_english

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.job import Job
    from chainplan.model.order import WeldOrder, WeldSetting
    from chainplan.model.plan import PiecePlan
    from chainplan.model.thermal.heat import HeatModel
    from chainplan.record.rest import PieceState


@dataclass(frozen=True)
class _Group:
    """Joins that are welded again in one pass: of one kind, face and setting."""

    rings: IntArray
    kind: str  # "again", "replaced"
    more: int  # hits beyond the usual ones
    setting: WeldSetting
    face: int
    first: tuple[int, ...]  # copies, from 1, that are welded here for the first time


def with_repairs(
    piece: PiecePlan, job: Job, order: WeldOrder, state: PieceState
) -> tuple[WeldOrder, HeatModel, str]:
    """Put the joins that are to be welded again behind the rest, with the waits that they need.

    The heat of the rest, and that of one more hit, is simulated with them; waits are the shortest
    that keep every limit at the bad end. Returned with the order: the piece's heat with those hits,
    and what is said.
    """
    groups, heat = _groups(piece, job, state), piece.heat
    if groups:
        order, heat = _appended(piece, job, order, groups)
    told = []
    for words, which in (("with one more hit", state.again), ("with a new ring", state.replaced)):
        numbers = (np.flatnonzero(which) + 1).tolist()
        if numbers:
            shown = ", ".join(map(str, numbers[:12])) + (" …" if len(numbers) > 12 else "")
            noun = "ring" if len(numbers) == 1 else "rings"
            verb = "comes" if len(numbers) == 1 else "come"
            told.append(f"{noun} {shown} {verb} back at the end, {words}")
    return order, heat, f"{piece.piece.name}: {'; '.join(told)}."


def _groups(piece: PiecePlan, job: Job, state: PieceState) -> list[_Group]:
    from chainplan.estimate import first_settings

    layout, joins = piece.layout, piece.joins
    settings = [line.setting for line in first_settings(job, layout)]
    found = []
    for kind, which, more in (
        ("again", state.again, 1),
        ("replaced", state.replaced, 0),
    ):
        rings = np.flatnonzero(which & ~joins.pre_closed).astype(np.int32)
        keys = np.unique(np.stack([joins.face[rings], layout.material[rings]]), axis=1).T.tolist()
        for face, material in keys:
            mine = (joins.face[rings] == face) & (layout.material[rings] == material)
            some = rings[mine]
            untouched = (~state.touched[: piece.piece.quantity, some]).any(axis=1)
            first = [*(np.flatnonzero(untouched) + 1).tolist(),
                     *range(len(state.touched) + 1, piece.piece.quantity + 1)]  # fmt: skip
            found.append(_Group(some, kind, more, settings[material], face, tuple(first)))
    return found


def _appended(
    piece: PiecePlan, job: Job, order: WeldOrder, groups: Sequence[_Group]
) -> tuple[WeldOrder, HeatModel]:
    """Time the repairs behind an order and give each group its pass."""
    from chainplan.estimate import first_settings
    from chainplan.order import Before, resume_order
    from chainplan.public.pieces import heat_of

    layout, pace = piece.layout, pace_at_bench(order, job)
    settings = [line.setting for line in first_settings(job, layout)]
    energy_j = np.array([s.power_j * s.hits for s in settings])[layout.material]
    for group in groups:
        energy_j[group.rings] += group.more * group.setting.power_j
    ring = np.concatenate([group.rings for group in groups]).astype(np.int32)
    open_now = np.zeros(layout.rings, dtype=bool)
    open_now[ring] = True
    after_s, extra_s = np.zeros(len(ring)), np.zeros(len(ring) + 1)
    first = np.cumsum([0, *(len(group.rings) for group in groups)])
    for group, begin, end in zip(groups, first[:-1], first[1:], strict=True):
        after_s[begin:end] = (group.setting.hits - 1 + group.more) * pace.extra_hit_s
        extra_s[begin + 1 : end + 1] += group.more * pace.extra_hit_s
        extra_s[begin] += pace.change_setting_s
    if order.passes and FACES[groups[0].face] != order.passes[-1].face:
        extra_s[0] += pace.turn_s
    if order.earthing is not None and order.earthing.clip_ring is not None:
        extra_s[:-1] += order.earthing.clip_s  # the clip goes onto each of them
    if len(order.ring):
        ways = piece.joins.point_mm[[order.ring[-1], ring[0]], :2]
        extra_s[0] += float(np.linalg.norm(ways[1] - ways[0])) / pace.move_mm_s
    rest_s = order.bench_time_s - float(order.start_s[-1]) if len(order.ring) else 0.0
    heat = heat_of(job, piece.piece, layout, energy_j)
    timed = resume_order(
        layout,
        replace(piece.joins, welded=~open_now & ~piece.joins.pre_closed),
        heat,
        Before(ring=order.ring, at_s=order.start_s, ago_s=rest_s),
        ring,
        extra_s=extra_s[:-1],
        settings=settings,
        pace=pace,
        limits=job.bench.heat,
        seed=order.seed,
    )
    start_s = order.bench_time_s + timed.start_s
    for group, begin, end in zip(groups, first[:-1], first[1:], strict=True):
        own = slice(int(begin), int(end))
        order = _repair_pass(
            order, group, start_s[own], timed.wait_s[own], float(after_s[own][-1]),
            (timed.low_c[own], timed.usual_c[own], timed.high_c[own]),
        )  # fmt: skip
    return with_limits(piece, job, order, heat), heat


def _note(group: _Group) -> str:
    """Say for which copies a pass of repairs is the first weld: they get the usual hits."""
    if not group.first or not group.more:
        return group.setting.note
    hits = said("hits", n=group.setting.hits)
    copies = ", ".join(map(str, group.first))
    told = in_english(said("note.first", n=len(group.first), copies=copies, hits=hits))
    return f"{group.setting.note}; {told}" if group.setting.note else told


def _repair_pass(
    order: WeldOrder,
    group: _Group,
    start: FloatArray,
    wait_s: FloatArray,
    after_s: float,
    before_c: tuple[FloatArray, FloatArray, FloatArray],
) -> WeldOrder:
    """Put one group behind an order: its rows, its pass and its time."""
    rings, count = group.rings, len(group.rings)
    hits = group.setting.hits + group.more
    seconds = float(start[-1]) + after_s - order.bench_time_s
    work_s = seconds - float(wait_s.sum())
    earthing = order.earthing
    if earthing is not None and earthing.clip_ring is not None:
        clip_ring = np.concatenate([earthing.clip_ring, rings]).astype(np.int32)
        earthing = replace(earthing, clip_ring=clip_ring)
    number = max((work.number for work in order.passes), default=0) + 1
    numbers = ", ".join(map(str, (rings + 1).tolist()[:20])) + (" …" if count > 20 else "")
    face = FACES[group.face]
    word = "one" if count == 1 else "many"
    line = said(
        "line.repair", face=said(f"face.{face}"), kind=said(f"line.repair.{group.kind}"),
        rings=said(f"line.named.{word}.ring", number=numbers, numbers=numbers),
        joins=said("line.joins", n=count),
    )  # fmt: skip
    work = Pass(
        number=number, text=in_english(line), said=line, face=face,
        first_step=len(order.ring), joins=count,
        seconds=seconds, wait_s=float(wait_s.sum()),
        setting=replace(group.setting, hits=hits, note=_note(group)),
    )  # fmt: skip
    steps = order.row_step if order.row_step is not None else np.arange(1, len(order.ring) + 1)
    last = int(steps.max(initial=0))
    rows_s = order.start_s if order.row_start_s is None else order.row_start_s
    begun_s = float(order.start_s[-1]) if len(order.ring) else 0.0
    row_start_s = float(rows_s.max(initial=0.0)) + start - begun_s
    more_rows: dict[str, Any] = {
        "row_step": np.concatenate([steps, last + np.arange(1, count + 1)]).astype(np.int32),
        "row_start_s": np.concatenate([rows_s, row_start_s]),
        "row_wait_s": np.concatenate(
            [order.wait_s if order.row_wait_s is None else order.row_wait_s, wait_s]
        ),
    }
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(order, name), values])
        for name, values in {
            "ring": rings, "pass_number": np.full(count, number, dtype=np.int32), "start_s": start,
            "wait_s": wait_s, "interpass_low_c": before_c[0], "interpass_usual_c": before_c[1],
            "interpass_high_c": before_c[2],
        }.items()
    }  # fmt: skip
    if order.wait_limit is not None and "wait_limit" not in joined:
        none = np.full(count, -1, dtype=np.int32)
        joined["wait_limit"] = np.concatenate([order.wait_limit, none])
    return replace(
        order,
        **joined,
        **more_rows,
        passes=(*order.passes, work),
        earthing=earthing,
        bench_time_s=order.bench_time_s + seconds,
        free_time_s=order.free_time_s + seconds,
        lower_bound_s=order.lower_bound_s + work_s,
        bound_parts={
            **order.bound_parts,
            "repairs": order.bound_parts.get("repairs", 0.0) + work_s,
        },
    )
