"""The look of the workbook: one header, one body, one input cell, and text that stays text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from openpyxl.worksheet.worksheet import Worksheet

MOST_ROWS = 50_000
"""Rows that a sheet takes at most, far below the format's 1 048 576; the rest goes to CSV."""

TITLE = Font(bold=True, size=15)
HEADER = Font(bold=True)
QUIET = Font(italic=True, color="555555")
STRONG = Font(bold=True)
HEADER_FILL = PatternFill("solid", fgColor="E6E6E6")
INPUT_FILL = PatternFill("solid", fgColor="FFF6D6")
_thick, _thin = Side(style="medium", color="333333"), Side(style="thin", color="BBBBBB")
_dashed = Side(style="mediumDashed", color="333333")
HEADER_LINE = Border(bottom=_thick)
TOTAL_LINE = Border(top=_thick)
INPUT_FRAME = Border(left=_dashed, right=_dashed, top=_dashed, bottom=_dashed)
WRAP = Alignment(wrap_text=True, vertical="top")
HEADER_WRAP = Alignment(wrap_text=True, vertical="bottom")

FORMATS = {
    "int": "#,##0",
    "0.1": "#,##0.0",
    "0.01": "#,##0.00",
    "0.001": "#,##0.000",
    "mm": '#,##0.0" mm"',
    "g": '#,##0.0" g"',
    "m": '#,##0.00" m"',
    "min": '#,##0.0" min"',
    "s": '#,##0" s"',
    "c": '0" °C"',
    "j": '0.0##" J"',
    "%": "0.0%",
    "money": "#,##0.00",
    "date": "yyyy-mm-dd",
    "text": "@",
    "general": "General",
}


@dataclass(frozen=True, slots=True)
class Heading:
    """A column: its key in the rows, its heading, number format and width in characters."""

    key: str
    title: str
    kind: str = "text"
    width: float = 12


def put_text(cell: Any, text: str) -> None:
    """Write text that stays text, whatever it starts with."""
    cell.value = printable(text)
    if cell.data_type == "f" or text[:1] in ("=", "+", "-", "@"):
        cell.data_type = "s"
        cell.quotePrefix = True


def printable(text: str) -> str:
    """Replace control signs that a workbook cannot hold.

    Examples
    --------
    >>> printable("a" + chr(7) + "b")
    'a b'
    """
    return "".join(s if s in "\n\t" or ord(s) >= 32 else " " for s in text)[:32_000]


def put(cell: Any, value: Any, kind: str) -> None:
    """Write a value with its number format; text stays text unless it is a formula of ours."""
    if isinstance(value, Formula):
        cell.value = value.text
        cell.number_format = FORMATS.get(kind, "General")
    elif isinstance(value, str):
        put_text(cell, value)
        if "\n" in value or len(value) > 40:
            cell.alignment = WRAP
    elif value is not None:
        cell.value = value
        if kind != "text":
            cell.number_format = FORMATS[kind]


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula that we wrote ourselves."""

    text: str


def open_sheet(sheet: Worksheet, title: str, says: str, *, wide: bool = True) -> None:
    """Write title and subtitle, and set up the printed page."""
    put_text(sheet["A1"], title)
    sheet["A1"].font = TITLE
    put_text(sheet["A2"], says)
    sheet["A2"].font = QUIET
    sheet.sheet_view.showGridLines = False
    sheet.page_setup.orientation = "landscape" if wide else "portrait"
    sheet.page_setup.paperSize = 9
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_options.horizontalCentered = False
    sheet.page_margins.left = sheet.page_margins.right = 0.5
    sheet.oddFooter.right.text = "&A, page &P of &N"


def put_table(
    sheet: Worksheet,
    headings: Sequence[Heading],
    rows: Iterable[dict[str, Any]],
    *,
    top: int = 4,
    filters: bool = True,
) -> int:
    """Write a table with frozen header and filters; return the number of its last row."""
    for number, heading in enumerate(headings, 1):
        cell = sheet.cell(row=top, column=number, value=heading.title)
        cell.font, cell.fill = HEADER, HEADER_FILL
        cell.border, cell.alignment = HEADER_LINE, HEADER_WRAP
        sheet.column_dimensions[get_column_letter(number)].width = heading.width
    last = top
    for last, row in enumerate(rows, top + 1):
        for number, heading in enumerate(headings, 1):
            put(sheet.cell(row=last, column=number), row.get(heading.key), heading.kind)
    if filters:
        sheet.freeze_panes = sheet.cell(row=top + 1, column=1)
        sheet.auto_filter.ref = f"A{top}:{get_column_letter(len(headings))}{max(last, top + 1)}"
    sheet.print_title_rows = f"{top}:{top}"
    sheet.print_area = f"A1:{get_column_letter(len(headings))}{max(last, top + 1)}"
    return last


def put_columns(sheet: Worksheet, headings: Sequence[Heading], table: dict[str, Any]) -> int:
    """Write a table given as arrays, as :func:`put_table` does, quickly; return rows written."""
    import numpy as np

    length = max(np.size(table[h.key]) for h in headings if np.ndim(table[h.key]))
    kept = min(length, MOST_ROWS)
    lists = [_cells(table[heading.key], kept) for heading in headings]
    put_table(sheet, headings, ())
    start = 5
    for number, (heading, cells) in enumerate(zip(headings, lists, strict=True), 1):
        text = heading.kind == "text"
        number_format = FORMATS[heading.kind]
        for row, value in enumerate(cells, start):
            if value is None:
                continue
            cell = sheet.cell(row=row, column=number)
            if text:
                put_text(cell, str(value))
            else:
                cell.value = value
                cell.number_format = number_format
    last = get_column_letter(len(headings))
    sheet.auto_filter.ref = f"A4:{last}{max(start + kept - 1, start)}"
    sheet.print_area = f"A1:{last}{max(start + kept - 1, start)}"
    return kept


def _cells(values: Any, length: int) -> list[Any]:
    import numpy as np

    if isinstance(values, str):
        return [values] * length
    return [None if v != v else v for v in np.asarray(values)[:length].tolist()]


def mark_input(cell: Any) -> None:
    """Make a cell that the user may change look different, in black and white too."""
    cell.fill = INPUT_FILL
    cell.border = INPUT_FRAME
    cell.font = STRONG
