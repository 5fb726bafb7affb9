"""A value with its range and source, and a metal made of such values."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Mapping


@frozen
class Value:
    """A number with its unit, its range and where it comes from."""

    usual: float
    low: float
    high: float
    unit: str
    source: str  # "CRC Handbook, from memory", "common practice, no source", "invented default" …


@frozen
class MeasuredRing:
    """A ring that the user wound on a mandrel and measured: it calibrates the springback."""

    wire_mm: float
    mandrel_mm: float
    inner_mm: float
    metal: str = ""  # key; "" where it is clear which metal is meant
    temper: str = "annealed"
    note: str = ""


@frozen
class MetalLimit:
    """What a metal does when a whole ring of it is held warm for minutes, outside the argon."""

    effect: str  # "darkening", "heat tint", "softening"
    limit_c: Value
    fact: str
    tempers: tuple[str, ...] = ()  # of which tempers it holds; empty: of all


@frozen
class Metal:
    """A metal with what geometry, heat, estimates and cautions need to know of it."""

    key: str
    title: str
    aliases: tuple[str, ...]
    density_g_cm3: Value
    specific_heat_j_kg_k: Value  # at 25 °C: of a warm piece
    conductivity_w_m_k: Value
    solidus_c: Value
    liquidus_c: Value
    latent_heat_kj_kg: Value
    emissivity: Value  # total, as clean metal on the bench
    modulus_gpa: Value
    yield_mpa: Mapping[str, Value]  # by temper
    mean_specific_heat_j_kg_k: Value | None = None  # from 25 °C to melting: for melting alone
    hardness_gpa: Value | None = None  # indentation, for contact conductance; annealed
    hardness_by_temper: Mapping[str, Value] = field(default_factory=dict)  # where it is harder
    weldability: str = "fair"  # good / fair / awkward / never
    weld_note: str = ""
    fume_caution: str = ""
    skin_caution: str = ""
    precious: str = ""  # "silver", "gold", "platinum", "palladium" or ""
    fineness: int | None = None  # parts per thousand
    notes: Mapping[str, str] = field(default_factory=dict)
    limits: tuple[MetalLimit, ...] = ()  # none: nothing that matters before it melts
