"""Weaving in words: bags hold every ring once, lines say them all in order, totals run."""

from __future__ import annotations

import re

import numpy as np
import pytest

from chainplan.model.job import Piece, Section
from chainplan.model.kinds import DesignRule
from chainplan.model.piece.design import Design, DesignLine, Span
from chainplan.report.text.weaving import (
    fill_bags,
    has_design,
    say_runs,
    weaving_lines,
)
from chainplan.units import tell_letters
from chainplan.weave import lay_piece


def lay(rule, weave="european-4-in-1", **held):
    """A strip, or a chain, with one rule in copper."""
    line = DesignLine(design="x", rule=rule, which="", metals=(("", "copper"),), **held)
    section = Section(
        weave=weave, metal="sterling-silver", wire_mm=1.0, inner_mm=5.0, length_mm=90.0,
        rows=9 if weave.startswith("european") else None, design=Design(name="x", lines=(line,)),
    )  # fmt: skip
    return lay_piece(Piece(name="invented", quantity=1, sections=(section,)))


def read_back(text):
    """Letters one by one, as somebody who reads a line would take rings from the bags."""
    text = re.sub(r"(\d+) × \(([^)]*)\)", lambda m: ", ".join([m[2]] * int(m[1])), text)
    return [letter for count, letter in re.findall(r"(\d+) ([A-Z]+)", text)
            for _ in range(int(count))]  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_what_is_said_of_a_line_is_what_lies_in_it(seed):
    """Whatever the runs and repetitions, reading the words gives the rings back."""
    rng = np.random.default_rng(seed)
    few = rng.integers(0, 3, rng.integers(1, 9))
    bag = np.concatenate([np.tile(few, rng.integers(1, 6)), rng.integers(0, 3, 4)])
    assert read_back(say_runs(bag)) == [tell_letters(k) for k in bag.tolist()]


def test_lines_of_a_sheet_are_its_rows_with_running_totals():
    """Nine rows, every ring once; the last totals are the bags."""
    layout = lay(DesignRule.BORDER, size=(1, 1))
    bags, bag = fill_bags(layout)
    assert [item.rings for item in bags] == np.bincount(bag).tolist()
    assert sum(item.rings for item in bags) == layout.rings
    lines = list(weaving_lines(layout, bag, len(bags)))
    assert sum(sum(line.counts) * line.lines for line in lines) == layout.rings
    assert lines[-1].totals == tuple(item.rings for item in bags)
    said = [letter for line in lines for _ in range(line.lines)
            for letter in read_back(line.text.partition(": ")[2] or line.text)]  # fmt: skip
    assert said == [bags[k].letter for k in bag.tolist()]
    assert lines[1].name == "row 2 to 8"
    assert lines[1].lines == 7


def test_lines_alike_of_a_chain_are_said_once():
    """A chain whose pattern begins anew in each line."""
    layout = lay(DesignRule.COLUMNS, weave="single-link", spans=(Span(first=3, last=-1, every=3),))
    bags, bag = fill_bags(layout)
    lines = list(weaving_lines(layout, bag, len(bags)))
    assert lines[0].text == "6 × (2 A, 1 B)"
    assert sum(sum(line.counts) * line.lines for line in lines) == layout.rings


def test_a_piece_of_one_metal_and_size_needs_no_such_pages():
    """Plain pieces have one bag."""
    plain = lay(DesignRule.BORDER, size=(99, 99))
    assert not has_design(plain)
    assert has_design(lay(DesignRule.BORDER, size=(1, 1)))
