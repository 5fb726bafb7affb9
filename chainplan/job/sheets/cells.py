"""Reading of single cells: each kind of column has one function, each says what it would take."""

from __future__ import annotations

import datetime
import math
import re
import unicodedata
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NoReturn

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError, Refusal, cut, near_words, quote
from chainplan.model.dates import read_date
from chainplan.units import read_length_mm, read_number, read_wire_mm

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.job.columns import Column
    from chainplan.job.table import Cell, Findings, Row

YES = ("yes", "y", "true", "x", "1")
NO = ("no", "n", "false", "0")
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\..*)?", re.IGNORECASE)
_NAME_SIGNS = " -_.,()+&#'’"


def refuse(
    allowed: str, trouble: str = "", *, of: str = "", hint: tuple[str, ...] = ()
) -> NoReturn:
    """Stop reading a cell: what is allowed, what is wrong, and what was found as it is shown."""
    raise InputError(Refusal(trouble, allowed, of, hint=hint))


def read_cell(row: Row, column: Column, findings: Findings) -> Any:
    """Read one cell of a row as its column's kind; ``None`` if blank or faulty."""
    cell = row.get(column.name)
    if cell is None or cell.error:
        return None
    try:
        return _READERS[column.kind](cell, column)
    except InputError as error:
        # A single word's place is its name already.
        findings.add(error.at(cell.where, "" if cell.by_words else column.name))
        return None


def read_text(cell: Cell, column: Column) -> str:
    """Read free text; numbers and dates are taken as they are written."""
    value = cell.value
    if isinstance(value, bool):
        text = "yes" if value else "no"
    elif isinstance(value, datetime.datetime) and value.timetz() == datetime.time():
        text = value.date().isoformat()
    elif isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        text = str(int(value))
    elif isinstance(value, str | int | float | Decimal | datetime.date):
        text = str(value)
    else:
        refuse("write text", of=quote(value))
    if len(text) > BOUNDS.note_letters:
        refuse(f"at most {BOUNDS.note_letters} are taken", f"has {len(text)} characters")
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").strip())
    if text.isascii() and text.isprintable():
        return text
    for sign in text:
        if unicodedata.category(sign) in {"Cc", "Cs", "Co"} and sign not in "\n\t":
            code = f"U+{ord(sign):04X}"
            refuse("delete it and type it anew", f"holds the control character {code}")
    return text


def read_name(cell: Cell, column: Column) -> str:
    """Read a piece's name: it must be safe in file names, formulas and on paper."""
    text = read_text(cell, column)
    fault = name_fault(text)
    if fault:
        raise InputError(fault)
    return text


def name_fault(text: str) -> Refusal | None:
    """Say what is wrong with a name, or return ``None``.

    Examples
    --------
    >>> name_fault("Inès's necklace 2")
    >>> name_fault("../up").found
    "'../up' starts with '.'"
    """
    signs = " ".join(_NAME_SIGNS.strip())
    allowed = f"begin with a letter or digit; then letters, digits, spaces and {signs} are taken"
    most = BOUNDS.name_letters
    if not text:
        return Refusal("is empty", allowed)
    if len(text) > most:
        return Refusal(f"has {len(text)} characters: {quote(text)}", f"at most {most} are taken")
    shown = quote(text, most)
    if unicodedata.category(text[0])[0] not in "LN":
        return Refusal(f"starts with {text[0]!r}", allowed, shown)
    for sign in text:
        if unicodedata.category(sign)[0] not in "LNM" and sign not in _NAME_SIGNS:
            return Refusal(f"holds {sign!r}", allowed, shown)
    if ".." in text or text.endswith("."):
        return Refusal("has dots that a folder's name cannot have", allowed, shown)
    if _RESERVED.fullmatch(text):
        return Refusal("some computers reserve", "choose another name", shown)
    return None


def plain_number(cell: Cell, column: Column) -> float:
    """Read a finite number, given as number or as text; a date or yes/no is none."""
    value = cell.value
    if isinstance(value, bool):
        refuse("write a number", of="yes" if value else "no")
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        allowed = "a spreadsheet may have turned a number into it; format the cell as a number"
        refuse(allowed, of=f"the date or time {value}")
    if isinstance(value, int | float | Decimal):
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            refuse("write a finite number", of=quote(value))
        return number
    if isinstance(value, str):
        return read_number(_without_unit(value, cell))
    refuse("write a number", of=quote(value))


def _without_unit(text: str, cell: Cell) -> str:
    """Take off the unit that the cell's heading names, where the text says it again."""
    text = text.strip()
    if cell.unit and text.casefold().endswith(cell.unit.casefold()):
        return text[: -len(cell.unit)].strip()
    return text


METRES_MM = 10_000.0
"""From here on a bound is told in metres, as nobody reads six digits of millimetres."""


def check_range(value: float, low: float | None, high: float | None, unit: str) -> None:
    """Refuse a number outside its column's range."""
    if (low is not None and value < low) or (high is not None and value > high):
        refuse(range_text(low, high, unit), of=f"{value:.10g}{_sp(unit)}")


def range_text(low: float | None, high: float | None, unit: str) -> str:
    """Say which numbers are taken."""
    if low is None and high is None:
        return "any number is taken"
    if high is None:
        return f"allowed is {low:.10g}{_sp(unit)} or more"
    if low is None:
        return f"allowed is {high:.10g}{_sp(unit)} or less"
    if unit == "mm" and high >= METRES_MM:
        return f"allowed is {low:.10g} mm to {high / 1000:.10g} m"
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
        refuse("write a whole number", of=f"{value:.10g}")
    return int(value)


def read_money(cell: Cell, column: Column) -> Decimal:
    """Read an amount of money exactly as it is written."""
    value = plain_number(cell, column)
    check_range(value, column.low, column.high, "")
    if isinstance(cell.value, Decimal):
        return cell.value
    if isinstance(cell.value, str):
        text = re.sub(r"\s", "", _without_unit(cell.value, cell)).replace(",", ".")
        return Decimal(text)  # it reads as a number, so it is one
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
    gauge = re.fullmatch(r"([0-9]+)(\.0)?", text) if cell.unit in {"awg", "swg"} else None
    if gauge:
        text = f"{gauge[1]}{cell.unit}"
    default = None if gauge else cell.unit or None
    try:
        value = read(text, default_unit=default)
    except InputError as error:
        said = error.said
        if isinstance(said, Refusal) and re.fullmatch(r"[0-9.,\s]+", text) and not cell.unit:
            said = replace(said, allowed=_how_to_name_unit(text.strip(), cell, column))
        raise InputError(said) from error
    if not math.isfinite(value):
        refuse(_example(column), of=quote(text))
    try:
        check_range(value, column.low, column.high, column.unit)
    except InputError as error:
        said = error.said
        bare = not isinstance(cell.value, str) or cell.value.isdigit()
        if column.kind == "wire" and bare and isinstance(said, Refusal):
            also = "a gauge is written with its system, 18AWG or 18SWG"
            said = replace(said, allowed=f"{said.allowed}; {also}")
        raise InputError(said) from error
    return value


def _how_to_name_unit(text: str, cell: Cell, column: Column) -> str:
    """Say how to write a bare number with its unit."""
    gauge = text if re.fullmatch(r"[0-9]{1,2}", text) and 4 <= int(text) <= 36 else None
    text = cut(text)
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
    refuse("write yes or no", of=quote(cell.value))


def read_choice(cell: Cell, column: Column) -> str:
    """Read one of the column's choices, whatever its capitals."""
    text = read_text(cell, column)
    for choice in column.choices:
        if text.casefold() == choice.casefold():
            return choice
    allowed = f"allowed: {', '.join(column.choices)}"
    refuse(allowed, of=quote(text), hint=near_words(text, column.choices))


def read_day(cell: Cell, column: Column) -> datetime.date:
    """Read a date given as a date or as unambiguous text."""
    value = cell.value
    if isinstance(value, datetime.datetime):
        if value.timetz() != datetime.time():
            refuse("write the day alone", "has a time of day", of=str(value))
        value = value.date()
    if isinstance(value, datetime.date):
        if not 2000 <= value.year <= 2100:
            refuse("allowed is 2000 to 2100", of=str(value))
        return value
    if not isinstance(value, str):
        allowed = "format the cell as a date, or write text such as 2027-03-01"
        refuse(allowed, of=quote(value))
    return read_date(value)


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
