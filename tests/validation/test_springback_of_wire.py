"""Springback: the round wire's closed form against integration, and the strip's published formula.

Kalpakjian and Schmid, Manufacturing Engineering and Technology (formula and example from memory):
``Ri/Rf = 4X³ − 3X + 1``; 40 000 psi, 29e6 psi, 0.0359 in, Ri 0.5 in gives Rf 0.531 in.
"""

import math

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.model.metal import MeasuredRing, Metal, Value
from chainplan.reference import (
    find_metal,
    inner_from_mandrel_mm,
    inner_range_mm,
    mandrel_from_inner_mm,
    metals,
)
from chainplan.reference.springback import sprung_share, sprung_share_of_strip, yield_strain_of


def moment_by_integration(elastic_share: float) -> float:
    """M/(E·I·κ) of a unit circle by the midpoint rule: stress times chord times lever."""
    edges = np.linspace(0.0, 1.0, 400_001)
    y = (edges[1:] + edges[:-1]) / 2
    stress = np.minimum(y, elastic_share)  # E·κ = 1
    moment = 2 * np.sum(stress * 2 * np.sqrt(1 - y**2) * y) * (edges[1] - edges[0])
    return float(moment / (math.pi / 4))


@pytest.mark.parametrize("share", [0.001, 0.05, 0.2, 0.5, 0.8, 0.99, 1.0])
def test_the_closed_form_is_the_integral_over_the_round_section(share):
    assert sprung_share(share) == pytest.approx(moment_by_integration(share), rel=1e-6)


def test_a_strip_follows_the_textbook_formula():
    """Example of the textbook: X 0.01921, ratio 0.9424, Rf 0.5306 in."""
    x = 0.5 * 40_000 / (29e6 * 0.0359)
    ratio = 1 - sprung_share_of_strip(2 * x)
    assert x == pytest.approx(0.01921, abs=5e-6)
    assert ratio == pytest.approx(0.9424, abs=5e-5)
    assert 0.5 / ratio == pytest.approx(0.5306, abs=5e-5)


def test_round_wire_opens_a_little_more_than_a_strip_and_by_the_same_trend():
    """Small curvature: 16/(3π) against 3/2, so 1.132 times; both rise together to 1."""
    shares = np.linspace(0.01, 1.0, 50)
    wire = np.array([sprung_share(s) for s in shares])
    strip = np.array([sprung_share_of_strip(s) for s in shares])
    assert wire[0] / strip[0] == pytest.approx(16 / (3 * math.pi) / 1.5, rel=1e-3)
    assert np.all(np.diff(wire) > 0)
    assert np.all(wire >= strip - 1e-12)
    assert wire[-1] == pytest.approx(1.0)
    assert strip[-1] == pytest.approx(1.0)


TABLE = [  # 1.0 mm wire on a 4.0 mm mandrel; yield MPa, modulus GPa, final inner diameter mm
    (54, 76, 4.030), (124, 75, 4.071), (340, 75, 4.200), (85, 117, 4.031), (280, 117, 4.104),
    (350, 110, 4.139), (595, 110, 4.241), (395, 110, 4.157), (215, 193, 4.048),
    (1425, 193, 4.334), (240, 103, 4.101), (105, 103, 4.044), (110, 70, 4.068), (285, 200, 4.061),
]  # fmt: skip


def a_metal(strength_mpa: float, modulus_gpa: float) -> Metal:
    """Copper with another yield strength and modulus."""
    copper = find_metal("copper")
    names = {name: getattr(copper, name) for name in copper.__slots__}

    def value(number, unit):
        return Value(usual=number, low=number, high=number, unit=unit, source="test")

    names["yield_mpa"] = {"annealed": value(strength_mpa, "MPa")}
    names["modulus_gpa"] = value(modulus_gpa, "GPa")
    return Metal(**names)


@pytest.mark.parametrize(("strength", "modulus", "inner"), TABLE)
def test_rings_agree_with_a_table_integrated_elsewhere(strength, modulus, inner):
    """Separate numerical integration, printed to a micrometre."""
    got = inner_from_mandrel_mm(1.0, 4.0, a_metal(strength, modulus))
    assert got == pytest.approx(inner, abs=6e-4)


def test_usual_rings_come_out_one_to_nine_per_cent_larger():
    """Practice says about 1 to 5 %, more for hard metal (no source)."""
    for metal in metals().values():
        for temper in metal.yield_mpa:
            growth = inner_from_mandrel_mm(1.0, 4.0, metal, temper) / 4.0 - 1
            assert 0.0 < growth < 0.10, (metal.key, temper, growth)


def test_the_mandrel_for_a_ring_gives_that_ring():
    metal = find_metal("sterling-silver")
    for wire in (0.5, 1.0, 2.0):
        for inner in (2.0, 3.5, 8.0):
            mandrel = mandrel_from_inner_mm(wire, inner, metal, "half-hard")
            assert mandrel < inner
            again = inner_from_mandrel_mm(wire, mandrel, metal, "half-hard")
            assert again == pytest.approx(inner, rel=1e-9)


def test_a_measured_ring_is_reproduced_and_carries_over_to_other_mandrels():
    """Calibration: the measured ring itself comes back; a wider mandrel springs more."""
    ring = MeasuredRing(wire_mm=1.0, mandrel_mm=3.0, inner_mm=3.12)
    metal = find_metal("copper")
    got = inner_from_mandrel_mm(1.0, 3.0, metal, "hard", calibration=ring)
    assert got == pytest.approx(3.12, rel=1e-9)
    wider = inner_from_mandrel_mm(1.0, 6.0, metal, "hard", calibration=ring)
    assert wider / 6.0 > 3.12 / 3.0
    assert yield_strain_of(ring) > 0


def test_a_measured_ring_smaller_than_its_mandrel_is_refused():
    ring = MeasuredRing(wire_mm=1.0, mandrel_mm=3.0, inner_mm=2.9)
    with pytest.raises(InputError, match="larger than its mandrel"):
        inner_from_mandrel_mm(1.0, 3.0, find_metal("copper"), calibration=ring)


def test_wire_that_only_bends_elastically_is_refused():
    with pytest.raises(InputError, match="springs back straight"):
        inner_from_mandrel_mm(0.3, 60.0, find_metal("stainless-304"), "spring")


def test_the_range_holds_the_usual_ring():
    for metal in metals().values():
        for temper in metal.yield_mpa:
            low, high = inner_range_mm(1.0, 4.0, metal, temper)
            assert low <= inner_from_mandrel_mm(1.0, 4.0, metal, temper) <= high
