"""What paper, bench sheet and calendar show of a schedule: turns at the welder, days of people."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.estimate import CalendarLine, DueLine
from chainplan.model.order import BatchOrder
from chainplan.schedule.hours import worked_by_any_s
from chainplan.schedule.machinery import kind_of
from chainplan.schedule.workdays import weekdays_before
from chainplan.units import show_chance, show_duration

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import Advice, PieceReady, PieceWork, Schedule, Stints
    from chainplan.schedule.shop import Shop


def batch_of(schedule: Schedule, works: Sequence[PieceWork], shop: Shop) -> BatchOrder:
    """Take the turns of welding out of a schedule, in its order.

    Times are seconds of the weld orders from the first weld on, at the usual pace: nights, other
    work, grinding and filling left out.
    """
    by_name = {work.piece: work for work in works}
    rows: list[tuple[str, int, int, int, float]] = []
    free_s, last, woven_in = 0.0, ("", 0), False
    ready_s: dict[tuple[str, int], float] = {}
    for task in (one for one in schedule.tasks if one.station == "weld" and one.steps):
        stints = by_name[task.piece].stints
        for copy in range(task.copy, task.copy + task.copies):
            key = (task.piece, copy)
            woven_in |= key in ready_s and last != key
            change_s = shop.change_piece_s if rows and last != key else 0.0
            start_s = max(free_s + change_s, ready_s.get(key, 0.0))
            rows.append((*key, task.first_step, task.steps, start_s))
            work_s, rest_s = _stretch_s(stints, task.first_step, task.steps)
            free_s, last = start_s + work_s, key
            ready_s[key] = free_s + rest_s
    copies = len({row[:2] for row in rows})
    alone_s = 0.0
    for name, _ in dict.fromkeys(row[:2] for row in rows):  # in their order: the sum is the same
        stints = by_name[name].stints
        alone_s += float(stints.seconds.sum() + stints.rest_s.sum())
    alone_s += shop.change_piece_s * max(copies - 1, 0)
    return BatchOrder(
        piece=tuple(row[0] for row in rows),
        copy=np.asarray([row[1] for row in rows], dtype=np.int32),
        first_step=np.asarray([row[2] for row in rows], dtype=np.int32),
        steps=np.asarray([row[3] for row in rows], dtype=np.int32),
        start_s=np.asarray([row[4] for row in rows], dtype=float),
        bench_time_s=free_s,
        one_after_another_s=alone_s,
        interleaved=woven_in,
        note=_note(schedule, shop, saved_s=alone_s - free_s, woven_in=woven_in)
        if copies > 1
        else "",
    )


def _stretch_s(stints: Stints, first_step: int, steps: int) -> tuple[float, float]:
    """Seconds of work in some whole stints of a copy, and of the rest after them."""
    at = (stints.first_step >= first_step) & (stints.first_step < first_step + steps)
    inside = np.flatnonzero(at)
    work_s = float(stints.seconds[inside].sum() + stints.rest_s[inside[1:]].sum())
    after = int(inside[-1]) + 1
    return work_s, float(stints.rest_s[after]) if after < stints.rest_s.size else 0.0


def _note(schedule: Schedule, shop: Shop, *, saved_s: float, woven_in: bool) -> str:
    if woven_in:
        return (
            "Welding on another copy that lies woven while one cools saves "
            f"{show_duration(max(saved_s, 0.0))}."
        )
    if not shop.interleave:
        return "One piece after another, as the bench settings ask."
    changes = schedule.changes
    often = "once" if changes == 1 else f"{changes} times"
    changed = f" The welder's setting changes {often} between pieces." if changes else ""
    return f"One piece after another: no wait is worth taking up another piece.{changed}"


def calendar_of(schedule: Schedule, shop: Shop) -> tuple[CalendarLine, ...]:
    """List what each person does day by day; what follows without a break is one line."""
    workers = {worker.label: worker for worker in shop.workers}
    kinds = Counter(place.kind for place in shop.places)
    found: list[tuple[str, str, str, str, int, int]] = []
    last_of: dict[str, int] = {}
    for task in schedule.tasks:
        if not task.person:
            continue
        hours = shop.hours_at(workers[task.person], shop.place(task.machine))
        for start_s, end_s in hours.split(task.start_s, task.end_s):
            at = last_of.get(task.person)
            machine = task.machine if kinds[kind_of(task.station)] > 1 else ""
            same = (task.piece, task.station, task.person, machine)
            if at is not None and found[at][:4] == same and found[at][5] == start_s:
                found[at] = (*same, found[at][4], end_s)
                continue
            last_of[task.person] = len(found)
            found.append((*same, start_s, end_s))
    place = {label: k for k, label in enumerate(schedule.people)}
    moments = sorted({moment_s for line in found for moment_s in line[4:6]})
    hour = dict(zip(moments, _worked_h(shop, moments), strict=True))
    return tuple(
        CalendarLine(
            piece=piece,
            station=station,
            person=person,
            start=shop.moment(start_s),
            end=shop.moment(end_s),
            start_h=hour[start_s],
            end_h=hour[end_s],
            hours=(end_s - start_s) / 3600,
            machine=machine,
        )
        for piece, station, person, machine, start_s, end_s in sorted(
            found, key=lambda line: (line[4], place[line[2]])
        )
    )


def due_of(schedule: Schedule, shop: Shop) -> tuple[DueLine, ...]:
    """Compare each piece with its date."""
    return tuple(
        DueLine(
            piece=each.piece,
            due=each.due,
            done=each.ready,
            late_days=each.late_days,
            late_weight=each.late_weight,
            chance_in_time=each.chance_in_time,
            due_h=_due_h(each, shop),
            done_h=_worked_h(shop, [each.worked_s])[0],
            hallmark_days=each.hallmark_days,
            worked=each.worked,
        )
        for each in schedule.pieces
    )


def _due_h(ready: PieceReady, shop: Shop) -> float | None:
    """Working hours until the evening by which the work has to be over, the assay counted."""
    if ready.due is None or math.isinf(ready.due_s):
        return None
    last_s = shop.end_of_day_s(weekdays_before(ready.due, ready.hallmark_days))
    return _worked_h(shop, [max(int(last_s), 0)])[0]


def _worked_h(shop: Shop, moments_s: Sequence[int]) -> list[float]:
    """Return hours before some moments in which the workshop is open, or anybody of it works."""
    hours = [shop.hours, *(worker.hours for worker in shop.workers)]
    return [worked_s / 3600 for worked_s in worked_by_any_s(hours, moments_s)]


def _away(days: int) -> str:
    """Say how long a piece is away for its hallmark."""
    if not days:
        return ""
    return f" with {days} weekday{'s' if days > 1 else ''} at the assay office"


def _itself(moved: str, chance: float) -> str:
    return f" ({moved} itself then {show_chance(chance)})"


def advice_text(advice: Advice) -> str:
    """Say how likely a piece is in time, and what would raise that."""
    ways = [
        f"{way.text} makes it {show_chance(way.chance)}"
        + ("" if way.moved_chance is None else _itself(way.moved, way.moved_chance))
        for way in advice.ways
    ]
    none = "neither overtime nor help nor leaving another piece for last raises it"
    said = "; ".join(ways) or none
    return f"{advice.piece}: in time with a chance of {show_chance(advice.chance)}: {said}"


def _weighted(schedule: Schedule) -> bool:
    return any(each.late_weight != 1.0 for each in schedule.late)


def schedule_warnings(
    schedule: Schedule, start: datetime.date | None, dues: Sequence[datetime.date | None]
) -> tuple[str, ...]:
    """Name late pieces with what is proved, and say when due dates could not be looked at."""
    found = [
        f"{each.piece}: late by {each.late_days} day{'s' if each.late_days > 1 else ''} "
        f"(due {each.due}, ready {each.ready}{_away(each.hallmark_days)})"
        for each in schedule.late
    ]
    if found:
        found += schedule.bound.words
        days = schedule.bound.late_days + schedule.gap.late_days
        weighted = ", each counted by its weight" if _weighted(schedule) else ""
        if schedule.gap.late_days == 0:
            found.append(
                f"proved: no schedule has fewer than these {days:g} late days in all{weighted}"
            )
        else:
            found.append(
                f"these are {days:g} late days in all{weighted}; at least "
                f"{schedule.bound.late_days:g} are proved to be unavoidable"
            )
    found += [advice_text(one) for one in schedule.advice]
    if start is None and any(due is not None for due in dues):
        found.append("the job has no start date, so due dates were not looked at")
    return tuple(found)
