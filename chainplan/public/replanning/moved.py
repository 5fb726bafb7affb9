"""What moved on the calendar since the last plan of a job: begun, ready, and by whom."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

from chainplan.intake import read_plan_record

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from chainplan.model.job import Job
    from chainplan.model.workshop.schedule import Schedule

MOST_TOLD = 12
"""Pieces that moved that are told one by one; the others are counted."""


def moved(folder: Path, schedule: Schedule) -> list[str]:
    """Compare the schedule that stands in a plan's folder with a new one; nothing without dates."""
    from chainplan.record.reading.plan_folder import told_as_damage

    old = read_plan_record(folder / "plan.json")
    if old.get("start_date") is None or not schedule.tasks or schedule.tasks[0].start is None:
        return []
    with told_as_damage(folder):
        found = list(_moved(old, schedule))
    if not found:
        return ["On the calendar no piece moved to another day or into other hands."]
    more = len(found) - MOST_TOLD
    return [*found[:MOST_TOLD], *([f"{more} more pieces moved; see week.pdf."] if more > 0 else [])]


def hands_changed(folder: Path, job: Job) -> list[str]:
    """Name what is another of people and machines than in the plan that stands in a folder."""
    from chainplan.record.reading.plan_folder import told_as_damage

    with told_as_damage(folder):
        return _hands_changed(read_plan_record(folder / "plan.json")["schedule"], job)


def _hands_changed(old: Mapping[str, Any], job: Job) -> list[str]:
    from chainplan.model.workshop.machines import machines_there
    from chainplan.report.text.record import plain

    found: list[str] = []
    for what, then, now in (
        ("people", old["hours"], plain(job.people)),
        ("machines", old["machines"], plain(machines_there(job.machines))),
    ):
        before = {one["label"]: one for one in then}
        after = {one["label"]: one for one in now}
        found += [f"Changed: {what}: {name} is new." for name in after.keys() - before.keys()]
        found += [f"Changed: {what}: {name} is gone." for name in before.keys() - after.keys()]
        for name in sorted(before.keys() & after.keys()):
            found += [
                f"Changed: {what}, {name}: {key.replace('_', ' ')} {_shown(new)} instead of "
                f"{_shown(before[name].get(key))}."
                for key, new in after[name].items()
                if before[name].get(key) != new
            ]
    return sorted(found)


def _shown(value: object) -> str:
    return "none" if value in (None, "") else str(value)


def _moved(old: dict[str, Any], schedule: Schedule) -> Iterator[str]:
    before = {row["piece"]: row for row in old["estimates"]["due"]}
    begun = {name: _began(own) for name, own in _by_piece(old["schedule"]["tasks"]).items()}
    hands = {name: _hands(own) for name, own in _by_piece(old["schedule"]["tasks"]).items()}
    tasks = [
        {"piece": t.piece, "person": t.person, "start": t.start.isoformat()}
        for t in schedule.tasks
        if t.start is not None
    ]
    now = _by_piece(tasks)
    for each in schedule.pieces:
        row = before.get(each.piece)
        ready = each.ready.isoformat() if each.ready else None
        if row is None:
            yield f"New on the calendar: {each.piece}, ready {_day(ready)}."
            continue
        said = []
        if row["done"] != ready:
            late = f", {each.late_days} days late" if each.late_days else ""
            said.append(f"ready {_day(ready)} instead of {_day(row['done'])}{late}")
        first, then = _began(now.get(each.piece, [])), begun.get(each.piece)
        if first != then and first and then:
            said.append(f"begun {_day(first)} instead of {_day(then)}")
        who, whose = _hands(now.get(each.piece, [])), hands.get(each.piece, "")
        if who != whose and whose:
            said.append(f"done by {who} instead of {whose}")
        if said:
            yield f"Moved: {each.piece}: {'; '.join(said)}."
    gone = before.keys() - {each.piece for each in schedule.pieces}
    yield from (f"No longer on the calendar: {name}." for name in sorted(gone))


def _by_piece(tasks: list[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    found: dict[str, list[dict[str, Any]]] = {}
    for task in tasks:
        if task["person"]:
            found.setdefault(task["piece"], []).append(task)
    return found


def _began(tasks: list[dict[str, Any]]) -> str | None:
    return min((str(task["start"])[:10] for task in tasks), default=None)


def _hands(tasks: list[dict[str, Any]]) -> str:
    return " and ".join(sorted({str(task["person"]) for task in tasks}))


def _day(text: str | None) -> str:
    if text is None:
        return "at no date"
    day = datetime.date.fromisoformat(text)
    return f"{day:%a} {day.day} {day:%b}"
