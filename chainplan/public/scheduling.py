"""One schedule for a planned job: what paper, bench sheet, calendar, dates and price follow."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.model.estimate import CalendarLine, DueLine
    from chainplan.model.job import Job
    from chainplan.model.order import BatchOrder
    from chainplan.model.plan import PiecePlan
    from chainplan.model.workshop.schedule import PieceWork, Schedule


@frozen
class Scheduled:
    """A schedule with what is shown of it."""

    schedule: Schedule
    batch: BatchOrder
    calendar: tuple[CalendarLine, ...]
    due: tuple[DueLine, ...]
    warnings: tuple[str, ...]


def schedule_job(
    job: Job,
    planned: Sequence[PiecePlan],
    *,
    seed: int = 0,
    effort: str = "usual",
    left: Callable[[PieceWork], PieceWork] | None = None,
) -> Scheduled:
    """Schedule the pieces of a job, which have their weld orders.

    A piece that would get too warm at the times of the schedule is welded in one go instead, and
    the job is scheduled again.

    Parameters
    ----------
    job : Job
        People, hours, shelf, dates.
    planned : sequence of PiecePlan
        The pieces.
    seed : int
        For the chances of being in time.
    effort : str
        "usual", or "thorough": the search for a better schedule goes on ten times longer.
    left : callable, optional
        Takes from the work on a piece what is done already.

    Raises
    ------
    InputError
        If nobody does a station that is needed.
    """
    from chainplan.estimate import works_of
    from chainplan.order import cut_order, warm_pieces
    from chainplan.schedule import Shop, batch_of, make_schedule
    from chainplan.schedule.advice import advise
    from chainplan.schedule.search import LIMIT
    from chainplan.schedule.turns import calendar_of, due_of, schedule_warnings

    bench = job.bench
    shop = Shop.of(job.start_date, bench.calendar, bench.pace, job.people, job.machines)
    whole: frozenset[str] = frozenset()
    while True:
        stints = [
            cut_order(plan.order, bench.pace, whole=plan.piece.name in whole) for plan in planned
        ]
        works = works_of(job, planned, stints)
        works = works if left is None else tuple(map(left, works))
        schedule = make_schedule(
            works, shop, stations=bench.stations, trials=bench.calendar.trials, seed=seed,
            limit=LIMIT * (10 if effort == "thorough" else 1),
        )  # fmt: skip
        batch = batch_of(schedule, works, shop)
        warm = warm_pieces(planned, batch, bench.pace, bench.heat) - whole
        if not warm:
            break
        whole |= warm
    advice = advise(schedule, works, shop, bench.stations, seed)
    schedule = replace(schedule, advice=advice)
    return Scheduled(
        schedule=schedule,
        batch=batch,
        calendar=calendar_of(schedule, shop),
        due=due_of(schedule, shop),
        warnings=schedule_warnings(schedule, job.start_date, [plan.piece.due for plan in planned]),
    )
