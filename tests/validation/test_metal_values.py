"""Shipped metals against libraries of cited data, and against sums over their elements."""

import warnings

import pytest

from chainplan.estimate.pulse.melting import melting_heat_j_mm3
from chainplan.reference import find_metal, hardness_of, metals

ELEMENTS = {
    "fine-silver": "7440-22-4",
    "gold-24ct": "7440-57-5",
    "copper": "7440-50-8",
    "titanium": "7440-32-6",
    "niobium": "7440-03-1",
}
"""CAS numbers of the metals that are elements, or nearly."""


def molar_mass(cas):
    """g/mol."""
    from chemicals import MW

    return MW(cas)


@pytest.mark.parametrize("metal", ELEMENTS)
def test_elements_melt_where_and_with_the_heat_that_the_crc_handbook_says(metal):
    """CRC Handbook, 95th edition, as the library chemicals holds it."""
    from chemicals import Hfus, Tm

    cas = ELEMENTS[metal]
    found = find_metal(metal)
    melting_c = Tm(cas, method="CRC_INORG") - 273.15
    latent_kj_kg = Hfus(cas, method="CRC") / molar_mass(cas)
    for value, book in (
        (found.liquidus_c, melting_c), (found.latent_heat_kj_kg, latent_kj_kg)
    ):  # fmt: skip
        assert value.low * 0.9995 <= book <= value.high * 1.0015, (value, book)


@pytest.mark.parametrize(
    ("metal", "cas", "methods"),
    [
        ("fine-silver", "7440-22-4", ("UNARY", "PERRY151")),
        ("gold-24ct", "7440-57-5", ("UNARY", "PERRY151")),
        ("copper", "7440-50-8", ("JANAF", "UNARY", "PERRY151")),
        ("niobium", "7440-03-1", ("JANAF", "UNARY")),
        ("aluminium", "7429-90-5", ("JANAF", "UNARY")),
    ],
)
def test_heat_up_to_melting_is_that_of_the_tables(metal, cas, methods):
    """NIST-JANAF, SGTE (Dinsdale 1991) and Perry's Handbook, as the library thermo holds them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from chemicals import Tm
        from thermo import HeatCapacitySolid
    found = find_metal(metal)
    capacity = HeatCapacitySolid(CASRN=cas, MW=molar_mass(cas))
    for method in methods:
        capacity.method = method
        melting_k = Tm(cas)
        heat_j_kg = 1000 * capacity.T_dependent_property_integral(298.15, melting_k)
        mean = heat_j_kg / molar_mass(cas) / (melting_k - 298.15)
        value = found.mean_specific_heat_j_kg_k
        assert value.low * 0.995 <= mean <= value.high * 1.005, (method, mean)
        at_25_c = 1000 * capacity.T_dependent_property(298.15) / molar_mass(cas)
        assert found.specific_heat_j_kg_k.usual == pytest.approx(at_25_c, rel=0.01), method


@pytest.mark.parametrize(
    ("metal", "shares"),
    [
        ("sterling-silver", {"Ag": 92.5, "Cu": 7.5}),
        ("gold-18ct-yellow", {"Au": 75, "Ag": 12.5, "Cu": 12.5}),
        ("gold-14ct-yellow", {"Au": 58.5, "Ag": 8, "Cu": 33.5}),
        ("gold-9ct-yellow", {"Au": 37.5, "Ag": 10, "Cu": 45, "Zn": 7.5}),
        ("brass", {"Cu": 70, "Zn": 30}),
        ("gilding-metal", {"Cu": 90, "Zn": 10}),
        ("phosphor-bronze", {"Cu": 95, "Sn": 5}),
    ],
)
def test_every_row_of_an_alloy_is_of_one_recipe(metal, shares):
    """Density by volumes, specific heat (Kopp–Neumann) and heat of melting by masses, of elements.

    Heats by CRC Handbook as chemicals holds them, densities by the same handbook. Real brass
    and bronze differ from the sum of their volumes by up to 3 %.
    """
    from chemicals import MW, CAS_from_any, Hfus

    density = {"Au": 19.3, "Ag": 10.5, "Cu": 8.96, "Zn": 7.134, "Sn": 7.287}
    capacity = {"Au": 129, "Ag": 235, "Cu": 385, "Zn": 388, "Sn": 227}
    share = {name: part / sum(shares.values()) for name, part in shares.items()}
    found = find_metal(metal)
    volume = sum(part / density[name] for name, part in share.items())
    assert found.density_g_cm3.usual == pytest.approx(1 / volume, rel=0.03)
    warm = sum(part * capacity[name] for name, part in share.items())
    assert found.specific_heat_j_kg_k.usual == pytest.approx(warm, rel=0.03)
    melting = 0.0
    for name, part in share.items():
        cas = CAS_from_any(name)
        melting += part * Hfus(cas, method="CRC") / MW(cas)
    assert found.latent_heat_kj_kg.usual == pytest.approx(melting, rel=0.01)


@pytest.mark.parametrize(
    ("metal", "low_j_g", "high_j_g"),
    [
        ("fine-silver", 345, 355), ("sterling-silver", 334, 368), ("gold-24ct", 205, 215),
        ("copper", 660, 685), ("niobium", 1130, 1170), ("aluminium", 1030, 1075),
        ("titanium", 1350, 1480), ("mild-steel", 1200, 1400), ("stainless-304", 1000, 1200),
    ],
)  # fmt: skip
def test_heat_to_melt_is_that_of_the_published_enthalpies(metal, low_j_g, high_j_g):
    """From 25 °C; sterling from quenched (334) to segregated (368), Hayes et al. 1986."""
    found = find_metal(metal)
    heat_j_g = 1000 * melting_heat_j_mm3(found, 25.0) / found.density_g_cm3.usual
    assert low_j_g <= heat_j_g <= high_j_g


@pytest.mark.parametrize(
    ("metal", "density", "cp", "conductivity", "solidus", "liquidus"),
    [
        ("brass", 8.53, 377, 121, 916, 954),
        ("gilding-metal", 8.80, 377, 189, 1021, 1043),
        ("phosphor-bronze", 8.86, 377, 69, 954, 1049),
        ("stainless-304", 7.9, 500, 15, 1400, 1450),
        ("stainless-316l", 8.0, 500, 15, 1375, 1400),
        ("aluminium", 2.71, 904, 222, 643, 657),
        ("mild-steel", 7.85, 440, 53.3, 1490, 1530),
    ],
)
def test_an_alloy_has_the_values_of_its_standard(
    metal, density, cp, conductivity, solidus, liquidus
):
    """Copper Development Association, EN 10088-1, Aluminum Association, EN 1993-1-2."""
    found = find_metal(metal)
    pairs = [
        (found.density_g_cm3, density),
        (found.specific_heat_j_kg_k, cp),
        (found.conductivity_w_m_k, conductivity),
        (found.solidus_c, solidus),
        (found.liquidus_c, liquidus),
    ]
    for value, book in pairs:
        assert value.usual == pytest.approx(book, rel=1e-3), (value, book)


@pytest.mark.parametrize(
    ("metal", "resistivity_uohm_cm", "tolerance"),
    [("copper", 1.7241, 0.06), ("brass", 6.16, 0.05), ("phosphor-bronze", 11.5, 0.11),
     ("titanium", 45.0, 0.05), ("niobium", 15.0, 0.13)],
)  # fmt: skip
def test_conductivity_follows_from_the_resistivity(metal, resistivity_uohm_cm, tolerance):
    """Wiedemann–Franz, L = 2.44e-8 W·Ω/K², at 293 K; not for stainless."""
    computed = 2.44e-8 * 293 / (resistivity_uohm_cm * 1e-8)
    assert find_metal(metal).conductivity_w_m_k.usual == pytest.approx(computed, rel=tolerance)


def test_soft_metals_are_soft_and_hard_tempers_harder():
    """GOST 7221-80: soft gold at most 0.29, soft silver at most 0.49 GPa, in the bulk."""
    for key, bulk_gpa in (("gold-24ct", 0.29), ("fine-silver", 0.49), ("aluminium", 0.25)):
        value = find_metal(key).hardness_gpa
        assert value.low <= bulk_gpa <= value.high
        assert value.usual < 0.6
    for metal in metals().values():
        ladder = [hardness_of(metal, temper).usual for temper in ("annealed", "hard", "spring")]
        assert ladder == sorted(ladder), metal.key
