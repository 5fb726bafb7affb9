"""How much of its loss to still air a ring keeps inside a weave."""

from __future__ import annotations

import csv
import math
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.heat.conductance.air import convection_w_m2_k
from chainplan.model.kinds import Form
from chainplan.model.metal import Value

if TYPE_CHECKING:
    from chainplan.model.piece.layout import Layout

_STRIP_ROWS = 8  # judgement: an inner row has fewer than four to the open edge on either side
_SINGLE_CHAIN_LINKS = 2.3  # a single chain has 2 links a ring, the next denser weave 3 or more


@cache
def _exposure_table() -> dict[str, Value]:
    path = Path(__file__).with_name("exposure.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return {
            row["build"]: Value(
                low=float(row["low"]),
                usual=float(row["usual"]),
                high=float(row["high"]),
                unit="",
                source=row["source"],
            )
            for row in csv.DictReader(file)
        }


def build_of_section(form: Form, rows: int, links_per_ring: float) -> str:
    """Name how densely a section is built: chain, dense chain, strip or sheet.

    Examples
    --------
    >>> build_of_section("chain", 1, 2.0), build_of_section("chain", 1, 4.0)
    ('chain', 'dense chain')
    >>> build_of_section("sheet", 5, 3.6), build_of_section("sheet", 40, 3.9)
    ('strip', 'sheet')
    """
    if form in (Form.SHEET, Form.STRIP):
        return "sheet" if rows > _STRIP_ROWS else "strip"
    return "dense chain" if links_per_ring > _SINGLE_CHAIN_LINKS else "chain"


def exposure_of_section(form: Form, rows: int, links_per_ring: float) -> Value:
    """Exposure factor of a section's rings: share of an isolated ring's loss to air (no unit).

    A factor on the film coefficient of a single wire. It is the least known number of the model:
    the defaults are judgement between a free ring (1) and a piece that is as warm all over
    (:func:`envelope_share`). Measure it: ``chainplan calibrate``.
    """
    return _exposure_table()[build_of_section(form, rows, links_per_ring)]


def envelope_share(layout: Layout, section: int) -> float:
    """Share of its rings' loss that a section keeps when all of it is equally warm (no unit).

    Still air then sees a smooth rod as thick as the piece: convection from a cylinder of the same
    girth, over that of all its wire alone (Churchill–Chu and Morgan, surface at 60 °C in 21 °C). A
    piece that is warm in places only keeps more, so this is a lower end; 0 where the layout does
    not say how wide the section is.
    """
    part = layout.sections[section]
    if part.width_mm <= 0 or part.thickness_mm <= 0:
        return 0.0
    round_chain = part.form not in (Form.SHEET, Form.STRIP)
    girth_mm = (
        math.pi * math.hypot(part.width_mm, part.thickness_mm) / math.sqrt(2)
        if round_chain
        else 2 * (part.width_mm + part.thickness_mm)
    )
    here = layout.section == section
    skin_mm2 = math.pi**2 * 2 * float((layout.wire_mm[here] * layout.mean_radius_mm[here]).sum())
    around, wire = (
        sum(convection_w_m2_k(size_mm, 60.0, 21.0)[::2])
        for size_mm in (girth_mm / math.pi, float(layout.wire_mm[here].mean()))
    )
    return around * girth_mm * part.length_mm / (wire * skin_mm2)


def links_per_ring(layout: Layout, section: int) -> float:
    """Mean number of links of a ring of one section (no unit)."""
    here = layout.section == section
    return float(layout.degree[here].mean()) if here.any() else 0.0
