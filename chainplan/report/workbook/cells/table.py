"""Where the cells of a table stand; other cells refer to them by row and column."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from openpyxl.utils import get_column_letter, quote_sheetname

from chainplan.report.workbook.cells.widths import NAME, number_width

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping, Sequence


@dataclass(frozen=True, slots=True)
class Heading:
    """A column: its key in the rows, its heading and kind of value.

    A column of words says how wide it is, in characters; one of numbers is as wide as its numbers
    and its heading need.
    """

    key: str
    title: str
    kind: str = "text"
    words: float = NAME

    @property
    def is_text(self) -> bool:
        """Whether the column holds words, which stand left and may wrap."""
        return self.kind == "text"

    @property
    def width(self) -> float:
        """Width of the column, in characters.

        Examples
        --------
        >>> Heading("piece", "piece").width, Heading("n", "rings", "int").width
        (26, 8.0)
        >>> Heading("n", "weekdays at the assay office", "int").width
        15.0
        """
        if self.is_text:
            return self.words
        return number_width(self.title, self.kind)


@dataclass(frozen=True, slots=True)
class PlacedTable:
    """A table that has its place on a sheet: header, a row for every key, perhaps a total.

    A table without rows keeps one empty row, so that sums over it are sums over nothing. Asking
    for a row or column that it does not have is a fault of ours and raises KeyError.
    """

    sheet: str
    headings: tuple[Heading, ...]
    letters: Mapping[str, str]  # of the columns, by key
    rows: Mapping[Hashable, int]  # by key
    header_row: int
    has_total: bool

    @property
    def first_row(self) -> int:
        """The first row of values."""
        return self.header_row + 1

    @property
    def last_row(self) -> int:
        """The last row of values, the total left out."""
        return self.header_row + max(len(self.rows), 1)

    @property
    def end_row(self) -> int:
        """The last row of the table, the total included."""
        return self.last_row + int(self.has_total)

    def here(self, key: Hashable) -> dict[str, str]:
        """Return the cells of a row by column, for formulas in the same row.

        Examples
        --------
        >>> table = lay_table("cost", (Heading("a", "A"), Heading("b", "B")), ("x", "y"), 4)
        >>> table.here("y")
        {'a': 'A6', 'b': 'B6'}
        """
        row = self.rows[key]
        return {column: f"{letter}{row}" for column, letter in self.letters.items()}

    def cell(self, key: Hashable, column: str) -> str:
        """Return one cell, to be used on any sheet.

        Examples
        --------
        >>> table = lay_table("cost", (Heading("a", "A"), Heading("b", "B")), ("x", "y"), 4)
        >>> table.cell("x", "b")
        "'cost'!$B$5"
        """
        return f"{quote_sheetname(self.sheet)}!${self.letters[column]}${self.rows[key]}"

    def column(self, column: str) -> str:
        """Return all values of a column, to be used on any sheet.

        Examples
        --------
        >>> table = lay_table("cost", (Heading("a", "A"), Heading("b", "B")), (), 4)
        >>> table.column("b")
        "'cost'!$B$5:$B$5"
        """
        letter = self.letters[column]
        return f"{quote_sheetname(self.sheet)}!${letter}${self.first_row}:${letter}${self.last_row}"

    def sum_of(self, column: str) -> str:
        """Write the sum of a column, for the total below it.

        Examples
        --------
        >>> lay_table("cost", (Heading("a", "A"),), ("x", "y", "z"), 4).sum_of("a")
        '=SUM(A5:A7)'
        """
        letter = self.letters[column]
        return f"=SUM({letter}{self.first_row}:{letter}{self.last_row})"


def lay_table(
    sheet: str,
    headings: Sequence[Heading],
    keys: Sequence[Hashable],
    header_row: int,
    *,
    total: bool = False,
) -> PlacedTable:
    """Give a table its place: columns from the sheet's first, rows below the header.

    Raises
    ------
    ValueError
        If two rows or two columns have the same key: a fault of ours.
    """
    letters = {heading.key: get_column_letter(n) for n, heading in enumerate(headings, 1)}
    rows = {key: header_row + n for n, key in enumerate(keys, 1)}
    if len(rows) != len(keys) or len(letters) != len(headings):
        message = f"two rows or columns on sheet {sheet!r} have the same key"
        raise ValueError(message)
    return PlacedTable(sheet, tuple(headings), letters, rows, header_row, total)
