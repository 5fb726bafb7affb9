"""How the job workbook looks: readable in colour, in black and white and on paper."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING, Any

from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side

if TYPE_CHECKING:
    from collections.abc import Callable

INK = "1F2933"
HEADING_FILL = "D9DEE4"
ENTRY_FILL = "FFFBE6"
LINE = "6B7785"
FONT = "Calibri"
TEXT_PT, TITLE_PT = 11, 14
"""Sizes of type: what spreadsheet programs begin with, and a step that shows as a heading."""
LINE_HEIGHT = 15.0
"""Points from line to line of 11-point type, as spreadsheet programs lay it by themselves."""
NOTE_PX = (300, 130)
"""Width and height of a heading's note: the longest meaning in seven lines."""


class Style:
    """Styles shared by all cells of one workbook."""

    def __init__(self) -> None:
        thin = Side(style="thin", color=LINE)
        none = Side(style=None)
        hair = Side(style="hair", color=LINE)
        self._box = Border(left=thin, right=thin, top=thin, bottom=thin)
        self._under = Border(left=none, right=none, top=none, bottom=hair)
        self._heading_fill = PatternFill("solid", fgColor=HEADING_FILL)
        self._entry_fill = PatternFill("solid", fgColor=ENTRY_FILL)
        self._made: dict[tuple[str, str], Any] = {}

    def heading(self, cell: Any, *, needed: bool, note: str = "") -> None:
        """Set a column's heading; needed columns are bold, the others slanted."""
        cell.font = Font(name=FONT, size=TEXT_PT, bold=needed, italic=not needed, color=INK)
        cell.fill = self._heading_fill
        cell.border = self._box
        cell.alignment = Alignment(wrap_text=True, vertical="center")
        if note:
            cell.comment = Comment(note, "chainplan", width=NOTE_PX[0], height=NOTE_PX[1])

    def entry(self, cell: Any, *, as_text: bool = False) -> None:
        """Set a cell that people write into: boxed and tinted."""
        self._dress(cell, f"entry {as_text}", lambda: self._dress_entry(cell, as_text=as_text))

    def _dress_entry(self, cell: Any, *, as_text: bool) -> None:
        cell.font = Font(name=FONT, size=TEXT_PT, color=INK)
        cell.fill = self._entry_fill
        cell.border = self._box
        cell.alignment = Alignment(vertical="top", wrap_text=as_text, indent=1 if as_text else 0)
        cell.protection = Protection(locked=False)
        if as_text and cell.number_format == "General":
            cell.number_format = "@"

    def shown(self, cell: Any) -> None:
        """Set a cell that only explains: no box, no tint."""
        self._dress(cell, "shown", lambda: self._dress_shown(cell))

    def _dress_shown(self, cell: Any) -> None:
        cell.font = Font(name=FONT, size=TEXT_PT, color=INK)
        cell.border = self._under
        cell.alignment = Alignment(wrap_text=True, vertical="top")

    def _dress(self, cell: Any, name: str, dress: Callable[[], None]) -> None:
        """Dress the first cell of a kind, and copy its style to the others, which is far faster."""
        key = (name, cell.number_format)
        if key in self._made:
            cell._style = copy.copy(self._made[key])
            return
        dress()
        self._made[key] = copy.copy(cell._style)

    def title(self, cell: Any) -> None:
        """Set a title."""
        cell.font = Font(name=FONT, size=TITLE_PT, bold=True, color=INK)

    def plain(self, cell: Any) -> None:
        """Set a cell of running text."""
        cell.font = Font(name=FONT, size=TEXT_PT, color=INK)
        cell.alignment = Alignment(wrap_text=True, vertical="top")

    def fit_height(self, page: Any, row: int, texts: dict[str, object]) -> None:
        """Make a row as high as its longest text needs; ``texts`` are by column letter."""
        lines = 1
        for letter, text in texts.items():
            width = max(page.column_dimensions[letter].width - 2, 4)
            lines = max(lines, *(-(-len(part) // int(width)) for part in str(text).split("\n")), 1)
        if lines > 1:
            page.row_dimensions[row].height = LINE_HEIGHT * lines

    def print_setup(self, page: Any, rows: int, columns: int, *, pages_wide: int = 1) -> None:
        """Fit a sheet to a width of so many pages, headings and first column on each."""
        from openpyxl.utils import get_column_letter

        page.page_setup.orientation = "landscape"
        page.page_setup.paperSize = 9
        page.page_setup.fitToWidth = pages_wide
        page.page_setup.fitToHeight = 0
        page.sheet_properties.pageSetUpPr.fitToPage = True
        page.print_title_rows = "1:1"
        if pages_wide > 1:
            page.print_title_cols = "A:A"
        page.print_area = f"A1:{get_column_letter(columns)}{rows}"
        page.oddFooter.center.text = "&A, page &P of &N"
