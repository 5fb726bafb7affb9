"""The chance that each piece is in time: the very schedule, played with other times."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.schedule import UNATTENDED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.workshop.schedule import PieceReady, Task
    from chainplan.schedule.shop import Shop

_STATIONS = (
    "coil", "cut", "tumble", "pre-close", "weave", "set up", "weld", "rework", "clean", "inspect",
    "finish",
)  # fmt: skip


def chances_in_time(
    tasks: Sequence[Task],
    pieces: Sequence[PieceReady],
    shop: Shop,
    *,
    low: float,
    high: float,
    trials: int,
    seed: int,
) -> tuple[float, ...]:
    """Chance that the work on each piece ends in time, by simulation (no unit).

    Parameters
    ----------
    tasks : sequence of Task
        The schedule, by start.
    pieces : sequence of PieceReady
        When the work on each piece has to be over.
    shop : Shop
        Who works when.
    low, high : float
        Ends of each station's time, as shares of the usual. [-]
    trials, seed : int
        How often, and the seed: the same seed gives the same chances.

    Notes
    -----
    One factor a station, triangular between the ends with its peak at 1, the same for all pieces:
    what is unknown is how quick the hand is, not how one piece differs from another. Everybody does
    the things of the schedule in its order, each as soon as people, machine, the copy's station
    before and the material allow; what is welded in turns keeps its waits.
    """
    draw = np.random.default_rng(seed).random((trials, len(_STATIONS)))
    factor = dict(zip(_STATIONS, triangular(draw, low, high).T, strict=True))
    end_s = max((task.end_s for task in tasks), default=0)
    hours = {worker.label: worker.hours for worker in shop.workers}
    curves = {label: own.curve(end_s * max(2 * high, 3.0) + 1) for label, own in hours.items()}
    before_it: dict[str, Task] = {}
    person: dict[str, FloatArray] = {}
    machine: dict[str, FloatArray] = {}
    copies: dict[tuple[str, int], FloatArray] = {}
    bought = shop.delivered_s
    zero = np.zeros(trials)
    done = {piece.piece: zero for piece in pieces}
    first: dict[tuple[str, int], int] = {}
    for task in tasks:
        lots = [(task.piece, copy) for copy in range(task.copy, task.copy + task.copies)]
        ready = np.maximum.reduce([copies.get(lot, zero) for lot in lots])
        if bought and task.start_s >= bought and not _was_earlier(first, lots, bought):
            ready = np.maximum(ready, float(bought))
        for lot in lots:
            first.setdefault(lot, task.start_s)
        if task.machine:
            ready = np.maximum(ready, machine.get(task.machine, zero))
        if task.station in UNATTENDED:
            end = ready + (task.end_s - task.start_s)
        else:
            ready = np.maximum(ready, person.get(task.person, zero))
            moments, before = curves[task.person]
            worked = np.interp(ready, moments, before)
            long_s = task.work_s
            last = before_it.get(task.person)
            if last is not None and task.session and last.session == task.session:
                own = hours[task.person]
                long_s += own.worked_s(task.start_s) - own.worked_s(last.end_s)
            before_it[task.person] = task
            wanted = worked + long_s * factor[task.station]
            end = np.interp(wanted - 1e-6, before, moments)
            person[task.person] = end
        if task.machine:
            machine[task.machine] = end
        for lot in lots:
            copies[lot] = end
        done[task.piece] = np.maximum(done[task.piece], end)
    return tuple(float((done[piece.piece] <= piece.due_s + 1e-3).mean()) for piece in pieces)


def _was_earlier(first: dict[tuple[str, int], int], lots: list[tuple[str, int]], at_s: int) -> bool:
    """Whether work on a copy began before the delivery: then it may go on without it."""
    return any(first.get(lot, at_s) < at_s for lot in lots)


def triangular(share: FloatArray, low: float, high: float) -> FloatArray:
    """Turn shares between 0 and 1 into values of a triangle from low to high with its peak at 1."""
    if high <= low:
        return np.ones_like(share)
    peak = (1 - low) / (high - low)
    up = low + np.sqrt(share * (high - low) * (1 - low))
    down = high - np.sqrt((1 - share) * (high - low) * (high - 1))
    return np.where(share < peak, up, down)
