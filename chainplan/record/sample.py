"""Which joins of a lot to check, drawn by seed, and what the checks say."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.record import SampleDraw
from chainplan.reference.sampling import sampling_plan

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.record import JoinTrace, KnownPlan

NEXT = {
    "accept": "hand the lot on; weld the joins that were found bad again",
    "reject": "look at every join of the lot, weld the bad ones again, find the cause before the "
    "next lot, and draw a new sample",
    "go on checking": "check the joins drawn that are not checked yet",
}


def draw_samples(
    traces: Sequence[JoinTrace], plan: KnownPlan, *, aql_percent: float, seed: int
) -> tuple[SampleDraw, ...]:
    """Draw the joins to check of each lot: one metal and wire, of one wire lot where told.

    The draw depends on the work, the lot and the seed alone, so that it can be made again; joins
    that are checked do not change it.
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
        _draw(name, joins, plan, aql_percent, seed) for name, joins in sorted(lots.items())
    )


def _draw(
    name: str, joins: Sequence[JoinTrace], plan: KnownPlan, aql_percent: float, seed: int
) -> SampleDraw:
    sampling = sampling_plan(len(joins), aql_percent)
    said = f"{plan.root or plan.key} {name} {seed}".encode()
    random = np.random.default_rng(list(hashlib.sha256(said).digest()))
    chosen = np.sort(random.choice(len(joins), size=sampling.size, replace=False))
    drawn = sorted(
        (joins[k] for k in chosen.tolist()), key=lambda each: (each.piece, each.copy, each.ring)
    )
    good = sum(_found(trace) == "good" for trace in drawn)
    bad = sum(_found(trace) == "bad" for trace in drawn)
    verdict = "go on checking"
    if bad >= sampling.reject:
        verdict = "reject"
    elif good + bad == sampling.size:
        verdict = "accept"
    return SampleDraw(
        lot=name,
        joins=len(joins),
        aql_percent=aql_percent,
        size=sampling.size,
        accept=sampling.accept,
        reject=sampling.reject,
        drawn=tuple((trace.piece, trace.copy, trace.ring) for trace in drawn),
        good=good,
        bad=bad,
        verdict=verdict,
        next_step=NEXT[verdict],
        source=sampling.source,
    )


def _found(trace: JoinTrace) -> str:
    """Give the first check of a join: one welded again after a bad check still counts as bad."""
    return next((line.kind for line in trace.lines if line.kind in ("good", "bad")), "")
