"""The time at which anybody works, as one axis without nights; on it everybody's own hours."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.schedule.hours import Hours

Window = tuple[int, int]


@dataclass(frozen=True)
class Axis:
    """Seconds at which at least one person works, counted from the first on."""

    windows: tuple[Window, ...]  # in clock time
    before: tuple[int, ...]  # working seconds before each window

    @classmethod
    def of(cls, hours: Sequence[Hours], until_s: int) -> Axis:
        """Join everybody's hours up to a moment."""
        joined: list[Window] = []
        for opens, shuts in sorted(w for own in hours for w in own.windows(until_s)):
            if joined and opens <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(joined[-1][1], shuts))
            else:
                joined.append((opens, shuts))
        lasts = [shuts - opens for opens, shuts in joined]
        return cls(tuple(joined), tuple(accumulate(lasts, initial=0))[:-1])

    @property
    def long_s(self) -> int:
        """Length of the axis."""
        opens, shuts = self.windows[-1]
        return self.before[-1] + shuts - opens

    def place(self, clock_s: int) -> int:
        """Return the working seconds before a moment."""
        k = bisect_right(self.windows, (clock_s, clock_s)) - 1
        k = k + 1 if k + 1 < len(self.windows) and self.windows[k + 1][0] <= clock_s else k
        if k < 0:
            return 0
        opens, shuts = self.windows[k]
        return self.before[k] + min(clock_s, shuts) - opens

    def ends(self, place_s: int) -> int:
        """Return the moment at which work ends that ends after so many working seconds."""
        k = max(bisect_left(self.before, place_s) - 1, 0)
        return self.windows[k][0] + place_s - self.before[k]

    def begins(self, place_s: int) -> int:
        """Return the moment at which work begins that begins after so many working seconds."""
        k = max(bisect_right(self.before, place_s) - 1, 0)
        return self.windows[k][0] + place_s - self.before[k]

    def on_it(self, hours: Hours, until_s: int) -> tuple[Window, ...]:
        """Give somebody's windows on this axis, those that touch as one."""
        found: list[Window] = []
        for opens, shuts in hours.windows(until_s):
            start, end = self.place(opens), self.place(shuts)
            if found and start <= found[-1][1]:
                found[-1] = (found[-1][0], end)
            elif end > start:
                found.append((start, end))
        return tuple(found)

    def nights(self) -> tuple[int, ...]:
        """Places at which the axis leaps over a time when nobody works."""
        return self.before[1:]
