"""Joins that are to be welded again, in passes of their own behind the rest."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.order import Pass
from chainplan.model.piece.joins import FACES

if TYPE_CHECKING:
    from chainplan.arrays import IntArray
    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.job import Job
    from chainplan.model.order import WeldOrder, WeldSetting
    from chainplan.model.plan import PiecePlan
    from chainplan.record.rest import PieceState

COOL_S = 60.0
"""Wait before each join that is welded again: they are few, and lie anywhere."""


def with_repairs(
    piece: PiecePlan, job: Job, order: WeldOrder, state: PieceState
) -> tuple[WeldOrder, str]:
    """Put the joins that are to be welded again behind the rest, each after a wait to cool."""
    from chainplan.estimate import settings_of_layout

    layout, pace, limits = piece.layout, job.bench.pace, job.bench.heat
    if order.earthing is not None:
        pace = order.earthing.pace_of(pace)
    settings = [line.setting for line in settings_of_layout(job, layout)]
    joins = piece.joins
    for number_of_kind, (kind, which, more) in enumerate(
        (("not good: welded again with one more hit", state.again, 1),
         ("ring replaced: welded anew", state.replaced, 0))
    ):  # fmt: skip
        rings = np.flatnonzero(which & ~joins.pre_closed).astype(np.int32)
        rings = rings[np.lexsort((rings, layout.material[rings], joins.face[rings]))]
        for face in np.unique(joins.face[rings]).tolist():
            for material in np.unique(layout.material[rings]).tolist():
                some = rings[(joins.face[rings] == face) & (layout.material[rings] == material)]
                if len(some):
                    order = _repair_pass(
                        order, some, kind, more, settings[material], int(face), pace, limits,
                        turned=number_of_kind > 0 or bool(order.passes),
                    )  # fmt: skip
    told = []
    for words, which in (("with one more hit", state.again), ("with a new ring", state.replaced)):
        numbers = (np.flatnonzero(which) + 1).tolist()
        if numbers:
            shown = ", ".join(map(str, numbers[:12])) + (" …" if len(numbers) > 12 else "")
            noun = "ring" if len(numbers) == 1 else "rings"
            verb = "comes" if len(numbers) == 1 else "come"
            told.append(f"{noun} {shown} {verb} back at the end, {words}")
    return order, f"{piece.piece.name}: {'; '.join(told)}."


def _repair_pass(
    order: WeldOrder, rings: IntArray, kind: str, more: int, setting: WeldSetting, face: int,
    pace: PaceSettings, limits: HeatSettings, *, turned: bool,
) -> WeldOrder:  # fmt: skip
    count = len(rings)
    hits = setting.hits + more
    wait_s = np.full(count, COOL_S)
    work_s = np.full(count, pace.handle_s + (hits - 1) * pace.extra_hit_s)
    earthing = order.earthing
    if earthing is not None and earthing.clip_ring is not None:  # the clip goes onto each of them
        work_s += earthing.clip_s
        clip_ring = np.concatenate([earthing.clip_ring, rings]).astype(np.int32)
        earthing = replace(earthing, clip_ring=clip_ring)
    work_s[0] += pace.change_setting_s + (pace.turn_s if turned else 0.0)
    number = max((work.number for work in order.passes), default=0) + 1
    numbers = ", ".join(map(str, (rings + 1).tolist()[:20])) + (" …" if count > 20 else "")
    text = (
        f"repair, {FACES[face]}, {kind}: {'ring' if count == 1 else 'rings'} {numbers}, "
        f"{count} {'join' if count == 1 else 'joins'}"
    )
    seconds = float((wait_s + work_s).sum())
    work = Pass(
        number=number, text=text, face=FACES[face], first_step=len(order.ring), joins=count,
        seconds=seconds, wait_s=float(wait_s.sum()), setting=replace(setting, hits=hits),
    )  # fmt: skip
    start = order.bench_time_s + np.cumsum(wait_s + work_s)
    room = np.full(count, float(limits.room_c))
    steps = order.row_step if order.row_step is not None else np.arange(1, len(order.ring) + 1)
    last = int(steps.max(initial=0))
    rows_s = order.start_s if order.row_start_s is None else order.row_start_s
    after_s = float(rows_s.max(initial=0.0)) + np.cumsum(wait_s + work_s)
    more_rows: dict[str, Any] = {
        "row_step": np.concatenate([steps, last + np.arange(1, count + 1)]).astype(np.int32),
        "row_start_s": np.concatenate([rows_s, after_s]),
        "row_wait_s": np.concatenate(
            [order.wait_s if order.row_wait_s is None else order.row_wait_s, wait_s]
        ),
    }
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(order, name), values])
        for name, values in {
            "ring": rings, "pass_number": np.full(count, number, dtype=np.int32), "start_s": start,
            "wait_s": wait_s, "interpass_low_c": room, "interpass_usual_c": room,
            "interpass_high_c": room,
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
        lower_bound_s=order.lower_bound_s + float(work_s.sum()),
        bound_parts={**order.bound_parts, "repairs": float(work_s.sum())},
    )
