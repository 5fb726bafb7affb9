"""Wire and metal in one closed ring."""

from __future__ import annotations

import math


def ring_wire_mm(wire_mm: float, inner_mm: float) -> float:
    """Wire in one closed ring, without the kerf: ``π·(ID + d)``, in mm.

    Examples
    --------
    >>> round(ring_wire_mm(1.0, 4.0), 3)
    15.708
    """
    return math.pi * (inner_mm + wire_mm)


def wire_area_mm2(wire_mm: float) -> float:
    """Section of round wire, in mm²."""
    return math.pi / 4 * wire_mm**2


def ring_mass_g(wire_mm: float, inner_mm: float, density_g_cm3: float) -> float:
    """Mass of one closed ring, in g.

    Notes
    -----
    ``ρ·π²·d²·(ID + d)/4`` (Pappus), exact for round wire and no gap.

    Examples
    --------
    >>> round(ring_mass_g(1.0, 4.0, 10.36), 4)
    0.1278
    """
    return ring_wire_mm(wire_mm, inner_mm) * wire_area_mm2(wire_mm) * density_g_cm3 / 1000
