"""Ring-to-ring conductance against an independent evaluation of the same published formulas.

Hertz contact, Holm's constriction, Cooper–Mikic–Yovanovich micro contact, and a gas gap with
temperature jump; formulas from memory, table computed once by hand and printed to two figures, for
1.0 mm wire with 4.5 mm inner diameter, in mW/K. No measurement of crossed wires was found: this
shows the algebra right, not the physics.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from chainplan.heat.conductance.contact import (
    ARGON_W_MK,
    POISSON,
    WireSurface,
    contact_conductance_w_k,
    gap_conductance_w_k,
    relative_radius_mm,
    solid_conductance_w_k,
)

METALS = {
    # conductivity, modulus, hardness; the hardness lies in the table's own 0.9 to 2.5 GPa
    "sterling": (361.0, 75.0, 1.0),
    "copper": (390.0, 117.0, 0.9),
    "brass": (120.0, 110.0, 1.3),
    "stainless": (15.0, 193.0, 2.5),
}
LOADS_MN = (0.01, 0.1, 1.0, 10.0, 100.0)
TABLE = {
    "sterling": (0.51, 0.52, 0.60, 1.3, 4.7),
    "copper": (0.51, 0.52, 0.62, 1.4, 4.8),
    "brass": (0.51, 0.51, 0.53, 0.71, 1.7),
    "stainless": (0.51, 0.51, 0.51, 0.52, 0.60),
}


def surface(metal: str, wire_mm: float = 1.0, inner_mm: float = 4.5) -> WireSurface:
    conductivity, modulus, hardness = METALS[metal]
    return WireSurface(
        radius_mm=wire_mm / 2,
        inner_radius_mm=inner_mm / 2,
        conductivity_w_mk=conductivity,
        modulus_gpa=modulus,
        hardness_gpa=hardness,
    )


@pytest.mark.parametrize("metal", TABLE)
def test_link_conductance_agrees_with_the_table(metal):
    """Half the last printed digit, and 4 % where hardness was not printed."""
    wire = surface(metal)
    got = [1000 * contact_conductance_w_k(wire, wire, load) for load in LOADS_MN]
    for value, printed in zip(got, TABLE[metal], strict=True):
        assert value == pytest.approx(printed, abs=0.006, rel=0.04)


def test_solid_part_of_a_sterling_link_agrees_with_the_table():
    """0.001, 0.011, 0.097, 0.77, 4.2 mW/K."""
    wire = surface("sterling")
    got = [1000 * solid_conductance_w_k(wire, wire, load) for load in LOADS_MN]
    assert got == pytest.approx([0.001, 0.011, 0.097, 0.77, 4.2], rel=0.02, abs=5e-4)


def test_wires_touch_over_the_whole_spot_at_most():
    """Softer than the pressure in the spot, by Hertz: the spot conducts as one, however soft."""
    wire, load_mn = surface("sterling"), 300.0
    radius_m = relative_radius_mm(wire, wire, linked=True) * 1e-3
    bends = (1 - POISSON**2) * 2 / (wire.modulus_gpa * 1e9)
    spot_m = (0.75 * load_mn * 1e-3 * radius_m * bends) ** (1 / 3)
    pressure_gpa = load_mn * 1e-3 / (math.pi * spot_m**2) * 1e-9
    full, soft, hard = (
        solid_conductance_w_k(each, each, load_mn)
        for each in (replace(wire, hardness_gpa=pressure_gpa * part) for part in (0.1, 0.7, 1.4))
    )
    assert soft == full
    assert hard < full


def test_gas_gap_agrees_with_the_table_in_air_and_argon():
    """0.505 mW/K in air, 0.34 in argon; 0.28, 0.64, 1.13 for other sizes."""
    wire = surface("sterling")
    assert 1000 * gap_conductance_w_k(wire, wire) == pytest.approx(0.505, abs=5e-4)
    assert 1000 * gap_conductance_w_k(wire, wire, ARGON_W_MK) == pytest.approx(0.34, abs=0.005)
    for wire_mm, inner_mm, gap, total in (
        (0.6, 2.5, 0.28, 1.0),
        (1.2, 5.0, 0.64, 1.4),
        (2.0, 10.0, 1.13, 2.0),
    ):
        other = surface("sterling", wire_mm, inner_mm)
        assert 1000 * gap_conductance_w_k(other, other) == pytest.approx(gap, abs=0.006)
        joined = 1000 * contact_conductance_w_k(other, other, 10.0)
        assert joined == pytest.approx(total, abs=0.05)
