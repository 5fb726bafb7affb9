"""Cells of a workbook as they are stored, without the library that wrote them."""

from __future__ import annotations

import re
import zipfile
import zlib
from html import unescape
from typing import TYPE_CHECKING

from chainplan.bounds import BOUNDS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

Row = dict[str, float | str]
"""A row's cells by the letters of their columns; empty cells are left out."""
Sheet = dict[int, Row]
"""Rows that hold anything, by their number."""

_ROW = re.compile(r'<row r="(\d+)"[^>]*>(.*?)</row>', re.DOTALL)
_CELL = re.compile(r'<c r="([A-Z]+)[0-9]+"([^>]*?)(?:/>|>(.*?)</c>)', re.DOTALL)
_KIND = re.compile(r'\bt="([a-zA-Z]+)"')
_VALUE = re.compile(r"<v(?:\s[^>]*)?>(.*?)</v>", re.DOTALL)
_TEXT = re.compile(r"<t(?:\s[^>]*)?>(.*?)</t>", re.DOTALL)
_SHEET = re.compile(r"<sheet\b[^>]*?\bname=\"([^\"]*)\"")
_SHARED = re.compile(r"<si>(.*?)</si>", re.DOTALL)


def read_cells(path: Path) -> dict[str, Sheet]:
    """Read the filled rows of every sheet of a workbook, as ours are stored.

    A number is a float, a formula its stored value, an error a text that begins with ``#``.

    Raises
    ------
    ValueError
        If it is no workbook, is damaged, or unpacks to more than the bound.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            sizes = [part.file_size for part in packed.infolist() if part.filename.endswith("xml")]
            if sum(sizes) > BOUNDS.unpacked_bytes * 4:  # with all rings and joins asked for
                message = f"unpacks to {sum(sizes)} bytes"
                raise ValueError(message)
            names = [unescape(name) for name in _SHEET.findall(_part(packed, "xl/workbook.xml"))]
            shared: list[str] = []
            if "xl/sharedStrings.xml" in packed.namelist():
                items = _SHARED.findall(_part(packed, "xl/sharedStrings.xml"))
                shared = [_joined(item) for item in items]
            return {
                name: _rows(_part(packed, f"xl/worksheets/sheet{number}.xml"), shared)
                for number, name in enumerate(names, 1)
            }
    except (zipfile.BadZipFile, zlib.error, KeyError, EOFError, OSError) as error:
        message = f"no workbook as it was written ({error!r})"
        raise ValueError(message) from error


def _part(packed: zipfile.ZipFile, name: str) -> str:
    return packed.read(name).decode("utf-8")


def _joined(item: str) -> str:
    if item.startswith("<t>") and item.find("<", 3) == len(item) - 4:
        text = item[3:-4]  # nothing but one run of plain text
    else:
        text = "".join(_TEXT.findall(item))
    return unescape(text) if "&" in text else text


def _rows(sheet: str, shared: list[str]) -> Sheet:
    rows: Sheet = {}
    for number, row in _ROW.findall(sheet):
        cells: Row = {}
        for column, attributes, content in _CELL.findall(row):
            value = _value(attributes, content, shared)
            if value not in (None, ""):
                cells[column] = value
        if cells:
            rows[int(number)] = cells
    return rows


def _value(attributes: str, content: str, shared: list[str]) -> float | str | None:
    if attributes.endswith(' t="s"') and content.startswith("<v>") and content.endswith("</v>"):
        return shared[int(content[3:-4])]  # most cells of text
    kind = _KIND.search(attributes) if "t=" in attributes else None
    if kind is not None and kind.group(1) == "inlineStr":
        return _joined(content)
    if content.startswith("<v>") and content.find("<", 3) == len(content) - 4:
        text = content[3:-4]  # nothing but its value, as nearly all cells
    else:
        found = _VALUE.search(content)
        if found is None:
            return None
        text = found.group(1)
    text = unescape(text) if "&" in text else text
    if kind is None or kind.group(1) == "n":
        return float(text)
    return shared[int(text)] if kind.group(1) == "s" else text


def table_below(sheet: Sheet, headings: tuple[str, ...]) -> list[Row]:
    """Find the row with these headings, and give the rows below it by heading.

    The table ends at the next empty row. A row of totals belongs to it.

    Raises
    ------
    LookupError
        If no row has them all.
    """
    for number, row in sheet.items():
        columns = {str(value): column for column, value in row.items()}
        if not columns.keys() >= set(headings):
            continue
        return list(_rows_below(sheet, number, columns))
    message = f"no table with the headings {', '.join(headings)}"
    raise LookupError(message)


def _rows_below(sheet: Sheet, number: int, columns: dict[str, str]) -> Iterator[Row]:
    while (row := sheet.get(number := number + 1)) is not None:
        yield {heading: row[column] for heading, column in columns.items() if column in row}
