"""Rows of the pieces sheet: chains, sheets, sections, loops, graded chains and loose joins."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from chainplan.model.job import LOOSE_JOINS
from chainplan.model.kinds import GradeWay, Lying, PreClosing, Rounding
from drawn_jobs.designs import design_rows
from drawn_jobs.rings import metals, rings, temper_of, wires_mm

if TYPE_CHECKING:
    from drawn_jobs.rings import Ring, Scale

Row = dict[str, Any]
SHAPES = ("plain", "plain", "plain", "plain", "sections", "sections", "loop", "graded", "loose")
WORDS = ("Tide", "Moss", "Ember", "Frost", "Reed", "Kelp", "Cinder", "Lark", "Würfel & Rabe's")
FIRST_DAY = datetime.date(2027, 1, 11)
SHORTEST_MM = 5.0


@dataclass(kw_only=True)
class Drawn:
    """A piece as it is drawn: its rows, those of its designs, and what others must know of it."""

    name: str
    shape: str
    rows: list[Row]
    length_mm: float | None = None
    """Of the whole, where every section has one."""
    ring: Ring | None = None
    sheet_rows: int = 1
    designs: list[Row] = field(default_factory=list)


def one_in(draw: st.DrawFn, many: int) -> bool:
    """Draw whether something rare is there."""
    return draw(st.integers(1, many)) == many


def told(row: Row) -> Row:
    """Leave out what is not said."""
    return {column: value for column, value in row.items() if value is not None}


@st.composite
def pieces(draw: st.DrawFn, number: int, scale: Scale) -> Drawn:
    """One piece of a job."""
    shape = draw(st.sampled_from(SHAPES))
    name = f"{draw(st.sampled_from(WORDS))} {shape} {number}"
    wanted = draw(st.integers(scale.least_rings, scale.most_rings))
    if shape == "loose":
        drawn = draw(_loose(name, wanted))
    elif shape == "sections":
        drawn = draw(_sections(name, wanted, scale))
    else:
        drawn = draw(_one_stretch(name, shape, wanted, scale))
    drawn.rows[0] |= draw(_whole(drawn))
    return drawn


@st.composite
def _loose(draw: st.DrawFn, name: str, wanted: int) -> Drawn:
    """Joins without a weave: posts, or rings that lie by themselves."""
    wire_mm = draw(wires_mm)
    row: Row = {"name": name, "weave": LOOSE_JOINS, "wire": wire_mm, "metal": draw(metals)}
    row["rings"] = wanted
    if draw(st.booleans()):
        row["inner"] = round(wire_mm * draw(st.sampled_from([1.2, 3.0, 6.0, 12.0])), 3)
    return Drawn(name=name, shape="loose", rows=[row])


@st.composite
def _one_stretch(draw: st.DrawFn, name: str, shape: str, wanted: int, scale: Scale) -> Drawn:
    ring = draw(rings())
    if shape == "graded" and ring.rows:
        shape = "plain"
    row, designs = draw(_row(name, ring, wanted, scale, shape=shape))
    if shape == "loop":
        row["closed loop"] = True
    if shape == "graded":
        row |= draw(_grade(ring))
    return Drawn(
        name=name, shape=shape, rows=[row], length_mm=row.get("length"), ring=ring,
        sheet_rows=ring.rows or 1, designs=designs,
    )  # fmt: skip


@st.composite
def _grade(draw: st.DrawFn, ring: Ring) -> Row:
    """A graduated chain: to larger rings, or to thinner wire that leaves more room."""
    row: Row = {"grade way": draw(st.none() | st.sampled_from([str(way) for way in GradeWay]))}
    if draw(st.booleans()):
        row["grade inner"] = round(ring.inner_mm * draw(st.sampled_from([1.15, 1.4, 1.8])), 2)
    else:
        row["grade wire"] = round(ring.wire_mm * draw(st.sampled_from([0.9, 0.75, 0.6])), 2)
    return told(row)


@st.composite
def _sections(draw: st.DrawFn, name: str, wanted: int, scale: Scale) -> Drawn:
    """Stretches laid end to end, of one wire or of several; a loose row of rings among them."""
    count = draw(st.integers(2, 3))
    wire_mm = draw(wires_mm)
    room = draw(st.sampled_from([1.0, 1.2, 1.3, 1.6]))
    first = draw(rings(wire_mm=wire_mm, least=room))
    alike = draw(st.booleans())
    drawn = Drawn(name=name, shape="sections", rows=[], length_mm=0.0, ring=first)
    for number in range(1, count + 1):
        if number > 1 and one_in(draw, 5):
            row: Row = {
                "name": name, "weave": LOOSE_JOINS, "wire": wire_mm, "metal": draw(metals),
                "inner": round(wire_mm * 4, 2), "rings": draw(st.integers(1, 4)),
            }  # fmt: skip
        else:
            other_mm = None if one_in(draw, 4) else wire_mm
            ring = first if alike or number == 1 else draw(rings(wire_mm=other_mm, least=room))
            drawn.sheet_rows = max(drawn.sheet_rows, ring.rows or 1)
            row, designs = draw(_row(name, ring, max(wanted // count, 3), scale, shape="section"))
            if "design" in row:
                row["design"] += f" {number}"
                designs = [line | {"design": row["design"]} for line in designs]
            drawn.designs += designs
        drawn.rows.append(row | {"section": number})
        if drawn.length_mm is not None:
            drawn.length_mm = drawn.length_mm + row["length"] if "length" in row else None
    return drawn


@st.composite
def _row(
    draw: st.DrawFn, name: str, ring: Ring, wanted: int, scale: Scale, *, shape: str
) -> tuple[Row, list[Row]]:
    """One row: ring, size, how it lies, how long it is, and perhaps a design with its rules."""
    metal = draw(metals)
    row: Row = {"name": name, "weave": ring.weave, "wire": ring.wire_mm, "metal": metal}
    row["temper"] = draw(temper_of(metal))
    row["mandrel" if one_in(draw, 5) else "inner"] = ring.inner_mm
    if shape == "graded" or draw(st.booleans()):
        long_mm = min(max(wanted / ring.rings_per_mm, SHORTEST_MM), scale.longest_mm)
        row["length"] = round(long_mm, 1)
    else:
        row["rings"] = wanted
    if ring.rows:
        row["rows"] = ring.rows
        row["lies"] = draw(st.none() | st.sampled_from([str(way) for way in Lying]))
    if shape == "plain" and one_in(draw, 12):
        row["measured rings per cm"] = round(ring.rings_per_mm * 10, 2)
    if ring.weave == "japanese-12-in-2" and one_in(draw, 3):
        row["second inner"] = round(ring.inner_mm * 0.62, 3)
        row["second wire"] = round(ring.wire_mm * 0.8, 3)
    designs: list[Row] = []
    if one_in(draw, 3):
        row["design"] = f"design of {name}"
        designs = draw(design_rows(row["design"], ring, metal))
    return told(row), designs


@st.composite
def _whole(draw: st.DrawFn, drawn: Drawn) -> Row:
    """What is said once for a whole piece."""
    after = draw(st.none() | st.sampled_from([-3, 0, 4, 9, 30, 400]))
    row: Row = {
        "quantity": draw(st.sampled_from([None, None, 1, 2, 3, 7, 24])),
        "rounding": draw(st.none() | st.sampled_from([str(way) for way in Rounding])),
        "closing way": draw(st.none() | st.sampled_from([str(way) for way in PreClosing])),
        "due": None if after is None else FIRST_DAY + datetime.timedelta(days=after),
        "customer": draw(st.sampled_from([None, None, "Ms Invented", "Mr Made-Up"])),
        "late weight": draw(st.sampled_from([None, None, 0.5, 10.0])),
        "minutes": draw(st.sampled_from([None, None, None, "weave 95, finish 12", "finish 0"])),
        "list price": draw(st.sampled_from([None, None, None, Decimal("45.00"), Decimal("1.0")])),
        "notes": draw(st.sampled_from([None, None, "gift box", "two notes;\n= not a sum"])),
    }
    if drawn.shape != "loop" and (drawn.length_mm or 0) > 30:
        row["clasp length"] = draw(st.sampled_from([None, None, 8.0, 12.5]))
    return told(row)
