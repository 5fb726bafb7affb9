"""Reading of single cells: each kind of column has one function, each says what it would take."""

from __future__ import annotations

import datetime
import math
import re
import unicodedata
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any, NoReturn

from chainplan.errors import did_you_mean
from chainplan.model.dates import read_date
from chainplan.units import read_length_mm, read_number, read_wire_mm

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.job.columns import Column
    from chainplan.job.table import Cell, Findings, Row

LONGEST_NAME = 60
LONGEST_TEXT = 2000
YES = ("yes", "y", "true", "x", "1")
NO = ("no", "n", "false", "0")
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\..*)?", re.IGNORECASE)
_NAME_SIGNS = " -_.,()+&#'’"


class CellError(Exception):
    """A cell that cannot be read: what was found and what is allowed."""

    def __init__(self, found: str, allowed: str) -> None:
        super().__init__(found)
        self.found = found
        self.allowed = allowed


def refuse(found: str, allowed: str) -> NoReturn:
    """Stop reading a cell."""
    raise CellError(found, allowed)


def read_cell(row: Row, column: Column, findings: Findings) -> Any:
    """Read one cell of a row as its column's kind; ``None`` if blank or faulty."""
    cell = row.get(column.name)
    if cell is None or cell.error:
        return None
    try:
        return _READERS[column.kind](cell, column)
    except CellError as error:
        found = f"{column.name} {error.found}"
        if cell.by_words:  # its place is its name already
            found = error.found.removeprefix("is ").replace(", which ", " ", 1)
        findings.fault(cell.where, found, error.allowed)
        return None


def show(value: object) -> str:
    """Write a value as found, short enough for a message."""
    if isinstance(value, Decimal | float):
        return f"{value:g}" if math.isfinite(value) else str(value)
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= LONGEST_NAME else f"{text[: LONGEST_NAME - 1]}…"


def read_text(cell: Cell, column: Column) -> str:
    """Read free text; numbers and dates are taken as they are written."""
    value = cell.value
    if isinstance(value, bool):
        text = "yes" if value else "no"
    elif isinstance(value, datetime.datetime) and value.time() == datetime.time():
        text = value.date().isoformat()
    elif isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        text = str(int(value))
    elif isinstance(value, str | int | float | Decimal | datetime.date):
        text = str(value)
    else:
        refuse(f"is {show(value)}", "write text")
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").strip())
    for sign in text:
        if unicodedata.category(sign) in {"Cc", "Cs", "Co"} and sign not in "\n\t":
            code = f"U+{ord(sign):04X}"
            refuse(f"holds the control character {code}", "delete it and type it anew")
    if len(text) > LONGEST_TEXT:
        refuse(f"has {len(text)} characters", f"at most {LONGEST_TEXT} are taken")
    return text


def read_name(cell: Cell, column: Column) -> str:
    """Read a piece's name: it must be safe in file names, formulas and on paper."""
    text = read_text(cell, column)
    fault = name_fault(text)
    if fault:
        refuse(*fault)
    return text


def name_fault(text: str) -> tuple[str, str] | None:
    """Say what is wrong with a name, or return ``None``.

    Examples
    --------
    >>> name_fault("Inès's necklace 2")
    >>> name_fault("../up")[0]
    "is '../up', which starts with '.'"
    """
    signs = " ".join(_NAME_SIGNS.strip())
    allowed = f"begin with a letter or digit; then letters, digits, spaces and {signs} are taken"
    if not text:
        return "is empty", allowed
    if len(text) > LONGEST_NAME:
        return f"has {len(text)} characters: {show(text)}", f"at most {LONGEST_NAME} are taken"
    if unicodedata.category(text[0])[0] not in "LN":
        return f"is {show(text)}, which starts with {text[0]!r}", allowed
    for sign in text:
        if unicodedata.category(sign)[0] not in "LNM" and sign not in _NAME_SIGNS:
            return f"is {show(text)}, which holds {sign!r}", allowed
    if ".." in text or text.endswith("."):
        return f"is {show(text)}, with dots that a folder's name cannot have", allowed
    if _RESERVED.fullmatch(text):
        return f"is {show(text)}, which some computers reserve", "choose another name"
    return None


def plain_number(cell: Cell, column: Column) -> float:
    """Read a finite number, given as number or as text; a date or yes/no is none."""
    value = cell.value
    if isinstance(value, bool):
        refuse(f"is {'yes' if value else 'no'}", "write a number")
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        found = f"is the date or time {value}"
        allowed = "a spreadsheet may have turned a number into it; format the cell as a number"
        refuse(found, allowed)
    if isinstance(value, int | float | Decimal):
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            refuse(f"is {value}", "write a finite number")
        return number
    if isinstance(value, str):
        text = value.strip()
        if cell.unit and text.casefold().endswith(cell.unit.casefold()):
            text = text[: -len(cell.unit)].strip()
        try:
            return read_number(text)
        except ValueError as error:
            refuse(f"is {show(value)}", _after(error))
    refuse(f"is {show(value)}", "write a number")


def _after(error: ValueError) -> str:
    text = str(error)
    return text.partition("; ")[2] or "write a number with a decimal point, such as 3.5"


def check_range(value: float, low: float | None, high: float | None, unit: str) -> None:
    """Refuse a number outside its column's range."""
    if low is not None and value < low:
        refuse(f"is {value:.10g}{_sp(unit)}", range_text(low, high, unit))
    if high is not None and value > high:
        refuse(f"is {value:.10g}{_sp(unit)}", range_text(low, high, unit))


def range_text(low: float | None, high: float | None, unit: str) -> str:
    """Say which numbers are taken."""
    if low is None and high is None:
        return "any number is taken"
    if high is None:
        return f"allowed is {low:.10g}{_sp(unit)} or more"
    if low is None:
        return f"allowed is {high:.10g}{_sp(unit)} or less"
    return f"allowed is {low:.10g} to {high:.10g}{_sp(unit)}"


def _sp(unit: str) -> str:
    return f" {unit}" if unit else ""


def read_plain(cell: Cell, column: Column) -> float:
    """Read a number within its column's range."""
    value = plain_number(cell, column)
    check_range(value, column.low, column.high, column.unit)
    return value


def read_count(cell: Cell, column: Column) -> int:
    """Read a whole number within its column's range."""
    value = plain_number(cell, column)
    check_range(value, column.low, column.high, "")
    if not value.is_integer():
        refuse(f"is {value:g}", "write a whole number")
    return int(value)


def read_money(cell: Cell, column: Column) -> Decimal:
    """Read an amount of money exactly as it is written."""
    value = plain_number(cell, column)
    check_range(value, column.low, column.high, "")
    if isinstance(cell.value, Decimal):
        return cell.value
    if isinstance(cell.value, str):
        text = cell.value.replace("\u00a0", "").replace(" ", "").replace(",", ".")
        try:
            return Decimal(text)
        except InvalidOperation:
            return Decimal(repr(value))
    return Decimal(str(cell.value))


def read_length(cell: Cell, column: Column) -> float:
    """Read a length in mm; a bare number needs a unit in its heading."""
    return _quantity(cell, column, read_length_mm)


def read_wire(cell: Cell, column: Column) -> float:
    """Read a wire diameter in mm; gauges need their system."""
    return _quantity(cell, column, read_wire_mm)


def _quantity(cell: Cell, column: Column, read: Callable[..., float]) -> float:
    if isinstance(cell.value, str):
        text = cell.value.strip()
    else:
        text = f"{Decimal(repr(plain_number(cell, column))):f}"
    if cell.unit in {"awg", "swg"} and re.fullmatch(r"\d+(\.0)?", text):
        text = f"{text.partition('.')[0]}{cell.unit}"
        default = None
    else:
        default = cell.unit or None
    try:
        value = read(text, default_unit=default)
    except ValueError as error:
        found, _, allowed = str(error).partition("; ")
        if re.fullmatch(r"[0-9.,\s]+", text) and not cell.unit:
            allowed = _how_to_name_unit(text, cell, column)
        which = found.removeprefix(repr(text))
        shown = f", which{which}" if which != found else f": {found}"
        refuse(f"is {show(text)}{shown}", allowed or _example(column))
    if not math.isfinite(value):
        refuse(f"is {show(text)}", _example(column))
    try:
        check_range(value, column.low, column.high, column.unit)
    except CellError as error:
        hint = ""
        if column.kind == "wire" and (not isinstance(cell.value, str) or cell.value.isdigit()):
            hint = "; a gauge is written with its system, 18AWG or 18SWG"
        refuse(error.found, error.allowed + hint)
    return value


def _how_to_name_unit(text: str, cell: Cell, column: Column) -> str:
    """Say how to write a bare number with its unit."""
    gauge = text if text.isdigit() and 4 <= int(text) <= 36 else None
    if cell.by_words and column.kind == "wire":
        return f"write {gauge}AWG, {gauge}SWG or 1.0mm" if gauge else f"write {text}mm"
    if cell.by_words:
        return f"write {text}mm, or a length in cm or in"
    if column.kind == "wire":
        return "write 1.0mm, 18AWG or 18SWG, or put mm in the heading"
    return f"write it with mm, cm or in, or call the column {column.heading!r}"


def _example(column: Column) -> str:
    return f"write it like {column.example}{_sp(column.unit)}"


def read_yes_no(cell: Cell, column: Column) -> bool:
    """Read yes or no."""
    if isinstance(cell.value, bool):
        return cell.value
    text = read_text(cell, column).casefold()
    if text in YES:
        return True
    if text in NO:
        return False
    refuse(f"is {show(cell.value)}", "write yes or no")


def read_choice(cell: Cell, column: Column) -> str:
    """Read one of the column's choices, whatever its capitals."""
    text = read_text(cell, column)
    for choice in column.choices:
        if text.casefold() == choice.casefold():
            return choice
    allowed = f"allowed: {', '.join(column.choices)}"
    hint = did_you_mean(text, column.choices)
    refuse(f"is {show(text)}", hint if hint.startswith("did") else allowed)


def read_day(cell: Cell, column: Column) -> datetime.date:
    """Read a date given as a date or as unambiguous text."""
    value = cell.value
    if isinstance(value, datetime.datetime):
        value = value.date()
    if isinstance(value, datetime.date):
        if not 2000 <= value.year <= 2100:
            refuse(f"is {value}", "allowed is 2000 to 2100")
        return value
    if not isinstance(value, str):
        refuse(f"is {show(value)}", "format the cell as a date, or write text such as 2027-03-01")
    try:
        return read_date(value)
    except ValueError as error:
        found, _, allowed = str(error).partition("; ")
        refuse(found, allowed)


_READERS: dict[str, Callable[[Cell, Column], Any]] = {
    "text": read_text,
    "name": read_name,
    "weave": read_text,
    "metal": read_text,
    "part": read_text,
    "count": read_count,
    "number": read_plain,
    "money": read_money,
    "length": read_length,
    "wire": read_wire,
    "yes-no": read_yes_no,
    "choice": read_choice,
    "date": read_day,
}
