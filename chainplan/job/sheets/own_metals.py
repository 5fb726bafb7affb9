"""Reads the user's own metals; a known metal may fill in what is not given."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError, quote
from chainplan.job.columns import columns_of
from chainplan.job.fields import fields_given, row_of
from chainplan.job.sheets.cells import check_range, plain_number, refuse
from chainplan.job.sheets.rows import read_row
from chainplan.job.table import Cell
from chainplan.model.metal import Metal, Value

if TYPE_CHECKING:
    from chainplan.job.columns import Column
    from chainplan.job.table import Findings, Row

YIELDS = "yield_mpa"
"""Field of a metal that holds a value for each temper; its columns are called "yield annealed" …"""
HARDNESSES = "hardness_by_temper"
"""The same for how hard a metal is where it is not annealed."""
_MAY_BE_UNKNOWN = (YIELDS, HARDNESSES, "hardness_gpa", "mean_specific_heat_j_kg_k")
LIKE = "like"
ROW_SOURCE = "source of the row"


def read_metals(rows: list[Row], findings: Findings) -> dict[str, Metal]:
    """Read the user's own metals by key."""
    metals: dict[str, Metal] = {}
    for row in rows:
        values = read_row("metals", row, findings)
        key = values["metal"]
        if key is None:
            continue
        if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", key):
            allowed = "write small letters, digits and hyphens, such as studio-white"
            findings.fault(row.place("metal"), f"metal is {quote(key)}", allowed)
            continue
        if key in metals or _is_shipped(key):
            allowed = "give yours a key of its own"
            findings.fault(row.place("metal"), f"the metal {quote(key)} is there already", allowed)
            continue
        metal = _build(values, row, findings)
        if metal is not None:
            metals[key] = metal
    return metals


def value_columns() -> list[Column]:
    """List the columns of the sheet metals that hold a value with its range."""
    return [column for column in columns_of("metals").values() if column.kind == "range"]


def _field(column: Column) -> str:
    return column.field_of("Metal") or ""


def _temper_of(column: Column) -> str:
    """Name the temper of a column of such a field: its heading's second word."""
    return column.name.split(" ", 1)[1]


def _is_shipped(key: str) -> bool:
    from chainplan.reference import metal_keys

    return key in metal_keys()


def _build(values: dict[str, Any], row: Row, findings: Findings) -> Metal | None:
    like = _like(values["like"], row, findings)
    source = values["source"] or ""
    if like is None and values["like"] is not None:
        return None
    given, by_temper, faulty = _values(row, source, findings)
    yields = by_temper[YIELDS]
    missing = [
        column.name
        for column in value_columns()
        if _field(column) not in given and _field(column) not in _MAY_BE_UNKNOWN
    ]
    if like is None and (missing or not yields):
        if not faulty:
            wanted = [*missing, *([] if yields else ["yield annealed"])]
            found = f"without {', '.join(wanted)}"
            findings.fault(row.where, found, "write them, or name a known metal in 'like'")
        return None
    if faulty:
        return None
    told = fields_given("metals", "Metal", values)
    notes = {ROW_SOURCE: source, **({LIKE: like.key} if like else {})}
    known: dict[str, Any] = {
        "title": values["metal"], "aliases": (), **given, **told,
    }  # fmt: skip
    softer = {} if like is None or "hardness_gpa" in given else like.hardness_by_temper
    known[HARDNESSES] = {**softer, **by_temper[HARDNESSES]}
    if like is not None:
        metal = replace(like, **known, yield_mpa={**like.yield_mpa, **yields}, notes=notes)
        if missing:
            filled = ", ".join(missing)
            findings.warn(f"{row.where}: {filled} of {metal.key} are taken from {like.key}")
    else:
        metal = Metal(**known, yield_mpa=yields, notes=notes)
    if metal.solidus_c.usual > metal.liquidus_c.usual:
        found = f"solidus is {metal.solidus_c.usual:g} °C, liquidus {metal.liquidus_c.usual:g} °C"
        findings.fault(row.place("solidus"), found, "the solidus may not exceed the liquidus")
    return metal


def _like(text: str | None, row: Row, findings: Findings) -> Metal | None:
    from chainplan.reference import find_metal

    if text is None:
        return None
    try:
        return find_metal(text)
    except InputError as error:
        findings.add(error.at(row.place("like")))
        return None


def _values(
    row: Row, source: str, findings: Findings
) -> tuple[dict[str, Value], dict[str, dict[str, Value]], bool]:
    """Read the values with their ranges: fields, those by temper, whether one is faulty."""
    given: dict[str, Value] = {}
    by_temper: dict[str, dict[str, Value]] = {YIELDS: {}, HARDNESSES: {}}
    faulty = False
    for column in value_columns():
        cell = row.get(column.name)
        if cell is None:
            continue
        if cell.error:
            faulty = True
            continue
        try:
            low, usual, high = read_range(cell, column)
        except InputError as error:
            findings.add(error.at(cell.where, column.name))
            faulty = True
            continue
        value = Value(usual=usual, low=low, high=high, unit=column.unit, source=source)
        if _field(column) in by_temper:
            by_temper[_field(column)][_temper_of(column)] = value
        else:
            given[_field(column)] = value
    return given, by_temper, faulty


def read_range(cell: Cell, column: Column) -> tuple[float, float, float]:
    """Read "usual" or "low / usual / high".

    Raises
    ------
    InputError
        If it is neither, or not in order, or outside the column's range.
    """
    if isinstance(cell.value, str) and "/" in cell.value:
        parts = [Cell(part, cell.where, cell.unit) for part in cell.value.split("/")]
    else:
        parts = [cell] * 3
    numbers = [plain_number(part, column) for part in parts]
    if len(numbers) != 3 or sorted(numbers) != numbers:
        refuse("write one value, or low / usual / high in this order", of=quote(cell.value))
    for number in numbers:
        check_range(number, column.low, column.high, column.unit)
    return numbers[0], numbers[1], numbers[2]


def metal_row(metal: Metal) -> dict[str, Any]:
    """Write what the user gave; what another metal filled in is left to it again."""
    source = metal.notes.get(ROW_SOURCE, "")
    row = row_of("metals", metal)
    for column in value_columns():
        held = getattr(metal, _field(column))
        value = held.get(_temper_of(column)) if isinstance(held, Mapping) else held
        row.pop(column.name, None)
        if value is not None and (LIKE not in metal.notes or value.source == source):
            row[column.name] = _range_text(value)
    like = {LIKE: metal.notes[LIKE]} if LIKE in metal.notes else {}
    return row | like | {"source": source}


def _range_text(value: Value) -> float | str:
    if value.low == value.usual == value.high:
        return value.usual
    return f"{value.low!r} / {value.usual!r} / {value.high!r}"
