"""Keys of the program as people say them: metals, weaves, stations, metal properties."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from chainplan.errors import ChainplanError
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.piece.fittings import CONNECTING
from chainplan.reference import find_metal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.model.metal import Metal
    from chainplan.model.piece.count import Count

_PROPERTIES = {
    "density_g_cm3": "density",
    "specific_heat_j_kg_k": "specific heat",
    "mean_specific_heat_j_kg_k": "specific heat, mean up to melting",
    "conductivity_w_m_k": "conducts heat",
    "solidus_c": "begins to melt (solidus)",
    "liquidus_c": "all melted (liquidus)",
    "latent_heat_kj_kg": "heat to melt",
    "emissivity": "emissivity of a bright surface",
    "modulus_gpa": "elastic modulus",
    "hardness_gpa": "hardness",
    "yield_mpa": "yield strength",
}
_PROPER = ("persian", "pind", "japanese", "european", "byzantine")
_UNITS = {"1": "", "l": "L", "m3": "m³", "g/cm3": "g/cm³", "per hour": "per hour"}


def spoken_weave(key: str) -> str:
    """Name a weave by its key.

    Examples
    --------
    >>> spoken_weave("european-4-in-1"), spoken_weave("byzantine")
    ('European 4-in-1', 'Byzantine')
    """
    if key == LOOSE_JOINS:
        return "Single joins"
    if key == CONNECTING:
        return "Connecting rings"
    text = re.sub(r"(\d+) in (\d+)", r"\1-in-\2", key.replace("-", " "))
    text = " ".join(word.capitalize() if word in _PROPER else word for word in text.split())
    return text[:1].upper() + text[1:]


def spoken_metal(key: str, own: Mapping[str, Metal]) -> str:
    """Name a metal by its key; an unknown key stands for itself."""
    try:
        return find_metal(key, own).title
    except ChainplanError:
        return key


def spoken_missing(names: Sequence[str], own: Mapping[str, Metal]) -> list[str]:
    """Name what a price is without as a customer reads it: no keys, no stores of the workshop.

    Examples
    --------
    >>> spoken_missing(["sterling-silver", "argon", "hallmark"], {})
    ['Sterling silver 925', 'workshop supplies', 'hallmark']
    """
    return ["workshop supplies" if name == "argon" else spoken_metal(name, own) for name in names]


def spoken_metals(count: Count, own: Mapping[str, Metal]) -> str:
    """Name the metals of a counted section, with how many rings each has if there are several."""
    if not count.metals:
        return spoken_metal(count.metal, own)
    return ", ".join(f"{item.rings} × {spoken_metal(item.metal, own)}" for item in count.metals)


def spoken_property(title: str) -> str:
    """Name a metal's property in a title such as "Copper: solidus_c".

    Examples
    --------
    >>> spoken_property("Copper: solidus_c"), spoken_property("Copper: yield_mpa.hard")
    ('Copper: begins to melt (solidus)', 'Copper: yield strength, hard')
    """
    metal, colon, name = title.rpartition(": ")
    base, dot, temper = name.partition(".")
    if not colon or base not in _PROPERTIES:
        return title
    return f"{metal}: {_PROPERTIES[base]}" + (f", {temper}" if dot else "")


def spoken_unit(unit: str) -> str:
    """Write a unit as people do."""
    return _UNITS.get(unit, unit)
