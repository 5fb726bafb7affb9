"""The exact solution against independent solvers and conservation laws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from chainplan.heat import build_heat_model
from chainplan.heat.following.modes import find_modes, simulate_modes
from chainplan.heat.matrix import conductance_matrix


def model(layout, metals, settings, **keywords):
    return build_heat_model(
        layout, metals=metals, join_heat_set_j=10.0, settings=settings, **keywords
    )


def test_modal_run_agrees_with_a_stiff_integrator(sheet, metals, settings):
    """scipy's Radau, restarted at each pulse: another method, another formulation."""
    heat = model(sheet(4, 3), metals, settings, held_rings=(5,))
    network = heat.networks["usual"]
    rng = np.random.default_rng(3)
    ring = rng.permutation(12)
    start = np.cumsum(rng.uniform(0.5, 6.0, 12))
    matrix = conductance_matrix(network).toarray()
    rate = -matrix / network.capacity_j_k[:, None]
    state = network.base_c - network.ambient_c
    push = network.sink_w_k * (network.sink_c - network.ambient_c) / network.capacity_j_k
    before, now = [], 0.0
    for number, moment in zip(ring, start, strict=True):
        solved = solve_ivp(
            lambda _, y: rate @ y + push, (now, moment), state, "Radau", rtol=1e-9, atol=1e-9
        )
        state, now = solved.y[:, -1], moment
        before.append(state[number] + network.ambient_c)
        state[number] += network.join_heat_j[number] / network.capacity_j_k[number]
    run = heat.simulate("usual", ring, start)
    assert run.before_c == pytest.approx(np.array(before), abs=2e-6)


def test_energy_is_balanced_to_a_billionth(sheet, metals, settings):
    """Heat put in = heat stored + heat lost to air and sinks (integral of A·T)."""
    heat = model(sheet(6, 5), metals, settings)
    network = heat.networks["usual"]
    modes = heat.modes("usual")
    ring, start = np.arange(30), np.arange(30) * 4.0
    end = 200.0
    run = heat.simulate("usual", ring, start, np.array([end]))
    stored = float(network.capacity_j_k @ (run.at_c[0] - network.base_c))
    # integral of each weld's field up to the end, mode by mode
    lag = end - start
    mode = modes.vectors[ring] * (network.join_heat_j[ring] / modes.root_capacity[ring])[:, None]
    weight = -np.expm1(-np.outer(lag, modes.rate_per_s)) / modes.rate_per_s
    integral = (modes.vectors / modes.root_capacity[:, None]) @ (mode * weight).sum(axis=0)
    lost = float((network.loss_w_k + network.sink_w_k) @ integral)
    assert stored + lost == pytest.approx(float(network.join_heat_j.sum()), rel=1e-9)


def test_stored_energy_depends_on_weld_times_only_when_all_rings_lose_alike(
    sheet, metals, settings
):
    """Σ C·T = Σ q·exp(−(H/C)(t − t_k)), whatever the order; shares .828, .567, .322 printed."""
    heat = model(sheet(6, 5), metals, settings)
    network = heat.networks["usual"]
    rate = float(network.loss_w_k[0] / network.capacity_j_k[0])
    start = np.arange(30) * 4.0
    moment = 150.0
    expected = network.join_heat_j[0] * np.exp(-rate * (moment - start)).sum()
    for seed in range(3):
        ring = np.random.default_rng(seed).permutation(30)
        run = heat.simulate("usual", ring, start, np.array([moment]))
        stored = float(network.capacity_j_k @ (run.at_c[0] - network.base_c))
        assert stored == pytest.approx(expected, rel=1e-10)
    assert np.exp(-0.0189 * np.array([10, 30, 60])) == pytest.approx(
        [0.828, 0.567, 0.322], abs=6e-4
    )


def test_dose_of_a_node_is_the_same_for_every_order(sheet, metals, settings):
    """∫T dt = Σ q_j (A⁻¹)_cj, for any order and any waits: order cannot lower the mean."""
    heat = model(sheet(5, 4), metals, settings)
    network, modes = heat.networks["hot, good links"], heat.modes("hot, good links")
    dose = float(modes.dose_k_s_per_j(7) @ network.join_heat_j)
    inverse = np.linalg.inv(conductance_matrix(network).toarray())
    assert dose == pytest.approx(float(inverse[7] @ network.join_heat_j), rel=1e-10)
    times = np.linspace(0, 12000, 60001)
    for seed in range(2):
        rng = np.random.default_rng(seed)
        start = np.cumsum(rng.uniform(2.0, 20.0, 20))
        run = heat.simulate("hot, good links", rng.permutation(20), start, times)
        summed = float(np.trapezoid(run.at_c[:, 7] - network.base_c[7], times))
        assert summed == pytest.approx(dose, rel=0.02)  # the jumps cost the trapezoids 1 %


def test_sampled_peaks_come_within_a_kelvin_of_a_fine_search(sheet, metals, settings):
    """Peaks are looked for at a few instants between welds only."""
    heat = model(sheet(6, 4), metals, settings)
    ring, start = np.arange(24), np.arange(24) * 5.0
    for corner in heat.corners:
        fine = np.arange(0, 400, 0.05)
        run = heat.simulate(corner, ring, start, fine)
        highest = np.maximum(run.at_c.max(axis=0), run.peak_c)
        assert np.all(run.peak_c >= highest - 1.0)


def test_unsorted_steps_are_simulated_in_time_order(chain, metals, settings):
    """``before_c`` stays in the caller's order."""
    heat = model(chain(6), metals, settings)
    ring, start = np.array([0, 1, 2, 3]), np.array([9.0, 3.0, 6.0, 0.0])
    run = heat.simulate("usual", ring, start)
    sorted_run = heat.simulate("usual", ring[::-1], start[::-1])
    # welded 3, 1, 2, 0
    order = np.argsort(start)
    again = heat.simulate("usual", ring[order], start[order])
    assert run.before_c[order] == pytest.approx(again.before_c)
    assert run.before_c[::-1] == pytest.approx(sorted_run.before_c)


def test_ring_welded_twice_is_warm_from_its_first_weld(chain, metals, settings):
    """Rework: the second weld meets what the first left."""
    heat = model(chain(3), metals, settings)
    run = heat.simulate("usual", np.array([1, 1]), np.array([0.0, 2.0]))
    assert run.before_c[1] > run.before_c[0] + 50


def test_each_mode_fades_faster_where_more_is_lost(chain, metals, settings):
    """More loss to air at the same capacity: every mode faster."""
    network = model(chain(5), metals, settings).networks["usual"]
    more = replace(network, loss_w_k=network.loss_w_k * 2)
    assert np.all(find_modes(more).rate_per_s > find_modes(network).rate_per_s)


def test_corners_of_an_even_piece_share_their_vectors(chain, metals, settings):
    """Losses in one proportion to the capacities: one eigen-solution serves every corner."""
    heat = model(chain(40), metals, settings)
    first = heat.modes("low")
    for corner in heat.corners[1:]:
        shared, own = heat.modes(corner), find_modes(heat.networks[corner])
        assert shared.vectors is first.vectors
        assert np.sort(shared.rate_per_s) == pytest.approx(np.sort(own.rate_per_s), rel=1e-9)


def test_corners_of_an_uneven_piece_are_solved_each_by_itself(chain, metals, settings):
    """A warm finger on one ring changes the vectors with the conductance of the links."""
    heat = model(chain(12), metals, settings, held_rings=(3,))
    ring, start = np.arange(12), np.arange(12) * 5.0
    heat.modes("low")
    for corner in heat.bad_corners:
        alone = simulate_modes(
            heat.networks[corner], find_modes(heat.networks[corner]), ring, start
        )
        assert heat.simulate(corner, ring, start).before_c == pytest.approx(alone.before_c)
