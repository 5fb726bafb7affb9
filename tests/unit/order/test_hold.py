"""Fingers: where they can take the piece, and that the plan leaves them a cool place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.order.follow import grip_temperatures_c
from chainplan.order.grip import lay_out_grips
from chainplan.order.hold import lay_out_hold
from chainplan.order.plain import random_order
from chainplan.order.planner import find_order
from chainplan.order.situation import take_stock


def test_search_and_verifier_see_the_same_temperatures_at_the_fingers(make):
    """Two reckonings, one by modes and one by simulation, of the same patches."""
    piece = make.piece(make.pairs(30), held=True)
    situation = take_stock(*piece.three, **piece.kwargs, seed=0)
    order = random_order(situation.work, 1)
    start = np.cumsum(situation.work.gaps_s(order))
    ring = situation.work.ring[order]
    steps = np.arange(order.size, dtype=np.int32)
    mine = grip_temperatures_c(situation.modes, situation.work, order[None], start[None], steps)[0]
    grips = lay_out_grips(
        piece.layout, piece.joins, ring, start, pace=piece.pace, limits=piece.limits
    )
    other = grips.warmest_c(piece.heat, "high", ring, start)
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
    assert looked_at[0] == 2500
    assert 40 <= looked_at[1] < 3600


def test_fingers_always_find_a_place_below_their_limit(make):
    """The exact network confirms it at every step of an order settled with the fingers."""
    piece = make.piece(make.pairs(24), held=True)
    situation = take_stock(*piece.three, **piece.kwargs, seed=0)
    settled = situation.settle(random_order(situation.work, 2))
    ring = situation.work.ring[settled.order]
    grips = lay_out_grips(
        piece.layout, piece.joins, ring, settled.start_s, pace=piece.pace, limits=piece.limits
    )
    warm = grips.warmest_c(piece.heat, "high", ring, settled.start_s)
    assert warm.max() <= piece.limits.finger_limit_c + 0.1
    bare = situation.settle(settled.order, held=False)
    assert bare.bench_s < settled.bench_s


def test_nothing_is_held_when_tweezers_are_or_when_the_piece_is_too_short(make):
    """The finger limit applies to bare fingers, and to places that exist."""
    piece = make.piece(make.chain(3), held=True)
    situation = take_stock(*piece.three, **piece.kwargs, seed=0)
    assert situation.hold is None  # 9 mm long, held from 15 mm on
    long = make.piece(make.chain(40), held=False)
    assert take_stock(*long.three, **long.kwargs, seed=0).hold is None


def test_loose_joins_are_not_held_by_one_another(make):
    """Pendant rings and earring posts belong to something of their own."""
    layout = make.chain(20)
    loose = replace(layout, sections=(replace(layout.sections[0], form="loose"),))
    piece = make.piece(loose, held=True)
    situation = take_stock(*piece.three, **piece.kwargs, seed=0)
    assert situation.hold is None
    limits, work = piece.limits, situation.work
    assert lay_out_hold(loose, work, limits, 10.0) is None


def test_a_piece_that_is_never_held_has_no_trace_of_the_fingers(make):
    """Too short to be held: every temperature that is told is a number."""
    piece = make.piece(make.chain(3), held=True)
    order = find_order(*piece.three, **piece.kwargs, seed=0)
    assert "fingers" not in order.trace_c
    assert all(np.isfinite(trace).all() for trace in order.trace_c.values())
