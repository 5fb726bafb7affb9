"""The calendar in hours that a person plans in: stretches of work in quarters of an hour."""

from __future__ import annotations

import datetime
from collections import defaultdict
from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.estimate import CalendarLine
    from chainplan.model.plan import Plan

QUARTER_S = 900
"""A quarter of an hour, to which times on the wall are rounded."""
SHORT_S = 1200
"""Work on one piece below this stands together with what follows it: nobody plans shorter ones."""

BESIDE_WELDING = ("set up", "rework")
"""In the same visit to the welder: which one it is stands with the welding."""


@frozen
class WorkBlock:
    """What one person does for some quarters of an hour."""

    person: str
    start: datetime.datetime
    end: datetime.datetime
    work: tuple[tuple[str, tuple[str, ...]], ...]  # piece, its stations (at which machine) in order

    @property
    def text(self) -> str:
        """Say what is done.

        Examples
        --------
        >>> moment = datetime.datetime(2027, 3, 1, 9)
        >>> work = (("Cuff", ("coil", "cut")),)
        >>> WorkBlock(person="Ann", start=moment, end=moment, work=work).text
        'coil, cut: Cuff'
        """
        return "; ".join(f"{', '.join(stations)}: {piece}" for piece, stations in self.work)

    @property
    def hours(self) -> float:
        """How long it takes."""
        return (self.end - self.start).total_seconds() / 3600


def blocks_of(plan: Plan) -> tuple[WorkBlock, ...]:
    """Put the calendar of a plan into blocks, by day and person; none without dates.

    Work of less than twenty minutes goes together with what the same person does after it, the last
    before a pause with what was before. Times are rounded to the nearest quarter of an hour.
    """
    of: dict[str, list[CalendarLine]] = defaultdict(list)
    for line in plan.estimates.calendar:
        if line.start is not None and line.end is not None:
            of[line.person].append(line)
    place = {label: k for k, label in enumerate(plan.schedule.people)}
    blocks = [block for person, lines in of.items() for block in _of_person(person, lines)]
    return tuple(sorted(blocks, key=lambda block: (block.start.date(), place[block.person])))


def _of_person(person: str, lines: Sequence[CalendarLine]) -> Iterator[WorkBlock]:
    runs: list[list[CalendarLine]] = []
    for line in lines:
        if runs and (_goes_on(runs[-1], line) or _is_short(runs[-1], line)):
            runs[-1].append(line)
        else:
            runs.append([line])
    for k in range(len(runs) - 1, 0, -1):
        alone = k + 1 == len(runs) or not _follows(runs[k], runs[k + 1][0])
        if alone and _seconds(runs[k]) < SHORT_S and _follows(runs[k - 1], runs[k][0]):
            runs[k - 1 : k + 1] = [[*runs[k - 1], *runs[k]]]
    found: list[tuple[datetime.datetime, datetime.datetime, list[CalendarLine]]] = []
    for run in runs:
        start, end = _rounded(run[0].start), _rounded(run[-1].end)
        if found and end <= found[-1][1]:  # within the quarter that stands there already
            found[-1][2].extend(run)
            continue
        if end <= start and run[0].start is not None and start > run[0].start:
            start -= datetime.timedelta(seconds=QUARTER_S)  # the quarter in which it lies
        start = max(start, found[-1][1]) if found else start
        end = max(end, start + datetime.timedelta(seconds=QUARTER_S))
        found.append((start, end, [*run]))
    for start, end, lines_there in found:
        yield WorkBlock(person=person, start=start, end=end, work=_work(lines_there))


def _goes_on(run: Sequence[CalendarLine], line: CalendarLine) -> bool:
    return _follows(run, line) and {one.piece for one in run} == {line.piece}


def _is_short(run: Sequence[CalendarLine], line: CalendarLine) -> bool:
    return _follows(run, line) and _seconds(run) < SHORT_S


def _follows(run: Sequence[CalendarLine], line: CalendarLine) -> bool:
    """Whether a line begins on their day where others end, but for minutes that nobody plans."""
    last, first = run[-1].end, run[0].start
    if last is None or first is None or line.start is None:
        return False
    goes_on = line.start - last < datetime.timedelta(seconds=QUARTER_S)
    return goes_on and line.start.date() == first.date()


def _seconds(run: Sequence[CalendarLine]) -> float:
    first, last = run[0].start, run[-1].end
    return 0.0 if first is None or last is None else (last - first).total_seconds()


def _rounded(moment: datetime.datetime | None) -> datetime.datetime:
    """Round to the nearest quarter of an hour."""
    if moment is None:
        message = "a block needs dates"
        raise ValueError(message)
    midnight = datetime.datetime.combine(moment.date(), datetime.time())
    quarters = round((moment - midnight).total_seconds() / QUARTER_S)
    return midnight + datetime.timedelta(seconds=quarters * QUARTER_S)


def _work(run: Sequence[CalendarLine]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    found: dict[str, dict[str, None]] = {}
    for line in run:
        at = f" at {line.machine}" if line.machine and line.station not in BESIDE_WELDING else ""
        found.setdefault(line.piece, {})[line.station + at] = None
    return tuple((piece, tuple(stations)) for piece, stations in found.items())
