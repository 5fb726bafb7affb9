"""Who works on what when: pieces pass through the stations, due dates are kept where they can be.

Each piece goes through its stations one after another; a station holds one piece at a time, and so
does a person. Pieces are taken in an order, each put as early as people and stations allow. With
one person this is one machine: taking the earliest due date first makes the largest lateness as
small as any order can (exchange two neighbours that stand the other way round: neither becomes
later than the later of them was), so if a piece is late then, no order keeps all due dates. With
more people the best of several orders is taken and improved by exchanging neighbours; that is a
sound rule, not a proof.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.estimate.stations import STATIONS
from chainplan.estimate.tuning import tuning

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.arrays import FloatArray
    from chainplan.model.estimate import StationTime


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceWork:
    """One piece as the schedule sees it: hours at each station, and when they must be over."""

    piece: str
    hours: tuple[float, ...]  # in the order of STATIONS
    due_h: float  # working hours from the start; infinite without a due date


@dataclass(frozen=True, slots=True, kw_only=True)
class Stint:
    """One piece at one station."""

    piece: int
    station: int
    start_h: float
    end_h: float


def work_of(piece: str, times: Sequence[StationTime], due_h: float) -> PieceWork:
    """Take a piece's usual times for the schedule."""
    by_station = {time.station: time.usual_min / 60 for time in times if time.piece == piece}
    return PieceWork(
        piece=piece, hours=tuple(by_station.get(name, 0.0) for name in STATIONS), due_h=due_h
    )


def done_hours(
    hours: FloatArray, order: Sequence[int], people: int
) -> tuple[FloatArray, list[tuple[int, int, FloatArray, FloatArray]]]:
    """When each piece is done if pieces are taken in an order; for many trials at once.

    Parameters
    ----------
    hours : array, shape (trials, pieces, stations)
        Time of each piece at each station. [h]
    order : sequence of int
        Pieces in the order in which they are taken.
    people : int
        People who work at once.

    Returns
    -------
    tuple of array and list
        Hour at which each piece is done, shape (trials, pieces); and for each piece and station its
        start and end, each of shape (trials,).
    """
    trials, pieces, stations = hours.shape
    station_free = np.zeros((trials, stations))
    person_free = np.zeros((trials, people))
    done = np.zeros((trials, pieces))
    every = np.arange(trials)
    stints = []
    for piece in order:
        ready = np.zeros(trials)
        for station in range(stations):
            need = hours[:, piece, station]
            if not need.any():
                continue
            who = _who(person_free, ready)
            start = np.maximum(np.maximum(ready, station_free[:, station]), person_free[every, who])
            ready = start + need
            person_free[every, who] = ready
            station_free[:, station] = ready
            stints.append((piece, station, start, ready))
        done[:, piece] = ready
    return done, stints


def _who(person_free: FloatArray, ready: FloatArray) -> npt.NDArray[np.intp]:
    """Choose the person who is free in time and has waited least; else the one free first."""
    free = np.where(person_free <= ready[:, None] + 1e-12, person_free, -np.inf)
    in_time = np.isfinite(free.max(axis=1))
    who: npt.NDArray[np.intp] = np.where(in_time, free.argmax(axis=1), person_free.argmin(axis=1))
    return who


def _lateness(
    hours: FloatArray, due_h: FloatArray, order: Sequence[int], people: int
) -> tuple[float, float, float]:
    done, _ = done_hours(hours, order, people)
    late = np.maximum(done[0] - due_h, 0.0)
    return (round(float(late.max(initial=0.0)), 9), round(float(late.sum()), 9), float(done.max()))


def best_order(works: Sequence[PieceWork], people: int) -> tuple[int, ...]:
    """Order in which to take the pieces.

    Earliest due date first; pieces without one last, in the order of the file. With more than one
    person also shortest and longest first are tried, and the best is improved.
    """
    earliest = sorted(range(len(works)), key=lambda k: (works[k].due_h, k))
    if people == 1 or len(works) < 2:
        return tuple(earliest)
    hours = np.array([[work.hours for work in works]])
    due_h = np.array([work.due_h for work in works])
    total = hours[0].sum(axis=1)
    starts = [
        earliest,
        sorted(range(len(works)), key=lambda k: (total[k], k)),
        sorted(range(len(works)), key=lambda k: (-total[k], k)),
    ]
    best = min(starts, key=lambda order: _lateness(hours, due_h, order, people))
    return tuple(_exchange_neighbours(best, hours, due_h, people))


def _exchange_neighbours(
    order: list[int], hours: FloatArray, due_h: FloatArray, people: int
) -> list[int]:
    score = _lateness(hours, due_h, order, people)
    tried, improved = 0, True
    while improved and tried < tuning().exchanges:
        improved = False
        for k in range(len(order) - 1):
            other = [*order[:k], order[k + 1], order[k], *order[k + 2 :]]
            tried += 1
            found = _lateness(hours, due_h, other, people)
            if found < score:
                order, score, improved = other, found, True
    return order


def lay_stints(works: Sequence[PieceWork], order: Sequence[int], people: int) -> tuple[Stint, ...]:
    """Put every piece at its stations in the given order, as early as possible."""
    if not works:
        return ()
    _, laid = done_hours(np.array([[work.hours for work in works]]), order, people)
    return tuple(
        Stint(piece=piece, station=station, start_h=float(start[0]), end_h=float(end[0]))
        for piece, station, start, end in laid
    )


def chances_in_time(
    works: Sequence[PieceWork],
    order: Sequence[int],
    people: int,
    *,
    quick_share: float,
    slow_share: float,
    trials: int,
    seed: int,
) -> tuple[float, ...]:
    """Chance that each piece is done by its due date, by simulation (no unit).

    Parameters
    ----------
    works, order, people : sequence of PieceWork, sequence of int, int
        The schedule.
    quick_share, slow_share : float
        Ends of each station's time, as shares of the usual. [-]
    trials, seed : int
        How often, and the seed: the same seed gives the same chances.

    Notes
    -----
    One factor a station, triangular between the ends with its peak at 1, the same for all pieces:
    what is unknown is how quick the hand is, not how one piece differs from another.
    """
    if not works:
        return ()
    draw = np.random.default_rng(seed).random((trials, len(STATIONS)))
    factor = triangular(draw, quick_share, slow_share)
    hours = np.array([work.hours for work in works])[None] * factor[:, None, :]
    done, _ = done_hours(hours, order, people)
    due_h = np.array([work.due_h for work in works])
    return tuple(float(share) for share in (done <= due_h + 1e-9).mean(axis=0))


def triangular(share: FloatArray, low: float, high: float) -> FloatArray:
    """Turn shares between 0 and 1 into values of a triangle from low to high with its peak at 1."""
    if high <= low:
        return np.ones_like(share)
    peak = (1 - low) / (high - low)
    up = low + np.sqrt(share * (high - low) * (1 - low))
    down = high - np.sqrt((1 - share) * (high - low) * (high - 1))
    return np.where(share < peak, up, down)


def late_days(done: datetime.date | None, due: datetime.date | None) -> int:
    """Days by which a piece is late; 0 in time or without dates."""
    if done is None or due is None:
        return 0
    return max(0, (done - due).days)
