"""Worked examples of a heat-transfer textbook.

F. P. Incropera, D. P. DeWitt, Fundamentals of Heat and Mass Transfer: examples 3.9 (fins), 5.1
(lumped cooling) and 9.4 (horizontal cylinder), data and results from memory; recomputed from the
formulas, the book's own figures round by about 1 %. Lumped example 2: an open companion to another
textbook (invented body, 99 % after 10 s).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.sparse.linalg import spsolve

from chainplan.heat.conductance.air import (
    Air,
    air_at,
    churchill_chu,
    convection_w_m2_k,
    film_range_w_m2_k,
    radiation_w_m2_k,
    rayleigh_number,
)
from chainplan.heat.following.modes import find_modes, simulate_modes
from chainplan.heat.matrix import conductance_matrix
from chainplan.model.thermal.heat import HeatNetwork


def lump(capacity_j_k: float, loss_w_k: float) -> HeatNetwork:
    return HeatNetwork(
        corner="test",
        capacity_j_k=np.array([capacity_j_k]),
        pairs=np.zeros((0, 2), dtype=np.int32),
        pair_w_k=np.zeros(0),
        loss_w_k=np.array([loss_w_k]),
        sink_w_k=np.zeros(1),
        sink_c=np.zeros(1),
        ambient_c=200.0,
        base_c=np.array([200.0]),
        join_heat_j=np.array([capacity_j_k * -175.0]),  # starts at 25 °C in 200 °C gas
    )


def test_horizontal_pipe_loses_what_example_9_4_says():
    """0.1 m pipe, 165 °C in 23 °C, ε 0.85: Ra 5.071e6, Nu 23.09, h 7.23, 322 + 441 W/m."""
    air = Air(
        temperature_c=94.0,
        conductivity_w_mk=0.0313,
        viscosity_m2_s=22.8e-6,
        diffusivity_m2_s=32.8e-6,
    )
    # the book takes g = 9.8 and T = 367 K
    rayleigh = rayleigh_number(100.0, 165.0, 23.0, air) * (9.8 / 9.80665) * (367.15 / 367)
    assert rayleigh == pytest.approx(5.071e6, rel=1e-3)
    nusselt = churchill_chu(rayleigh, 0.697)
    assert nusselt == pytest.approx(23.09, abs=0.01)
    film = nusselt * 0.0313 / 0.1
    assert film == pytest.approx(7.23, abs=0.005)
    around = math.pi * 0.1 * (165 - 23)
    assert film * around == pytest.approx(322, abs=1)
    assert radiation_w_m2_k(0.85, 165.0, 23.0) * around == pytest.approx(441, abs=1)


def test_thermocouple_junction_follows_example_5_1():
    """h 400, k 20, c 400, ρ 8500, τ = 1 s: D 0.706 mm, Bi 2.35e-3, 199 °C after 5.165 s."""
    diameter = 6 * 400 * 1.0 / (8500 * 400)
    assert diameter == pytest.approx(7.06e-4, abs=5e-7)
    assert 400 * diameter / 6 / 20 == pytest.approx(2.35e-3, abs=5e-6)
    capacity = 8500 * math.pi * diameter**3 / 6 * 400
    loss = 400 * math.pi * diameter**2
    junction = lump(capacity, loss)
    modes = find_modes(junction)
    assert 1 / modes.rate_per_s[0] == pytest.approx(1.0, rel=1e-12)
    run = simulate_modes(junction, modes, np.array([0]), np.array([0.0]), np.array([0.0, 5.165]))
    assert run.at_c[:, 0] == pytest.approx([25.0, 199.0], abs=1e-3)


def test_second_lumped_body_is_within_a_hundredth_after_ten_seconds():
    """D 1 mm, ρ 8500, c 320, h 210: 0.463 1/s, and with that figure rounded 99 % at 9.95 s."""
    capacity = 8500 * math.pi * 1e-9 / 6 * 320
    body = lump(capacity, 210 * math.pi * 1e-6)
    rate = find_modes(body).rate_per_s[0]
    assert rate == pytest.approx(0.463, abs=5e-4)
    assert math.log(100) / round(rate, 3) == pytest.approx(9.95, abs=0.005)
    assert math.log(100) / rate == pytest.approx(9.9413, abs=5e-5)


@pytest.mark.parametrize(("conductivity", "watts"), [(398, 8.31), (180, 5.59), (14, 1.56)])
def test_long_fin_draws_what_example_3_9_says(conductivity, watts):
    """D 5 mm rod, 100 °C in 25 °C, h 100: q = √(hPkA)·θ; here a ladder of 0.25 mm slices."""
    slice_m, slices = 0.25e-3, 4000
    area, around = math.pi * 5e-3**2 / 4, math.pi * 5e-3
    link = conductivity * area / slice_m
    every = np.arange(slices - 1)
    rod = HeatNetwork(
        corner="test",
        capacity_j_k=np.ones(slices),
        pairs=np.column_stack([every, every + 1]).astype(np.int32),
        pair_w_k=np.full(slices - 1, link),
        loss_w_k=np.full(slices, 100 * around * slice_m),
        sink_w_k=np.eye(1, slices)[0] * 2 * link,  # half a slice to the root
        sink_c=np.full(slices, 100.0),
        ambient_c=25.0,
        base_c=np.full(slices, 25.0),
        join_heat_j=np.zeros(slices),
    )
    theta = spsolve(conductance_matrix(rod).tocsc(), rod.sink_w_k * 75.0)
    drawn = 2 * link * (75.0 - theta[0])
    assert drawn == pytest.approx(watts, abs=0.006)
    assert drawn == pytest.approx(math.sqrt(100 * around * conductivity * area) * 75, rel=1e-4)


FILM_TABLE = {
    # d in mm: Churchill–Chu, laminar form, Morgan at 40, 60, 100, 150, 200 °C in 20 °C air
    0.6: ((34, 30, 39), (37, 33, 44), (41, 36, 49), (44, 39, 53), (47, 41, 56)),
    0.8: ((28, 25, 34), (31, 27, 37), (34, 30, 42), (37, 33, 45), (39, 35, 48)),
    1.0: ((24, 22, 30), (27, 24, 33), (30, 27, 37), (32, 29, 40), (34, 31, 42)),
    1.2: ((22, 20, 27), (24, 22, 30), (27, 24, 33), (29, 27, 36), (31, 28, 38)),
    1.6: ((18, 17, 23), (20, 19, 25), (23, 21, 28), (25, 23, 31), (26, 25, 33)),
    2.0: ((16, 15, 20), (18, 17, 22), (20, 19, 25), (22, 21, 27), (23, 22, 29)),
}


@pytest.mark.parametrize("diameter_mm", FILM_TABLE)
def test_thin_wire_loses_what_an_independent_evaluation_gives(diameter_mm):
    """The same three correlations evaluated with another air table, printed to whole W/(m² K)."""
    for surface_c, printed in zip((40, 60, 100, 150, 200), FILM_TABLE[diameter_mm], strict=True):
        assert convection_w_m2_k(diameter_mm, surface_c, 20.0) == pytest.approx(printed, abs=0.65)


def test_usual_film_of_one_millimetre_wire_is_thirty_and_ranges_from_22_to_40():
    """Combined value for clean 1 mm wire between 40 and 150 °C, as a check on plausibility."""
    low, usual, high = film_range_w_m2_k(1.0, (0.02, 0.03, 0.05), 20.0)
    assert (low, usual, high) == pytest.approx((22, 30, 40), abs=0.6)


def test_radiation_at_100_c_agrees_with_hand_values():
    """ε 0.05 → 0.4, 0.2 → 1.7, 0.8 → 6.8 W/(m² K)."""
    got = [radiation_w_m2_k(share, 100.0, 20.0) for share in (0.05, 0.2, 0.8)]
    assert got == pytest.approx([0.4, 1.7, 6.8], abs=0.06)


def test_air_table_agrees_with_coolprop():
    """Another calculation of air's properties (CoolProp), between the table's rows too."""
    properties = pytest.importorskip("CoolProp.CoolProp").PropsSI
    for temperature_c in (0.0, 33.0, 71.0, 124.0, 176.0, 228.0, 345.0):
        got = air_at(temperature_c)
        at = ("T", temperature_c + 273.15, "P", 101325.0, "Air")
        density = properties("D", *at)
        conductivity = properties("L", *at)
        viscosity = properties("V", *at) / density
        diffusivity = conductivity / density / properties("C", *at)
        assert got.conductivity_w_mk == pytest.approx(conductivity, rel=2e-3)
        assert got.viscosity_m2_s == pytest.approx(viscosity, rel=4e-3)
        assert got.diffusivity_m2_s == pytest.approx(diffusivity, rel=4e-3)
