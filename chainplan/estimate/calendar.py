"""The calendar of a job: stints with dates, due dates, and the chance to keep them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.estimate.schedule import (
    best_order,
    chances_in_time,
    late_days,
    lay_stints,
    work_of,
)
from chainplan.estimate.stations import STATIONS
from chainplan.estimate.workdays import WorkDays
from chainplan.model.estimate import CalendarLine, DueLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.estimate.take import Take
    from chainplan.model.job import Job


def plan_calendar(
    takes: Sequence[Take], job: Job, *, seed: int
) -> tuple[tuple[CalendarLine, ...], tuple[DueLine, ...]]:
    """Schedule all pieces and compare with their due dates.

    Parameters
    ----------
    takes : sequence of Take
        The pieces with their station times.
    job : Job
        First working day and bench calendar. Without a first day hours are counted, not dates.
    seed : int
        For the chance of being in time.
    """
    settings, stations = job.bench.calendar, job.bench.stations
    days = None if job.start_date is None else WorkDays.of(job.start_date, settings)
    works = []
    for take in takes:
        due = take.counts.due
        due_h = math.inf if days is None or due is None else days.hours_until(due)
        works.append(work_of(take.counts.piece, take.times, due_h))
    order = best_order(works, settings.people)
    stints = lay_stints(works, order, settings.people)
    lines = tuple(
        CalendarLine(
            piece=works[stint.piece].piece,
            station=STATIONS[stint.station],
            start=None if days is None else days.moment(stint.start_h, ending=False),
            end=None if days is None else days.moment(stint.end_h, ending=True),
            start_h=stint.start_h,
            end_h=stint.end_h,
        )
        for stint in stints
    )
    chances = chances_in_time(
        works,
        order,
        settings.people,
        quick_share=stations.quick_share,
        slow_share=stations.slow_share,
        trials=settings.trials,
        seed=seed,
    )
    done = {line.piece: line.end for line in lines}  # the last stint of a piece comes last
    done_h = {line.piece: line.end_h for line in lines}
    found = []
    for take, work, chance in zip(takes, works, chances, strict=True):
        end = done.get(take.counts.piece)
        day = end.date() if end is not None else None
        due = take.counts.due
        found.append(
            DueLine(
                piece=take.counts.piece,
                due=due,
                done=day,
                late_days=late_days(day, due),
                chance_in_time=chance if math.isfinite(work.due_h) else None,
                due_h=work.due_h if math.isfinite(work.due_h) else None,
                done_h=done_h.get(take.counts.piece, 0.0),
            )
        )
    return lines, tuple(found)


def calendar_warnings(due: Sequence[DueLine], job: Job) -> tuple[str, ...]:
    """Name late pieces, and say when due dates could not be looked at."""
    found = [
        f"{line.piece}: late by {line.late_days} day{'s' if line.late_days > 1 else ''} "
        f"(due {line.due}, done {line.done})"
        for line in due
        if line.late_days > 0
    ]
    if found and job.bench.calendar.people == 1:
        found.append("one person, earliest due date first: no other order keeps all these dates")
    if job.start_date is None and any(line.due is not None for line in due):
        found.append("the job has no start date, so due dates were not looked at")
    return tuple(found)
