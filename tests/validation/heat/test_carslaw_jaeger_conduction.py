"""Closed forms of linear heat conduction against the network's solvers.

Instantaneous sources in a rod and a closed ring: H. S. Carslaw, J. C. Jaeger, Conduction of Heat in
Solids, 2nd ed., Oxford 1959, chapter X (from memory). Chains and lattices of lumps: modified Bessel
functions, the same solution for discrete places. All numbers below were computed from the closed
forms for 1.0 mm wire with 4.5 mm inner diameter in sterling silver (10.36 g/cm³, 245 J/(kg K),
361 W/(m K)) and 6 J in one join; tolerance is half the last printed digit unless said.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ive

from chainplan.heat.following.kernels import build_kernels
from chainplan.heat.following.modes import find_modes, simulate_modes
from chainplan.heat.following.spreading import follow_decay
from chainplan.heat.hot_zone import ring_source_rise_k
from chainplan.heat.matrix import conductance_matrix
from chainplan.model.thermal.heat import HeatNetwork

CAPACITY = 10360 * 245 * 1e-9 * math.pi**2 * 1.0**2 * 5.5 / 4  # 0.034445 J/K
DIFFUSIVITY = 361 / (10360 * 245)
AROUND_MM = math.pi * 5.5
HEAT = 6.0
LINK = 1e-3


def network(
    pairs: np.ndarray, nodes: int, loss_w_k: float, capacity: float = CAPACITY
) -> HeatNetwork:
    pairs = np.asarray(pairs, dtype=np.int32).reshape(-1, 2)
    return HeatNetwork(
        corner="test",
        capacity_j_k=np.full(nodes, capacity),
        pairs=pairs,
        pair_w_k=np.full(len(pairs), LINK),
        loss_w_k=np.full(nodes, loss_w_k),
        sink_w_k=np.zeros(nodes),
        sink_c=np.zeros(nodes),
        ambient_c=0.0,
        base_c=np.zeros(nodes),
        join_heat_j=np.full(nodes, HEAT),
    )


def chain_network(nodes: int, loss_w_k: float) -> HeatNetwork:
    every = np.arange(nodes - 1)
    return network(np.column_stack([every, every + 1]), nodes, loss_w_k)


def lattice_network(side: int, loss_w_k: float) -> HeatNetwork:
    """Square lattice; a 4-in-1 sheet is the same lattice turned by 45°."""
    number = np.arange(side * side).reshape(side, side)
    across = np.column_stack([number[:, :-1].ravel(), number[:, 1:].ravel()])
    down = np.column_stack([number[:-1].ravel(), number[1:].ravel()])
    return network(np.concatenate([across, down]), side * side, loss_w_k)


@pytest.mark.parametrize(
    ("place_mm", "time_s", "rise"),
    [(0.0, 0.1, 224.07), (0.0, 1.0, 67.906), (5.0, 0.1, 144.39), (5.0, 1.0, 64.986)],
)
def test_source_in_a_rod_agrees_with_the_closed_form(place_mm, time_s, rise):
    """Q/(ρcA·√(4πat))·exp(−x²/4at − μt), μ = hP/(ρcA) = 0.04728 1/s; here a ring of 1 m."""
    long_ring_capacity = CAPACITY * 1000 / AROUND_MM
    got = ring_source_rise_k(
        place_mm,
        time_s,
        mean_rise_k=HEAT / long_ring_capacity,
        circumference_mm=1000.0,
        diffusivity_m2_s=DIFFUSIVITY,
        decay_per_s=0.04728,
    )
    area_m2 = math.pi * 0.5e-3**2
    per_k = 10360 * 245 * area_m2 * math.sqrt(4 * math.pi * DIFFUSIVITY * time_s)
    spread = (place_mm * 1e-3) ** 2 / (4 * DIFFUSIVITY * time_s)
    formula = HEAT / per_k * math.exp(-spread - 0.04728 * time_s)
    assert float(got) == pytest.approx(formula, rel=1e-9)
    assert formula == pytest.approx(rise, abs=0.006)


@pytest.mark.parametrize(
    ("time_s", "at_join", "opposite"),
    [(0.05, 317.65, 46.07), (0.2, 180.57, 164.53), (0.5, 170.15, 170.09)],
)
def test_source_in_a_closed_ring_is_even_in_a_third_of_a_second(time_s, at_join, opposite):
    """Fourier series; the spot at the join and the point across."""
    got = ring_source_rise_k(
        [0.0, AROUND_MM / 2],
        time_s,
        mean_rise_k=HEAT / CAPACITY,
        circumference_mm=AROUND_MM,
        diffusivity_m2_s=DIFFUSIVITY,
        decay_per_s=0.04728,
    )
    assert got == pytest.approx([at_join, opposite], abs=0.006)


def test_two_rings_equalise_with_the_closed_time_constant():
    """ΔT = ΔT0·exp(−g(1/C1 + 1/C2)t): τ = 17.22 s; at 4 s 156.139 K and 18.051 K."""
    pair = network(np.array([[0, 1]]), 2, 0.0)
    run = simulate_modes(pair, find_modes(pair), np.array([0]), np.array([0.0]), np.array([4.0]))
    assert run.at_c[0] == pytest.approx([156.139, 18.051], abs=5e-4)
    assert 1 / find_modes(pair).rate_per_s[1] == pytest.approx(17.22, abs=0.005)


@pytest.mark.parametrize(
    ("time_s", "rises"),
    [(4.0, (115.841, 13.362, 0.774)), (10.0, (65.977, 18.390, 2.633))],
)
def test_long_chain_agrees_with_bessel_functions(time_s, rises):
    """T_j = q/C·exp(−(2g+H)t/C)·I_j(2gt/C), H = 1.6285 mW/K."""
    loss = 1.6285e-3
    piece = chain_network(121, loss)
    modes = find_modes(piece)
    x = 2 * LINK * time_s / CAPACITY
    for step, printed in enumerate(rises):
        formula = HEAT / CAPACITY * math.exp(-loss * time_s / CAPACITY) * ive(step, x)
        got = HEAT * modes.rise_per_joule(60, 60 + step, time_s)[0]
        assert got == pytest.approx(formula, rel=1e-9)
        assert formula == pytest.approx(printed, abs=6e-4)


@pytest.mark.parametrize(
    ("time_s", "own", "neighbour"),
    [(4.0, 104.259, 12.026), (10.0, 53.245, 14.841), (30.0, 11.118, 7.232)],
)
def test_wide_sheet_agrees_with_bessel_functions(time_s, own, neighbour):
    """q/C·exp(−(4g+H)t/C)·I_a(2gt/C)·I_b(2gt/C), H = 0.6514 mW/K; no eigen-solution."""
    loss = 0.6514e-3
    side = 61
    piece = lattice_network(side, loss)
    middle = side * (side // 2) + side // 2
    state = np.zeros(side * side)
    state[middle] = HEAT / CAPACITY
    matrix = (conductance_matrix(piece) / CAPACITY).tocsr()
    seen = follow_decay(matrix, state, np.array([0.0, time_s]))[:, -1]
    x = 2 * LINK * time_s / CAPACITY
    fade = HEAT / CAPACITY * math.exp(-loss * time_s / CAPACITY)
    formula = fade * np.array([ive(0, x) ** 2, ive(1, x) * ive(0, x)])
    assert seen[[middle, middle + 1]] == pytest.approx(formula, abs=3e-4)
    assert formula == pytest.approx([own, neighbour], abs=6e-4)


def test_kernel_table_of_a_wide_sheet_agrees_with_bessel_functions():
    """The table's own curves, at its own times, far from any edge."""
    loss = 0.6514e-3
    side = 41
    piece = lattice_network(side, loss)
    table = build_kernels(piece)
    middle = side * (side // 2) + side // 2
    source, curve = table.near(middle)
    for a, b in ((0, 0), (0, 1), (1, 1), (2, 3)):
        place = np.flatnonzero(source == middle + side * a + b)[0]
        x = 2 * LINK * table.log_time_s / CAPACITY
        fade = HEAT / CAPACITY * np.exp(-loss * table.log_time_s / CAPACITY)
        formula = fade * ive(a, x) * ive(b, x)
        assert np.abs(table.log_rise_k[curve[place]] - formula).max() < 5e-3


def test_steady_ladder_agrees_with_the_closed_form():
    """Steady power P in one ring of a long chain: T0 = P/√(H² + 4gH) = 330.30 K/W, then ×0.300480.

    H is 30 W/(m² K) on the ring's surface, 1.6285 mW/K.
    """
    loss = 30 * math.pi**2 * 5.5e-6
    piece = chain_network(201, loss)
    dose = find_modes(piece).dose_k_s_per_j(100)
    assert dose[100] == pytest.approx(330.30, abs=0.006)
    root = math.sqrt(loss**2 + 4 * LINK * loss)
    assert dose[100] == pytest.approx(1 / root, rel=1e-10)
    assert dose[101] / dose[100] == pytest.approx(0.300480, abs=6e-7)
    assert dose[101] / dose[100] == pytest.approx((2 * LINK + loss - root) / (2 * LINK), rel=1e-9)
