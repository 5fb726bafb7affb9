"""Wire too thick for the highest power: groove, tacks, root run, fill with matching wire."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.estimate.pulse.melting import (
    depth_at_highest_mm,
    diffusivity_mm2_s,
    kept_share,
    melting_heat_j_mm3,
    spot_mm,
)
from chainplan.estimate.tuning import tuning
from chainplan.frozen import frozen

if TYPE_CHECKING:
    from chainplan.model.bench import Bench
    from chainplan.model.metal import Metal


@frozen
class GroovePlan:
    """How one join in thick wire is built up; both sides together."""

    groove_depth_mm: float  # from each side
    penetration_mm: float  # of one pulse at the highest power
    light_power_j: float
    tacks: int
    root_hits: int
    fill_hits: int
    smoothing_hits: int
    filler_mm: float  # length of filler wire
    filler_g: float
    equivalent_hits: int  # hits at the highest power with the same energy in all


def groove_volume_mm3(wire_mm: float, depth_mm: float, angle_deg: float) -> float:
    """Volume of a V-groove across round wire, cut from its surface to a depth, in mm³.

    Notes
    -----
    ``∫ chord(z) · 2·tan(θ/2)·(g − z) dz`` from the surface to the depth g, by Simpson's rule in
    √z, in which the chord is smooth.

    Examples
    --------
    >>> round(groove_volume_mm3(2.0, 1.0, 90.0), 4)  # 2·∫ chord·(1 − z) dz = 4/3 for radius 1
    1.3333
    """
    radius = wire_mm / 2
    slope = 2 * math.tan(math.radians(angle_deg) / 2)
    steps = 200

    def slice_mm2(u: float) -> float:
        z = depth_mm * u * u
        chord = 2 * math.sqrt(max(2 * radius * z - z * z, 0.0))
        return chord * slope * (depth_mm - z) * 2 * depth_mm * u

    inner = sum((4 if k % 2 else 2) * slice_mm2(k / steps) for k in range(1, steps))
    return (slice_mm2(0.0) + inner + slice_mm2(1.0)) / (3 * steps)


def plan_groove(metal: Metal, wire_mm: float, bench: Bench, *, factor: float = 1.0) -> GroovePlan:
    """Plan a join that the highest power does not penetrate even from two sides.

    A pulse melts in at most one spot's width of the filler wire fed to it. ``factor`` is what
    the user's own record says of the estimate: so many times more power than estimated is needed.
    """
    welder = bench.welder
    reach_mm = depth_at_highest_mm(metal, wire_mm, bench, factor=factor)
    groove_mm = max((wire_mm - 2 * reach_mm / tuning().overlap) / 2, 0.0)
    volume_mm3 = 2 * groove_volume_mm3(wire_mm, groove_mm, welder.groove_angle_deg)
    filler_mm3 = volume_mm3 * tuning().filler_loss
    filler_mm = filler_mm3 / (math.pi / 4 * welder.filler_wire_mm**2)
    power_j = welder.highest_power_j
    spot = spot_mm(power_j, welder)
    kept = kept_share(spot, welder.pulse_s, diffusivity_mm2_s(metal))
    heat_j = power_j / factor * bench.heat.arc_share_usual * kept
    melted_by_one_mm3 = heat_j / melting_heat_j_mm3(metal, bench.heat.room_c)
    radius = wire_mm / 2
    root_mm = 2 * math.sqrt(max(radius**2 - (radius - groove_mm) ** 2, 0.0))
    root_hits = 2 * max(1, math.ceil(root_mm / (tuning().advance * spot)))
    fill_hits = math.ceil(max(filler_mm3 / melted_by_one_mm3, filler_mm / spot))
    light_j = max(welder.lowest_power_j, tuning().light_share * power_j)
    smoothing = max(2, welder.smoothing_hits)
    energy_j = (root_hits + fill_hits) * power_j + (tuning().tacks + smoothing) * light_j
    return GroovePlan(
        groove_depth_mm=groove_mm,
        penetration_mm=reach_mm,
        light_power_j=light_j,
        tacks=tuning().tacks,
        root_hits=root_hits,
        fill_hits=fill_hits,
        smoothing_hits=smoothing,
        filler_mm=filler_mm,
        filler_g=filler_mm3 * metal.density_g_cm3.usual / 1000,
        equivalent_hits=math.ceil(energy_j / power_j),
    )
