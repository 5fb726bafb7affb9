"""The schedule as ``calendar.ics`` (RFC 5545): an event a block of work, whole days for notices.

Times are those of the workshop, without a zone ("floating" in RFC 5545, 3.3.5): nine in the morning
is nine in the morning. The same piece of work keeps its UID in the next plan of the job.
"""

from __future__ import annotations

import datetime
import hashlib
from typing import TYPE_CHECKING

from chainplan.report.text.blocks import blocks_of
from chainplan.report.week.notices import DAY, notices_of

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan

NAME = "calendar.ics"


def write_ics(plan: Plan, folder: Path) -> list[Path]:
    """Write ``calendar.ics``; nothing for a job without a start date."""
    if plan.job.start_date is None:
        return []
    target = folder / NAME
    target.write_bytes(calendar_ics(plan))
    return [target]


def calendar_ics(plan: Plan) -> bytes:
    """Write a plan's schedule as iCalendar, the same bytes for the same plan."""
    import icalendar

    start = plan.job.start_date
    if start is None:
        message = "a calendar needs the job's start date"
        raise ValueError(message)
    stamp = datetime.datetime.combine(start, datetime.time(), datetime.UTC)
    calendar = icalendar.Calendar()
    calendar.add("prodid", f"-//chainplan//{plan.stamp.version}//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", plan.job.name)
    used: dict[str, int] = {}

    def event(key: str) -> icalendar.Event:
        used[key] = used.get(key, 0) + 1
        found = icalendar.Event()
        name = f"{plan.job.name}\n{key}\n{used[key]}".encode()
        found.add("uid", f"{hashlib.sha256(name).hexdigest()[:24]}@chainplan")
        found.add("dtstamp", stamp)
        calendar.add_component(found)
        return found

    for block in blocks_of(plan):
        one = event(f"{block.person}\n{block.text}")
        one.add("summary", f"{block.person}: {block.text}")
        one.add("dtstart", block.start)
        one.add("dtend", block.end)
        one.add("categories", [block.person])
        lines = [f"{piece}: {', '.join(stations)}" for piece, stations in block.work]
        one.add("description", "\n".join(lines))
    for notice in notices_of(plan):
        one = event(notice.key)
        one.add("summary", notice.text)
        one.add("dtstart", notice.first)
        one.add("dtend", notice.last + DAY)
        one.add("transp", "TRANSPARENT")
    data: bytes = calendar.to_ical()
    return data
