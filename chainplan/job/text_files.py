"""Reads a job from text: CSV for pieces alone, TOML for everything."""

from __future__ import annotations

import csv
import datetime
import hashlib
import io
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError
from chainplan.job.columns import TOML_TABLES, find_column
from chainplan.job.table import Cell, RawJob, RawRow, RawSheet, nearest, shorten

if TYPE_CHECKING:
    from chainplan.job.table import Findings

_TOP_KEYS = (*TOML_TABLES.values(), "bench", "start_date")


def decode(content: bytes, file: str) -> str:
    """Decode a text file: UTF-8, or UTF-16 with its mark.

    Raises
    ------
    InputError
        If it is neither, or holds zero bytes.
    """
    try:
        wide = content.startswith((b"\xff\xfe", b"\xfe\xff"))
        text = content.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        message = f"{file}: is not UTF-8 text (byte {error.start + 1}); save it as UTF-8"
        raise InputError(message) from error
    if "\0" in text:
        message = f"{file}: holds zero bytes, so it is no text; a job is .xlsx, .csv or .toml"
        raise InputError(message)
    return text


def read_csv(content: bytes, file: str, findings: Findings) -> RawJob:
    """Read pieces from a CSV file with commas, semicolons or tabs.

    Raises
    ------
    InputError
        If it is no text or no CSV.
    """
    text = decode(content, file)
    separator = _separator(text)
    try:
        lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error as error:
        message = f"{file}: is not a CSV file that can be read ({error}); check its quotes"
        raise InputError(message) from error
    filled = [(n, line) for n, line in enumerate(lines, 1) if any(cell.strip() for cell in line)]
    if not filled:
        return RawJob({"pieces": RawSheet("pieces", file, ())}, hashlib.sha256(content).hexdigest())
    top, first = filled[0]
    headings = {k: " ".join(text.split()) for k, text in enumerate(first) if text.strip()}
    rows = []
    for number, line in filled[1:]:
        cells = []
        for k, heading in headings.items():
            value = line[k] if k < len(line) else None
            cells.append((heading, Cell(value, f"{file} › {_letters(k)}{number}")))
        for k in range(len(line)):
            if k not in headings and line[k].strip():
                place = f"{file} › {_letters(k)}{number}"
                findings.fault(
                    place,
                    f"{line[k].strip()!r} stands under no heading",
                    'a cell with a comma in it goes between quotes: "3,5"',
                )
        rows.append(RawRow(f"{file} › row {number}", tuple(cells)))
    places = tuple((heading, f"{file} › {_letters(k)}{top}") for k, heading in headings.items())
    sheet = RawSheet("pieces", file, tuple(rows), places)
    return RawJob({"pieces": sheet}, hashlib.sha256(content).hexdigest())


def _separator(text: str) -> str:
    """Choose the separator under which most headings are known columns."""
    first = next((line for line in text.splitlines() if line.strip()), "")

    def known(separator: str) -> int:
        cells = first.split(separator)
        return sum(find_column("pieces", cell.strip(' "')) is not None for cell in cells)

    return max(",;\t", key=known)


def _letters(index: int) -> str:
    """Name a column as a spreadsheet does: 0 → A, 26 → AA."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def read_toml(content: bytes, file: str, findings: Findings) -> RawJob:
    """Read a whole job from TOML.

    Raises
    ------
    InputError
        If it is no TOML.
    """
    import tomllib

    text = decode(content, file).replace("\r\n", "\n")
    try:
        table = tomllib.loads(text, parse_float=Decimal)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        message = f"{file}: is not TOML that can be read ({error})"
        raise InputError(message) from error
    sheets = {}
    for key in table:
        if key not in _TOP_KEYS:
            found = f"there is no table called {key!r}"
            findings.fault(f"{file} › {key}", found, nearest(key, _TOP_KEYS))
    for sheet, key in TOML_TABLES.items():
        if key in table:
            rows = _rows(table[key], key, file, findings)
            sheets[sheet] = RawSheet(sheet, f"{file} › {key}", tuple(rows))
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
        named = f" ({shorten(title)})" if isinstance(title, str) and title.isprintable() else ""
        where = f"{file} › {key} {number}{named}"
        if key == "piece" and "section" in item and isinstance(item["section"], list):
            rows += _section_rows(item, where, findings)
        else:
            rows.append(_row(item, where))
    return rows


def _section_rows(item: dict[str, Any], where: str, findings: Findings) -> list[RawRow]:
    """Turn a piece with a list of sections into one row a section."""
    whole = {key: value for key, value in item.items() if key != "section"}
    parts = item["section"]
    if not parts or not all(isinstance(part, dict) for part in parts):
        findings.fault(f"{where} › section", "is no list of tables", "write [[piece.section]]")
        return []
    rows = []
    for number, part in enumerate(parts, 1):
        place = f"{where} › section {number}"
        both = sorted(set(whole) & set(part))
        part = {key: value for key, value in part.items() if key not in both}
        for key in both:
            found = f"{key!r} is given for the piece and for the section"
            findings.fault(f"{place} › {key}", found, "give it once")
        cells = [*_cells(whole, where), ("section", Cell(number, place)), *_cells(part, place)]
        rows.append(RawRow(place, tuple(cells)))
    return rows


def _row(item: dict[str, Any], where: str) -> RawRow:
    return RawRow(where, tuple(_cells(item, where)))


def _cells(item: dict[str, Any], where: str) -> list[tuple[str, Cell]]:
    cells = []
    for key, value in item.items():
        place = f"{where} › {key}"
        if isinstance(value, str | int | float | Decimal | bool | datetime.date):
            cells.append((key, Cell(value, place)))
        else:
            kind = {"list": "a list", "dict": "a table"}.get(type(value).__name__, str(value))
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
        where = f"{file} › bench.{group}"
        if not isinstance(settings, dict):
            findings.fault(where, "is not a table", f"write [bench.{group}] above the settings")
            continue
        for name, value in settings.items():
            rows.append(_setting_row(group, name, value, f"{where}.{name}"))
    return rows


def _setting_row(group: str, name: str, value: Any, where: str) -> RawRow:
    [(_, cell)] = _cells({"value": value}, where)
    cells = (("group", Cell(group, where)), ("setting", Cell(name, where)))
    return RawRow(where, (*cells, ("value", Cell(cell.value, where, error=cell.error))))
