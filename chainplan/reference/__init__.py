"""Metals, parts, gas, law and cautions: data with a source on every row, read when asked for."""

from chainplan.reference.cautions import Caution, cautions
from chainplan.reference.checked.schema import TEMPERS
from chainplan.reference.metals import find_metal, hardness_of, metal_keys, metals, own_value
from chainplan.reference.parts import HeatLimit, find_part, part_keys, parts
from chainplan.reference.springback import (
    inner_from_mandrel_mm,
    inner_range_mm,
    mandrel_from_inner_mm,
)

__all__ = [
    "TEMPERS",
    "Caution",
    "HeatLimit",
    "cautions",
    "find_metal",
    "find_part",
    "hardness_of",
    "inner_from_mandrel_mm",
    "inner_range_mm",
    "mandrel_from_inner_mm",
    "metal_keys",
    "metals",
    "own_value",
    "part_keys",
    "parts",
]
