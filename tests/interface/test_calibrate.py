"""A cooling curve from file to bench settings, as a jeweller would go."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import openpyxl
import pytest

import chainplan
from chainplan.cli import main
from chainplan.errors import InputError

SAMPLES = Path(__file__).parents[2] / "samples"
CURVE, JOB = str(SAMPLES / "cooling.csv"), str(SAMPLES / "necklace.toml")
TRUTH = {"share": 0.55, "exposure": 0.38, "link": 1.632e-3}
"""What the sample's curve was made with (``make_samples.py``)."""


@pytest.fixture(scope="module")
def found():
    return chainplan.calibrate(CURVE, JOB, pulse_j=12.0)


def test_the_sample_s_numbers_are_found_within_their_intervals(found) -> None:
    fit = found.fit
    for value, true in zip(
        (fit.arc_share, fit.exposure, fit.link_w_k), TRUTH.values(), strict=True
    ):
        assert value.low <= true <= value.high
    assert found.room_c == pytest.approx(20.5, abs=0.1)
    assert found.ring == 229
    assert fit.residual_k == pytest.approx(0.4, abs=0.15)
    assert not fit.used[:3].any()


def test_what_is_told_well_goes_into_the_job_s_sheets(tmp_path, capsys) -> None:
    job, picture = tmp_path / "necklace.xlsx", tmp_path / "curve.svg"
    shutil.copy(SAMPLES / "necklace.xlsx", job)
    before = job.read_bytes()
    words = ["calibrate", CURVE, "--write", str(job), "--pulse", "12", "--picture", str(picture)]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "exposure to the air" in said
    assert "intervals of 90%" in said
    assert (tmp_path / "necklace-as-it-was-1.xlsx").read_bytes() == before
    heat = chainplan.read_job(job).bench.heat
    assert heat.exposure == pytest.approx(0.38, rel=0.1)
    assert heat.arc_share_low < 0.55 < heat.arc_share_high
    assert heat.arc_share_high < 0.65
    assert heat.link_load_usual_mn == pytest.approx(14, rel=0.25)
    assert (heat.link_load_low_mn, heat.link_load_high_mn) == (0.1, 100.0)
    sheet = openpyxl.load_workbook(job)["bench"]
    sources = {row[1].value: row[6].value for row in sheet.iter_rows()}
    assert sources["exposure"].startswith("measured, n = ")
    assert "Evening necklace" in picture.read_text(encoding="utf-8")


def test_without_a_file_it_says_how_in_six_lines_and_a_drawing(capsys) -> None:
    assert main(["calibrate"]) == 0
    said = capsys.readouterr().out
    assert all(f"\n{number}. " in said for number in range(1, 7))
    assert "thermocouple" in said


def test_json_has_readings_fit_and_figures(capsys) -> None:
    assert main(["calibrate", CURVE, "--job", JOB, "--pulse", "12", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["warmed"] == "ring"
    assert len(told["readings"]["time_s"]) == len(told["fit"]["fitted_c"])
    assert {item["title"] for item in told["figures"]} >= {"conductance of a link"}


def test_a_loose_ring_s_loss_is_told_but_is_no_setting() -> None:
    alone = chainplan.calibrate(CURVE, JOB, pulse_j=12.0, loose_ring=True)
    assert alone.fit.link_w_k is None
    assert not any(item.key == "heat.exposure" for item in alone.settings)
    assert any("stray" in note for note in alone.notes), "a ring in a piece cools otherwise"


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"loose_ring": True}, "--pulse"),
        ({"ring": 3}, "no ring of the piece got a pulse"),
        ({"pulse_j": -1.0}, "above 0 J"),
        ({"pulse_j": 12.0, "ring": 999}, "ring 999 is not on this piece; rings 1 to 456 are"),
        ({"piece": "Cuff"}, "is not in the job"),
    ],
)
def test_what_does_not_fit_together_is_refused(more, words) -> None:
    with pytest.raises(InputError, match=words):
        chainplan.calibrate(CURVE, JOB, **more)
