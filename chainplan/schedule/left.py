"""When what is left of a timetable is over: the same hands at the same work, from now on."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from chainplan.model.workshop.bench_log import STATIONS
from chainplan.model.workshop.schedule import ASSAY, TUMBLING
from chainplan.schedule.hours import Hours
from chainplan.schedule.workdays import WorkDays, weekdays_after

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.bench.groups import CalendarSettings
    from chainplan.model.workshop.schedule import LeftTask, Person

_MIDNIGHT = datetime.time()


def ends_of(
    tasks: Sequence[LeftTask],
    settings: CalendarSettings,
    people: Sequence[Person],
    now: datetime.datetime,
) -> list[datetime.datetime]:
    """Follow a timetable's lines in their order, each as soon as hands, machine and piece are free.

    A piece of which nothing was done yet is begun no earlier than planned: its wire may not have
    come before.

    Parameters
    ----------
    tasks : sequence of LeftTask
        What is left.
    settings : CalendarSettings
        The workshop's hours.
    people : sequence of Person
        Their own hours; whoever is not among them keeps the workshop's.
    now : datetime
        The time it is.

    Returns
    -------
    list of datetime
        When each task ends, in the order given.
    """
    first = min([now, *(task.start for task in tasks)]).date()
    days = WorkDays.of(first, settings)
    own = {person.label: Hours(days.of_person(person)) for person in people}
    shared = Hours(days)

    def second(moment: datetime.datetime) -> int:
        return round((moment - datetime.datetime.combine(first, _MIDNIGHT)).total_seconds())

    midnight = datetime.datetime.combine(first, _MIDNIGHT)
    now_s = second(now)
    free: dict[str, int] = {}
    done: dict[tuple[str, int], dict[int, int]] = {}
    ends = [0] * len(tasks)
    for k in sorted(range(len(tasks)), key=lambda k: tasks[k].start):
        task = tasks[k]
        place = _place(task.station)
        ready = [
            moment
            for copy in task.copies
            for before, moment in done.get((task.piece, copy), {}).items()
            if before < place
        ]
        start_s = max([now_s, *ready])
        if not task.begun:
            start_s = max(start_s, second(task.start))
        if task.person:
            hands = own.get(task.person, shared)
            start_s = max(start_s, free.get(f"person {task.person}", 0))
            if task.machine:
                start_s = max(start_s, free.get(task.machine, 0))
            end_s = hands.after_s(hands.next_s(start_s), round(task.work_s))
            free[f"person {task.person}"] = end_s
        else:
            end_s = start_s + round(task.work_s)
        if task.station == ASSAY:
            end_s = second(_back(task, midnight + datetime.timedelta(seconds=start_s)))
        if task.machine:
            free[task.machine] = end_s
        for copy in task.copies:
            of_copy = done.setdefault((task.piece, copy), {})
            of_copy[place] = max(of_copy.get(place, 0), end_s)
        ends[k] = end_s
    return [midnight + datetime.timedelta(seconds=end_s) for end_s in ends]


def _back(task: LeftTask, away: datetime.datetime) -> datetime.datetime:
    """Say when a piece is back from the assay office, after as many weekdays as planned."""
    moment = datetime.timedelta(seconds=1)
    last = (task.start + datetime.timedelta(seconds=task.work_s) - moment).date()
    day, weekdays = (task.start - moment).date(), 0
    while weekdays_after(day, weekdays) < last:
        weekdays += 1
    back = weekdays_after((away - moment).date(), weekdays)
    return datetime.datetime.combine(back + datetime.timedelta(days=1), _MIDNIGHT)


def _place(station: str) -> int:
    """Say where a station stands on a piece's way; what runs unattended follows what began it."""
    if station == TUMBLING:
        return 2 * STATIONS.index("tumble") + 1
    if station == ASSAY:
        return 2 * STATIONS.index("last fitting") - 1
    return 2 * STATIONS.index(station)
