"""The rest of one piece's order: what is left of the old one, or a new one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.order import Pass, WeldSetting

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.job import Job
    from chainplan.model.order import Earthing, WeldOrder
    from chainplan.model.plan import PiecePlan
    from chainplan.record.rest import FolderOrder

_SETTING = ("power_j", "hits", "tip", "source", "note", "spot_mm")


def rest_of_order(order: WeldOrder, old: FolderOrder, left: BoolArray) -> WeldOrder:
    """Keep what is left of the order that the folder has, with the numbers that its rows had."""
    kept = left[old.ring]
    if kept.all() and len(old.ring) == len(order.ring):
        return order
    pace_s = old.pace_s
    wait_s = _waits(old, kept)
    all_waits_s = np.zeros(len(kept))
    all_waits_s[kept] = wait_s
    passes: list[Pass] = []
    for entry in old.passes:
        of_pass = old.pass_number == entry["number"]
        count = int((of_pass & kept).sum())
        if not count:
            continue
        setting = WeldSetting(**{k: v for k, v in entry["setting"].items() if k in _SETTING})
        text = entry["text"]
        if count < int(of_pass.sum()):
            following = int(old.ring[of_pass & kept][0]) + 1
            text = f"{text}; {count} of them are left, next is ring {following}"
        rest = of_pass & kept
        passes.append(
            _pass_of(entry, text, setting, count, float(pace_s[rest].sum()),
                     float(all_waits_s[rest].sum()))
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
        wait_limit=_wait_limits(order, old)[kept],
        row_wait_s=old.wait_s[kept],
        faster=(),
        earthing=_earthed(order, old.ring[kept]),
        **_times(pace_s[kept], wait_s),
    )


def _earthed(order: WeldOrder, ring: IntArray) -> Earthing | None:
    """Tell where the clip sits at what is left: each ring has its place whatever comes before."""
    earthing = order.earthing
    if earthing is None:
        return None
    clip_ring = None
    if earthing.clip_ring is not None:
        clip_of = np.zeros(int(max(order.ring.max(), ring.max(initial=0))) + 1, dtype=np.int32)
        clip_of[order.ring] = earthing.clip_ring
        clip_ring = clip_of[ring]
    return replace(earthing, clip_ring=clip_ring, times=(), said="Earthed as planned before.")


def _wait_limits(order: WeldOrder, old: FolderOrder) -> IntArray:
    """Find the limit that asks for each wait by its name; −1 where there is none."""
    place = {check.name: k for k, check in reversed(list(enumerate(order.limits)))}
    return np.array([place.get(name, -1) for name in old.wait_for], dtype=np.int32)


COOL_S = 60.0
"""Most that a step waits for the time that joins left out before it would have taken."""


def _waits(old: FolderOrder, kept: BoolArray) -> FloatArray:
    """Give each step its wait, and where joins before it are left out the time that they took.

    That time let other joins cool. The first step begins from cold and needs none.
    """
    step, start_s = old.step[kept], old.start_s[kept]
    wait_s: FloatArray = old.wait_s[kept].copy()
    if len(step) > 1:
        missing_s = np.diff(start_s) - old.pace_s[kept][1:] - wait_s[1:]
        left_out = np.diff(step) > 1
        wait_s[1:] += np.where(left_out, np.clip(missing_s, 0.0, COOL_S), 0.0)
    return wait_s


def _pass_of(
    entry: Mapping[str, Any], text: str, setting: Any, joins: int, work_s: float, wait_s: float
) -> Pass:
    return Pass(
        number=entry["number"], text=text, face=entry["face"], first_step=0, joins=joins,
        seconds=work_s + wait_s, wait_s=wait_s, setting=setting,
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
    from chainplan.estimate import settings_of_layout
    from chainplan.order import find_order

    joins = replace(piece.joins, welded=welded)
    settings = [line.setting for line in settings_of_layout(job, piece.layout)]
    return find_order(
        piece.layout, joins, piece.heat, settings=settings, pace=job.bench.pace,
        limits=job.bench.heat, lead=job.bench.lead, seed=piece.order.seed,
    )  # fmt: skip
