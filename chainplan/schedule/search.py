"""The schedule of a job: the ranking of the pieces for which the dispatch rule does best."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError
from chainplan.model.workshop.schedule import Gap, PieceReady, Schedule
from chainplan.schedule.bounds import JobBounds
from chainplan.schedule.chance import chances_in_time
from chainplan.schedule.exact import better_lines, has_solver
from chainplan.schedule.rule.dispatch import Dispatch, StuckError
from chainplan.schedule.rule.follow import Follow
from chainplan.schedule.rule.stations import Laid, stations_of, tasks_of
from chainplan.schedule.workdays import weekdays_before

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from chainplan.model.bench.groups import StationSettings
    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.shop import Shop

MOST_LAID = 60_000
"""Stretches of work that are laid in all while rankings are tried. Judgement: below a second for
small jobs, in which every exchange of neighbours is tried; with 300 pieces only a few rankings."""

FAR = (0.5, 2.0, 8.0)
"""Slack at which a date begins to count, in mean pieces. Judgement: one of them does well."""

LIMIT = 0.2
"""Deterministic time of the solver: ``tests/bench/bench_schedule.py`` tells the seconds. Measured:
twice as much found a better schedule in one of eighteen jobs."""
IN_TIME = 0.1
"""Share of it if every piece is in time already. Measured: what is found then is found at once."""


def make_schedule(
    works: Sequence[PieceWork],
    shop: Shop,
    *,
    stations: StationSettings,
    trials: int = 1000,
    seed: int = 0,
    limit: float = LIMIT,
) -> Schedule:
    """Schedule a job.

    Several rankings of the pieces are tried, by date, by date within each setting, shortest and
    longest first, and the best is improved by exchanging neighbours. From there the solver goes on,
    if the extra ``chainplan[schedule]`` is there and anything can be gained. Better means: fewer
    late days by their weight, then less time at the bench, then fewer changes of the welder's
    setting, then an earlier end.

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
    limit : float
        Deterministic time for the solver; 0: the dispatch rule alone.

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
    laid, way, bound = _laid(works, shop, limit)
    tasks = tasks_of(laid, works, shop)
    ready = ready_of(laid, works, shop)
    chances = chances_in_time(
        tasks, ready, shop, works, low=stations.quick_share, high=stations.slow_share,
        trials=trials, seed=seed,
    )  # fmt: skip
    earliest_s = bound.earliest_s
    ready = [
        _with_proof(
            replace(each, chance_in_time=chance if math.isfinite(each.due_s) else None),
            work, earliest_s[k], shop,
        )
        for k, (each, chance, work) in enumerate(zip(ready, chances, works, strict=True))
    ]  # fmt: skip
    told = bound.told(ready)
    end_s = laid.end_s
    delivered_s = min(
        (shop.delivered_s(work) for work in works if work.bought_for),
        default=shop.delivered_s(works[0]),
    )
    return Schedule(
        tasks=tasks,
        late=tuple(each for each in ready if each.late_days),
        bound=told,
        gap=Gap(
            late_days=sum(each.late_days * each.late_weight for each in ready) - told.late_days,
            end_share=end_s / told.end_s - 1 if told.end_s else 0.0,
        ),
        pieces=tuple(ready),
        people=tuple(worker.label for worker in shop.workers),
        changes=laid.changes,
        change_cost_s=laid.change_cost_s,
        change_costs_s={works[k].piece: s for k, s in sorted(laid.change_costs_s.items())},
        further_set_ups=laid.further_set_ups,
        delivered=shop.day(delivered_s + 1),
        deliveries=_deliveries(works, shop, delivered_s),
        waits={work.piece: tuple(sorted(work.bought_for)) for work in works if work.bought_for},
        way=way,
        weld_s=float(laid.weld_s),
        weld_alone_s=sum(work.weld_s * work.copies for work in works),
    )


def _deliveries(
    works: Sequence[PieceWork], shop: Shop, delivered_s: int
) -> dict[str, dict[str, datetime.date]]:
    """Days on which stations have their fittings, and what was ordered later than the rest."""
    found: dict[str, dict[str, datetime.date]] = {}
    for work in works if shop.start is not None else ():
        late = work.bought_for if shop.delivered_s(work) > delivered_s else frozenset[str]()
        stations = sorted({*work.fittings_days, *late})
        days = {name: shop.day(shop.material_s(work, name) + 1) for name in stations}
        if days:
            found[work.piece] = {name: day for name, day in days.items() if day is not None}
    return found


def _laid(works: Sequence[PieceWork], shop: Shop, limit: float) -> tuple[Laid, str, JobBounds]:
    """Lay the job by the dispatch rule, and better where the solver finds it; say which way."""
    laid = best_by_rule(works, shop)
    score = score_of(laid, works, shop)
    limit *= 1.0 if score[0] else IN_TIME
    bounds = JobBounds.of(works, shop, late=score[0], end_s=laid.end_s, limit=limit)
    if limit <= 0 or not has_solver():
        return laid, "dispatch rule", bounds
    if not bounds.leave_room(laid, score[0]):
        return laid, "dispatch rule, which nothing can better", bounds
    lines = better_lines(works, shop, laid, limit=limit)
    if not lines:
        return laid, "dispatch rule; the job is too large for the solver", bounds
    try:
        other = Follow(works, shop, lines).run()
    except StuckError:
        return laid, "dispatch rule; the solver's order cannot be worked", bounds
    if score_of(other, works, shop) < score:
        return other, "constraint programming, from the dispatch rule on", bounds
    return laid, "dispatch rule; constraint programming found nothing better", bounds


def best_by_rule(works: Sequence[PieceWork], shop: Shop) -> Laid:
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
        *(by_urgency(works, shop, [takes(k) for k in every], far) for far in FAR),
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
            tried[key] = (score_of(laid, works, shop), laid)
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


def by_urgency(
    works: Sequence[PieceWork], shop: Shop, takes_s: Sequence[float], far: float
) -> list[int]:
    """Rank pieces by what waiting costs: what a day late counts over the work, less for slack.

    Parameters
    ----------
    works, shop : sequence of PieceWork, Shop
        The job.
    takes_s : sequence of float
        Work on each piece.
    far : float
        Slack, in mean pieces, at which a date counts a third. [-]

    Notes
    -----
    A. P. J. Vepsalainen, T. E. Morton, Priority rules for job shops with weighted tardiness costs,
    Management Science 33, 1987, pages 1035-1047.
    """
    rate = sum(1 / worker.pace for worker in shop.workers)
    work_s = np.maximum(np.array(takes_s) / rate, 1.0)
    due_s = np.array([_due_worked_s(work, shop) for work in works])
    weight = np.array([work.late_weight for work in works])
    left, found, at_s = np.ones(len(works), dtype=bool), list[int](), 0.0
    for _ in works:
        slack_s = np.maximum(due_s - work_s - at_s, 0.0)
        pressing = weight / work_s * np.exp(-slack_s / (far * work_s[left].mean()))
        # Those without a date come after all others, the shortest first.
        pressing = np.where(np.isinf(due_s), 1e-30 / work_s, np.maximum(pressing, 1e-25 / due_s))
        pick = int(np.where(left, pressing, -1.0).argmax())
        left[pick] = False
        found.append(pick)
        at_s += float(work_s[pick])
    return found


def _due_worked_s(work: PieceWork, shop: Shop) -> float:
    """Working seconds until the evening by which the work on a piece has to be over."""
    if work.due is None or shop.start is None:
        return math.inf
    last = shop.end_of_day_s(weekdays_before(work.due, work.hallmark_days))
    return max(float(shop.hours.worked_s(max(int(last), 0))), 1.0)


def score_of(laid: Laid, works: Sequence[PieceWork], shop: Shop) -> tuple[float, ...]:
    """Weighted late days, bench time, changes, end of the last work, sum of the ends.

    Bench time is counted at the usual pace: who is slower is not left idle for that.
    """
    late = math.fsum(
        work.late_weight * late_days(shop.day(ready), work.due)
        for work, ready in zip(works, laid.ready_s, strict=True)
    )
    pace = {worker.label: worker.pace for worker in shop.workers}
    bench_s = round(sum(
        row[4][2] / (max(pace[row[2]], 1.0) if row[1] == "weld" else pace[row[2]])
        for row in laid.rows if row[2]
    ))  # fmt: skip
    spoilt_s = laid.change_cost_s - laid.changes * shop.change_setting_s - laid.further_s
    return (late, bench_s + spoilt_s, laid.changes, laid.end_s, sum(laid.ready_s))


def late_days(done: datetime.date | None, due: datetime.date | None) -> int:
    """Days by which a piece is late; 0 in time or without dates."""
    if done is None or due is None:
        return 0
    return max(0, (done - due).days)


def ready_of(laid: Laid, works: Sequence[PieceWork], shop: Shop) -> list[PieceReady]:
    """Tell when each piece is ready, and whether in time."""
    found = []
    for work, done_s, ready_s in zip(works, laid.done_s, laid.ready_s, strict=True):
        due_s = math.inf
        if shop.start is not None and work.due is not None:
            due_s = float(shop.end_of_day_s(work.due))
        ready = shop.day(ready_s)
        found.append(
            PieceReady(
                piece=work.piece,
                due=work.due,
                worked_s=done_s,
                worked=shop.day(done_s),
                ready=ready,
                ready_s=ready_s,
                late_days=late_days(ready, work.due),
                late_weight=work.late_weight,
                due_s=due_s,
                hallmark_days=work.hallmark_days,
            )
        )
    return found


def _with_proof(ready: PieceReady, work: PieceWork, earliest_s: int, shop: Shop) -> PieceReady:
    """Add the day before which no schedule has a piece ready."""
    earliest = shop.day(shop.assayed_s(earliest_s, work.hallmark_days))
    return replace(
        ready,
        earliest=earliest,
        earliest_worked=shop.moment(earliest_s),
        least_late_days=late_days(earliest, work.due),
    )
