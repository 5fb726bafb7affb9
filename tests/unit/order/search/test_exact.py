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
from chainplan.order.search.descend import descend, list_moves
from chainplan.order.search.exact import find_best_of_all
from chainplan.order.search.outlook import make_outlook
from chainplan.order.search.rest import make_rest
from chainplan.order.tuning import USUAL
from chainplan.reference import find_metal
from chainplan.weave import lay_piece


def held_clock(rings, sides=1):
    """An invented silver chain, held by fingers up to its ends, or with a limit for rings (0)."""
    bench = Bench()
    section = Section(
        weave="single-link", metal="sterling-silver", wire_mm=1.0, inner_mm=4.5, rings=rings
    )
    layout = lay_piece(Piece(name="chain", quantity=1, sections=(section,)))
    joins = place_joins(layout, spot_mm=[0.9], electrode=bench.electrode, way="all in place")
    limits = replace(bench.heat, sides_held=sides, end_tweezers=False)
    if sides == 0:
        limits = replace(bench.heat, held_bare=False, highest_interpass_c=45.0)
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


@pytest.mark.parametrize("sides", [0, 1, 2])
def test_no_order_at_all_is_ready_or_done_sooner_than_the_search_says(sides):
    """Beginnings of two to four of seven joins, with all ends that they can have."""
    clock = held_clock(7, sides)
    work, modes = clock.situation.work, clock.follower
    outlook = make_outlook(work, modes, 400.0)
    rest = make_rest(outlook, 5)
    rng = np.random.default_rng(5)
    every = np.arange(7, dtype=np.int32)
    bites = 0
    for _ in range(30):
        order = rng.permutation(7).astype(np.int32)
        steps = int(rng.integers(2, 5))
        left = np.isin(every, order[steps:])
        soonest, least, last = [], [], []
        for other in (order, np.concatenate([order[:steps][::-1], order[steps:]])):
            begun = list_beginnings(modes, work, other)[steps]
            now_s = float(time_by_modes(modes, work, other).start_s[0, steps - 1])
            soonest.append(work.handle_s + work.step_s(np.full(7, other[steps - 1]), every))
            ready_s = outlook.ready_s(begun.state[None], left[None], soonest[-1][None], 400.0)
            ends = [[*other[:steps], *end] for end in permutations(order[steps:].tolist())]
            timed = time_by_modes(modes, work, np.asarray(ends, dtype=np.int32))
            assert timed.feasible.all()
            for join in order[steps:].tolist():
                mine = timed.start_s[np.asarray(ends) == join]
                assert ready_s[0, join] <= float(mine.min()) - now_s + 1e-9
            last.append(float(timed.start_s[:, -1].min()) - now_s)
            intervals = outlook.bend.shape[2]
            least.append(outlook.least_k(begun.state[None], intervals, rest.corner))
            alone_s = rest.last_s(least[-1], every[None, left], soonest[-1][None, left])[0]
            assert alone_s <= last[-1] + 1e-9
            bites += int(alone_s > outlook.each_s * int(left.sum()) + 1.0)
        both_s = rest.last_s(
            np.minimum(*least), every[None, left], np.minimum(*soonest)[None, left]
        )[0]
        assert both_s <= min(last) + 1e-9
    assert bites > 20  # it says more than the hand alone


@pytest.mark.parametrize("sides", [0, 1, 2])
def test_the_order_proved_best_of_all_is(sides):
    """Six joins, with and without fingers, all 720 orders timed."""
    clock = held_clock(6, sides)
    work, modes = clock.situation.work, clock.follower
    every = np.asarray(list(permutations(range(6))), dtype=np.int32)
    timed = time_by_modes(modes, work, every)
    worst = every[int(np.argmax(np.where(timed.feasible, timed.bench_s, 0.0)))]
    found, proved = find_best_of_all(work, modes, worst, most_looks=10_000)
    assert proved
    best_s = float(time_by_modes(modes, work, found).bench_s[0])
    assert best_s == pytest.approx(float(timed.bench_s[timed.feasible].min()), abs=1e-6)


def test_every_move_of_a_few_joins_is_tried_once():
    """Of four steps: swaps, moves and turns, each another order; downhill never gets slower."""
    moves = list_moves(4)
    assert len({tuple(row) for row in moves.tolist()}) == len(moves)
    assert (np.sort(moves, axis=1) == np.arange(4)).all()
    assert {(1, 0, 2, 3), (3, 1, 2, 0), (1, 2, 3, 0), (3, 2, 1, 0)} <= {
        tuple(row) for row in moves.tolist()
    }
    assert (0, 1, 2, 3) not in {tuple(row) for row in moves.tolist()}
    clock = held_clock(7)
    work, modes = clock.situation.work, clock.follower
    start = np.arange(7, dtype=np.int32)
    order, bench_s = descend(work, modes, start, 20)
    moved = time_by_modes(modes, work, order[list_moves(7)])
    assert bench_s <= float(moved.bench_s[moved.feasible].min())
    assert bench_s < float(time_by_modes(modes, work, start).bench_s[0])


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
