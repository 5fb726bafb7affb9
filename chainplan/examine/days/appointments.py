"""``calendar.ics`` and the bench sheet against the schedule in ``plan.json``.

The file is read here by itself, as RFC 5545 says: lines unfolded, a name, parameters, a value.
"""

from __future__ import annotations

import datetime
import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.printed.bench_sheets import told_of
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
        _check_events(events, files.plan["schedule"]["blocks"], teller)
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
    events: Sequence[Mapping[str, str]], blocks: Sequence[Mapping[str, Any]], teller: Teller
) -> None:
    """Each event is a block of work, and each block an event."""
    told = [
        (
            event["CATEGORIES"], _moment(event["DTSTART"]).isoformat(),
            _moment(event["DTEND"]).isoformat(), event["DESCRIPTION"],
        )
        for event in events
    ]  # fmt: skip
    wanted = [
        (
            block["person"], block["start"], block["end"],
            "\n".join(f"{work['piece']}: {', '.join(work['stations'])}" for work in block["work"]),
        )
        for block in blocks
    ]  # fmt: skip
    for place in sorted({*told} ^ {*wanted}):
        found = "an event" if place in told else "no event"
        teller.tell(ICS, f"{place[0]} at {place[1]}", found, f"{place[3]} until {place[2]}")
    for event, block in zip(events, blocks, strict=False):
        text = f"{block['person']}: {told_of(block)}"
        teller.same(ICS, f"{block['person']} at {block['start']}", event["SUMMARY"], text)


@check("blocks of work are the schedule")
def check_blocks(files: PlanFiles, teller: Teller) -> None:
    """Compare each block with the calendar, and each longer stretch of it with the blocks."""
    blocks = files.plan["schedule"]["blocks"]
    if files.plan["start_date"] is None:
        teller.same(PLAN, "schedule, blocks", len(blocks), 0)
        return
    lines = files.estimates("calendar")
    free: dict[str, datetime.datetime] = {}
    for block in sorted(blocks, key=lambda one: str(one["start"])):
        start, end = (datetime.datetime.fromisoformat(block[key]) for key in ("start", "end"))
        who = block["person"]
        place = f"schedule, blocks, {who} at {block['start']}"
        later = free.get(who, start)
        teller.true(PLAN, place, start >= later, block["start"], f"from {later} on")
        free[who] = end
        whole = all((at.minute % 15, at.second) == (0, 0) for at in (start, end)) and end > start
        teller.true(PLAN, place, whole, block["end"], "quarters of an hour")
        own = [
            line
            for line in lines
            if line["person"] == who
            and datetime.datetime.fromisoformat(line["start"]) < end + ROUNDED
            and datetime.datetime.fromisoformat(line["end"]) > start - ROUNDED
        ]
        for key, at in (("start", start), ("end", end)):
            ends = [datetime.datetime.fromisoformat(x[key]) for x in lines if x["person"] == who]
            near = any(abs(one - at) <= 2 * ROUNDED for one in ends)
            teller.true(PLAN, f"{place}, {key}", near, block[key], "where work begins or ends")
        for work in block["work"]:
            for station in work["stations"]:
                known = any((x["piece"], _at(x)) == (work["piece"], station) for x in own)
                told = f"{work['piece']}: {station}"
                teller.true(PLAN, place, known, told, "work of that time")
    for line in lines:
        start, end = (datetime.datetime.fromisoformat(line[key]) for key in ("start", "end"))
        if end - start < FOLDED:
            continue
        middle = start + (end - start) / 2
        known = any(
            block["person"] == line["person"]
            and block["start"] <= middle.isoformat() <= block["end"]
            and any(
                work["piece"] == line["piece"] and _at(line) in work["stations"]
                for work in block["work"]
            )
            for block in blocks
        )
        place = f"schedule, blocks, {line['person']} at {middle:%Y-%m-%d %H:%M}"
        teller.true(PLAN, place, known, "no such block", f"{line['piece']}: {line['station']}")


def _at(line: Mapping[str, Any]) -> str:
    """Name a station, with its machine where there are several."""
    station, machine = str(line["station"]), line["machine"]
    return f"{station} at {machine}" if machine and station not in ("set up", "rework") else station


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
