"""Large pieces, on small ones that the exact network can still check."""

from __future__ import annotations

import re

import numpy as np
import pytest

from chainplan.model.kernels import WeldTimes
from chainplan.order import find_order
from chainplan.order.clock.large import choose_bare, keep_limits, part_peaks_c, take_large_stock
from chainplan.order.pattern.plain import end_to_end, random_order
from chainplan.order.proof.fingers import lay_out_grips
from chainplan.order.proof.verify import verify_order
from chainplan.order.say.largeplan import plan_large


def stock(piece):
    return take_large_stock(*piece.three, **piece.kwargs, seed=0)


def test_vectorised_sums_agree_with_the_exact_network(make):
    """All interpass temperatures in one go against one simulation."""
    piece = make.piece(make.sheet(6, 12), pre_closed=[4, 7])
    situation = stock(piece)
    order = random_order(situation.work, 5)
    start = np.cumsum(situation.work.gaps_s(order))
    every = np.arange(order.size, dtype=np.int32)
    exact = piece.heat.simulate("high", situation.work.ring[order], start).before_c
    mine = 21.0 + situation.rise_k("high", order, start, every)
    assert mine == pytest.approx(exact, abs=0.3)


def test_looking_later_counts_only_the_welds_before(make):
    """What a wait before one join would bring, all else unchanged."""
    piece = make.piece(make.chain(6))
    table = piece.heat.kernels("high")
    welds = WeldTimes(6, np.array([0, 1]), np.array([5.0, 20.0]))
    node, at = np.array([1], dtype=np.int32), np.array([15.0])
    later = table.rises_k(welds, node, at, 10.0)
    exact = piece.heat.rise("high", [0], [5.0], [25.0])[0, 1]
    assert later[0] == pytest.approx(exact, abs=0.2)


def test_waits_or_an_even_pace_keep_the_limit(make):
    """The exact network finds no ring too warm, whichever way was quicker."""
    piece = make.piece(make.pairs(16), limit_c=50.0)
    situation = stock(piece)
    for order in (end_to_end(situation.grid, situation.work), random_order(situation.work, 1)):
        found = keep_limits(situation, order)
        assert found.feasible
        run = piece.heat.simulate("high", situation.work.ring[order], found.start_s)
        assert run.before_c.max() <= 50.0 + 0.05


def test_parts_are_spared_by_waits_next_to_them(make):
    """A spring on ring 1 of a chain stays below its limit."""
    piece = make.piece(make.chain(40), limit_c=200.0, parts=(("spring", 0, 62.0, 0.05),))
    situation = stock(piece)
    found = keep_limits(situation, end_to_end(situation.grid, situation.work))
    assert found.feasible
    assert part_peaks_c(situation, found)["spring"] <= 62.0
    run = piece.heat.simulate("high", found.order, found.start_s)
    assert run.peak_c[40] <= 62.1


def test_a_part_beyond_help_makes_the_order_infeasible(make):
    """One weld is enough to break the limit."""
    piece = make.piece(make.chain(12), limit_c=200.0, parts=(("spring", 0, 24.0, 0.05),))
    order = plan_large(stock(piece), piece.pace, lambda *_: None)
    assert order.status == "infeasible"
    assert "spring" in order.advice[0]


def test_the_finished_large_order_says_what_it_must(make):
    """Same shape of result as for small pieces."""
    piece = make.piece(make.sheet(4, 10), limit_c=70.0)
    order = plan_large(stock(piece), piece.pace, lambda *_: None)
    assert sorted(order.ring.tolist()) == list(range(40))
    assert order.lower_bound_s <= order.bench_time_s
    assert order.interpass_high_c.max() <= 70.05
    assert {item.name for item in order.comparisons} >= {"to follow", "free", "end to end"}
    assert sum(item.joins for item in order.passes) == 40
    assert order.peak_c.shape == (40,)


def test_the_choice_takes_a_pattern_without_waits_if_there_is_one(make):
    """Wide sheets spread themselves: nothing waits."""
    piece = make.piece(make.sheet(6, 14), limit_c=80.0)
    found = choose_bare(stock(piece))
    assert found.waiting_s == 0.0
    assert len(found.passes) >= 1


def test_a_long_chain_held_bare_needs_no_slower_pace(make):
    """Some pattern leaves the fingers a cool place on both sides; the exact network agrees."""
    piece = make.piece(make.chain(120), limit_c=60.0, held=True)
    situation = stock(piece)
    order = plan_large(situation, piece.pace, lambda *_: None)
    (held,) = [check for check in order.limits if check.name == "fingers"]
    assert order.status == "complete"
    assert held.holds
    assert verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs) == ()
    assert order.wait_s.sum() == 0.0


def test_the_temperature_told_at_the_fingers_is_that_of_the_order_told(make):
    """Slowed down or not: status and temperature belong to the same times."""
    piece = make.piece(make.pairs(40), limit_c=60.0, held=True)
    order = plan_large(stock(piece), piece.pace, lambda *_: None)
    (held,) = [check for check in order.limits if check.name == "fingers"]
    assert held.holds == (order.status != "infeasible")
    grips = lay_out_grips(
        piece.layout,
        piece.joins,
        order.ring,
        order.start_s,
        pace=piece.pace,
        limits=piece.limits,
    )
    warm = grips.warmest_c(piece.heat, "high", order.ring, order.start_s)
    assert held.high_c == pytest.approx(warm.max(), abs=0.5)


def test_a_narrow_strip_held_bare_keeps_all_limits_without_a_wait(make):
    """Some pattern leaves the fingers a cool place at the full pace; the verifier agrees."""
    piece = make.piece(make.sheet(4, 28, form="strip"), limit_c=60.0, held=True)
    order = plan_large(stock(piece), piece.pace, lambda *_: None)
    assert order.status == "complete"
    assert order.wait_s.sum() == 0.0
    assert order.gap < 0.4
    assert verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs) == ()


def test_what_is_beyond_help_in_a_large_piece_is_told_as_in_a_small_one(make):
    """The part, the rings, by how much, and what would help, from kernels as from the network."""
    piece = make.piece(make.chain(40), limit_c=60.0, parts=(("clasp", 20, 25.0, 0.05),))
    large = plan_large(stock(piece), piece.pace, lambda *_: None)
    small = find_order(*piece.three, **piece.kwargs)
    assert large.status == small.status == "infeasible"
    heads = [text.split(":")[0] for text in large.advice]
    assert heads == [text.split(":")[0] for text in small.advice]
    for word in ("Less heat", "Closing beforehand", "A heat sink", "Moving it"):
        assert word in heads
    told = [
        int(re.search(r"brings it to (\d+) °C", texts[0]).group(1))
        for texts in (large.advice, small.advice)
    ]
    assert abs(told[0] - told[1]) <= 1


def test_the_choice_waits_where_no_pattern_does_without(make):
    """Where even the widest stride is too warm, waits are needed."""
    assert choose_bare(stock(make.piece(make.pairs(10), limit_c=30.0))).waiting_s > 0
