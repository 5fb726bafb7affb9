"""The pattern chosen is the quickest in all bad corners, not in the one the search looks at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.heat import build_heat_model
from chainplan.join import place_joins
from chainplan.model.bench import Bench
from chainplan.model.bench.groups import HeatSettings
from chainplan.model.job import Piece, Section
from chainplan.model.order import WeldSetting
from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.protocol import Settling
from chainplan.order.clock.select import make_clock
from chainplan.order.pattern.passes import lay_out_passes, order_of
from chainplan.order.piece.situation import take_stock
from chainplan.order.search.choose import choose_followable, patterns_to_try
from chainplan.order.tuning import USUAL
from chainplan.reference import find_metal
from chainplan.reference.texts import in_english
from chainplan.weave import lay_piece


@pytest.fixture(scope="module")
def strip_of_five_rows():
    """Invented strip of 200 silver rings: which corner is hottest depends on the pattern."""
    bench = Bench()
    section = Section(
        weave="european-4-in-1",
        metal="sterling-silver",
        wire_mm=1.0,
        inner_mm=4.5,
        rings=200,
        rows=5,
    )
    layout = lay_piece(Piece(name="strip", quantity=1, sections=(section,)))
    joins = place_joins(layout, spot_mm=[0.9], electrode=bench.electrode, way="all in place")
    heat = build_heat_model(
        layout,
        metals={"sterling-silver": find_metal("sterling-silver")},
        join_heat_set_j=10.0,
        settings=bench.heat,
    )
    setting = WeldSetting(power_j=10.0, hits=1, tip="sharp", source="estimate")
    return layout, joins, heat, [setting], bench.pace


@pytest.mark.parametrize("held", [False, True])
def test_no_pattern_is_quicker_in_all_corners_than_the_chosen_one(strip_of_five_rows, held):
    """All patterns settled one and all; in one corner alone six others look quicker."""
    layout, joins, heat, settings, pace = strip_of_five_rows
    limits = HeatSettings(held_bare=held, highest_interpass_c=60.0, sides_held=2)
    by_time = replace(USUAL, search=replace(USUAL.search, a_thing_s=0.0))
    clock = make_exact_clock(
        take_stock(
            layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=0, tuning=by_time
        )
    )
    chosen = choose_followable(clock, USUAL.search.usual)
    patterns = patterns_to_try(clock.situation, USUAL.search.usual)
    orders = [
        order_of(lay_out_passes(clock.situation.grid, each, clock.situation.work))
        for each in patterns
    ]
    settled = clock.settle_all(np.asarray(orders))
    best_s = min(item.bench_s for item in settled if item.feasible)
    bare_s = min(
        item.bench_s for item in clock.settle_all(np.asarray(orders), Settling(held=False))
    )
    assert chosen.settled.feasible
    assert chosen.settled.bench_s <= best_s * (1 + USUAL.search.nearly)
    assert bare_s - 1e-6 <= chosen.unheld_s <= bare_s * (1 + USUAL.search.nearly)


@pytest.mark.parametrize("most_exact", [1200, 0])
def test_of_nearly_equal_orders_the_cooler_one_is_taken_and_of_equally_cool_the_plainer(
    make, most_exact
):
    """Five seconds more on a sheet and much cooler; or, where that does not count, plainer."""
    piece = make.piece(make.sheet(4, 16), limit_c=70.0)
    warm, words, times = [], [], []
    for nearly, as_cool_k in ((0.0, 2.0), (0.06, 2.0), (0.06, 500.0)):
        search = replace(USUAL.search, nearly=nearly, as_cool_k=as_cool_k, close=1.1)
        search = replace(search, a_thing_s=0.0)
        clocks = replace(USUAL.clock, most_exact_joins=most_exact)
        say = replace(USUAL.say, little_s=0.0, little_share=0.0)  # end to end is near
        tuning = replace(USUAL, search=search, clock=clocks, say=say)
        clock = make_clock(take_stock(*piece.three, **piece.kwargs, seed=0, tuning=tuning))
        chosen = choose_followable(clock, USUAL.search.usual)
        settled = chosen.settled
        run = piece.heat.simulate("high", settled.order, settled.start_s)
        warm.append(float(run.before_c.max()))
        words.append(chosen.to_remember)
        times.append(settled.bench_s)
    assert times[0] < times[1] <= 1.06 * times[0]
    assert warm[1] < warm[0] - 5.0
    assert times[2] <= 1.06 * times[0]
    assert words[2] == 1 < words[1]  # all as cool as one another: the fewest things to remember


def test_end_to_end_is_taken_at_once_where_it_keeps_every_limit_without_a_wait(make):
    """No other pattern is looked at, however much way of the hand it might save."""
    piece = make.piece(make.chain(40), limit_c=300.0, held=False)
    for most_exact in (1200, 0):
        clocks = replace(USUAL.clock, most_exact_joins=most_exact)
        tuning = replace(USUAL, clock=clocks)
        clock = make_clock(take_stock(*piece.three, **piece.kwargs, seed=0, tuning=tuning))
        chosen = choose_followable(clock, USUAL.search.usual)
        assert chosen.settled.order.tolist() == list(range(40))
        assert chosen.settled.waiting_s == 0
        assert chosen.to_remember == 1
        assert [in_english(item.stem) for item in chosen.passes] == [
            "ring 1 to ring 40, one after another"
        ]
