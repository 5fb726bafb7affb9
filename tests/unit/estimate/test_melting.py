"""The energy of a pulse: against integration and a simulated bar."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate

from chainplan.estimate.pulse.groove import groove_volume_mm3, plan_groove
from chainplan.estimate.pulse.melting import (
    depth_at_highest_mm,
    diffusivity_mm2_s,
    kept_share,
    melting_heat_j_mm3,
    power_for_depth,
    pulse_need,
    segment_mm2,
    spot_mm,
)
from chainplan.model.bench import Bench
from chainplan.reference import find_metal

BENCH = Bench()
SILVER = find_metal("sterling-silver")


def kept_by_simulation(spot: float, pulse_s: float, diffusivity: float) -> float:
    """Heat equation on a long bar by the method of lines, heated evenly over the spot."""
    half = spot / 2
    reach = half + 8 * math.sqrt(2 * diffusivity * pulse_s)
    cells = 1600
    step = reach / cells
    x = (np.arange(cells) + 0.5) * step  # one half: the bar is symmetric
    source = np.clip((half - (x - step / 2)) / step, 0, 1)

    def rate(_, u):
        flow = np.diff(u) / step
        return diffusivity * np.diff(np.concatenate(([0.0], flow, [0.0]))) / step + source

    jacobian = np.zeros((3, cells))
    c = diffusivity / step**2
    jacobian[0, 1:] = c
    jacobian[1] = -2 * c
    jacobian[1, 0] = jacobian[1, -1] = -c
    jacobian[2, :-1] = c
    times = np.linspace(0, pulse_s, 401)
    u = np.zeros(cells)
    from scipy.linalg import solve_banded

    dt = times[1]
    matrix = -jacobian * dt / 2
    matrix[1] += 1
    for _ in times[1:]:
        u = solve_banded((1, 1), matrix, u + dt / 2 * rate(0, u) + dt / 2 * source)
    return float((u * source).sum() / u.sum())


@pytest.mark.parametrize(
    ("spot", "pulse_s", "diffusivity"), [(1.0, 0.01, 142.0), (1.5, 0.005, 38.0), (0.7, 0.02, 4.0)]
)
def test_the_share_kept_in_the_spot_is_that_of_a_simulated_bar(spot, pulse_s, diffusivity):
    assert kept_share(spot, pulse_s, diffusivity) == pytest.approx(
        kept_by_simulation(spot, pulse_s, diffusivity), abs=2e-3
    )


def test_less_stays_the_longer_the_pulse_and_the_better_the_conductor():
    shares = [kept_share(1.0, t, 142.0) for t in (0.001, 0.003, 0.01, 0.03)]
    assert shares == sorted(shares, reverse=True)
    shares = [kept_share(1.0, 0.01, a) for a in (1, 10, 100)]
    assert shares == sorted(shares, reverse=True)


def test_a_segment_goes_from_nothing_to_the_whole_section():
    assert segment_mm2(2.0, 0.0) == 0.0
    assert segment_mm2(2.0, 1.0) == pytest.approx(math.pi / 2)
    assert segment_mm2(2.0, 2.0) == pytest.approx(math.pi)
    assert segment_mm2(2.0, 9.0) == pytest.approx(math.pi)


def test_a_half_sphere_of_sterling_takes_what_was_worked_out():
    """0.9, 1.6 and 3.1 J for 1.0, 1.2 and 1.5 mm across (m·(cp·ΔT + L), to the printed digit)."""
    heat = melting_heat_j_mm3(SILVER, 20.0)
    for across, joule in ((1.0, 0.9), (1.2, 1.6), (1.5, 3.1)):
        assert heat * math.pi / 12 * across**3 == pytest.approx(joule, abs=0.2)


def test_the_spot_grows_along_the_profile_and_stays_within_it():
    welder = BENCH.welder
    assert spot_mm(welder.lowest_power_j, welder) == welder.spot_at_lowest_mm
    assert spot_mm(welder.highest_power_j, welder) == pytest.approx(welder.spot_at_highest_mm)
    assert spot_mm(1e6, welder) == pytest.approx(welder.spot_at_highest_mm)
    one = replace(welder, lowest_power_j=10.0, highest_power_j=10.0)
    assert spot_mm(10.0, one) == one.spot_at_highest_mm


def test_the_power_found_is_just_enough_for_its_own_spot():
    need = power_for_depth(SILVER, 1.2, 1.2, BENCH)
    again = pulse_need(SILVER, 1.2, 1.2, BENCH, spot=spot_mm(need.usual_j, BENCH.welder))
    assert again.usual_j == pytest.approx(need.usual_j, rel=1e-3)
    assert need.low_j < need.usual_j < need.high_j


def test_the_depth_at_the_highest_power_needs_that_power():
    depth = depth_at_highest_mm(SILVER, 4.0, BENCH)
    spot = spot_mm(BENCH.welder.highest_power_j, BENCH.welder)
    need = pulse_need(SILVER, 4.0, depth, BENCH, spot=spot)
    assert 0 < depth < 4.0
    assert need.usual_j == pytest.approx(BENCH.welder.highest_power_j, rel=1e-6)
    assert depth_at_highest_mm(SILVER, 0.8, BENCH) == 0.8


@pytest.mark.parametrize(
    ("wire", "depth", "angle"), [(2.0, 1.0, 90), (3.0, 0.4, 60), (4.0, 1.9, 45)]
)
def test_a_groove_holds_what_integration_says(wire, depth, angle):
    radius, slope = wire / 2, 2 * math.tan(math.radians(angle) / 2)
    volume, _ = integrate.quad(
        lambda z: 2 * math.sqrt(2 * radius * z - z * z) * slope * (depth - z), 0, depth
    )
    assert groove_volume_mm3(wire, depth, angle) == pytest.approx(volume, rel=1e-6)


def test_filler_fills_the_groove_and_a_tenth_more():
    plan = plan_groove(SILVER, 4.0, BENCH)
    groove = 2 * groove_volume_mm3(4.0, plan.groove_depth_mm, BENCH.welder.groove_angle_deg)
    fed = plan.filler_mm * math.pi / 4 * BENCH.welder.filler_wire_mm**2
    assert fed == pytest.approx(1.1 * groove)
    assert plan.filler_g == pytest.approx(fed * 10.36 / 1000)
    left = 4.0 - 2 * plan.groove_depth_mm
    assert 2 * plan.penetration_mm > left  # the root runs of both sides meet


def test_diffusivity_is_conductivity_over_heat_capacity():
    """Sterling 1.4165e-4 m²/s from 361, 10 360 and 246."""
    assert diffusivity_mm2_s(SILVER) == pytest.approx(141.65, abs=0.01)
