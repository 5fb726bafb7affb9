"""Graduated chains: sizes at hand, the same from both ends, as long as asked for, and sound."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.model.bench import Bench
from chainplan.model.job import Job, Piece, Section, StockItem
from chainplan.model.kinds import DesignRule, GradeWay, Rounding
from chainplan.model.piece.design import Design, DesignLine
from chainplan.public.grading import expand_grades
from chainplan.weave import lay_piece
from chainplan.weave.shape.circles import CentreLines, closest_approach, linking_number


def a_job(*stock, length_mm=220.0, rounding=Rounding.NEAREST, **values):
    """A job of one graduated single-link chain of silver, 3 to 5 mm inside."""
    section = Section(**{
        "weave": "single-link", "metal": "sterling-silver", "wire_mm": 1.0, "inner_mm": 3.0,
        "grade_inner_mm": 5.0, "length_mm": length_mm, **values,
    })  # fmt: skip
    piece = Piece(name="invented", quantity=1, sections=(section,), rounding=rounding)
    return Job(name="invented", pieces=(piece,), bench=Bench(), stock=stock)


def sizes_of(job):
    """Inner diameter of each step."""
    return [section.inner_mm for section in expand_grades(job).pieces[0].sections]


def test_steps_are_those_of_the_mandrels_in_stock():
    """Between the ends, each once, with the mandrel named; without any, a usual series."""
    stock = [StockItem(kind="mandrel", size_mm=size, amount=1) for size in (2.0, 3.4, 4.1, 6.0)]
    (piece,) = expand_grades(a_job(*stock)).pieces
    assert [section.mandrel_mm for section in piece.sections] == [None, 3.4, 4.1, None]
    inner = [section.inner_mm for section in piece.sections]
    assert inner == sorted(inner)
    assert inner[1] > 3.4  # it springs open
    assert sizes_of(a_job()) == [3.0, 3.5, 4.0, 4.5, 5.0]
    assert sizes_of(a_job(inner_mm=5.0, grade_inner_mm=3.0)) == [5.0, 4.5, 4.0, 3.5, 3.0]


def test_wires_in_stock_give_the_steps_of_a_graded_wire():
    """The ring grows with the wire, so that the aspect ratio stays."""
    stock = [
        StockItem(kind="wire", metal="sterling-silver", size_mm=size, amount=9)
        for size in (0.8, 1.2, 1.5)
    ]
    (piece,) = expand_grades(
        a_job(*stock, grade_inner_mm=None, grade_wire_mm=1.6, inner_mm=4.0)
    ).pieces
    assert [section.wire_mm for section in piece.sections] == [1.0, 1.2, 1.5, 1.6]
    assert {round(section.aspect_ratio, 6) for section in piece.sections} == {4.0}


@pytest.mark.parametrize("rounding", list(Rounding))
def test_a_chain_to_the_middle_and_back_is_the_same_from_both_ends(rounding):
    """Ring by ring, connecting rings too; as long as asked for to half a repeat."""
    job = expand_grades(a_job(grade_way=GradeWay.BACK, rounding=rounding))
    layout = lay_piece(job.pieces[0])
    inner = (2 * layout.mean_radius_mm - layout.wire_mm).round(6)
    assert (inner == inner[::-1]).all()
    assert inner.max() == 5.0
    x = layout.centre_mm[:, 0]
    steps = np.diff(x)
    assert steps == pytest.approx(steps[::-1], abs=0.05)
    least, most = {
        Rounding.NEAREST: (-2.6, 2.6), Rounding.AT_LEAST: (-1e-6, 5.1),
        Rounding.AT_MOST: (-5.1, 1e-6),
    }[rounding]  # fmt: skip
    assert least <= layout.length_mm - 220.0 <= most


def test_every_step_is_linked_and_nothing_overlaps():
    """One chain from end to end: each ring through the next alone, wires apart."""
    layout = lay_piece(expand_grades(a_job(grade_way=GradeWay.BACK)).pieces[0])
    n = layout.rings
    i, j = np.triu_indices(n, 1)
    near = np.abs(layout.centre_mm[i, 0] - layout.centre_mm[j, 0]) < 12
    i, j = i[near], j[near]
    every = CentreLines(layout.centre_mm, layout.normal, layout.mean_radius_mm)
    pairs = every.pick(i), every.pick(j)
    linked = linking_number(*pairs) != 0
    assert sorted(zip(i[linked].tolist(), j[linked].tolist(), strict=True)) == [
        (k, k + 1) for k in range(n - 1)
    ]
    gap = closest_approach(*pairs)[0] - (layout.wire_mm[i] + layout.wire_mm[j]) / 2
    assert gap.min() > -1e-3


def test_a_list_goes_on_over_the_steps():
    """Every third ring of another metal, connecting rings counted."""
    line = DesignLine(
        design="invented", rule=DesignRule.LIST, which="A..", metals=(("A", "copper"),),
        cells=(bytes([0, 255, 255]),),
    )  # fmt: skip
    job = expand_grades(a_job(design=Design(name="invented", lines=(line,))))
    layout = lay_piece(job.pieces[0])
    copper = [layout.materials[k].metal == "copper" for k in layout.material.tolist()]
    assert copper == [k % 3 == 0 for k in range(layout.rings)]


def test_steps_too_short_to_be_seen_are_left_out():
    """A bracelet of 80 mm has room for few of them; both ends stay."""
    sizes = sizes_of(a_job(length_mm=80.0, grade_way=GradeWay.BACK))
    assert sizes == sizes[::-1]
    assert sizes[0] == 3.0
    assert max(sizes) == 5.0
    assert len(sizes) < 9
