"""What is said of the gain: numbers from an independent simulation, and words that follow them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.model.order import Chance, Gains, LimitKind, Unpaused
from chainplan.model.thermal.heat import RingLimit
from chainplan.order import find_order, verify_order
from chainplan.order.say.gains import say_benches, say_ends
from chainplan.order.tuning import USUAL


def plan(piece, **more):
    return find_order(*piece.three, **piece.kwargs, **more)


@pytest.fixture(scope="module")
def strip(make):
    """A strip with even welds up to 70 °C, and a clasp at its end."""
    piece = make.piece(
        make.sheet(5, 20, form="strip"), limit_c=0.0, parts=(("clasp", 99, 80.0, 0.05),)
    )
    even = RingLimit(
        kind=LimitKind.SAMENESS,
        name="even welds, silver",
        limit_c=np.full(100, 70.0),
        why="one setting",
    )
    piece = replace(piece, heat=replace(piece.heat, ring_limits=(even,)))
    return piece, plan(piece)


def ends_of(piece):
    """End to end over the rows of a sheet, back and forth, and when each is welded."""
    layout = piece.layout
    order = np.concatenate(
        [
            np.flatnonzero(layout.row == row)[:: -1 if row % 2 else 1]
            for row in range(int(layout.row.max()) + 1)
        ]
    )
    way = np.hypot(*np.diff(layout.centre_mm[order, :2], axis=0).T)
    start = np.cumsum(np.append(piece.pace.handle_s, piece.pace.handle_s + way / 30.0))
    return order, start


def test_end_to_end_without_a_pause_is_what_a_simulation_says(strip):
    """When each limit is passed, and how warm it gets, at the usual values and the bad end."""
    piece, order = strip
    assert piece.pace.move_mm_s == 30.0
    ring, start = ends_of(piece)
    told = {item.name: item for item in order.gains.unpaused}
    assert set(told) == {"even welds, silver", "clasp"}
    assert order.gains.unpaused_s == pytest.approx(start[-1])
    even, clasp = told["even welds, silver"], told["clasp"]
    times = np.arange(1.0, start[-1] + 300.0)
    for corner, warm_c, after_s, part_c, part_s in (
        ("usual", even.usual_c, even.usual_after_s, clasp.usual_c, clasp.usual_after_s),
        ("high", even.high_c, even.high_after_s, clasp.high_c, clasp.high_after_s),
    ):
        before = piece.heat.simulate(corner, ring, start).before_c
        assert warm_c == pytest.approx(before.max(), abs=1e-6)
        over = np.flatnonzero(before > 70.05)
        assert after_s == (pytest.approx(start[over[0]]) if over.size else None)
        part = 21.0 + piece.heat.rise(corner, ring, start, times)[:, 100]
        assert part_c == pytest.approx(part.max(), abs=0.5)
        late = np.flatnonzero(part > 80.05)
        assert part_s == (pytest.approx(times[late[0]], abs=1.5) if late.size else None)
    first = order.gains.asked_by
    assert first.high_after_s == min(
        item.high_after_s for item in told.values() if item.high_after_s is not None
    )


def test_the_pauses_of_end_to_end_keep_the_limits_and_no_shorter_ones_are_told(strip):
    """At the usual values it needs fewer than at the bad end; both are timed, not guessed."""
    piece, order = strip
    gains = order.gains
    rows = {item.name: item for item in order.comparisons}
    assert gains.ends_high_s == rows["end to end"].bench_time_s
    assert gains.unpaused_s <= gains.ends_usual_s <= gains.ends_high_s
    assert gains.saved_high_s == pytest.approx(gains.ends_high_s - order.bench_time_s)
    assert gains.saved_usual_s == pytest.approx(gains.ends_usual_s - order.bench_time_s)
    assert verify_order(*piece.three, order.ring, order.start_s, **piece.kwargs) == ()


def test_this_order_stays_below_what_is_told(strip):
    """The temperatures told beside are those of the limits' own table."""
    _, order = strip
    checks = {check.name: check for check in order.limits}
    for item in order.gains.unpaused:
        assert item.order_usual_c == checks[item.name].usual_c
        assert item.order_high_c == checks[item.name].high_c <= item.limit_c + 0.05


def crossing(kind, name, limit_c, *, usual_s=None, high_s=None):
    return Unpaused(
        kind=kind, name=name, said=name, limit_c=limit_c, ring=3, usual_c=limit_c + 9,
        high_c=limit_c + 40, usual_after_s=usual_s, high_after_s=high_s, order_usual_c=30.2,
        order_high_c=limit_c - 3.5,
    )  # fmt: skip


def gains(*unpaused, usual_s, high_s, order_s=600.0, plain=False):
    return Gains(
        unpaused=unpaused, unpaused_s=500.0, ends_usual_s=usual_s, ends_high_s=high_s,
        fingers_counted=True, order_s=order_s, order_wait_s=20.0, is_end_to_end=plain,
        to_remember=4, a_thing_s=15.0, little_s=60.0,
    )  # fmt: skip


FINGERS = crossing(LimitKind.FINGERS, "fingers", 48.0, usual_s=420.0, high_s=120.0)
CLASP = crossing(LimitKind.PART, "clasp", 120.0, high_s=300.0)
EVEN = crossing(LimitKind.SAMENESS, "even welds, silver", 115.0, high_s=90.0)


def test_the_usual_values_are_told_first_and_then_the_bad_end():
    text = say_ends(gains(FINGERS, CLASP, EVEN, usual_s=900.0, high_s=1800.0))
    assert text == (
        "Welded end to end without a pause, the fingers would pass 48 °C after 7 min at the usual "
        "values (2 min at the bad end), at the bad end also rings before their welds 115 °C (even "
        "welds) after 1 min 30 s and the clasp 120 °C after 5 min. In this order the fingers stay "
        "below 31 °C (45 at the bad end), the clasp below 31 °C (117) and rings before their welds "
        "below 31 °C (112). Against end to end with the pauses that it needs you save 5 min at the "
        "usual values and 20 min at the bad end (15 min and 30 min against 10 min)."
    )


def test_where_order_pays_at_the_bad_end_alone_the_first_sentence_says_so():
    text = say_ends(gains(FINGERS, usual_s=560.0, high_s=1800.0))
    assert text.startswith(
        "This order pays only where the bench runs hot (the bad end). At the usual "
        "values end to end takes 9 min with the "
        "pauses that it needs, this order 10 min; with pauses that are enough at the bad end too, "
        "end to end takes 30 min, and this order keeps every limit there."
    )
    text = say_ends(gains(CLASP, usual_s=500.0, high_s=1800.0))
    assert "end to end takes 8 min without a pause, this order 10 min;" in text
    assert "In this order the clasp stays below" in text
    text = say_ends(gains(FINGERS, usual_s=None, high_s=1800.0))
    assert text.startswith(
        "This order pays only where the bench runs hot (the bad end). With pauses "
        "that are enough at the bad end too, end to end"
    )


def test_plausible_benches_are_told_where_some_could_do_without_the_order():
    """Whole benches of a hundred, rounded down; nothing where chance was not reckoned."""
    chance = Chance(runs=2000, keeps_all=0.9985, by_limit=(), decides="links")
    some = replace(gains(FINGERS, usual_s=560.0, high_s=1800.0), unpaused_kept=0.5799)
    assert say_benches(some, chance) == (
        " Of 100 plausible benches 57 could weld end to end without a pause, and 99 can follow "
        "this order."
    )
    assert say_benches(some, None) == ""
    assert say_benches(replace(some, unpaused_kept=None), chance) == ""
    assert say_benches(replace(some, is_end_to_end=True), chance) == ""


def test_where_order_gains_little_the_first_sentence_says_so():
    assert say_ends(gains(FINGERS, usual_s=590.0, high_s=640.0)).startswith(
        "Order gains little here: end to end with the pauses that it needs takes 11 min at "
        "the bad end, this order 10 min."
    )
    text = say_ends(gains(CLASP, usual_s=500.0, high_s=520.0, order_s=520.0, plain=True))
    assert text == (
        "No other order is worth following here: weld end to end, with 20 s of pauses. Welded end "
        "to end without a pause, every limit holds at the usual values, but at the bad end the "
        "clasp would pass 120 °C after 5 min."
    )


@pytest.mark.parametrize("most_exact", [1200, 0])
def test_where_order_gains_little_end_to_end_with_its_pauses_is_the_plan(make, most_exact):
    """What counts as little is said by the same numbers that choose; then one line says it."""
    piece = make.piece(make.chain(30), limit_c=90.0, parts=(("spring", 29, 75.0, 0.05),))
    clock = replace(USUAL.clock, most_exact_joins=most_exact)
    much = replace(USUAL, clock=clock, say=replace(USUAL.say, little_s=0.0, little_share=0.0))
    little = replace(USUAL, clock=clock, say=replace(USUAL.say, little_share=10.0))
    best, plain = plan(piece, tuning=much), plan(piece, tuning=little)
    assert not best.gains.is_end_to_end
    assert best.gains.saved_high_s > 0
    assert plain.gains.is_end_to_end
    assert plain.bench_time_s == pytest.approx(best.gains.ends_high_s)
    assert plain.gains.to_remember == 1
    assert plain.gained[0].startswith("No other order is worth following here: weld end to end")
    assert verify_order(*piece.three, plain.ring, plain.start_s, **piece.kwargs) == ()
    near = replace(little, say=replace(USUAL.say, little_share=0.05))
    usual = plan(piece, tuning=near)
    saved = best.gains.saved_high_s
    assert usual.gains.is_end_to_end == (saved <= near.say.little_of(best.bench_time_s))


def test_an_order_that_is_hard_to_follow_must_pay_for_it(make):
    """With a high price of things to keep in mind the plan has fewer of them, and is slower."""
    piece = make.piece(make.pairs(30), limit_c=60.0, held=True)
    dear = replace(USUAL, search=replace(USUAL.search, a_thing_s=1000.0))
    free = replace(USUAL, search=replace(USUAL.search, a_thing_s=0.0))
    hard, easy = plan(piece, tuning=free), plan(piece, tuning=dear)
    assert easy.gains.to_remember < hard.gains.to_remember
    assert easy.bench_time_s >= hard.bench_time_s
    assert easy.gains.a_thing_s == 1000.0
