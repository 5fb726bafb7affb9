"""What passes from ring to ring where two wires touch: solid spot and gas gap side by side."""

from __future__ import annotations

import math

from chainplan.frozen import frozen

ROUGHNESS_UM = 0.5
"""Height of both surfaces' roughness together, root mean square. Judgement: drawn wire is smooth.
Half of it raises a link of 1 mm silver at 6 mN by 39 %, twice lowers it by 27 %. [µm]"""
SLOPE = 0.1
"""Mean slope of the roughness. Judgement, from the same picture; half lowers that link by 23 %,
twice raises it by 35 % (no unit)."""
POISSON = 0.3
"""Of metals in general; 0.25 and 0.40 change that link by 0.3 % (no unit)."""
DEFAULT_HARDNESS_GPA = 1.5
"""Where a metal's hardness is not known: judgement, between soft copper (0.5) and steel (2.5)."""
TEMPERATURE_JUMP_UM = 0.75
"""Distance by which gas at both walls seems thicker than it is. Judgement: kinetic theory
(Smoluchowski: (2 − α)/α · 2γ/(γ + 1)/Pr · mean free path, α 0.87 to 1) gives 0.11 to 0.17 µm a wall
for air and argon at 1 bar; the rest is room for tarnish and dirt. Half and twice change that link
by 3 %. [µm]"""
AIR_W_MK = 0.0265
"""At 28 °C and 1 bar, CoolProp 8.0.0 (Lemmon, Jacobsen, Int. J. Thermophys. 25 (2004) 21).
[W/(m K)]"""
ARGON_W_MK = 0.0177
"""At 25 °C and 1 bar, CoolProp 8.0.0 (same authors). [W/(m K)]"""

CONTACT_SOURCE = (
    "Hertz contact, Cooper–Mikic–Yovanovich micro contact and a gas gap, formulas from memory; "
    "no measurement of crossed 1 mm wires at such loads was found"
)


@frozen
class WireSurface:
    """One of the two wires that touch."""

    radius_mm: float  # of the wire
    inner_radius_mm: float  # of the ring's opening
    conductivity_w_mk: float
    modulus_gpa: float
    hardness_gpa: float


def relative_radius_mm(one: WireSurface, other: WireSurface, *, linked: bool) -> float:
    """Radius of the sphere that touches a flat as these two wires touch. [mm].

    Linked rings lie in each other's openings: the convex wire (radius r) meets the concave inside
    of the ring (radius R_i) in both planes, ``1/R = 1/r − 1/R_i``; of the two planes the geometric
    mean is taken. Unlinked ones cross or lie side by side outside: ``1/R = 1/r``.
    """
    if not linked:
        return math.sqrt(one.radius_mm * other.radius_mm)
    first = 1 / one.radius_mm - 1 / max(other.inner_radius_mm, 1.02 * one.radius_mm)
    second = 1 / other.radius_mm - 1 / max(one.inner_radius_mm, 1.02 * other.radius_mm)
    return 1 / math.sqrt(first * second)


def solid_conductance_w_k(
    one: WireSurface, other: WireSurface, load_mn: float, *, linked: bool = True
) -> float:
    """Conductance through the metal spot under a load in millinewtons. [W/K].

    Notes
    -----
    Hertz radius ``a = (3·F·R/(4·E*))^(1/3)``; constriction ``2·k·a`` (Holm); within the spot
    ``1.25·k·(m/σ)·A·(P/H)^0.95`` (Cooper, Mikic, Yovanovich); the two in series. From memory.
    """
    if load_mn <= 0:
        return 0.0
    force_n = load_mn * 1e-3
    radius_m = relative_radius_mm(one, other, linked=linked) * 1e-3
    compliance = (1 - POISSON**2) * (1 / one.modulus_gpa + 1 / other.modulus_gpa) * 1e-9
    spot_m = math.cbrt(0.75 * force_n * radius_m * compliance)
    pair = (one.conductivity_w_mk, other.conductivity_w_mk)
    conductivity = 2 * pair[0] * pair[1] / (pair[0] + pair[1])
    hardness_pa = min(one.hardness_gpa, other.hardness_gpa) * 1e9
    area_m2 = math.pi * spot_m**2
    share: float = min(force_n / area_m2 / hardness_pa, 1.0)
    macro = 2 * conductivity * spot_m
    micro: float = 1.25 * conductivity * SLOPE / (ROUGHNESS_UM * 1e-6) * area_m2 * share**0.95
    return macro * micro / (macro + micro)


def gap_conductance_w_k(
    one: WireSurface, other: WireSurface, gas_w_mk: float = AIR_W_MK, *, linked: bool = True
) -> float:
    """Conductance through the gas beside the spot. [W/K].

    Parallel heat flow across the gap of a sphere on a flat, out to the wire's own radius:
    ``2π·k·R·ln(1 + r²/(2·R·s0))``, s0 the temperature-jump distance and the roughness of both.
    """
    radius_m = relative_radius_mm(one, other, linked=linked) * 1e-3
    wire_m = min(one.radius_mm, other.radius_mm) * 1e-3
    least_m = (TEMPERATURE_JUMP_UM + 2 * ROUGHNESS_UM) * 1e-6
    return 2 * math.pi * gas_w_mk * radius_m * math.log1p(wire_m**2 / (2 * radius_m * least_m))


def contact_conductance_w_k(
    one: WireSurface,
    other: WireSurface,
    load_mn: float,
    gas_w_mk: float = AIR_W_MK,
    *,
    linked: bool = True,
) -> float:
    """Conductance from ring to ring: solid spot and gas gap side by side. [W/K].

    Examples
    --------
    >>> sterling = WireSurface(
    ...     radius_mm=0.5, inner_radius_mm=2.25, conductivity_w_mk=361, modulus_gpa=75,
    ...     hardness_gpa=1.0,
    ... )
    >>> round(1000 * contact_conductance_w_k(sterling, sterling, load_mn=10), 1)
    1.3
    """
    solid = solid_conductance_w_k(one, other, load_mn, linked=linked)
    return solid + gap_conductance_w_k(one, other, gas_w_mk, linked=linked)


_MOST_LOAD_MN = 1e5
"""Where the search for a load ends: a hundred newtons, far beyond what a ring carries."""


def load_of_conductance_mn(one: WireSurface, other: WireSurface, link_w_k: float) -> float:
    """Load under which two linked wires conduct as much in air; 0 if the gas alone does. [mN].

    Examples
    --------
    >>> sterling = WireSurface(
    ...     radius_mm=0.5, inner_radius_mm=2.25, conductivity_w_mk=361, modulus_gpa=75,
    ...     hardness_gpa=1.0,
    ... )
    >>> link_w_k = contact_conductance_w_k(sterling, sterling, load_mn=10)
    >>> round(load_of_conductance_mn(sterling, sterling, link_w_k), 6)
    10.0
    """
    from scipy.optimize import brentq

    def excess(load_mn: float) -> float:
        return contact_conductance_w_k(one, other, load_mn) - link_w_k

    if excess(0.0) >= 0:
        return 0.0
    if excess(_MOST_LOAD_MN) <= 0:
        return _MOST_LOAD_MN
    return float(brentq(excess, 0.0, _MOST_LOAD_MN, xtol=1e-9, rtol=1e-12))
