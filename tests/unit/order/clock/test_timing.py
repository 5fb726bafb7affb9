"""Waits: only where a limit asks for one, whole seconds, and enough by an independent model."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.order.clock.field import before_k, build_field
from chainplan.order.clock.situation import take_stock
from chainplan.order.clock.timing import time_orders
from chainplan.order.pattern.plain import end_to_end, random_order
from chainplan.order.piece.work import lay_out_work


def stock(piece):
    return take_stock(*piece.three, **piece.kwargs, seed=0)


def test_time_without_limits_is_handling_and_travel(make):
    """Five seconds a join and 4.5 mm at 30 mm/s between them."""
    piece = make.piece(make.chain(10))
    work = lay_out_work(piece.layout, piece.joins, [make.setting()], piece.pace)
    timed = time_orders(work, [], np.arange(10))
    assert timed.bench_s[0] == pytest.approx(10 * 5.0 + 9 * 0.15)
    assert timed.start_s[0, 0] == 5.0
    assert not timed.wait_s.any()


def test_extra_hits_turns_and_changes_are_counted_once_each(make):
    """Two hits a join add two seconds each; one turn adds twenty."""
    piece = make.piece(make.chain(4), face=[0, 0, 1, 1])
    work = lay_out_work(piece.layout, piece.joins, [make.setting(hits=2)], piece.pace)
    timed = time_orders(work, [], np.arange(4))
    assert timed.bench_s[0] == pytest.approx(4 * (5.0 + 2.0) + 3 * 0.15 + 20.0)


def test_temperatures_before_the_welds_agree_with_the_exact_network(make):
    """The run followed weld by weld, and each weld's own decay added up by the tests' network."""
    piece = make.piece(make.sheet(5, 8))
    work = lay_out_work(piece.layout, piece.joins, [make.setting()], piece.pace)
    order = random_order(work, 3)
    start = np.cumsum(work.gaps_s(order))
    field = build_field(piece.heat, "high", work)
    exact = piece.heat.simulate("high", work.ring[order], start).before_c
    assert 21.0 + before_k(field, order, start) == pytest.approx(exact, abs=1e-6)


def test_waits_keep_every_ring_below_the_limit_and_are_whole_seconds(make):
    """The exact network, not the kernels, says whether the waits are enough."""
    piece = make.piece(make.pairs(20), limit_c=45.0)
    situation = stock(piece)
    settled = situation.settle(end_to_end(situation.grid, situation.work))
    run = piece.heat.simulate("high", situation.work.ring[settled.order], settled.start_s)
    assert run.before_c.max() <= 45.0 + 0.05
    assert settled.waiting_s > 100
    assert settled.wait_s == pytest.approx(np.round(settled.wait_s))


def test_a_wait_one_second_shorter_would_break_the_limit(make):
    """Waits are no longer than needed: shortening any by two seconds breaks the limit."""
    piece = make.piece(make.chain(8), limit_c=40.0)
    situation = stock(piece)
    settled = situation.settle(np.arange(8))
    for step in np.flatnonzero(settled.wait_s):
        start = settled.start_s.copy()
        start[step:] -= 2.0
        run = piece.heat.simulate("high", settled.order, start)
        assert run.before_c[step] > 40.0 - 0.2


def test_parts_stay_below_their_limit_by_waiting(make):
    """A spring next to ring 1: the exact network keeps it below its limit at all times."""
    piece = make.piece(make.chain(30), limit_c=200.0, parts=(("spring", 0, 60.0, 0.05),))
    situation = stock(piece)
    settled = situation.settle(np.arange(30))
    run = piece.heat.simulate("high", settled.order, settled.start_s)
    assert settled.feasible
    assert settled.waiting_s > 0
    assert run.peak_c[30] <= 60.0 + 0.05
    free = piece.heat.simulate(
        "high", settled.order, np.cumsum(situation.work.gaps_s(settled.order))
    )
    assert free.peak_c[30] > 60.0


def test_orders_timed_side_by_side_get_the_same_times_as_alone(make):
    """The batch is a matter of speed, never of result."""
    piece = make.piece(make.pairs(12), limit_c=50.0, parts=(("spring", 0, 60.0, 0.1),))
    situation = stock(piece)
    orders = np.asarray([random_order(situation.work, seed) for seed in range(6)])
    together = time_orders(situation.work, situation.caps(), orders)
    for row, order in enumerate(orders):
        alone = time_orders(situation.work, situation.caps(), order)
        assert together.start_s[row] == pytest.approx(alone.start_s[0])
