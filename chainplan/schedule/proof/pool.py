"""Hands that work together: how much work some people can do until a moment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray
    from chainplan.schedule.shop import Worker


@dataclass(frozen=True, eq=False)
class Pool:
    """Work at the usual pace that can be done before a moment, straight between the moments."""

    moments: FloatArray  # seconds of the clock, rising
    before: FloatArray  # work done by then, never falling; same shape

    @classmethod
    def of(cls, workers: Sequence[Worker], until_s: float, *, most: int = 0) -> Pool:
        """Put the hours of some people together.

        Parameters
        ----------
        workers : sequence of Worker
            Who works.
        until_s : float
            How far the pool reaches at least.
        most : int
            Places that there are for them: no more work at once, whoever is there; 0: no limit.
        """
        curves = [worker.hours.curve(until_s) for worker in workers]
        moments = np.unique(np.concatenate([own for own, _ in curves]))
        longs = np.diff(moments)
        middle = moments[:-1] + longs / 2
        rate = np.zeros_like(middle)
        there = np.zeros_like(middle)
        for worker, (own, worked) in zip(workers, curves, strict=True):
            at = np.clip(np.searchsorted(own, middle) - 1, 0, len(own) - 2)
            works = (np.diff(worked)[at] > 0) & (middle > own[0]) & (middle < own[-1])
            rate += works / worker.pace
            there += works
        if most:
            rate = np.minimum(there, most)
        return cls(moments, np.concatenate([[0.0], np.cumsum(rate * longs)]))

    def done(self, moment_s: FloatArray) -> FloatArray:
        """Return the work that can be done before each moment."""
        found: FloatArray = np.interp(moment_s, self.moments, self.before)
        return found

    def reach(self, work: FloatArray) -> FloatArray:
        """Return the first moment before which so much can be done; the last for what is more."""
        k = np.clip(np.searchsorted(self.before, work, side="left"), 1, len(self.before) - 1)
        low, high = self.before[k - 1], self.before[k]
        share = np.clip((work - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
        found: FloatArray = self.moments[k - 1] + share * (self.moments[k] - self.moments[k - 1])
        return found

    def after_s(self, moment_s: FloatArray, work: float) -> FloatArray:
        """Return when so much work is done at the earliest, begun at each moment."""
        if work <= 0:
            return moment_s
        return np.maximum(self.reach(self.done(moment_s) + work), moment_s)
