"""The last two welds of a small piece, bounded together."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.follow import time_by_modes
from chainplan.order.piece.situation import take_stock
from chainplan.order.proof.last_two import bound_last_two_s
from chainplan.order.proof.places import PlacesProof, bound_places_s


def proof_of(make, layout, **changes):
    piece = make.piece(layout, **changes)
    clock = make_exact_clock(take_stock(*piece.three, **piece.kwargs, seed=0))
    work = clock.situation.work
    return clock, PlacesProof(work=work, caps=clock.caps(), hold=None, limit_c=np.inf)


@pytest.mark.parametrize("limit_c", [60.0, 75.0])
def test_two_welds_together_raise_the_bound_of_a_short_chain(make, limit_c):
    """Well above what every place proves by itself, and below the best of all orders."""
    clock, proof = proof_of(
        make, make.chain(6), limit_c=limit_c, link_w_k=4e-3, heat_j=5.0, handle_s=7.0
    )
    soonest_s = bound_places_s(proof, 0.0)
    two_s = bound_last_two_s(proof, soonest_s)
    every = np.asarray(list(permutations(range(6))), dtype=np.int32)
    timed = time_by_modes(clock.follower, proof.work, every)
    optimum_s = timed.start_s[timed.feasible, -1].min()
    assert 1.2 * soonest_s[-1] < two_s <= optimum_s + 1e-6


def test_where_nothing_waits_two_together_leave_the_bound_as_it_is(make):
    """A limit far off."""
    _, proof = proof_of(make, make.chain(6), limit_c=500.0)
    soonest_s = bound_places_s(proof, 0.0)
    assert bound_last_two_s(proof, soonest_s) == soonest_s[-1]


def test_two_alone_are_bounded_by_what_the_first_brings_the_second(make):
    """Of three joins far apart no heat comes to another, and any two may be last."""
    place = np.array([[0.0, 0.0], [100.0, 0.0], [200.0, 0.0]])
    _, proof = proof_of(make, make.layout(place, [], [0, 0, 0], [0, 1, 2]), limit_c=22.0)
    soonest_s = bound_places_s(proof, 0.0)
    assert bound_last_two_s(proof, soonest_s) == soonest_s[-1]
