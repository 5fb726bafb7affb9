"""A batch: one piece cools while another is welded, if wanted, worth it and within limits."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from chainplan.model.bench.pace import PaceSettings
from chainplan.order import find_order, order_batch, verify_order


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


def planned(piece, name, quantity):
    order = find_order(*piece.three, **piece.kwargs)
    return Planned(
        piece=Wanted(name, quantity),
        layout=piece.layout,
        joins=piece.joins,
        heat=piece.heat,
        order=order,
    )


@pytest.fixture(scope="module")
def tight(make):
    """A small dense piece whose order is mostly waiting."""
    return planned(make.piece(make.pairs(4), limit_c=35.0), "tight", 3)


def test_pieces_are_interleaved_while_one_cools(tight):
    """Three copies with long waits: the waits are spent on the other copies."""
    batch = order_batch([tight], PaceSettings())
    assert batch.interleaved
    assert batch.bench_time_s < batch.one_after_another_s - 60
    assert "saves" in batch.note


def test_every_step_of_every_copy_is_done_once_and_in_order(tight):
    """Stints cover each copy's order from first step to last."""
    batch = order_batch([tight], PaceSettings())
    for copy in (1, 2, 3):
        mine = batch.copy == copy
        ends = batch.first_step[mine] + batch.steps[mine]
        assert batch.first_step[mine].tolist() == [0, *ends[:-1].tolist()]
        assert ends[-1] == tight.order.ring.size


def test_the_hand_is_at_one_piece_at_a_time(tight):
    """Stints follow one another with the time to change pieces between them."""
    batch = order_batch([tight], PaceSettings())
    starts, waits = tight.order.start_s, tight.order.wait_s
    for k in range(len(batch.start_s) - 1):
        first, last = batch.first_step[k], batch.first_step[k] + batch.steps[k] - 1
        work = starts[last] - starts[first] + (0.0 if first else starts[0])
        change = 20.0 if batch.copy[k + 1] != batch.copy[k] else 0.0
        assert batch.start_s[k + 1] >= batch.start_s[k] + work + change - 5.01
    assert waits.sum() > 0


def test_real_times_keep_the_limits_of_every_copy(tight):
    """Longer rests are simulated again: the exact network finds nothing too warm."""
    batch = order_batch([tight], PaceSettings())
    order = tight.order
    for copy in (1, 2, 3):
        mine = np.flatnonzero(batch.copy == copy)
        start = order.start_s.copy()
        for k in mine:
            first, count = batch.first_step[k], batch.steps[k]
            lead = order.start_s[0]
            start[first : first + count] += batch.start_s[k] + lead - start[first]
        run = tight.heat.simulate("high", order.ring, start)
        assert run.before_c.max() <= 35.0 + 0.05


def test_one_piece_after_another_if_the_bench_asks_for_it(tight):
    """Interleaving is the user's choice."""
    batch = order_batch([tight], PaceSettings(interleave=False))
    assert not batch.interleaved
    assert batch.bench_time_s == pytest.approx(3 * tight.order.bench_time_s + 2 * 20.0)
    assert batch.bench_time_s == pytest.approx(batch.one_after_another_s)
    assert batch.copy.tolist() == [1, 2, 3]


def test_nothing_is_interleaved_when_no_wait_is_worth_it(make, tight):
    """A piece without waits stays in one go."""
    calm = planned(make.piece(make.chain(12), limit_c=150.0), "calm", 2)
    batch = order_batch([calm], PaceSettings())
    assert not batch.interleaved
    both = order_batch([calm, replace(tight, piece=Wanted("tight", 1))], PaceSettings())
    assert both.interleaved
    assert both.bench_time_s < both.one_after_another_s


def test_the_fingers_find_cool_places_at_the_real_times(make):
    """Interleaved with the fingers looked at: the verifier passes every copy's real times."""
    piece = make.piece(make.pairs(9), limit_c=60.0, held=True)
    plan = planned(piece, "held", 2)
    batch = order_batch([plan], piece.pace, piece.limits)
    assert batch.interleaved
    for copy in (1, 2):
        start = plan.order.start_s.copy()
        for k in np.flatnonzero(batch.copy == copy):
            first, count = batch.first_step[k], batch.steps[k]
            shift = batch.start_s[k] + plan.order.start_s[0] - plan.order.start_s[first]
            start[first : first + count] = plan.order.start_s[first : first + count] + shift
        assert verify_order(*piece.three, plan.order.ring, start, **piece.kwargs) == ()


def test_a_piece_that_its_real_times_make_too_warm_to_hold_is_not_interleaved(make):
    """Its own order allowed less at the fingers: then it is welded in one go."""
    piece = make.piece(make.pairs(9), limit_c=60.0, held=True)
    plan = planned(piece, "held", 2)
    strict = tuple(
        replace(check, limit_c=22.0) if check.name == "fingers" else check
        for check in plan.order.limits
    )
    plan = replace(plan, order=replace(plan.order, limits=strict))
    assert not order_batch([plan], piece.pace, piece.limits).interleaved
    assert order_batch([plan], piece.pace).interleaved


def test_an_empty_batch_takes_no_time():
    """No pieces, no stints."""
    batch = order_batch([], PaceSettings())
    assert batch.bench_time_s == 0.0
    assert batch.piece == ()
