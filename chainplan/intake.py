"""Takes text files of the user's in, within the bounds: bytes, letters, TOML and CSV.

Every reader of such files begins here, so that none can be made to take minutes or all the memory.
"""

from __future__ import annotations

import csv
import io
import json
import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, cut

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

_TOKEN = re.compile(
    r'"""(?:[^"\\]++|\\.|"{1,2}(?!"))*+"{3,5}'
    r"|'''(?:[^']++|'{1,2}(?!'))*+'{3,5}"
    r'|"(?:[^"\\\n]++|\\.)*+"?'
    r"|'[^'\n]*+'?"
    r"|\#[^\n]*+"
    r"|[\[\]{}=,\n]"
    r"|[^\s\[\]{}=,\"'\#]++",
    re.DOTALL,
)


class Unreadable:
    """A number in TOML that is told at its place instead of being read."""

    def __init__(self, trouble: str) -> None:
        self.trouble = trouble


def read_bytes(path: Path, most: int, *, name: str = "", allowed: str = "") -> bytes:
    """Read a file whole if it is not larger than ``most`` bytes.

    Parameters
    ----------
    path : Path
        The file.
    most : int
        Bytes that are taken.
    name : str, optional
        What the file is called in messages; its path if empty.
    allowed : str, optional
        What is expected, told if it cannot be opened.

    Raises
    ------
    InputError
        If it is not there, is no file, cannot be opened, or is larger.
    """
    name = name or str(path)
    try:
        if path.is_dir():
            raise InputError(Fault(name, "is a folder, not a file", allowed))
        with path.open("rb") as stream:
            content = stream.read(min(path.stat().st_size, most) + 1)
    except FileNotFoundError as error:
        raise InputError(Fault(name, "no such file", allowed)) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(Fault(name, f"cannot be opened ({reason})", allowed)) from error
    if len(content) > most:
        taken = f"at most {most / 1e6:g} MB are taken"
        raise InputError(Fault(name, f"is larger than {most / 1e6:g} MB", taken))
    return content


def read_plan_record(path: Path) -> dict[str, Any]:
    """Read the ``plan.json`` of a finished plan, within the bounds.

    Raises
    ------
    InputError
        If it cannot be read, is too large or too deep, or is no record of a plan.
    """
    content = read_bytes(path, BOUNDS.plan_bytes, allowed="name the folder of a plan")
    try:
        record = json.loads(content)
    except (ValueError, RecursionError) as error:
        found = f"is no plan of this program ({cut(str(error), BOUNDS.word_letters)})"
        raise InputError(Fault(str(path), found, "plan the job again")) from None
    if not isinstance(record, dict) or not isinstance(record.get("stamp"), dict):
        found = "has no stamp: it is no plan of this program"
        raise InputError(Fault(str(path), found, "plan the job again"))
    return record


def decode(content: bytes, name: str) -> str:
    """Decode a text file: UTF-8, or UTF-16 with its mark.

    Raises
    ------
    InputError
        If it is neither, or holds zero bytes.
    """
    try:
        wide = content.startswith((b"\xff\xfe", b"\xfe\xff"))
        text = content.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        found = f"is not a text file, or not UTF-8 (byte {error.start + 1})"
        raise InputError(Fault(name, found, "save it as UTF-8")) from error
    if "\0" in text:
        raise InputError(Fault(name, "holds zero bytes, so it is no text", "save it as UTF-8 text"))
    return text


def parse_toml(
    text: str, name: str, *, decimals: bool = False, allowed: str = "mend it there"
) -> dict[str, Any]:
    """Parse TOML within the bounds on rows, values, depth and length of words.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        What it is called in messages.
    decimals : bool, optional
        Read numbers with a point as ``Decimal``; one with too many digits becomes ``Unreadable``.
    allowed : str, optional
        What to do if it is no TOML.

    Raises
    ------
    InputError
        If it is no TOML, or is outside the bounds.
    """
    import tomllib

    text = text.replace("\r\n", "\n")
    _check_toml(text, name)
    read: Callable[[str], Any] = _read_decimal if decimals else float
    try:
        return tomllib.loads(text, parse_float=read)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError, OverflowError) as error:
        found = f"is not TOML that can be read ({cut(str(error), BOUNDS.word_letters)})"
        raise InputError(Fault(name, found, allowed)) from error


def _read_decimal(text: str) -> Decimal | Unreadable:
    """Read a number exactly, if it has no more digits and no larger exponent than anybody means."""
    digits, _, exponent = text.casefold().partition("e")
    if len(digits.strip("+-0")) > BOUNDS.digits + 1:
        return Unreadable(f"is a number of more than {BOUNDS.digits} digits")
    if abs(int(exponent.replace("_", "") or 0)) > BOUNDS.digits:
        return Unreadable(f"is {cut(text)}, beyond all measure")
    return Decimal(text)


def _check_toml(text: str, name: str) -> None:
    """Look over TOML without reading it, and refuse what a reader would take minutes for."""
    depth = dots = values = rows = 0
    line = 1
    for match in _TOKEN.finditer(text):
        token = match.group()
        first = token[0]
        if first == "\n":
            line, dots = line + 1, 0
        elif first in "[{":
            depth, dots = depth + 1, 0
            rows += token == "[" and text.startswith("[[", match.start())
        elif first in "]}":
            depth = max(depth - 1, 0)
        elif first in "=,":
            values, dots = values + 1, 0
        elif first in "\"'":
            if len(token) > BOUNDS.text_letters:
                found = f"line {line} has a text of {len(token)} letters"
                raise _outside(name, found, f"at most {BOUNDS.text_letters} are taken")
            line += token.count("\n")
        elif first != "#":
            dots += token.count(".")
            if len(token) > BOUNDS.word_letters:
                found = f"line {line} has a number or key of {len(token)} letters"
                raise _outside(name, found, f"at most {BOUNDS.word_letters} are taken")
        if depth > BOUNDS.depth or dots > BOUNDS.depth:
            found = f"line {line} goes deeper than {BOUNDS.depth} tables in tables"
            raise _outside(name, found, "a job goes 3 deep")
        if values > BOUNDS.cells:
            found = f"holds more than {BOUNDS.cells} values"
            raise _outside(name, found, "make several files of it")
        if rows > BOUNDS.rows:
            raise _outside(name, f"has more than {BOUNDS.rows} tables", "make several files of it")


def _outside(name: str, found: str, allowed: str) -> InputError:
    return InputError(Fault(name, found, allowed))


def read_csv_rows(
    text: str, name: str, *, separator: str = ",", rows: int = BOUNDS.rows
) -> Iterator[tuple[int, list[str]]]:
    """Read the filled rows of a CSV one by one with their row numbers, counted from 1.

    Raises
    ------
    InputError
        If it is no CSV, or has more rows, columns, cells or letters in a cell than are taken.
    """
    if text.count("\n") + text.count("\r") > 2 * max(BOUNDS.lines, rows):
        raise _outside(name, f"has more than {BOUNDS.lines} lines", "make several files of it")
    filled = cells = number = 0
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        for number, row in enumerate(reader, 1):
            if not any(map(str.strip, row)):
                continue
            filled += 1
            cells += len(row)
            if filled > rows + 1:
                found = f"has more than {rows} rows"
                raise _outside(name, found, "make several files of it")
            if len(row) > BOUNDS.columns:
                found = f"row {number} has {len(row)} columns"
                raise _outside(name, found, f"at most {BOUNDS.columns} are taken")
            if cells > max(BOUNDS.cells, rows * 20):
                found = f"has more than {BOUNDS.cells} cells"
                raise _outside(name, found, "make several files of it")
            if max(map(len, row)) > BOUNDS.text_letters:
                found = f"row {number} has a text of {max(map(len, row))} letters"
                raise _outside(name, found, f"at most {BOUNDS.text_letters} are taken")
            yield number, row
    except csv.Error as error:
        found = f"is not a CSV file that can be read (after row {number}: {error})"
        raise InputError(Fault(name, found, "check its quotes")) from error
