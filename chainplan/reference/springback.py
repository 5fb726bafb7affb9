"""Springback of round wire: the ring that a mandrel gives, and the mandrel that a ring needs.

Wire of diameter ``d`` wound on a mandrel is bent to the mean radius ``R`` (of its centre line) and
opens to the mean radius ``R'`` when it is let go. Plane sections stay plane, the metal is elastic
up to its yield strength ``Y`` and perfectly plastic beyond, and springing back is elastic:
``1/R − 1/R' = M/(E·I)``. With ``s = 2·Y·R/(E·d)``, the share of the radius that stays elastic, the
moment of a round section, integrated over its chords, is in closed form

    M/(E·I) · R = m(s) = (2/π)·[asin s + s·√(1 − s²)·(5 − 2·s²)/3],     R/R' = 1 − m(s),

for s < 1; at s ≥ 1 the wire is only bent elastically and springs back straight. For small s,
``m → 16·s/(3π)``, so the round wire opens by 16/(3π) ÷ 3/2 = 1.13 times as much as the flat strip
of the same thickness, whose published formula is ``R/R' = 4X³ − 3X + 1`` with ``X = R·Y/(E·t)``.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.errors import InputError, Refusal
from chainplan.reference.metals import yield_of
from chainplan.reference.rising import reach_rising

if TYPE_CHECKING:
    from chainplan.model.metal import MeasuredRing, Metal


def sprung_share(elastic_share: float) -> float:
    """Share of the curvature that is lost when round wire is let go (no unit).

    Parameters
    ----------
    elastic_share : float
        ``s = 2·Y·R/(E·d)``, the share of the wire's radius that stays elastic. [-]

    Examples
    --------
    >>> round(sprung_share(1.0), 12), round(sprung_share(0.001) / 0.001, 4)
    (1.0, 1.6977)
    """
    if elastic_share >= 1:
        return 1.0
    s = elastic_share
    return (2 / math.pi) * (math.asin(s) + s * math.sqrt(1 - s * s) * (5 - 2 * s * s) / 3)


def sprung_share_of_strip(elastic_share: float) -> float:
    """Share of the curvature that a flat strip loses, for comparison (no unit).

    Notes
    -----
    ``3X − 4X³`` with ``X = R·Y/(E·t) = s/2``.

    References
    ----------
    .. [1] Kalpakjian and Schmid, Manufacturing Engineering and Technology, from memory.
    """
    half = min(elastic_share, 1.0) / 2
    return 3 * half - 4 * half**3


def _yield_strain(metal: Metal, temper: str, calibration: MeasuredRing | None) -> float:
    if calibration is not None:
        return yield_strain_of(calibration)
    return yield_of(metal, temper).usual / (metal.modulus_gpa.usual * 1000)


def yield_strain_of(ring: MeasuredRing) -> float:
    """Yield strain Y/E that explains a measured ring (no unit).

    Raises
    ------
    InputError
        If the ring is not larger than its mandrel.
    """
    bent_mm = (ring.mandrel_mm + ring.wire_mm) / 2
    let_go_mm = (ring.inner_mm + ring.wire_mm) / 2
    if not let_go_mm > bent_mm:
        found = (
            f"the measured ring is {ring.inner_mm:g} mm inside on a mandrel of "
            f"{ring.mandrel_mm:g} mm"
        )
        raise InputError(Refusal(found, "a ring comes out larger than its mandrel"))
    lost = 1 - bent_mm / let_go_mm
    low, high = 0.0, 1.0
    for _ in range(200):
        middle = (low + high) / 2
        if sprung_share(middle) < lost:
            low = middle
        else:
            high = middle
    return high * ring.wire_mm / (2 * bent_mm)


def _check_sizes(wire_mm: float, other_mm: float, what: str) -> None:
    for name, value in (("wire", wire_mm), (what, other_mm)):
        if not (math.isfinite(value) and value > 0):
            found, allowed = f"{name} diameter is {value!r}", "it must be a length above 0 mm"
            raise InputError(Refusal(found, allowed))


def _inner_mm(wire_mm: float, mandrel_mm: float, yield_strain: float) -> float:
    bent_mm = (mandrel_mm + wire_mm) / 2
    lost = sprung_share(2 * yield_strain * bent_mm / wire_mm)
    return 2 * bent_mm / (1 - lost) - wire_mm if lost < 1 else math.inf


def inner_from_mandrel_mm(
    wire_mm: float,
    mandrel_mm: float,
    metal: Metal,
    temper: str = "annealed",
    *,
    calibration: MeasuredRing | None = None,
) -> float:
    """Inner diameter of the ring that a mandrel gives after springback, in mm.

    As it springs off the coil: closing a saw cut takes kerf/π off it, which a measured ring shows.

    Parameters
    ----------
    wire_mm, mandrel_mm : float
        Diameters of the wire and the mandrel. [mm]
    metal : Metal
        Gives the modulus and the yield strength.
    temper : str
        Temper of the wire, such as ``"half-hard"``.
    calibration : MeasuredRing, optional
        A ring of the same metal and temper that the user measured; replaces modulus and yield.

    Raises
    ------
    InputError
        If a size is not positive, the temper is not known for the metal, or the mandrel is so wide
        that the wire would only bend elastically.

    Examples
    --------
    >>> from chainplan.reference import find_metal
    >>> round(inner_from_mandrel_mm(1.0, 4.0, find_metal("sterling-silver")), 3)
    4.071
    """
    _check_sizes(wire_mm, mandrel_mm, "mandrel")
    inner_mm = _inner_mm(wire_mm, mandrel_mm, _yield_strain(metal, temper, calibration))
    if not math.isfinite(inner_mm):
        found = (
            f"wire of {wire_mm:g} mm on a mandrel of {mandrel_mm:g} mm only bends elastically "
            f"in {metal.title}, {temper}: it springs back straight"
        )
        raise InputError(Refusal(found, "use a thinner mandrel"))
    return inner_mm


def mandrel_from_inner_mm(
    wire_mm: float,
    inner_mm: float,
    metal: Metal,
    temper: str = "annealed",
    *,
    calibration: MeasuredRing | None = None,
) -> float:
    """Mandrel that gives a ring of the wanted inner diameter after springback, in mm.

    The inverse of :func:`inner_from_mandrel_mm`, by bisection to better than 1e-12 of the size.

    Raises
    ------
    InputError
        As :func:`inner_from_mandrel_mm`; also if even the thinnest mandrel gives a larger ring.
    """
    _check_sizes(wire_mm, inner_mm, "inner")
    strain = _yield_strain(metal, temper, calibration)
    if _inner_mm(wire_mm, 0.0, strain) > inner_mm:
        found = (
            f"no mandrel gives a ring of {inner_mm:g} mm from {wire_mm:g} mm {metal.title}, "
            f"{temper}: springback alone is more"
        )
        raise InputError(Refusal(found, "use softer wire"))
    return reach_rising(lambda rod_mm: _inner_mm(wire_mm, rod_mm, strain), inner_mm, inner_mm)


def inner_range_mm(
    wire_mm: float, mandrel_mm: float, metal: Metal, temper: str = "annealed"
) -> tuple[float, float]:
    """Smallest and largest inner diameter that the ranges of yield and modulus allow, in mm."""
    strength = yield_of(metal, temper)
    stiffness = metal.modulus_gpa
    low = strength.low / (stiffness.high * 1000)
    high = strength.high / (stiffness.low * 1000)
    return _inner_mm(wire_mm, mandrel_mm, low), _inner_mm(wire_mm, mandrel_mm, high)
