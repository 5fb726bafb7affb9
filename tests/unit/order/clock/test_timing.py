"""Waits: only where a limit asks for one, whole seconds, and enough by an independent model."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.field import before_k, build_field
from chainplan.order.clock.protocol import settle
from chainplan.order.pattern.plain import end_to_end, random_order
from chainplan.order.piece.situation import take_stock
from chainplan.order.piece.work import lay_out_work


def stock(piece):
    return make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))


def test_time_without_limits_is_handling_and_travel(make):
    """Five seconds a join and 4.5 mm at 30 mm/s between them."""
    piece = make.piece(make.chain(10), limit_c=500.0)
    settled = settle(stock(piece), np.arange(10))
    assert settled.bench_s == pytest.approx(10 * 5.0 + 9 * 0.15)
    assert settled.start_s[0] == 5.0
    assert not settled.wait_s.any()


def test_extra_hits_turns_and_changes_are_counted_once_each(make):
    """Two hits a join add two seconds each; one turn adds twenty."""
    piece = make.piece(make.chain(4), face=[0, 0, 1, 1])
    work = lay_out_work(piece.layout, piece.joins, [make.setting(hits=2)], piece.pace)
    order = np.arange(4)
    bench_s = work.bench_s(order, np.cumsum(work.gaps_s(order)))
    assert bench_s == pytest.approx(4 * (5.0 + 2.0) + 3 * 0.15 + 20.0)


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
    clock = stock(piece)
    settled = settle(clock, end_to_end(clock.situation.grid, clock.situation.work))
    run = piece.heat.simulate("high", clock.situation.work.ring[settled.order], settled.start_s)
    assert run.before_c.max() <= 45.0 + 0.05
    assert settled.waiting_s > 100
    assert settled.wait_s == pytest.approx(np.round(settled.wait_s))


def test_a_wait_one_second_shorter_would_break_the_limit(make):
    """Waits are no longer than needed: shortening any by two seconds breaks the limit."""
    piece = make.piece(make.chain(8), limit_c=40.0)
    clock = stock(piece)
    settled = settle(clock, np.arange(8))
    for step in np.flatnonzero(settled.wait_s):
        start = settled.start_s.copy()
        start[step:] -= 2.0
        run = piece.heat.simulate("high", settled.order, start)
        assert run.before_c[step] > 40.0 - 0.2


def test_parts_stay_below_their_limit_by_waiting(make):
    """A spring next to ring 1: the exact network keeps it below its limit at all times."""
    piece = make.piece(make.chain(30), limit_c=200.0, parts=(("spring", 0, 60.0, 0.05),))
    clock = stock(piece)
    settled = settle(clock, np.arange(30))
    run = piece.heat.simulate("high", settled.order, settled.start_s)
    assert settled.feasible
    assert settled.waiting_s > 0
    assert run.peak_c[30] <= 60.0 + 0.05
    free = piece.heat.simulate(
        "high", settled.order, np.cumsum(clock.situation.work.gaps_s(settled.order))
    )
    assert free.peak_c[30] > 60.0


def test_orders_timed_side_by_side_get_the_same_times_as_alone(make):
    """The batch is a matter of speed, never of result."""
    piece = make.piece(make.pairs(12), limit_c=50.0, parts=(("spring", 0, 60.0, 0.1),))
    clock = stock(piece)
    orders = np.asarray([random_order(clock.situation.work, seed) for seed in range(6)])
    together = clock.settle_all(orders)
    for row, order in enumerate(orders):
        assert together[row].start_s == pytest.approx(settle(clock, order).start_s)
