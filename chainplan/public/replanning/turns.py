"""The turns of a batch without what is done."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.model.estimate import CalendarLine, DueLine
    from chainplan.model.job import Job
    from chainplan.model.order import BatchOrder, WeldOrder
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.model.workshop.schedule import PieceWork, Schedule
    from chainplan.record.rest import PieceState


@frozen
class ToCome:
    """The schedule of what is left, its turns, and its calendar and dates; None: as before."""

    schedule: Schedule
    batch: BatchOrder
    calendar: tuple[CalendarLine, ...] | None = None
    due: tuple[DueLine, ...] | None = None
    first_day: datetime.date | None = None


def schedule_of_rest(
    full: Plan,
    pieces: Sequence[PiecePlan],
    states: Mapping[str, PieceState],
    finished: Mapping[str, frozenset[str]],
    now: datetime.datetime,
    ready_s: Mapping[tuple[str, int], float],
    *,
    changed: bool,
) -> ToCome:
    """Take the old schedule where nothing is begun or changed, else one of what is left, from now.

    Parameters
    ----------
    full : Plan
        The whole job.
    pieces : sequence of PiecePlan
        With the orders of what is left.
    states : mapping
        What is welded, by piece.
    finished : mapping
        Stations through which all copies of a piece have passed.
    changed : bool
        Whether the job's file is another than the plan was made from.
    now : datetime
        Work goes on in the next working hours: today's if they have not begun, else tomorrow's.
    ready_s : mapping
        Seconds until a copy that is still warm may go on.
    """
    from chainplan.public.scheduling import schedule_job

    untouched = all(
        piece.order is other.order for piece, other in zip(pieces, full.pieces, strict=True)
    )
    schedule, batch = full.schedule, full.batch
    calendar, due, first_day = None, None, full.job.start_date
    today = _first_day(full.job, now)
    if not untouched or (changed and today != first_day):
        untouched, first_day = False, today
        job = replace(full.job, start_date=first_day)

        def still_to_do(work: PieceWork) -> PieceWork:
            passed = finished.get(work.piece, frozenset())
            station_s = {k: 0.0 if k in passed else v for k, v in work.station_s.items()}
            tumbling_s = 0.0 if "tumble" in passed else work.tumbling_s
            bought = work.bought_for - passed
            return replace(
                work, station_s=station_s, tumbling_s=tumbling_s, bought_for=bought,
                ordered=None if states.get(work.piece) is None else full.job.start_date,
                fittings_days={k: v for k, v in work.fittings_days.items() if k not in passed},
            )  # fmt: skip

        anew = schedule_job(job, pieces, seed=full.stamp.seed, left=still_to_do)
        schedule, batch, calendar, due = anew.schedule, anew.batch, anew.calendar, anew.due
    by_name = {piece.piece.name: piece for piece in pieces}
    turns: list[tuple[str, int, int, int]] = []
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
        parts = edges.reshape(-1, 2).tolist()
        turns += [(name, copy, first + start, stop - start) for start, stop in parts]
    # As many turns are not the same turns: a copy's first or last join may be welded.
    whole = sum(turn[3] for turn in turns) == int(batch.steps.sum())
    if whole and untouched:
        return ToCome(schedule=schedule, batch=batch, first_day=first_day)
    rest = _timed(batch, turns, by_name, full.job.bench.pace.change_piece_s, ready_s)
    return ToCome(schedule=schedule, batch=rest, calendar=calendar, due=due, first_day=first_day)


def _timed(
    batch: BatchOrder,
    turns: Sequence[tuple[str, int, int, int]],
    pieces: Mapping[str, PiecePlan],
    change_s: float,
    cool_s: Mapping[tuple[str, int], float],
) -> BatchOrder:
    """Give turns of what is left their times, one after another, rests of a copy kept."""
    starts: list[float] = []
    alone_s, free_s, last = 0.0, 0.0, ("", 0)
    ready_s: dict[tuple[str, int], float] = {}
    woven_in = False
    for name, copy, first, steps in turns:
        key = (name, copy)
        woven_in |= key in ready_s and last != key
        moved_s = change_s if starts and last != key else 0.0
        ready = ready_s.get(key, cool_s.get(key, 0.0))
        starts.append(max(free_s + moved_s, ready))
        work_s, rest_s = _stretch_s(pieces[name].order, first, steps)
        alone_s += work_s + rest_s + (change_s if key not in ready_s and starts[1:] else 0.0)
        free_s, last = starts[-1] + work_s, key
        ready_s[key] = free_s + rest_s
    woven_in = woven_in and alone_s > free_s
    saved = show_duration(alone_s - free_s) if woven_in else ""
    return replace(
        batch,
        piece=tuple(turn[0] for turn in turns),
        copy=np.array([turn[1] for turn in turns], dtype=np.int32),
        first_step=np.array([turn[2] for turn in turns], dtype=np.int32),
        steps=np.array([turn[3] for turn in turns], dtype=np.int32),
        start_s=np.array(starts, dtype=float),
        bench_time_s=free_s,
        one_after_another_s=max(alone_s, free_s),
        interleaved=woven_in,
        note=f"Welding on another copy while one cools saves {saved}." if woven_in else "",
    )


def _stretch_s(order: WeldOrder, first: int, steps: int) -> tuple[float, float]:
    """Seconds of work in some steps of an order, and of the wait after them."""
    start, wait, lead = order.start_s, order.wait_s, float(order.start_s[0])
    begin = float(start[first]) - lead if first else 0.0
    after = first + steps
    if after == len(start):
        return order.bench_time_s - begin, 0.0
    rest_s = float(wait[after])
    return float(start[after]) - lead - rest_s - begin, rest_s


def _first_day(job: Job, now: datetime.datetime) -> datetime.date | None:
    """Return the first day on which work can go on; None for a job without dates."""
    if job.start_date is None:
        return None
    begun = now.hour + now.minute / 60 > job.bench.calendar.day_starts_h
    day = now.date() + datetime.timedelta(days=1) if begun else now.date()
    return max(day, job.start_date)
