"""Cooling curves typed into the record: what they say of the exposure to the air."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import openpyxl
import pytest

import chainplan
from chainplan.heat import bench_of_warm_piece
from chainplan.model.bench import Bench
from chainplan.model.bench.groups import HeatSettings
from chainplan.model.job import Job, Piece, Section
from chainplan.public.jobs import lay_out
from chainplan.public.recording import record_logs
from chainplan.record.learning.cooling import LEAST_READINGS
from chainplan.reference import find_metal

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

TRUE = 0.42
ROOM_C = 19.0
DAYS = 3


def cooling_c(exposure: float, time_s: np.ndarray) -> np.ndarray:
    """The chain of the folder, warm all over at 70 °C, cooling with so much exposure."""
    section = Section(weave="single-link", metal="copper", wire_mm=1.0, inner_mm=4.0, rings=20)
    piece = Piece(name="Chain", quantity=1, sections=(section,))
    (layout,) = lay_out(Job(name="x", pieces=(piece,), bench=Bench()))
    metals = {"copper": find_metal("copper", own={})}
    network = bench_of_warm_piece(
        layout, metals=metals, settings=replace(HeatSettings(), room_c=ROOM_C)
    ).network
    rate_1s = exposure * float(network.loss_w_k[0]) / float(network.capacity_j_k[0])
    return ROOM_C + 51.0 * np.exp(-rate_1s * time_s)


def typed(path: Path, days: int, readings: int = 60, *, seed: int = 1, room: bool = True) -> Path:
    """A spreadsheet saved as CSV: on each day a curve, a reading every five seconds."""
    random = np.random.default_rng(seed)
    lines = ["result,at,piece,what,value"]
    for day in range(days):
        start = datetime.datetime(2027, 1, 11 + day, 9, 0)
        if room:
            lines.append(f"measured,{start:%Y-%m-%d %H:%M},,room c,{ROOM_C}")
        time_s = 5.0 * np.arange(readings)
        for second, warm in zip(time_s, cooling_c(TRUE, time_s), strict=True):
            at = start + datetime.timedelta(seconds=60 + second)
            value = warm + random.normal(0, 0.2)
            lines.append(f"measured,{at:%Y-%m-%d %H:%M:%S},Chain,temperature c,{value:.1f}")
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_the_true_exposure_is_within_the_interval(folder: Path, tmp_path: Path) -> None:
    done = record_logs([typed(tmp_path / "a.csv", DAYS)], folder)
    assert not done.faults
    lesson = chainplan.learn(record=done.record)
    (found,) = [item for item in lesson.figures if item.key == "heat.exposure"]
    assert found.low <= TRUE <= found.high
    assert found.new == pytest.approx(TRUE, rel=0.08)
    assert (found.groups, found.group, found.enough) == (DAYS, "", True)
    assert found.n > DAYS * LEAST_READINGS
    assert found.old is not None
    assert found.basis == "3 cooling curves of Chain, warm all over"


def test_too_few_readings_are_told_and_fit_nothing(folder: Path, tmp_path: Path) -> None:
    done = record_logs([typed(tmp_path / "a.csv", 1, LEAST_READINGS - 1)], folder)
    lesson = chainplan.learn(record=done.record)
    assert not [item for item in lesson.figures if item.key == "heat.exposure"]
    assert "1 cooling curves have fewer than 8 readings" in lesson.notes


def test_a_piece_warmed_again_begins_another_curve(folder: Path, tmp_path: Path) -> None:
    path = typed(tmp_path / "a.csv", 1, 40)
    first = path.read_text(encoding="utf-8").splitlines()
    at = datetime.datetime(2027, 1, 11, 9, 5)
    second = [
        f"measured,{at + datetime.timedelta(seconds=5 * k):%Y-%m-%d %H:%M:%S},Chain,"
        f"temperature c,{value:.1f}"
        for k, value in enumerate(cooling_c(TRUE, 5.0 * np.arange(40)))
    ]
    path.write_text("\n".join([*first, *second]), encoding="utf-8")
    lesson = chainplan.learn(record=record_logs([path], folder).record)
    (found,) = [item for item in lesson.figures if item.key == "heat.exposure"]
    assert found.groups == 2
    assert found.low <= TRUE <= found.high


def test_a_reading_of_no_piece_is_refused(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("result,at,what,value\nmeasured,2027-01-11 09:00,temperature c,50\n")
    (fault,) = record_logs([path], folder).faults
    assert "piece is missing" in str(fault)


def test_it_goes_into_the_job_s_bench_settings(folder: Path, tmp_path: Path) -> None:
    job = tmp_path / "job.xlsx"
    chainplan.start_job(job)
    done = record_logs([typed(tmp_path / "a.csv", DAYS)], folder)
    written = chainplan.write_learned(
        chainplan.learn(record=done.record), job, only=["heat.exposure"]
    )
    assert written.kept_as
    rows = list(openpyxl.load_workbook(job)["bench"].iter_rows(values_only=True))
    (row,) = [row for row in rows if "exposure" in row[:3]]
    assert any("measured, n = " in str(cell) for cell in row)


def test_intervals_hold_the_truth_at_their_rate(
    tmp_path: Path, make_folder: Callable[..., Path]
) -> None:
    """Of forty workshops with three curves each at least 30 intervals of 90 % hold the truth."""
    inside = 0
    for seed in range(40):
        folder = make_folder(tmp_path / f"{seed}" / "plan")
        log = typed(tmp_path / f"{seed}.csv", DAYS, 40, seed=seed)
        lesson = chainplan.learn(record=record_logs([log], folder).record)
        (found,) = [item for item in lesson.figures if item.key == "heat.exposure"]
        inside += found.low <= TRUE <= found.high
    assert inside >= 30
