"""Who is on what, and when all is ready by the schedule of what is left."""

from __future__ import annotations

import datetime
import json
from typing import TYPE_CHECKING, Any

import pytest

from chainplan.model.bench.groups import CalendarSettings
from chainplan.model.workshop.schedule import LeftTask, Person
from chainplan.public.recording import progress, record_logs
from chainplan.report.text.terminal.workshop import progress_text
from chainplan.schedule.left import ends_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

MONDAY = datetime.datetime(2027, 1, 11, 9, 0)
HOUR = 3600.0
NINE_TO_THREE = CalendarSettings(
    hours_per_day=6.0, day_starts_h=9.0, working_days="mon-fri", days_off=""
)


def task(piece: str, station: str, person: str, start_h: float, hours: float, **more: Any) -> Any:
    machine = "welder" if station == "weld" else ""
    given = {"copies": (1,), "machine": machine, "begun": True} | more
    start = MONDAY + datetime.timedelta(hours=start_h)
    return LeftTask(
        piece=piece, station=station, person=person, start=start, work_s=hours * HOUR, **given
    )


def at(day: int, hour: float) -> datetime.datetime:
    return datetime.datetime(2027, 1, day) + datetime.timedelta(hours=hour)


def test_two_people_work_side_by_side_and_share_one_welder() -> None:
    """Ann weaves A while Ben weaves B; then B waits until A is off the welder."""
    tasks = [
        task("A", "weave", "Ann", 0, 1), task("B", "weave", "Ben", 0, 1),
        task("A", "weld", "Ann", 1, 2), task("B", "weld", "Ben", 3, 1),
    ]  # fmt: skip
    found = ends_of(tasks, NINE_TO_THREE, [], MONDAY)
    assert found == [at(11, 10), at(11, 10), at(11, 12), at(11, 13)]


def test_work_goes_on_in_each_person_s_own_hours() -> None:
    """Ben comes at one and leaves at four: four hours of work take until Tuesday at two."""
    ben = Person(label="Ben", hours_per_day=3.0, day_starts_h=13.0)
    tasks = [task("A", "weave", "Ben", 0, 4), task("A", "weld", "Ann", 4, 1)]
    assert ends_of(tasks, NINE_TO_THREE, [ben], MONDAY) == [at(12, 14), at(12, 15)]


def test_what_is_not_begun_begins_no_earlier_than_planned() -> None:
    later = task("B", "coil", "Ann", 24, 1, begun=False)
    assert ends_of([later], NINE_TO_THREE, [], MONDAY) == [at(12, 10)]
    assert ends_of([later], NINE_TO_THREE, [], at(13, 9)) == [at(13, 10)]


def test_the_assay_office_takes_its_weekdays() -> None:
    """Planned from Monday ten to the end of Wednesday; sent on Thursday it is back on Monday."""
    away = task("A", "assay office", "", 1, 62)
    assert ends_of([away], NINE_TO_THREE, [], MONDAY) == [at(14, 0)]
    assert ends_of([away], NINE_TO_THREE, [], at(14, 10)) == [at(19, 0)]


@pytest.fixture
def scheduled(tmp_path: Path, make_folder: Callable[..., Path]) -> Path:
    """Two copies of a chain: Ann welds both on Monday from ten on, Ben finishes them."""
    folder = make_folder(tmp_path / "output" / "two", [("Chain", 2, 20)])
    record = json.loads((folder / "plan.json").read_text(encoding="utf-8"))

    def line(
        copy: int, copies: int, station: str, person: str, start: str, end: str, **more: Any
    ) -> Any:
        return {
            "piece": "Chain", "copy": copy, "copies": copies, "section": 0, "station": station,
            "person": person, "machine": "welder" if station == "weld" else "",
            "start": f"2027-01-11T{start}", "end": f"2027-01-11T{end}", "start_h": 0, "end_h": 0,
            "first_step": 0, "steps": 0,
            "visit": 0, **more,
        }  # fmt: skip

    record["schedule"] = {
        "hours": [{"label": "Ann"}, {"label": "Ben"}],
        "tasks": [
            line(1, 2, "weave", "Ann", "09:00:00", "10:00:00", work_s=3600),
            line(1, 1, "weld", "Ann", "10:00:00", "10:01:40", work_s=100, steps=20),
            line(2, 1, "weld", "Ann", "10:01:40", "10:03:20", work_s=100, steps=20),
            line(1, 1, "finish", "Ben", "10:01:40", "10:06:40", work_s=300),
            line(2, 1, "finish", "Ben", "10:06:40", "10:11:40", work_s=300),
        ],
    }  # fmt: skip
    (folder / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    return folder


def test_before_anything_is_done_the_dates_are_the_plan_s(scheduled: Path) -> None:
    (job,) = progress(scheduled, now=MONDAY)
    assert job.by_schedule
    assert [copy.finish for copy in job.pieces] == [copy.planned for copy in job.pieces]
    assert job.finish == job.planned == datetime.datetime(2027, 1, 11, 10, 11, 40)


def test_what_is_left_follows_the_schedule(scheduled: Path, make_log: Callable[..., Path]) -> None:
    """Copy 1 is welded but for one join at eleven; Ben finishes it, then copy 2."""
    taps = [("Chain", 1, ring, "done", 7200.0 + 5 * ring) for ring in range(1, 20)]
    log = make_log(scheduled.parent / "log.csv", scheduled, taps, work_s=5.0)
    assert not record_logs([log], scheduled, person="Ann").faults
    eleven = datetime.datetime(2027, 1, 11, 11, 10)
    (job,) = progress(scheduled, now=eleven)
    first, second = (copy.finish for copy in job.pieces)
    # Half an hour of weaving copy 2 comes first on Ann's list, then a join of 5 s, then 5 min.
    assert first == eleven + datetime.timedelta(seconds=30 * 60 + 5 + 300)
    assert first is not None
    assert second == first + datetime.timedelta(seconds=300)


def test_people_are_told_with_what_they_are_on(scheduled: Path, tmp_path: Path) -> None:
    log = tmp_path / "typed.csv"
    log.write_text(
        "result,at,person,piece,copy,ring,station,minutes,work_s\n"
        "begins,2027-01-11 09:00,Ann,,,,,,\n"
        "begins,2027-01-11 09:05,Ben,,,,,,\n"
        "done,2027-01-11 10:00,Ann,Chain,1,1-12,,,6\n"
        "again,2027-01-11 10:05,Ann,Chain,1,13,,,6\n"
        "begun,2027-01-11 10:10,Ben,Chain,2,,finish,,\n"
        "ends,2027-01-11 10:20,Ann,,,,,,\n",
        encoding="utf-8",
    )
    assert not record_logs([log], scheduled).faults
    (job,) = progress(scheduled, now=MONDAY)
    ann, ben = job.people
    assert (ann.person, ann.joins, ann.second_tries, ann.here) == ("Ann", 12, 1, False)
    assert ann.pace == pytest.approx(1.3)  # thirteen welds of 6 s for twelve joins of 5 s
    assert (ben.person, ben.here, ben.piece, ben.copy, ben.station) == (
        "Ben", True, "Chain", 2, "finish",
    )  # fmt: skip
    text = progress_text(job)
    assert "Ben" in text
    assert "Chain, copy 2: finish" in text
    assert "gone; was at Chain, copy 1: weld" in text
