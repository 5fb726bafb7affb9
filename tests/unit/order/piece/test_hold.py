"""Fingers: where they can take the piece, and that the plan leaves them a cool place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.order import find_order
from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.follow import grip_temperatures_c
from chainplan.order.clock.protocol import settle
from chainplan.order.pattern.plain import random_order
from chainplan.order.piece.hold import lay_out_grips
from chainplan.order.piece.patches import cut_patches, find_reach
from chainplan.order.piece.situation import take_stock
from chainplan.order.tuning import USUAL


def simulated(piece, ring, start_s):
    """Temperatures by the tests' own dense network, in the bad corner."""

    def warm(node, at_s):
        return piece.heat.temperatures_c("high", ring, start_s, node, at_s)

    return warm


def test_search_and_verifier_see_the_same_temperatures_at_the_fingers(make):
    """Two reckonings, one by modes and one by simulation, of the same patches."""
    piece = make.piece(make.pairs(30), held=True)
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    order = random_order(clock.situation.work, 1)
    start = np.cumsum(clock.situation.work.gaps_s(order))
    ring = clock.situation.work.ring[order]
    steps = np.arange(order.size, dtype=np.int32)
    work = clock.situation.work
    mine = grip_temperatures_c(clock.follower, work, order[None], start[None], steps)[0]
    grips = lay_out_grips(
        piece.layout, piece.joins, ring, start, pace=piece.pace, limits=piece.limits
    )
    other = grips.at_fingers_c(simulated(piece, ring, start))
    assert np.isfinite(mine).tolist() == np.isfinite(other).tolist()
    held = np.isfinite(mine)
    assert mine[held] == pytest.approx(other[held], abs=0.01)


def test_long_pieces_are_looked_at_in_as_many_steps_as_their_reach_allows(make):
    """Few rings within reach: all steps of a chain; fewer of a sheet; as few as wanted."""
    narrow = make.piece(make.chain(2500), held=True)
    wide = make.piece(make.sheet(60, 60), held=True)
    looked_at = []
    for piece in (narrow, wide):
        ring = piece.joins.in_place
        start = 5.0 * np.arange(1, ring.size + 1)
        kwargs = {"pace": piece.pace, "limits": piece.limits}
        grips = lay_out_grips(piece.layout, piece.joins, ring, start, **kwargs)
        looked_at.append(grips.steps.size)
        assert grips.steps[[0, -1]].tolist() == [0, ring.size - 1]
        few = lay_out_grips(piece.layout, piece.joins, ring, start, **kwargs, most_steps=20)
        assert few.steps.size == 20
        assert few.moment_s.shape == (2, 20)
    assert looked_at == [2500, 3600]


def test_only_wide_large_pieces_are_looked_at_in_some_steps(make):
    """The same budget of rings for both: a chain has one of its own, and all its steps are seen."""
    tuning = replace(USUAL.proof, all_steps_rings=0, looked_at=500)
    seen = []
    for layout in (make.chain(300), make.sheet(20, 20)):
        piece = make.piece(layout, held=True)
        ring = piece.joins.in_place
        start = 5.0 * np.arange(1, ring.size + 1)
        kwargs = {"pace": piece.pace, "limits": piece.limits, "tuning": tuning}
        grips = lay_out_grips(piece.layout, piece.joins, ring, start, **kwargs)
        seen.append(grips.steps.size / ring.size)
    assert seen[0] == 1.0
    assert seen[1] < 0.8


def test_rings_asked_in_portions_are_as_warm_as_all_at_once(make, monkeypatch):
    """Ten million temperatures do not fit into memory together; portions end with a patch."""
    piece = make.piece(make.pairs(40), held=True)
    work = take_stock(*piece.three, **piece.kwargs, seed=0).work
    order = random_order(work, 3)
    start, ring = np.cumsum(work.gaps_s(order)), work.ring[order]
    grips = lay_out_grips(
        piece.layout, piece.joins, ring, start, pace=piece.pace, limits=piece.limits
    )
    warm = simulated(piece, ring, start)
    whole = grips.at_fingers_c(warm)
    asked = []

    def counted(node, at_s):
        asked.append(node.size)
        return warm(node, at_s)

    monkeypatch.setattr("chainplan.order.piece.hold.RINGS_AT_ONCE", 70)
    assert (grips.at_fingers_c(counted) == whole).all()
    assert len(asked) > 10
    assert sum(asked) == 2 * grips.node.size


@pytest.mark.parametrize("sides", [1, 2])
def test_of_a_large_piece_a_likely_place_is_tried_first_and_all_where_it_is_too_warm(make, sides):
    """Never cooler than the coolest place, the same where it is too warm, and at most enough."""
    piece = make.piece(make.pairs(40), held=True, sides=sides)
    situation = take_stock(*piece.three, **piece.kwargs, seed=0)
    order = random_order(situation.work, 3)
    start = np.cumsum(situation.work.gaps_s(order))
    ring = situation.work.ring[order]
    kwargs = {"pace": piece.pace, "limits": piece.limits}
    exact = lay_out_grips(piece.layout, piece.joins, ring, start, **kwargs)
    as_large = replace(USUAL.proof, all_steps_rings=0)
    quick = lay_out_grips(piece.layout, piece.joins, ring, start, **kwargs, tuning=as_large)
    assert quick.node.size < exact.node.size
    warm = simulated(piece, ring, start)
    coolest = exact.at_fingers_c(warm)
    for enough in (-np.inf, 40.0, 60.0, 80.0, np.inf):
        told = quick.at_fingers_c(warm, enough)
        assert np.isfinite(told).tolist() == np.isfinite(coolest).tolist()
        assert (told >= coolest - 1e-9).all()
        over = coolest > enough
        assert told[over] == pytest.approx(coolest[over])
        assert (told[~over] <= max(enough, coolest[~over].max(initial=-np.inf))).all()
    likely = quick.at_fingers_c(warm, np.inf)
    held = np.isfinite(coolest)
    assert np.median(likely[held] - coolest[held]) < 5.0


def test_fingers_always_find_a_place_below_their_limit(make):
    """The exact network confirms it at every step of an order settled with the fingers."""
    piece = make.piece(make.pairs(24), held=True)
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    settled = settle(clock, random_order(clock.situation.work, 2))
    ring = clock.situation.work.ring[settled.order]
    grips = lay_out_grips(
        piece.layout, piece.joins, ring, settled.start_s, pace=piece.pace, limits=piece.limits
    )
    warm = grips.at_fingers_c(simulated(piece, ring, settled.start_s))
    assert warm.max() <= piece.limits.finger_limit_c + 0.1
    bare = settle(clock, settled.order, held=False)
    assert bare.bench_s < settled.bench_s


def test_nothing_is_held_when_tweezers_are_or_when_the_piece_is_too_short(make):
    """The finger limit applies to bare fingers, and to places that exist."""
    piece = make.piece(make.chain(3), held=True)
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    assert clock.hold is None  # 9 mm long, held from 15 mm on
    long = make.piece(make.chain(40), held=False)
    assert not take_stock(*long.three, **long.kwargs, seed=0).held


def test_near_an_end_tweezers_hold_it_where_one_side_is_held(make):
    """A join that has the piece on one side only is no matter of fingers, unless they must do."""
    piece = make.piece(make.chain(40), held=True, sides=1)
    ring = np.arange(40, dtype=np.int32)
    place = piece.joins.point_mm[:, :2]

    def held(limits):
        patches = cut_patches(piece.layout, limits, piece.pace)
        return set(find_reach(patches, place, ring, limits).row.tolist())

    middle = held(piece.limits)
    assert not {0, 39} & middle
    assert middle == set(range(min(middle), max(middle) + 1))
    tip = piece.pace.fingertip_mm
    from_end = place[min(middle), 0] - place[0, 0]
    assert piece.limits.hold_from_mm - tip <= from_end <= piece.limits.hold_from_mm + tip
    assert held(replace(piece.limits, end_tweezers=False)) == set(range(40))
    assert held(replace(piece.limits, sides_held=2)) == set(range(40))


def test_loose_joins_are_not_held_by_one_another(make):
    """Pendant rings and earring posts belong to something of their own."""
    layout = make.chain(20)
    loose = replace(layout, sections=(replace(layout.sections[0], form="loose"),))
    piece = make.piece(loose, held=True)
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    assert clock.hold is None
    assert cut_patches(loose, piece.limits, piece.pace) is None


def test_patches_in_reach_are_those_of_a_plain_look_at_every_ring(make):
    """Rings sorted into squares one by one, and the middle of each square measured."""
    piece = make.piece(make.sheet(8, 12), held=True)
    limits, tip = piece.limits, piece.pace.fingertip_mm
    patches = cut_patches(piece.layout, limits, piece.pace)
    place, ring = piece.joins.point_mm[:, :2], piece.joins.in_place
    found = find_reach(patches, place, ring, limits)
    mine = set()
    for row, side, patch in zip(found.row, found.side, found.patch, strict=True):
        rings = patches.ring[patches.first[patch] :][: patches.size[patch]]
        mine |= {(int(row), int(side), int(held)) for held in rings}
    low, other = piece.layout.centre_mm[:, :2].min(axis=0), set()
    for join in ring.tolist():
        for held, here in enumerate(piece.layout.centre_mm[:, :2]):
            away = (np.floor((here - low) / tip) + 0.5) * tip + low - place[join]
            near = limits.hold_from_mm <= abs(away[0]) <= limits.hold_to_mm
            if near and abs(away[1]) <= limits.hold_to_mm:
                other.add((join, int(away[0] > 0), held))
    assert len(mine) > 1000
    assert mine == other


def test_a_piece_that_is_never_held_has_no_trace_of_the_fingers(make):
    """Too short to be held: every temperature that is told is a number."""
    piece = make.piece(make.chain(3), held=True)
    order = find_order(*piece.three, **piece.kwargs, seed=0)
    assert "fingers" not in order.trace_c
    assert all(np.isfinite(trace).all() for trace in order.trace_c.values())
