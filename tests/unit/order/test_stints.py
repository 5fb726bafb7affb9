"""An order cut into stints, and whether a copy may be put down between them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from chainplan.model.bench.groups import PaceSettings
from chainplan.model.order import BatchOrder
from chainplan.order import cut_order, find_order, verify_order, warm_pieces


@dataclass(frozen=True)
class Wanted:
    name: str
    quantity: int


@dataclass(frozen=True)
class Planned:
    piece: Wanted
    layout: object
    joins: object
    heat: object
    order: object
    limits: object


def planned(piece, name, quantity):
    order = find_order(*piece.three, **piece.kwargs)
    return Planned(
        piece=Wanted(name, quantity),
        layout=piece.layout,
        joins=piece.joins,
        heat=piece.heat,
        order=order,
        limits=piece.limits,
    )


@pytest.fixture(scope="module")
def tight(make):
    """A small dense piece whose order is mostly waiting."""
    return planned(make.piece(make.pairs(4), limit_c=35.0), "tight", 3)


def in_real_time(plan, stints, longer_s):
    """Every stint begins after its rest and some time more: one copy as a batch."""
    begin = np.cumsum([0.0, *stints.seconds[:-1]]) + np.cumsum(stints.rest_s)
    begin += longer_s * np.arange(len(begin))
    return BatchOrder(
        piece=(plan.piece.name,) * len(begin),
        copy=np.ones(len(begin), dtype=np.int32),
        first_step=stints.first_step,
        steps=stints.steps,
        start_s=begin,
        bench_time_s=float(begin[-1] + stints.seconds[-1]),
        one_after_another_s=plan.order.bench_time_s,
        interleaved=True,
    )


def times(plan, batch):
    """Start of every join in real time."""
    start = plan.order.start_s
    first = batch.first_step
    return start + np.repeat(batch.start_s - (start[first] - start[0]), batch.steps)


def test_stints_and_rests_are_the_whole_order(tight):
    stints = cut_order(tight.order, PaceSettings(change_piece_s=2.0))
    assert stints.first_step.size > 1
    assert stints.steps.sum() == tight.order.ring.size
    assert stints.first_step.tolist() == [0, *np.cumsum(stints.steps)[:-1].tolist()]
    total = stints.seconds.sum() + stints.rest_s.sum()
    assert total == pytest.approx(tight.order.bench_time_s)


@pytest.mark.parametrize("change_s", [1.0, 2.0, 10.0])
def test_stints_and_rests_are_worth_taking_a_piece_up_for(tight, change_s):
    stints = cut_order(tight.order, PaceSettings(change_piece_s=change_s))
    assert (stints.rest_s[1:] >= 2 * change_s).all()
    assert (stints.seconds[1:] >= 2 * change_s).all()


def test_an_order_may_be_left_in_one_go(tight):
    stints = cut_order(tight.order, PaceSettings(change_piece_s=2.0), whole=True)
    assert stints.steps.tolist() == [tight.order.ring.size]
    assert stints.seconds.tolist() == [pytest.approx(tight.order.bench_time_s)]


@pytest.mark.parametrize("longer_s", [0.0, 30.0, 600.0])
def test_real_times_that_pass_keep_the_limits(tight, longer_s):
    """What is not called warm: the exact network finds nothing too warm at the real times."""
    batch = in_real_time(tight, cut_order(tight.order, PaceSettings(change_piece_s=2.0)), longer_s)
    if not warm_pieces([tight], batch, PaceSettings(), tight.limits):
        run = tight.heat.simulate("high", tight.order.ring, times(tight, batch))
        assert run.before_c.max() <= 35.0 + 0.05
    else:
        assert longer_s > 0


def test_rests_cut_short_are_found_too_warm(tight):
    batch = in_real_time(tight, cut_order(tight.order, PaceSettings(change_piece_s=2.0)), 0.0)
    hurried = replace(batch, start_s=batch.start_s * 0.3)
    assert warm_pieces([tight], hurried, PaceSettings(), tight.limits) == {"tight"}


def test_the_fingers_find_cool_places_at_the_real_times(make):
    """With the fingers looked at: the verifier passes the real times that are not called warm."""
    piece = make.piece(make.pairs(9), limit_c=60.0, held=True)
    plan = planned(piece, "held", 2)
    batch = in_real_time(plan, cut_order(plan.order, replace(piece.pace, change_piece_s=3.0)), 20.0)
    assert batch.steps.size > 1
    assert warm_pieces([plan], batch, piece.pace, piece.limits) == frozenset()
    start = times(plan, batch)
    assert verify_order(*piece.three, plan.order.ring, start, **piece.kwargs) == ()


def test_a_piece_that_its_real_times_make_too_warm_to_hold_is_named(make):
    """Its own order allowed less at the fingers."""
    piece = make.piece(make.pairs(9), limit_c=60.0, held=True)
    plan = planned(piece, "held", 2)
    strict = tuple(
        replace(check, limit_c=22.0) if check.name == "fingers" else check
        for check in plan.order.limits
    )
    plan = replace(plan, order=replace(plan.order, limits=strict))
    batch = in_real_time(plan, cut_order(plan.order, replace(piece.pace, change_piece_s=3.0)), 20.0)
    assert warm_pieces([plan], batch, piece.pace, piece.limits) == {"held"}
    assert warm_pieces([plan], batch, piece.pace, None) == frozenset()
