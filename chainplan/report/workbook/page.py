"""One sheet being written from top to bottom: title, tables, paragraphs, and its printed page."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from openpyxl.utils import get_column_letter

from chainplan.report.workbook.archive import LongRows, cells_text, rows_text, words_text
from chainplan.report.workbook.style import LINE_PT, Look, Looks, lines_of, put

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

PAPER = {"A4": 9, "Letter": 1}
"""Sizes of paper by the numbers of the file format."""

MOST_LINES = 30
"""Lines that a row shows at most; Excel allows about 400 pt."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A column: its key in the rows, its heading, kind of value and width in characters."""

    key: str
    title: str
    kind: str = "text"
    width: float = 12

    @property
    def is_text(self) -> bool:
        """Whether the column holds words, which stand left and may wrap."""
        return self.kind == "text"


@dataclass(slots=True)
class Book:
    """A workbook with its looks."""

    book: Workbook
    looks: Looks
    paper: str = "A4"
    long_rows: dict[str, LongRows] = field(default_factory=dict)

    def page(self, name: str, title: str, says: str, *, wide: bool = True) -> Page:
        """Add a sheet with title and subtitle, ready to print."""
        return Page(self, name, title, says, wide=wide)


class Page:
    """A sheet and the next free row on it."""

    def __init__(self, book: Book, name: str, title: str, says: str, *, wide: bool) -> None:
        self.sheet: Worksheet = book.book.create_sheet(name)
        self.book = book
        self.looks = book.looks
        self.row = 1
        self.columns = 1
        sheet = self.sheet
        self.put(1, 1, title, Look(role="title"))
        self.put(2, 1, says, Look(role="quiet"))
        sheet.row_dimensions[1].height = 22
        self.row = 4
        sheet.sheet_view.showGridLines = False
        sheet.page_setup.orientation = "landscape" if wide else "portrait"
        sheet.page_setup.paperSize = PAPER.get(book.paper, PAPER["A4"])
        sheet.page_setup.fitToWidth = 1
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_margins.left = sheet.page_margins.right = 0.5
        sheet.page_margins.top = sheet.page_margins.bottom = 0.7
        sheet.page_margins.footer = 0.35
        sheet.oddFooter.left.text = "chainplan · estimates: try on scrap first"
        sheet.oddFooter.right.text = "&A, page &P of &N"

    def put(self, row: int, column: int, value: Any, look: Look) -> Any:
        """Write one cell and return it."""
        cell = self.sheet.cell(row=row, column=column)
        put(cell, value, look, self.looks)
        return cell

    def width(self, column: int) -> float:
        """Width of a column."""
        found = self.sheet.column_dimensions[get_column_letter(column)].width
        return float(found or 12)

    def set_widths(self, headings: Sequence[Heading]) -> None:
        """Set the widths of the columns from the headings of the leading table."""
        for number, heading in enumerate(headings, 1):
            self.sheet.column_dimensions[get_column_letter(number)].width = heading.width
        self.columns = max(self.columns, len(headings))

    def head(self, text: str) -> None:
        """Write the heading of a part of the sheet."""
        self.put(self.row, 1, text, Look(role="head"))
        self.sheet.row_dimensions[self.row].height = 18
        self.row += 1

    def break_page(self) -> None:
        """Begin a new printed page with the next row."""
        from openpyxl.worksheet.pagebreak import Break

        self.sheet.row_breaks.append(Break(id=self.row - 1))

    def say(self, text: str, *, role: str = "plain") -> None:
        """Write a paragraph over the whole width."""
        columns = max(self.columns, 1)
        total = sum(self.width(number) for number in range(1, columns + 1))
        self.put(self.row, 1, text, Look(role=role, wrap=True))
        if columns > 1:
            self.sheet.merge_cells(
                start_row=self.row, end_row=self.row, start_column=1, end_column=columns
            )
        self._set_height(self.row, lines_of(text, total))
        self.row += 1

    def table(
        self,
        headings: Sequence[Heading],
        rows: Iterable[Mapping[str, Any]],
        *,
        filters: bool = False,
        total: Mapping[str, Any] | None = None,
        alarm: str = "",
    ) -> tuple[int, int]:
        """Write a table below what is there; return its first and last row of values.

        The first table sets the widths. ``filters`` freezes the header, repeats it in print and
        puts filter buttons on it. A row whose value of ``alarm`` is true stands out.
        """
        if self.columns == 1:
            self.set_widths(headings)
        top = self.row
        self._header(headings)
        self.row += 1
        for row in rows:
            self._line(headings, row, "alarm" if alarm and row.get(alarm) else "body")
        last = max(self.row - 1, top + 1)
        if total is not None:
            self._line(headings, total, "total")
        if filters:
            self.filter(top, len(headings), last)
        self.row = max(self.row, top + 2) + 1
        return top + 1, last

    def filter(self, top: int, columns: int, last: int) -> None:
        """Freeze a header row, repeat it in print and put filter buttons on it."""
        self.sheet.freeze_panes = f"A{top + 1}"
        self.sheet.auto_filter.ref = f"A{top}:{get_column_letter(columns)}{last}"
        self.sheet.print_title_rows = f"{top}:{top}"

    def _header(self, headings: Sequence[Heading]) -> None:
        most = 1
        for number, heading in enumerate(headings, 1):
            look = Look(
                role="header",
                wrap=True,
                right=not heading.is_text,
                indent=int(heading.is_text and number > 1),
            )
            self.put(self.row, number, heading.title, look)
            most = max(most, lines_of(heading.title, self.width(number) - look.indent, bold=True))
        self._set_height(self.row, most)

    def _line(self, headings: Sequence[Heading], row: Mapping[str, Any], role: str) -> None:
        most = 1
        for number, heading in enumerate(headings, 1):
            value = row.get(heading.key)
            indent = int(heading.is_text and number > 1)
            wrap = False
            if isinstance(value, str) and heading.is_text:
                lines = lines_of(value, self.width(number) - indent)
                wrap, most = lines > 1, max(most, lines)
            kind = row.get(f"{heading.key} kind", heading.kind)
            right = isinstance(value, str) and not heading.is_text
            look = Look(kind=kind, role=role, wrap=wrap, right=right, indent=indent)
            self.put(self.row, number, value, look)
        if most > 1:
            self._set_height(self.row, most)
        self.row += 1

    def _set_height(self, row: int, lines: int) -> None:
        self.sheet.row_dimensions[row].height = LINE_PT * min(lines, MOST_LINES) + 1.5

    def long_table(self, headings: Sequence[Heading], table: Mapping[str, Any], most: int) -> None:
        """Write a table given as arrays as text at once: one look a column, no wrapping."""
        import numpy as np

        self.set_widths(headings)
        self._header(headings)
        top, first = self.row, self.row + 1
        kept = min(max((np.size(v) for v in table.values() if np.ndim(v)), default=0), most)
        columns = []
        for number, heading in enumerate(headings, 1):
            letter = get_column_letter(number)
            look = Look(kind=heading.kind, indent=int(heading.is_text and number > 1))
            style = self.looks.number(look)
            values = np.asarray(table[heading.key])[:kept].tolist()
            if heading.is_text:
                quoted = self.looks.number(replace(look, quoted=True))
                columns.append(words_text(letter, first, list(map(str, values)), style, quoted))
            else:
                columns.append(cells_text(letter, first, values, style))
        self.row = max(top + kept, first)
        last_cell = f"{get_column_letter(len(headings))}{self.row}"
        self.book.long_rows[self.sheet.title] = LongRows(rows_text(first, columns), last_cell)
        self.filter(top, len(headings), self.row)

    def close(self) -> None:
        """Set the area that is printed."""
        last = max(self.sheet.max_row, self.row - 2, 4)
        if self.sheet.title in self.book.long_rows:
            last = self.row
        columns = max(self.columns, 1)
        self.sheet.print_area = f"A1:{get_column_letter(columns)}{last}"
