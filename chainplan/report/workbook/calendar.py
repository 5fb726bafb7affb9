"""Time at each station, and which piece is where on which day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.workbook.page import Heading

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.page import Book

LOAD = "load-"
_RANGE = ("low", "usual", "high")


def add_time(book: Book, plan: Plan) -> None:
    """Add the load of each station, then the time of each piece there, as low, usual and high."""
    page = book.page(
        "time",
        "Time",
        "Low, usual and high; all copies of a piece. The chance to be in time is on 'calendar'.",
    )
    headings = [
        Heading("piece", "piece", width=26),
        Heading("station", "station", width=14),
        *(Heading(f"{end}_min", f"{end}, min", "0.1", 11) for end in _RANGE),
        Heading("basis", "what it counts", width=74),
    ]
    page.set_widths(headings)
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
    if loads:
        page.head("Hours a station")
        in_hours = [
            *headings[:2],
            *(Heading(f"{end}_min", f"{end}, h", "0.1", 11) for end in _RANGE),
        ]
        page.table(in_hours, loads, total=total)
        page.row += 1
        page.head("Minutes a piece and station")
    rows = [
        {heading.key: getattr(line, heading.key) for heading in headings}
        for line in plan.estimates.times
        if line.high_min > 0
    ]
    page.table(headings, rows, filters=True)
    page.sheet.freeze_panes = None
    page.sheet.print_title_rows = None
    page.close()


def add_calendar(book: Book, plan: Plan) -> None:
    """Add which due dates are kept, and who is worked on when."""
    lines, due = plan.estimates.calendar, plan.estimates.due
    dated = any(line.start is not None for line in lines)
    away = any(line.hallmark_days for line in due)
    page = book.page(
        "calendar",
        "Calendar",
        "Which piece is at which station when."
        + ("" if dated else " Give the job a start date to see days.")
        + (" A piece is ready when it is back from the assay office." if away else ""),
        wide=False,
    )
    dates = [
        Heading("piece", "piece", width=28),
        Heading("due", "wanted by", "date", 13),
        Heading("worked", "work done", "date", 16),
        Heading("hallmark_days", "weekdays at the assay office", "sparse int", 12),
        Heading("done", "ready by", "date", 13),
        Heading("late_days", "days late", "sparse int", 10),
        Heading("chance_in_time", "chance to be in time", "%", 14),
    ]
    page.set_widths([*dates, Heading("", "", width=9)])
    rows = [{h.key: getattr(line, h.key) for h in dates} for line in due]
    page.head("Dates")
    page.table(dates, rows, alarm="late_days")
    page.row += 1
    work = [
        Heading("piece", "piece", width=28),
        Heading("station", "station", width=13),
        Heading("day", "day", "text", 13),
        Heading("start", "from", "right", 12),
        Heading("end", "to", "right", 13),
        Heading("hours", "hours", "0.01", 13),
    ]
    if not dated:
        work[2:5] = [
            Heading("start_h", "from, h", "0.01"),
            Heading("end_h", "to, h", "0.01"),
        ]
    page.head("Work" if dated else "Work, in working hours from the start")
    page.table(
        work,
        (
            {
                "piece": line.piece,
                "station": line.station,
                "day": f"{line.start:%a %Y-%m-%d}" if line.start else "",
                "start": f"{line.start:%H:%M}" if line.start else "",
                "end": _clock(line.start, line.end),
                "start_h": line.start_h,
                "end_h": line.end_h,
                "hours": line.end_h - line.start_h,
            }
            for line in lines
        ),
    )
    page.close()


def _clock(start: object, end: object) -> str:
    """Write when a stretch of work ends, with the day if it is another one."""
    import datetime

    if not isinstance(start, datetime.datetime) or not isinstance(end, datetime.datetime):
        return ""
    same = start.date() == end.date()
    return f"{end:%H:%M}" if same else f"{end:%a %d %H:%M}"
