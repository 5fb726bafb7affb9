"""Shipped metals against handbook values that can be computed or looked up independently."""

import pytest

from chainplan.reference import find_metal


@pytest.mark.parametrize(
    ("metal", "density", "cp", "conductivity", "solidus", "liquidus"),
    [
        ("fine-silver", 10.49, 235, 429, 961.8, 961.8),
        ("sterling-silver", 10.36, 245, 361, 802, 893),
        ("copper", 8.94, 385, 391, 1065, 1083),
        ("brass", 8.53, 375, 120, 915, 955),
        ("gilding-metal", 8.80, 375, 189, 1020, 1045),
        ("phosphor-bronze", 8.86, 380, 69, 950, 1050),
        ("stainless-304", 8.00, 500, 16.2, 1400, 1450),
        ("stainless-316l", 8.00, 500, 16.3, 1375, 1400),
        ("titanium", 4.51, 523, 22, 1668, 1668),
        ("niobium", 8.57, 265, 53.7, 2477, 2477),
        ("aluminium", 2.71, 904, 222, 643, 657),
    ],
)
def test_the_range_of_a_metal_holds_the_handbook_values(
    metal, density, cp, conductivity, solidus, liquidus
):
    """CRC Handbook and Copper Development Association, from memory: within low to high."""
    found = find_metal(metal)
    pairs = [
        (found.density_g_cm3, density),
        (found.specific_heat_j_kg_k, cp),
        (found.conductivity_w_m_k, conductivity),
        (found.solidus_c, solidus),
        (found.liquidus_c, liquidus),
    ]
    for value, book in pairs:
        assert value.low * 0.9995 <= book <= value.high * 1.0005, (value, book)


def test_sterling_density_follows_the_rule_of_mixtures():
    """92.5 silver at 10.49 and 7.5 copper at 8.96 by mass give 10.357 g/cm³."""
    mixed = 1 / (0.925 / 10.49 + 0.075 / 8.96)
    assert find_metal("sterling-silver").density_g_cm3.usual == pytest.approx(mixed, rel=1e-3)


@pytest.mark.parametrize(
    ("metal", "resistivity_uohm_cm", "tolerance"),
    [("copper", 1.7241, 0.06), ("brass", 6.16, 0.05), ("phosphor-bronze", 11.5, 0.11),
     ("titanium", 45.0, 0.05), ("niobium", 15.0, 0.13)],
)  # fmt: skip
def test_conductivity_follows_from_the_resistivity(metal, resistivity_uohm_cm, tolerance):
    """Wiedemann–Franz, L = 2.44e-8 W·Ω/K², at 293 K; not for stainless."""
    computed = 2.44e-8 * 293 / (resistivity_uohm_cm * 1e-8)
    assert find_metal(metal).conductivity_w_m_k.usual == pytest.approx(computed, rel=tolerance)
