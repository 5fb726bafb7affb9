"""Reads a job from text: CSV for pieces alone, TOML for everything."""

from __future__ import annotations

import datetime
import hashlib
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, cut, quote
from chainplan.intake import Unreadable, decode, parse_toml, read_csv_rows
from chainplan.job.columns import TOML_TABLES, find_column
from chainplan.job.table import Cell, PlacedHeading, RawJob, RawRow, RawSheet, key_shown
from chainplan.units import tell_letters

if TYPE_CHECKING:
    from chainplan.job.table import Findings

_TOP_KEYS = (*TOML_TABLES.values(), "bench", "start_date")


def read_csv(content: bytes, file: str, findings: Findings) -> RawJob:
    """Read pieces from a CSV file with commas, semicolons or tabs.

    Raises
    ------
    InputError
        If it is no text or no CSV, or is outside the bounds.
    """
    text = decode(content, file)
    lines = read_csv_rows(text, file, separator=_separator(text))
    sha256 = hashlib.sha256(content).hexdigest()
    top, first = next(lines, (0, []))
    if not first:
        return RawJob({"pieces": RawSheet("pieces", file, ())}, sha256)
    texts = {k: " ".join(text.split()) for k, text in enumerate(first) if text.strip()}
    headings = tuple(
        PlacedHeading(text, f"{file} › {tell_letters(k)}{top}", f"{tell_letters(k)}{top}")
        for k, text in texts.items()
    )
    letters = [tell_letters(k) for k in range(BOUNDS.columns)]
    rows = []
    for number, line in lines:
        cells = []
        for k, heading in texts.items():
            value = line[k] if k < len(line) else None
            cells.append((heading, Cell(value, f"{file} › {letters[k]}{number}")))
        for k, value in enumerate(line):
            if k not in texts and value.strip():
                findings.fault(
                    f"{file} › {letters[k]}{number}",
                    f"{quote(value.strip())} stands under no heading",
                    'a cell with a comma in it goes between quotes: "3,5"',
                )
        rows.append(RawRow(f"{file} › row {number}", tuple(cells), f"row {number}"))
    return RawJob({"pieces": RawSheet("pieces", file, tuple(rows), headings)}, sha256)


def _separator(text: str) -> str:
    """Choose the separator under which most headings are known columns."""
    begin = text.lstrip()[: BOUNDS.text_letters]
    first = next(iter(begin.splitlines()), "")

    def known(separator: str) -> int:
        cells = first.split(separator, BOUNDS.columns)
        return sum(find_column("pieces", cell.strip(' "')) is not None for cell in cells)

    return max(",;\t", key=known)


def read_toml(content: bytes, file: str, findings: Findings) -> RawJob:
    """Read a whole job from TOML.

    Raises
    ------
    InputError
        If it is no TOML, or is outside the bounds.
    """
    table = parse_toml(decode(content, file), file, decimals=True)
    if {"links", "seed"} <= table.keys() and "piece" not in table:
        allowed = "a job names it in the column weave; 'chainplan weaves --new FILE' checks it"
        raise InputError(Fault(file, "is a weave file and no job", allowed))
    sheets = {}
    for key in table:
        if key not in _TOP_KEYS:
            found = f"there is no table called {quote(key)}"
            findings.unknown(f"{file} › {key_shown(key)}", found, key, lambda: list(_TOP_KEYS))
    for sheet, key in TOML_TABLES.items():
        if key in table:
            before = findings.count
            rows = _rows(table[key], key, file, findings)
            is_told = findings.count > before
            sheets[sheet] = RawSheet(sheet, f"{file} › {key}", tuple(rows), is_told=is_told)
    bench = _bench_rows(table, file, findings)
    if bench:
        sheets["bench"] = RawSheet("bench", f"{file} › bench", tuple(bench))
    return RawJob(sheets, hashlib.sha256(content).hexdigest())


def _rows(value: Any, key: str, file: str, findings: Findings) -> list[RawRow]:
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        where = f"{file} › {key}"
        findings.fault(where, f"{key} is not a list of tables", f"begin each with [[{key}]]")
        return []
    rows = []
    for number, item in enumerate(value, 1):
        title = item.get("name") if key == "piece" else None
        named = f" ({cut(title)})" if isinstance(title, str) and title.isprintable() else ""
        short = f"{key} {number}{named}"
        where = f"{file} › {short}"
        if len(item) > BOUNDS.columns:
            found = f"has {len(item)} keys"
            findings.fault(where, found, f"at most {BOUNDS.columns} are taken")
        elif key == "piece" and "section" in item and isinstance(item["section"], list):
            rows += _section_rows(item, where, findings)
        else:
            rows.append(RawRow(where, tuple(_cells(item, where)), short))
    return _bounded(rows, f"{file} › {key}", findings)


def _bounded(rows: list[RawRow], where: str, findings: Findings) -> list[RawRow]:
    """Refuse more rows than are taken."""
    if len(rows) <= BOUNDS.rows:
        return rows
    findings.fault(where, f"has {len(rows)} rows", f"at most {BOUNDS.rows} are taken")
    return []


def _section_rows(item: dict[str, Any], where: str, findings: Findings) -> list[RawRow]:
    """Turn a piece with a list of sections into one row a section."""
    whole = {key: value for key, value in item.items() if key != "section"}
    parts = item["section"]
    if not parts or not all(isinstance(part, dict) for part in parts):
        findings.fault(f"{where} › section", "is no list of tables", "write [[piece.section]]")
        return []
    rows: list[RawRow] = []
    if len(parts) > BOUNDS.columns or any(len(part) > BOUNDS.columns for part in parts):
        found = f"has more than {BOUNDS.columns} sections, or keys in one"
        findings.fault(f"{where} › section", found, f"at most {BOUNDS.columns} are taken")
        return []
    for number, part in enumerate(parts, 1):
        place = f"{where} › section {number}"
        both = sorted(set(whole) & set(part))
        part = {key: value for key, value in part.items() if key not in both}
        for key in both:
            found = f"{quote(key)} is given for the piece and for the section"
            findings.fault(f"{place} › {key_shown(key)}", found, "give it once")
        cells = [*_cells(whole, where), ("section", Cell(number, place)), *_cells(part, place)]
        rows.append(RawRow(place, tuple(cells), f"section {number}"))
    return rows


def _cells(item: dict[str, Any], where: str) -> list[tuple[str, Cell]]:
    cells = []
    for key, value in item.items():
        place = f"{where} › {key_shown(key)}"
        if isinstance(value, int) and abs(value) >= 10**BOUNDS.digits:
            error = f"is a number of more than {BOUNDS.digits} digits"
            cells.append((key, Cell(None, place, error=error)))
        elif isinstance(value, Unreadable):
            cells.append((key, Cell(None, place, error=value.trouble)))
        elif isinstance(value, str | int | float | Decimal | bool | datetime.date):
            cells.append((key, Cell(value, place)))
        else:
            many = "a list" if isinstance(value, list) else "a table"
            kind = many if isinstance(value, list | dict) else cut(str(value))
            cells.append((key, Cell(None, place, error=f"is {kind}")))
    return cells


def _bench_rows(table: dict[str, Any], file: str, findings: Findings) -> list[RawRow]:
    rows = []
    if "start_date" in table:
        where = f"{file} › start_date"
        rows.append(_setting_row("job", "start date", table["start_date"], where))
    bench = table.get("bench", {})
    if not isinstance(bench, dict):
        findings.fault(f"{file} › bench", "is not a table", "write [bench.welder] and so on")
        return rows
    for group, settings in bench.items():
        where = f"{file} › bench.{key_shown(group)}"
        if not isinstance(settings, dict):
            allowed = f"write [bench.{key_shown(group)}] above the settings"
            findings.fault(where, "is not a table", allowed)
            continue
        for name, value in settings.items():
            rows.append(_setting_row(group, name, value, f"{where}.{key_shown(name)}"))
    return _bounded(rows, f"{file} › bench", findings)


def _setting_row(group: str, name: str, value: Any, where: str) -> RawRow:
    [(_, cell)] = _cells({"value": value}, where)
    cells = (("group", Cell(group, where)), ("setting", Cell(name, where)))
    return RawRow(where, (*cells, ("value", Cell(cell.value, where, error=cell.error))))
