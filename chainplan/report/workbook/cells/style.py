"""The look of the workbook: every kind of cell once, shared by all cells that have it."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

if TYPE_CHECKING:
    from decimal import Decimal

    from openpyxl import Workbook

FONT = "Arial"
"""On every computer, or one of the same widths in its place."""
SIZE_PT = 10
"""The common size of a workbook's text; printed at three quarters it is still read with ease."""
LINE_PT = 13.5
"""Height of one line of it: 10 pt Arial needs about 12.3, and low letters must not touch."""

FORMATS = {
    "int": "#,##0",
    "0.1": "#,##0.0",
    "0.01": "#,##0.00",
    "0.001": "#,##0.000",
    "0.0001": "0.0000",
    "g": '#,##0.0" g"',
    "min": '#,##0.0" min"',
    "c": '0" °C"',
    "j": '0.0##" J"',
    "%": "0.0%",
    "0.01 %": "0.00%",
    "chance": '[>0.99]"better than 99 %";[<0.01]"below 1 %";0%',
    "sparse": '#,##0.00;-#,##0.00;"–"',
    "sparse int": '#,##0;-#,##0;"–"',
    "date": "yyyy-mm-dd",
    "text": "@",
    "right": "@",
    "general": "General",
}
"""Number formats by kind; ``money`` and ``price`` follow the job's currency."""

_AIR = "_)_)"
"""Room of two brackets after a number: numbers end where their headings do, which are indented by
a character so that they do not run together. Indented numbers are not shown alike everywhere."""

_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]")
_MOST_SIGNS = 32_000
"""Signs of a text; the format takes 32,767."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a cell looks."""

    kind: str = "text"
    role: str = "body"  # a key of _FONTS
    wrap: bool = False
    right: bool = False
    indent: int = 0
    quoted: bool = False  # text that could be taken for a formula


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula that we wrote ourselves, with the value that the program has worked out for it."""

    text: str
    value: float | Decimal | str


_thick, _thin = Side(style="medium", color="333333"), Side(style="hair", color="999999")
_dashed = Side(style="mediumDashed", color="333333")
_FONTS = {
    "title": Font(name=FONT, bold=True, size=15),
    "head": Font(name=FONT, bold=True, size=11),
    "quiet": Font(name=FONT, italic=True, size=9, color="555555"),
    "header": Font(name=FONT, bold=True, size=SIZE_PT),
    "total": Font(name=FONT, bold=True, size=SIZE_PT),
    "input": Font(name=FONT, bold=True, size=SIZE_PT),
    "alarm": Font(name=FONT, bold=True, size=SIZE_PT),
    "body": Font(name=FONT, size=SIZE_PT),
    "plain": Font(name=FONT, size=SIZE_PT),
}
"""Type by the role of a cell."""
_FILLS = {
    "header": PatternFill("solid", fgColor="E6E6E6"),
    "input": PatternFill("solid", fgColor="FFF6D6"),
    "alarm": PatternFill("solid", fgColor="F3D3C8"),
}
_BORDERS = {
    "header": Border(bottom=_thick),
    "total": Border(top=_thick),
    "input": Border(left=_dashed, right=_dashed, top=_dashed, bottom=_dashed),
    "body": Border(bottom=_thin),
    "alarm": Border(bottom=_thin),
}


class Looks:
    """The cell styles of one workbook, each made once: making one for every cell is slow."""

    def __init__(self, book: Workbook, currency: str, decimals: int) -> None:
        self._cell: Any = book.create_sheet("scratch").cell(row=1, column=1)
        self._sheet = book["scratch"]
        self._book = book
        book._named_styles["Normal"].font = Font(name=FONT, size=SIZE_PT)
        self._made: dict[Look, Any] = {}
        money = "#,##0" + ("." + "0" * decimals if decimals else "")
        name = re.sub(r"[^\w$€£¥ .]", "", currency)[:8]
        formats = FORMATS | {"money": money, "price": f'"{name} "{money}'}
        self._formats = {
            kind: text if text in ("@", "General") else f"{_AIR};".join(text.split(";")) + _AIR
            for kind, text in formats.items()
        }

    def style(self, look: Look) -> Any:
        """Return the workbook's style of a look, to be assigned to many cells."""
        if look not in self._made:
            cell = self._cell
            cell.font = _FONTS[look.role]
            cell.fill = _FILLS.get(look.role, PatternFill())
            cell.border = _BORDERS.get(look.role, Border())
            cell.alignment = Alignment(
                wrap_text=look.wrap,
                vertical="bottom" if look.role == "header" else "top",
                horizontal="right" if look.right else "left" if look.indent else None,
                indent=look.indent,
            )
            cell.number_format = self._formats[look.kind]
            cell.quotePrefix = look.quoted
            self._made[look] = cell._style.__copy__()
        return self._made[look]

    def number(self, look: Look) -> int:
        """Return the number of a look's style in the file."""
        self._cell._style = self.style(look)
        number: int = self._cell.style_id
        self._cell._style = self._cell._style.__copy__()  # the scratch cell is changed again
        return number

    def finish(self) -> None:
        """Remove the sheet on which the styles were made."""
        self._book.remove(self._sheet)


def literal(text: str) -> str:
    """Write a text as it stands within a formula.

    Examples
    --------
    >>> literal('a "b" c')
    '"a ""b"" c"'
    """
    return '"' + printable(text).replace('"', '""') + '"'


def printable(text: str) -> str:
    """Replace control signs that a workbook cannot hold.

    Examples
    --------
    >>> printable("a" + chr(7) + "b")
    'a b'
    """
    return _CONTROL.sub(" ", text)[:_MOST_SIGNS]


def put(cell: Any, value: Any, look: Look, looks: Looks) -> None:
    """Write a value with its look; text stays text unless it is a formula of ours."""
    if isinstance(value, Formula):
        cell.value = value.text  # the value goes in when the file is written
    elif isinstance(value, str):
        text = printable(value)
        cell.value = text
        cell.data_type = "s"
        if text[:1] in ("=", "+", "-", "@", "\t", "\r"):
            look = replace(look, quoted=True)
    else:
        cell.value = value
    cell._style = looks.style(look)
