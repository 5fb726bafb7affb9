"""Heat of a chain of two metals against a dense network put together ring by ring in loops."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import expm

from chainplan.heat import build_heat_model
from chainplan.heat.conductance.contact import AIR_W_MK, contact_conductance_w_k
from chainplan.heat.following.kernels import build_kernels
from chainplan.heat.following.sums import simulate_sums
from chainplan.heat.network import _surface
from chainplan.heat.tuning import tuning
from chainplan.model.job import Piece, Section
from chainplan.model.kinds import DesignRule
from chainplan.model.piece.design import Design, DesignLine, Span
from chainplan.weave import lay_piece


@pytest.fixture
def two_metals():
    """A single chain of 24 rings, every third of copper, the others of stainless steel."""
    line = DesignLine(
        design="invented", rule=DesignRule.COLUMNS, which="every 3", metals=(("", "copper"),),
        spans=(Span(first=3, last=-1, every=3),),
    )  # fmt: skip
    section = Section(
        weave="single-link", metal="stainless-304", wire_mm=1.0, inner_mm=4.5, rings=24,
        design=Design(name="invented", lines=(line,)),
    )  # fmt: skip
    return lay_piece(Piece(name="invented", quantity=1, sections=(section,)))


def dense(layout, heat, metals, corner):
    """Capacities and matrix from plain loops: each ring's own metal, each pair's two surfaces."""
    network, n = heat.networks[corner], layout.rings
    metal = [metals["copper" if k % 3 == 2 else "stainless-304"] for k in range(n)]
    capacity = np.zeros(n)
    matrix = np.zeros((n, n))
    for k in range(n):
        volume = math.pi**2 * 1.0 * 5.5 / 4
        per_mm3 = metal[k].density_g_cm3.usual * metal[k].specific_heat_j_kg_k.usual * 1e-6
        capacity[k] = volume * per_mm3
        matrix[k, k] += network.loss_w_k[k]
    for (i, j), through in zip(network.pairs.tolist(), network.pair_w_k.tolist(), strict=True):
        matrix[i, i] += through
        matrix[j, j] += through
        matrix[i, j] -= through
        matrix[j, i] -= through
    return capacity, matrix, metal


def follow(capacity, matrix, heat_j, start_s):
    """Rise of each ring just before its weld, by matrix exponentials."""
    rise, before, now = np.zeros(len(capacity)), [], 0.0
    for k, moment in enumerate(start_s):
        rise = expm(-matrix / capacity[:, None] * (moment - now)) @ rise
        before.append(rise[k])
        rise[k] += heat_j[k] / capacity[k]
        now = moment
    return np.array(before)


def test_capacities_conductances_and_losses_follow_the_ring(two_metals, metals, settings):
    """Each pair conducts as its own two surfaces do; losses differ by emissivity alone."""
    heat = build_heat_model(two_metals, metals=metals, join_heat_set_j=10.0, settings=settings)
    network = heat.networks["usual"]
    capacity, _, metal = dense(two_metals, heat, metals, "usual")
    assert network.capacity_j_k == pytest.approx(capacity)
    for (i, j), through in zip(network.pairs.tolist(), network.pair_w_k.tolist(), strict=True):
        one, other = (_surface(metal[k], "annealed", 1.0, 2.75) for k in (i, j))
        load = settings.link_load_usual_mn
        expected = contact_conductance_w_k(one, other, load, AIR_W_MK, linked=True)
        assert through == pytest.approx(expected, rel=1e-9)
    copper = network.loss_w_k[2::3]
    steel = np.delete(network.loss_w_k, np.s_[2::3])
    assert np.ptp(copper) < 1e-12
    assert np.ptp(steel) < 1e-12
    assert copper[0] != pytest.approx(steel[0], rel=1e-4)


def test_both_clocks_agree_with_the_dense_network(two_metals, metals, settings):
    """Modes to rounding; kernels within the bound that they tell."""
    n = two_metals.rings
    set_j = np.where(np.arange(n) % 3 == 2, 14.0, 8.0)
    heat = build_heat_model(two_metals, metals=metals, join_heat_set_j=set_j, settings=settings)
    start = np.arange(n) * 7.0
    for corner in ("usual", *heat.bad_corners):
        network = heat.networks[corner]
        capacity, matrix, _ = dense(two_metals, heat, metals, corner)
        wanted = follow(capacity, matrix, network.join_heat_j, start)
        run = heat.simulate(corner, np.arange(n), start)
        assert run.before_c - network.ambient_c == pytest.approx(wanted, abs=1e-4), corner
        table = build_kernels(network)
        sums = simulate_sums(network, table, np.arange(n, dtype=np.int32), start)
        off = np.abs(sums.before_c - network.ambient_c - wanted)
        assert off.max() <= table.dropped_k + 1e-3, corner


def test_limits_hold_by_ring_and_touching_metals_are_named(two_metals, metals, settings):
    """Copper has limits of its own; the caution counts the places where the two touch."""
    heat = build_heat_model(two_metals, metals=metals, join_heat_set_j=10.0, settings=settings)
    copper = np.arange(two_metals.rings) % 3 == 2
    of_copper = [limit for limit in heat.ring_limits if limit.name.endswith("copper")]
    assert of_copper
    for limit in of_copper:
        assert np.isfinite(limit.limit_c).tolist() == copper.tolist()
    unlike = sum(copper[i] != copper[j] for i, j in two_metals.contacts.tolist())
    (text,) = [text for text in heat.cautions if "touch" in text]
    assert f"{unlike} places" in text


def test_rings_alike_nearby_share_a_patch_within_the_bound(metals, settings):
    """A check of two metals on a strip: fewer patches than surroundings, sums within what is told.

    Both ways of summing are held to the exact solution of the same piece.
    """
    line = DesignLine(
        design="invented", rule=DesignRule.CHECK, which="3 x 4", metals=(("", "copper"),),
        size=(3, 4),
    )  # fmt: skip
    section = Section(
        weave="european-4-in-1", metal="sterling-silver", wire_mm=1.0, inner_mm=4.5, rows=13,
        rings=400, design=Design(name="invented", lines=(line,)),
    )  # fmt: skip
    layout = lay_piece(Piece(name="invented", quantity=1, sections=(section,)))
    set_j = np.where([layout.materials[k].metal == "copper" for k in layout.material], 13.0, 8.0)
    heat = build_heat_model(layout, metals=metals, join_heat_set_j=set_j, settings=settings)
    ring = np.random.default_rng(4).permutation(layout.rings).astype(np.int32)
    start = np.arange(layout.rings) * 5.0
    for corner in ("usual", "hot, poor links"):
        network = heat.networks[corner]
        wanted = heat.simulate(corner, ring, start, peaks_of=()).before_c
        exact = build_kernels(network)
        with tuning.using(replace(tuning(), most_classes=20)):
            alike = build_kernels(network)
        assert len(alike.class_start) < len(exact.class_start)
        assert alike.source_share is not None
        assert exact.source_share is None
        assert alike.dropped_k > 2 * exact.dropped_k  # what sharing costs is told too
        for table in (exact, alike):
            found = simulate_sums(network, table, ring, start, peaks_of=()).before_c
            assert (wanted - found).max() <= table.dropped_k + 1e-3, corner
            assert np.abs(wanted - found).max() < 12, corner
