"""Checks a written schedule by itself: nothing here was used to make it.

It reads ``plan.json`` alone, with working hours of its own, and looks at every rule again: nobody
and no machine does two things at once, a copy passes its stations one after another, work falls
into the hours of whoever does it, nothing begins before its material has come, each copy is welded
once from its first step to its last, and turns, calendar and dates say the same.
"""

from __future__ import annotations

import datetime
import itertools
from collections import defaultdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

STATIONS = (
    "coil", "cut", "tumble", "tumbling", "pre-close", "weave", "fitting", "set up", "weld",
    "rework", "clean", "inspect", "finish", "assay office", "last fitting",
)  # fmt: skip
_WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def check_schedule(plan: Mapping[str, Any]) -> tuple[str, ...]:
    """List every rule that the schedule in ``plan.json`` breaks; nothing if it is sound.

    Parameters
    ----------
    plan : mapping
        What ``plan.json`` holds.
    """
    schedule = plan["schedule"]
    tasks = schedule["tasks"]
    copies = {piece["name"]: piece["quantity"] for piece in plan["pieces"]}
    # Of a rest each copy takes from its turns what it still lacks.
    whole = "replan" not in plan
    return (
        *_overlaps(tasks, "person"),
        *_overlaps(tasks, "machine"),
        *_machines(tasks, schedule["machines"]),
        *_set_ups(tasks, schedule["further_set_ups"]),
        *_precedence(tasks, copies),
        *_visits(tasks),
        *_hours(tasks, plan),
        *_material(tasks, schedule),
        *(_welded(tasks, plan, copies) if whole else ()),
        *(_turns(tasks, plan) if whole else ()),
        *_calendar(tasks, plan),
        *_dates(tasks, plan),
    )


def _name(task: Mapping[str, Any]) -> str:
    return f"{task['piece']} copy {task['copy']}, {task['station']} at {task['start_h']:.3f} h"


def _overlaps(tasks: Sequence[Mapping[str, Any]], key: str) -> Iterator[str]:
    """Nobody and no machine does two things at once."""
    own: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for task in tasks:
        if task[key]:
            own[task[key]].append(task)
    for who, theirs in own.items():
        theirs.sort(key=lambda task: (task["start_h"], task["end_h"]))
        for one, two in itertools.pairwise(theirs):
            if two["start_h"] < one["end_h"] - 1e-5:
                yield f"{who} does two things at once: {_name(one)} and {_name(two)}"


def _machines(
    tasks: Sequence[Mapping[str, Any]], machines: Sequence[Mapping[str, Any]]
) -> Iterator[str]:
    """Work is done at machines that there are, and not without one where it needs one."""
    serves = {
        label: one["station"]
        for one in machines
        for label in (
            [one["label"]]
            if one["number"] == 1
            else [f"{one['label']} {k + 1}" for k in range(one["number"])]
        )
    }
    for task in tasks:
        needs = _MACHINE_OF.get(task["station"], task["station"])
        at = task["machine"]
        if at and serves.get(at) != needs:
            yield f"{_name(task)} is at {at}, which is no machine for it"
        if not at and needs in serves.values():
            yield f"{_name(task)} is at no machine"


_MACHINE_OF = {
    "pre-close": "weld", "set up": "weld", "rework": "weld", "tumbling": "tumble",
}  # fmt: skip


def _set_ups(tasks: Sequence[Mapping[str, Any]], told: int) -> Iterator[str]:
    """Count for how many pieces another welder is set up than the first."""
    at: dict[str, set[str]] = defaultdict(set)
    for task in tasks:
        if task["station"] == "set up":
            at[task["piece"]].add(task["machine"])
    found = sum(len(machines) - 1 for machines in at.values())
    if found != told:
        yield f"{found} further set-ups of welders, told are {told}"


def _stands(plan: Mapping[str, Any], label: str) -> set[str]:
    """List the days on which a machine is not there."""
    for one in plan["schedule"]["machines"]:
        numbered = label.removeprefix(f"{one['label']} ")
        if label == one["label"] or (numbered.isdigit() and int(numbered) <= one["number"]):
            return set(one["days_off"].split())
    return set()


def _precedence(tasks: Sequence[Mapping[str, Any]], copies: Mapping[str, int]) -> Iterator[str]:
    """Look at the stations of each copy: one after another, the set-up before its first weld."""
    of: dict[tuple[str, int], list[Mapping[str, Any]]] = defaultdict(list)
    set_up: dict[tuple[str, str], float] = {}
    for task in tasks:
        if task["end_h"] < task["start_h"] - 1e-9:
            yield f"{_name(task)} ends before it begins"
        if task["station"] == "set up":
            set_up[task["piece"], task["machine"]] = task["end_h"]
            if task["copy"] + task["copies"] - 1 > copies[task["piece"]]:
                yield f"{_name(task)}: there are not so many copies"
            continue
        for copy in range(task["copy"], task["copy"] + task["copies"]):
            of[task["piece"], copy].append(task)
            if copy > copies[task["piece"]]:
                yield f"{_name(task)}: there is no copy {copy}"
    for (piece, copy), all_of_it in of.items():
        own = list(_whole(all_of_it))
        yield from _sections(f"{piece} copy {copy}", all_of_it)
        own.sort(key=lambda task: (task["start_h"], task["end_h"]))
        for one, two in itertools.pairwise(own):
            if two["start_h"] < one["end_h"] - 1e-5:
                yield f"{_name(two)} begins before {_name(one)} has ended"
            if STATIONS.index(two["station"]) < STATIONS.index(one["station"]):
                yield f"{_name(two)} comes after {_name(one)}"
        for task in own:
            welding = task["station"] in ("pre-close", "weld")
            ready = set_up.get((piece, task["machine"]))
            if ready is None and welding and any(name == piece for name, _ in set_up):
                yield f"{_name(task)}: {task['machine']} is not set up for it"
            elif welding and task["start_h"] < (ready or 0.0) - 1e-5:
                yield f"{_name(task)} begins before the welder is set up"


AT_WELDER = ("pre-close", "set up", "weld", "rework")


def _visits(tasks: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Look at the visits to the welder: counted as they come, each by one person in one go."""
    own = [task for task in tasks if task["station"] in AT_WELDER]
    for task in tasks:
        if (task["station"] in AT_WELDER) != (task["visit"] > 0):
            yield f"{_name(task)}: visit {task['visit']} to the welder"
    own.sort(key=lambda task: (task["start_h"], task["end_h"]))
    at: dict[str, list[int]] = defaultdict(list)
    for task in own:
        at[task["machine"]].append(task["visit"])
    numbers = sorted({number for theirs in at.values() for number in theirs})
    if numbers != [*range(1, len(numbers) + 1)]:
        yield f"visits to the welder are not counted one by one: {numbers[:20]}"
    for machine, theirs in at.items():
        if theirs != sorted(theirs):
            yield f"visits to {machine} are not counted as they come: {theirs[:20]}"
    who: dict[int, tuple[str, str]] = {}
    last: dict[tuple[str, int], int] = {}
    for task in own:
        hands = task["person"], task["machine"]
        if who.setdefault(task["visit"], hands) != hands:
            yield f"{_name(task)}: another person or welder in the same visit"
        lots = [
            (task["piece"], copy) for copy in range(task["copy"], task["copy"] + task["copies"])
        ]
        for lot in lots if task["station"] == "rework" else ():
            if last.get(lot, task["visit"]) != task["visit"]:
                yield f"{_name(task)}: not in the visit in which it was welded"
        last.update(dict.fromkeys(lots, task["visit"]) if task["station"] == "weld" else {})


def _whole(own: Sequence[Mapping[str, Any]]) -> Iterator[Mapping[str, Any]]:
    """Give a copy's tasks, with all its sections, which may be woven at once, as one."""
    sections = [task for task in own if task["section"] > 0]
    if sections:
        first = min(sections, key=lambda task: task["start_h"])
        yield {**first, "end_h": max(task["end_h"] for task in sections)}
    yield from (task for task in own if task["section"] <= 0)


def _sections(name: str, own: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Look whether each section is woven once, and all are joined after that."""
    numbers = sorted(task["section"] for task in own if task["section"] != 0)
    if numbers and numbers != [-1, *range(1, len(numbers))]:
        yield f"{name}: sections {numbers} are not each woven once and joined"


def first_day(plan: Mapping[str, Any]) -> str:
    """Return the day from which the schedule counts: of a rest, the one on which it goes on."""
    day: str = plan.get("replan", {}).get("first_day") or plan["start_date"]
    return day


def _windows(
    plan: Mapping[str, Any], person: str, machine: str, until: datetime.datetime
) -> Iterator[tuple[datetime.datetime, datetime.datetime]]:
    """Give the hours of one person at a machine, or at none, day by day."""
    calendar = plan["bench"]["calendar"]
    hours: list[dict[str, Any]] = plan["schedule"]["hours"]
    own: dict[str, Any] = next((one for one in hours if one["label"] == person), {})
    named = own.get("working_days") or calendar["working_days"]
    week = {_WEEK.index(day) for day in named.split()}
    off = {*calendar["days_off"].split(), *(own.get("days_off") or "").split()}
    off |= _stands(plan, machine) if machine else set()
    begins_h = own.get("day_starts_h")
    begins_h = calendar["day_starts_h"] if begins_h is None else begins_h
    lasts_h = own.get("hours_per_day") or calendar["hours_per_day"]
    day = datetime.date.fromisoformat(first_day(plan))
    while datetime.datetime.combine(day, datetime.time()) <= until:
        if day.weekday() in week and day.isoformat() not in off:
            opens = datetime.datetime.combine(day, datetime.time())
            opens += datetime.timedelta(hours=begins_h)
            yield opens, opens + datetime.timedelta(hours=lasts_h)
        day += datetime.timedelta(days=1)


def _hours(tasks: Sequence[Mapping[str, Any]], plan: Mapping[str, Any]) -> Iterator[str]:
    """Work falls into the hours of whoever does it, and is as long as it says."""
    if plan["start_date"] is None:
        for task in tasks:
            long_s = 3600 * (task["end_h"] - task["start_h"])
            if task["person"] and abs(long_s - task["work_s"]) > 1:
                yield f"{_name(task)} lasts {long_s:.0f} s and works {task['work_s']} s"
        return
    second = datetime.timedelta(seconds=1)
    ends = [datetime.datetime.fromisoformat(task["end"]) for task in tasks]
    windows = {
        (person, machine): list(_windows(plan, person, machine, max(ends)))
        for person, machine in {(task["person"], task["machine"]) for task in tasks}
        if person
    }
    for task in tasks:
        if not task["person"]:
            if task["machine"]:
                yield from _lies(task, plan)
            continue
        start = datetime.datetime.fromisoformat(task["start"])
        end = datetime.datetime.fromisoformat(task["end"])
        own = windows[task["person"], task["machine"]]
        inside = sum(
            max((min(end, shuts) - max(start, opens)).total_seconds(), 0.0) for opens, shuts in own
        )
        if not any(opens - second <= start <= shuts for opens, shuts in own):
            yield f"{_name(task)} begins outside the hours of {task['person']}"
        if not any(opens <= end <= shuts + second for opens, shuts in own):
            yield f"{_name(task)} ends outside the hours of {task['person']}"
        if abs(inside - task["work_s"]) > 1.5:
            yield f"{_name(task)} works {task['work_s']} s in {inside:.0f} s of hours"


def _lies(task: Mapping[str, Any], plan: Mapping[str, Any]) -> Iterator[str]:
    """Look whether what lies at a machine begins or ends on a day on which it stands."""
    if task["start"] is None:
        return
    off = _stands(plan, task["machine"])
    for day in (task["start"][:10], _day_of(task)):
        if day in off:
            yield f"{_name(task)}: {task['machine']} stands on {day}"


def _material(tasks: Sequence[Mapping[str, Any]], schedule: Mapping[str, Any]) -> Iterator[str]:
    """Nothing begins before its material has come."""
    for task in tasks:
        come = schedule["deliveries"].get(task["piece"], {}).get(task["station"])
        if come is not None and task["start"] is not None and task["start"][:10] < come:
            yield f"{_name(task)} begins before its fittings come on {come}"
    if schedule["delivered"] is None:
        return
    for task in tasks:
        waits = schedule["waits"].get(task["piece"], ())
        if task["station"] in waits and task["start"][:10] < schedule["delivered"]:
            yield f"{_name(task)} begins before its material comes on {schedule['delivered']}"


def _expanded(tasks: Sequence[Mapping[str, Any]]) -> list[tuple[str, int, int, int]]:
    return [
        (task["piece"], copy, task["first_step"], task["steps"])
        for task in sorted(tasks, key=lambda task: task["start_h"])
        if task["station"] == "weld" and task["steps"]
        for copy in range(task["copy"], task["copy"] + task["copies"])
    ]


def _welded(
    tasks: Sequence[Mapping[str, Any]], plan: Mapping[str, Any], copies: Mapping[str, int]
) -> Iterator[str]:
    """Each copy is welded once, from its first step to its last."""
    reached: dict[tuple[str, int], int] = defaultdict(int)
    for piece, copy, first, steps in _expanded(tasks):
        if reached[piece, copy] != first:
            yield f"{piece} copy {copy}: step {first} comes after step {reached[piece, copy] - 1}"
        reached[piece, copy] = first + steps
    for order in plan["order"]["pieces"]:
        name = order["piece"]
        for copy in range(1, copies[name] + 1):
            if reached[name, copy] != order["joins"]:
                yield f"{name} copy {copy}: {reached[name, copy]} of {order['joins']} joins"


def _turns(tasks: Sequence[Mapping[str, Any]], plan: Mapping[str, Any]) -> Iterator[str]:
    """Paper and bench sheet are made from the batch: it has the schedule's order."""
    batch = plan["order"]["batch"]
    rows = zip(batch["piece"], batch["copy"], batch["first_step"], batch["steps"], strict=True)
    if list(rows) != _expanded(tasks):
        yield "the turns of the batch are not those of the schedule"


def _calendar(tasks: Sequence[Mapping[str, Any]], plan: Mapping[str, Any]) -> Iterator[str]:
    """Look at each person's hours on each piece and station in the calendar, and their order."""
    hours: dict[tuple[str, str, str], float] = defaultdict(float)
    places = {(task["person"], task["station"], task["machine"]) for task in tasks}
    number: dict[str, int] = defaultdict(int)
    for one in plan["schedule"]["machines"]:
        number[one["station"]] += one["number"]
    several = {station for station, there in number.items() if there > 1}
    order: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for task in sorted(tasks, key=lambda task: task["start_h"]):
        if task["person"]:
            hours[task["person"], task["piece"], task["station"]] += task["work_s"] / 3600
            order[task["person"]].append((task["piece"], task["station"]))
    shown: dict[tuple[str, str, str], float] = defaultdict(float)
    told: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for line in plan["estimates"]["calendar"]:
        shown[line["person"], line["piece"], line["station"]] += line["hours"]
        at, station = line["machine"], _MACHINE_OF.get(line["station"], line["station"])
        known = not at or (line["person"], line["station"], at) in places
        if not known or (station in several) != bool(at):
            yield f"calendar: {line['person']}, {line['station']}: at {at or 'no machine'}"
        told[line["person"]].append((line["piece"], line["station"]))
    for key in sorted({*hours, *shown}):
        if abs(hours[key] - shown[key]) > 0.002 + 1e-4 * hours[key]:
            who, piece, station = key
            yield f"calendar: {who}, {piece}, {station}: {shown[key]:.3f} of {hours[key]:.3f} h"
    for who in order:
        if _runs(order[who]) != _runs(told[who]):
            yield f"calendar: {who} does things in another order than in the schedule"


def _runs(things: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    return [key for key, _ in itertools.groupby(things)]


def _dates(tasks: Sequence[Mapping[str, Any]], plan: Mapping[str, Any]) -> Iterator[str]:
    """Look whether work on a piece ends on the day of its last task, and when it is back."""
    of: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for task in tasks:
        if task["end"] is not None:
            of[task["piece"]].append(task)
    for line in plan["estimates"]["due"]:
        own = of.get(line["piece"], [])
        if line["worked"] is None or not own:
            continue
        assay = [task for task in own if task["station"] == "assay office"]
        work = [task for task in own if task["person"]]
        before = [task for task in work if task["station"] != "last fitting" or not assay]
        last = max((task["end"] for task in before), default=line["worked"])
        if last[:10] != line["worked"]:
            yield f"{line['piece']}: work done {line['worked']}, last task {last[:10]}"
        if len(assay) != (line["hallmark_days"] > 0):
            yield f"{line['piece']}: {len(assay)} times at the assay office"
        for task in assay:
            if task["start"] != last:
                yield f"{line['piece']}: goes to the assay office {task['start']}, done {last}"
        ready = max(_day_of(task) for task in (*work, *assay))
        if ready != line["done"]:
            yield f"{line['piece']}: ready {line['done']}, last task {ready}"


def _day_of(task: Mapping[str, Any]) -> str:
    """Name the day on which a task ends; midnight ends the day before."""
    end = datetime.datetime.fromisoformat(task["end"])
    return (end - datetime.timedelta(seconds=1)).date().isoformat()
