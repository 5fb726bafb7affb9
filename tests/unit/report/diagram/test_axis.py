"""The axis under a strip: even, rising, in the unit of the pass, and nothing over anything else."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan.model.piece.line import count_units
from chainplan.report.diagram.drawn.axis import AxisStep, draw_axis, steps_of
from chainplan.report.diagram.weld_order import draw_diagrams
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import Drawing, Picture, Sheet, Text

if TYPE_CHECKING:
    from chainplan.model.plan import Plan


def axis_of(steps: list[AxisStep], *, scale: float = 2.0, unit: str = "pair") -> list[Text]:
    """Texts of an axis of 250 mm on a sheet; the piece begins at −3 mm."""
    sheet = Sheet(width_mm=270.0, height_mm=40.0, title="trial")
    picture = Picture(
        drawing=Drawing(key="none", paths=()), left_mm=10.0, top_mm=5.0, scale=scale,
        window_mm=(-3.0, 0.0, 250.0 / scale - 3.0, 5.0),
    )  # fmt: skip
    draw_axis(sheet, picture, 15.0, start_mm=-3.0, unit=unit, steps=steps)
    return [mark for mark in sheet.marks if isinstance(mark, Text)]


def span(text: Text) -> tuple[float, float]:
    """Left and right edge of a text on the sheet."""
    width = text_width_mm(text.text, text.size_pt, bold=text.bold)
    left = text.x_mm - (width / 2 if text.anchor == "middle" else 0.0)
    return left, left + width


def a_step(number: int, at_mm: float) -> AxisStep:
    return AxisStep(number=number, at_mm=at_mm, from_start_mm=(at_mm - 10.0) / 2.0)


@pytest.mark.parametrize("scale", [0.3, 1.0, 2.0, 7.0])
def test_millimetres_stand_at_their_places(scale: float) -> None:
    """Counted from where the piece begins, evenly and rising, at any scale."""
    found = axis_of([], scale=scale)
    assert len(found) >= 5
    mm = [float(re.fullmatch(r"(\d+) mm", text.text)[1]) for text in found]
    places = [sum(span(text)) / 2 for text in found]
    inner = slice(1, -1)  # those at the ends are moved inwards
    assert places[inner] == pytest.approx([10.0 + value * scale for value in mm[inner]])
    assert np.ptp(np.diff(mm)) == 0
    assert mm[0] == 0


@given(places=st.lists(st.integers(10, 260), min_size=1, max_size=40, unique=True))
def test_texts_of_an_axis_never_cover_each_other(places: list[int]) -> None:
    """However many steps there are; the first of them is always told, with its unit."""
    steps = [a_step(k + 1, float(at)) for k, at in enumerate(places)]
    found = axis_of(steps)
    spans = sorted(span(text) for text in found)
    assert all(a[1] < b[0] for a, b in pairwise(spans))
    assert spans[0][0] >= 10.0 - 1e-6
    assert spans[-1][1] <= 260.0 + 1e-6
    assert any(text.bold and text.text.startswith("pair 1") for text in found)


def test_steps_carry_their_unit_and_distance_where_there_is_room() -> None:
    """The longest form in which all fit; of many that go on evenly, every so many, each with mm."""
    wide = axis_of([a_step(1, 20.0), a_step(28, 100.0), a_step(55, 180.0)])
    assert [text.text for text in wide if text.bold] == [
        "pair 1 · 5 mm", "pair 28 · 45 mm", "pair 55 · 85 mm",
    ]  # fmt: skip
    near = axis_of([a_step(k, 20.0 + 10.0 * k) for k in range(1, 12)])
    told = [re.fullmatch(r"(?:pair )?(\d+) · \d+ mm", text.text) for text in near if text.bold]
    assert [int(found[1]) for found in told if found] == [1, 4, 7, 10]
    assert all(told)
    uneven = axis_of([a_step(k * k, 20.0 + 2.0 * k * k) for k in range(1, 10)])
    assert {"9", "25"} <= {text.text for text in uneven if text.bold}
    alternating = np.array([1.0, 3.0, 9.0, 11.0, 17.0, 19.0])  # the same count, uneven in mm
    number = np.arange(1, 12, 2)
    assert len(steps_of(number, alternating, alternating, runs=True)) == 6


def test_a_run_is_one_step() -> None:
    """ "pairs 1, 4 and 7, then the same every 27": the hand goes from run to run."""
    number = np.array([1, 1, 4, 4, 7, 7, 28, 28, 31, 31, 34, 34, 55])
    at = number * 2.0
    assert [step.number for step in steps_of(number, at, at, runs=True)] == [1, 28, 55]
    every = [step.number for step in steps_of(number, at, at, runs=False)]
    assert every == [1, 4, 7, 28, 31, 34, 55]
    even = np.array([3, 7, 11, 15])
    assert [step.number for step in steps_of(even, even * 2.0, even, runs=True)] == [3, 7, 11, 15]


def test_a_page_counts_in_the_unit_of_its_passes(necklace_plan: Plan) -> None:
    """Title, axis and end rings of the sample's Byzantine count pairs, as the passes do."""
    unit, number = count_units(necklace_plan.pieces[0].layout)
    assert unit == "pair"
    texts = [
        mark.text for page in draw_diagrams(necklace_plan) for mark in page.marks
        if isinstance(mark, Text)
    ]  # fmt: skip
    ring = necklace_plan.pieces[0].order.ring
    said = [text for text in texts if " on pair " in text]
    assert len(said) == len(necklace_plan.pieces[0].order.passes)
    assert said[0].startswith(f"join 1 on pair {number[ring[0]] + 1} (ring {ring[0] + 1}) to join")
    steps = [text for text in texts if re.fullmatch(r"pair \d+ · \d+ mm", text)]
    assert len(steps) > len(said)
    assert not any(re.fullmatch(r"ring \d+ · \d+ mm", text) for text in texts)


def test_a_plain_chain_counts_rings(build: Any) -> None:
    """There are no pairs in it."""
    plan = build.plan(build.piece("chain", build.chain(40), stride=8, faces=1))
    texts = [m.text for page in draw_diagrams(plan) for m in page.marks if isinstance(m, Text)]
    assert any(re.fullmatch(r"ring 1( · \d+ mm)?", text) for text in texts)
    assert not any("pair 1" in text for text in texts)
