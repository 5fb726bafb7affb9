"""How values of the workbook are told: numbers with their rounding, times in words, days."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

Expected = dict[str, Any]
"""Values by heading: a number, a text, a :class:`SpokenSeconds` time, or None for an empty cell."""
ALL = "all pieces"
STATIONS = (
    "coil", "cut", "tumble", "pre-close", "weave", "fitting", "set up", "weld", "rework", "clean",
    "inspect", "finish", "last fitting",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Near:
    """A number that the other file has rounded."""

    value: float
    off: float


@dataclass(frozen=True, slots=True)
class SpokenSeconds:
    """Seconds that stand in words; none at all as "none" where that is said."""

    seconds: float


@dataclass(frozen=True, slots=True)
class TextPart:
    """A text that a cell begins with."""

    text: str


def day_number(date: str | None) -> float | None:
    """Count a date as workbooks do, in days from the end of 1899.

    Examples
    --------
    >>> day_number("1900-03-01"), day_number(None)
    (61.0, None)
    """
    if date is None:
        return None
    return float((datetime.date.fromisoformat(date) - datetime.date(1899, 12, 30)).days)
