"""Turns a row of the pieces sheet into a section: weave, metal, ring, length or count."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError, quote, tell_known
from chainplan.job.fields import fields_given
from chainplan.job.known_names import KnownNames
from chainplan.job.sheets.designs import check_design, find_design
from chainplan.job.sheets.rows import need_one, read_row
from chainplan.job.table import Cell, Findings, Row
from chainplan.model.job import LOOSE_JOINS, Section
from chainplan.model.kinds import Form

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.model.metal import Metal
    from chainplan.model.piece.design import Design
    from chainplan.model.piece.weave_names import WeaveName, WeaveNames

LOOSE_INNER_PER_WIRE = 4.0
"""Inner diameter assumed for the heat of loose joins that are no rings: 4 wires."""
_NOT_FOR_LOOSE = (
    "length",
    "rows",
    "lies",
    "second wire",
    "second inner",
    "clasp length",
    "closed loop",
    "measured rings per cm",
    "design",
    "grade inner",
    "grade wire",
    "grade way",
)


def read_section(
    values: dict[str, Any], row: Row, names: KnownNames, findings: Findings
) -> Section | None:
    """Make a section of a row's values; ``None`` after a fault."""
    before = findings.count
    weave, metal = values["weave"], values["metal"]
    name = names.weave(weave, row.place("weave"), findings) if weave else None
    alloy = names.metal(metal, row.place("metal"), findings) if metal else None
    if name is not None and name.key == LOOSE_JOINS:
        _check_loose(values, row, findings)
    else:
        need_one(("inner", "mandrel"), row, findings)
        need_one(("length", "rings"), row, findings)
        if name is not None:
            _check_form(name, row, findings)
    design = None
    if values["design"] is not None:
        design = find_design(values["design"], row, names.designs, findings)
        if design is not None and name is not None:
            check_design(design, name, values["rows"], row, findings)
    if name is not None:
        _check_grade(values, name, row, findings)
    temper = _temper(values["temper"], alloy, row, findings)
    if name is None or alloy is None or temper is None or values["wire"] is None:
        return None
    inner_mm = _inner_mm(values, name, alloy, temper, row, names, findings)
    if inner_mm is None or findings.count > before:
        return None
    if name.key != LOOSE_JOINS and inner_mm <= values["wire"]:
        found = f"a ring of {inner_mm:.4g} mm inside of wire {values['wire']:.4g} mm"
        allowed = "the inner diameter must exceed the wire for another ring to pass"
        findings.fault(row.place("inner" if values["inner"] else "mandrel"), found, allowed)
        return None
    known = {
        "weave": name.key, "metal": alloy.key, "temper": temper, "inner": inner_mm,
        "design": design,
    }  # fmt: skip
    tempers = _tempers_of(design, temper, row, names) if design else ()
    return Section(
        **fields_given("pieces", "Section", values | known),
        design_tempers=tempers,
        made_of_rings=name.key != LOOSE_JOINS or not _is_without_size(row),
        where=row.place("mandrel" if values["mandrel"] else "inner"),
    )


def _check_loose(values: dict[str, Any], row: Row, findings: Findings) -> None:
    for column in _NOT_FOR_LOOSE:
        if values[column]:
            found = f"{column} is given for {LOOSE_JOINS}"
            findings.fault(row.place(column), found, f"{row.drop}: loose joins have no weave")
    if row.get("inner") is not None and row.get("mandrel") is not None:
        need_one(("inner", "mandrel"), row, findings)
    if row.get("rings") is None:
        found = f"{LOOSE_JOINS} without their number"
        findings.fault(row.where, found, row.ask("rings", "how many joins"))


def _is_without_size(row: Row) -> bool:
    """Whether neither inner diameter nor mandrel is given."""
    return row.get("inner") is None and row.get("mandrel") is None


def _check_form(name: WeaveName, row: Row, findings: Findings) -> None:
    """Check the columns that only some weaves have."""
    if name.form in {Form.STRIP, Form.SHEET} and row.get("rows") is None:
        found = f"{name.key} is a {name.form} and has no width"
        findings.fault(row.where, found, row.ask("rows", "the number of rows"))
    for column in ("rows", "lies"):
        if name.form == Form.CHAIN and row.get(column) is not None:
            found = f"{column} is given for {name.key}, which is a chain"
            findings.fault(row.place(column), found, row.drop)
    if not name.form:
        return
    for column in ("second wire", "second inner"):
        if name.second_ring == "none" and row.get(column) is not None:
            found = f"{column} is given for {name.key}, which has one size of ring"
            findings.fault(row.place(column), found, row.drop)
    if name.second_ring == "needed" and row.get("second inner") is None:
        found = f"{name.key} has two sizes of ring and the second is missing"
        findings.fault(row.where, found, row.ask("second inner"))


def _tempers_of(
    design: Design, temper: str, row: Row, names: KnownNames
) -> tuple[tuple[str, str], ...]:
    """Temper of each of a design's metals: the piece's, where the metal has it, else its first."""
    found = []
    for key in design.metals:
        alloy = names.metal(key, row.place("design"), Findings())
        known = tuple(alloy.yield_mpa) if alloy is not None else ()
        usual = "annealed" if "annealed" in known or not known else known[0]
        found.append((key, temper if temper in known else usual))
    return tuple(found)


def _check_grade(values: dict[str, Any], name: WeaveName, row: Row, findings: Findings) -> None:
    """Tell what is no graduated stretch: it is a chain by its length, one ring size a step."""
    given = [column for column in ("grade inner", "grade wire") if values[column] is not None]
    if values["grade way"] is not None and not given:
        allowed = "write grade inner or grade wire, or leave it empty"
        findings.fault(row.place("grade way"), "grade way without a grade", allowed)
    if not given:
        return
    trouble = None
    if name.form in {Form.STRIP, Form.SHEET, Form.LOOSE}:
        trouble = f"for {name.key}, which is no chain"
    elif row.get("length") is None:
        trouble = "without a length"
    elif values["closed loop"]:
        trouble = "and closed loop is yes"
    elif values["measured rings per cm"] is not None:
        trouble = "and measured rings per cm"
    elif row.get("second wire") is not None or row.get("second inner") is not None:
        trouble = "for two sizes of ring"
    if trouble:
        allowed = "a graduated stretch is an open chain of one ring size a step, by its length"
        findings.fault(row.place(given[0]), f"{given[0]} is given {trouble}", allowed)


def _temper(text: str | None, alloy: Metal | None, row: Row, findings: Findings) -> str | None:
    if alloy is None:
        return None
    known = tuple(alloy.yield_mpa)
    wanted = "-".join((text or "").casefold().replace("-", " ").split())
    if not wanted:
        return "annealed" if "annealed" in known or not known else known[0]
    if wanted not in known:
        found = f"temper {quote(text or '')} is not known for {alloy.key}"
        findings.fault(row.place("temper"), found, tell_known(known))
        return None
    return wanted


def _inner_mm(
    values: dict[str, Any],
    name: WeaveName,
    alloy: Metal,
    temper: str,
    row: Row,
    names: KnownNames,
    findings: Findings,
) -> float | None:
    """Take the inner diameter as given, or from the mandrel with springback."""
    if values["inner"] is not None:
        return float(values["inner"])
    if values["mandrel"] is not None:
        from chainplan.reference import inner_from_mandrel_mm

        ring = names.measured.get((alloy.key, temper))
        try:
            return inner_from_mandrel_mm(
                values["wire"], values["mandrel"], alloy, temper, calibration=ring
            )
        except InputError as error:
            findings.add(error.at(row.place("mandrel")))
            return None
    if name.key == LOOSE_JOINS and _is_without_size(row):
        inner_mm = LOOSE_INNER_PER_WIRE * float(values["wire"])
        findings.warn(
            f"{row.where}: loose joins without inner or mandrel are counted as joins of something "
            "else than rings: no wire, weight or sawing; for their heat a ring of "
            f"{inner_mm:.4g} mm inside is assumed, {LOOSE_INNER_PER_WIRE:g} times the wire"
        )
        return inner_mm
    return None


def section_from_words(
    *,
    weave: str,
    wire: str | float,
    metal: str,
    inner: str | float | None = None,
    mandrel: str | float | None = None,
    length: str | float | None = None,
    rings: int | str | None = None,
    rows: int | str | None = None,
    lies: str | None = None,
    temper: str | None = None,
    second_wire: str | float | None = None,
    second_inner: str | float | None = None,
    weaves: WeaveNames | None = None,
    metals: Mapping[str, Metal] | None = None,
) -> Section:
    """Make a section from single words, as a command line gives them; bare numbers are mm.

    Only numbers are taken as mm: text needs its unit. ``metals`` are the user's own, by key.

    Raises
    ------
    InputError
        With every fault at once.
    """
    given = {
        "weave": weave, "wire": wire, "inner": inner, "mandrel": mandrel, "metal": metal,
        "temper": temper, "length": length, "rings": rings, "rows": rows, "lies": lies,
        "second wire": second_wire, "second inner": second_inner,
    }  # fmt: skip
    findings = Findings()
    cells = {
        name: Cell(value, name, unit="" if isinstance(value, str) else "mm", by_words=True)
        for name, value in given.items()
        if value is not None and str(value).strip()
    }
    places = {name: cell.where for name, cell in cells.items()}
    row = Row("the ring", {**cells, "name": Cell("piece", "name")}, places, by_words=True)
    values = read_row("pieces", row, findings)
    names = KnownNames(Path(), weaves, metals or {})
    section = read_section(values, row, names, findings)
    if section is None or findings.faults:
        raise InputError(faults=findings.all_faults("the ring"))
    return section
