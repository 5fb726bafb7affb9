"""The quick answer: how many rings of this size make this length of this weave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from chainplan.model.layout import Layout
    from chainplan.model.weave import Tolerance, Weave


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """Counts, geometry and metal of one section; one copy."""

    weave: str
    metal: str
    wire_mm: float
    inner_mm: float
    mandrel_mm: float | None
    aspect_ratio: float
    smallest_aspect_ratio: float
    verdict: str
    looseness: float
    reasons: tuple[str, ...]
    suitable_inner_mm: tuple[float, ...]
    rings: int
    joins: int
    links: int
    repeats: int
    rows: int
    rings_per_cm: float
    computed_rings_per_cm: float
    length_mm: float  # what whole repeats really give
    shorter_mm: float
    longer_mm: float
    width_mm: float
    thickness_mm: float
    ring_mass_g: float
    mass_g: float  # metal in the rings
    wire_length_m: float  # wire in the rings: π(ID + d) each
    wire_with_kerf_m: float  # the same with the metal that the saw takes
    tolerance: tuple[Tolerance, ...] = ()
    layout: Layout | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveDescription:
    """A weave, its limits, and what a ring of the user's makes of it."""

    weave: Weave
    smallest_aspect_ratio: float
    count: Count | None = None  # of a length of ten repeats or so, if a ring was given
    layout: Layout | None = None
