"""Masses: of each ring by its own metal, added up by section and piece."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.findings import as_number
from chainplan.examine.piece.counts import section_rows
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check
from chainplan.examine.space.mass import ring_mass_g, ring_masses_g

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

WAYS_OVER_PERCENT = {
    "box-chain": (5, 12), "byzantine": (20, 30), "half-persian-3-in-1": (45, 65),
    "jens-pind-3": (30, 45), "roundmaille": (0, 5),
}  # fmt: skip
"""How far above its smallest ratio a search found no way out of a fold yet, and one: known here
too, as nothing else in a plan's folder says it."""
_WAY_OVER = "the rings could leave the pattern"


@check("masses and wire add up")
def check_masses(files: PlanFiles, teller: Teller) -> None:
    """Rings by size × mass of one = mass of the section = mass in the estimates, and wire too."""
    kerf = files.value("bench.wire.kerf_mm")
    for piece in files.pieces:
        for number, section in enumerate(piece.record["sections"], 1):
            place = f"{piece.name}, section {number}"
            density = files.value(f"metal.{section['metal']}.density_g_cm3")
            rows = section_rows(piece, number)
            wire, inner = piece.wire_mm[rows], piece.rings["inner_mm"][rows]
            metal = piece.rings["metal"][rows].astype(str)
            each = ring_masses_g(files, metal, wire, inner)
            mass, length = float(each.sum()), float((math.pi * (inner + wire)).sum()) / 1000
            _check_metal_masses(place, metal, each, math.pi * (inner + wire), section, teller)
            if section["rings"] == 0:
                mass = length = 0.0
            ring = ring_mass_g(section["wire_mm"], section["inner_mm"], density)
            off = 2e-4  # sizes are written to a ten-thousandth
            teller.near(PLAN, f"{place}, mass_g", section["mass_g"], mass, off=off * mass)
            teller.near(PLAN, f"{place}, ring_mass_g", section["ring_mass_g"], ring)
            teller.near(
                PLAN, f"{place}, wire_length_m", section["wire_length_m"], length, off=off * length
            )
            teller.near(
                PLAN, f"{place}, wire_with_kerf_m", section["wire_with_kerf_m"],
                length + section["rings"] * kerf / 1000, off=off * length,
            )  # fmt: skip
            ratio = section["inner_mm"] / section["wire_mm"]
            teller.near(PLAN, f"{place}, aspect_ratio", section["aspect_ratio"], ratio)
            good = 0 <= section["smallest_aspect_ratio"] <= ratio + 1e-5
            unwoven = piece.is_loose or piece.connecting[number - 1]
            good &= (section["smallest_aspect_ratio"] == 0) == unwoven
            smallest = section["smallest_aspect_ratio"]
            teller.true(PLAN, f"{place}, smallest_aspect_ratio", good, smallest, f"up to {ratio:g}")
            _check_reasons(place, section, teller)


def _check_metal_masses(
    place: str,
    metal: Any,
    mass_g: FloatArray,
    wire_mm: FloatArray,
    section: dict[str, Any],
    teller: Teller,
) -> None:
    """Mass and wire of each metal of a design, ring by ring."""
    told: dict[str, list[float]] = {}
    for item in section.get("metals", []):
        sums = told.setdefault(item["metal"], [0.0, 0.0])
        sums[0] += item["mass_g"]
        sums[1] += item["wire_length_m"]
    for key, (mass, length) in told.items():
        own = metal == key
        expected = float(mass_g[own].sum())
        teller.near(PLAN, f"{place}, {key}, mass_g", mass, expected, off=2e-4 * expected)
        expected = float(wire_mm[own].sum()) / 1000
        teller.near(PLAN, f"{place}, {key}, wire_length_m", length, expected, off=2e-4 * expected)


def _check_reasons(place: str, section: dict[str, Any], teller: Teller) -> None:
    """Compare the sentences about a ring's fit with the numbers beside them."""
    smallest, ratio = section["smallest_aspect_ratio"], section["aspect_ratio"]
    for text in section["reasons"]:
        fit = re.match(
            r"aspect ratio ([\d.]+) is (\d+) % above the smallest computed one, ([\d.]+)", text
        )
        if fit:
            told, percent, least = (float(part) for part in fit.groups())
            good = abs(told - ratio) < 0.0051 * max(ratio, 1) and abs(least - smallest) < 0.00501
            good &= abs(percent - 100 * (ratio / smallest - 1)) < 0.51
            teller.true(PLAN, f"{place}, reasons", good, text, f"{ratio:.3g} and {smallest:.3g}")
        loose = re.match(r"gathered, it gives up at least (\d+) %", text)
        if loose:
            good = abs(float(loose.group(1)) - 100 * section["looseness"]) < 0.51
            teller.true(PLAN, f"{place}, looseness", good, text, section["looseness"])
    margins = WAYS_OVER_PERCENT.get(section["weave"])
    known = [] if margins is None else [_way_over(*margins)]
    said = [text for text in section["reasons"] if text.startswith(_WAY_OVER)]
    teller.same(PLAN, f"{place}, reasons, a way out of the fold", said, known)
    good = 0 <= as_number(section["looseness"]) < 1
    good &= smallest > 0 or section["looseness"] == 0
    teller.true(PLAN, f"{place}, looseness", good, section["looseness"], "a share from 0 to 1")
    for inner in section["suitable_inner_mm"]:
        fits = smallest * section["wire_mm"] <= inner < 60 * section["wire_mm"]
        teller.true(PLAN, f"{place}, suitable_inner_mm", fits, inner, "a ring that weaves")


def _way_over(held: int, over: int) -> str:
    """Say where a search found a way out of a fold, as the reasons of a ring's fit do."""
    none = f"a search found no way at {held} %" if held else "found by a search"
    return f"{_WAY_OVER} without bending from {over} % above it on ({none})"
