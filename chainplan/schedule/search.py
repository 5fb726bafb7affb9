"""The schedule of a job: the ranking of the pieces for which the dispatch rule does best."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.model.workshop.schedule import Gap, PieceReady, Schedule
from chainplan.schedule.bounds import bound_of, earliest_s
from chainplan.schedule.chance import chances_in_time
from chainplan.schedule.dispatch import Dispatch, Laid, stations_of, tasks_of
from chainplan.schedule.workdays import weekdays_after, weekdays_before

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from chainplan.model.bench.stations import StationSettings
    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.shop import Shop

MOST_LAID = 12_000
"""Stretches of work that are laid in all while rankings are tried. Judgement: below a second for
small jobs, in which every exchange of neighbours is tried; with 300 pieces only a few rankings."""


def make_schedule(
    works: Sequence[PieceWork],
    shop: Shop,
    *,
    stations: StationSettings,
    trials: int = 1000,
    seed: int = 0,
) -> Schedule:
    """Schedule a job.

    Several rankings of the pieces are tried, by date, by date within each setting, shortest and
    longest first, and the best is improved by exchanging neighbours. Better means: fewer late days,
    then less time at the bench, then fewer changes of the welder's setting, then an earlier end.

    Parameters
    ----------
    works : sequence of PieceWork
        The pieces.
    shop : Shop
        People, hours and settings.
    stations : StationSettings
        Range of the times, for the chance of being in time.
    trials, seed : int
        For the chance of being in time.

    Raises
    ------
    InputError
        If nobody does a station that is needed, or the work does not end in thirty years.
    """
    missing = [
        name for name in stations_of(works) if not any(each.can(name) for each in shop.workers)
    ]
    if missing:
        message = f"people: nobody does {', '.join(missing)}; give it to somebody on sheet people"
        raise InputError(message)
    if not works:
        return Schedule(people=tuple(worker.label for worker in shop.workers))
    laid = _best(works, shop)
    tasks = tasks_of(laid, works, shop)
    ready = [_ready(work, done, shop) for work, done in zip(works, laid.done_s, strict=True)]
    chances = chances_in_time(
        tasks, ready, shop, low=stations.quick_share, high=stations.slow_share,
        trials=trials, seed=seed,
    )  # fmt: skip
    ready = [
        replace(each, chance_in_time=chance if math.isfinite(each.due_s) else None)
        for each, chance in zip(ready, chances, strict=True)
    ]
    bound = bound_of(works, ready, shop)
    end_s = max(laid.done_s)
    late_days = sum(each.late_days for each in ready)
    return Schedule(
        tasks=tasks,
        late=tuple(each for each in ready if each.late_days),
        bound=bound,
        gap=Gap(
            late_days=late_days - bound.late_days,
            end_share=end_s / bound.end_s - 1 if bound.end_s else 0.0,
        ),
        pieces=tuple(ready),
        people=tuple(worker.label for worker in shop.workers),
        changes=laid.changes,
        change_cost_s=laid.change_cost_s,
        delivered=shop.day(shop.delivered_s + 1),
        waits={work.piece: tuple(sorted(work.bought_for)) for work in works if work.bought_for},
        way="dispatch rule",
        weld_s=float(laid.weld_s),
        weld_alone_s=sum(work.weld_s * work.copies for work in works),
    )


def _best(works: Sequence[PieceWork], shop: Shop) -> Laid:
    """Try rankings until no exchange of neighbours helps or the work for it is spent."""

    def due(k: int) -> tuple[float, int]:
        work = works[k]
        last = None if work.due is None else weekdays_before(work.due, work.hallmark_days)
        return (math.inf if last is None else last.toordinal(), k)

    def takes(k: int) -> float:
        return sum(works[k].station_s.values()) + works[k].weld_s * works[k].copies

    every = range(len(works))
    earliest = sorted(every, key=due)
    first = {works[k].settings[:1]: place for place, k in reversed(list(enumerate(earliest)))}
    starts = [
        earliest,
        sorted(every, key=lambda k: (due(k)[0], first[works[k].settings[:1]], k)),
        sorted(every, key=lambda k: (first[works[k].settings[:1]], due(k))),
        sorted(every, key=lambda k: (takes(k), k)),
        sorted(every, key=lambda k: (-takes(k), k)),
    ]
    spent = 0
    tried: dict[tuple[int, ...], tuple[tuple[float, ...], Laid]] = {}

    def lay(ranking: Sequence[int]) -> tuple[tuple[float, ...], Laid]:
        nonlocal spent
        key = tuple(ranking)
        if key not in tried:
            laid = Dispatch(works, shop, key).run()
            spent += len(laid.rows)
            tried[key] = (_score(laid, works, shop), laid)
        return tried[key]

    ranking = min(starts, key=lambda order: lay(order)[0])
    best, laid = lay(ranking)
    improved = True
    while improved and spent < MOST_LAID:
        improved = False
        for k in range(len(ranking) - 1):
            if spent >= MOST_LAID:
                break
            other = [*ranking[:k], ranking[k + 1], ranking[k], *ranking[k + 2 :]]
            found = lay(other)
            if found[0] < best:
                ranking, (best, laid), improved = other, found, True
    return laid


def _score(laid: Laid, works: Sequence[PieceWork], shop: Shop) -> tuple[float, ...]:
    """Late days, bench time, changes, end of the last piece, sum of the ends."""
    late = sum(
        late_days(_day_ready(work, shop.day(done)), work.due)
        for work, done in zip(works, laid.done_s, strict=True)
    )
    bench_s = sum(row[4][2] for row in laid.rows)
    spoilt_s = laid.change_cost_s - laid.changes * shop.change_setting_s
    return (late, bench_s + spoilt_s, laid.changes, max(laid.done_s), sum(laid.done_s))


def _day_ready(work: PieceWork, worked: datetime.date | None) -> datetime.date | None:
    return None if worked is None else weekdays_after(worked, work.hallmark_days)


def late_days(done: datetime.date | None, due: datetime.date | None) -> int:
    """Days by which a piece is late; 0 in time or without dates."""
    if done is None or due is None:
        return 0
    return max(0, (done - due).days)


def _ready(work: PieceWork, done_s: int, shop: Shop) -> PieceReady:
    worked = shop.day(done_s)
    ready = _day_ready(work, worked)
    least = _day_ready(work, shop.day(earliest_s(work, shop)))
    due_s = math.inf
    if shop.start is not None and work.due is not None:
        due_s = float(shop.end_of_day_s(weekdays_before(work.due, work.hallmark_days)))
    return PieceReady(
        piece=work.piece,
        due=work.due,
        worked_s=done_s,
        worked=worked,
        ready=ready,
        late_days=late_days(ready, work.due),
        earliest=least,
        least_late_days=late_days(least, work.due),
        due_s=due_s,
        hallmark_days=work.hallmark_days,
    )
