"""How much of its loss to still air a ring keeps inside a weave."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.model.kinds import Form
from chainplan.model.metal import Value

if TYPE_CHECKING:
    from chainplan.model.layout import Layout

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
    the defaults are judgement between a free ring (1) and a plate that is as warm all over (about
    0.15 for 1 mm wire with 4.5 mm inner diameter). Measure it: ``chainplan calibrate``.
    """
    return _exposure_table()[build_of_section(form, rows, links_per_ring)]


def links_per_ring(layout: Layout, section: int) -> float:
    """Mean number of links of a ring of one section (no unit)."""
    here = layout.section == section
    return float(layout.degree[here].mean()) if here.any() else 0.0
