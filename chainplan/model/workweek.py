"""Working days of the week and days off, as people write them: the one place that reads them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from chainplan.errors import InputError, Refusal, quote
from chainplan.model.dates import read_date

if TYPE_CHECKING:
    import datetime

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
"""Days as a job's text names them, Monday first."""

_FULL = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_ALSO = {"tues": 1, "weds": 2, "thur": 3, "thurs": 3}
"""Short names in use beside the first three letters."""
_BY_WORD = {
    **{day.casefold(): number for number, day in enumerate(WEEKDAYS)},
    **{day: number for number, day in enumerate(_FULL)},
    **{f"{day}s": number for number, day in enumerate(_FULL)},
    **_ALSO,
}
_DASHES = re.compile("\\s*(?:[-‐‑‒–—−]|\\bto\\b)\\s*", re.IGNORECASE)
HOW_TO_WRITE_DAYS = "write for example Mon-Fri, or Mon Tue Thu Sat"
HOW_TO_WRITE_DATES = "write dates as 2027-01-01, with commas or spaces between them"


def read_working_days(text: str) -> frozenset[int]:
    """Read working days of the week, Monday 0: single days and ranges, in any case.

    Raises
    ------
    InputError
        If a word is no day or no day is named.

    Examples
    --------
    >>> sorted(read_working_days("Mon, tuesday Sat"))
    [0, 1, 5]
    >>> sorted(read_working_days("Mon–Wed and Saturday"))
    [0, 1, 2, 5]
    >>> read_working_days("Mon-Frei")
    Traceback (most recent call last):
    ...
    chainplan.errors.InputError: working days hold 'Mon-Frei', which is no day or range of days; \
write for example Mon-Fri, or Mon Tue Thu Sat
    """
    found: set[int] = set()
    for word in re.split(r"[,;&\s]+", _DASHES.sub("-", text)):
        if word and word.casefold() != "and":
            found |= _days_of(word)
    if not found:
        trouble = "hold no day: none is named"
        raise InputError(Refusal(trouble, HOW_TO_WRITE_DAYS, what="working days"))
    return frozenset(found)


def _days_of(word: str) -> set[int]:
    """Read one day or one range; a range may go over the end of the week."""
    ends = [_BY_WORD.get(end.removesuffix(".").casefold()) for end in word.split("-")]
    first, last = ends[0], ends[-1]
    if first is None or last is None or len(ends) > 2 or (len(ends) == 2 and first == last):
        trouble = f"hold {quote(word)}, which is no day or range of days"
        raise InputError(Refusal(trouble, HOW_TO_WRITE_DAYS, what="working days"))
    return {(first + step) % 7 for step in range((last - first) % 7 + 1)}


def write_working_days(days: frozenset[int]) -> str:
    """Write working days as a job's text holds them.

    Examples
    --------
    >>> write_working_days(read_working_days("fri-Mon"))
    'Mon Fri Sat Sun'
    """
    return " ".join(WEEKDAYS[day] for day in sorted(days))


def read_days_off(text: str) -> frozenset[datetime.date]:
    """Read days off written as dates.

    Raises
    ------
    InputError
        With every part that is no date.

    Examples
    --------
    >>> sorted(day.day for day in read_days_off("2027-01-01 2027-01-02, 3 January 2027"))
    [1, 2, 3]
    """
    found: set[datetime.date] = set()
    wrong: list[str] = []
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        words = [part.strip()] if _date(part) else part.split()
        dates = [_date(word) for word in words]
        found.update(date for date in dates if date)
        if not any(dates):
            words = [" ".join(words)]  # such as "next Friday": one thing, not two
            dates = [None]
        wrong += [word for word, date in zip(words, dates, strict=True) if date is None]
    if wrong:
        named = ", ".join(map(quote, dict.fromkeys(wrong)))
        kind = "which is no plain date" if len(set(wrong)) == 1 else "which are no plain dates"
        raise InputError(Refusal(f"hold {named}, {kind}", HOW_TO_WRITE_DATES, what="days off"))
    return frozenset(found)


def _date(text: str) -> datetime.date | None:
    try:
        return read_date(text)
    except ValueError:
        return None
