"""Time at each station, and which piece is where on which day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.text.blocks import blocks_of
from chainplan.report.workbook.cells.page import FOLLOWS_NOT
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import KEYWORD, SENTENCE

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cells.page import PlanBook

LOAD = "load-"
_RANGE = ("low", "usual", "high")


def add_time(book: PlanBook, plan: Plan) -> None:
    """Add the load of each station, then the time of each piece there, as low, usual and high."""
    page = book.page(
        "time",
        "Time",
        "Low, usual and high of a practised hand, and what somebody new to the work takes; all "
        f"copies of a piece. {FOLLOWS_NOT}",
    )
    headings = [
        Heading("piece", "piece"),
        Heading("station", "station", words=KEYWORD),
        *(Heading(f"{end}_min", f"{end}, min", "0.1") for end in _RANGE),
        Heading("new_least_min", "new hand from, min", "0.1"),
        Heading("new_most_min", "to, min", "0.1"),
        Heading("basis", "what it counts", words=SENTENCE),
    ]
    figures = plan.estimates.figures.get("", ())
    loads = [
        {
            "piece": "all pieces",
            "station": figure.key.removeprefix(LOAD),
            "low_min": figure.low,
            "usual_min": figure.usual,
            "high_min": figure.high,
        }
        for figure in figures
        if figure.key.startswith(LOAD) and figure.high > 0
    ]
    hours = next((figure for figure in figures if figure.key == "hours"), None)
    total = None
    if hours is not None:
        total = {
            "piece": "all pieces",
            "station": "all stations",
            "low_min": hours.low,
            "usual_min": hours.usual,
            "high_min": hours.high,
        }
    page.set_widths(headings)
    if loads:
        page.head("Hours a station")
        in_hours = [*headings[:2], *(Heading(f"{end}_min", f"{end}, h", "0.1") for end in _RANGE)]
        page.table(in_hours, loads, total=total)
        page.head("Minutes a piece and station")
    rows = [
        {heading.key: getattr(line, heading.key) for heading in headings}
        for line in plan.estimates.times
        if line.high_min > 0
    ]
    page.repeat(page.table(headings, rows), filters=True)
    page.close()


def add_dates(book: PlanBook, plan: Plan) -> None:
    """Add which due dates are kept."""
    due = plan.estimates.due
    page = book.page(
        "dates",
        "Dates",
        "When each piece is ready"
        + (", back from the assay office. " if any(x.hallmark_days for x in due) else ". ")
        + FOLLOWS_NOT,
    )
    headings = [
        Heading("piece", "piece"),
        Heading("due", "wanted by", "date"),
        Heading("worked", "work done", "date"),
        Heading("hallmark_days", "weekdays at the assay office", "sparse int"),
        Heading("done", "ready by", "date"),
        Heading("late_days", "days late", "sparse int"),
        Heading("chance_in_time", "chance to be in time", "chance"),
    ]
    rows = [{h.key: getattr(line, h.key) for h in headings} for line in due]
    page.repeat(page.table(headings, rows, alarm="late_days"))
    page.close()


def add_calendar(book: PlanBook, plan: Plan) -> None:
    """Add who works on what, by day and person, in quarters of an hour; hours without dates."""
    blocks = blocks_of(plan)
    page = book.page(
        "calendar",
        "Calendar",
        (
            "Who works on what, by day and person, in quarters of an hour. "
            if blocks
            else "Who works on what, in working hours; give the job a start date to see days. "
        )
        + FOLLOWS_NOT,
        wide=False,
    )
    if blocks:
        headings = [
            Heading("day", "day", words=KEYWORD),
            Heading("person", "who", words=KEYWORD),
            Heading("start", "from", "right"),
            Heading("end", "to", "right"),
            Heading("text", "what", words=SENTENCE),
            Heading("hours", "hours", "0.01"),
        ]
        rows: list[dict[str, object]] = [
            {
                "day": f"{block.start:%a %Y-%m-%d}",
                "person": block.person,
                "start": f"{block.start:%H:%M}",
                "end": f"{block.end:%H:%M}",
                "text": block.text,
                "hours": block.hours,
            }
            for block in blocks
        ]
    else:
        headings = [
            Heading("person", "who", words=KEYWORD),
            Heading("start_h", "from, h", "0.01"),
            Heading("end_h", "to, h", "0.01"),
            Heading("piece", "piece"),
            Heading("station", "station", words=KEYWORD),
            Heading("hours", "hours", "0.01"),
        ]
        rows = [
            {heading.key: getattr(line, heading.key) for heading in headings}
            for line in plan.estimates.calendar
        ]
    page.repeat(page.table(headings, rows), filters=True)
    page.close()
