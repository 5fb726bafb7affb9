"""Small pieces in the fingers: nothing that could be better is left out, and twelve are proved."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from chainplan.heat import build_heat_model
from chainplan.join import place_joins
from chainplan.model.bench import Bench
from chainplan.model.job import Piece, Section
from chainplan.model.order import WeldSetting
from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.follow import list_beginnings, time_by_modes
from chainplan.order.piece.situation import take_stock
from chainplan.order.search.exact import find_best_of_all
from chainplan.order.search.outlook import make_outlook
from chainplan.order.tuning import USUAL
from chainplan.reference import find_metal
from chainplan.weave import lay_piece


def held_clock(rings, sides=1):
    """An invented silver chain that fingers hold up to its ends."""
    bench = Bench()
    section = Section(
        weave="single-link", metal="sterling-silver", wire_mm=1.0, inner_mm=4.5, rings=rings
    )
    layout = lay_piece(Piece(name="chain", quantity=1, sections=(section,)))
    joins = place_joins(layout, spot_mm=[0.9], electrode=bench.electrode, way="all in place")
    limits = replace(bench.heat, sides_held=sides, end_tweezers=False)
    heat = build_heat_model(
        layout,
        metals={"sterling-silver": find_metal("sterling-silver")},
        join_heat_set_j=10.0,
        settings=limits,
    )
    setting = WeldSetting(power_j=10.0, hits=1, tip="sharp", source="estimate")
    return make_exact_clock(
        take_stock(layout, joins, heat, settings=[setting], pace=bench.pace, limits=limits, seed=0)
    )


@pytest.mark.parametrize("sides", [1, 2])
def test_no_order_at_all_is_ready_or_done_sooner_than_the_outlook_says(sides):
    """Beginnings of two to four of seven joins, with all ends that they can have."""
    clock = held_clock(7, sides)
    work, modes = clock.situation.work, clock.follower
    outlook = make_outlook(work, modes, 400.0)
    rng = np.random.default_rng(5)
    bites = 0
    for _ in range(30):
        order = rng.permutation(7).astype(np.int32)
        steps = int(rng.integers(2, 5))
        begun = list_beginnings(modes, work, order)[steps]
        now_s = float(time_by_modes(modes, work, order).start_s[0, steps - 1])
        left = np.isin(np.arange(7), order[steps:])
        soonest_s = work.handle_s + work.step_s(
            np.full(7, order[steps - 1]), np.arange(7, dtype=np.int32)
        )
        ready_s, last_s = outlook.look(begun.state[None], left[None], soonest_s[None], 400.0)
        ends = [[*order[:steps], *end] for end in permutations(order[steps:].tolist())]
        timed = time_by_modes(modes, work, np.asarray(ends, dtype=np.int32))
        assert timed.feasible.all()
        assert last_s[0] <= float(timed.start_s[:, -1].min()) - now_s + 1e-9
        for join in order[steps:].tolist():
            mine = timed.start_s[np.asarray(ends) == join]
            assert ready_s[0, join] <= float(mine.min()) - now_s + 1e-9
        bites += int(last_s[0] > outlook.each_s * int(left.sum()))
    assert bites > 0  # it says more than the hand alone


def test_twelve_joins_in_the_fingers_are_proved_within_the_usual_effort():
    """From end to end as the order to beat."""
    clock = held_clock(12)
    work, modes = clock.situation.work, clock.follower
    start = np.arange(12, dtype=np.int32)
    looks = USUAL.search.usual.states
    found, proved = find_best_of_all(work, modes, start, most_looks=looks)
    assert proved
    timed = time_by_modes(modes, work, np.stack([start, found]))
    assert timed.bench_s[1] < timed.bench_s[0]
