"""The energy of one pulse: what it must melt, and what runs away along the wire meanwhile.

A pulse that closes a join melts a pool as wide as its spot and as deep as the wire. Half an
ellipsoid fills two thirds of the cylinder "wire section × spot"; a half to all of it is taken as
the range. During the pulse heat runs off along the wire to both sides. The bar is one-dimensional,
its heat is released evenly over the spot's width ``w`` and the pulse's length ``τ``; of what was
released a time ``t`` ago, the share

    F = erf(z/√2) − √(2/π)·(1 − exp(−z²/2))/z,     z = w/√(2·α·t)

is still inside the spot (α the diffusivity), and its mean over the pulse is what the pool keeps.
With the share η of the set energy that reaches the ring at all, the power to set is

    E = melted volume · ρ·(cp·(T_liquidus − T_room) + L) / (kept share · η).
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

from chainplan.estimate.tuning import tuning
from chainplan.frozen import frozen

if TYPE_CHECKING:
    from chainplan.model.bench import Bench
    from chainplan.model.bench.groups import WelderSettings
    from chainplan.model.metal import Metal


@frozen
class PulseNeed:
    """Power that one pulse needs, with what it was computed from."""

    low_j: float
    usual_j: float
    high_j: float
    melt_j: float  # heat in the molten pool alone
    kept_share: float
    spot_mm: float
    depth_mm: float


def spot_mm(power_j: float, welder: WelderSettings) -> float:
    """Diameter of the molten spot at a power, on the straight line of the bench profile, in mm."""
    span_j = welder.highest_power_j - welder.lowest_power_j
    if span_j <= 0:
        return welder.spot_at_highest_mm
    place = min(max((power_j - welder.lowest_power_j) / span_j, 0.0), 1.0)
    return welder.spot_at_lowest_mm + place * (welder.spot_at_highest_mm - welder.spot_at_lowest_mm)


def melting_heat_j_mm3(metal: Metal, room_c: float) -> float:
    """Heat that melts a cubic millimetre of metal from room temperature, in J/mm³.

    The specific heat rises on the way: its mean up to the liquidus counts, which for a metal of the
    user's own without one is taken as ``tuning().mean_over_room`` times that at 25 °C.
    """
    mean = metal.mean_specific_heat_j_kg_k
    mean_j_kg_k = (
        mean.usual
        if mean is not None
        else tuning().mean_over_room * metal.specific_heat_j_kg_k.usual
    )
    warming_j_g = mean_j_kg_k * (metal.liquidus_c.usual - room_c) / 1000
    return metal.density_g_cm3.usual / 1000 * (warming_j_g + metal.latent_heat_kj_kg.usual)


def segment_mm2(wire_mm: float, depth_mm: float) -> float:
    """Area of a round wire's section from its surface down to a depth, in mm²."""
    radius = wire_mm / 2
    depth = min(max(depth_mm, 0.0), wire_mm)
    height = radius - depth
    return radius**2 * math.acos(height / radius) - height * math.sqrt(
        max(radius**2 - height**2, 0.0)
    )


def kept_share(spot: float, pulse_s: float, diffusivity_mm2_s: float) -> float:
    """Share of a pulse's heat that is still within the spot when the pulse ends (no unit).

    Parameters
    ----------
    spot : float
        Width of the spot along the wire. [mm]
    pulse_s : float
        Length of the pulse. [s]
    diffusivity_mm2_s : float
        k/(ρ·cp) of the metal. [mm²/s]

    Notes
    -----
    The mean of F over the pulse by the midpoint rule in √t, where F is smooth.

    Examples
    --------
    >>> kept_share(1.0, 1e-12, 100.0) > 0.999, kept_share(1.0, 1e6, 100.0) < 0.001
    (True, True)
    """
    return _kept_share(spot, pulse_s, diffusivity_mm2_s, tuning().depth_points)


@lru_cache(maxsize=10_000)  # the pieces of a catalogue ask for the same few hundred again and again
def _kept_share(spot: float, pulse_s: float, diffusivity_mm2_s: float, points: int) -> float:
    total = 0.0
    for k in range(points):
        u = (k + 0.5) / points
        z = spot / math.sqrt(2 * diffusivity_mm2_s * pulse_s) / u
        inside = math.erf(z / math.sqrt(2))
        inside -= math.sqrt(2 / math.pi) * -math.expm1(-z * z / 2) / z
        total += inside * 2 * u
    return total / points


def diffusivity_mm2_s(metal: Metal, conductivity_w_m_k: float | None = None) -> float:
    """Thermal diffusivity k/(ρ·cp), in mm²/s.

    Examples
    --------
    >>> from chainplan.reference import find_metal
    >>> round(diffusivity_mm2_s(find_metal("sterling-silver")), 2)
    141.65
    """
    k = metal.conductivity_w_m_k.usual if conductivity_w_m_k is None else conductivity_w_m_k
    heat_j_m3_k = metal.density_g_cm3.usual * 1000 * metal.specific_heat_j_kg_k.usual
    return k / heat_j_m3_k * 1e6


def pulse_need(
    metal: Metal, wire_mm: float, depth_mm: float, bench: Bench, *, spot: float
) -> PulseNeed:
    """Power that one pulse needs to melt the join to a depth, as low, usual and high.

    Parameters
    ----------
    metal : Metal
        What the wire is made of.
    wire_mm, depth_mm : float
        Wire diameter, and how deep the pool must reach. [mm]
    bench : Bench
        Gives pulse length, room temperature and arc share.
    spot : float
        Diameter of the spot. [mm]
    """
    melt_j = _melt_j(metal, wire_mm, depth_mm, bench, spot)
    k = metal.conductivity_w_m_k
    kept = [
        kept_share(spot, bench.welder.pulse_s, diffusivity_mm2_s(metal, value))
        for value in (k.low, k.usual, k.high)
    ]
    arc = (bench.heat.arc_share_high, bench.heat.arc_share_usual, bench.heat.arc_share_low)
    low, usual, high = (
        pool * melt_j / share / reach
        for pool, share, reach in zip(tuning().pool_share, kept, arc, strict=True)
    )
    return PulseNeed(
        low_j=low,
        usual_j=usual,
        high_j=high,
        melt_j=tuning().pool_share[1] * melt_j,
        kept_share=kept[1],
        spot_mm=spot,
        depth_mm=depth_mm,
    )


def _melt_j(metal: Metal, wire_mm: float, depth_mm: float, bench: Bench, spot: float) -> float:
    """Heat that melts wire section × spot down to a depth, in J."""
    volume_mm3 = segment_mm2(wire_mm, depth_mm) * spot
    return volume_mm3 * melting_heat_j_mm3(metal, bench.heat.room_c)


def _usual_j(metal: Metal, wire_mm: float, depth_mm: float, bench: Bench, spot: float) -> float:
    """Compute the usual power of :func:`pulse_need` alone, for searches, in J."""
    kept = kept_share(spot, bench.welder.pulse_s, diffusivity_mm2_s(metal))
    melt_j = _melt_j(metal, wire_mm, depth_mm, bench, spot)
    return tuning().pool_share[1] * melt_j / kept / bench.heat.arc_share_usual


def power_for_depth(metal: Metal, wire_mm: float, depth_mm: float, bench: Bench) -> PulseNeed:
    """Power at which the pulse's own spot is melted to a depth; more than the highest if none is.

    A higher power makes a wider spot, which needs more heat; the power looked for is the one that
    is just enough for its own spot, by bisection between the profile's ends.
    """

    def usual_j(power_j: float) -> float:
        return _usual_j(metal, wire_mm, depth_mm, bench, spot_mm(power_j, bench.welder))

    low, high = bench.welder.lowest_power_j, bench.welder.highest_power_j
    found = high
    if usual_j(low) <= low:
        found = low
    elif usual_j(high) <= high:
        for _ in range(30):
            middle = (low + high) / 2
            if usual_j(middle) > middle:
                low = middle
            else:
                high = middle
        found = high
    return pulse_need(metal, wire_mm, depth_mm, bench, spot=spot_mm(found, bench.welder))


def depth_at_highest_mm(
    metal: Metal, wire_mm: float, bench: Bench, *, factor: float = 1.0
) -> float:
    """How deep one pulse at the highest power melts a wire, at most its diameter, in mm.

    ``factor`` times more power is needed than estimated, where the user's own record says so.
    """
    power_j = bench.welder.highest_power_j
    spot = spot_mm(power_j, bench.welder)
    whole_j = factor * _usual_j(metal, wire_mm, wire_mm, bench, spot)
    if whole_j <= power_j:
        return wire_mm
    area_mm2 = segment_mm2(wire_mm, wire_mm) * power_j / whole_j  # power goes with the area
    low, high = 0.0, wire_mm
    for _ in range(50):
        middle = (low + high) / 2
        if segment_mm2(wire_mm, middle) > area_mm2:
            high = middle
        else:
            low = middle
    return low
