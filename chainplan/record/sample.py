"""Which joins of a lot to check, drawn by seed, and what the checks say."""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.record import SampleDraw
from chainplan.reference.sampling import NEXT_STEP, chances, drawn, judge, sampling_plan

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.workshop.record import JoinTrace


def draw_samples(
    traces: Sequence[JoinTrace],
    job: str,
    rings: Mapping[str, int],
    *,
    aql_percent: float,
    seed: int,
) -> tuple[SampleDraw, ...]:
    """Draw the joins to check of each lot: one metal and wire, of one wire lot where told.

    The draw depends on the job, the join and the seed alone, so that the bench sheet, which is
    written before anything is welded, draws the same; joins that are checked do not change it.
    """
    last = {
        (trace.metal, trace.wire_mm): trace.lot
        for trace in sorted(traces, key=lambda each: each.at)
        if trace.lot
    }
    lots: dict[str, list[JoinTrace]] = defaultdict(list)
    for trace in traces:  # what is not welded yet will be of the lot in use
        lot = trace.lot or last.get((trace.metal, trace.wire_mm), "")
        wire_lot = f", wire lot {lot}" if lot else ""
        lots[f"{trace.metal} {trace.wire_mm:g} mm{wire_lot}"].append(trace)
    return tuple(
        _draw(name, joins, job, rings, aql_percent, seed) for name, joins in sorted(lots.items())
    )


def _draw(
    name: str,
    joins: Sequence[JoinTrace],
    job: str,
    rings: Mapping[str, int],
    aql_percent: float,
    seed: int,
) -> SampleDraw:
    sampling = sampling_plan(len(joins), aql_percent)

    @cache
    def of_copy(piece: str, copy: int) -> FloatArray:
        return chances(job, piece, copy, rings[piece], seed)

    chance = np.array([of_copy(each.piece, each.copy)[each.ring - 1] for each in joins])
    chosen = sorted(
        (joins[k] for k in drawn(chance, sampling.size).tolist()),
        key=lambda each: (each.piece, each.copy, each.ring),
    )
    found = tuple(map(_found, chosen))
    good, bad = found.count("good"), found.count("bad")
    verdict = judge(sampling.size, sampling.reject, good, bad)
    return SampleDraw(
        lot=name,
        joins=len(joins),
        aql_percent=aql_percent,
        size=sampling.size,
        accept=sampling.accept,
        reject=sampling.reject,
        drawn=tuple((trace.piece, trace.copy, trace.ring) for trace in chosen),
        found=found,
        good=good,
        bad=bad,
        verdict=verdict,
        next_step=NEXT_STEP[verdict],
        source=sampling.source,
    )


def _found(trace: JoinTrace) -> str:
    """Give the first check of a join: one welded again after a bad check still counts as bad."""
    return next((line.kind for line in trace.lines if line.kind in ("good", "bad")), "")
