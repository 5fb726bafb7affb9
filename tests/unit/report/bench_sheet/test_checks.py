"""Joins checked by lot on the bench sheet: named, marked, tapped good or bad, and judged."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from at_bench import Bench, without_waits

from chainplan.public.sampling import draw_for_plan
from chainplan.report.bench_sheet import write_bench_sheet

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan


def drawn_joins(plan: Plan) -> list[int]:
    """Rings of the joins to check, from 1."""
    (sample,) = plan.samples
    return [ring for _, _, ring in sample.drawn]


@pytest.fixture
def checked_plan(invented_bracelet: Plan) -> Plan:
    """The bracelet without waits, with five joins to check, of which one may be bad."""
    plan = without_waits(invented_bracelet)
    (sample,) = draw_for_plan(plan.job, plan.pieces)
    few = replace(sample, drawn=sample.drawn[:5], found=sample.found[:5], accept=1, reject=2)
    return replace(plan, samples=(replace(few, size=5),))


def open_sheet(browser: Any, plan: Plan, folder: Path) -> Bench:
    sheet = Bench(browser, write_bench_sheet(plan, folder / "bench-sheet.html"))
    sheet.open()
    sheet.tap("acknowledge")
    return sheet


def test_joins_to_check_are_named_once_they_are_welded(
    browser: Any, checked_plan: Plan, tmp_path: Path
) -> None:
    bench = open_sheet(browser, checked_plan, tmp_path)
    bench.tap("open-checks")
    assert "5 more are named when they are welded" in bench.text("check-list")
    assert "ring " not in bench.text("check-list")
    bench.close("checks")
    for _ in range(12):
        bench.tap("done")
    bench.tap("open-checks")
    text = bench.text("check-list")
    for ring in drawn_joins(checked_plan):
        assert f"ring {ring} ·" in text
    assert "more" not in text


@pytest.mark.parametrize(
    ("taps", "verdict", "next_step"),
    [
        ("ggggg", "Accepted", "hand the lot on"),
        ("bgggg", "Accepted", "Weld the bad ones again"),
        ("bbggg", "Rejected", "Look at every join"),
        ("ggg", "Go on checking", "not judged yet"),
    ],
)
def test_a_tap_says_what_a_check_found_and_the_lot_is_judged(
    browser: Any, checked_plan: Plan, tmp_path: Path, taps: str, verdict: str, next_step: str
) -> None:
    bench = open_sheet(browser, checked_plan, tmp_path)
    for _ in range(12):
        bench.tap("done")
    bench.tap("end-checks")
    bench.tap("check-start")
    for ring, tap in zip(drawn_joins(checked_plan), taps, strict=False):
        assert f"ring {ring} " in f"{bench.text('place')} "
        bench.tap("check-good" if tap == "g" else "check-bad")
    if len(taps) < 5:
        bench.tap("check-back")
        bench.tap("open-checks")
    told = bench.text("check-list")
    assert verdict in told
    assert next_step in told
    bench.close("checks")
    rows = [row for row in bench.log() if row["result"] in ("good", "bad")]
    assert [(int(row["ring"]), row["result"][0]) for row in rows] == list(
        zip(drawn_joins(checked_plan), taps, strict=False)
    )


def test_a_join_found_bad_is_to_be_welded_again_and_a_check_can_be_taken_back(
    browser: Any, checked_plan: Plan, tmp_path: Path
) -> None:
    bench = open_sheet(browser, checked_plan, tmp_path)
    for _ in range(12):
        bench.tap("done")
    bench.tap("end-checks")
    bench.tap("check-start")
    bench.tap("check-bad")
    bench.tap("check-undo")
    bench.tap("check-good")
    bench.tap("check-bad")
    bench.tap("check-back")
    second = drawn_joins(checked_plan)[1]
    assert f"ring {second}" in f"{bench.text('title')} {bench.text('where')}"
    bench.tap("done")
    bench.tap("open-checks")
    assert "Good: 1. Bad: 1. Still to check: 3." in bench.text("check-list")


def test_joins_welded_before_the_sheet_was_made_are_checked_on_it_too(
    browser: Any, checked_plan: Plan, tmp_path: Path
) -> None:
    """After a new plan the first six joins are in no turn of the sheet; one was checked."""
    batch = replace(
        checked_plan.batch, first_step=np.array([6], dtype=np.int32),
        steps=np.array([6], dtype=np.int32),
    )  # fmt: skip
    (sample,) = checked_plan.samples
    order = checked_plan.pieces[0].order
    early = set((order.ring[:6] + 1).tolist())
    first = next(k for k, (_, _, ring) in enumerate(sample.drawn) if ring in early)
    found = tuple("good" if k == first else "" for k in range(5))
    plan = replace(checked_plan, batch=batch, samples=(replace(sample, found=found),))
    bench = open_sheet(browser, plan, tmp_path)
    before = [ring for _, _, ring in sample.drawn if ring in early]
    bench.tap("open-checks")
    text = bench.text("check-list")
    assert "Good: 1. Bad: 0. Still to check: 4." in text
    for ring in drawn_joins(plan):
        assert (f"ring {ring} ·" in text) == (ring in before)
    bench.tap("check-start")
    bench.tap("check-good")
    bench.close("checks") if bench.shown("checks") else bench.tap("check-back")
    (row,) = bench.log()
    assert (int(row["ring"]), row["result"], row["step"], row["pass"]) == (
        before[1],
        "good",
        "",
        "",
    )
