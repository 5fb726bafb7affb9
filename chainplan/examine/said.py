"""How durations and limits are said, on bench sheet, paper and in sentences alike."""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from chainplan.examine.reading import PieceFiles


DURATION = r"(?:\d+ h(?: \d+ min)?|\d+ min(?: \d+ s)?|\d+ s)"

SIX_DIGITS = 5e-6
"""Share of a number that writing it to six digits may have changed."""
_TO_THE_MINUTE_S = 300
"""From here on sentences tell times to the minute."""


@lru_cache(maxsize=1000)
def seconds_of(text: str) -> tuple[float, float]:
    """Seconds that a duration in words may stand for, lowest and highest.

    Examples
    --------
    >>> seconds_of("2 min 10 s"), seconds_of("1 h 7 min")
    ((129.5, 130.5), (3990.0, 4050.0))
    >>> seconds_of("4 min"), seconds_of("5 min"), seconds_of("42 min")
    ((239.5, 240.5), (299.5, 330.0), (2490.0, 2550.0))
    """
    units = {"h": 3600, "min": 60, "s": 1}
    parts = [(int(n), unit) for n, unit in re.findall(r"(\d+) (h|min|s)", text)]
    total = sum(number * units[unit] for number, unit in parts)
    if total < _TO_THE_MINUTE_S:
        return total - 0.5, total + 0.5
    return max(total - 30.0, _TO_THE_MINUTE_S - 0.5), total + 30.0


def limit_sentences(piece: PieceFiles) -> set[str]:
    """Say each limit as bench sheet and paper do."""
    expected = set()
    for row in piece.order["limits"]:
        name = said_limit(row)
        warmest = _whole(row["high_c"]) if row["holds"] else _whole(row["high_c"], math.ceil)
        broken = "" if row["holds"] else "TOO WARM, "
        expected |= {
            f"{name}: {broken}usually {usual} °C, warmest {warm} °C, limit {limit} °C"
            for usual in _whole(row["usual_c"])
            for warm in warmest
            for limit in _whole(row["limit_c"])
        }
    return expected


def _whole(value: float, rule: Callable[[float], int] = round) -> set[int]:
    """Round a number as it may have been before it was written to six digits: 114.5 is two.

    Examples
    --------
    >>> sorted(_whole(114.5)), _whole(114.4), sorted(_whole(114.0, math.ceil))
    ([114, 115], {114}, [114, 115])
    """
    off = SIX_DIGITS * abs(value)
    return {rule(value - off), rule(value + off)}


def said_limit(row: dict[str, Any]) -> str:
    """Name a limit as the bench sheet does."""
    if row["kind"] == "interpass":
        return "each ring before its weld"
    before = row["kind"] in ("metal", "even welds")
    return f"ring before its weld ({row['name']})" if before else str(row["name"])


def listed(names: Iterable[str]) -> str:
    """Write names as a list is read, each once.

    Examples
    --------
    >>> listed(["clasp"]), listed(["clasp", "wire", "clasp", "gas"])
    ('clasp', 'clasp, wire and gas')
    """
    *more, last = [*dict.fromkeys(names)] or [""]
    return f"{', '.join(more)} and {last}" if more else last
