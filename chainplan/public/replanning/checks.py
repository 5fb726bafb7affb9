"""What is known of each join of a job when its checks are drawn again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.record import JoinTrace

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.plan import Plan


def traces_of(full: Plan, told: Sequence[JoinTrace]) -> Iterator[JoinTrace]:
    """Give every join of a whole job: as the record traces it, or as one that nobody touched.

    Joins that the job no longer has are left out.
    """
    known = {(trace.piece, trace.copy, trace.ring): trace for trace in told}
    for plan in full.pieces:
        layout = plan.layout
        rings = (np.flatnonzero(~plan.joins.pre_closed) + 1).tolist()
        for copy in range(1, plan.piece.quantity + 1):
            for ring in rings:
                trace = known.get((plan.piece.name, copy, ring))
                if trace is not None:
                    yield trace
                    continue
                made_of = layout.materials[int(layout.material[ring - 1])]
                yield JoinTrace(
                    job=full.job.name, piece=plan.piece.name, copy=copy, ring=ring,
                    state="not welded yet", metal=made_of.metal, wire_mm=made_of.wire_mm, lot="",
                    power_j=None, hits=None, tip="", person="", at="", tries=0, checks=(),
                    lines=(),
                )  # fmt: skip
