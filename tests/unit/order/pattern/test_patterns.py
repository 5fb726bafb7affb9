"""Patterns: every join once, all passes the same way, said so that a person can follow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.order.pattern.families import list_patterns
from chainplan.order.pattern.passes import (
    Pattern,
    join_tiny_passes,
    lay_out_passes,
    order_of,
)
from chainplan.order.pattern.pattern import starts_of
from chainplan.order.pattern.plain import alternating_ends, end_to_end, random_order
from chainplan.order.pattern.sketch import count_lines, sketch_patterns
from chainplan.order.piece.grid import group_sequence, lay_out_grid
from chainplan.order.piece.work import lay_out_work
from chainplan.reference.texts import in_english

NO_WINDOW = (np.inf, np.inf)


def lay_out(make, layout, **changes):
    piece = make.piece(layout, **changes)
    work = lay_out_work(piece.layout, piece.joins, piece.kwargs["settings"], piece.pace)
    return work, lay_out_grid(piece.layout, work)


def separation(order, pairs):
    """Smallest distance in the order between two joins that are linked."""
    place = np.empty(len(order), dtype=int)
    place[order] = np.arange(len(order))
    return int(min(abs(place[i] - place[j]) for i, j in pairs))


@pytest.mark.parametrize("form", ["chain", "pairs", "sheet"])
def test_every_pattern_welds_every_join_once(make, form):
    """An order is a permutation, whatever the pattern."""
    layout = {"chain": make.chain(47), "pairs": make.pairs(26), "sheet": make.sheet(6, 11)}[form]
    work, grid = lay_out(make, layout, pre_closed=[3, 9])
    patterns = list_patterns(grid, work.joins, (15.0, 35.0), 500)
    assert len(patterns) > 20
    for pattern in patterns:
        order = order_of(lay_out_passes(grid, pattern, work))
        assert sorted(order.tolist()) == list(range(work.joins)), pattern


def test_a_chain_of_pairs_is_counted_in_pairs(make):
    """Two rings through the same other rings are what makers call a pair."""
    _, grid = lay_out(make, make.pairs(10))
    assert grid.unit == "pair"
    assert grid.column.tolist() == [k // 2 for k in range(20)]
    assert lay_out(make, make.chain(10))[1].unit == "ring"


def test_all_passes_of_a_line_run_the_same_way(make):
    """A pass that ran back would weld neighbours back to back at the turn."""
    work, grid = lay_out(make, make.chain(60))
    for pattern in list_patterns(grid, 60, NO_WINDOW, 500):
        for item in lay_out_passes(grid, pattern, work):
            steps = np.diff(grid.column[item.joins])
            assert (steps < 0).all() if pattern.backward else (steps > 0).all(), pattern


def test_pass_text_says_where_to_start_and_how_to_go_on(make):
    """The words are those that an assistant reads; numbers are ring numbers from 1."""
    work, grid = lay_out(make, make.pairs(40))
    texts = [in_english(item.stem) for item in lay_out_passes(grid, Pattern(stride=12), work)]
    assert texts[4] == "every 12th pair (54 mm) from pair 5 (ring 9)"
    back = lay_out_passes(grid, Pattern(stride=3, backward=True), work)
    assert (
        in_english(back[0].stem) == "every 3rd pair (14 mm) from pair 40 (ring 80) back to pair 1"
    )
    work, grid = lay_out(make, make.sheet(6, 8))
    rows = lay_out_passes(grid, Pattern(family="rows", classes=3, snake=True), work)
    assert in_english(rows[0].stem) == "rows 1 and 4: every ring, from ring 1, back and forth"
    rows = lay_out_passes(grid, Pattern(family="rows", stride=2), work)
    assert in_english(rows[0].stem) == "every row from row 1: every 2nd ring (14 mm), from ring 1"


def test_runs_are_said_by_their_first_stop_and_the_way_to_the_next(make):
    """Pairs 1, 4 and 7 of every 27: each pass goes along the piece and skips what lies between."""
    work, grid = lay_out(make, make.pairs(80))
    pattern = Pattern(stride=3, run=9, share=3, jump=1)
    passes = lay_out_passes(grid, pattern, work)
    assert [in_english(item.stem) for item in passes[:4]] == [
        "pairs 1, 4 and 7 (from ring 1), then the same every 27 pairs (122 mm)",
        "pairs 10, 13 and 16 (from ring 19), then the same every 27 pairs (122 mm)",
        "pairs 19, 22 and 25 (from ring 37), then the same every 27 pairs (122 mm)",
        "pairs 2, 5 and 8 (from ring 3), then the same every 27 pairs (122 mm)",
    ]
    assert np.unique(grid.column[passes[0].joins]).tolist() == [0, 3, 6, 27, 30, 33, 54, 57, 60]
    assert sorted(order_of(passes).tolist()) == list(range(work.joins))
    assert len(passes) == pattern.passes == 9


def test_long_runs_name_their_ends_and_runs_without_joins_are_said(make):
    """More than four numbers are not listed; rings closed beforehand are not in the count."""
    work, grid = lay_out(make, make.chain(60), pre_closed=[4])
    passes = lay_out_passes(grid, Pattern(run=6, share=2), work)
    assert in_english(passes[0].stem) == (
        "rings 1 to 6, then the same every 12 rings (54 mm), where there are joins here"
    )
    assert passes[0].joins.size == 29
    assert in_english(passes[1].stem) == "rings 7 to 12, then the same every 12 rings (54 mm)"


def _pairs_and_chain(make, **second):
    """Thirty pairs, then a chain of twelve rings, in two sections."""
    pairs, chain = make.pairs(30), make.chain(12)
    layout = make.layout(
        np.concatenate([pairs.centre_mm[:, :2], chain.centre_mm[:, :2] + [180.0, 0.0]]),
        [*map(tuple, pairs.links), (58, 60), (59, 60), *map(tuple, chain.links + 60)],
        [0] * 72,
        list(range(72)),
    )
    (section,) = layout.sections
    layout = replace(layout, sections=(section, replace(section, **second)))
    layout.section[60:] = 1
    return layout


def test_stretches_of_pairs_and_of_single_rings_are_passes_of_their_own_said_in_rings(make):
    """Units of different sizes have no common number: rings do."""
    work, grid = lay_out(make, _pairs_and_chain(make, weave="other"))
    assert grid.mixed
    passes = lay_out_passes(grid, Pattern(stride=2), work)
    assert [in_english(item.stem) for item in passes] == [
        "every 2nd pair (9 mm) from ring 1 to ring 57",
        "every 2nd ring (9 mm) from ring 61 to ring 71",
        "every 2nd pair (9 mm) from ring 3 to ring 59",
        "every 2nd ring (9 mm) from ring 62 to ring 72",
    ]
    passes = lay_out_passes(grid, Pattern(stride=2, run=4, share=2, classes=2), work)
    assert [in_english(item.stem) for item in passes[:3]] == [
        "pairs at rings 1 and 5, then the same every 8 pairs (36 mm) to ring 53, 1st ring of each",
        "rings 61, 63, 69 and 71",
        "pairs at rings 2 and 6, then the same every 8 pairs (36 mm) to ring 54, 2nd ring of each",
    ]
    assert sorted(order_of(passes).tolist()) == list(range(72))


def test_stretches_that_differ_in_metal_alone_are_passes_of_their_own(make):
    """Each is counted on with the piece's numbers, from its own first unit to its last."""
    chain = make.chain(30)
    (section,) = chain.sections
    layout = replace(chain, sections=(section, replace(section, metal="fine-silver")))
    layout.section[14:] = 1
    work, grid = lay_out(make, layout)
    assert not grid.mixed
    passes = lay_out_passes(grid, Pattern(stride=3, run=6, share=2), work)
    assert [in_english(item.stem) for item in passes[:2]] == [
        "rings 1 and 4, then the same every 12 rings (54 mm), up to ring 13",
        "rings 15 and 18, then the same every 12 rings (54 mm), up to ring 30",
    ]
    assert sorted(order_of(passes).tolist()) == list(range(30))
    alike = replace(layout, sections=(section, section))
    assert len(lay_out_passes(lay_out(make, alike)[1], Pattern(stride=3), work)) == 3


@pytest.mark.parametrize("form", ["chain", "pairs", "sheet"])
def test_a_pass_has_one_step_to_keep_in_mind(make, form):
    """Rows dealt out within columns, or a run with a step of its own, are not offered."""
    layout = make.sheet(6, 40) if form == "sheet" else getattr(make, form)(80)
    work, grid = lay_out(make, layout)
    for pattern in list_patterns(grid, work.joins, NO_WINDOW, 10_000):
        for item in lay_out_passes(grid, pattern, work)[:3]:
            steps = in_english(item.stem).replace("every row from", "").count("every ")
            assert steps <= 1 + in_english(item.stem).count(": every ring"), item.stem
            assert "in each" not in in_english(item.stem)


def test_many_tiny_passes_are_said_together(make):
    """Thirteen lines of a join or two each lose the place; two lists of rings do not."""
    work, grid = lay_out(make, make.chain(13))
    passes = lay_out_passes(grid, Pattern(stride=7, jump=3), work)
    assert len(passes) == 7
    merged = join_tiny_passes(passes, grid)
    assert [in_english(item.stem) for item in merged] == [
        "rings 1, 8, 4, 11 and 7 in this order",
        "rings 3, 10, 6, 13, 2 and 9 in this order",
        "every 7th ring (32 mm) from ring 5",
    ]
    assert order_of(merged).tolist() == order_of(passes).tolist()


def test_runs_in_a_strip_are_said_by_columns(make):
    """Going down one column and up the next."""
    work, grid = lay_out(make, make.sheet(4, 24, form="strip"))
    pattern = Pattern(family="columns", stride=2, run=4, share=3, snake=True)
    passes = lay_out_passes(grid, pattern, work)
    assert in_english(passes[0].stem) == (
        "columns 1 and 3, then the same every 12 columns (80 mm), from ring 1, back and forth"
    )
    assert sorted(order_of(passes).tolist()) == list(range(work.joins))


def test_rings_on_their_own_leave_their_pass_and_are_named(make):
    """Joins near a heat-sensitive part are welded between passes, and the pass says so."""
    work, grid = lay_out(make, make.chain(30))
    passes = lay_out_passes(grid, Pattern(stride=3), work, [0, 1])
    texts = [in_english(item.stem) for item in passes]
    assert texts[0] == "every 3rd ring (14 mm) from ring 1, leaving out ring 1"
    assert "ring 1 on its own" in texts
    assert "ring 2 on its own" in texts
    assert sorted(order_of(passes).tolist()) == list(range(30))


def test_a_run_from_the_other_end_is_said_by_where_it_begins(make):
    """The set is named from the beginning, the way through it from the end."""
    work, grid = lay_out(make, make.pairs(40))
    pattern = Pattern(stride=2, run=4, share=3, backward=True, turn_first=True)
    passes = lay_out_passes(grid, pattern, work)
    forth = lay_out_passes(grid, replace(pattern, backward=False), work)
    assert passes[0].joins.tolist() == forth[0].joins.tolist()[::-1]
    assert in_english(passes[0].stem) == (
        "pairs 1 and 3, then the same every 12 pairs (54 mm), going back from pair 39 (ring 78)"
    )
    assert grid.ring[passes[0].joins[-1]] == 0
    assert in_english(passes[1].stem).startswith(
        "pairs 2 and 4, then the same"
    )  # turn_first: starts inside
    assert sorted(order_of(passes).tolist()) == list(range(80))


@pytest.mark.parametrize("form", ["chain", "pairs", "sheet"])
def test_a_rich_portfolio_holds_the_plain_one_and_every_way_is_whole(make, form):
    """More ways for small pieces; none twice, none that leaves a join out."""
    layout = make.sheet(6, 8) if form == "sheet" else getattr(make, form)(48)
    work, grid = lay_out(make, layout)
    plain = list_patterns(grid, work.joins, NO_WINDOW, 10_000, rich=False)
    rich = list_patterns(grid, work.joins, NO_WINDOW, 10_000)
    assert set(plain) < set(rich)
    assert len(rich) == len(set(rich))
    for pattern in rich:
        passes = lay_out_passes(grid, pattern, work)
        assert sorted(order_of(passes).tolist()) == list(range(work.joins))
        assert len({in_english(item.stem) for item in passes}) == len(passes)


@pytest.mark.parametrize("form", ["chain", "pairs", "sheet"])
@pytest.mark.parametrize("alone", [[], [3], [0, 1, 2, 40]])
def test_a_sketch_is_the_order_and_the_lines_of_its_passes(make, form, alone):
    """On two faces, from places of the clip too, and with joins welded singly between."""
    layout = {"chain": make.chain(48), "pairs": make.pairs(24), "sheet": make.sheet(6, 8)}[form]
    work, grid = lay_out(make, layout, face=[k // 7 % 2 for k in range(48)])
    work = replace(work, clip=np.arange(48, dtype=np.int32) // 12, clip_ring=np.arange(4))
    patterns = list_patterns(grid, work.joins, NO_WINDOW, 10_000, clip_units=12)
    assert {p.by_clip for p in patterns} == {False, True}
    assert {bool(p.run) for p in patterns} == {False, True}
    sketches = sketch_patterns(grid, work, [(pattern, alone) for pattern in patterns])
    for pattern, order, lines in zip(patterns, sketches.orders, sketches.lines, strict=True):
        passes = lay_out_passes(grid, pattern, work, alone)
        assert order_of(passes).tolist() == order.tolist()
        assert count_lines(np.array([len(item.joins) for item in passes])) == lines


def test_strides_between_the_fingers_are_left_out(make):
    """A stride of 15 to 35 mm would put the join just welded between the fingers."""
    work, grid = lay_out(make, make.chain(100))
    for pattern in list_patterns(grid, work.joins, (15.0, 35.0), 500):
        assert pattern.stride == 1 or not 15.0 <= pattern.stride * grid.pitch_mm <= 35.0
    strides = {p.stride for p in list_patterns(grid, work.joins, (15.0, 35.0), 500)}
    assert {1, 2, 3, 8} <= strides
    assert not {4, 5, 6, 7} & strides


def test_passes_are_grouped_by_face_with_the_fewest_turns(make):
    """Turning the piece costs time: the back is welded in one go."""
    work, grid = lay_out(make, make.chain(24), face=[0, 1, 0] * 8)
    groups, seconds = group_sequence(work)
    assert len(groups) == 2
    assert seconds == work.turn_s
    for order in (
        order_of(lay_out_passes(grid, Pattern(stride=3), work)),
        end_to_end(grid, work),
        alternating_ends(grid, work),
        random_order(work, 4),
    ):
        assert np.count_nonzero(np.diff(work.face[order])) == 1


def test_starts_visit_every_residue_once():
    """A jump that shares no factor with the stride reaches every start."""
    for stride in range(1, 25):
        for pattern_jump in (1, 5):
            if np.gcd(stride, pattern_jump) == 1:
                assert sorted(starts_of(stride, pattern_jump)) == list(range(stride))


@pytest.mark.parametrize("count", [4, 5, 8, 9, 20, 31])
def test_plain_spreading_reaches_the_best_separation_of_a_path(make, count):
    """⌊n/2⌋ is the antibandwidth of a path (Leung et al. 1984, from memory)."""
    work, grid = lay_out(make, make.chain(count))
    patterns = list_patterns(grid, count, NO_WINDOW, 500)
    orders = [order_of(lay_out_passes(grid, pattern, work)) for pattern in patterns]
    links = [(i, i + 1) for i in range(count - 1)]
    assert max(separation(order, links) for order in orders) == count // 2


@pytest.mark.parametrize(("rows", "columns"), [(4, 4), (4, 8), (5, 8), (6, 6), (8, 12), (10, 30)])
def test_plain_spreading_comes_within_one_of_the_best_separation_of_a_mesh(make, rows, columns):
    """⌈n(m−1)/2⌉ with m ≥ n for a mesh (Raspaud et al. 2009, from memory)."""
    place = [(c * 5.0, r * 5.0) for r in range(rows) for c in range(columns)]
    links = [
        (r * columns + c, r * columns + c + 1) for r in range(rows) for c in range(columns - 1)
    ]
    links += [(k, k + columns) for k in range((rows - 1) * columns)]
    row = [r for r in range(rows) for _ in range(columns)]
    column = [c for _ in range(rows) for c in range(columns)]
    layout = make.layout(np.array(place), sorted(links), row, column, form="sheet")
    work, grid = lay_out(make, layout)
    patterns = list_patterns(grid, work.joins, NO_WINDOW, 500)
    orders = [order_of(lay_out_passes(grid, pattern, work)) for pattern in patterns]
    best = -(-min(rows, columns) * (max(rows, columns) - 1) // 2)
    found = max(separation(order, links) for order in orders)
    assert best - 1 <= found <= best


def test_units_welded_ahead_come_first_and_the_passes_end_beside_them(make):
    """Whichever end they are at: the other way, and every pass says where it ends."""
    work, grid = lay_out(make, make.chain(40))
    there = lay_out_passes(grid, Pattern(stride=2, home=6), work)
    assert [item.joins.tolist() for item in there[:2]] == [[38, 36, 34], [39, 37, 35]]
    assert [item.joins[-1] for item in there[2:]] == [32, 33]
    back = lay_out_passes(grid, Pattern(home=6, backward=True), work)
    assert order_of(back).tolist() == [*range(6), *range(39, 5, -1)]
    assert in_english(back[0].stem) == "every ring from ring 1, up to ring 6"
    assert in_english(back[1].stem) == "every ring from ring 40 back to ring 7"
    each = lay_out_passes(grid, Pattern(stride=2, home=6, home_each=True), work)
    assert [item.joins[0] for item in each] == [38, 0, 39, 1]
    sheet, columns = lay_out(make, make.sheet(4, 12))
    wide = lay_out_passes(columns, Pattern(family="columns", home=3), sheet)
    assert [in_english(item.stem) for item in wide] == [
        "columns 12, 11 and 10, from ring 48",
        "every column from column 1, up to column 9, from ring 1",
    ]


@pytest.mark.parametrize("form", ["chain", "pairs", "sheet"])
def test_patterns_that_weld_units_ahead_are_tried_where_fingers_hold(make, form):
    """None without fingers; all joins once, no two passes said alike."""
    layout = make.sheet(6, 12) if form == "sheet" else getattr(make, form)(48)
    work, grid = lay_out(make, layout)
    held = [p for p in list_patterns(grid, work.joins, (15.0, 35.0), 500) if p.home]
    assert held
    assert not [p for p in list_patterns(grid, work.joins, NO_WINDOW, 500) if p.home]
    for pattern in held:
        passes = lay_out_passes(grid, pattern, work)
        assert sorted(order_of(passes).tolist()) == list(range(work.joins))
        assert len({in_english(item.stem) for item in passes}) == len(passes), pattern
