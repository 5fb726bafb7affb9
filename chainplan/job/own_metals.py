"""Reads the user's own metals; a known metal may fill in what is not given."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError
from chainplan.job.cells import CellError, plain_number, range_text, refuse, show
from chainplan.job.columns import columns_of
from chainplan.job.rows import read_row
from chainplan.job.table import Cell
from chainplan.job.words import note
from chainplan.model.metal import Metal, Value

if TYPE_CHECKING:
    from chainplan.job.columns import Column
    from chainplan.job.table import Findings, Row

FIELDS = {
    "density": "density_g_cm3",
    "specific heat": "specific_heat_j_kg_k",
    "conductivity": "conductivity_w_m_k",
    "solidus": "solidus_c",
    "liquidus": "liquidus_c",
    "latent heat": "latent_heat_kj_kg",
    "emissivity": "emissivity",
    "modulus": "modulus_gpa",
    "hardness": "hardness_gpa",
}
"""Column of the sheet metals → field of a metal."""
YIELD = "yield "
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
            findings.fault(row.place("metal"), f"metal is {show(key)}", allowed)
            continue
        if key in metals or _is_shipped(key):
            allowed = "give yours a key of its own"
            findings.fault(row.place("metal"), f"the metal {key!r} is there already", allowed)
            continue
        metal = _build(values, row, findings)
        if metal is not None:
            metals[key] = metal
    return metals


def _is_shipped(key: str) -> bool:
    from chainplan.reference import metal_keys

    return key in metal_keys()


def _build(values: dict[str, Any], row: Row, findings: Findings) -> Metal | None:
    like = _like(values["like"], row, findings)
    source = values["source"] or ""
    if like is None and values["like"] is not None:
        return None
    given, yields, faulty = _values(row, source, findings)
    missing = [name for name in FIELDS if name != "hardness" and FIELDS[name] not in given]
    if like is None and (missing or not yields):
        if not faulty:
            wanted = [*missing, *([] if yields else ["yield annealed"])]
            found = f"without {', '.join(wanted)}"
            findings.fault(row.where, found, "write them, or name a known metal in 'like'")
        return None
    if faulty:
        return None
    words = {
        "weldability": values["weldability"],
        "weld_note": values["weld note"],
        "fume_caution": values["fume caution"],
        "skin_caution": values["skin caution"],
        "precious": values["precious"],
        "fineness": values["fineness"],
    }
    told = {name: value for name, value in words.items() if value is not None}
    notes = {ROW_SOURCE: source, **({LIKE: like.key} if like else {})}
    known: dict[str, Any] = {
        **given,
        **told,
        "key": values["metal"], "title": values["title"] or values["metal"], "aliases": (),
    }  # fmt: skip
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
        note(error, row.place("like"), findings)
        return None


def _values(
    row: Row, source: str, findings: Findings
) -> tuple[dict[str, Value], dict[str, Value], bool]:
    """Read the values with their ranges: fields, yields by temper, whether one is faulty."""
    given: dict[str, Value] = {}
    yields: dict[str, Value] = {}
    faulty = False
    for column in columns_of("metals").values():
        cell = row.get(column.name)
        if column.kind != "range" or cell is None:
            continue
        if cell.error:
            faulty = True
            continue
        try:
            low, usual, high = read_range(cell, column)
        except CellError as error:
            findings.fault(cell.where, f"{column.name} {error.found}", error.allowed)
            faulty = True
            continue
        value = Value(usual=usual, low=low, high=high, unit=column.unit, source=source)
        if column.name.startswith(YIELD):
            yields[column.name.removeprefix(YIELD)] = value
        else:
            given[FIELDS[column.name]] = value
    return given, yields, faulty


def read_range(cell: Cell, column: Column) -> tuple[float, float, float]:
    """Read "usual" or "low / usual / high".

    Raises
    ------
    CellError
        If it is neither, or not in order, or outside the column's range.
    """
    if isinstance(cell.value, str) and "/" in cell.value:
        parts = [Cell(part, cell.where, cell.unit) for part in cell.value.split("/")]
    else:
        parts = [cell] * 3
    numbers = [plain_number(part, column) for part in parts]
    if len(numbers) != 3 or sorted(numbers) != numbers:
        refuse(f"is {show(cell.value)}", "write one value, or low / usual / high in this order")
    for number in numbers:
        if (column.low is not None and number < column.low) or (
            column.high is not None and number > column.high
        ):
            refuse(f"is {number:g}", range_text(column.low, column.high, column.unit))
    return numbers[0], numbers[1], numbers[2]
