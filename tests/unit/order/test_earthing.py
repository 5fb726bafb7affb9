"""How the piece is earthed: which way the quickest plan takes, and what the others would cost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.model.bench.groups import LeadSettings
from chainplan.model.kinds import ReturnLead
from chainplan.model.order import ViolationKind
from chainplan.order import find_order, pace_start_s, verify_order
from chainplan.order.say.earthed import say_earthed


def plan(piece, **lead):
    """An order with a return lead."""
    return find_order(*piece.three, **piece.kwargs, lead=LeadSettings(**lead))


def verify(piece, order, lead, **changed):
    """What the verifier finds in it."""
    how = {"lead": lead, "way": order.earthing.way, "clip_ring": order.earthing.clip_ring}
    told = {"ring": order.ring, "start_s": order.start_s} | how | changed
    ring, start_s = told.pop("ring"), told.pop("start_s")
    return verify_order(*piece.three, ring, start_s, **piece.kwargs, **told)


def test_without_a_lead_the_order_says_nothing_of_it(make):
    """Who does not ask pays nothing."""
    order = find_order(*make.piece(make.chain(20)).three, **make.piece(make.chain(20)).kwargs)
    assert order.earthing is None
    assert not any("Return lead" in text for text in order.gained)


@pytest.mark.parametrize("way", list(ReturnLead))
@pytest.mark.parametrize("held", [False, True])
def test_every_way_keeps_all_limits_and_the_pace(make, way, held):
    """The verifier measures pace, reach and temperatures anew."""
    piece = make.piece(make.pairs(30), held=held, sides=1)
    lead = LeadSettings(return_lead=way)
    order = find_order(*piece.three, **piece.kwargs, lead=lead)
    assert order.earthing.way is way
    assert order.earthing.why == "set"
    assert verify(piece, order, lead) == ()
    assert order.lower_bound_s <= order.bench_time_s
    mine = order.earthing.times[0]
    assert (mine.way, mine.how) == (way, "planned")
    assert mine.bench_time_s == order.bench_time_s
    assert {item.way for item in order.earthing.times} == set(ReturnLead)


def test_the_quicker_of_clip_and_tweezers_is_taken(make):
    """Where moving the clip is slow tweezers win, where gripping is slow the clip does."""
    piece = make.piece(make.chain(60), limit_c=0.0)
    gripped = plan(piece, clip_move_s=60.0, tweezers_s=0.2)
    moved = plan(piece, clip_move_s=1.0, tweezers_s=5.0)
    assert gripped.earthing.way is ReturnLead.TWEEZERS
    assert moved.earthing.way is ReturnLead.CLIP
    assert gripped.earthing.why == moved.earthing.why == "quickest"
    for order in (gripped, moved):
        times = {item.way: item.bench_time_s for item in order.earthing.times}
        assert order.bench_time_s == times[order.earthing.way]
        assert order.bench_time_s <= min(times[ReturnLead.CLIP], times[ReturnLead.TWEEZERS])


def test_end_to_end_with_a_clip_is_one_pass_and_moves_it_along(make):
    """Nothing binds: every ring one after another, the clip moved as often as must be."""
    piece = make.piece(make.chain(60), limit_c=0.0)
    order = plan(piece, return_lead="clip")
    assert len(order.passes) == 1
    assert order.gains.is_end_to_end
    assert order.earthing.clip_moves == len(order.earthing.clip_places) - 1 == 4
    assert order.passes[0].clip_rings == tuple(ring + 1 for ring in order.earthing.clip_places)
    assert order.lower_bound_s == pytest.approx(order.bench_time_s)
    assert order.bound_parts["moving the clip"] == pytest.approx(40.0)


def test_loose_rings_are_gripped_one_by_one(make):
    """A clip could reach no other ring."""
    layout = make.chain(8)
    loose = replace(layout, sections=(replace(layout.sections[0], form="loose"),))
    order = plan(make.piece(loose))
    assert order.earthing.way is ReturnLead.TWEEZERS
    assert order.earthing.why == "loose"


def test_the_verifier_finds_a_clip_out_of_reach_and_moves_that_take_no_time(make):
    """A clip that stays where it began, and one that jumps in no time."""
    piece = make.piece(make.chain(60), limit_c=0.0)
    lead = LeadSettings(return_lead="clip")
    order = find_order(*piece.three, **piece.kwargs, lead=lead)
    stays = np.full(order.ring.shape, order.earthing.clip_ring[0])
    kinds = {item.kind for item in verify(piece, order, lead, clip_ring=stays)}
    assert kinds == {ViolationKind.OUT_OF_REACH}
    at_once = pace_start_s(piece.layout, piece.joins, order.ring, **pace_of(piece))
    found = verify(piece, order, lead, start_s=at_once)
    assert {item.kind for item in found} == {ViolationKind.TOO_SOON}
    assert len(found) == order.earthing.clip_moves
    slow = verify(piece, order, replace(lead, tweezers_s=3.0), way=ReturnLead.TWEEZERS)
    assert {item.kind for item in slow} == {ViolationKind.TOO_SOON}


def pace_of(piece):
    """What the pace of an order needs."""
    return {"settings": piece.kwargs["settings"], "pace": piece.pace}


def test_an_order_without_clip_places_is_charged_the_moves_it_forces(make):
    """From end to end four at least; to and fro between the ends one at every step."""
    piece = make.piece(make.chain(60), limit_c=0.0)
    lead = LeadSettings(clip_move_s=10.0)
    ends = np.arange(60)
    to_and_fro = np.ravel(np.column_stack([ends[:30], ends[::-1][:30]]))
    near = np.arange(30)  # those whose partner lies beyond twice the reach
    forced = 2 * np.count_nonzero(4.5 * (59 - 2 * near) > 60.0)
    for ring, moves in ((ends, 4), (to_and_fro, forced)):
        args = (piece.layout, piece.joins, ring)
        bare = pace_start_s(*args, **pace_of(piece))
        with_clip = pace_start_s(*args, **pace_of(piece), lead=lead, way=ReturnLead.CLIP)
        assert with_clip[-1] - bare[-1] == pytest.approx(10.0 * moves, abs=20.0)


def test_what_is_said_names_way_reason_moves_and_prices(make):
    """One sentence for the way, one for the others, a caution for the block."""
    order = plan(make.piece(make.chain(60), limit_c=0.0), return_lead="clip")
    said = order.earthing.said
    assert said.startswith("Return lead: a clip moved 4 times (your setting). The same piece takes")
    assert "earthed tweezers on each ring" in said
    assert said.endswith("rings that only lie on a block may spark where they touch it.")
    assert order.gained[-1] == said
    assert say_earthed("set", order.earthing.times[:1]).endswith("(your setting).")
