"""Hold the reference tables to their schema and to each other, and tell every fault at once."""

from __future__ import annotations

import csv
import math
import re
from itertools import pairwise
from typing import TYPE_CHECKING

from chainplan.errors import Fault, near_words
from chainplan.reference.checked.schema import PROPERTIES, TABLES, TEMPERS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from importlib.resources.abc import Traversable

    from chainplan.reference.checked.schema import Table, TableColumn

Row = dict[str, str]


def plain_key(word: str) -> str:
    """Turn what people write into the form of the tables' keys: lower case, hyphens.

    Examples
    --------
    >>> plain_key("  Sterling  Silver ")
    'sterling-silver'
    """
    return "-".join(word.replace("_", " ").replace("-", " ").lower().split())


def read_rows(folder: Traversable, name: str) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Read one table as it stands: its header, and each row with the line it ends on."""
    text = folder.joinpath(f"{name}.csv").read_text(encoding="utf-8")
    reader = csv.reader(text.splitlines())
    header = next(reader, [])
    return header, [(reader.line_num, cells) for cells in reader if cells]


def check_tables(folder: Traversable) -> tuple[Mapping[str, tuple[Row, ...]], tuple[Fault, ...]]:
    """Read every table of a folder and check it against the schema and the other tables.

    Parameters
    ----------
    folder
        Where the ``.csv`` files stand.

    Returns
    -------
    tables, faults
        The rows of each table that has its columns, by the table's name; and all that is wrong,
        each fault with file, row and column, what was found and what is allowed.
    """
    lines: dict[str, list[tuple[int, Row]]] = {}
    faults: list[Fault] = []
    for name, table in TABLES.items():
        wanted = [column.name for column in table.columns]
        header, rows = read_rows(folder, name)
        if header != wanted:
            faults.append(_fault(name, 1, "", ",".join(header), f"columns {','.join(wanted)}"))
            continue
        lines[name] = []
        for line, cells in rows:
            if len(cells) != len(wanted):
                allowed = f"{len(wanted)} cells, as the header has"
                faults.append(_fault(name, line, "", f"{len(cells)} cells", allowed))
            else:
                lines[name].append((line, dict(zip(wanted, cells, strict=True))))
    keys = {name: {row[TABLES[name].key[0]] for _, row in rows} for name, rows in lines.items()}
    for name, found in lines.items():
        faults += _check_cells(name, TABLES[name], found, keys)
        faults += _check_keys(name, TABLES[name], found)
    faults += _check_names(lines)
    faults += _check_values(lines.get("metals", []))
    faults += _check_metals(lines.get("metal_names", []), lines.get("metals", []))
    faults += _check_marks(lines.get("metal_names", []))
    faults += _check_finenesses(lines.get("hallmark", []), lines.get("fineness", []))
    faults += _check_grid(lines.get("gas", []))
    faults += _check_sources(lines)
    return {name: tuple(row for _, row in found) for name, found in lines.items()}, tuple(faults)


def _fault(
    table: str, line: int, column: str, found: str, allowed: str, hint: tuple[str, ...] = ()
) -> Fault:
    """Make a fault that names the file, the row as an editor counts it, and the column."""
    where = f"{table}.csv, row {line}" + (f", column {column}" if column else "")
    return Fault(where, f"found {found!r}", f"allowed: {allowed}", hint)


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _check_cells(
    name: str, table: Table, rows: Iterable[tuple[int, Row]], keys: Mapping[str, set[str]]
) -> Iterator[Fault]:
    """Check each cell by itself, and that the rows that it names are there."""
    for line, row in rows:
        for column in table.columns:
            cell = row[column.name]
            if cell != cell.strip():
                yield _fault(name, line, column.name, cell, "no space before or after")
            elif not cell:
                if column.needed:
                    yield _fault(name, line, column.name, cell, "not empty")
            else:
                for word in cell.split(column.many) if column.many else (cell,):
                    yield from _check_word(name, line, column, word, keys)


def _check_word(
    name: str, line: int, column: TableColumn, word: str, keys: Mapping[str, set[str]]
) -> Iterator[Fault]:
    """Check one word of a cell against what its column allows."""
    if column.number:
        value = _number(word)
        if value is None:
            yield _fault(name, line, column.name, word, "a number")
        elif not column.least <= value <= column.most:
            yield _fault(name, line, column.name, word, f"{column.least:g} to {column.most:g}")
    elif column.allowed and word not in column.allowed:
        hint = near_words(word, column.allowed)
        yield _fault(name, line, column.name, word, ", ".join(column.allowed), hint)
    elif column.pattern and not re.fullmatch(column.pattern, word):
        yield _fault(name, line, column.name, word, column.pattern_means)
    elif column.names and column.names in keys and word not in keys[column.names]:
        hint = near_words(word, sorted(keys[column.names]))
        yield _fault(name, line, column.name, word, f"a row of {column.names}.csv", hint)


def _check_keys(name: str, table: Table, rows: Iterable[tuple[int, Row]]) -> Iterator[Fault]:
    """Check that no two rows have one key: the later would win without a word."""
    seen: dict[tuple[str, ...], int] = {}
    for line, row in rows:
        key = tuple(row[column] for column in table.key)
        if key in seen:
            where = ", ".join(table.key)
            yield _fault(name, line, where, " ".join(key), f"once; row {seen[key]} has it")
        seen.setdefault(key, line)


def _check_names(lines: Mapping[str, list[tuple[int, Row]]]) -> Iterator[Fault]:
    """Check that no name stands for two things: one of them would be picked by chance."""
    for group in (("metal_names", "refused_metals"), ("parts",)):
        owner: dict[str, tuple[str, str, int]] = {}
        for name in group:
            column = TABLES[name].key[0]
            for line, row in lines.get(name, []):
                words = {row[column], row["title"], *row["aliases"].split("|")}
                for word in sorted({plain_key(word) for word in words} - {""}):
                    other, key, first = owner.setdefault(word, (name, row[column], line))
                    if (other, key) != (name, row[column]):
                        allowed = f"a name of one thing; {other}.csv row {first} has it for {key}"
                        yield _fault(name, line, "aliases", word, allowed)


def _check_values(rows: Iterable[tuple[int, Row]]) -> Iterator[Fault]:
    """Check each value of a metal against its property: unit, temper, bounds and order."""
    for line, row in rows:
        kind = PROPERTIES.get(row["property"])
        if kind is None:
            continue
        if row["unit"] != kind.unit:
            yield _fault("metals", line, "unit", row["unit"], f"{kind.unit} for {row['property']}")
        if kind.by_temper != "may" and (kind.by_temper == "needed") != bool(row["temper"]):
            allowed = "a temper for yield, one or none for hardness, none for the rest"
            yield _fault("metals", line, "temper", row["temper"], allowed)
        values = [_number(row[name]) for name in ("low", "usual", "high")]
        known = [value for value in values if value is not None]
        if len(known) < len(values):
            continue
        if known != sorted(known):
            found = f"{row['low']} / {row['usual']} / {row['high']}"
            yield _fault("metals", line, "low, usual, high", found, "low ≤ usual ≤ high")
        for name, value in zip(("low", "usual", "high"), known, strict=True):
            if not kind.least <= value <= kind.most:
                allowed = f"{kind.least:g} to {kind.most:g} {kind.unit} for {row['property']}"
                yield _fault("metals", line, name, row[name], allowed)


def _check_metals(names: Iterable[tuple[int, Row]], rows: list[tuple[int, Row]]) -> Iterator[Fault]:
    """Check that metals have every property, melt over a rising range and harden with work."""
    usual: dict[tuple[str, str, str], tuple[int, float]] = {}
    for line, row in rows:
        value = _number(row["usual"])
        if value is not None:
            usual[row["metal"], row["property"], row["temper"]] = (line, value)
    for line, row in names:
        metal = row["metal"]
        missing = [
            kind
            for kind in PROPERTIES
            if not any((metal, kind, temper) in usual for temper in ("", *TEMPERS))
        ]
        if missing:
            allowed = f"a row in metals.csv for each property; missing: {', '.join(missing)}"
            yield _fault("metal_names", line, "metal", metal, allowed)
        yields = [(metal, "yield", temper) for temper in TEMPERS]
        dents = [(metal, "hardness", temper) for temper in ("", *TEMPERS)]
        melting = [(metal, kind, "") for kind in ("solidus", "liquidus")]
        warming = [(metal, kind, "") for kind in ("specific_heat", "mean_specific_heat")]
        rules = (
            (yields, "a harder temper yields later"),
            (dents, "a harder temper is harder"),
            (melting, "solidus ≤ liquidus"),
            (warming, "the specific heat rises up to melting"),
        )
        for steps, allowed in rules:
            ladder = [usual[step] for step in steps if step in usual]
            for (_, before), (at, after) in pairwise(ladder):
                if after < before:
                    yield _fault("metals", at, "usual", f"{after:g} after {before:g}", allowed)


def _check_marks(names: Iterable[tuple[int, Row]]) -> Iterator[Fault]:
    """Check that precious metals have their fineness, and that no other has one."""
    for line, row in names:
        if bool(row["precious"]) != bool(row["fineness"]):
            found = f"{row['precious'] or 'not precious'}, {row['fineness'] or 'no fineness'}"
            allowed = "a fineness for precious metals, and for no other"
            yield _fault("metal_names", line, "fineness", found, allowed)


def _check_finenesses(
    rules: list[tuple[int, Row]], finenesses: list[tuple[int, Row]]
) -> Iterator[Fault]:
    """Check that each country's rule for a metal has its finenesses, and the other way round."""
    for name, rows, other, others in (
        ("hallmark", rules, "fineness", finenesses),
        ("fineness", finenesses, "hallmark", rules),
    ):
        known = {(row["country"], row["precious"]) for _, row in others}
        for line, row in rows:
            if (row["country"], row["precious"]) not in known:
                found = f"{row['country']} {row['precious']}"
                yield _fault(name, line, "precious", found, f"a row of {other}.csv too")


def _check_grid(rows: Iterable[tuple[int, Row]]) -> Iterator[Fault]:
    """Check that the compressibilities are a whole grid: both directions are interpolated."""
    cells = {(row["temperature_c"], row["pressure_bar"]): line for line, row in rows}
    temperatures = dict.fromkeys(temperature for temperature, _ in cells)
    pressures = dict.fromkeys(pressure for _, pressure in cells)
    for temperature in temperatures:
        for pressure in pressures:
            if (temperature, pressure) not in cells:
                found = f"no row for {temperature} °C and {pressure} bar"
                allowed = "every pressure at every temperature"
                yield _fault("gas", max(cells.values()), "value", found, allowed)


def _check_sources(lines: Mapping[str, list[tuple[int, Row]]]) -> Iterator[Fault]:
    """Check that every source is referred to: another one is a leftover."""
    used = {row["source"] for rows in lines.values() for _, row in rows if "source" in row}
    for line, row in lines.get("sources", []):
        if row["key"] not in used:
            yield _fault("sources", line, "key", row["key"], "a source that some row refers to")
