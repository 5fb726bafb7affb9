"""Writes the job workbook: explained columns, drop-downs, input cells that show without colour."""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError
from chainplan.job.columns import SHEETS, Column, columns_of
from chainplan.job.sheets.bench import START_DATE, TEXT_ALLOWED, bench_settings, setting_words
from chainplan.job.sheets.example import STARTER
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.prices import PRICE_ITEMS, WIRE_PREMIUM

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

    from chainplan.job.written.content import Content
    from chainplan.model.bench.setting import SettingInfo
    from chainplan.model.piece.weave_names import WeaveNames

FIXED_TIME = (2027, 1, 1, 0, 0, 0)
"""Time of every part of the file, so that the same content makes the same bytes; any would do."""
EMPTY_ROWS = 20
"""Rows below the last filled one that are laid out for input: a page in landscape with the rest."""
_GENERAL_WEAVES = ("byzantine", "european-4-in-1", "single-link")
_WIDTHS = {
    "name": 24, "weave": 20, "metal": 18, "notes": 26, "note": 26, "meaning": 58, "source": 44,
    "setting": 30, "value": 24, "due": 13, "date": 13, "closing way": 30, "item": 26,
    "part": 20, "kind": 18, "piece": 24, "title": 22, "allowed": 18,
    "weld note": 26, "fume caution": 26, "skin caution": 26, "like": 18,
}  # fmt: skip
"""Letters of columns wider than their heading: the longest entry of the samples, sentences in two
or three lines."""
HEADING_HEIGHT = 34
"""Points for a heading of two lines with air."""
_PAGES_WIDE = {"pieces": 2, "metals": 3}
"""Pages beside each other on which a wide sheet is printed, so that it stays readable."""


def write_starter(path: str | Path, *, weaves: WeaveNames | None = None) -> Path:
    """Write a starter workbook with every column explained and two invented pieces.

    Parameters
    ----------
    path : str or Path
        A file ending in .xlsx that is not there yet.
    weaves : WeaveNames, optional
        Offered in the drop-down for weaves.

    Raises
    ------
    InputError
        If the file is there already, has another ending, or cannot be written.
    """
    from chainplan.writing import write_file

    path = Path(path)
    if path.suffix.casefold() != ".xlsx":
        message = f"{path.name}: the starter is a workbook; let its name end in .xlsx"
        raise InputError(message)
    if path.exists():
        message = f"{path}: is there already and is not overwritten; choose another name"
        raise InputError(message)
    write_file(path, workbook_bytes(STARTER, weaves=weaves))
    return path


def workbook_bytes(content: Content, *, weaves: WeaveNames | None = None) -> bytes:
    """Make the job workbook of some content; the same content makes the same bytes."""
    import openpyxl

    from chainplan.job.written.guide import write_columns_sheet, write_read_me

    book = openpyxl.Workbook()
    write_read_me(book.active)
    lists = _write_lists(book.create_sheet("lists"), weaves)
    for sheet in SHEETS:
        page = book.create_sheet(sheet)
        rows = _bench_rows(content) if sheet == "bench" else content.get(sheet, ())
        _write_sheet(page, sheet, rows, lists)
    write_columns_sheet(book.create_sheet("columns"))
    book.move_sheet("lists", offset=len(book.sheetnames) - 1 - book.sheetnames.index("lists"))
    book.active = book.sheetnames.index("pieces")
    book["read me"].sheet_view.tabSelected = False
    return _sealed(book)


def _write_lists(page: Worksheet, weaves: WeaveNames | None) -> dict[str, str]:
    """Write what the drop-downs offer on a hidden sheet; return the range of each list."""
    from chainplan.reference import TEMPERS, metal_keys, part_keys

    weave_keys = tuple(name.key for name in weaves.names) if weaves else _GENERAL_WEAVES
    items = (*(item.item for item in PRICE_ITEMS), *metal_keys())
    lists = {
        "weave": (*weave_keys, LOOSE_JOINS),
        "metal": metal_keys(),
        "temper": TEMPERS,
        "part": (*part_keys(), "own"),
        "item": (*items, *(f"{WIRE_PREMIUM} {key}" for key in metal_keys())),
    }
    ranges = {}
    for number, (title, words) in enumerate(lists.items(), 1):
        letter = "ABCDE"[number - 1]
        page.cell(1, number, title)
        for place, word in enumerate(words, 2):
            page.cell(place, number, word)
        ranges[title] = f"lists!${letter}$2:${letter}${len(words) + 1}"
    page.sheet_state = "hidden"
    return ranges


def _bench_rows(content: Content) -> list[dict[str, Any]]:
    """Write every setting with its value, unit, meaning, range and source."""
    given = {(row["group"], row["setting"]): row["value"] for row in content.get("bench", ())}
    return [
        {
            "group": info.group,
            "setting": setting_words(info),
            "value": given.get((info.group, setting_words(info)), info.default),
            "unit": info.unit,
            "meaning": info.means,
            "allowed": _allowed(info),
            "source": info.source,
        }
        for info in (START_DATE, *bench_settings())
    ]


def _allowed(info: SettingInfo) -> str:
    from chainplan.reference.hallmarks import hallmark_countries

    if info.choices:
        return ", ".join(info.choices)
    if isinstance(info.default, bool):
        return "yes or no"
    if info is START_DATE:
        return "a date, or empty"
    if info.low is None or info.high is None:
        if info.name == "country":
            return f"any; rules known: {', '.join(hallmark_countries())}"
        return TEXT_ALLOWED.get((info.group, info.name), "")
    return f"{info.low:.10g} to {info.high:.10g}"


def _write_sheet(page: Worksheet, sheet: str, rows: Any, lists: dict[str, str]) -> None:
    from openpyxl.utils import get_column_letter

    from chainplan.job.written.style import Style

    style = Style()
    known = list(columns_of(sheet).values())
    empty = 0 if sheet == "bench" else EMPTY_ROWS
    last = 1 + len(rows) + empty
    for number, column in enumerate(known, 1):
        cell = page.cell(1, number, column.heading)
        style.heading(cell, needed=column.required != "no", note=_comment(column))
        width = _WIDTHS.get(column.name, max(11, len(column.heading) + 2))
        page.column_dimensions[get_column_letter(number)].width = width
        _add_drop_down(page, column, get_column_letter(number), last, lists)
        for place in range(2, last + 1):
            row = rows[place - 2] if place - 2 < len(rows) else {}
            cell = page.cell(place, number)
            _put(cell, row.get(column.name))
            if column.kind == "shown" or (sheet == "bench" and column.name != "value"):
                style.shown(cell)
            else:
                style.entry(cell, as_text=column.kind in {"name", "text"})
    letters = {column.name: get_column_letter(n) for n, column in enumerate(known, 1)}
    wrapped = {column.name for column in known if column.kind in {"name", "text", "shown"}}
    for place, row in enumerate(rows, 2):
        texts = {letters[name]: text for name, text in row.items() if name in wrapped}
        style.fit_height(page, place, texts)
    page.row_dimensions[1].height = HEADING_HEIGHT
    page.freeze_panes = "C2" if sheet == "bench" else "B2"
    style.print_setup(page, last, len(known), pages_wide=_PAGES_WIDE.get(sheet, 1))


def _put(cell: Any, value: Any) -> None:
    """Put a value into a cell; text never becomes a formula."""
    if value is None or value == "":
        return
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if isinstance(value, Decimal):
        exact = Decimal(repr(float(value))) == value
        value = float(value) if exact else str(value)
    if isinstance(value, float) and float(f"{value:.16g}") != value:
        # A workbook keeps 16 digits of a number, and all of a text.
        value = f"{Decimal(repr(value)):f}"
    cell.value = value
    if isinstance(value, str):
        cell.data_type = "s"
    elif isinstance(value, datetime.date):
        cell.number_format = "yyyy-mm-dd"


def _comment(column: Column) -> str:
    needed = {"yes": "Needed.", "no": "May be empty."}.get(
        column.required, f"Needed: {column.required}."
    )
    lines = [f"{column.meaning}.", needed]
    if column.choices:
        lines.append(f"One of: {', '.join(column.choices)}.")
    if column.low is not None and column.high is not None:
        unit = f" {column.unit}" if column.unit else ""
        lines.append(f"Allowed: {column.low:.10g} to {column.high:.10g}{unit}.")
    if column.example:
        lines.append(f"Example: {column.example}")
    return "\n".join(lines)


_STRICT = {"choice", "yes-no"}


def _add_drop_down(
    page: Worksheet, column: Column, letter: str, last: int, lists: dict[str, str]
) -> None:
    """Offer what the column takes; names of one's own stay possible where they make sense."""
    from openpyxl.worksheet.datavalidation import DataValidation

    if column.kind == "yes-no":
        source = '"yes,no"'
    elif column.choices:
        source = f'"{",".join(column.choices)}"'
    else:
        key = column.kind if column.kind in {"weave", "metal", "part"} else column.name
        if key not in lists or column.kind == "name" or column.sheet == "metals":
            return
        if key in {"item", "part"} and column.kind == "text" and column.name != "item":
            return
        source = lists[key]
    check = DataValidation(type="list", formula1=source, allow_blank=True)
    check.errorStyle = "stop" if column.kind in _STRICT else "warning"
    check.errorTitle = column.name
    check.error = f"{column.meaning}"[:220]
    page.add_data_validation(check)
    check.add(f"{letter}2:{letter}{last}")


def _sealed(book: Workbook) -> bytes:
    """Save a workbook without the time of day, so that equal content gives equal bytes."""
    fixed = datetime.datetime(*FIXED_TIME)
    book.properties.creator = "chainplan"
    book.properties.created = fixed
    loose = io.BytesIO()
    book.save(loose)
    sealed = io.BytesIO()
    with (
        zipfile.ZipFile(loose) as source,
        zipfile.ZipFile(sealed, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for member in source.infolist():
            data = source.read(member)
            if member.filename == "docProps/core.xml":
                stamp = fixed.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
                data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", stamp, data)
            info = zipfile.ZipInfo(member.filename, FIXED_TIME)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            target.writestr(info, data)
    return sealed.getvalue()
