"""The hours that somebody works, as windows of seconds from the midnight before the first day."""

from __future__ import annotations

import datetime
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray
    from chainplan.schedule.workdays import WorkDays

DAY_S = 86_400
"""Seconds of a day; clocks are not put forward or back."""
_NO_END_S = 1 << 40
"""Without a first day there are no nights: one window of work without end."""
_LONGEST_DAYS = 366 * 30
"""Beyond thirty years no work is laid: the hours given leave no room for it."""


def worked_by_any_s(hours: Sequence[Hours], moments_s: Sequence[int]) -> list[int]:
    """Return the seconds before each moment in which anybody works, each second once."""
    curves = [one.curve(max(moments_s, default=0))[0].reshape(-1, 2) for one in set(hours)]
    windows = np.concatenate(curves)
    windows = windows[np.argsort(windows[:, 0], kind="stable")]
    open_s = windows[:, 0]
    shut_s = np.maximum.accumulate(windows[:, 1])
    # What an earlier window covers already is not counted again.
    covered_s = np.concatenate([[0.0], shut_s[:-1]])
    open_s = np.minimum(np.maximum(open_s, covered_s), shut_s)
    before_s = np.concatenate([[0.0], np.cumsum(shut_s - open_s)])
    at = np.searchsorted(open_s, moments_s, side="right") - 1
    into_s = np.clip(moments_s - open_s[at], 0.0, (shut_s - open_s)[at])
    found = np.where(at < 0, 0.0, before_s[at] + into_s)
    return [round(second) for second in found.tolist()]


@dataclass(eq=False)
class Hours:
    """Windows of work, made as far ahead as anybody asks.

    Without working days all time is working time.
    """

    days: WorkDays | None

    def __post_init__(self) -> None:
        self._open: list[int] = []
        self._shut: list[int] = []
        self._before: list[int] = []  # working seconds before each window
        self._day = 0
        if self.days is None:
            self._open, self._shut, self._before = [0], [_NO_END_S], [0]

    def _more(self) -> None:
        """Add windows for four more weeks."""
        if self.days is None or self._day > _LONGEST_DAYS:
            message = "the work does not end within thirty years; look at hours and days off"
            raise InputError(message)
        opens_s = round(self.days.day_starts_h * 3600)
        lasts_s = min(round(self.days.hours_per_day * 3600), DAY_S)
        for day in range(self._day, self._day + 28):
            if self.days.is_working(self.days.start + datetime.timedelta(days=day)):
                start = max(day * DAY_S + opens_s, self._shut[-1] if self._shut else 0)
                shut = day * DAY_S + opens_s + lasts_s
                done = self._before[-1] + self._shut[-1] - self._open[-1] if self._open else 0
                self._open.append(start)
                self._shut.append(shut)
                self._before.append(done)
        self._day += 28

    def _window_from(self, moment_s: int) -> int:
        """Return the number of the first window that ends after a moment."""
        while not self._shut or self._shut[-1] <= moment_s:
            self._more()
        return bisect_right(self._shut, moment_s)

    def next_s(self, moment_s: int) -> int:
        """Return the first working moment from a moment on."""
        return max(moment_s, self._open[self._window_from(moment_s)])

    def shut_s(self, moment_s: int) -> int:
        """Return when the window of a working moment ends."""
        return self._shut[self._window_from(moment_s)]

    def worked_s(self, moment_s: int) -> int:
        """Return the working seconds before a moment."""
        k = self._window_from(moment_s)
        return self._before[k] + max(0, moment_s - self._open[k])

    def after_s(self, moment_s: int, work_s: int) -> int:
        """Return when so much work is done if it goes on from a moment; the moment for none."""
        if work_s <= 0:
            return self.next_s(moment_s)
        wanted = self.worked_s(moment_s) + work_s
        while not self._before or self._before[-1] + self._shut[-1] - self._open[-1] < wanted:
            self._more()
        k = max(bisect_left(self._before, wanted) - 1, 0)
        return self._open[k] + wanted - self._before[k]

    def curve(self, until_s: float) -> tuple[FloatArray, FloatArray]:
        """Return moments and the working seconds before them, straight in between.

        Reaches to ``until_s`` at least.
        """
        self._window_from(int(until_s))
        moments = np.ravel(np.column_stack([self._open, self._shut])).astype(float)
        lasts = np.subtract(self._shut, self._open)
        before = np.asarray(self._before, dtype=float)
        return moments, np.ravel(np.column_stack([before, before + lasts]))

    def windows(self, until_s: int) -> list[tuple[int, int]]:
        """List the windows of work up to a moment, the last one cut off there."""
        self._window_from(until_s)
        found = zip(self._open, self._shut, strict=True)
        return [(opens, min(shuts, until_s)) for opens, shuts in found if opens < until_s]

    def split(self, start_s: int, end_s: int) -> list[tuple[int, int]]:
        """Cut a stretch of work at the nights, into what is done in each window."""
        parts = []
        k = self._window_from(start_s)
        while k < len(self._open) and self._open[k] < end_s:
            parts.append((max(start_s, self._open[k]), min(end_s, self._shut[k])))
            k += 1
        return parts
