"""Reads a workbook's sheets cell by cell; refuses what is none, is damaged, or is too much."""

from __future__ import annotations

import difflib
import hashlib
import re
import warnings
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, cut, quote
from chainplan.job.columns import OUR_OTHER_SHEETS, SHEETS, columns_of, find_column
from chainplan.job.files.package import unpack_workbook
from chainplan.job.table import Cell, PlacedHeading, RawJob, RawRow, RawSheet, key_shown

if TYPE_CHECKING:
    import io

    from chainplan.job.table import Findings

HEADING_WITHIN = 20
"""Rows with something in them among which the headings are looked for: room for a title, the
shop's address and a note above them."""
SHEET_LIKE = 0.75
"""Letters in common from which a sheet's name is taken for one of ours: "peices", not "prizes"."""
WORD_LIKE = 0.8
"""The same for one word of a longer name, such as "my pieces": more words, more chances."""


@dataclass(frozen=True, slots=True)
class _Filled:
    """One filled cell: what is in it and how the spreadsheet shows it."""

    value: Any
    kind: str  # one letter, as workbooks have it: n, s, b, d, e
    is_percent: bool = False
    is_formula: bool = False


@dataclass(slots=True)
class _FilledCells:
    """The filled cells of one sheet: rows by number, cells by column number."""

    rows: dict[int, dict[int, _Filled]] = field(default_factory=dict)
    cells: int = 0


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
    safe = unpack_workbook(content, file)
    try:
        titles, sheets = _load(safe, file)
    except InputError:
        raise
    except Exception as error:
        allowed = "open it in a spreadsheet program and save it anew as .xlsx"
        raise InputError(Fault(file, "is damaged, or holds no workbook", allowed)) from error
    for title in titles:
        if title not in sheets:
            found = "the workbook names this sheet and does not hold it: it is damaged"
            raise InputError(Fault(f"{file} › {key_shown(title)}", found, _ANEW))
    known: dict[str, RawSheet] = {}
    others: list[str] = []
    for title, sheet in sheets.items():
        name = title.strip().casefold()
        if name in known:
            where = f"{file} › {key_shown(title)}"
            findings.fault(where, f"a second sheet {name!r}", "keep one of them")
        elif name in SHEETS:
            known[name] = _read_sheet(name, file, sheet, findings)
        elif name not in OUR_OTHER_SHEETS:
            others.append(title)
    for title in others:
        _note_other_sheet(title, file, set(known), findings)
    return RawJob(known, hashlib.sha256(content).hexdigest(), tuple(others))


_ANEW = "copy it anew, or open it in a spreadsheet program and save it anew"


def _load(safe: io.BytesIO, file: str) -> tuple[list[str], dict[str, _FilledCells]]:
    """Read the filled cells of every known sheet; the titles that the workbook names, and these.

    Only the parts of a workbook that cells need are read: a sheet's rows, texts and formats.
    """
    from openpyxl.reader.excel import ExcelReader

    sheets: dict[str, _FilledCells] = {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        reader = ExcelReader(safe, read_only=True, data_only=True, keep_links=False)
        reader.read()
        book = reader.wb
        titles = [sheet.name for sheet in reader.parser.sheets]
        for sheet in book._sheets:
            where = f"{file} › {key_shown(sheet.title)}"
            if sheet.title in sheets:
                raise InputError(Fault(where, "this sheet is there twice", _ANEW))
            known = sheet.title.strip().casefold() in SHEETS
            sheets[sheet.title] = _load_sheet(book, sheet, where) if known else _FilledCells()
        book.close()
    return titles, sheets


def _load_sheet(book: Any, sheet: Any, where: str) -> _FilledCells:
    """Read the filled cells of one sheet, row by row, without filling up what is not there."""
    from defusedxml.ElementTree import iterparse
    from openpyxl.worksheet._reader import FORMULA_TAG, ROW_TAG, WorkSheetParser

    parser = WorkSheetParser(
        None, sheet._shared_strings, data_only=True, epoch=book.epoch,
        date_formats=book._date_formats, timedelta_formats=book._timedelta_formats,
    )  # fmt: skip
    percent = _percent_styles(book)
    loaded = _FilledCells()
    in_cells = False
    with sheet._get_source() as source:
        for _, element in iterparse(source, forbid_dtd=True):
            if element.tag != ROW_TAG:
                in_cells = in_cells or element.tag.endswith(_CELL_TAGS)
                if not in_cells:
                    element.clear()
                continue
            formulas = {
                number for number, cell in enumerate(element) if cell.find(FORMULA_TAG) is not None
            }
            number, cells = parser.parse_row(element)
            parser.row_dimensions.clear()
            element.clear()
            in_cells = False
            filled: dict[int, _Filled] = {}
            for place, cell in enumerate(cells):
                value, column = cell["value"], cell["column"]
                if value is None and place not in formulas:
                    continue
                if column in filled or cell["row"] != number:
                    raise InputError(Fault(f"{where}!row {number}", "has a cell twice", _ANEW))
                shown = isinstance(value, int | float) and cell["style_id"] in percent
                filled[column] = _Filled(value, cell["data_type"], shown, place in formulas)
            if filled:
                _add_row(loaded, number, filled, where)
    return loaded


_CELL_TAGS = ("}c", "}v", "}f", "}is", "}t", "}r", "}rPr")
"""Ends of the names of what stands inside a row; everything else in a sheet is not needed."""


def _add_row(loaded: _FilledCells, number: int, filled: dict[int, _Filled], where: str) -> None:
    if number in loaded.rows or not 1 <= number <= BOUNDS.lines:
        raise InputError(Fault(f"{where}!row {number}", "is there twice, or is no row", _ANEW))
    loaded.rows[number] = filled
    loaded.cells += len(filled)
    if len(loaded.rows) > BOUNDS.rows + HEADING_WITHIN:
        taken = f"at most {BOUNDS.rows} are taken: make several files of it"
        raise InputError(Fault(where, f"has more than {BOUNDS.rows} filled rows", taken))
    if max(filled) > BOUNDS.columns:
        taken = f"at most {BOUNDS.columns} columns are taken"
        raise InputError(
            Fault(f"{where}!row {number}", f"is filled to column {max(filled)}", taken)
        )


def _percent_styles(book: Any) -> set[int]:
    """Return the numbers of the cell styles that show a number as a percentage."""
    from openpyxl.styles.numbers import BUILTIN_FORMATS, BUILTIN_FORMATS_MAX_SIZE

    found = set()
    for number, style in enumerate(book._cell_styles):
        key = style.numFmtId
        own = key - BUILTIN_FORMATS_MAX_SIZE
        if own < 0:
            text = BUILTIN_FORMATS.get(key, "")
        else:
            text = book._number_formats[own] if own < len(book._number_formats) else ""
        if "%" in text:
            found.add(number)
    return found


def _note_other_sheet(title: str, file: str, there: set[str], findings: Findings) -> None:
    """Refuse a sheet that seems to be a known one under another name; tell of any other."""
    where = f"{file} › {key_shown(title)}"
    meant = _meant_sheet(cut(title.strip().casefold(), BOUNDS.name_letters))
    if meant and meant not in there:
        found = (
            f"there is no sheet called {quote(title)}, and one of your own that is not read "
            f"needs a name less like {meant!r}"
        )
        findings.fault(where, found, f"call it {meant!r}, or give it another name", (meant,))
    else:
        findings.warn(f"{where}: this sheet is not read; known are {', '.join(SHEETS)}")


def _meant_sheet(name: str) -> str | None:
    """Find the known sheet a name is near to, in whole or by one word: "pieces list"."""
    for text, cutoff in (
        (name, SHEET_LIKE),
        *((word, WORD_LIKE) for word in re.findall(r"\w+", name)),
    ):
        for sheet in SHEETS:
            if sorted(sheet) == sorted(text):
                return sheet
        close: list[str] = difflib.get_close_matches(text, SHEETS, n=1, cutoff=cutoff)
        if close:
            return close[0]
    return None


def _read_sheet(name: str, file: str, sheet: _FilledCells, findings: Findings) -> RawSheet:
    from openpyxl.utils import get_column_letter

    where = f"{file} › {name}"
    rows = {number: row for number, row in sheet.rows.items() if _has_text(row)}
    if not rows:
        return RawSheet(name, where, ())
    top = _heading_row(name, rows)
    if any(number < top for number in rows):
        findings.warn(f"{where}: what stands above the headings in row {top} is not read")
    headings = {
        column: " ".join(str(cell.value).split())
        for column, cell in rows[top].items()
        if str(cell.value).strip() and not cell.is_formula
    }
    letters = {k: get_column_letter(k) for k in range(1, BOUNDS.columns + 1)}
    body, used_formulas = [], False
    unheaded: dict[int, list[int]] = {}
    for number, row in rows.items():
        if number <= top:
            continue
        cells = []
        for column, heading in headings.items():
            filled = row.get(column)
            cells.append((heading, _cell(filled, f"{where}!{letters[column]}{number}")))
            used_formulas |= filled is not None and filled.is_formula and filled.value is not None
        for column, filled in row.items():
            if column not in headings and str(filled.value).strip():
                unheaded.setdefault(column, []).append(number)
        body.append(RawRow(f"{where}!row {number}", tuple(cells), f"{name}!row {number}"))
    for column, numbers in unheaded.items():
        place = f"{where}!{letters[column]}{numbers[0]}"
        more = f" (and {len(numbers) - 1} more below it)" if len(numbers) > 1 else ""
        findings.warn(f"{place}{more}: has no heading above it and is not read")
    if used_formulas:
        findings.warn(f"{where}: holds formulas; the values last saved for them are used")
    titles = tuple(
        PlacedHeading(heading, f"{where}!{letters[column]}{top}", f"{name}!{letters[column]}{top}")
        for column, heading in headings.items()
    )
    return RawSheet(name, where, tuple(body), titles)


def _has_text(row: dict[int, _Filled]) -> bool:
    return any(cell.is_formula or str(cell.value).strip() for cell in row.values())


def _heading_row(name: str, rows: dict[int, dict[int, _Filled]]) -> int:
    """Find the row of headings: the first that names two known columns, else the first of all."""
    for number in list(rows)[:HEADING_WITHIN]:
        matched = sum(
            isinstance(cell.value, str) and find_column(name, cell.value) is not None
            for cell in rows[number].values()
        )
        if matched >= min(2, len(columns_of(name))):
            return number
    return next(iter(rows))


def _cell(filled: _Filled | None, where: str) -> Cell:
    """Make a cell of what is filled in, of a formula by the value last saved for it."""
    if filled is None:
        return Cell(None, where)
    if filled.is_formula and filled.value is None:
        cure = "open and save the file in a spreadsheet program first"
        return Cell(None, where, error="is a formula without a saved value", cure=cure)
    if filled.kind == "e":
        return Cell(None, where, error=f"is the error {cut(str(filled.value))}")
    return Cell(filled.value, where, is_percent=filled.is_percent)
