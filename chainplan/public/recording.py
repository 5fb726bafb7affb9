"""What really happened, told to the program: the public functions of the workshop's record."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping, Sequence

    from chainplan.model.bench.groups import CalendarSettings
    from chainplan.model.workshop.record import (
        FileRecorded,
        JoinTrace,
        KnownPlan,
        Progress,
        Recorded,
        Review,
    )
    from chainplan.model.workshop.schedule import LeftTask
    from chainplan.record.kept.store import Record
    from chainplan.record.reading.logs import Log

RECORD_NAME = "workshop.sqlite"


def record_path(folder: str | Path | None = None, record: str | Path | None = None) -> Path:
    """Say where the workshop's record is: beside the plans unless another file is named.

    Examples
    --------
    >>> record_path("output/necklace").as_posix(), record_path().as_posix()
    ('output/workshop.sqlite', 'output/workshop.sqlite')
    """
    if record is not None:
        return Path(record)
    beside = Path("output") if folder is None else Path(folder).resolve().parent
    if folder is not None and not Path(folder).is_absolute():
        beside = Path(folder).parent
    return beside / RECORD_NAME


def record_logs(
    logs: Sequence[str | Path],
    plan: str | Path,
    *,
    record: str | Path | None = None,
    skip_bad: bool = False,
    person: str = "",
) -> Recorded:
    """Take logs of the bench into the workshop's record.

    Parameters
    ----------
    logs : sequence of str or Path
        Logs of bench sheets, or typed by hand, in any order; those that were handed over before
        change nothing.
    plan : str or Path
        The folder of the plan that they were tapped from.
    record : str or Path, optional
        The record; beside the plan's folder if not given.
    skip_bad : bool
        Record the good rows of a file that has faults; else nothing of that file is recorded.
    person : str
        Label of the person for rows that name none.

    Returns
    -------
    Recorded
        What became of each file, with every fault.

    Raises
    ------
    InputError
        If the folder holds no plan, or the record is none or cannot be written.
    """
    from functools import partial

    from chainplan.job.files.first_sheet import first_sheet_rows
    from chainplan.model.workshop.record import Recorded
    from chainplan.record.kept.lineage import of_record, same_work
    from chainplan.record.kept.store import Record
    from chainplan.record.progress import whole_plan
    from chainplan.record.reading.cells import open_table
    from chainplan.record.reading.checks import check_together
    from chainplan.record.reading.logs import LogReader, read_logs

    target = record_path(plan, record)
    known_plan = _read_plan(plan)
    with Record(target) as book:
        known_plan = of_record(book, known_plan)
        reader = LogReader(whole_plan(book, known_plan), same_work(book, known_plan))
        tables = [partial(open_table, path, first_sheet_rows) for path in logs]
        found = read_logs(tables, reader, person=person)
        there = check_together(book, known_plan, found)
        files = []
        events = []
        for log in found:
            taken = skip_bad or not log.faults
            events += [item.event for item in log.told if taken and item.event.id not in there]
            files.append(_became(log, there, taken=taken))
        book.add(events, plan=known_plan)
    return Recorded(record=str(target), plan=known_plan.stamp, files=tuple(files))


def _read_plan(folder: str | Path) -> KnownPlan:
    """Read the plan that a folder holds; what a killed run left half changed is mended first."""
    from chainplan.record.reading.plan_folder import read_plan_folder
    from chainplan.writing import mend_folder

    mend_folder(folder)
    return read_plan_folder(folder)


def _became(log: Log, there: set[str], *, taken: bool) -> FileRecorded:
    from chainplan.model.workshop.record import FileRecorded

    known = sum(item.event.id in there for item in log.told)
    fresh = len({item.event.id for item in log.told} - there)
    return FileRecorded(
        file=log.file,
        recorded=fresh if taken else 0,
        known=known,
        skipped=log.bad_rows if taken else 0,
        faults=tuple(log.faults),
    )


def progress(
    folder: str | Path | None = None,
    *,
    record: str | Path | None = None,
    now: datetime.datetime | None = None,
) -> tuple[Progress, ...]:
    """Say how far jobs are: one, by its plan's folder, or all that the record knows.

    Parameters
    ----------
    folder : str or Path, optional
        The folder of a plan; without it every job of the record is told.
    record : str or Path, optional
        The record; beside the plan's folder, or in ``output``, if not given.
    now : datetime, optional
        The time it is, from which the working hours still to come are counted.

    Raises
    ------
    InputError
        If the folder holds no plan, or the record is none.
    """
    from chainplan.record.kept.lineage import known_plan, latest_plans, of_record
    from chainplan.record.kept.store import Record

    target = record_path(folder, record)
    there = target.exists() or folder is None
    with Record(target, read_only=True) if there else Record.empty() as book:
        if folder is None:
            plans = [known_plan(book, key) for key in latest_plans(book)]
        else:
            plans = [of_record(book, _read_plan(folder))]
        return tuple(progress_in(book, plan, now) for plan in plans)


def progress_in(book: Record, plan: KnownPlan, now: datetime.datetime | None = None) -> Progress:
    """Say how far one job is, from an open record."""
    import datetime
    from functools import partial

    from chainplan.record.progress import last_event, progress_of

    from_then = _from_when(plan, last_event(book, plan), now or datetime.datetime.now())
    return progress_of(
        book, plan, from_then, partial(_working_moment, plan.bench, from_then),
        partial(_ends_of, plan, from_then),
    )  # fmt: skip


def _ends_of(
    plan: KnownPlan, now: datetime.datetime, tasks: Sequence[LeftTask]
) -> list[datetime.datetime]:
    """Say when each of what is left of a plan's schedule is over."""
    from chainplan.model.workshop.schedule import Person
    from chainplan.schedule.left import ends_of

    known = {item.name for item in fields(Person)} - {"wage_per_hour"}
    people = [
        Person(**{name: value for name, value in each.items() if name in known})
        for each in plan.bench.get("job.people") or ()
    ]
    return ends_of(tasks, _calendar(plan.bench), people, now)


def _from_when(
    plan: KnownPlan, last: tuple[str, float] | None, now: datetime.datetime
) -> datetime.datetime:
    """Say from when what is left is counted: now, but not before the last event or the start."""
    import datetime

    if last is not None:
        return max(now, datetime.datetime.fromtimestamp(last[1]))
    start = plan.bench.get("job.start_date")
    return max(now, datetime.datetime.fromisoformat(start)) if start else now


def _calendar(bench: Mapping[str, Any]) -> CalendarSettings:
    """Give the workshop's hours as a plan had them."""
    from chainplan.model.bench.groups import CalendarSettings

    names = {item.name for item in fields(CalendarSettings)}
    given = {
        name: value
        for key, value in bench.items()
        if (name := key.removeprefix("calendar.")) != key and name in names
    }
    return CalendarSettings(**given)


def _working_moment(
    bench: Mapping[str, Any], now: datetime.datetime, hours: float
) -> datetime.datetime:
    """Turn working hours from now into a date and time by the bench's calendar."""
    from chainplan.schedule.workdays import WorkDays

    days = WorkDays.of(now.date(), _calendar(bench))
    gone_h = 0.0
    if days.is_working(now.date()):
        clock_h = now.hour + now.minute / 60 + now.second / 3600
        gone_h = min(max(clock_h - days.day_starts_h, 0.0), days.hours_per_day)
    return days.moment(gone_h + hours, ending=True)


def trace(
    folder: str | Path,
    *,
    piece: str | None = None,
    copy: int | None = None,
    ring: int | None = None,
    record: str | Path | None = None,
) -> tuple[JoinTrace, ...]:
    """Tell what became of joins: wire lot, setting, person, time, tries and checks.

    Parameters
    ----------
    folder : str or Path
        The plan's folder.
    piece, copy, ring : str, int, int, optional
        Which; all if not given. With a ring of a job of several pieces the piece is needed.
    record : str or Path, optional
        The record; beside the plan's folder if not given.

    Raises
    ------
    InputError
        If there is no such piece, copy or ring, or no record.
    """
    from chainplan.record.kept.lineage import of_record
    from chainplan.record.kept.store import Record
    from chainplan.record.progress import whole_plan
    from chainplan.record.trace import trace_joins

    with Record(record_path(folder, record), read_only=True) as book:
        whole = whole_plan(book, of_record(book, _read_plan(folder)))
        return trace_joins(book, whole, piece=piece, copy=copy, ring=ring)


def review(
    folder: str | Path,
    *,
    record: str | Path | None = None,
    aql_percent: float | None = None,
    seed: int | None = None,
    out: str | Path | None = None,
) -> Review:
    """Look back at a job: planned against actual, and which joins of each lot to check.

    Parameters
    ----------
    folder : str or Path
        The plan's folder.
    record : str or Path, optional
        The record; beside the plan's folder if not given.
    aql_percent : float, optional
        Acceptance quality limit of the checks, as ISO 2859-1 has them; the plan's if not given.
    seed : int, optional
        For the joins drawn: the same seed draws the same joins; the plan's if not given, which
        are those of the bench sheet.
    out : str or Path, optional
        A folder: ``review.pdf``, ``review.png`` (the chart), ``review.xlsx`` and
        ``certificate.pdf`` are written there.

    Raises
    ------
    InputError
        If the folder holds no plan, there is no record, or a file cannot be written.
    """
    from chainplan.record.kept.lineage import of_record
    from chainplan.record.kept.store import Record
    from chainplan.record.progress import whole_plan
    from chainplan.record.review import review_of
    from chainplan.record.trace import trace_joins

    with Record(record_path(folder, record), read_only=True) as book:
        plan = of_record(book, _read_plan(folder))
        whole = whole_plan(book, plan)
        found = review_of(
            book, plan, whole,
            aql_percent=plan.aql_percent if aql_percent is None else aql_percent,
            seed=plan.seed if seed is None else seed,
        )  # fmt: skip
        traces = trace_joins(book, whole, piece=None, copy=None, ring=None)
    if out is not None:
        _write_review(found, traces, Path(out))
    return found


def _write_review(found: Review, traces: Sequence[JoinTrace], out: Path) -> None:
    """Write the pages and the workbook of a review into a folder of the user's."""
    from chainplan.errors import InputError
    from chainplan.report.charts.compared import draw_review
    from chainplan.report.diagram.looking_back import certificate_pdf, review_pdf
    from chainplan.report.workbook.looking_back import write_review_book
    from chainplan.writing import write_file

    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = f"{out}: cannot be made ({error.strerror})"
        raise InputError(message) from None
    write_file(out / "review.pdf", review_pdf(found))
    write_file(out / "certificate.pdf", certificate_pdf(found, traces))
    write_review_book(found, traces, out / "review.xlsx")
    draw_review(found, out / "review.png")
