"""Dates as people write them, refused where day and month could be mistaken."""

from __future__ import annotations

import datetime
import re
from typing import NoReturn

from chainplan.errors import InputError, Refusal, quote

MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)  # fmt: skip
HOW_TO = "write 2027-03-01 or 1 March 2027"


def read_date(text: str) -> datetime.date:
    """Read a date given as text.

    Raises
    ------
    InputError
        If it is no date from 2000 to 2100, can be read in two ways, or has a time of day.

    Examples
    --------
    >>> read_date("1 March 2027"), read_date("25/12/2027")
    (datetime.date(2027, 3, 1), datetime.date(2027, 12, 25))
    >>> read_date("03/04/2027")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    chainplan.errors.InputError: '03/04/2027' is 3 April or March 4; write ...
    """
    cleaned = " ".join(text.replace(",", " ").split())
    day, month, year = _parts(text, cleaned)
    try:
        date = datetime.date(year, month, day)
    except ValueError:
        _refuse(text, "does not exist")
    if not 2000 <= year <= 2100:
        raise InputError(Refusal(of=quote(text), allowed="allowed is 2000 to 2100"))
    return date


def _parts(text: str, cleaned: str) -> tuple[int, int, int]:
    """Split a date into day, month and year."""
    match = re.fullmatch(
        r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})(?:[T ]00:00(?::00)?)?", cleaned
    )
    if match:
        return int(match[3]), int(match[2]), int(match[1])
    match = re.fullmatch(
        r"([0-9]{1,2})(?:st|nd|rd|th)?[ .-]*([A-Za-z]{3,9})\.?[ -]*([0-9]{4})", cleaned
    )
    if match:
        return int(match[1]), _month(match[2], text), int(match[3])
    match = re.fullmatch(r"([A-Za-z]{3,9})\.? ([0-9]{1,2})(?:st|nd|rd|th)? ([0-9]{4})", cleaned)
    if match:
        return int(match[2]), _month(match[1], text), int(match[3])
    match = re.fullmatch(r"([0-9]{1,2})([-/.])([0-9]{1,2})\2([0-9]{4})", cleaned)
    if not match:
        _refuse(text, "is no date")
    first, second, year = int(match[1]), int(match[3]), int(match[4])
    if first <= 12 and second <= 12 and first != second and min(first, second) > 0:
        day_first = f"{first} {MONTHS[second - 1].title()}"
        month_first = f"{MONTHS[first - 1].title()} {second}"
        _refuse(text, f"is {day_first} or {month_first}")
    return (first, second, year) if second <= 12 else (second, first, year)


def _month(word: str, text: str) -> int:
    for number, month in enumerate(MONTHS, 1):
        if month == word.casefold() or (len(word) >= 3 and month.startswith(word.casefold())):
            return number
    if word.casefold() != "sept":
        _refuse(text, "names a month that is not known")
    return 9


def _refuse(text: str, trouble: str) -> NoReturn:
    raise InputError(Refusal(trouble, HOW_TO, quote(text))) from None
