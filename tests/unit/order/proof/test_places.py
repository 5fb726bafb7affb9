"""How soon each place of an order can come, with the fingers counted."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.follow import time_by_modes
from chainplan.order.piece.situation import take_stock
from chainplan.order.proof.bound import bound_bench_time
from chainplan.order.proof.places import PlacesProof, bound_places_s


def clock_of(make, layout, *, sides=1, **changes):
    piece = make.piece(layout, limit_c=500.0, held=True, sides=sides, **changes)
    piece = piece.replace(limits=replace(piece.limits, end_tweezers=False))
    return make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))


def held_bound_s(clock):
    situation = clock.situation
    limit_c = situation.limits.kept_finger_c
    return sum(
        bound_bench_time(situation.work, clock.caps(), hold=clock.hold, finger_c=limit_c).values()
    )


@pytest.mark.parametrize("sides", [1, 2])
def test_fingers_that_hold_a_short_chain_raise_the_bound(make, sides):
    """Seven rings on 27 mm: where the fingers hold has been welded for all but the first joins."""
    clock = clock_of(make, make.chain(7), sides=sides)
    work = clock.situation.work
    bare_s = sum(bound_bench_time(work, clock.caps()).values())
    every = np.asarray(list(permutations(range(7))), dtype=np.int32)
    timed = time_by_modes(clock.follower, work, every)
    optimum_s = timed.bench_s[timed.feasible].min()
    assert bare_s < 0.6 * optimum_s
    assert 1.3 * bare_s < held_bound_s(clock) <= optimum_s


def test_a_single_held_ring_has_to_wait_until_its_patch_has_cooled(make):
    """Two unlinked rings within reach of each other: in closed form.

    The second is held on the first, whose rise falls as (q/C)·e^(−H/C·t).
    """
    place = np.array([[0.0, 0.0], [25.0, 0.0]])
    layout = make.layout(place, [], [0, 0], [0, 1])
    clock = clock_of(make, layout)
    network = clock.situation.heat.networks["high"]
    rate = network.loss_w_k[0] / network.capacity_j_k[0]
    jump = network.join_heat_j[0] / network.capacity_j_k[0]
    spare = clock.situation.limits.kept_finger_c - network.base_c[0]
    cool_s = np.log(jump / spare) / rate
    handle_s = clock.situation.work.handle_s
    # The fingers close a handling before the pulse, and the ring must have cooled by then.
    assert held_bound_s(clock) == pytest.approx(2 * handle_s + cool_s, abs=1.5)


def test_a_limit_that_no_order_keeps_gives_no_bound(make):
    """Not even the fingers' own warmth is below it."""
    clock = clock_of(make, make.chain(7))
    proof = PlacesProof(work=clock.situation.work, caps=clock.caps(), hold=clock.hold, limit_c=20.0)
    assert bound_places_s(proof, 33.0) is None
