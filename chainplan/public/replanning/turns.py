"""The turns of a batch without what is done."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.model.estimate import Estimates
    from chainplan.model.order import BatchOrder, WeldOrder
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.model.workshop.schedule import Schedule
    from chainplan.record.rest import PieceState


def batch_of_rest(
    full: Plan, pieces: Sequence[PiecePlan], states: Mapping[str, PieceState]
) -> tuple[Schedule, BatchOrder, Estimates]:
    """Take the old schedule where every order is whole, else a new one; turns of what is left.

    The estimates are those of the whole job, with the calendar and the dates of that schedule.
    """
    from chainplan.estimate import estimate_job
    from chainplan.public.scheduling import schedule_job

    untouched = all(
        piece.order is other.order for piece, other in zip(pieces, full.pieces, strict=True)
    )
    schedule, batch, estimates = full.schedule, full.batch, full.estimates
    if not untouched:
        anew = schedule_job(full.job, pieces, seed=full.stamp.seed)
        schedule, batch = anew.schedule, anew.batch
        estimates = replace(
            estimate_job(full.job, full.pieces, full.batch, anew.schedule),
            calendar=anew.calendar,
            due=anew.due,
        )
    by_name = {piece.piece.name: piece for piece in pieces}
    turns: list[tuple[str, int, int, int, float]] = []
    for name, copy, first, steps in zip(
        batch.piece, batch.copy.tolist(), batch.first_step.tolist(), batch.steps.tolist(),
        strict=True,
    ):  # fmt: skip
        order = by_name[name].order
        state = states.get(name)
        left = np.ones(steps, dtype=bool)
        if state is not None and copy <= len(state.done):
            left = ~state.done[copy - 1][order.ring[first : first + steps]]
        edges = np.flatnonzero(np.diff(np.concatenate([[0], left.astype(np.int8), [0]])))
        for start, stop in edges.reshape(-1, 2).tolist():
            seconds = _seconds(order, first + start, first + stop)
            turns.append((name, copy, first + start, stop - start, seconds))
    if len(turns) == len(batch.piece) and untouched:
        return schedule, batch, estimates
    lasting_s = np.array([turn[4] for turn in turns], dtype=float)
    total = float(lasting_s.sum())
    rest = replace(
        batch,
        piece=tuple(turn[0] for turn in turns),
        copy=np.array([turn[1] for turn in turns], dtype=np.int32),
        first_step=np.array([turn[2] for turn in turns], dtype=np.int32),
        steps=np.array([turn[3] for turn in turns], dtype=np.int32),
        start_s=np.concatenate([[0.0], np.cumsum(lasting_s)[:-1]])[: len(turns)],
        bench_time_s=total,
        one_after_another_s=max(total, batch.one_after_another_s if untouched else total),
        note="",
    )
    return schedule, rest, estimates


def _seconds(order: WeldOrder, first: int, stop: int) -> float:
    before = float(order.start_s[first - 1]) if first else 0.0
    return float(order.start_s[stop - 1]) - before
