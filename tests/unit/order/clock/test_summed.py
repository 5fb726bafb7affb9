"""Large pieces' clock, on small pieces that the exact network can still check."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from chainplan.model.order import LimitKind
from chainplan.model.thermal.kernels import WeldTimes
from chainplan.order import find_order, pace_start_s, verify_order
from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.protocol import Settling, settle, warmest_c
from chainplan.order.clock.select import make_clock
from chainplan.order.clock.summing.summed import make_summed_clock
from chainplan.order.pattern.plain import end_to_end, random_order
from chainplan.order.piece.hold import Grips, lay_out_grips
from chainplan.order.piece.situation import take_stock
from chainplan.order.search.choose import choose_followable
from chainplan.order.tuning import USUAL

SUMMED = replace(USUAL, clock=replace(USUAL.clock, most_exact_joins=0))
"""Sends every piece, however small, to the summed kernels."""
PATTERNS = replace(USUAL, search=replace(USUAL.search, few_joins=0))
"""Keeps the exact clock to patterns: the summed one knows of no freer order to list."""
AT_ONCE = replace(USUAL, clock=replace(SUMMED.clock, forward_joins=0))
"""… and has it wait as pieces of many thousand joins do: all at once, or at an even pace."""


def stock(piece, tuning=USUAL):
    return take_stock(*piece.three, **piece.kwargs, seed=0, tuning=tuning)


def both(piece):
    situation = stock(piece)
    return make_exact_clock(situation), make_summed_clock(situation)


def plan(piece, tuning=SUMMED):
    return find_order(*piece.three, **piece.kwargs, tuning=tuning)


def verify(piece, order):
    return verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs)


def test_size_alone_decides_which_clock_is_taken(make):
    """Twelve hundred joins go weld by weld, one more does not; tests may say otherwise."""
    small, large = make.piece(make.chain(1200)), make.piece(make.chain(1201))
    # the dense network of a thousand rings is of no use here: only its size is looked at
    tuning = replace(USUAL, clock=replace(USUAL.clock, most_exact_joins=20))
    assert USUAL.clock.most_exact_joins == 1200
    assert small.joins.in_place.size <= USUAL.clock.most_exact_joins < large.joins.in_place.size
    assert make_clock(stock(make.piece(make.chain(20)), tuning)).follows
    assert not make_clock(stock(make.piece(make.chain(21)), tuning)).follows
    assert not make_clock(stock(make.piece(make.chain(20)), SUMMED)).follows
    for most_nodes, follows in ((20, True), (19, False)):  # rings closed beforehand are nodes too
        tuning = replace(USUAL, clock=replace(USUAL.clock, most_exact_nodes=most_nodes))
        assert make_clock(stock(make.piece(make.chain(20)), tuning)).follows is follows


@pytest.mark.parametrize("held", [False, True])
def test_both_clocks_agree_on_every_temperature_they_are_asked_for(make, held):
    """Twenty joins: before the welds, alone, at a part, at the fingers; margins apart."""
    piece = make.piece(make.pairs(10), held=held, parts=(("clasp", 3, 90.0, 0.1),))
    exact, summed = both(piece)
    order = random_order(exact.situation.work, 4)
    settled = settle(exact, order)
    some = np.array([3, 11, 19], dtype=np.int32)
    assert exact.lead == summed.lead
    for clock in (exact, summed):
        full = clock.before_c("high", order, settled.start_s)
        assert clock.before_c("high", order, settled.start_s, some) == pytest.approx(full[some])
    mine = exact.before_c("high", order, settled.start_s)
    assert summed.before_c("high", order, settled.start_s) == pytest.approx(mine, abs=0.2)
    alone = [np.zeros(20), np.zeros(20)]
    for clock, peaks in zip((exact, summed), alone, strict=True):
        joins, peak = clock.alone_k("high", 20)
        peaks[joins] = peak
    assert alone[1] == pytest.approx(alone[0], abs=0.1)
    shown = np.arange(0, 20, 3, dtype=np.int32)
    node = np.array([20], dtype=np.int32)
    course = [clock.course_c("high", settled, node, shown) for clock in (exact, summed)]
    assert course[0].max() > 40.0
    assert course[1] == pytest.approx(course[0], abs=0.3)
    assert [part.name for part in exact.watched] == [part.name for part in summed.watched]


@pytest.mark.parametrize("held", [False, True])
def test_both_clocks_wait_alike_where_their_margins_are_alike(make, held):
    """The same twenty joins in the same orders: every weld within two seconds, waits in seconds."""
    piece = make.piece(make.pairs(10), limit_c=50.0, held=held, parts=(("clasp", 3, 65.0, 0.1),))
    exact, summed = both(piece)
    more = exact.margin_k - summed.margin_k
    summed = summed.with_margins(more, more)
    for seed in range(3):
        order = random_order(exact.situation.work, seed)
        one, two = settle(exact, order), settle(summed, order)
        assert one.feasible
        assert two.feasible
        assert one.waiting_s > 100
        assert two.start_s == pytest.approx(one.start_s, abs=2.0 + 0.01 * one.waiting_s)
        assert two.wait_s == pytest.approx(np.round(two.wait_s))


@pytest.mark.parametrize(
    ("limit_c", "held", "part_c"),
    [(150.0, False, 300.0), (60.0, False, 300.0), (50.0, True, 300.0), (60.0, True, 75.0)],
)
def test_a_piece_of_twenty_joins_sent_down_either_way_is_planned_alike(make, limit_c, held, part_c):
    """Same limits held or binding, same bound on joins, times near one another, both verified."""
    piece = make.piece(
        make.pairs(10), limit_c=limit_c, held=held, parts=(("clasp", 0, part_c, 0.1),)
    )
    exact, summed = plan(piece, PATTERNS), plan(piece)
    assert summed.status == exact.status
    assert summed.set_aside == exact.set_aside == ()
    for order in (exact, summed):
        assert sorted(order.ring.tolist()) == list(range(20))
        assert verify(piece, order) == ()
        assert [check.name for check in order.limits] == [check.name for check in exact.limits]
        assert all(check.holds for check in order.limits)
        assert set(order.trace_c) == set(exact.trace_c)
        if order.end_to_end is not None:
            assert order.end_to_end.before_c.shape == (20,)
            assert order.end_to_end.before_c.max() <= order.ring_limit_c[order.ring].max() + 0.5
    assert summed.lower_bound_s <= exact.lower_bound_s + 1e-6
    assert summed.bench_time_s >= exact.free_time_s - 1e-6
    if exact.status == "no limit binds":
        assert summed.ring.tolist() == exact.ring.tolist()
        assert summed.start_s == pytest.approx(exact.start_s)
    assert summed.bench_time_s <= 1.2 * exact.bench_time_s


def test_vectorised_sums_agree_with_the_exact_network(make):
    """All interpass temperatures in one go against one simulation."""
    piece = make.piece(make.sheet(6, 12), pre_closed=[4, 7])
    clock = make_summed_clock(stock(piece))
    work = clock.situation.work
    order = random_order(work, 5)
    start = np.cumsum(work.gaps_s(order))
    exact = piece.heat.simulate("high", work.ring[order], start).before_c
    assert clock.before_c("high", order, start) == pytest.approx(exact, abs=0.3)
    assert warmest_c(clock, order, start) == pytest.approx(exact.max(), abs=0.3)


def test_looking_later_counts_only_the_welds_before(make):
    """What a wait before one join would bring, all else unchanged."""
    piece = make.piece(make.chain(6))
    table = piece.heat.kernels("high")
    welds = WeldTimes(6, np.array([0, 1]), np.array([5.0, 20.0]))
    node, at = np.array([1], dtype=np.int32), np.array([15.0])
    later = table.rises_k(welds, node, at, 10.0)
    exact = piece.heat.rise("high", [0], [5.0], [25.0])[0, 1]
    assert later[0] == pytest.approx(exact, abs=0.2)


@pytest.mark.parametrize("tuning", [SUMMED, AT_ONCE])
def test_waits_one_by_one_all_at_once_or_at_an_even_pace_keep_the_limit(make, tuning):
    """The exact network finds no ring too warm, and most of the margin left, whichever way."""
    piece = make.piece(make.pairs(16), limit_c=50.0)
    clock = make_summed_clock(stock(piece, tuning))
    work = clock.situation.work
    for order in (end_to_end(clock.situation.grid, work), random_order(work, 1)):
        found = settle(clock, order)
        assert found.feasible
        assert found.waiting_s > 0
        run = piece.heat.simulate("high", work.ring[order], found.start_s)
        assert run.before_c.max() <= 50.0
        kept = clock.before_c("high", order, found.start_s).max()
        assert kept <= 50.0 - USUAL.clock.summed_margin_k + 1e-4
        assert kept >= 49.0  # no more than is needed


def test_a_margin_keeps_back_what_it_says(make):
    """Limits of joins, parts and fingers shrink by it, what little there is by half at most."""
    piece = make.piece(make.chain(4), limit_c=60.0, parts=(("clasp", 0, 21.3, 0.1),))
    for clock in both(piece):
        wide = clock.with_margins(1.0, 0.0)
        assert wide.margin_k == pytest.approx(clock.margin_k + 1.0)
    summed = make_summed_clock(stock(piece))
    assert summed.sums.spare_k["high"] == pytest.approx(np.full(4, 39.0 - 0.2))
    assert summed.with_margins(1.0, 0.0).sums.spare_k["high"] == pytest.approx(
        np.full(4, 39.0 - 1.2)
    )
    assert summed.with_relief(2.0).sums.spare_k["high"] == pytest.approx(np.full(4, 2 * 38.8))


def test_orders_that_take_longer_than_asked_for_are_given_up(make):
    """Giving up saves time only: what is kept is timed as before."""
    piece = make.piece(make.pairs(12), limit_c=50.0)
    work = stock(piece).work
    orders = np.asarray([random_order(work, seed) for seed in range(6)], dtype=np.int32)
    full = make_summed_clock(stock(piece)).settle_all(orders)
    most_s = float(np.median([item.bench_s for item in full]))
    some = make_summed_clock(stock(piece)).settle_all(orders, Settling(most_s=most_s))
    for whole, part in zip(full, some, strict=True):
        if part.feasible:
            assert part.bench_s <= most_s
        else:
            assert whole.bench_s > most_s


@pytest.mark.parametrize("tuning", [SUMMED, AT_ONCE])
def test_parts_are_spared_by_waits_next_to_them(make, tuning):
    """A spring on ring 1 of a chain stays below its limit."""
    piece = make.piece(make.chain(40), limit_c=200.0, parts=(("spring", 0, 62.0, 0.05),))
    clock = make_summed_clock(stock(piece, tuning))
    found = settle(clock, end_to_end(clock.situation.grid, clock.situation.work))
    assert found.feasible
    assert found.waiting_s > 0
    run = piece.heat.simulate("high", found.order, found.start_s)
    assert run.peak_c[40] <= 62.0


def test_the_finished_large_order_says_what_it_must(make):
    """Same shape of result as for small pieces, temperature charts included."""
    piece = make.piece(make.sheet(4, 10), limit_c=70.0, parts=(("clasp", 0, 90.0, 0.1),))
    order = plan(piece)
    assert sorted(order.ring.tolist()) == list(range(40))
    assert order.lower_bound_s <= order.bench_time_s
    assert order.interpass_high_c.max() <= 70.05
    assert {item.name for item in order.comparisons} >= {"to follow", "free", "end to end"}
    assert sum(item.joins for item in order.passes) == 40
    assert order.end_to_end is None or order.end_to_end.before_c.shape == (40,)
    (told,) = [check.high_c for check in order.limits if check.name == "clasp"]
    assert order.trace_c["clasp"].max() == pytest.approx(told, abs=1.0)
    assert order.trace_time_s.shape == order.trace_c["clasp"].shape


def test_the_choice_takes_a_pattern_without_waits_if_there_is_one(make):
    """Wide sheets spread themselves: nothing waits."""
    piece = make.piece(make.sheet(6, 14), limit_c=80.0)
    say = replace(USUAL.say, little_s=0.0, little_share=0.0)  # end to end is near
    situation = replace(stock(piece), tuning=replace(USUAL, say=say))
    found = choose_followable(make_summed_clock(situation), USUAL.search.usual)
    assert found.settled.waiting_s == 0.0
    assert len(found.passes) >= 1


def test_the_choice_waits_where_no_pattern_does_without(make):
    """Where even the widest stride is too warm, waits are needed."""
    piece = make.piece(make.pairs(10), limit_c=30.0)
    found = choose_followable(make_summed_clock(stock(piece)), USUAL.search.usual)
    assert found.settled.feasible
    assert found.settled.waiting_s > 0


def test_a_long_chain_held_bare_needs_no_slower_pace(make):
    """Some pattern leaves the fingers a cool place on both sides; the exact network agrees."""
    piece = make.piece(make.chain(120), limit_c=60.0, held=True)
    order = plan(piece)
    (held,) = [check for check in order.limits if check.name == "fingers"]
    assert order.status == "complete"
    assert held.holds
    assert verify(piece, order) == ()
    assert order.wait_s.sum() == 0.0


def test_the_pace_is_slowed_until_the_fingers_find_a_cool_place(make):
    """One given order that is too warm to hold: welded slower it is not, and no slower than so."""
    piece = make.piece(make.pairs(30), limit_c=500.0, held=True)
    clock = make_summed_clock(stock(piece, AT_ONCE))
    order = end_to_end(clock.situation.grid, clock.situation.work)
    bare, held = settle(clock, order, held=False), settle(clock, order)
    assert not clock.sums.cool_to_hold(order, bare.start_s)
    assert held.feasible
    assert held.held
    extra = held.wait_s - bare.wait_s
    assert extra.min() == extra.max() >= 1.0
    ring = clock.situation.work.ring[order]
    assert verify_order(*piece.three, ring, held.start_s, **piece.kwargs) == ()
    quicker = np.cumsum(clock.situation.work.gaps_s(order) + bare.wait_s + extra[0] / 2)
    assert verify_order(*piece.three, ring, quicker, **piece.kwargs) != ()


def test_an_order_that_keeps_all_limits_needs_no_second_more_than_its_welding(make):
    """It is taken where the time asked for is just that of welding it, and nothing less is."""
    clock = make_summed_clock(stock(make.piece(make.chain(20), limit_c=150.0)))
    order = end_to_end(clock.situation.grid, clock.situation.work)
    plain_s = clock.sums.plain(order)[1]
    for less_s, kept in ((0.0, True), (0.1, False)):
        (found,) = clock.settle_all(order[None], Settling(most_s=plain_s - less_s))
        assert found.feasible is kept
    assert clock.needs_no_wait(order, clock.situation.work.handle_s)


@pytest.mark.parametrize(
    ("form", "paces_s"), [("pairs", (5, 20, 40, 80)), ("chain", (5, 40, 54, 80))]
)
def test_whether_a_pace_needs_no_wait_is_asked_of_the_fingers_too(make, form, paces_s):
    """Cool enough to weld, too warm to hold but at a slow pace; 54 s, were they as quick as ever.

    They take hold so much earlier where handling takes so much longer.
    """
    woven = make.pairs(10) if form == "pairs" else make.chain(20)
    piece = make.piece(woven, limit_c=500.0, held=True)
    for clock in both(piece):
        order = end_to_end(clock.situation.grid, clock.situation.work)
        clean = [clock.needs_no_wait(order, float(handle_s)) for handle_s in paces_s]
        assert clean == sorted(clean)
        assert set(clean) == {True, False}
        ring = clock.situation.work.ring[order]
        for handle_s, none_needed in zip(paces_s, clean, strict=True):
            pace = replace(piece.pace, handle_s=float(handle_s))
            kwargs = {**piece.kwargs, "pace": pace}
            start = pace_start_s(
                piece.layout, piece.joins, ring, settings=kwargs["settings"], pace=pace
            )
            assert (verify_order(*piece.three, ring, start, **kwargs) == ()) is none_needed


def test_a_beginning_that_is_timed_once_has_all_its_steps_behind_it(make):
    """Waits and warmth just after its last weld, so that those who share it repeat none of it."""
    clock, _ = both(make.piece(make.pairs(10), limit_c=60.0))
    order = end_to_end(clock.situation.grid, clock.situation.work)
    whole = settle(clock, order)
    begun = clock.begin(order[:8])
    assert begun.steps == 8
    assert begun.wait_s == pytest.approx(whole.wait_s[:8])
    assert begun.wait_s.sum() > 0
    earlier = clock.begin(order[:7])
    assert (begun.state - earlier.state).max() > 1.0


@pytest.mark.parametrize("seed", range(6))
def test_asking_a_few_steps_first_answers_as_asking_all(seed):
    """Whatever the patches' temperatures and the limit, where likely patches come before others."""
    rng = np.random.default_rng(seed)
    steps, patches = 300, 9
    cold = rng.normal(40.0, 6.0, (steps, 2, patches))

    def grips(some, most):
        """Patches of some steps, one ring each; the first alone, so many, or all."""
        count = most or patches
        row = np.repeat(np.arange(len(some)), 2 * count)
        side = np.tile(np.repeat([0, 1], count), len(some))
        patch = np.tile(np.arange(count), 2 * len(some))
        node = (some[row] * 2 + side) * patches + patch
        moments = np.zeros((2, len(some)))
        return Grips(
            steps=some, moment_s=moments, row=row, side=side, node=node, first=np.arange(len(node))
        )

    def warm(node, _at_s):
        return cold.ravel()[node]

    every = np.arange(steps)
    likely = replace(grips(every, 1), more=grips)
    answers = set()
    for limit_c in np.linspace(20.0, 60.0, 81).tolist():
        all_of_them = bool((likely.at_fingers_c(warm, limit_c) <= limit_c).all())
        assert likely.cool(warm, limit_c) == all_of_them
        assert all_of_them == bool((cold.min(axis=2).max(axis=1) <= limit_c).all())
        answers.add(all_of_them)
    assert answers == {True, False}


def test_the_temperature_told_at_the_fingers_is_that_of_the_order_told(make):
    """Slowed down or not: status and temperature belong to the same times."""
    piece = make.piece(make.pairs(40), limit_c=60.0, held=True)
    order = plan(piece)
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

    def warm(node, at_s):
        return piece.heat.temperatures_c("high", order.ring, order.start_s, node, at_s)

    assert held.high_c == pytest.approx(grips.at_fingers_c(warm).max(), abs=0.5)


def test_a_narrow_strip_held_bare_keeps_all_limits_and_waits_only_where_that_is_quicker(make):
    """Some pattern needs no wait for the fingers; one with a second of it may still be quicker."""
    piece = make.piece(make.sheet(4, 30, form="strip"), limit_c=60.0, held=True)
    by_time, by_time_at_once = (
        replace(tuning, search=replace(tuning.search, a_thing_s=0.0))
        for tuning in (SUMMED, AT_ONCE)
    )
    order, calm = plan(piece, by_time), plan(piece, by_time_at_once)
    assert order.status == calm.status == "complete"
    assert calm.wait_s.sum() == 0.0
    assert order.bench_time_s <= calm.bench_time_s + 1e-6
    assert order.gap <= calm.gap < 0.4
    for each in (order, calm):
        assert verify(piece, each) == ()


def test_what_is_beyond_help_in_a_large_piece_is_told_as_in_a_small_one(make):
    """The part, the rings, by how much, and what would help, from kernels as from the network."""
    piece = make.piece(make.chain(40), limit_c=60.0, parts=(("clasp", 20, 25.0, 0.05),))
    large, small = plan(piece), find_order(*piece.three, **piece.kwargs)
    assert large.status == small.status == "infeasible"
    assert large.set_aside == small.set_aside
    assert [(item.kind, item.name) for item in large.set_aside] == [(LimitKind.PART, "clasp")]
    heads = [text.split(":")[0] for text in large.advice]
    assert heads[:5] == [text.split(":")[0] for text in small.advice][:5]
    for word in ("Less heat", "Closing beforehand", "A heat sink", "Moving it"):
        assert word in heads
    told = [
        int(re.search(r"brings it to (\d+) °C", texts[0]).group(1))
        for texts in (large.advice, small.advice)
    ]
    assert abs(told[0] - told[1]) <= 1
