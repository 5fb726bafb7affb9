"""The chance that each piece is in time: the very schedule, played with other times."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.bench_log import STATIONS
from chainplan.model.workshop.schedule import ASSAY, JOINED, TUMBLING
from chainplan.schedule.hours import DAY_S

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.model.workshop.schedule import PieceReady, PieceWork, Task
    from chainplan.schedule.shop import Shop

A_MOMENT_S = 1e-6
"""Work of no length, by which the evening is told from the next morning."""
_Lot = tuple[str, int]


def chances_in_time(
    tasks: Sequence[Task],
    pieces: Sequence[PieceReady],
    shop: Shop,
    works: Sequence[PieceWork],
    *,
    low: float,
    high: float,
    trials: int,
    seed: int,
) -> tuple[float, ...]:
    """Chance that each piece is ready in time, by simulation (no unit).

    Parameters
    ----------
    tasks : sequence of Task
        The schedule, by start.
    pieces : sequence of PieceReady
        When each piece is wanted; a piece without a date is always in time.
    shop : Shop
        Who works when.
    works : sequence of PieceWork
        The pieces, for what waits for its material.
    low, high : float
        Ends of each station's time, as shares of the usual. [-]
    trials, seed : int
        How often, and the seed: the same seed gives the same chances.

    Notes
    -----
    One factor a station, triangular between the ends with its peak at 1, the same for all pieces:
    what is unknown is how quick the hand is, not how one piece differs from another. Work is taken
    up in the order of the schedule, by whoever is free first of those who do it (the person of the
    schedule, if several are); each as soon as machine, copy and material allow. A visit to the
    welder stays in one hand, and what is welded in turns keeps its waits.
    """
    if all(math.isinf(piece.due_s) for piece in pieces):
        return (1.0,) * len(pieces)
    draw = np.random.default_rng(seed).random((trials, len(STATIONS)))
    factor = dict(zip(STATIONS, triangular(draw, low, high).T, strict=True))
    run = _Trials(tasks, pieces, shop, works, factor, high=high)
    for task in tasks:
        run.play(task)
    return tuple(float((run.done[p.piece] <= p.due_s + 1e-3).mean()) for p in pieces)


class _Trials:
    """All trials at once: each moment is an array, shape (trials,)."""

    def __init__(
        self,
        tasks: Sequence[Task],
        pieces: Sequence[PieceReady],
        shop: Shop,
        works: Sequence[PieceWork],
        factor: dict[str, FloatArray],
        *,
        high: float,
    ) -> None:
        self.shop, self.factor = shop, factor
        self.zero = np.zeros_like(next(iter(factor.values())))
        end_s = max((task.end_s for task in tasks), default=0) * max(2 * high, 3.0) + 1
        self.until_s = end_s
        self.curves: dict[tuple[int, str], tuple[FloatArray, FloatArray]] = {}
        self.number = {worker.label: k for k, worker in enumerate(shop.workers)}
        self.works = {work.piece: work for work in works}
        back = {
            weekdays: self._back_by_day(weekdays, end_s)
            for weekdays in {piece.hallmark_days for piece in pieces}
        }
        self.away = {piece.piece: back[piece.hallmark_days] for piece in pieces}
        self.free = np.zeros((len(shop.workers), len(self.zero)))
        self.machine: dict[str, FloatArray] = {}
        self.copies: dict[_Lot, FloatArray] = {}
        self.sections: dict[_Lot, FloatArray] = {}
        self.done = {piece.piece: self.zero for piece in pieces}
        self.visits: dict[int, set[_Lot]] = {}
        for task in tasks:
            if task.session and task.station != "set up":
                self.visits.setdefault(task.session, set()).update(_lots(task))
        self.visit, self.by = 0, np.zeros(len(self.zero), dtype=np.intp)
        self.last: Task | None = None

    def _back_by_day(self, weekdays: int, until_s: float) -> FloatArray:
        """When what is done on each day is back from the assay."""
        days = range(int(until_s) // DAY_S + 2)
        return np.array([self.shop.assayed_s(k * DAY_S + 1, weekdays) for k in days], dtype=float)

    def play(self, task: Task) -> None:
        """Let one task begin when it can."""
        ready = self._ready(task)
        if task.station == TUMBLING:
            end = self._lying(task, ready)
        elif task.station == ASSAY:
            away = self.away[task.piece]
            day = np.ceil(ready / DAY_S).astype(np.intp) - 1
            end = away[np.clip(day, 0, len(away) - 1)]
        else:
            end = self._work(task, ready)
        if task.machine:
            self.machine[task.machine] = end
        if task.station != "set up":
            for lot in _lots(task):
                if task.section > 0:
                    self.sections[lot] = np.maximum(self.sections.get(lot, self.zero), end)
                else:
                    self.copies[lot] = end
        self.done[task.piece] = np.maximum(self.done[task.piece], end)

    def _lying(self, task: Task, ready: FloatArray) -> FloatArray:
        """Let rings turn in the tumbler by themselves, but for the days on which it stands."""
        place, long_s = self.shop.place(task.machine), float(task.end_s - task.start_s)
        if place is None or place.hours is None:
            return ready + long_s
        moments, before = place.hours.curve(self.until_s)
        long_s = float(place.hours.worked_s(task.end_s) - place.hours.worked_s(task.start_s))
        end: FloatArray = np.interp(np.interp(ready, moments, before) + long_s, before, moments)
        return end

    def _curve(self, worker: int, task: Task) -> tuple[FloatArray, FloatArray]:
        """Give the hours of a person, at a machine those in which it is there."""
        place = self.shop.place(task.machine)
        key = worker, place.label if place is not None and place.hours is not None else ""
        if key not in self.curves:
            hours = self.shop.hours_at(self.shop.workers[worker], place)
            self.curves[key] = hours.curve(self.until_s)
        return self.curves[key]

    def _ready(self, task: Task) -> FloatArray:
        lots = set(_lots(task))
        if task.session and task.session != self.visit:
            lots = self.visits.get(task.session, lots)
        elif task.station == "set up":
            lots = set()
        found = [self.copies.get(lot, self.zero) for lot in lots]
        if task.section == JOINED:
            found += [self.sections[lot] for lot in lots]
        if task.machine:
            found.append(self.machine.get(task.machine, self.zero))
        found.append(self.zero + self.shop.material_s(self.works[task.piece], task.station))
        at_s: FloatArray = np.maximum.reduce([self.zero, *found])
        return at_s

    def _work(self, task: Task, ready: FloatArray) -> FloatArray:
        """Give the task to whoever is free first, and return when it is done."""
        planned = self.number[task.person]
        pause_s = 0.0
        if task.session and task.session == self.visit:
            last = self.last
            hours = self.shop.hours_at(self.shop.workers[planned], self.shop.place(task.machine))
            if last is not None:
                pause_s = float(hours.worked_s(task.start_s) - hours.worked_s(last.end_s))
        else:
            self.by = self._who(task, ready, planned)
            self.visit = task.session
        self.last = task
        end = np.empty_like(ready)
        usual_s = task.work_s / self._pace(task, planned)
        for k in np.unique(self.by).tolist():
            own = self.by == k
            moments, before = self._curve(k, task)
            begun = np.interp(np.maximum(ready[own], self.free[k, own]), moments, before)
            long_s = usual_s * self._pace(task, k) * self.factor[task.station][own] + pause_s
            end[own] = np.interp(begun + long_s - A_MOMENT_S, before, moments)
            self.free[k, own] = end[own]
        return end

    def _pace(self, task: Task, worker: int) -> float:
        pace = self.shop.workers[worker].pace
        return max(pace, 1.0) if task.station == "weld" else pace

    def _who(self, task: Task, ready: FloatArray, planned: int) -> IndexArray:
        """Whoever can begin first; the person of the schedule if that is as soon as any."""
        found = np.full(self.free.shape, np.inf)
        station = "weld" if task.station in ("set up", "rework") else task.station
        for k, worker in enumerate(self.shop.workers):
            if k != planned and not worker.can(station):
                continue
            moments, before = self._curve(k, task)
            worked = np.interp(np.maximum(ready, self.free[k]), moments, before)
            found[k] = np.interp(worked + A_MOMENT_S, before, moments) + (k != planned)
        first: IndexArray = found.argmin(axis=0)
        return first


def _lots(task: Task) -> list[_Lot]:
    return [(task.piece, copy) for copy in range(task.copy, task.copy + task.copies)]


def triangular(share: FloatArray, low: float, high: float) -> FloatArray:
    """Turn shares between 0 and 1 into values of a triangle from low to high with its peak at 1."""
    if high <= low:
        return np.ones_like(share)
    peak = (1 - low) / (high - low)
    up = low + np.sqrt(share * (high - low) * (1 - low))
    down = high - np.sqrt((1 - share) * (high - low) * (high - 1))
    return np.where(share < peak, up, down)
