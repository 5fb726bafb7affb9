"""The calendar of a job: stints with dates, due dates, and the chance to keep them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.estimate.hallmark import check_hallmark
from chainplan.estimate.schedule import (
    best_order,
    chances_in_time,
    late_days,
    lay_stints,
    work_of,
)
from chainplan.estimate.stations import STATIONS
from chainplan.estimate.workdays import WorkDays, weekdays_after, weekdays_before
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

    Notes
    -----
    A piece that needs a hallmark goes to the assay office after its last station and is ready when
    it is back; the chance of being in time is that of sending it off in time.
    """
    settings, stations = job.bench.calendar, job.bench.stations
    days = None if job.start_date is None else WorkDays.of(job.start_date, settings)
    country = job.bench.money.country
    away = [settings.hallmark_days if check_hallmark(take, country).needed else 0 for take in takes]
    works = []
    for take, days_away in zip(takes, away, strict=True):
        due = take.counts.due
        due_h = math.inf
        if days is not None and due is not None:
            due_h = days.hours_until(weekdays_before(due, days_away))
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
    for take, work, chance, days_away in zip(takes, works, chances, away, strict=True):
        end = done.get(take.counts.piece)
        worked = end.date() if end is not None else None
        day = None if worked is None else weekdays_after(worked, days_away)
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
                hallmark_days=days_away,
                worked=worked,
            )
        )
    return lines, tuple(found)


def _away(line: DueLine) -> str:
    """Say how long a piece is away for its hallmark."""
    if not line.hallmark_days:
        return ""
    days = f"{line.hallmark_days} weekday{'s' if line.hallmark_days > 1 else ''}"
    return f" with {days} at the assay office"


def calendar_warnings(due: Sequence[DueLine], job: Job) -> tuple[str, ...]:
    """Name late pieces, and say when due dates could not be looked at."""
    found = [
        f"{line.piece}: late by {line.late_days} day{'s' if line.late_days > 1 else ''} "
        f"(due {line.due}, ready {line.done}{_away(line)})"
        for line in due
        if line.late_days > 0
    ]
    if found and job.bench.calendar.people == 1:
        found.append("one person, earliest due date first: no other order keeps all these dates")
    if job.start_date is None and any(line.due is not None for line in due):
        found.append("the job has no start date, so due dates were not looked at")
    return tuple(found)
