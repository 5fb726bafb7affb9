"""Reads cells of logs: times, numbers, rings; and the files that hold them."""

from __future__ import annotations

import csv
import datetime
import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, Refusal, quote
from chainplan.model.dates import read_date
from chainplan.model.workshop.bench_log import BY_HAND_COLUMNS, LOG_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

KNOWN_COLUMNS = frozenset(
    {*LOG_COLUMNS, *(name for name, _ in BY_HAND_COLUMNS)} | {"id", "undoes", "plan"}
)
_TIME_LIKE = "write it as 2027-03-01 14:05"
_NUMBER = re.compile(
    r"\s*[+-]?(?:[0-9]{1,20}(?:[.,][0-9]{0,20})?|[.,][0-9]{1,20})(?:[eE][+-]?[0-9]{1,3})?\s*"
)
_CLOCK = re.compile(r"^(.*?)[T ]+(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?$")


class LogTable:
    """The rows of one log: names of its columns, and each row with the line where it stands."""

    def __init__(self, path: Path, rows: Iterator[tuple[int, list[str]]]) -> None:
        self.file = path.name
        self.rows = rows
        for line, cells in rows:
            if any(cell.strip() for cell in cells) and not is_remark(cells):
                self.columns = [" ".join(cell.split()).lower() for cell in cells]
                self.heading_line = line
                return
        allowed = "a log has a line of headings and one row an event"
        raise InputError(Fault(self.file, "is empty", allowed))


def is_remark(cells: list[str]) -> bool:
    """Whether a row is a remark: its first cell begins with "#"."""
    return bool(cells) and cells[0].lstrip().startswith("#")


def open_table(path: str | Path, book_rows: Callable[[bytes, str], list[list[Any]]]) -> LogTable:
    """Open a log: CSV with commas, semicolons or tabs, or a workbook's first sheet.

    Parameters
    ----------
    path : str or Path
        The file.
    book_rows : callable
        Reads the rows of a workbook's first sheet from its bytes and name.

    Raises
    ------
    InputError
        If it cannot be read or is none of these.
    """
    path = Path(path)
    try:
        if not path.is_file():
            raise InputError(Fault(str(path), "there is no such file", "check its name"))
        if path.stat().st_size > BOUNDS.log_bytes:
            found = f"is larger than {BOUNDS.log_bytes / 1e6:.0f} MB"
            raise InputError(Fault(path.name, found, "hand over parts"))
        data = path.read_bytes()
    except OSError as error:
        found = f"cannot be read ({error.strerror})"
        raise InputError(Fault(str(path), found, "check its rights")) from None
    if data.startswith(b"PK"):
        rows = book_rows(data, path.name)
        texts = ([_cell_text(value) for value in row] for row in rows)
        return LogTable(path, enumerate(texts, 1))
    return LogTable(path, _text_rows(path, data))


def _text_rows(path: Path, data: bytes) -> Iterator[tuple[int, list[str]]]:
    if b"\x00" in data[:4096] and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError(Fault(path.name, "is no table", "a log is a .csv or .xlsx file"))
    try:
        text = data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError:
        text = _decode_western(path, data)
    lines = io.StringIO(text)
    head = next((line for line in lines if line.strip() and line[0] != "#"), "")
    if re.fullmatch(r"sep=.", head.strip()):
        text = text.partition("\n")[2]
        separator = head.strip()[-1]
    else:
        separator = max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    last = 0
    try:
        for cells in reader:
            if len(cells) > BOUNDS.columns:
                found = f"line {last + 1} has {len(cells)} columns"
                taken = f"at most {BOUNDS.columns} are taken"
                raise InputError(Fault(path.name, found, taken))
            yield last + 1, cells
            last = reader.line_num
    except csv.Error as error:
        found = f"is not a CSV file that can be read (after line {last}: {error})"
        raise InputError(Fault(path.name, found, "check its quotes")) from error


def _decode_western(path: Path, data: bytes) -> str:
    """Read what older spreadsheet programs save in Western Europe; no letter is replaced."""
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError as error:
        found = f"holds letters that cannot be read (byte {error.start + 1})"
        raise InputError(Fault(path.name, found, "save it as UTF-8")) from error


def _cell_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime.datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def read_time(text: str) -> tuple[str, float]:
    """Read a time; without an offset it is the time of this computer's own zone.

    Returns
    -------
    tuple of str and float
        In ISO 8601 with its offset, and in seconds since 1970 UTC.

    Raises
    ------
    InputError
        Saying what was found and what is allowed.

    Examples
    --------
    >>> read_time("2027-03-01T10:00:00+01:00")
    ('2027-03-01T10:00:00+01:00', 1803891600.0)
    >>> read_time("1 March 2027 9:00")[0][:19]
    '2027-03-01T09:00:00'
    """
    try:
        moment = datetime.datetime.fromisoformat(text)
        if len(text) < 16:
            raise ValueError
    except ValueError:
        match = _CLOCK.match(text.strip())
        if not match:
            raise InputError(Refusal("is no time", _TIME_LIKE, quote(text))) from None
        day = read_date(match[1])
        try:
            clock = datetime.time(int(match[2]), int(match[3]), int(match[4] or 0))
        except ValueError:
            raise InputError(Refusal("is no time of a day", _TIME_LIKE, quote(text))) from None
        moment = datetime.datetime.combine(day, clock)
    if not 2000 <= moment.year <= 2100:
        said = f"is in the year {moment.year}"
        raise InputError(Refusal(said, "allowed is 2000 to 2100", quote(text)))
    if moment.tzinfo is None:
        moment = moment.astimezone()
        text = moment.isoformat(timespec="seconds")
    return text, moment.timestamp()


def read_number(text: str, name: str, low: float = 0.0) -> float:
    """Read a number with a decimal point or comma; refused as :func:`read_time` refuses.

    Examples
    --------
    >>> read_number("12,5", "work_s"), read_number(" 3 ", "hits")
    (12.5, 3.0)
    """
    number = float(text.strip().replace(",", ".")) if _NUMBER.fullmatch(text) else float("nan")
    if not low <= number < 1e9:
        allowed = "write a number" + (f" from {low:g}" if low else "")
        raise InputError(Refusal(f"{name} is {quote(text)}", allowed))
    return number


def read_whole(text: str, name: str) -> int:
    """Read a whole number from 1.

    Raises
    ------
    InputError
        As of :func:`read_time`.
    """
    number = read_number(text, name, 1.0)
    if number < 1 or number != int(number):
        raise InputError(Refusal(f"{name} is {quote(text)}", "write a whole number from 1"))
    return int(number)


def read_rings(text: str, most: int) -> list[int]:
    """Read ring numbers: one, or several as "1-40, 45".

    Raises
    ------
    InputError
        As of :func:`read_time`.

    Examples
    --------
    >>> read_rings("7", 10), read_rings("1-3, 9", 10)
    ([7], [1, 2, 3, 9])
    """
    if text.isdecimal():
        return [read_whole(text, "ring")]
    found: list[int] = []
    for part in re.split(r"[,;\s]+", re.sub(r"\s*[-–]\s*", "-", text.strip())):
        first, dash, last = part.partition("-")
        one = read_whole(first, "ring")
        end = read_whole(last, "ring") if dash else one
        if not one <= end <= max(most, one):
            allowed = f"this piece has rings 1 to {most}"
            raise InputError(Refusal(f"rings {quote(part)}", allowed))
        found.extend(range(one, end + 1))
        if len(found) > max(most, 1):
            said = f"rings {quote(text)} name more than the {most} there are"
            raise InputError(Refusal(said, "name each once"))
    return found
