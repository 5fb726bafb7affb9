"""Mass of rings as bodies of wire."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.examine.reading import PlanFiles


def ring_mass_g(wire_mm: float, inner_mm: float, density_g_cm3: float) -> float:
    """Mass of a torus of wire, ``ρ·π²·d²·(ID + d)/4``. [g]."""
    return density_g_cm3 * math.pi**2 * wire_mm**2 * (inner_mm + wire_mm) / 4000


def ring_masses_g(
    files: PlanFiles, metal: Any, wire_mm: FloatArray, inner_mm: FloatArray
) -> FloatArray:
    """Mass of each ring by its own metal. [g]."""
    mass = np.zeros(len(metal))
    for key in np.unique(metal).tolist():
        own = metal == key
        density = files.value(f"metal.{key}.density_g_cm3")
        volume = math.pi**2 * wire_mm[own] ** 2 * (inner_mm[own] + wire_mm[own]) / 4000
        mass[own] = density * volume
    return mass
