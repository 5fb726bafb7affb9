"""Pieces laid out from what a user asks for: lengths, rounding, loops, sections, loose joins."""

from __future__ import annotations

from dataclasses import replace

import networkx as nx
import numpy as np
import pytest

import chainplan
from chainplan.errors import CannotBeWoven, InputError, WeaveError
from chainplan.model.job import Piece, Section, StockItem
from chainplan.report.text.record import count_record
from chainplan.report.text.terminal.answers import count_text
from chainplan.weave import judge_ring, lay_piece, load_weave
from chainplan.weave.laying.elements import RingRow
from chainplan.weave.laying.row import describe_row
from chainplan.weave.laying.section import find_ring_sizes, lay_section
from chainplan.weave.laying.together.placed import PlacedSection
from chainplan.weave.shape.circles import CentreLines, closest_approach, linking_number


def circles_of(layout, rings):
    """The circles of some rings of a layout."""
    return CentreLines(layout.centre_mm[rings], layout.normal[rings], layout.mean_radius_mm[rings])


def a_section(weave="single-link", **values):
    """450 mm of 1.0 mm wire, 4.5 mm inner diameter, unless said otherwise."""
    known = {
        "weave": weave, "metal": "sterling-silver", "wire_mm": 1.0, "inner_mm": 4.5,
        "length_mm": 450.0,
    }  # fmt: skip
    return Section(**{**known, **values})


def a_piece(*sections, **values):
    """One piece of the given sections."""
    return Piece(name="invented", quantity=1, sections=sections, **values)


def test_single_link_chain_of_n_rings_is_n_inner_diameters_and_two_wires_long():
    """Exact: n·ID + 2d, outer edge to outer edge, for the section and in the poses."""
    layout = lay_piece(a_piece(a_section(length_mm=None, rings=37)))
    section = layout.sections[0]
    assert layout.rings == 37
    assert section.length_mm == pytest.approx(37 * 4.5 + 2, abs=1e-6)
    half = layout.mean_radius_mm * np.sqrt(1 - layout.normal[:, 0] ** 2) + layout.wire_mm / 2
    assert (layout.centre_mm[:, 0] - half).min() == pytest.approx(0, abs=1e-9)
    assert (layout.centre_mm[:, 0] + half).max() == pytest.approx(section.length_mm, abs=1e-6)
    assert layout.length_mm == pytest.approx(section.length_mm)
    assert np.array_equal(layout.degree, [1, *[2] * 35, 1])


@pytest.mark.parametrize(
    ("rounding", "rings"), [("nearest", 100), ("at least", 100), ("at most", 99)]
)
def test_length_is_rounded_to_whole_repeats_as_asked(rounding, rings):
    """450 mm wants 99.56 rings of 4.5 mm; the lengths beside it are told."""
    section = lay_piece(a_piece(a_section(), rounding=rounding)).sections[0]
    assert section.rings == rings
    assert section.longer_mm - section.length_mm == pytest.approx(4.5, abs=1e-6)
    assert section.length_mm - section.shorter_mm == pytest.approx(4.5, abs=1e-6)
    assert section.wanted_mm == 450.0


def test_clasp_length_is_taken_off():
    """The chain and its clasp together reach the wanted length."""
    layout = lay_piece(a_piece(a_section(), clasp_length_mm=20.0))
    assert layout.sections[0].wanted_mm == pytest.approx(430.0)
    assert layout.rings == 95


def test_closed_loop_counts_the_way_round_and_links_its_ends():
    """n·ID round a loop; every ring has two links."""
    layout = lay_piece(a_piece(a_section(length_mm=200.0), closed=True))
    assert layout.closed
    assert layout.length_mm == pytest.approx(44 * 4.5, abs=1e-6)
    assert (layout.degree == 2).all()


def test_loop_too_short_to_close_is_refused():
    """Two rings cannot make a ring of rings."""
    with pytest.raises(WeaveError, match="too short to close"):
        lay_piece(a_piece(a_section(length_mm=9.0), closed=True))


def test_byzantine_links_of_the_piece_are_the_links_found_in_space():
    """Every pair of rings of a short chain, by linking number; ends have what is left."""
    layout = lay_piece(a_piece(a_section("byzantine", inner_mm=3.9, length_mm=30.0)))
    i, j = np.triu_indices(layout.rings, 1)
    number = linking_number(circles_of(layout, i), circles_of(layout, j))
    found = np.stack([i, j], axis=1)[number != 0]
    assert np.array_equal(layout.links, found)
    assert layout.residual_gap_mm >= -1e-6


def test_two_sections_of_one_chain_and_their_connecting_ring_are_one_chain():
    """5 + 1 + 7 rings of single link: 13·ID + 2d, each ring through its neighbours."""
    sections = [a_section(length_mm=None, rings=n) for n in (5, 7)]
    layout = lay_piece(a_piece(*sections))
    assert layout.rings == 13
    assert [section.rings for section in layout.sections] == [6, 7]
    assert layout.length_mm == pytest.approx(13 * 4.5 + 2, abs=0.01)
    assert sorted(np.bincount(layout.degree).tolist()) == [0, 2, 11]
    one, other = layout.links.T
    number = linking_number(circles_of(layout, one), circles_of(layout, other))
    assert (number != 0).all()


@pytest.mark.parametrize(
    ("first", "second"),
    [("single-link", "byzantine"), ("byzantine", "european-4-in-1"), ("double-link", "byzantine")],
)
def test_connecting_ring_links_in_space_as_it_is_said_to_and_overlaps_nothing(first, second):
    """All links and gaps of a piece of two weaves, looked at pair by pair."""
    sections = [
        a_section(key, inner_mm=4.6, length_mm=30.0, rows=3 if key.startswith("eu") else None)
        for key in (first, second)
    ]
    layout = lay_piece(a_piece(*sections))
    i, j = np.triu_indices(layout.rings, 1)
    pairs = circles_of(layout, i), circles_of(layout, j)
    found = np.stack([i, j], axis=1)[linking_number(*pairs) != 0]
    assert np.array_equal(layout.links, found)
    assert (closest_approach(*pairs)[0] - 1.0).min() > -1e-5
    assert layout.residual_gap_mm > -1e-5


def test_a_piece_of_three_weaves_hangs_together():
    """Connecting rings join a chain, a folded chain and a strip into one component."""
    import networkx as nx

    layout = lay_piece(
        a_piece(
            a_section(length_mm=50.0),
            a_section("byzantine", inner_mm=4.0, length_mm=40.0),
            a_section("european-4-in-1", length_mm=50.0, rows=3),
        )
    )
    assert nx.is_connected(layout.graph())
    assert [section.form for section in layout.sections] == ["chain", "chain", "strip"]
    assert sum(section.rings for section in layout.sections) == layout.rings
    assert (np.diff(layout.section) >= 0).all()


def test_sheet_without_rows_is_refused():
    """A width is needed."""
    with pytest.raises(InputError, match="how many rows"):
        lay_piece(a_piece(a_section("european-4-in-1")))


def test_inner_rings_of_a_sheet_have_four_links_and_edges_fewer():
    """True edges: nothing is linked to rings that are not there."""
    layout = lay_piece(a_piece(a_section("european-4-in-1", length_mm=80.0, rows=6)))
    inner = (layout.row > 0) & (layout.row < 5)
    inner &= (layout.column > 0) & (layout.column < layout.column.max())
    assert (layout.degree[inner] == 4).all()
    assert layout.degree[layout.row == 0].max() == 2


def test_loose_joins_are_single_rings_without_links():
    """Pendant rings, earring posts: joins that belong to no weave."""
    layout = lay_piece(a_piece(a_section("loose-joins", length_mm=None, rings=3)))
    assert layout.rings == 3
    assert layout.links.shape == (0, 2)
    assert layout.sections[0].form == "loose"
    # Side by side, a wire apart: 4.5 mm inside and 1.0 mm of wire are 6.5 mm outside.
    np.testing.assert_allclose(layout.centre_mm[:, 0], [3.25, 10.75, 18.25])
    np.testing.assert_allclose(layout.mean_radius_mm, 2.75)
    assert layout.length_mm == pytest.approx(21.5)
    for name in ("section", "place", "across", "row"):
        assert getattr(layout, name).tolist() == [0, 0, 0], name
    assert layout.along.tolist() == layout.column.tolist() == [0, 1, 2]


def test_rings_in_a_row_are_as_long_as_they_are_inside_and_two_wires():
    """Exact: n·ID + 2d; one ring fewer and one more tell the next lengths."""
    row = RingRow(number=0, wire_mm=0.8, inner_mm=3.0, rings=2)
    told = describe_row(row, a_section(), first=5, links=1)
    assert told.length_mm == pytest.approx(2 * 3.0 + 1.6)
    assert told.shorter_mm == pytest.approx(3.0 + 1.6)
    assert told.longer_mm == pytest.approx(3 * 3.0 + 1.6)
    assert (told.first_ring, told.rings, told.joins, told.links) == (5, 2, 2, 1)
    assert (told.width_mm, told.thickness_mm) == (pytest.approx(4.6), pytest.approx(4.6))
    alone = describe_row(replace(row, rings=1), a_section(), first=0, links=0)
    assert (alone.shorter_mm, alone.thickness_mm) == (0.0, 0.8)


def test_second_rings_are_sized_over_the_first():
    """Only a weave of two sizes has any; what the row leaves out is as the weave's file says."""
    two, one = load_weave("japanese-12-in-2"), load_weave("single-link")
    second = two.classes[1]
    both = a_section(wire_mm=2.0, inner_mm=8.0, second_wire_mm=1.0, second_inner_mm=3.0)
    assert find_ring_sizes(both, two) == ((1.0, 1.0), (0.5, 0.375))
    assert find_ring_sizes(both, one) is None
    assert find_ring_sizes(a_section(), two) is None
    wire = a_section(wire_mm=2.0, inner_mm=8.0, second_wire_mm=1.0)
    assert find_ring_sizes(wire, two) == ((1.0, 1.0), (0.5, second.inner_ratio))
    inner = a_section(wire_mm=2.0, inner_mm=8.0, second_inner_mm=3.0)
    assert find_ring_sizes(inner, two) == ((1.0, 1.0), (second.wire_ratio, 0.375))


def test_a_section_s_edges_are_those_of_its_wire():
    """Of rings that lean, taken point by point around each; rolled and shifted as it is laid."""
    laid = lay_section(
        a_section("byzantine", length_mm=None, rings=24), wanted_mm=None, rounding="nearest",
        closed=False,
    )  # fmt: skip
    placed = PlacedSection(laid)
    placed.move(0.7, np.array([3.0, 1.0, -2.0]))
    turn = np.linspace(0, 2 * np.pi, 721)
    low, high = np.inf, -np.inf
    for centre, normal, place in zip(placed.centre, placed.normal, laid.tiling.place, strict=True):
        aside = np.cross(normal, [0.3, 0.5, 0.8])
        aside /= np.linalg.norm(aside)
        radius = laid.repeat.mean_radius[place] * laid.section.wire_mm
        x = centre[0] + radius * (
            np.cos(turn) * aside[0] + np.sin(turn) * np.cross(normal, aside)[0]
        )
        half = laid.repeat.wire[place] * laid.section.wire_mm / 2
        low, high = min(low, x.min() - half), max(high, x.max() + half)
    assert np.abs(laid.tiling.normal[:, 0]).max() > 0.1
    assert placed.edges_mm() == (pytest.approx(low, abs=1e-4), pytest.approx(high, abs=1e-4))


def test_ring_that_cannot_be_woven_is_refused_with_the_smallest_ratio():
    """The message says what would go."""
    with pytest.raises(CannotBeWoven, match=r"smallest computed one is 3\.2"):
        lay_piece(a_piece(a_section("byzantine", inner_mm=3.0)))


def test_own_measurement_overrides_the_computed_count_and_both_are_told():
    """A user's rings per cm decides the count; the computed one stands beside it."""
    section = a_section("byzantine", inner_mm=3.9, measured_rings_per_cm=8.0)
    laid = lay_piece(a_piece(section)).sections[0]
    plain = lay_piece(a_piece(a_section("byzantine", inner_mm=3.9))).sections[0]
    assert laid.rings_per_cm == pytest.approx(8.0)
    assert laid.computed_rings_per_cm == pytest.approx(plain.rings_per_cm)
    assert laid.rings < plain.rings
    assert laid.length_mm == pytest.approx(450, abs=6 / 8.0 * 10 / 2)


def test_one_per_cent_of_inner_diameter_changes_length_and_count():
    """Single link: a 1 % larger opening makes n rings 1 % longer but for the two end wires."""
    section = lay_piece(a_piece(a_section())).sections[0]
    smaller, larger = section.tolerance
    assert (smaller.inner_diameter_change, larger.inner_diameter_change) == (-0.01, 0.01)
    assert larger.length_mm == pytest.approx(100 * 4.545 + 2, abs=1e-5)
    assert smaller.length_mm == pytest.approx(100 * 4.455 + 2, abs=1e-5)
    assert smaller.rings >= section.rings >= larger.rings


def test_verdict_names_the_margins_and_suggests_rings_at_hand():
    """Too small a ring: refused in words, and the size on the shelf that would do."""
    limits = judge_ring(load_weave("byzantine"), 1.0, 3.0, stock_inner_mm=(2.0, 4.0, 9.0))
    assert limits.verdict == "cannot be woven"
    assert limits.suitable_inner_mm == (4.0,)
    assert limits.smallest_aspect_ratio > 3.0


def test_stock_of_other_wire_is_not_suggested():
    """Only rings of the same wire count as at hand."""
    section = a_section("byzantine", inner_mm=3.3, length_mm=60.0)
    stock = [
        StockItem(kind="rings", size_mm=1.0, inner_mm=4.05),
        StockItem(kind="rings", size_mm=1.2, inner_mm=4.0),
    ]
    laid = lay_piece(a_piece(section), stock=stock).sections[0]
    assert laid.limits.verdict == "very tight"
    assert laid.limits.suitable_inner_mm == (4.05,)


def test_progress_is_told_a_section_at_a_time():
    """The callback sees each section once."""
    seen = []
    sections = [a_section(length_mm=None, rings=n) for n in (3, 4)]
    lay_piece(a_piece(*sections), on_step=lambda *step: seen.append(step))
    assert seen == [("weave", 1, 2), ("weave", 2, 2)]


def test_scaling_wire_and_ring_scales_the_piece():
    """Geometry has no scale: twice the wire and ring, twice the length, the same count."""
    one = lay_piece(a_piece(a_section("byzantine", inner_mm=3.9, length_mm=100.0)))
    two = lay_piece(a_piece(a_section("byzantine", wire_mm=2.0, inner_mm=7.8, length_mm=200.0)))
    assert one.rings == two.rings
    assert np.allclose(two.centre_mm, 2 * one.centre_mm, atol=1e-9)


@pytest.mark.parametrize(("asked", "given"), [(1, 6), (20, 18), (18, 18)])
def test_rings_asked_for_are_kept_beside_those_that_whole_repeats_give(asked, given):
    """A Byzantine repeat has six rings: one ring of it cannot be had, and the answer says so."""
    count = chainplan.count_rings(
        weave="byzantine", wire=1.0, inner=3.5, rings=asked, metal="copper"
    )
    assert (count.rings, count.wanted_rings) == (given, asked)
    told = f"asked for; rounded to {given // 6} whole repeat"
    assert (told in count_text(count)) == (asked != given)
    assert count_record(count)["wanted_rings"] == asked


def test_a_length_asks_for_no_number_of_rings():
    """Then there is nothing to compare the rings with."""
    count = chainplan.count_rings(weave="byzantine", wire=1.0, inner=3.5, length=90.0)
    assert count.wanted_rings is None
    assert "asked for" not in count_text(count)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"weave": "european-4-in-1", "rows": 1}, "1 row leaves .* hanging on nothing; .* 2 rows"),
        ({"weave": "european-6-in-1", "rows": 1}, "hanging on nothing; at least 2 rows"),
        ({"weave": "japanese-12-in-2", "rows": 1}, "hanging on nothing; at least 2 rows"),
        ({"weave": "japanese-12-in-2", "rows": 6}, "7 of 63 rings .57, 58.*; .* 5 and 7 rows"),
        (
            {"weave": "double-link", "rings": 2},
            "1 repeat leaves 1 of 2 rings .* at least 2 repeats",
        ),
    ],
)
def test_rows_and_repeats_that_leave_rings_hanging_on_nothing_are_refused(values, said):
    """Rings without a link would be counted, welded and priced, and fall off."""
    ring = {"length_mm": None, "rings": 60, "wire_mm": 1.0, "inner_mm": 6.0}
    with pytest.raises(WeaveError, match=said):
        lay_piece(a_piece(a_section(**{**ring, **values})))


@pytest.mark.parametrize("weave", ["european-4-in-1", "japanese-4-in-1", "japanese-12-in-2"])
@pytest.mark.parametrize("rows", [2, 3, 4, 5, 7])
def test_every_sheet_that_is_laid_hangs_together(weave, rows):
    """From any ring one gets to any other along links."""
    section = a_section(weave, length_mm=None, rings=40, inner_mm=6.0, rows=rows)
    layout = lay_piece(a_piece(section))
    assert nx.is_connected(layout.graph())


def count_links(layout, pairs):
    """Pairs that link as a loop's ends do: the second ring turned and shifted behind the first."""
    last, first = pairs.T
    cos, sin = np.cos(layout.loop.turn_rad), np.sin(layout.loop.turn_rad)
    turn = np.array([[1, 0, 0], [0, cos, -sin], [0, sin, cos]])
    start = circles_of(layout, first)
    carried = start._replace(
        centre=start.centre @ turn.T + layout.loop.shift_mm, normal=start.normal @ turn.T
    )
    number = linking_number(circles_of(layout, last), carried)
    return int(np.count_nonzero(number))


@pytest.mark.parametrize(
    "sections",
    [
        [a_section(length_mm=120.0)],
        [a_section("byzantine", inner_mm=3.9, length_mm=120.0)],
        [a_section("jens-pind-3", inner_mm=3.6, length_mm=60.0)],
        [a_section("japanese-4-in-1", inner_mm=5.0, length_mm=60.0, rows=3)],
        [a_section("byzantine", inner_mm=3.9, length_mm=60.0), a_section(length_mm=60.0)],
    ],
)
def test_a_loop_says_how_its_ends_meet_where_it_is_laid_straight(sections):
    """The links of the closing are those in space of the end with the start set behind it."""
    layout = lay_piece(a_piece(*sections, closed=True))
    closing = layout.loop.links
    assert len(closing)
    assert count_links(layout, closing) == len(closing)
    last, first = np.meshgrid(*[np.arange(layout.rings)] * 2)
    every = np.stack([last.ravel(), first.ravel()], axis=1)
    assert count_links(layout, every) == len(closing)
    known = {tuple(pair) for pair in np.sort(layout.links, axis=1).tolist()}
    assert {tuple(pair) for pair in np.sort(closing, axis=1).tolist()} <= known
    i, j = np.triu_indices(layout.rings, 1)
    number = linking_number(circles_of(layout, i), circles_of(layout, j))
    assert np.count_nonzero(number) == len(layout.links) - len(closing)


def test_one_loose_join_less_is_no_length_below_nothing():
    """A single pendant ring: one less is none."""
    section = lay_piece(a_piece(a_section("loose-joins", length_mm=None, rings=1))).sections[0]
    assert section.shorter_mm == 0.0
