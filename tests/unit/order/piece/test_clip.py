"""Places of the return lead's clip: all joins within reach, no more places than needed."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import networkx
import numpy as np
import pytest

from chainplan.model.bench.groups import LeadSettings
from chainplan.model.job import Piece, Section
from chainplan.model.kinds import ReturnLead
from chainplan.order.piece.clip import least_by_prices, least_places, place_clip
from chainplan.order.piece.contacts import Contacts
from chainplan.order.piece.situation import take_stock
from chainplan.order.proof.earthed import out_of_reach
from chainplan.weave import lay_piece


def clipped(piece, reach_mm=30.0, move_s=10.0, contacts=0):
    """The piece with a clip."""
    lead = LeadSettings(clip_reach_mm=reach_mm, clip_move_s=move_s, clip_reach_contacts=contacts)
    return take_stock(*piece.three, **piece.kwargs, seed=0, lead=lead, way=ReturnLead.CLIP)


@pytest.mark.parametrize("reach_mm", [6.0, 11.0, 30.0, 1000.0])
@pytest.mark.parametrize("name", ["chain", "pairs", "sheet", "one"])
def test_every_join_lies_within_reach_of_its_place(make, name, reach_mm):
    """Measured join by join, whatever the piece and the reach."""
    layout = {
        "chain": make.chain(61),
        "pairs": make.pairs(40),
        "sheet": make.sheet(9, 14),
        "one": make.chain(1),
    }[name]
    work = clipped(make.piece(layout), reach_mm).work
    every = np.arange(work.joins, dtype=np.int32)
    away = work.place_mm - layout.centre_mm[work.clip_rings(every), :2]
    assert np.hypot(away[:, 0], away[:, 1]).max() <= reach_mm + 1e-9
    assert set(work.clip.tolist()) == set(range(work.clip_ring.size))
    assert work.least_places <= work.clip_ring.size


@pytest.mark.parametrize("contacts", [1, 2, 5])
@pytest.mark.parametrize("name", ["chain", "pairs", "sheet"])
def test_the_current_crosses_no_more_contacts_than_asked_for(make, name, contacts):
    """Counted along the links by another library, join by join; the verifier agrees."""
    layout = {"chain": make.chain(61), "pairs": make.pairs(40), "sheet": make.sheet(9, 14)}[name]
    piece = make.piece(layout)
    work = clipped(piece, 1000.0, contacts=contacts).work
    every = np.arange(work.joins, dtype=np.int32)
    clip, graph = work.clip_rings(every), networkx.Graph(layout.links.tolist())
    crossed = [
        networkx.shortest_path_length(graph, int(one), int(other))
        for one, other in zip(clip, work.ring, strict=True)
    ]
    assert max(crossed) <= contacts
    assert work.least_places <= work.clip_ring.size
    if name == "chain":  # rings to either side and the clip's own
        assert np.bincount(work.clip).max() == 2 * contacts + 1
    lead = LeadSettings(clip_reach_mm=1000.0, clip_reach_contacts=contacts)
    args = (layout, piece.joins, work.ring, np.arange(work.joins, dtype=float))
    assert out_of_reach(*args, clip, lead) == []
    for fewer in range(1, max(crossed)):
        tighter = LeadSettings(clip_reach_mm=1000.0, clip_reach_contacts=fewer)
        beyond = {k for k, many in enumerate(crossed) if many > fewer}
        assert {item.step for item in out_of_reach(*args, clip, tighter)} == beyond


def test_a_straight_chain_needs_as_many_places_as_are_proved(make):
    """Rings 4.5 mm apart: a clip reaches six to either side, thirteen in all."""
    work = clipped(make.piece(make.chain(61)), 28.0).work
    assert work.clip_ring.size == 5
    assert work.least_places == 5
    counts = np.bincount(work.clip)
    assert counts.max() <= 13
    evened = clipped(make.piece(make.chain(60)), 28.0).work
    assert np.bincount(evened.clip).tolist() == [12] * 5


def test_prices_prove_places_that_stretches_along_one_axis_do_not(make):
    """Four rings at the corners of a square of 50 mm, each out of reach of the others."""
    place = np.array([[0.0, 0.0], [50.0, 0.0], [0.0, 50.0], [50.0, 50.0]])
    piece = make.piece(make.layout(place, [(0, 1)], [0, 0, 1, 1], [0, 1, 0, 1], form="sheet"))
    work = clipped(piece).work
    near = Contacts.of(piece.layout, LeadSettings(clip_reach_mm=30.0))
    assert least_places(piece.layout, work, 30.0) == 1
    assert least_by_prices(piece.layout, work, near) == 4
    assert work.least_places == work.clip_ring.size == 4


@pytest.mark.parametrize("seed", range(8))
def test_no_choice_of_places_is_smaller_than_prices_prove(make, seed):
    """All choices of up to three rings gone through, on rings strewn at random."""
    rng = np.random.default_rng(seed)
    place = rng.uniform(0.0, 90.0, (9, 2))
    piece = make.piece(make.layout(place, [(0, 1)], [0] * 9, list(range(9)), form="sheet"))
    near = Contacts.of(piece.layout, LeadSettings(clip_reach_mm=30.0))
    proved = least_by_prices(piece.layout, clipped(piece).work, near)
    within = np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1)) <= 30.0
    for count in range(1, 4):
        chosen = [within[list(some)].any(axis=0).all() for some in combinations(range(9), count)]
        if any(chosen):
            assert proved <= count
            break
    else:
        assert proved <= 9


def test_a_sheet_is_cut_into_cells_of_rows_and_columns(make):
    """Each place has whole stretches of rows and columns, so that they can be said."""
    piece = make.piece(make.sheet(20, 20))
    situation = clipped(piece, 30.0)
    work, grid = situation.work, situation.grid
    assert work.clip_ring.size > 4
    for place in range(work.clip_ring.size):
        mine = work.clip == place
        rows, columns = np.unique(grid.row[mine]), np.unique(grid.column[mine])
        assert rows.size * columns.size == mine.sum()
        assert np.ptp(rows) == rows.size - 1
        assert np.ptp(columns) == columns.size - 1


def test_rows_with_twice_as_many_rings_do_not_part_a_sheet_into_more_places(make):
    """Connecting rings are counted along their own rows: their 14th lies half way, 50 mm off."""
    section = Section(
        weave="japanese-12-in-2", metal="sterling-silver", wire_mm=1.0, inner_mm=4.9, rings=150,
        rows=7,
    )  # fmt: skip
    layout = lay_piece(Piece(name="sheet", quantity=1, sections=(section,)))
    situation = clipped(make.piece(layout))
    work = situation.work
    assert np.ptp(work.place_mm[:, 0]) > 60.0
    assert work.least_places == work.clip_ring.size == 2
    assert sorted(set(situation.grid.spans.tolist())) == [1, 2]


def test_neighbours_out_of_reach_each_get_the_clip_on_themselves(make):
    """A reach below the pitch: as many places as rings, each on its own ring."""
    for layout in (make.chain(7), make.sheet(3, 4)):
        work = clipped(make.piece(layout), 2.0).work
        every = np.arange(work.joins, dtype=np.int32)
        assert work.clip_rings(every).tolist() == work.ring.tolist()


@pytest.mark.parametrize("contacts", [0, 1])
def test_joins_beyond_any_reach_get_a_place_each(make, contacts):
    """A clip that reaches no join from any ring's middle: nearest ring, or the join's own."""
    layout = make.sheet(3, 4)
    piece = make.piece(layout)
    lead = LeadSettings(clip_reach_mm=1e-6, clip_reach_contacts=contacts)
    grid, work = clipped(piece).grid, clipped(piece).work
    aside = replace(work, place_mm=work.place_mm + 0.5)
    found = place_clip(layout, grid, aside, lead)
    assert found.clip.tolist() == list(range(work.joins))
    assert found.clip_rings(np.arange(work.joins, dtype=np.int32)).tolist() == work.ring.tolist()


def test_loose_rings_need_the_clip_on_each(make):
    """No current flows between rings that hang in no weave."""
    layout = make.chain(6)
    loose = replace(layout, sections=(replace(layout.sections[0], form="loose"),))
    work = clipped(make.piece(loose)).work
    assert work.clip_rings(np.arange(6, dtype=np.int32)).tolist() == work.ring.tolist()
    assert work.least_places == 6


def test_moving_the_clip_costs_its_seconds_between_places_only(make):
    """The hand's way is as without a clip, and each change of place costs a move."""
    piece = make.piece(make.chain(30))
    with_clip = clipped(piece, 30.0, 12.0).work
    without = take_stock(*piece.three, **piece.kwargs, seed=0).work
    order = np.random.default_rng(4).permutation(30).astype(np.int32)
    moves = int(np.count_nonzero(np.diff(with_clip.clip[order])))
    assert with_clip.clip_moves(order) == moves > 5
    more = with_clip.gaps_s(order).sum() - without.gaps_s(order).sum()
    assert more == pytest.approx(12.0 * moves)
    assert without.clip_rings(order) is None
