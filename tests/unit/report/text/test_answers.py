"""Texts of the command line: short, aligned, and honest about what is not known."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

import chainplan
from chainplan.model.check import OrderCheck
from chainplan.model.order import Violation, ViolationKind
from chainplan.report.text.terminal import answers

if TYPE_CHECKING:
    from chainplan.model.plan import Plan


def test_the_summary_is_read_in_ten_seconds(necklace_plan: Plan, fair_plan: Plan) -> None:
    """A dozen lines or so, each piece in one of them, and the caution at the end."""
    for plan in (necklace_plan, fair_plan):
        lines = answers.plan_text(plan, Path("output/x")).splitlines()
        assert len(lines) <= 10 + len(plan.pieces)
        for piece in plan.pieces:
            assert sum(piece.piece.name in line for line in lines[1 : 1 + len(plan.pieces)]) >= 1
        assert "try on scrap" in lines[-1]


def test_a_price_says_its_tax_once(fair_plan: Plan) -> None:
    """With no tax nothing is "before tax"; with one both prices stand, with the percent."""
    said = answers.plan_text(fair_plan, Path("x"))
    assert "(no tax added)" in said
    assert "before tax" not in said
    job = fair_plan.job
    money = replace(job.bench.money, tax_percent=Decimal(20))
    taxed = replace(fair_plan, job=replace(job, bench=replace(job.bench, money=money)))
    assert "before tax, EUR" in answers.plan_text(taxed, Path("x"))
    assert "with 20 % tax" in answers.plan_text(taxed, Path("x"))


def test_a_name_with_control_signs_does_not_reach_the_terminal(necklace_plan: Plan) -> None:
    """An escape sequence in a name could rewrite what the user reads."""
    first = necklace_plan.pieces[0]
    evil = replace(first, piece=replace(first.piece, name="a\x1b[2Jb" + "x" * 90))
    text = answers.plan_text(replace(necklace_plan, pieces=(evil,)), Path("x"))
    assert "\x1b" not in text
    assert "x" * 60 not in text


def test_a_count_of_loose_joins_speaks_of_no_weave() -> None:
    """No length, no aspect ratio, no verdict where there is no weave."""
    count = chainplan.count_rings(weave="loose-joins", wire="1mm", inner="5mm", rings=24)
    text = answers.count_text(count)
    assert "24 rings, no weave" in text
    assert "aspect" not in text
    assert "length" not in text


def test_a_measured_count_shows_the_difference_from_the_computed_one() -> None:
    """The user's own measurement overrides, and is compared."""
    count = chainplan.count_rings(weave="single-link", wire="1mm", inner="4mm", length="100mm")
    text = answers.count_text(replace(count, rings_per_cm=count.rings_per_cm * 1.02))
    assert "as you measured" in text
    assert "+2.0%" in text


def test_a_broken_limit_is_said_with_step_ring_and_temperature() -> None:
    """Counted from 1, in whole degrees; a join left out has neither step nor temperature."""
    nan = float("nan")
    hot = Violation(step=4, ring=9, time_s=70.0, temperature_c=71.6, limit_c=60.0, what="interpass",
        kind=ViolationKind.INTERPASS)  # fmt: skip
    absent = Violation(
        step=-1,
        ring=2,
        time_s=nan,
        temperature_c=nan,
        limit_c=nan,
        what="is not welded",
        kind=ViolationKind.LEFT_OUT,
    )
    result = OrderCheck(
        piece="a", joins=10, bench_time_s=100.0, planned_s=90.0, violations=(hot, absent)
    )
    text = answers.order_check_text(result)
    assert "step 5, ring 10, at 1 min 10 s: interpass, 72 °C, limit 60 °C" in text
    assert "ring 3: is not welded" in text
    assert "every limit holds" not in text
