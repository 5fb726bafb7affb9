"""``calendar.ics`` and the bench sheet against the schedule in ``plan.json``.

The file is read here by itself, as RFC 5545 says: lines unfolded, a name, parameters, a value.
"""

from __future__ import annotations

import datetime
import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.reading import PLAN, SHEET
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

ICS = "calendar.ics"
ROUNDED = datetime.timedelta(minutes=8)
"""Events stand in quarters of an hour: half of one, rounded up."""
FOLDED = datetime.timedelta(minutes=20)
"""Shorter work stands together with its neighbours', so it need not be an event of its own."""
_LINE = re.compile(r"([A-Z-]+)((?:;[^:]*)?):(.*)")
_ESCAPED = re.compile(r"\\([\\,;nN])")


@check("the calendar is the schedule")
def check_calendar_file(files: PlanFiles, teller: Teller) -> None:
    """Compare each event with the tasks, and each longer task with the events."""
    path = files.folder / ICS
    if files.plan["start_date"] is None:
        teller.true(ICS, "the file", not path.exists(), "a calendar", "none without a start date")
        return
    if not path.is_file():
        teller.tell(ICS, "the file", "nothing", "a calendar")
        return
    try:
        every = list(_events(path.read_text(encoding="utf-8")))
        events = [event for event in every if "T" in event["DTSTART"]]
        tasks = [task for task in files.plan["schedule"]["tasks"] if task["person"]]
        _check_events(events, tasks, teller)
        _check_tasks(events, files.estimates("calendar"), teller)
        ready = {
            event["SUMMARY"].removeprefix("ready: "): _day(event["DTSTART"])
            for event in every
            if event["SUMMARY"].startswith("ready: ")
        }
    except (KeyError, ValueError) as error:
        teller.tell(ICS, "an event", repr(error), "start, end, summary, description, categories")
        return
    for row in files.estimates("due"):
        told = [day for name, day in ready.items() if re.fullmatch(_named(row["piece"]), name)]
        wanted = [] if row["done"] is None else [row["done"]]
        teller.same(ICS, f"ready: {row['piece']}", told, wanted)


def _named(piece: str) -> str:
    return re.escape(piece) + r"(?: \(wanted by .*\))?"


def _events(text: str) -> Iterator[dict[str, str]]:
    """Read the events: the values by their names."""
    event: dict[str, str] | None = None
    for line in text.replace("\r\n", "\n").replace("\n ", "").replace("\n\t", "").split("\n"):
        found = _LINE.fullmatch(line)
        if found is None:
            continue
        name, _, value = found.groups()
        if (name, value) == ("BEGIN", "VEVENT"):
            event = {}
        elif (name, value) == ("END", "VEVENT") and event is not None:
            yield event
            event = None
        elif event is not None:
            event[name] = _ESCAPED.sub(
                lambda match: "\n" if match[1] in "nN" else match[1], value
            )  # fmt: skip


def _moment(text: str) -> datetime.datetime:
    return datetime.datetime.strptime(text, "%Y%m%dT%H%M%S")


def _day(text: str) -> str:
    return f"{text[:4]}-{text[4:6]}-{text[6:8]}"


def _check_events(
    events: Sequence[Mapping[str, str]], tasks: Sequence[Mapping[str, Any]], teller: Teller
) -> None:
    """Each event names work that its person has then; nobody has two at once."""
    free: dict[str, datetime.datetime] = {}
    for event in sorted(events, key=lambda one: one["DTSTART"]):
        start, end = _moment(event["DTSTART"]), _moment(event["DTEND"])
        who = event["CATEGORIES"]
        place = f"{who} at {start:%Y-%m-%d %H:%M}"
        later = free.get(who, start)
        teller.true(ICS, place, start >= later, f"from {start:%H:%M}", f"from {later:%H:%M} on")
        free[who] = end
        lines = event["DESCRIPTION"].split("\n")
        told = "; ".join(f"{s}: {p}" for p, _, s in (line.rpartition(": ") for line in lines))
        teller.same(ICS, f"{place}, summary", event["SUMMARY"], f"{who}: {told}")
        for line in lines:
            piece, _, stations = line.rpartition(": ")
            for station in stations.split(", "):
                known = any(
                    (task["person"], task["piece"], task["station"]) == (who, piece, station)
                    and datetime.datetime.fromisoformat(task["start"]) < end + ROUNDED
                    and datetime.datetime.fromisoformat(task["end"]) > start - ROUNDED
                    for task in tasks
                )
                teller.true(ICS, place, known, f"{piece}: {station}", "a task of that time")


def _check_tasks(
    events: Sequence[Mapping[str, str]], lines: Sequence[Mapping[str, Any]], teller: Teller
) -> None:
    """Each longer stretch of the calendar stands in an event of its person."""
    for line in lines:
        start = datetime.datetime.fromisoformat(line["start"])
        end = datetime.datetime.fromisoformat(line["end"])
        if end - start < FOLDED:
            continue
        middle = start + (end - start) / 2
        known = any(
            event["CATEGORIES"] == line["person"]
            and _moment(event["DTSTART"]) <= middle <= _moment(event["DTEND"])
            and any(
                text.startswith(f"{line['piece']}: ") and line["station"] in text
                for text in event["DESCRIPTION"].split("\n")
            )
            for event in events
        )
        place = f"{line['person']} at {middle:%Y-%m-%d %H:%M}"
        teller.true(ICS, place, known, "no such event", f"{line['piece']}: {line['station']}")


@check("a copy is welded when it lies woven")
def check_woven(files: PlanFiles, teller: Teller) -> None:
    """Compare the moments at which the bench sheet takes up copies with the schedule."""
    wanted: dict[tuple[str, int], str] = {}
    for task in files.plan["schedule"]["tasks"]:
        if task["station"] in ("tumbling", "weave", "fitting") and task["end"] is not None:
            for copy in range(task["copy"], task["copy"] + task["copies"]):
                key = task["piece"], copy
                wanted[key] = max(wanted.get(key, ""), task["end"])
    for piece in files.pieces:
        told = piece.sheet["woven"]
        own = [wanted.get((piece.name, k + 1), "")[:16] for k in range(len(told))]
        teller.same(SHEET, f"{piece.name}, woven", told, own)
        if files.plan["start_date"] is not None:
            teller.same(PLAN, f"{piece.name}, copies", len(told), piece.record["quantity"])
