"""The lower bound, part by part, on cases that can be reckoned by hand."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.protocol import settle
from chainplan.order.piece.situation import take_stock
from chainplan.order.piece.work import lay_out_work
from chainplan.order.proof.bound import bound_bench_time, nearest_two_s, shortest_tree_s


def work_of(make, layout, **changes):
    piece = make.piece(layout, **changes)
    return lay_out_work(piece.layout, piece.joins, [make.setting()], piece.pace)


def test_bound_of_a_straight_chain_is_met_by_end_to_end(make):
    """Handling and one way along the chain: the bound is exact."""
    work = work_of(make, make.chain(40))
    parts = bound_bench_time(work, [])
    assert parts == pytest.approx(
        {"handling": 200.0, "turning and changing": 0.0, "moving": 39 * 0.15, "cooling": 0.0}
    )


def test_turns_are_counted_once_for_each_further_face(make):
    """Two faces, one turn of twenty seconds; moving is what the tree has besides."""
    work = work_of(make, make.chain(20), face=[0, 1] * 10)
    parts = bound_bench_time(work, [])
    assert parts["turning and changing"] == 20.0
    assert parts["moving"] == pytest.approx(18 * 0.3 + 0.15)


def test_two_nearest_never_exceed_the_shortest_path(make):
    """The bound for very large pieces, on a line where the shortest path is known."""
    work = work_of(make, make.chain(50))
    assert 0.9 * 49 * 0.15 <= nearest_two_s(work) <= 49 * 0.15 + 1e-9


def test_shortest_tree_agrees_with_scipy(make):
    """An independent implementation of the same tree."""
    from scipy.sparse.csgraph import minimum_spanning_tree

    work = work_of(make, make.sheet(5, 7))
    every = np.arange(work.joins)
    full = work.step_s(every[:, None], every[None, :])
    assert shortest_tree_s(work) == pytest.approx(minimum_spanning_tree(full).sum())


def test_last_weld_bound_of_two_rings_is_the_time_to_cool(make):
    """Two linked rings: whichever is last waits until its neighbour's heat has left it.

    The rise of the second ring is (q/2C)·(e^{−ht} − e^{−(h+2g/C)t}) in closed form.
    """
    piece = make.piece(make.chain(2), limit_c=40.0)
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    parts = bound_bench_time(clock.situation.work, clock.caps())
    network = piece.heat.networks["high"]
    loss = network.loss_w_k[0] / 0.0344
    times = np.arange(1, 400, 0.01)
    half = network.join_heat_j[0] / 0.0344 / 2
    rise = half * (np.exp(-loss * times) - np.exp(-(loss + 2e-3 / 0.0344) * times))
    hot = times[rise > 19.0]
    assert sum(parts.values()) - 5.0 == pytest.approx(hot.max(), abs=1.5)
    assert settle(clock, np.arange(2)).bench_s >= sum(parts.values())


def test_parts_bound_makes_a_tight_part_need_time(make):
    """A spring that one weld brings close to its limit: the bound rises well above handling."""
    piece = make.piece(make.chain(4), limit_c=500.0, parts=(("spring", 1, 55.5, 0.05),))
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    parts = bound_bench_time(clock.situation.work, clock.caps())
    assert parts["cooling"] > 30
    for order in permutations(range(4)):
        settled = settle(clock, np.asarray(order))
        assert settled.feasible
        assert settled.bench_s >= sum(parts.values()) - 1e-6
