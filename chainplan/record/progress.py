"""How far the work is: done, left, pace, and when it will be finished."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.workshop.bench_log import STATIONS
from chainplan.model.workshop.record import CopyProgress, KnownPiece, Progress
from chainplan.record.gas import cylinder_now
from chainplan.record.kept.joins import DONE, LATER, NOT_GOOD, join_states
from chainplan.record.kept.lineage import same_work
from chainplan.record.kept.welds import PAUSE_RULE, pauses, read_welds, stretches
from chainplan.record.learning.intervals import LEAST_GROUPS, ratio
from chainplan.record.left import left_tasks
from chainplan.record.people import people_of

if TYPE_CHECKING:
    import datetime
    from collections.abc import Callable, Sequence

    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.model.workshop.record import KnownPlan
    from chainplan.model.workshop.schedule import LeftTask
    from chainplan.record.kept.store import Record
    from chainplan.record.kept.welds import Welds

LEAST_JOINS = 10
"""Timed joins before a pace is told."""
BEFORE = STATIONS[: STATIONS.index("weld")]
AFTER = STATIONS[STATIONS.index("weld") + 1 :]


def whole_plan(record: Record, plan: KnownPlan) -> KnownPlan:
    """Give a plan the joins back that were done before it was made: those of earlier plans."""
    earlier = same_work(record, plan)
    pieces = []
    for piece in plan.pieces:
        for old in reversed(earlier):
            known = old.piece(piece.name)
            if known is not None and known.rings == piece.rings:
                piece = _joined(piece, known)
        pieces.append(piece)
    return replace(plan, pieces=tuple(pieces))


def _joined(piece: KnownPiece, old: KnownPiece) -> KnownPiece:
    """Put the joins that only the older plan has behind those of the newer one."""
    more = np.flatnonzero(~np.isin(old.ring, piece.ring))
    if not len(more):
        return piece
    names = ("ring", "pass_number", "section", "power_j", "hits", "pace_s", "wait_s")
    columns: dict[str, Any] = {
        name: np.concatenate([getattr(piece, name), getattr(old, name)[more]]) for name in names
    }
    tip = (*piece.tip, *(old.tip[k] for k in more.tolist()))
    metal: tuple[str, ...] = ()
    if piece.metal or old.metal:
        earlier = (old.metal_of(k) for k in more.tolist())
        metal = (*(piece.metal_of(k) for k in range(piece.joins)), *earlier)
    return replace(piece, **columns, tip=tip, metal=metal)


@dataclass(frozen=True)
class _PaceSoFar:
    """Seconds needed over seconds planned; 1 while too little is known."""

    factor: float
    low: float | None
    high: float | None
    known: bool


def _pace(welds: Welds, apart: BoolArray) -> _PaceSoFar:
    timed = ~np.isnan(welds.work_s) & ~np.isnan(welds.pace_s) & ~apart
    rows = welds.pick(timed)
    planned = np.where(rows.good, rows.pace_s + rows.wait_s, 0.0)  # a second try was not planned
    if timed.sum() < LEAST_JOINS or planned.sum() <= 0:
        return _PaceSoFar(1.0, None, None, known=False)
    found = ratio(rows.work_s + rows.waited_s, planned, stretches(rows)[0])
    known = found.groups >= LEAST_GROUPS
    return _PaceSoFar(
        found.value, max(found.low, 0.0) if known else None, found.high if known else None,
        known=True,
    )  # fmt: skip


def progress_of(
    record: Record,
    plan: KnownPlan,
    now: datetime.datetime,
    moment: Callable[[float], datetime.datetime],
    follow: Callable[[Sequence[LeftTask]], list[datetime.datetime]] | None = None,
) -> Progress:
    """Say how far a job is.

    Parameters
    ----------
    record : Record
        The workshop's record.
    plan : KnownPlan
        The job's plan.
    now : datetime
        The time it is.
    moment : callable
        Turns working hours from now into a date and time.
    follow : callable, optional
        Says when each of what is left of the plan's schedule is over; without it, or without
        dates, one person does all that is left.
    """
    whole = whole_plan(record, plan)
    places, state = join_states(record, whole)
    welds = read_welds(record, (*same_work(record, plan), plan))
    apart = pauses(welds)
    pace = _pace(welds, apart)
    finished = stations_finished(record, plan)
    copies, hours, passed = [], 0.0, {}
    for name, copy in _sequence(whole):
        piece = whole.piece(name)
        if piece is None:
            continue
        of_copy = state[places.rings(piece, copy)][piece.ring - 1]
        done = _copy_progress(whole, piece, copy, of_copy, welds, apart, pace.factor)
        stations_min = _stations_left_min(piece, finished.get((name, copy), set()), done)
        hours += done.left_s / 3600 + stations_min / 60
        ready = moment(hours) if done.left or stations_min else None
        copies.append(replace(done, finish=ready))
        passed[name, copy] = _last_passed(finished.get((name, copy), set()), done)
    by_schedule = follow is not None and bool(plan.tasks)
    if follow is not None and by_schedule:
        of = {(each.name, each.copy): each for each in copies}
        left = left_tasks(plan, of, passed, places, state, pace.factor)
        copies = _finished_by(plan, copies, left, follow(left))
    place = {piece.name: k for k, piece in enumerate(whole.pieces)}
    gas = cylinder_now(record, whole, welds, state, places)
    last = last_event(record, plan)
    notes = [f"{int(apart.sum())} times set apart: {PAUSE_RULE}"] if apart.any() else []
    if not pace.known:
        notes.append("the pace is the plan's own: too few joins were timed to tell another")
    return Progress(
        job=plan.job,
        plan=plan.stamp,
        now=now,
        last_event=last[0] if last else "",
        pieces=tuple(sorted(copies, key=lambda each: (place[each.name], each.copy))),
        pace=pace.factor if pace.known else None,
        pace_low=pace.low,
        pace_high=pace.high,
        finish=max((copy.finish for copy in copies if copy.finish), default=None),
        cylinder_bar=gas.bar,
        cylinder_l=gas.usable_l,
        cylinder_joins=gas.joins,
        people=people_of(record, plan, welds, apart),
        by_schedule=by_schedule,
        planned=max((copy.planned for copy in copies if copy.planned), default=None),
        notes=tuple(notes),
    )


def last_event(record: Record, plan: KnownPlan) -> tuple[str, float] | None:
    """Return the time of the last event of a work: as it was told, and in seconds since 1970."""
    rows = record.rows(
        "SELECT e.at, e.at_s FROM event AS e JOIN plan AS p ON p.key = e.plan WHERE p.root = ? "
        "ORDER BY e.at_s DESC, e.seq DESC LIMIT 1",
        (plan.root or plan.key,),
    )
    return (rows[0][0], rows[0][1]) if rows else None


def _sequence(plan: KnownPlan) -> list[tuple[str, int]]:
    """List copies in the order in which the batch takes them up, first those that it leaves out."""
    taken = list(dict.fromkeys((turn.piece, turn.copy) for turn in plan.turns))
    every = [(piece.name, copy) for piece in plan.pieces for copy in range(1, piece.copies + 1)]
    return [*(each for each in every if each not in set(taken)), *taken]


def _copy_progress(
    plan: KnownPlan,
    piece: KnownPiece,
    copy: int,
    state: np.ndarray,
    welds: Welds,
    apart: BoolArray,
    factor: float,
) -> CopyProgress:
    done = state == DONE
    planned_s: FloatArray = piece.pace_s + piece.wait_s
    numbers = [k for k, (_, known) in enumerate(welds.pieces) if known.name == piece.name]
    rows = np.isin(welds.piece, numbers) & (welds.copy == copy)
    timed = rows & ~np.isnan(welds.work_s)
    people = [welds.people[k] for k in np.unique(welds.person[rows]).tolist()]
    left = len(state) - int(done.sum())
    return CopyProgress(
        name=piece.name,
        copy=copy,
        joins=len(state),
        done=int(done.sum()),
        left=left,
        not_good=int((state == NOT_GOOD).sum()),
        later=int((state == LATER).sum()),
        second_tries=int((rows & ~welds.good).sum()),
        work_s=float(welds.work_s[timed & ~apart].sum()),
        waited_s=float(welds.waited_s[rows].sum()),
        apart_s=float(welds.work_s[timed & apart].sum()),
        planned_s=float(planned_s[done].sum()),
        left_s=float(planned_s[~done].sum()) * factor,
        people=tuple(sorted(name for name in people if name)),
        finish=None,
    )


def stations_finished(record: Record, plan: KnownPlan) -> dict[tuple[str, int], set[str]]:
    """Find the stations that each copy of a work's pieces was told to have passed."""
    rows = record.rows(
        "SELECT e.piece, e.copy, e.station FROM event_now AS e JOIN plan AS p ON p.key = e.plan "
        "WHERE p.root = ? AND e.kind = 'finished'",
        (plan.root or plan.key,),
    )
    found: dict[tuple[str, int], set[str]] = {}
    for piece, copy, station in rows:
        found.setdefault((piece, copy), set()).add(station)
    return found


def _last_passed(finished: set[str], done: CopyProgress) -> int:
    """Place of the last station behind a copy, −1 for none; whatever is welded has been woven."""
    last = max((STATIONS.index(name) for name in finished), default=-1)
    if done.done or done.not_good:
        last = max(last, STATIONS.index("weld") - 1)
    return last


def _finished_by(
    plan: KnownPlan,
    copies: Sequence[CopyProgress],
    left: Sequence[LeftTask],
    ends: Sequence[datetime.datetime],
) -> list[CopyProgress]:
    """Tell of each copy when the last line of the schedule that is left of it ends."""
    import datetime as dates

    finish: dict[tuple[str, int], datetime.datetime] = {}
    for task, end in zip(left, ends, strict=True):
        for copy in task.copies:
            key = (task.piece, copy)
            finish[key] = max(finish.get(key, end), end)
    planned: dict[tuple[str, int], str] = {}
    for line in plan.tasks:
        for copy in range(line.copy, line.copy + line.copies):
            key = (line.piece, copy)
            planned[key] = max(planned.get(key, ""), line.end)
    return [
        replace(
            each,
            finish=finish.get((each.name, each.copy)),
            planned=dates.datetime.fromisoformat(planned[each.name, each.copy])
            if (each.name, each.copy) in planned
            else None,
        )
        for each in copies
    ]


def _stations_left_min(piece: KnownPiece, finished: set[str], done: CopyProgress) -> float:
    """Minutes of the stations still to come for one copy; whatever is welded has been woven."""
    stations: Sequence[str] = AFTER if done.done or done.not_good else (*BEFORE, *AFTER)
    last = max((STATIONS.index(name) for name in finished), default=-1)
    return sum(
        piece.station_min.get(name, 0.0) / piece.copies
        for name in stations
        if STATIONS.index(name) > last
    )
