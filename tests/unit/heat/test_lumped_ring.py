"""Is one temperature a ring enough, and one film coefficient? Against finer models."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from chainplan.heat.conductance.air import convection_w_m2_k, radiation_w_m2_k
from chainplan.heat.following.modes import find_modes
from chainplan.heat.matrix import conductance_matrix
from chainplan.heat.network import ring_capacity_j_k, ring_surface_mm2
from chainplan.model.thermal.heat import HeatNetwork

SEGMENTS = 24


def network(capacity, pairs, conductance, loss):
    nodes = len(capacity)
    return HeatNetwork(
        corner="test",
        capacity_j_k=capacity,
        pairs=np.asarray(pairs, dtype=np.int32),
        pair_w_k=np.asarray(conductance, dtype=float),
        loss_w_k=loss,
        sink_w_k=np.zeros(nodes),
        sink_c=np.zeros(nodes),
        ambient_c=0.0,
        base_c=np.zeros(nodes),
        join_heat_j=np.full(nodes, 6.0),
    )


def three_rings_in_segments(layout, metal, metals, link=1e-3, film=30.0):
    """Three linked rings, each of 24 pieces of wire; they touch a quarter turn from the join."""
    capacity = np.repeat(ring_capacity_j_k(layout, metals) / SEGMENTS, SEGMENTS)
    loss = np.repeat(film * ring_surface_mm2(layout) * 1e-6 / SEGMENTS, SEGMENTS)
    around_m = np.pi * 5.5e-3
    wire = metals[metal].conductivity_w_m_k.usual * np.pi * 0.5e-3**2 / (around_m / SEGMENTS)
    pairs, values = [], []
    for ring in range(3):
        for place in range(SEGMENTS):
            following = (place + 1) % SEGMENTS
            pairs.append((ring * SEGMENTS + place, ring * SEGMENTS + following))
            values.append(wire)
    for ring in range(2):
        pairs.append((ring * SEGMENTS + 6, (ring + 1) * SEGMENTS + 18))
        values.append(link)
    return network(capacity, pairs, values, loss)


@pytest.mark.parametrize(("metal", "within_k"), [("sterling-silver", 0.5), ("brass", 0.8)])
def test_lumped_ring_is_right_from_a_second_on_for_good_conductors(metal, within_k, chain, metals):
    """Means of all three rings against three lumps; and the spot is as warm as its ring."""
    layout = chain(3, metal=metal)
    fine = find_modes(three_rings_in_segments(layout, metal, metals))
    lumps = find_modes(
        network(
            ring_capacity_j_k(layout, metals),
            [(0, 1), (1, 2)],
            [1e-3, 1e-3],
            30.0 * ring_surface_mm2(layout) * 1e-6,
        )
    )
    times = np.array([1.0, 2.0, 4.0, 8.0, 20.0])
    join = SEGMENTS  # of the middle ring
    fields = np.array(
        [6.0 * fine.rise_per_joule(node, join, times) for node in range(3 * SEGMENTS)]
    )
    for ring in range(3):
        mean = fields[ring * SEGMENTS : (ring + 1) * SEGMENTS].mean(axis=0)
        lump = 6.0 * lumps.rise_per_joule(ring, 1, times)
        assert np.abs(mean - lump).max() < within_k
    uneven = np.abs(fields[join] - fields[SEGMENTS : 2 * SEGMENTS].mean(axis=0))
    assert uneven[0] < 3.0
    assert uneven[1:].max() < 1.0


def test_steel_spot_stays_hot_long_after_while_its_neighbour_is_predicted_on_the_safe_side(
    chain, metals
):
    """1.0/4.5 stainless, 3.6 J: spot about 111 K at 2 s; at 8 s 48 K against a mean of 46 K."""
    layout = chain(3, metal="stainless-304")
    fine = find_modes(three_rings_in_segments(layout, "stainless-304", metals, link=0.6e-3))
    times = np.array([2.0, 8.0])
    join = SEGMENTS
    heat = 3.6
    spot = heat * fine.rise_per_joule(join, join, times)
    own = [heat * fine.rise_per_joule(SEGMENTS + k, join, times) for k in range(SEGMENTS)]
    mean = np.mean(own, axis=0)
    assert spot == pytest.approx([111, 48.3], rel=0.05)
    assert mean[1] == pytest.approx(45.6, rel=0.05)
    lumps = find_modes(
        network(
            ring_capacity_j_k(layout, metals),
            [(0, 1), (1, 2)],
            [0.6e-3, 0.6e-3],
            30.0 * ring_surface_mm2(layout) * 1e-6,
        )
    )
    beside = np.mean([heat * fine.rise_per_joule(k, join, times) for k in range(SEGMENTS)], axis=0)
    assert np.all(heat * lumps.rise_per_joule(0, 1, times) >= beside)


def test_constant_film_errs_by_a_few_kelvin_and_early_on_to_the_safe_side(chain):
    """Lone sterling ring from 174 K, Churchill–Chu only: 133/104/65/28/7 K with h(T).

    With h = 30 throughout: 137/108/68/26/4 K. With the mean of both correlations, h(T) cools up to
    10 K faster than the constant of 60 °C.
    """
    capacity = 10360e-9 * 245 * np.pi**2 * 5.5 / 4  # of the figures below, in J/K
    area_m2 = float(ring_surface_mm2(chain(1))[0]) * 1e-6
    room = 20.0
    times = [5.0, 10.0, 20.0, 40.0, 80.0]

    def cooled(churchill_share):
        def cool(_, rise):
            churchill, _, power_law = convection_w_m2_k(1.0, room + rise[0], room)
            film = churchill_share * churchill + (1 - churchill_share) * power_law
            film += radiation_w_m2_k(0.03, room + rise[0], room)
            return [-film * area_m2 * rise[0] / capacity]

        return solve_ivp(cool, (0, 80), [174.0], t_eval=times, rtol=1e-8).y[0]

    constant = 174.0 * np.exp(-30.0 * area_m2 / capacity * np.array(times))
    assert constant == pytest.approx([137, 108, 68, 26, 4], abs=0.6)
    assert cooled(1.0) == pytest.approx([133, 104, 65, 28, 7], abs=1.0)
    assert np.abs(cooled(0.5) - constant).max() < 11.0
    assert np.all(cooled(0.5)[:4] < constant[:4])


def test_matrix_is_symmetric_with_losses_on_its_diagonal(chain, metals):
    """Row sums of A are what each node loses."""
    piece = three_rings_in_segments(chain(3), "sterling-silver", metals)
    matrix = conductance_matrix(piece).toarray()
    assert np.array_equal(matrix, matrix.T)
    assert matrix.sum(axis=1) == pytest.approx(piece.loss_w_k, abs=1e-12)
