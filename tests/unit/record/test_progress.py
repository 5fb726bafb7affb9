"""How far the work is: counted, timed against the plan, and told with the end of it."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from chainplan.cli import main
from chainplan.public.recording import progress, record_logs, record_path
from chainplan.record.kept.store import Record
from chainplan.record.reading.plan_folder import read_plan_folder

LogOf = Callable[..., Path]
MORNING = datetime.datetime(2027, 1, 11, 9, 0)


def test_done_left_and_not_good_are_counted(folder: Path, log_of: LogOf) -> None:
    taps = [("Chain", 1, k, "done", 10.0 * k) for k in range(1, 9)]
    taps += [("Chain", 1, 3, "bad", 100.0), ("Chain", 1, 4, "broken", 110.0),
             ("Chain", 1, 5, "again", 120.0), ("Chain", 1, 5, "done", 130.0),
             ("Chain", 1, 12, "later", 140.0), ("Chain", 1, 6, "undo", 150.0)]  # fmt: skip
    assert not record_logs([log_of("a.csv", taps)], folder, person="Ann").faults
    (piece,) = progress(folder, now=MORNING)[0].pieces
    assert (piece.joins, piece.done, piece.left) == (20, 5, 15)
    assert (piece.not_good, piece.later, piece.second_tries) == (2, 1, 1)
    assert piece.people == ("Ann",)


def test_pace_and_time_left_follow_what_was_timed(folder: Path, log_of: LogOf) -> None:
    """Planned are 5 s a join; 7.5 s were needed for twelve of twenty."""
    taps = [("Chain", 1, k, "done", 10.0 * k) for k in range(1, 13)]
    record_logs([log_of("a.csv", taps, work_s=7.5)], folder)
    job = progress(folder, now=MORNING)[0]
    assert job.pace == pytest.approx(1.5)
    assert job.pieces[0].left_s == pytest.approx(8 * 7.5)
    assert job.pieces[0].planned_s == pytest.approx(60.0)


def test_a_night_in_the_drawer_is_no_work(folder: Path, tmp_path: Path, log_of: LogOf) -> None:
    taps = [("Chain", 1, k, "done", 10.0 * k) for k in range(1, 13)]
    log = log_of("a.csv", taps, work_s=5.0)
    text = log.read_text(encoding="utf-8-sig").splitlines()
    text[5] = text[5].replace(",5.0,0", ",50000.0,0")
    log.write_text("\n".join(text), encoding="utf-8")
    record_logs([log], folder)
    job = progress(folder, now=MORNING)[0]
    assert job.pace == pytest.approx(1.0)
    assert job.pieces[0].apart_s == 50000.0
    assert job.notes[0].startswith("1 times set apart: a join that took more than two minutes")


def test_the_end_keeps_the_working_hours(
    tmp_path: Path, make_folder: LogOf, make_log: LogOf
) -> None:
    """Weld 300 × 5 s = 25 min and 12 min of stations after it, from Friday 14:45 of a 6 h day."""
    folder = make_folder(tmp_path / "output" / "long", [("Chain", 1, 301)])
    log = make_log(tmp_path / "a.csv", folder, [("Chain", 1, 1, "done", 0.0)])
    record_logs([log], folder)
    friday = datetime.datetime(2027, 1, 15, 14, 45)
    (job,) = progress(folder, now=friday)
    assert job.finish == datetime.datetime(2027, 1, 18, 9, 22)
    assert job.pieces[0].finish == job.finish


def test_what_is_not_woven_yet_counts_too(folder: Path) -> None:
    """Nothing is recorded: weaving 60 min, welding 100 s, the rest 12 min, from the start date."""
    (job,) = progress(folder, now=datetime.datetime(2027, 1, 1))
    assert job.finish == datetime.datetime(2027, 1, 11, 10, 13, 40)
    assert not record_path(folder).exists()


def test_a_station_told_as_finished_is_not_counted_again(folder: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "hand.csv"
    sheet.write_text(
        "result,at,piece,station,minutes\nfinished,2027-01-11 09:00,Chain,weave,50\n", "utf-8"
    )
    record_logs([sheet], folder)
    (job,) = progress(folder, now=MORNING)
    assert job.finish == datetime.datetime(2027, 1, 11, 9, 13, 40)


def test_the_cylinder_is_told_from_its_last_reading(folder: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "hand.csv"
    sheet.write_text(
        "result,at,piece,ring,bar\ncylinder,2027-01-11 09:00,,,100\n"
        "done,2027-01-11 09:10,Chain,1-20,\n",
        "utf-8",
    )
    record_logs([sheet], folder)
    (job,) = progress(folder, now=MORNING)
    assert job.cylinder_bar is not None
    # twenty puffs of 1.51 s at 4 L/min are 2.0 L of the 1056 L in ten litres at 101 bar (Z 0.947)
    assert 99.7 < job.cylinder_bar < 99.9
    assert job.cylinder_l == pytest.approx(1056 - 2 - 60, rel=0.005)


def test_progress_needs_no_folder(folder: Path, log_of: LogOf, tmp_path: Path) -> None:
    record_logs([log_of("a.csv", [("Chain", 1, 1, "done", 0.0)])], folder)
    for file in folder.iterdir():
        file.unlink()
    (job,) = progress(record=record_path(folder), now=MORNING)
    assert (job.job, job.pieces[0].done) == ("invented", 1)


def test_a_plan_comes_back_from_the_record_as_it_was(folder: Path) -> None:
    from chainplan.record.kept.lineage import known_plan

    plan = read_plan_folder(folder)
    with Record(record_path(folder)) as record:
        record.keep_plan(plan)
        back = known_plan(record, plan.key)
    assert (back.stamp, back.job, back.turns, back.bench) == (
        plan.stamp, plan.job, plan.turns, dict(plan.bench),
    )  # fmt: skip
    assert back.pieces[0].sections == plan.pieces[0].sections
    assert back.pieces[0].ring.tolist() == plan.pieces[0].ring.tolist()
    assert back.pieces[0].pace_s.tolist() == plan.pieces[0].pace_s.tolist()


def test_the_commands_answer_in_json(
    folder: Path, log_of: LogOf, capsys: pytest.CaptureFixture[str]
) -> None:
    log = log_of("a.csv", [("Chain", 1, 1, "done", 0.0)])
    assert main(["record", str(log), "--plan", str(folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["files"][0]["recorded"] == 1
    assert main(["progress", str(folder), "--json"]) == 0
    (piece,) = json.loads(capsys.readouterr().out)["pieces"]
    assert {"name", "copy", "joins", "done", "left", "not_good", "finish"} <= set(piece)
    assert (piece["done"], piece["left"]) == (1, 19)
    assert main(["progress", str(folder)]) == 0
    assert "1 of 20 joins done" in capsys.readouterr().out
    bad = log_of("bad.csv", [("Chain", 1, 1, "done", 50.0)])
    assert main(["record", str(bad), "--plan", str(folder)]) == 2
    assert "bad.csv line 2: ring 1 of 'Chain'" in capsys.readouterr().err
