"""Lengths of pieces with fittings, by hand for single-link chains: every ring adds its ID.

A single-link chain of n rings is n·ID + 2d long. A connecting ring in line adds its own ID, a
fitting its length; where a fitting ends the piece, that end has no wire of a ring.
"""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.errors import WeaveError
from chainplan.model.job import LOOSE_JOINS, Piece, Section
from chainplan.model.piece.fittings import CONNECTING, Fitted, Fitting, FittingKind, read_place
from chainplan.weave import lay_piece, parts_of_fittings

OFF_MM = 0.01
"""Where a connecting ring hangs is searched for: to some thousandths of a millimetre."""


def chain(rings=None, length_mm=None, **values):
    """A stretch of single-link chain, ID 4, wire 1."""
    known = {"weave": "single-link", "metal": "copper", "wire_mm": 1.0, "inner_mm": 4.0}
    return Section(**known | {"rings": rings, "length_mm": length_mm} | values)


def fitting(place, length_mm, rings=1, kind=FittingKind.OTHER, **values):
    """A fitting of a length, with connecting rings."""
    return Fitting(
        piece="invented", name=f"{kind} {place}", kind=kind, place=place, length_mm=length_mm,
        rings=rings, **values,
    )  # fmt: skip


def connecting(index, rings, wire_mm=1.0, inner_mm=4.0):
    """The section of a fitting's connecting rings, as the reader makes it."""
    return Section(
        weave=CONNECTING, metal="copper", wire_mm=wire_mm, inner_mm=inner_mm, rings=rings,
        fitting=index,
    )  # fmt: skip


def a_piece(*sections, fittings=(), **values):
    """One piece of sections and fittings."""
    return Piece(name="invented", quantity=1, sections=sections, fittings=fittings, **values)


def test_clasp_stone_and_end_ring_by_hand():
    """Clasp 12, 20 rings, stone 16, 20 rings, end ring 6; one connecting ring at every eye."""
    fittings = (
        fitting("start", 12.0, kind=FittingKind.CLASP),
        fitting("between 1 and 2", 16.0, kind=FittingKind.CENTREPIECE),
        fitting("end", 6.0, kind=FittingKind.END_RING),
    )
    layout = lay_piece(
        a_piece(
            connecting(0, 1), chain(20), connecting(1, 2), chain(20), connecting(2, 1),
            fittings=fittings,
        )
    )  # fmt: skip
    assert layout.rings == 44
    # 12 + (1 + 20 + 1)·4 + 16 + (1 + 20 + 1)·4 + 6, and no ring's wire at either end
    assert layout.length_mm == pytest.approx(12 + 88 + 16 + 88 + 6, abs=OFF_MM)
    clasp, stone, end = layout.fittings
    assert (clasp.rings, stone.rings, end.rings) == ((0,), (21, 22), (43,))
    for laid, wanted in zip(layout.fittings, (12.0, 16.0, 6.0), strict=True):
        assert np.linalg.norm(np.subtract(laid.to_mm, laid.from_mm)) == pytest.approx(wanted)
    # a hand measures from the clasp's outer end: 12 + 22·4 to the stone
    assert stone.from_mm[0] - clasp.to_mm[0] == pytest.approx(12 + 88, abs=OFF_MM)


def test_connecting_rings_of_another_size_add_their_own_inner_diameters():
    """Two rings of ID 5 in wire 1.2 in a row, then an end ring of 6: 10 + 6."""
    layout = lay_piece(
        a_piece(chain(10), connecting(0, 2, 1.2, 5.0), fittings=(fitting("end", 6.0, rings=2),))
    )
    assert layout.length_mm == pytest.approx(1 + 10 * 4 + 2 * 5 + 6, abs=OFF_MM)
    assert layout.links.tolist()[-2:] == [[9, 10], [10, 11]]
    assert layout.sections[1].wire_mm == 1.2
    # the two stand at right angles to each other
    assert abs(float(layout.normal[10] @ layout.normal[11])) < 1e-9


def test_without_connecting_rings_the_weave_itself_holds_the_fitting():
    """The last ring's wire lies in the eye: n·ID + d, then the fitting."""
    layout = lay_piece(a_piece(chain(10), fittings=(fitting("end", 7.5, rings=0),)))
    assert layout.rings == 10
    assert layout.fittings[0].rings == (9,)
    assert layout.length_mm == pytest.approx(1 + 10 * 4 + 7.5, abs=OFF_MM)


def test_finished_length_is_taken_off_the_chain():
    """450 asked for: what clasp, stone and connecting rings take, the chain gives back."""
    fittings = (fitting("start", 12.0), fitting("between 1 and 2", 16.0))
    layout = lay_piece(
        a_piece(
            connecting(0, 1), chain(length_mm=225.0), connecting(1, 2), chain(length_mm=225.0),
            fittings=fittings, clasp_length_mm=0.0,
        )
    )  # fmt: skip
    # 12 + 4·(1 + n + 1) + 16 + 4·(1 + m) + 1, nearest to 450 with whole rings in equal halves
    rings = [section.rings for section in layout.sections]
    expected = 12 + 4 * (1 + rings[1] + 1) + 16 + 4 * (1 + rings[3]) + 1
    assert rings[1] == rings[3]
    assert layout.length_mm == pytest.approx(expected, abs=OFF_MM)
    assert abs(layout.length_mm - 450) <= 4 + OFF_MM


def test_connecting_ring_between_sections_is_taken_off_too():
    """Two stretches of 100 with the ring between them end within half a ring each of 200."""
    layout = lay_piece(a_piece(chain(length_mm=100.0), chain(length_mm=100.0)))
    assert layout.rings == layout.sections[0].rings + layout.sections[1].rings
    assert layout.length_mm == pytest.approx(layout.rings * 4 + 2, abs=OFF_MM)
    assert abs(layout.length_mm - 200) <= 4 + OFF_MM


def test_loose_joins_stand_between_sections_as_rings_in_a_row():
    """Three larger rings between two stretches: their own IDs, linked one in the other."""
    loose = Section(weave=LOOSE_JOINS, metal="brass", wire_mm=1.0, inner_mm=6.0, rings=3)
    layout = lay_piece(a_piece(chain(10), loose, chain(10)))
    assert layout.length_mm == pytest.approx(10 * 4 + 3 * 6 + 10 * 4 + 2, abs=OFF_MM)
    weaves = [section.weave for section in layout.sections]
    assert weaves == ["single-link", CONNECTING, "single-link"]
    assert layout.degree.tolist() == [1, *[2] * 21, 1]


@pytest.mark.parametrize("place", ["middle", "20 mm from end", "ring 5"])
def test_hanging_fitting_adds_no_length(place):
    """A charm hangs below the ring that is meant and leaves the piece as long as it was."""
    bare = lay_piece(a_piece(chain(15)))
    layout = lay_piece(
        a_piece(chain(15), connecting(0, 1, 1.0, 5.0), fittings=(fitting(place, 9.0),))
    )
    assert layout.length_mm == pytest.approx(bare.length_mm)
    assert layout.rings == 16
    ((one, other),) = [pair for pair in layout.links.tolist() if 15 in pair]
    near = {"middle": 7, "20 mm from end": 10, "ring 5": 4}[place]
    assert abs(one - near) <= 1
    assert other == 15
    (laid,) = layout.fittings
    assert laid.to_mm[1] == pytest.approx(laid.from_mm[1] - 9.0)
    assert laid.rings == (15,)


def test_bail_sits_on_the_ring_itself():
    """Without connecting rings what hangs is carried by the chain."""
    layout = lay_piece(a_piece(chain(15), fittings=(fitting("ring 8", 9.0, rings=0),)))
    assert layout.rings == 15
    assert layout.fittings[0].rings == (7,)


def test_ring_that_is_full_takes_no_connecting_ring():
    """Two wires fill a ring of 2.05 mm inside: no third goes through it."""
    tight = chain(15, inner_mm=2.05)
    piece = a_piece(tight, connecting(0, 1, 1.0, 4.0), fittings=(fitting("ring 8", 9.0),))
    with pytest.raises(WeaveError, match="without overlap"):
        lay_piece(piece)


@pytest.mark.parametrize("weave", ["byzantine", "half-persian-3-in-1", "full-persian-6-in-1"])
def test_dense_chains_take_fittings_at_both_ends_without_overlap(weave):
    """Connecting rings go through the rings that miss most links, as between sections."""
    section = chain(60, weave=weave, inner_mm=5.5)
    fittings = (fitting("start", 10.0), fitting("end", 6.0))
    layout = lay_piece(a_piece(
        connecting(0, 1, 1.0, 5.5), section, connecting(1, 1, 1.0, 5.5), fittings=fittings,
    ))  # fmt: skip
    assert layout.residual_gap_mm > -1e-3
    assert layout.degree[0] >= 1
    assert layout.degree[-1] >= 1
    assert layout.length_mm > layout.sections[1].length_mm + 16


def test_sheet_takes_clasp_and_end_ring():
    """A cuff keeps its rows; its connecting rings lie flat with it."""
    section = chain(None, 100.0, weave="european-4-in-1", inner_mm=5.0, rows=5)
    fittings = (fitting("start", 12.0), fitting("end", 6.0))
    layout = lay_piece(a_piece(
        connecting(0, 1, 1.0, 5.0), section, connecting(1, 1, 1.0, 5.0), fittings=fittings,
    ))  # fmt: skip
    pitch = layout.sections[1].longer_mm - layout.sections[1].length_mm
    assert abs(layout.length_mm - 100.0) <= pitch / 2 + OFF_MM
    assert layout.residual_gap_mm > -1e-3


def test_only_what_is_there_while_welding_is_a_part():
    """A stone that is set last is no part of the heat; its rings are welded all the same."""
    first = fitting("start", 12.0, heat_kind="spring", limit_c=120.0)
    last = fitting("end", 8.0, heat_kind="amber", limit_c=100.0, fitted=Fitted.AFTER)
    piece = a_piece(connecting(0, 1), chain(20), connecting(1, 1), fittings=(first, last))
    layout = lay_piece(piece)
    (part,) = parts_of_fittings(piece, layout)
    assert (part.name, part.limit_c, part.stand.rings) == (first.name, 120.0, (0,))
    assert [item.before for item in layout.fittings] == [True, False]


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("Start", "start"),
        ("between sections 2 and 3", "between 2 and 3"),
        ("3 cm from the end", "30 mm from end"),
        ("on ring 12", "ring 12"),
    ],
)
def test_places_are_read_as_people_write_them(text, written):
    """Written again, a place reads the same."""
    assert str(read_place(text)) == written
    assert read_place(written) == read_place(text)
