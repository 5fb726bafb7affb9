"""The least weighted days late of all pieces together, by what hands can do until each evening."""

from __future__ import annotations

import datetime
import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.schedule import SHARED_STATIONS
from chainplan.schedule.hours import DAY_S
from chainplan.schedule.machinery import WELD
from chainplan.schedule.workdays import weekdays_after

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.proof.pool import Pool
    from chainplan.schedule.proof.ways import Leg, Ways

STEPS = 1000
"""Steps in which the price of each day's hours is found. Measured: of 300 pieces more than nine
tenths of what a thousand steps prove."""
MOST_CELLS = 4_000_000
"""Parts of pieces times days that are looked at."""


def least_late_days(ways: Ways, *, known: float, end_s: float) -> float:
    """Return weighted days late that no schedule has fewer of.

    Every second of the work on a piece bears its share of the piece's lateness, had the piece been
    done as soon as that second allows; days have so many hours, and each second takes the cheapest
    of them. The hours are given prices, and whatever they are, the sum is a bound.

    Parameters
    ----------
    ways : Ways
        The ways of all pieces.
    known : float
        Weighted days late of a schedule that is known.
    end_s : float
        Its end.

    Notes
    -----
    L. Gelders, P. R. Kleindorfer, Coordinating aggregate and detailed scheduling decisions in the
    one-machine job shop: part I, Operations Research 22, 1974, pages 46-60, with the work allowed
    to be left off; prices by subgradients: M. Held, P. Wolfe, H. P. Crowder, Validation of
    subgradient optimization, Mathematical Programming 6, 1974, pages 62-88.
    """
    works, shop = ways.works, ways.shop
    dated = [k for k, work in enumerate(works) if work.due is not None]
    if shop.start is None or not dated or known <= 0:
        return 0.0
    days = int(end_s) // DAY_S + 2
    if 3 * len(dated) * days > MOST_CELLS:
        return 0.0
    parts = [part for k in dated for part in _parts(ways, k, days)]
    found = [0.0]
    for pool, share in _pools(ways, parts):
        found.append(_least(parts, pool, share, known=known, days=days, first_s=ways.first_s))
    weights = {work.late_weight for work in works if work.due is not None}
    least = max(found)
    return math.ceil(least - 1e-6) if all(float(w).is_integer() for w in weights) else least


class _Part:
    """Some legs of a piece one after another, and what the piece costs if they fall on a day."""

    def __init__(self, piece: int, legs: Sequence[Leg], head_day: int, cost: FloatArray) -> None:
        self.piece, self.legs, self.head_day, self.cost = piece, legs, head_day, cost


def _parts(ways: Ways, piece: int, days: int) -> Iterator[_Part]:
    """Cut the way of a piece before the weaving and before the welder."""
    work, legs = ways.works[piece], ways.legs[piece]
    heads = ways.heads_s(piece)
    late = _late_by_day(work, ways, days)
    alone_s = ways.done_s(piece, 0, np.zeros(1))
    least = late[_day_of(alone_s, days)[0]]
    cuts = sorted({0, *(_first(legs, names) for names in (SHARED_STATIONS, _BEFORE)), len(legs)})
    mornings = np.arange(days, dtype=float) * DAY_S
    for first, after in itertools.pairwise(cuts):
        done = ways.done_s(piece, after, mornings)
        cost = np.maximum(late[_day_of(done, days)], least)
        yield _Part(piece, legs[first:after], int(heads[first]) // DAY_S, cost)


_BEFORE = (*SHARED_STATIONS, "pre-close", "weave", "fitting")


def _first(legs: Sequence[Leg], names: Sequence[str]) -> int:
    """Return the place of the first leg behind some stations."""
    known = [at for at, leg in enumerate(legs) if leg.station in names]
    return known[-1] + 1 if known else 0


def _day_of(moment_s: FloatArray, days: int) -> IntArray:
    day = np.ceil(moment_s / DAY_S - 1e-9).astype(np.int32) - 1
    return np.clip(day, 0, days - 1)


def _late_by_day(work: PieceWork, ways: Ways, days: int) -> FloatArray:
    """Weighted days late if the work ends on each day."""
    start, due = ways.shop.start, work.due
    if start is None or due is None:
        return np.zeros(days)
    back = [
        weekdays_after(start + datetime.timedelta(days=k), work.hallmark_days) for k in range(days)
    ]
    return work.late_weight * np.array([max((day - due).days, 0) for day in back], dtype=float)


def _pools(ways: Ways, parts: Sequence[_Part]) -> Iterator[tuple[Pool, Callable[[Leg], float]]]:
    """List who and what the work is shared among: all people, those of some stations, welders."""
    legs = [leg for part in parts for leg in part.legs]
    for doers in sorted({leg.doers for leg in legs} | {ways.everybody}, key=sorted):
        yield (
            ways.pool(doers),
            lambda leg, doers=doers: leg.work_s if leg.doers <= doers else 0.0,  # type: ignore[misc]
        )
    at_welder = [leg.doers for leg in legs if leg.welder_s > 0]
    if at_welder:
        yield (
            ways.line(frozenset[int]().union(*at_welder), WELD, ways.welders),
            lambda leg: leg.welder_s,
        )


def _least(
    parts: Sequence[_Part],
    pool: Pool,
    share: Callable[[Leg], float],
    *,
    known: float,
    days: int,
    first_s: float,
) -> float:
    """Find prices of the days' hours, and what the work costs at them."""
    work = np.array([sum(share(leg) for leg in part.legs) for part in parts])
    own = np.flatnonzero(work > 0)
    parts, work = [parts[k] for k in own.tolist()], work[own]
    if not parts:
        return 0.0
    of_piece: dict[int, float] = {}
    for part, amount in zip(parts, work.tolist(), strict=True):
        of_piece[part.piece] = of_piece.get(part.piece, 0.0) + amount
    cost = np.array([part.cost / of_piece[part.piece] for part in parts])
    head = np.array([part.head_day for part in parts])
    cost[np.arange(days)[None, :] < np.minimum(head, days - 1)[:, None]] = np.inf
    evenings = np.arange(days + 1, dtype=float) * DAY_S
    room = np.diff(pool.done(evenings))
    room[0] += first_s
    room[-1] = work.sum()  # the last day stands for all that follow
    price, best, step, since = np.zeros(days), 0.0, 1.0, 0
    for _ in range(STEPS):
        at = (cost + price).argmin(axis=1)
        asked = np.bincount(at, weights=work, minlength=days)
        spent = float(work @ (cost[np.arange(len(parts)), at] + price[at]) - room @ price)
        since = 0 if spent > best + 1e-9 else since + 1
        best = max(best, spent)
        if since > 10:
            step, since = step / 2, 0
        over = asked - room
        over[(over < 0) & (price <= 0)] = 0.0
        length = float(over @ over)
        if length <= 0 or best >= known - 1e-9:
            break
        price = np.maximum(price + step * max(known - spent, 1e-3) / length * over, 0.0)
    return best
