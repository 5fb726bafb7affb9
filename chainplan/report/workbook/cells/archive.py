"""Saving a workbook: formulas with values, long tables as text at once, and no clock in the file.

openpyxl writes formulas without values, so that previews, phones and programs that only read would
show empty cells; the values are put into the finished sheets. It also takes about 15 µs a cell,
which is too long for hundreds of thousands of them; the rows of the long tables are therefore put
into the finished sheets as text. Their header, widths, filters and print settings are openpyxl's.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from chainplan.report.workbook.cells.style import printable

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from decimal import Decimal

    from openpyxl import Workbook

LEVEL = 4
"""Of packing, 1 to 9: the sample necklace packs to 16 % at 1, to 14 % at 4 in about the same time,
and to 12 % at 9 in eight times as long."""


_EARLIEST = (1980, 1, 1, 0, 0, 0)  # the first time that the format knows
_FORMULA = re.compile(rb'<c r="([A-Z]+[0-9]+)"([^>]*)>(<f>[^<]*</f>)<v(?: ?/>|></v>)</c>')
_NOTHING: Mapping[str, Any] = MappingProxyType({})
_SIZE = re.compile(rb'<dimension ref="[^"]*"')


@dataclass(frozen=True, slots=True)
class LongRows:
    """Rows of a sheet as the text of the file format, and the last cell of the sheet."""

    rows: bytes
    last_cell: str


def cells_text(column: str, first: int, values: Sequence[Any], style: int) -> list[str]:
    """Write a column of numbers as cells; what is not there or no number gives no cell.

    Examples
    --------
    >>> cells_text("B", 5, [1.5, None], 3)
    ['<c r="B5" s="3"><v>1.5</v></c>', '']
    """
    return [
        ""
        if value is None or value != value
        else f'<c r="{column}{row}" s="{style}"><v>{value}</v></c>'
        for row, value in enumerate(values, first)
    ]


def words_text(
    column: str, first: int, values: Sequence[str], style: int, quoted_style: int
) -> list[str]:
    """Write a column of texts as cells; a text like a formula is marked as text.

    Examples
    --------
    >>> words_text("A", 5, ["=a<b"], 3, 4)
    ['<c r="A5" s="4" t="inlineStr"><is><t xml:space="preserve">=a&lt;b</t></is></c>']
    """
    known = {
        text: (
            quoted_style if text[:1] in ("=", "+", "-", "@", "\t", "\r") else style,
            escape(printable(text)),
        )
        for text in dict.fromkeys(values)
    }
    return [
        f'<c r="{column}{row}" s="{known[text][0]}" t="inlineStr">'
        f'<is><t xml:space="preserve">{known[text][1]}</t></is></c>'
        for row, text in enumerate(values, first)
    ]


def rows_text(first: int, columns: Sequence[Sequence[str]]) -> bytes:
    """Put columns of cells together to rows."""
    rows = (
        f'<row r="{number}">{"".join(cells)}</row>'
        for number, cells in enumerate(zip(*columns, strict=True), first)
    )
    return "".join(rows).encode()


def with_values(sheet: bytes, values: Mapping[str, float | Decimal | str]) -> bytes:
    """Put the values of formulas, by cell, into a sheet as openpyxl writes it.

    Raises
    ------
    KeyError
        If a formula has no value: a fault of ours.

    Examples
    --------
    >>> with_values(b'<c r="B5" s="3"><f>A5&amp;"x"</f><v /></c>', {"B5": "1 < x"})
    b'<c r="B5" s="3" t="str"><f>A5&amp;"x"</f><v>1 &lt; x</v></c>'
    """

    def with_value(found: re.Match[bytes]) -> bytes:
        cell, style, formula = found.groups()
        value = values[cell.decode()]
        if isinstance(value, str):
            style += b' t="str"'
        text = escape(str(value)).encode()
        return b'<c r="%b"%b>%b<v>%b</v></c>' % (cell, style, formula, text)

    return _FORMULA.sub(with_value, sheet)


class TimelessArchive(ZipFile):
    """A zip file whose members all carry the same time; sheets are completed on the way."""

    long_rows: Mapping[str, LongRows]
    values: Mapping[str, Mapping[str, float | Decimal | str]]  # of formulas, by sheet and cell

    def writestr(
        self,
        zinfo_or_arcname: str | ZipInfo,
        data: Any,
        compress_type: int | None = None,
        compresslevel: int | None = None,
    ) -> None:
        """Add a member from bytes or text."""
        name = zinfo_or_arcname
        info = ZipInfo(name if isinstance(name, str) else name.filename, _EARLIEST)
        info.compress_type = ZIP_DEFLATED
        super().writestr(info, data, compresslevel=LEVEL)

    def write(
        self,
        filename: Any,
        arcname: Any = None,
        compress_type: int | None = None,
        compresslevel: int | None = None,
    ) -> None:
        """Add a member from a file."""
        name, data = str(arcname or filename), Path(filename).read_bytes()
        if name in self.values:
            data = with_values(data, self.values[name])
        more = self.long_rows.get(name)
        if more is not None:
            size = f'<dimension ref="A1:{more.last_cell}"'.encode()
            data = _SIZE.sub(size, data, count=1)
            head, end, tail = data.rpartition(b"</sheetData>")
            data = head + more.rows + end + tail
        self.writestr(name, data)


def save_workbook(
    book: Workbook,
    path: Path,
    *,
    long_rows: Mapping[str, LongRows] = _NOTHING,
    values: Mapping[str, Mapping[str, float | Decimal | str]] = _NOTHING,
) -> None:
    """Write a workbook; the same cells give the same bytes.

    Parameters
    ----------
    book : Workbook
        With everything but the following.
    path : Path
        Where to write.
    long_rows : mapping
        Rows to be added, by sheet.
    values : mapping
        Values of the formulas, by sheet and cell.
    """
    from openpyxl.writer.excel import ExcelWriter

    members = {
        name: f"xl/worksheets/sheet{number}.xml" for number, name in enumerate(book.sheetnames, 1)
    }
    with TimelessArchive(path, "w", ZIP_DEFLATED) as archive:
        archive.long_rows = {members[name]: rows for name, rows in long_rows.items()}
        archive.values = {members[name]: cells for name, cells in values.items()}
        ExcelWriter(book, archive).save()
