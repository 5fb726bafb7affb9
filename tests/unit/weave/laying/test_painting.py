"""Designs laid over the rings of a piece: counted ring by ring in plain loops, and as drawn."""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest

from chainplan.job.sheets.designs import cells_of, read_spans
from chainplan.model.job import Piece, Section
from chainplan.model.kinds import DesignLaid, DesignRule
from chainplan.model.piece.design import OWN, Design, DesignLine
from chainplan.weave import lay_piece

OURS, OTHER, THIRD = "sterling-silver", "copper", "brass"


def a_line(rule, which="", metals=(("", OTHER),), **held):
    """One rule as the reader makes it."""
    return DesignLine(design="invented", rule=rule, which=which, metals=metals, **held)


def a_design(*lines):
    """A design of some rules."""
    return Design(name="invented", lines=lines)


def lay(*lines, sections=1, **values):
    """A piece of one design: a chain of 60 mm unless said otherwise."""
    known = {
        "weave": "byzantine", "metal": OURS, "wire_mm": 1.0, "inner_mm": 3.5, "length_mm": 60.0,
        "design": a_design(*lines),
    }  # fmt: skip
    section = Section(**{**known, **values})
    return lay_piece(Piece(name="invented", quantity=1, sections=(section,) * sections))


def metals_of(layout):
    """Metal of every ring, by its number."""
    return [layout.materials[k].metal for k in layout.material.tolist()]


def sheet(*lines, rows=9, length_mm=80.0, **values):
    """A strip of European 4-in-1."""
    return lay(*lines, rows=rows, length_mm=length_mm,
               **{"weave": "european-4-in-1", "inner_mm": 5.0, **values})  # fmt: skip


def picture(*rows, metals=(("", OTHER),), **held):
    """A picture drawn with letters: # the first metal, + the second, anything else nothing."""
    number = {"#": 0, "+": 1}
    cells = tuple(bytes(number.get(sign, OWN) for sign in row) for row in rows)
    return a_line(DesignRule.PICTURE, "drawn", metals, cells=cells, **held)


def test_places_in_the_repeat_are_those_of_every_repeat():
    """Rings 1 and 2 of each six are of the other metal, counted one by one."""
    layout = lay(a_line(DesignRule.PLACES, spans=read_spans("1-2")))
    wanted = [OTHER if k % 6 < 2 else OURS for k in range(layout.rings)]
    assert metals_of(layout) == wanted
    assert sum(item.rings for item in layout.materials) == layout.rings
    by_metal = {item.metal: item.rings for item in layout.materials}
    assert by_metal == dict(Counter(wanted))


def test_parts_are_the_rings_that_the_weave_file_calls_so():
    """Byzantine names rings 0 and 1 of its repeat connectors."""
    layout = lay(a_line(DesignRule.PARTS, parts=("connector",)))
    assert metals_of(layout) == metals_of(lay(a_line(DesignRule.PLACES, spans=read_spans("1-2"))))


def test_a_list_repeats_ring_by_ring_and_goes_on_over_all_of_the_chain():
    """AABBC over a chain whose length is no multiple of five."""
    metals = (("A", OTHER), ("B", OURS), ("C", THIRD))
    layout = lay(
        a_line(DesignRule.LIST, metals=metals, cells=(cells_of("AABBC", metals),)),
        weave="jens-pind-3", inner_mm=3.3,
    )  # fmt: skip
    letters = itertools.cycle([OTHER, OTHER, OURS, OURS, THIRD])
    assert metals_of(layout) == list(itertools.islice(letters, layout.rings))


def test_rows_columns_borders_and_checks_of_a_sheet_count_as_loops_do():
    """Each rule against the plainest loop that says the same."""
    rules = {
        "stripes": (a_line(DesignRule.ROWS, spans=read_spans("1, every 4th from 3, last 2")),
                    lambda r, c, n: r in (0, 2, 6, 7, 8)),
        "columns": (a_line(DesignRule.COLUMNS, spans=read_spans("2-3, last")),
                    lambda r, c, n: c in (1, 2, n - 1)),
        "border": (a_line(DesignRule.BORDER, size=(2, 2)),
                   lambda r, c, n: r < 2 or r >= 7 or c < 2 or c >= n - 2),
        "check": (a_line(DesignRule.CHECK, size=(2, 3)),
                  lambda r, c, n: (r // 2 + c // 3) % 2 == 0),
        "edge": (a_line(DesignRule.PARTS, parts=("edge",)),
                 lambda r, c, n: r in (0, 8) or c in (0, n - 1)),
    }  # fmt: skip
    for name, (line, is_meant) in rules.items():
        layout = sheet(line)
        in_row = Counter(layout.row.tolist())
        places = zip(layout.row.tolist(), layout.column.tolist(), strict=True)
        wanted = [OTHER if is_meant(r, c, in_row[r]) else OURS for r, c in places]
        assert metals_of(layout) == wanted, name
        assert 0 < wanted.count(OTHER) < layout.rings, name


def test_later_rules_lie_over_earlier_ones():
    """A stripe over a border is seen whole."""
    stripe = a_line(DesignRule.ROWS, metals=(("", THIRD),), spans=read_spans("5"))
    layout = sheet(a_line(DesignRule.BORDER, size=(1, 1)), stripe)
    found = metals_of(layout)
    assert {found[k] for k in np.flatnonzero(layout.row == 4)} == {THIRD}
    assert {found[k] for k in np.flatnonzero(layout.row == 0)} == {OTHER}


def test_a_grid_gives_a_letter_to_a_ring_from_the_top_row_down():
    """Three lines in the middle of nine rows; points leave rings as they are."""
    metals = (("A", OTHER), ("B", THIRD))
    cells = tuple(cells_of(line, metals) for line in ("AB.", "...", "..A"))
    layout = sheet(a_line(DesignRule.GRID, metals=metals, cells=cells))
    found = np.array(metals_of(layout))
    counted = Counter(found.tolist())
    assert counted[OTHER] == 2
    assert counted[THIRD] == 1
    top = np.flatnonzero((layout.row == 5) & (found == OTHER))
    low = np.flatnonzero((layout.row == 3) & (found == OTHER))
    assert layout.column[low] - layout.column[top] == 2
    again = a_line(DesignRule.GRID, metals=metals, cells=cells, laid=DesignLaid.AGAIN)
    found = np.array(metals_of(sheet(again)))
    assert np.count_nonzero(found == OTHER) == pytest.approx(2 / 9 * len(found), abs=9)


def a_disc(dots=80):
    """A round disc on a square picture."""
    y, x = np.mgrid[:dots, :dots] + 0.5 - dots / 2
    round_ = np.hypot(x, y) < 0.4 * dots
    return tuple("".join("#" if dot else " " for dot in row) for row in round_.tolist())


def test_a_disc_stays_a_disc():
    """The rings of a disc reach as far across as along, within 2 %, by their second moments."""
    for lies in ("pulled along", "pulled across", "laid flat"):
        layout = sheet(picture(*a_disc()), rows=121, length_mm=600.0, lies=lies, inner_mm=4.2)
        inside = np.array(metals_of(layout)) == OTHER
        along, across = layout.centre_mm[inside, :2].std(axis=0)
        assert along / across == pytest.approx(1, abs=0.02), lies
        assert inside.sum() > 1000


def test_a_mirrored_picture_gives_a_mirrored_piece():
    """Upside down on an odd number of rows; turned half round on an even one.

    The lattice itself is mirrored onto itself so, and no other way, since rows stand off by half.
    """
    drawn = ("#...", "##..", "#.##", "....")
    one = np.array(metals_of(sheet(picture(*drawn))))
    two = np.array(metals_of(sheet(picture(*drawn[::-1]))))
    layout = sheet(picture(*drawn))
    place = {(r, c): k for k, (r, c) in enumerate(zip(layout.row, layout.column, strict=True))}
    mirror = [place[8 - r, c] for r, c in zip(layout.row, layout.column, strict=True)]
    assert (one[mirror] == two).all()
    turned = tuple(row[::-1] for row in drawn[::-1])
    layout = sheet(picture(*drawn), rows=10)
    one = np.array(metals_of(layout))
    two = np.array(metals_of(sheet(picture(*turned), rows=10)))
    in_row = Counter(layout.row.tolist())
    place = {(r, c): k for k, (r, c) in enumerate(zip(layout.row, layout.column, strict=True))}
    half_turn = [
        place[9 - r, in_row[9 - r] - 1 - c]
        for r, c in zip(layout.row.tolist(), layout.column.tolist(), strict=True)
    ]
    assert (one[half_turn] == two).all()
    assert len({*one.tolist()}) == 2


def test_a_picture_says_how_many_rings_it_can_show():
    """Who draws hears on how many rings the picture lies and what is lost."""
    (note,) = sheet(picture(*a_disc())).design_notes
    assert "rings" in note
    assert "is lost" in note


def test_a_design_of_one_metal_is_the_plain_piece():
    """Whether it names the piece's own metal or paints all of it over."""
    all_of_it = a_line(DesignRule.PLACES, spans=read_spans("all"))
    painted = lay(all_of_it)
    plain = lay(all_of_it, metal=OTHER, design=None)
    assert painted.alloy is None
    assert painted.sections[0].metal == OTHER
    assert painted.sections[0].design == ""
    assert painted.materials == plain.materials


def test_sizes_of_one_sheet_may_have_a_metal_each():
    """The small rings of a weave of two sizes, by the name of their size."""
    layout = lay(
        a_line(DesignRule.PARTS, parts=("small",)),
        weave="japanese-12-in-2", inner_mm=5.5, wire_mm=1.0, rows=4, length_mm=40.0,
    )  # fmt: skip
    kinds = {(item.metal, round(item.wire_mm, 3)) for item in layout.materials}
    assert kinds == {(OURS, 1.0), (OTHER, 0.8)}


def test_connecting_rings_between_sections_keep_their_metal():
    """They stand in no repeat, so no place or part means them."""
    layout = lay(
        a_line(DesignRule.PLACES, spans=read_spans("1")), sections=2,
        weave="single-link", length_mm=40.0,
    )  # fmt: skip
    found = metals_of(layout)
    own = [k for k, metal in enumerate(found) if metal == OURS]
    assert own == [layout.sections[0].rings - 1]
