"""Where a quantity that rises with another one reaches a value."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


def reach_rising(value_at: Callable[[float], float], wanted: float, high: float) -> float:
    """Return the least place between 0 and ``high`` at which a rising quantity is ``wanted``.

    Halved until the two sides are neighbours among the numbers that a computer knows.

    Examples
    --------
    >>> reach_rising(lambda side: side * side, 9.0, 10.0)
    3.0
    """
    low = 0.0
    while low < (middle := (low + high) / 2) < high:
        if value_at(middle) < wanted:
            low = middle
        else:
            high = middle
    return high
