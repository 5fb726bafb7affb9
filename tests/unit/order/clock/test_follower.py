"""Small pieces timed by their network's own modes: the same physics, the fingers included."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.order import find_order, verify_order
from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.follow import list_beginnings, time_by_modes
from chainplan.order.clock.protocol import settle
from chainplan.order.pattern.plain import end_to_end, random_order
from chainplan.order.piece.situation import take_stock


def stock(piece, **changes):
    return make_exact_clock(take_stock(*piece.three, **{**piece.kwargs, **changes}, seed=0))


def test_rise_by_modes_is_that_of_the_dense_network(make):
    """The tests' own network knows nothing of this code: equal to a billionth of a kelvin."""
    piece = make.piece(make.pairs(8), parts=(("spring", 3, 200.0, 0.1),))
    modes = stock(piece).follower
    order = np.random.default_rng(2).permutation(16).astype(np.int32)
    state = modes.cold(1)
    for join in order:
        state = modes.fade(state, np.asarray([4.0])) + modes.weld[join]
    got = modes.rise_k(modes.fade(state, np.asarray([7.0])))[0, 0]
    start = 4.0 * np.arange(1, 17)
    assert got == pytest.approx(piece.heat.rise("high", order, start, [start[-1] + 7.0])[0])


def test_waits_are_those_of_a_plain_forward_pass_over_the_dense_network(make):
    """The tests' own network, asked second by second; no state, no table, no batch."""
    piece = make.piece(make.pairs(12), limit_c=50.0)
    clock = stock(piece)
    work, limit_k = clock.situation.work, 50.0 - 21.0 - clock.margin_k
    for seed in range(3):
        order = random_order(work, seed)
        settled = settle(clock, order)
        start, gaps = np.zeros(0), work.gaps_s(order)
        for step, join in enumerate(order):
            at = gaps[step] + (start[-1] if step else 0.0)
            ring = work.ring[order[:step]]
            while piece.heat.rise("high", ring, start, [at])[0, work.ring[join]] > limit_k:
                at += 1.0
            start = np.append(start, at)
        assert settled.waiting_s > 100
        assert settled.start_s == pytest.approx(start)


def test_large_pieces_are_followed_in_single_precision_to_a_hundredth_of_a_kelvin(make):
    """Above some size the states are single: their rounding must stay far inside the margin."""
    piece = make.piece(make.chain(200), limit_c=45.0)
    clock = stock(piece)
    assert clock.follower.rate.dtype == np.float32
    settled = settle(clock, end_to_end(clock.situation.grid, clock.situation.work))
    run = piece.heat.simulate("high", clock.situation.work.ring[settled.order], settled.start_s)
    assert settled.waiting_s > 100
    assert run.before_c.max() <= 45.0 - clock.margin_k + 0.01


def test_orders_given_up_on_the_way_are_those_that_take_longer(make):
    """Giving up saves time only: what is kept is timed as before."""
    piece = make.piece(make.pairs(12), limit_c=50.0)
    clock = stock(piece)
    orders = np.asarray([random_order(clock.situation.work, seed) for seed in range(6)])
    full = time_by_modes(clock.follower, clock.situation.work, orders)
    most_s = float(np.median(full.bench_s))
    some = time_by_modes(clock.follower, clock.situation.work, orders, most_s=most_s)
    assert some.feasible.tolist() == (full.bench_s <= most_s).tolist()
    assert some.bench_s[some.feasible] == pytest.approx(full.bench_s[some.feasible])
    assert (some.bench_s[~some.feasible] > most_s).all()


def test_orders_by_modes_keep_every_limit_by_the_verifier(make):
    """Fingers, interpass and a spring at once, in any order of the joins."""
    piece = make.piece(make.pairs(12), limit_c=50.0, held=True, parts=(("spring", 0, 60.0, 0.1),))
    clock = stock(piece)
    for seed in range(4):
        settled = settle(clock, random_order(clock.situation.work, seed))
        ring = clock.situation.work.ring[settled.order]
        assert settled.feasible
        assert settled.held
        assert verify_order(*piece.three, ring, settled.start_s, **piece.kwargs) == ()


def test_waits_for_the_fingers_are_the_shortest_whole_ones(make):
    """One second less at any wait of the order breaks some limit there."""
    piece = make.piece(make.pairs(12), limit_c=300.0, held=True)
    clock = stock(piece)
    settled = settle(clock, end_to_end(clock.situation.grid, clock.situation.work))
    late = np.flatnonzero(settled.wait_s)
    assert late.size
    for step in late[:5].tolist():
        start = settled.start_s.copy()
        start[step:] -= 1.0
        found = verify_order(
            *piece.three, clock.situation.work.ring[settled.order], start, **piece.kwargs
        )
        assert step in {item.step for item in found}


def test_a_shared_beginning_gives_the_same_times_as_the_whole_order(make):
    """Moves of the search are timed from the first step that they change."""
    piece = make.piece(make.pairs(10), limit_c=50.0, held=True)
    clock = stock(piece)
    order = random_order(clock.situation.work, 1)
    begun = list_beginnings(clock.follower, clock.situation.work, order)
    whole = time_by_modes(clock.follower, clock.situation.work, order)
    for steps in (0, 7, 19):
        part = time_by_modes(clock.follower, clock.situation.work, order, begun[steps])
        assert part.start_s == pytest.approx(whole.start_s)


def test_one_order_alone_is_timed_as_among_others(make):
    """Side by side is a matter of speed, never of result."""
    piece = make.piece(make.sheet(4, 8), limit_c=50.0, held=True)
    clock = stock(piece)
    orders = np.asarray([random_order(clock.situation.work, seed) for seed in range(5)])
    for row, settled in enumerate(clock.settle_all(orders)):
        assert settled.start_s == pytest.approx(settle(clock, orders[row]).start_s)


def test_free_order_sees_the_fingers_and_is_never_slower_than_the_one_to_follow(make):
    """On a narrow piece held in the fingers freedom is worth something, and keeps every limit."""
    piece = make.piece(make.pairs(15), limit_c=60.0, held=True)
    order = find_order(*piece.three, **piece.kwargs)
    assert order.free_time_s < order.bench_time_s
    assert order.free_time_s >= order.lower_bound_s
