"""The welded ring before its heat has spread: a one-dimensional solution along its wire.

How far one temperature a ring is right, by finite elements of rings of 0.8 to 2 mm wire
(``tests/validation/heat/test_lump_against_finite_elements.py``), as shares of the welded ring's
mean rise: the mean of a lone ring is exact for any metal; linked silver rings are two lumps within
0.6 %; of linked stainless rings the welded one is up to 3 % too cool and its neighbour up to 3 %
too warm, since half the wire lies in series with the contact. The join itself is hotter than the
mean until three times ``spread_time_s``: 0.1 to 0.6 s in silver, 4 to 24 s in stainless, where this
solution is right within 3 % from when heat has gone two wires far. Of a part that conducts poorly
the spot that touches follows the ring (0.86 of its rise in amber, 0.21 in rock crystal, silver
ring), which one node for the part does not tell (0.14); ``heat/touching.py`` does.

So the limits take this, where wire takes longer than half a second to even out (``find_uneven``):

- *Fingers* take hold of whole rings, so a ring that was just welded counts for them with its join
  (``model/thermal/uneven.py``): never below the elements and up to 7 % above them.
- *Rings before their welds* have not been welded themselves; what comes to them comes through their
  contacts, mostly later than the lump has it, since these lie a quarter of the ring from the join
  in the middle. The nearest lies at 20 degrees (all weaves of the library): such a neighbour is
  warmed sooner, by up to 4 % of the welded ring's rise (stainless; silver 0.6 %). That is left out
  as the lump's tolerance: it is one weld's share of one of its neighbours, gone within a minute.
- *Parts* are at or below what the ring's mean does to them where they touch it a quarter of the
  ring or more from its join, where the waves only take away; the plan says so where it matters.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.heat.tuning import tuning
from chainplan.model.thermal.heat import HotZone
from chainplan.model.thermal.uneven import Uneven

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.arrays import FloatArray
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout


def diffusivity_m2_s(metal: Metal) -> float:
    """Thermal diffusivity ``k/(ρ·c_p)``. [m²/s]."""
    volumetric = metal.density_g_cm3.usual * 1000 * metal.specific_heat_j_kg_k.usual
    return metal.conductivity_w_m_k.usual / volumetric


def ring_source_rise_k(
    place_mm: npt.ArrayLike,
    time_s: npt.ArrayLike,
    *,
    mean_rise_k: float,
    circumference_mm: float,
    diffusivity_m2_s: float,
    decay_per_s: float = 0.0,
) -> FloatArray:
    """Rise along a closed ring after a short pulse at one place. [K].

    Parameters
    ----------
    place_mm : array_like
        Distance along the wire from the join. [mm]
    time_s : array_like
        Time since the pulse, above 0. [s]
    mean_rise_k : float
        Heat over heat capacity of the whole ring, q/C. [K]
    circumference_mm : float
        Length of the wire, π·(ID + d). [mm]
    diffusivity_m2_s : float
        k/(ρ·c_p). [m²/s]
    decay_per_s : float
        Loss to the air over heat capacity, H/C. [1/s]

    Notes
    -----
    ``q/C·e^(−μt)·[1 + 2·Σ exp(−α(2πn/S)²t)·cos(2πn·x/S)]``; for a ring much longer than √(αt) it is
    the instantaneous plane source in a rod (Carslaw & Jaeger, chapter X, from memory). Early times
    need about ``S/√(αt)`` terms; 4000 are summed at most.

    Examples
    --------
    >>> rise = ring_source_rise_k(
    ...     [0.0], [0.2], mean_rise_k=174.16, circumference_mm=17.279,
    ...     diffusivity_m2_s=1.4223e-4, decay_per_s=0.04728,
    ... )
    >>> round(float(rise[0]), 1)
    180.5
    """
    place, time = np.broadcast_arrays(
        np.asarray(place_mm, dtype=np.float64), np.asarray(time_s, dtype=np.float64)
    )
    shortest = float(time.min(initial=np.inf))
    wave = 2 * math.pi / (circumference_mm * 1e-3)
    damping = diffusivity_m2_s * wave**2
    wanted = math.sqrt(40.0 / max(damping * shortest, 1e-300))
    terms = int(min(max(math.ceil(wanted), 1), tuning().source_terms))
    number = np.arange(1, terms + 1)
    shape = place[..., None] * 1e-3 * wave * number
    series = np.exp(-damping * number**2 * time[..., None]) * np.cos(shape)
    rise: FloatArray = mean_rise_k * np.exp(-decay_per_s * time) * (1 + 2 * series.sum(axis=-1))
    return rise


def find_uneven(layout: Layout, metals: Sequence[Metal]) -> Uneven:
    """Rings that fingers feel at their joins for seconds; ``metals`` of the layout's materials.

    ``spread = S²/(4π²α)`` of each ring's own wire, 0 where that is below half a second: there 3 s
    after its weld (half of what handling a join takes) the join is less than 1.2 % of the ring's
    rise above its mean.
    """
    alpha = np.array([diffusivity_m2_s(metal) for metal in metals])[layout.material]
    spread = (layout.mean_radius_mm * 1e-3) ** 2 / alpha
    slow = spread >= tuning().slow_s
    return Uneven(
        spread_s=np.where(slow, spread, 0.0),
        soonest_s=np.where(slow, (layout.wire_mm * 1e-3) ** 2 / alpha, 0.0),
    )


def hot_zones(
    layout: Layout,
    metals: Sequence[Metal],
    *,
    loss_w_k: FloatArray,
    capacity_j_k: FloatArray,
    join_heat_j: FloatArray,
) -> tuple[HotZone, ...]:
    """Say for each of the layout's materials how soon a welded ring is of one temperature.

    The Biot-type number is the ring's loss to the air over the conductance of a quarter of its
    wire, ``H/(k·A/(S/4))``; far below 0.1 the ring cools as one lump. ``spread_time_s`` is the time
    constant of the slowest wave along the wire, ``S²/(4π²α)``: after three of them the wave is down
    to a tenth of the mean rise. Every array is by ring; the ring with the greatest rise of a
    material speaks for it.
    """
    zones = []
    for index, metal in enumerate(metals):
        here = np.flatnonzero(layout.material == index)
        if here.size == 0:
            continue
        ring = int(here[np.argmax(join_heat_j[here] / capacity_j_k[here])])
        around_mm = 2 * math.pi * float(layout.mean_radius_mm[ring])
        alpha = diffusivity_m2_s(metal)
        area_m2 = math.pi * (float(layout.wire_mm[ring]) * 1e-3) ** 2 / 4
        wire_w_k = metal.conductivity_w_m_k.usual * area_m2 / (around_mm * 1e-3 / 4)
        mean_rise = float(join_heat_j[ring] / capacity_j_k[ring])
        decay = float(loss_w_k[ring] / capacity_j_k[ring])
        spot = ring_source_rise_k(
            0.0,
            1.0,
            mean_rise_k=mean_rise,
            circumference_mm=around_mm,
            diffusivity_m2_s=alpha,
            decay_per_s=decay,
        )
        zones.append(
            HotZone(
                section=layout.materials[index].section,
                metal=layout.materials[index].metal,
                spread_time_s=(around_mm * 1e-3) ** 2 / (4 * math.pi**2 * alpha),
                biot=float(loss_w_k[ring]) / wire_w_k,
                spot_rise_1s_k=float(spot),
                mean_rise_k=mean_rise,
            )
        )
    return tuple(zones)
