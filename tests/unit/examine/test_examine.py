"""The examiner as a whole: good plans pass, a contradiction stops the writing."""

from __future__ import annotations

import json
import shutil

import numpy as np
import pytest

import chainplan
from chainplan import cli
from chainplan.cli.common.running import DONE, OUR_FAULT
from chainplan.errors import ExaminationError, InputError
from chainplan.examine.findings import Teller
from chainplan.examine.registry import CHECKS
from chainplan.examine.space.geometry import (
    are_linked,
    circle_distances_mm,
    electrode_distance_mm,
)


def test_a_plan_with_sections_sheets_loops_parts_and_loose_joins_passes(good):
    """Everything that a plan may hold, with no finding, and every check run."""
    found = chainplan.examine_plan(good)
    assert found.ok, found.text()
    assert len(found.checks) == len(CHECKS) > 25
    assert len(set(found.checks)) == len(found.checks)


def test_a_contradiction_stops_the_writing_and_replaces_nothing(good, tmp_path, monkeypatch):
    """Our fault, exit 1; the folder stays as it was."""
    from chainplan.report.text import tables

    job = good.parent / "small.toml"
    out = tmp_path / "out"
    shutil.copytree(good, out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    known = tables.ring_table

    def wrong(*given):
        table = known(*given)
        table["x_mm"] = table["x_mm"] + np.where(np.arange(len(table["x_mm"])) == 2, 0.4, 0.0)
        return table

    monkeypatch.setattr(tables, "ring_table", wrong)
    assert cli.main(["plan", str(job), "--out", str(out), "--workers", "1"]) == OUR_FAULT
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before
    plan = chainplan.make_plan(chainplan.read_job(job))
    with pytest.raises(ExaminationError, match=r"rings.csv, Short chain, ring 3, join_x_mm"):
        chainplan.write_plan(plan, tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_the_command_tells_findings_with_file_place_found_and_expected(bare, capsys):
    """As text and as JSON; 1 if anything was found."""
    path = bare / "weld-order.csv"
    text = path.read_text(encoding="utf-8")
    assert cli.main(["examine", str(bare)]) == DONE
    assert "nothing wrong" in capsys.readouterr().out
    rows = text.split("\n")
    cells = rows[5].split(",")
    cells[11] = "999.0"
    try:
        path.write_text("\n".join([*rows[:5], ",".join(cells), *rows[6:]]), encoding="utf-8")
        assert cli.main(["examine", str(bare), "--json"]) == OUR_FAULT
    finally:
        path.write_text(text, encoding="utf-8")
    told = json.loads(capsys.readouterr().out)
    assert not told["ok"]
    first = next(
        item for item in told["findings"] if item["check"] == "times are those of the hand"
    )
    assert (first["file"], first["place"]) == ("weld-order.csv", "Short chain, step 5, start_s")


def test_a_folder_without_a_plan_is_refused(tmp_path):
    """It names the file that is missing."""
    with pytest.raises(InputError, match=r"no file rings\.csv"):
        chainplan.examine_plan(tmp_path)


def test_links_are_told_from_rings_that_only_pass():
    """Chained rings, rings side by side, one inside the other, in one plane."""
    zero, up, side = np.zeros(3), np.array([0, 0, 1.0]), np.array([0, 1.0, 0])
    cases = [
        ((zero, up, 1.0), (np.array([1.0, 0, 0]), side, 1.0), True),
        ((zero, up, 1.0), (np.array([2.5, 0, 0]), side, 1.0), False),
        ((zero, up, 1.0), (zero, side, 0.5), False),
        ((zero, up, 1.0), (np.array([0.5, 0, 0]), up, 1.0), False),
        ((zero, up, 1.0), (np.array([1.0, 0, 0.9]), side, 1.0), True),
        ((zero, up, 1.0), (np.array([1.0, 0, 1.1]), side, 1.0), False),
    ]
    for one, other, linked in cases:
        arrays = [np.atleast_1d(np.array(value)) for value in (*one, *other)]
        shaped = [a[None] if a.shape == (3,) else a for a in arrays]
        assert bool(are_linked(*shaped)[0]) is linked


def test_gaps_of_circles_are_those_of_hand_reckoning():
    """Two coaxial circles; two that cross at right angles."""
    centre = np.array([[0, 0, 0], [0, 0, 0.7], [1.5, 0, 0]], dtype=float)
    normal = np.array([[0, 0, 1], [0, 0, 1], [0, 1, 0]], dtype=float)
    radius = np.array([2.0, 2.0, 1.0])
    found = circle_distances_mm(centre, normal, radius, np.array([0, 0]), np.array([1, 2]))
    assert found[0] == pytest.approx(0.7, abs=1e-9)
    assert found[1] == pytest.approx(0.5, abs=1e-6)


def test_the_electrode_keeps_its_outline():
    """Beside the shank, under the holder, before the tip, inside."""
    height, across = np.array([4.0, 5.0, -2.0, 4.0]), np.array([0.9, 2.0, 0.0, 0.2])
    found = electrode_distance_mm(
        height, across, half_angle_deg=11.46, shank_mm=1.0, stick_out_mm=6.0, holder_mm=6.0
    )
    assert found == pytest.approx([0.4, 1.0, 2.0, -0.3], abs=1e-3)


def test_many_findings_of_one_check_are_counted_not_listed():
    """A report stays readable."""
    teller = Teller("a check")
    for number in range(100):
        teller.same("plan.json", f"place {number}", number, -1)
    found = teller.close()
    assert len(found) == 21
    assert found[-1].found == "80 more like these"
