"""Reads a workbook's sheets cell by cell; refuses what is none, and what unpacks to too much."""

from __future__ import annotations

import difflib
import hashlib
import io
import re
import warnings
import zipfile
import zlib
from typing import IO, TYPE_CHECKING, Any

from chainplan.errors import InputError
from chainplan.job.columns import OUR_OTHER_SHEETS, SHEETS, columns_of, find_column
from chainplan.job.table import Cell, RawJob, RawRow, RawSheet, shorten

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.job.table import Findings

MOST_UNPACKED = 48 * 1024 * 1024
"""Bytes that a workbook may unpack to; a job of ten thousand pieces takes about a tenth."""
CHUNK = 256 * 1024
MOST_MEMBERS = 2000
MOST_COLUMNS = 200
MOST_ROWS = 1_048_576
HEADING_WITHIN = 20
"""Rows with something in them among which the headings are looked for."""
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def read_workbook(content: bytes, file: str, findings: Findings) -> RawJob:
    """Read every known sheet of a workbook.

    Parameters
    ----------
    content : bytes
        The whole file.
    file : str
        Its name, for messages.
    findings : Findings
        Takes faults and warnings.

    Raises
    ------
    InputError
        If it is no workbook or unpacks to too much.
    """
    safe = _unpack(content, file)
    try:
        sheets = _load(safe, data_only=False)
        formulas = any(cell is not None and cell[1] == "f" for cell in _cells_of(sheets))
        saved = _load(safe, data_only=True) if formulas else {}
    except Exception as error:
        message = (
            f"{file}: is damaged, or holds no workbook; open it in a spreadsheet program and "
            "save it anew as .xlsx"
        )
        raise InputError(message) from error
    known: dict[str, RawSheet] = {}
    others: list[str] = []
    for title, rows in sheets.items():
        name = title.strip().casefold()
        if name in known:
            where = f"{file} › {title}"
            findings.fault(where, f"a second sheet {name!r}", "keep one of them")
        elif name in SHEETS:
            known[name] = _read_sheet(name, file, rows, saved.get(title, {}), findings)
        elif name not in OUR_OTHER_SHEETS:
            others.append(title)
    for title in others:
        _note_other_sheet(title, file, set(known), findings)
    return RawJob(known, hashlib.sha256(content).hexdigest(), tuple(others))


_Sheet = dict[int, dict[int, tuple[Any, str, str]]]
"""Rows by number, cells by column number: value, data type, number format."""


def _cells_of(sheets: dict[str, _Sheet]) -> list[tuple[Any, str, str]]:
    return [cell for rows in sheets.values() for row in rows.values() for cell in row.values()]


def _unpack(content: bytes, file: str) -> io.BytesIO:
    """Unpack what is needed within bounds, counting what really comes out, and pack it flat."""
    if content.startswith(_OLD_WORKBOOK):
        message = f"{file}: is an old .xls or has a password; save it as .xlsx without one"
        raise InputError(message)
    flat = io.BytesIO()
    left = MOST_UNPACKED
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed, zipfile.ZipFile(flat, "w") as plain:
            members = packed.infolist()
            declared = sum(member.file_size for member in members)
            if declared > MOST_UNPACKED or len(members) > MOST_MEMBERS:
                raise _too_much(file, declared)
            for member in members:
                if not member.filename.endswith((".xml", ".rels")):
                    continue
                with packed.open(member) as stream:
                    data = b"".join(_chunks(stream, left, file))
                left -= len(data)
                if b"<!DOCTYPE" in data or b"<!ENTITY" in data:
                    message = f"{file}: declares entities, which no workbook needs; save it anew"
                    raise InputError(message)
                plain.writestr(zipfile.ZipInfo(member.filename), data)
    except InputError:
        raise
    except (
        zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError, RuntimeError,
        ValueError,
    ) as error:  # fmt: skip
        raise _no_workbook(file, content) from error
    flat.seek(0)
    return flat


def _no_workbook(file: str, content: bytes) -> InputError:
    """Say in plain words what a file is that cannot be unpacked as a workbook."""
    if content.startswith(b"PK"):
        found = f"{file}: is not a workbook that can be read: it is damaged or not all there"
        message = f"{found}; copy it anew, or save it anew as .xlsx without a password"
    else:
        kind = "text" if _is_text(content) else "something else"
        found = f"{file}: is not a workbook, whatever its name says: inside is {kind}"
        message = f"{found}; a job is an .xlsx, .csv or .toml file with the ending of its kind"
    return InputError(message)


def _is_text(content: bytes) -> bool:
    try:
        return content.decode("utf-8").replace("\n", "").replace("\r", "").isprintable()
    except UnicodeDecodeError:
        return False


def _chunks(stream: IO[bytes], most: int, file: str) -> Iterator[bytes]:
    """Read a member bit by bit, so that no more is unpacked at once than is taken."""
    while chunk := stream.read(CHUNK):
        most -= len(chunk)
        if most < 0:
            raise _too_much(file, MOST_UNPACKED)
        yield chunk


def _too_much(file: str, size: int) -> InputError:
    found = f"{file}: unpacks to {size / 1e6:.0f} MB or more"
    message = f"{found}; at most {MOST_UNPACKED / 1e6:.0f} MB are taken"
    return InputError(message)


def _load(safe: io.BytesIO, *, data_only: bool) -> dict[str, _Sheet]:
    """Read the filled cells of every sheet."""
    import openpyxl

    safe.seek(0)
    sheets: dict[str, _Sheet] = {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(safe, read_only=True, data_only=data_only)
        for sheet in book.worksheets:
            if sheet.title.strip().casefold() not in SHEETS:
                sheets[sheet.title] = {}  # only its name matters
                continue
            sheet.reset_dimensions()
            rows: _Sheet = {}
            blank = None  # the one row that stands for every row left out of the file
            for number, row in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS), 1):
                if number > MOST_ROWS:
                    break
                if row is blank:
                    continue
                filled = {
                    column: (cell.value, cell.data_type, cell.number_format)
                    for column, cell in enumerate(row, 1)
                    if cell.value is not None
                }
                if filled:
                    rows[number] = filled
                else:
                    blank = row
            sheets[sheet.title] = rows
        book.close()
    return sheets


def _note_other_sheet(title: str, file: str, there: set[str], findings: Findings) -> None:
    """Refuse a sheet that seems to be a known one under another name; tell of any other."""
    where = f"{file} › {title}"
    name = title.strip().casefold()
    meant = _meant_sheet(name)
    if meant and meant not in there:
        found = f"there is no sheet called {shorten(title)!r}"
        allowed = f"did you mean {meant!r}? If not, give it another name: it is not read"
        findings.fault(where, found, allowed)
    else:
        findings.warn(f"{where}: this sheet is not read; known are {', '.join(SHEETS)}")


def _meant_sheet(name: str) -> str | None:
    """Find the known sheet a name is near to, in whole or by one word: "pieces list"."""
    for text, cutoff in ((name, 0.75), *((word, 0.8) for word in re.findall(r"\w+", name))):
        for sheet in SHEETS:
            if sorted(sheet) == sorted(text):
                return sheet
        close: list[str] = difflib.get_close_matches(text, SHEETS, n=1, cutoff=cutoff)
        if close:
            return close[0]
    return None


def _read_sheet(name: str, file: str, rows: _Sheet, saved: _Sheet, findings: Findings) -> RawSheet:
    from openpyxl.utils import get_column_letter

    where = f"{file} › {name}"
    rows = {number: row for number, row in rows.items() if _has_text(row)}
    if not rows:
        return RawSheet(name, where, ())
    top = _heading_row(name, rows)
    if any(number < top for number in rows):
        findings.warn(f"{where}: what stands above the headings in row {top} is not read")
    headings = {
        column: " ".join(str(value).split())
        for column, (value, kind, _) in rows[top].items()
        if str(value).strip() and kind != "f"
    }
    letters = {column: get_column_letter(column) for row in rows.values() for column in row}
    body, used_formulas = [], False
    for number, row in rows.items():
        if number <= top:
            continue
        cells = []
        for column in headings:
            place = f"{name}!{letters.get(column, '')}{number}"
            cell, is_formula = _read_one(row, saved.get(number, {}), column, f"{file} › {place}")
            used_formulas |= is_formula
            cells.append((headings[column], cell))
        for column in row:
            if column not in headings and str(row[column][0]).strip():
                place = f"{where}!{letters[column]}{number}"
                findings.warn(f"{place}: has no heading above it and is not read")
        body.append(RawRow(f"{where}!row {number}", tuple(cells)))
    if used_formulas:
        findings.warn(f"{where}: holds formulas; the values last saved for them are used")
    places = tuple(
        (heading, f"{where}!{letters[column]}{top}") for column, heading in headings.items()
    )
    return RawSheet(name, where, tuple(body), places)


def _has_text(row: dict[int, tuple[Any, str, str]]) -> bool:
    return any(str(value).strip() for value, _, _ in row.values())


def _heading_row(name: str, rows: _Sheet) -> int:
    """Find the row of headings: the first that names two known columns, else the first of all."""
    for number in list(rows)[:HEADING_WITHIN]:
        matched = sum(
            isinstance(value, str) and find_column(name, value) is not None
            for value, _, _ in rows[number].values()
        )
        if matched >= min(2, len(columns_of(name))):
            return number
    return next(iter(rows))


def _read_one(
    row: dict[int, tuple[Any, str, str]],
    saved: dict[int, tuple[Any, str, str]],
    column: int,
    where: str,
) -> tuple[Cell, bool]:
    """Read one cell, a formula by the value last saved for it; say whether it was a formula."""
    if column not in row:
        return Cell(None, where), False
    value, kind, number_format = row[column]
    is_formula = kind == "f"
    if is_formula:
        if column not in saved:
            error = "is a formula without a saved value"
            return Cell(None, where, error=error), False
        value, kind, number_format = saved[column]
    if kind == "e":
        return Cell(None, where, error=f"is the error {value}"), is_formula
    is_percent = isinstance(value, int | float) and "%" in (number_format or "")
    return Cell(value, where, is_percent=is_percent), is_formula
