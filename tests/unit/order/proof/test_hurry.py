"""Waits of a hand quicker than the plan: they keep the limits at that pace, and are needed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from chainplan.estimate import first_settings
from chainplan.order.piece.situation import take_stock
from chainplan.order.proof.hurry import COLD_K
from chainplan.order.proof.verify import list_too_warm, simulate_order


def hand(job, planned):
    """The hand's pace, with what earthing the piece takes."""
    return planned.order.earthing.pace_of(job.bench.pace)


def starts(job, planned, share, wait_s):
    """When each pulse falls for a hand that needs so much of the planned time, with some waits."""
    order = planned.order
    situation = take_stock(
        planned.layout, planned.joins, planned.heat,
        settings=[line.setting for line in first_settings(job, planned.layout)],
        pace=job.bench.pace, limits=job.bench.heat, seed=0, lead=job.bench.lead,
        way=order.earthing.way,
    )  # fmt: skip
    place = {int(ring): k for k, ring in enumerate(situation.work.ring)}
    steps = np.array([place[int(ring)] for ring in order.ring], dtype=np.int32)
    return np.cumsum(situation.work.gaps_s(steps) * share + wait_s)


def too_warm(job, planned, share, wait_s):
    heat, bench = planned.heat, job.bench
    usual = hand(job, planned)
    pace = replace(usual, handle_s=usual.handle_s * share)
    seen = simulate_order(
        planned.layout, planned.joins, heat, planned.order.ring,
        starts(job, planned, share, wait_s), pace=pace, limits=bench.heat, corners=heat.corners,
        clip_ring=planned.order.earthing.clip_ring,
    )  # fmt: skip
    return list_too_warm(seen, heat, bench.heat)


def test_the_waits_of_a_quicker_hand_keep_every_limit(job, planned):
    assert [item.share for item in planned.order.faster] == [0.7, 0.4]
    for item in planned.order.faster:
        assert not too_warm(job, planned, item.share, item.wait_s)


def test_without_them_the_quicker_hand_breaks_a_limit(job, planned):
    assert too_warm(job, planned, 0.4, planned.order.wait_s)


def test_a_piece_is_cold_when_it_says_so_and_not_much_sooner(planned):
    order, heat = planned.order, planned.heat
    assert 0 <= order.rest_s <= order.cold_s
    end_s = float(order.start_s[-1])
    for share, warm in ((1.0, False), (0.7, True)):
        rises = []
        for corner in heat.bad_corners:
            at_s = np.full(len(order.ring), end_s + share * order.cold_s)
            now_c = heat.temperatures_c(corner, order.ring, order.start_s, order.ring, at_s)
            rises.append(float((now_c - heat.networks[corner].base_c[order.ring]).max()))
        assert (max(rises) > COLD_K) is warm
