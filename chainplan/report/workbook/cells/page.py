"""One sheet being written from top to bottom: title, tables, paragraphs, and its printed page."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from openpyxl.utils import get_column_letter

from chainplan.report.workbook.cells.archive import LongRows, cells_text, rows_text, words_text
from chainplan.report.workbook.cells.style import LINE_PT, Formula, Look, Looks, put
from chainplan.report.workbook.cells.table import Heading, PlacedTable, lay_table
from chainplan.report.workbook.cells.widths import lines_of

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Mapping, Sequence
    from decimal import Decimal

    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

PAPER = {"A4": 9, "Letter": 1}
"""Sizes of paper by the numbers of the file format."""

MOST_LINES = 30
"""Lines that a row shows at most: 30 of 13.5 pt are 405 pt; the format ends at 409."""

TITLE_PT, HEAD_PT = 22, 18
"""Heights of the rows with a sheet's title (15 pt type) and with a part's heading (11 pt)."""

SIDE_IN, TOP_IN, FOOTER_IN = 0.5, 0.7, 0.35
"""Margins in inches: what common printers can still print, and room for the line at the foot."""

A_SCREEN = 30
"""Rows of a table up to which its header and all of it are seen at once."""
TOP_ROW = 4
"""Below the sheet's title, its subtitle and an empty row."""

FOLLOWS_NOT = "As the plan was made: these figures do not follow the sheet 'inputs'."
"""Said on top of a sheet of figures that a changed input leaves as they are."""


@dataclass(slots=True)
class PlanBook:
    """A workbook with its looks, and what openpyxl cannot write into it."""

    book: Workbook
    looks: Looks
    paper: str = "A4"
    long_rows: dict[str, LongRows] = field(default_factory=dict)
    values: dict[str, dict[str, float | Decimal | str]] = field(default_factory=dict)

    def page(
        self, name: str, title: str, says: str | Formula, *, wide: bool = True, across: int = 1
    ) -> Page:
        """Add a sheet with title and subtitle, ready to print, so many pages across."""
        return Page(self, name, title, says, wide=wide, across=across)


class Page:
    """A sheet and the next free row on it."""

    def __init__(
        self, book: PlanBook, name: str, title: str, says: str | Formula, *, wide: bool, across: int
    ) -> None:
        self.sheet: Worksheet = book.book.create_sheet(name)
        self.book = book
        self.looks = book.looks
        self.row = 1
        self.columns = 1
        self._values = book.values.setdefault(name, {})
        sheet = self.sheet
        self.put(1, 1, title, Look(role="title"))
        self.put(2, 1, says, Look(role="quiet"))
        sheet.row_dimensions[1].height = TITLE_PT
        self.row = TOP_ROW
        sheet.sheet_view.showGridLines = False
        sheet.page_setup.orientation = "landscape" if wide else "portrait"
        sheet.page_setup.paperSize = PAPER.get(book.paper, PAPER["A4"])
        sheet.page_setup.fitToWidth = across
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_margins.left = sheet.page_margins.right = SIDE_IN
        sheet.page_margins.top = sheet.page_margins.bottom = TOP_IN
        sheet.page_margins.footer = FOOTER_IN
        sheet.oddFooter.left.text = "chainplan · estimates: try on scrap first"
        sheet.oddFooter.right.text = "&A, page &P of &N"

    def put(self, row: int, column: int, value: Any, look: Look) -> Any:
        """Write one cell and return it."""
        cell = self.sheet.cell(row=row, column=column)
        put(cell, value, look, self.looks)
        if isinstance(value, Formula):
            self._values[cell.coordinate] = value.value
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
        self.sheet.row_dimensions[self.row].height = HEAD_PT
        self.row += 1

    def say(self, text: str | Formula, *, role: str = "plain") -> None:
        """Write a paragraph over the whole width."""
        columns = max(self.columns, 1)
        total = sum(self.width(number) for number in range(1, columns + 1))
        self.put(self.row, 1, text, Look(role=role, wrap=True))
        if columns > 1:
            # Nothing stands beside it: `merge_cells` would make a cell for each column, with edges.
            self.sheet.merged_cells.add(f"A{self.row}:{get_column_letter(columns)}{self.row}")
        self._set_height(self.row, lines_of(_shown(text), total))
        self.row += 1

    def lay(
        self, headings: Sequence[Heading], keys: Sequence[Hashable], *, total: bool = False
    ) -> PlacedTable:
        """Keep a place for a table below what is there, so that formulas can refer to it.

        The first table sets the widths. ``keys`` names its rows; :meth:`fill` writes them.
        """
        if self.columns == 1:
            self.set_widths(headings)
        table = lay_table(self.sheet.title, headings, keys, self.row, total=total)
        self.row = table.end_row + 2
        return table

    def fill(
        self,
        table: PlacedTable,
        rows: Iterable[Mapping[str, Any]],
        *,
        total: Mapping[str, Any] | None = None,
        alarm: str = "",
    ) -> None:
        """Write the rows of a table that has its place, in the order of its keys.

        A row whose value of ``alarm`` is true stands out; one with a "role" has that look.
        """
        self._header(table.headings, table.header_row)
        for number, row in enumerate(rows, table.first_row):
            role = "alarm" if alarm and row.get(alarm) else row.get("role", "body")
            self._line(number, table.headings, row, role)
        if total is not None:
            self._line(table.end_row, table.headings, total, "total")

    def table(
        self,
        headings: Sequence[Heading],
        rows: Sequence[Mapping[str, Any]],
        *,
        total: Mapping[str, Any] | None = None,
        alarm: str = "",
    ) -> PlacedTable:
        """Write a table at once; its rows are named by their number, from 0."""
        table = self.lay(headings, range(len(rows)), total=total is not None)
        self.fill(table, rows, total=total, alarm=alarm)
        return table

    def repeat(self, table: PlacedTable, *, filters: bool = False, columns: int = 0) -> None:
        """Keep a table's header in sight and print it on every page, for a table that may grow.

        It must be the last thing on its sheet, or its header would stand over other things.
        ``filters`` puts filter buttons on it, which every table has that is longer than a screen;
        the first ``columns`` stay in sight and are printed on every page across.
        """
        sheet, top = self.sheet, table.header_row
        filters = filters or table.last_row - top > A_SCREEN
        self._repeat_rows(top, columns)
        if columns:
            sheet.print_title_cols = f"A:{get_column_letter(columns)}"
        if filters:
            last = get_column_letter(len(table.headings))
            sheet.auto_filter.ref = f"A{top}:{last}{table.last_row}"

    def keep_in_sight(self, table: PlacedTable, columns: int) -> None:
        """Keep header and first columns of the sheet's first table in sight if it is long."""
        if table.last_row - table.header_row > A_SCREEN:
            self._repeat_rows(table.header_row, columns)

    def _repeat_rows(self, top: int, columns: int = 0) -> None:
        self.sheet.print_title_rows = f"{top}:{top}"
        if top == TOP_ROW:  # further down, little of the sheet would be left to scroll
            self.sheet.freeze_panes = f"{get_column_letter(columns + 1)}{top + 1}"

    def _header(self, headings: Sequence[Heading], row: int) -> None:
        most = 1
        for number, heading in enumerate(headings, 1):
            indent = int(number > 1 and heading.kind != "general")
            look = Look(role="header", wrap=True, right=not heading.is_text, indent=indent)
            self.put(row, number, heading.title, look)
            most = max(most, lines_of(heading.title, self.width(number) - look.indent, bold=True))
        self._set_height(row, most)

    def _line(
        self, number: int, headings: Sequence[Heading], row: Mapping[str, Any], role: str
    ) -> None:
        most = 1
        for column, heading in enumerate(headings, 1):
            value = row.get(heading.key)
            shown = _shown(value)
            indent = _indent(heading, column)
            wrap = False
            if isinstance(shown, str) and heading.is_text and role != "head":
                lines = lines_of(shown, self.width(column) - indent)
                wrap, most = lines > 1, max(most, lines)
            kind = row.get(f"{heading.key} kind", heading.kind)
            right = isinstance(shown, str) and not heading.is_text
            look = Look(kind=kind, role=role, wrap=wrap, right=right, indent=indent or int(right))
            self.put(number, column, value, look)
        if role == "head":
            self.sheet.row_dimensions[number].height = HEAD_PT
        elif most > 1:
            self._set_height(number, most)

    def _set_height(self, row: int, lines: int) -> None:
        self.sheet.row_dimensions[row].height = LINE_PT * min(lines, MOST_LINES) + 1.5

    def long_table(self, headings: Sequence[Heading], table: Mapping[str, Any], most: int) -> None:
        """Write a table given as arrays as text at once: one look a column, no wrapping."""
        import numpy as np

        self.set_widths(headings)
        top, first = self.row, self.row + 1
        self._header(headings, top)
        kept = min(max((np.size(v) for v in table.values() if np.ndim(v)), default=0), most)
        columns = []
        for number, heading in enumerate(headings, 1):
            letter = get_column_letter(number)
            look = Look(kind=heading.kind, indent=_indent(heading, number))
            style = self.looks.number(look)
            values = np.asarray(table[heading.key])[:kept].tolist()
            if heading.is_text:
                quoted = self.looks.number(replace(look, quoted=True))
                columns.append(words_text(letter, first, list(map(str, values)), style, quoted))
            else:
                columns.append(cells_text(letter, first, values, style))
        self.row = max(top + kept, first)
        last = get_column_letter(len(headings))
        self.book.long_rows[self.sheet.title] = LongRows(
            rows_text(first, columns), f"{last}{self.row}"
        )
        self.sheet.auto_filter.ref = f"A{top}:{last}{self.row}"
        self._repeat_rows(top)

    def close(self) -> None:
        """Set the area that is printed."""
        last = max(self.sheet.max_row, TOP_ROW)
        if self.sheet.title in self.book.long_rows:
            last = self.row
        columns = max(self.columns, 1)
        self.sheet.print_area = f"A1:{get_column_letter(columns)}{last}"


def _indent(heading: Heading, column: int) -> int:
    """Keep words a character away from what stands before them."""
    return int(heading.is_text and column > 1)


def _shown(value: Any) -> Any:
    """Return what a cell shows: of a formula, its value."""
    return value.value if isinstance(value, Formula) else value
