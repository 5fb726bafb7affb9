"""Rings that take seconds to even out: fingers feel them at their joins, in every reckoning."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.order import find_order, verify_order
from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.follow import grip_temperatures_c
from chainplan.order.clock.protocol import settle
from chainplan.order.clock.summing.summed import make_summed_clock
from chainplan.order.pattern.plain import random_order
from chainplan.order.piece.hold import lay_out_grips
from chainplan.order.piece.situation import take_stock
from chainplan.order.tuning import USUAL

SUMMED = replace(USUAL, clock=replace(USUAL.clock, most_exact_joins=0))


def slow_chain(make, spread_s=8.0, rings=30):
    """Rings of 15 K a weld (20 K at the bad end): cool enough to be held all over, but the join."""
    return make.piece(make.chain(rings), held=True, heat_j=0.5, spread_s=spread_s)


def at_fingers(piece, order, start, clock, times=1.0):
    """By the clock's modes, and by the tests' own network with its waves summed, so many times."""
    steps, work = np.arange(order.size, dtype=np.int32), clock.situation.work
    mine = grip_temperatures_c(clock.follower, work, order[None], start[None], steps)
    ring, pace, limits = work.ring[order], piece.pace, piece.limits
    grips = lay_out_grips(piece.layout, piece.joins, ring, start, pace=pace, limits=limits)

    def warm(node, at_s):
        mean = piece.heat.temperatures_c("high", ring, start, node, at_s)
        return mean + times * (piece.heat.touched_c("high", ring, start, node, at_s) - mean)

    return mine[0], grips.at_fingers_c(warm)


@pytest.mark.parametrize("seed", range(5))
def test_the_clock_is_never_below_the_waves_along_the_ring(make, seed):
    """It takes one wave with room for the others, which is 2.6 times too much at most, late."""
    piece = slow_chain(make)
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    order = random_order(clock.situation.work, seed)
    start = np.cumsum(clock.situation.work.gaps_s(order))
    mine, waves = at_fingers(piece, order, start, clock)
    held = np.isfinite(waves)
    assert (mine[held] >= waves[held] - 0.01).all()
    assert (mine[held] <= at_fingers(piece, order, start, clock, 2.6)[1][held] + 0.01).all()
    means = at_fingers(piece, order, start, clock, 0.0)[1]
    assert (waves[held] > means[held] + 5).any()


@pytest.mark.parametrize("make_clock", [make_exact_clock, make_summed_clock])
def test_both_clocks_wait_until_the_joins_have_evened_out(make, make_clock):
    """A random order takes longer than with rings of one temperature, and keeps the limit."""
    took = []
    for spread_s in (0.0, 8.0):
        piece = slow_chain(make, spread_s)
        clock = make_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
        order = random_order(clock.situation.work, 1)
        settled = settle(clock, order)
        assert settled.feasible
        ring = clock.situation.work.ring[order]
        assert verify_order(*piece.three, ring, settled.start_s, **piece.kwargs) == ()
        took.append(settled.bench_s)
    assert took[0] + 5 < took[1]
    even = slow_chain(make, 0.0)
    clock = make_clock(take_stock(*even.three, **even.kwargs, seed=0))
    start = settle(clock, random_order(clock.situation.work, 1)).start_s
    slow = slow_chain(make)
    found = verify_order(*slow.three, ring, start, **slow.kwargs)
    assert {item.kind for item in found} == {"fingers"}


@pytest.mark.parametrize("tuning", [USUAL, SUMMED])
@pytest.mark.parametrize("rings", [8, 30])
def test_a_plan_of_uneven_rings_keeps_its_limits_and_the_bound_stays_below_it(make, tuning, rings):
    piece = slow_chain(make, rings=rings)
    order = find_order(*piece.three, **piece.kwargs, tuning=tuning)
    assert order.status != "infeasible"
    assert verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs) == ()
    assert order.lower_bound_s <= order.bench_time_s + 1e-6
    even = slow_chain(make, 0.0, rings=rings)
    assert (
        order.lower_bound_s
        <= find_order(*even.three, **even.kwargs, tuning=tuning).bench_time_s + 1e-6
    )
