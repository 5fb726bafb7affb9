"""Which joins of a plan are to be checked, drawn before anything is welded."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.job import Job
    from chainplan.model.plan import PiecePlan
    from chainplan.model.workshop.record import SampleDraw


def draw_for_plan(
    job: Job, pieces: Sequence[PiecePlan], *, seed: int = 0
) -> tuple[SampleDraw, ...]:
    """Draw the joins to check of each lot: all joins in place of one metal and wire.

    The workshop's record draws the same, and divides a lot where wire of another lot was begun.

    Raises
    ------
    InputError
        If the sampling table has no such quality limit.
    """
    import numpy as np

    from chainplan.model.workshop.record import SampleDraw
    from chainplan.reference.sampling import NEXT_STEP, chances, drawn, sampling_plan

    lots: dict[str, list[tuple[int, int, np.ndarray]]] = {}
    for number, plan in enumerate(pieces):
        layout, in_place = plan.layout, ~plan.joins.pre_closed
        names = [f"{item.metal} {item.wire_mm:g} mm" for item in layout.materials]
        for name in dict.fromkeys(names):
            of = np.isin(layout.material, [k for k, own in enumerate(names) if own == name])
            rings = np.flatnonzero(of & in_place)
            if len(rings):
                every = [(number, copy, rings) for copy in range(1, plan.piece.quantity + 1)]
                lots.setdefault(name, []).extend(every)
    found = []
    for name, parts in sorted(lots.items()):
        sampling = sampling_plan(
            sum(len(rings) for *_, rings in parts), job.bench.sheet.aql_percent
        )
        chance = np.concatenate(
            [
                chances(job.name, pieces[k].piece.name, copy, pieces[k].layout.rings, seed)[rings]
                for k, copy, rings in parts
            ]
        )
        place = np.concatenate(
            [
                np.column_stack([np.full(len(rings), k), np.full(len(rings), copy), rings + 1])
                for k, copy, rings in parts
            ]
        )
        chosen = [
            (pieces[k].piece.name, copy, ring)
            for k, copy, ring in place[drawn(chance, sampling.size)].tolist()
        ]
        found.append(
            SampleDraw(
                lot=name, joins=sampling.lot, aql_percent=sampling.aql_percent,
                size=sampling.size, accept=sampling.accept, reject=sampling.reject,
                drawn=tuple(sorted(chosen)), found=("",) * sampling.size, good=0, bad=0,
                verdict="go on checking", next_step=NEXT_STEP["go on checking"],
                source=sampling.source,
            )
        )  # fmt: skip
    return tuple(found)
