"""The best order of a few joins: all that could be better than the best known, looked at.

Beginnings of orders grow side by side by one join at a time, each join welded as soon as all limits
allow it, the fingers' too. A beginning is left out if what is still to come cannot end before the
best known order: the hand needs at least the shortest way through the joins left (exact, by going
through all sets of joins); no join left can be welded before the heat that is already in the piece
lets it, nor two at once; and the last of them finds the heat of all the others (``outlook``).

If the piece looks the same from its other end, only orders that begin in one half are looked at.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.clock.follow import time_by_modes
from chainplan.order.clock.waits import WAIT_STEP_S, least_wait_s
from chainplan.order.search.outlook import make_outlook
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.work import HandWork
    from chainplan.order.search.outlook import Outlook
    from chainplan.order.tuning import SearchTuning


_ALIKE_K = 1e-6
"""Two ends of a piece are the same to within rounding."""
_SOONER_S = 1e-9
"""Less is rounding, not time won."""


@frozen
class _Beginnings:
    """Beginnings of one length."""

    order: IntArray  # (b, length)
    done: npt.NDArray[np.int64]  # (b,) joins done, one bit each
    end_s: FloatArray  # (b,) when the last join was welded
    state: FloatArray  # (b, corners, modes)
    ready_s: FloatArray  # (b, m) no join left can be next any sooner; inf: too late, or done

    def take(self, rows: npt.NDArray[np.int64]) -> _Beginnings:
        return _Beginnings(
            order=self.order[rows],
            done=self.done[rows],
            end_s=self.end_s[rows],
            state=self.state[rows],
            ready_s=self.ready_s[rows],
        )


def find_best_of_all(
    work: HandWork,
    modes: Follower,
    known: IntArray,
    *,
    most_looks: int,
    tuning: SearchTuning = USUAL.search,
) -> tuple[IntArray, bool]:
    """Find the order with the least bench time, each join welded as soon as the limits allow.

    Parameters
    ----------
    work, modes
        Joins and limits.
    known : array, shape (m,)
        A good order to beat.
    most_looks : int
        Give up being exact after asking this often how long a join has to wait.

    Returns
    -------
    array, bool
        The best order found, and whether every other one has been ruled out: never if the waits
        to be tried leave whole seconds out, since a join might then be ready sooner than reckoned.
    """
    timed = time_by_modes(modes, work, known)
    best_s = float(timed.bench_s[0]) if timed.feasible[0] else np.inf
    order, ways = known, _least_after_s(work)
    for most in (0, most_looks):
        found, found_s, complete = _grow(work, modes, ways, best_s, most, tuning)
        if found is not None:
            order, best_s = found, found_s
        if complete:
            every_second = bool((np.diff(modes.wait_s, prepend=0.0) <= WAIT_STEP_S).all())
            return order.astype(np.int32), bool(np.isfinite(best_s)) and every_second
    return order.astype(np.int32), False


def shortest_ways_s(work: HandWork) -> FloatArray:
    """Shortest way of the hand through every set of joins from every join outside it. [s].

    Returns
    -------
    array, shape (2^m, m)
        Row: the set, one bit a join. Column: where the hand is.
    """
    joins = work.joins
    every = np.arange(joins, dtype=np.int32)
    step = work.step_s(every[:, None], every[None, :])
    ways = np.full((1 << joins, joins), np.inf)
    ways[0] = 0.0
    sets = np.arange(1 << joins)
    size = np.asarray([int(number).bit_count() for number in sets])
    for count in range(1, joins + 1):
        some = sets[size == count]
        for first in range(joins):
            with_first = some[(some >> first) & 1 == 1]
            rest = with_first ^ (1 << first)
            way = step[None, :, first] + ways[rest, first][:, None]
            ways[with_first] = np.minimum(ways[with_first], way)
    return ways


def _grow(
    work: HandWork,
    modes: Follower,
    ways: FloatArray,
    best_s: float,
    most: int,
    tuning: SearchTuning,
) -> tuple[IntArray | None, float, bool]:
    """Grow all beginnings, giving up after ``most``: the best order, its time, if complete.

    ``most`` = 0: go on with a few of the best beginnings of each length.
    """
    complete, looked_at = True, 0
    begun = _Beginnings(
        order=np.zeros((1, 0), dtype=np.int32),
        done=np.zeros(1, dtype=np.int64),
        end_s=np.zeros(1),
        state=modes.cold(1),
        ready_s=np.full((1, work.joins), np.inf),
    )
    outlook = make_outlook(work, modes, best_s if np.isfinite(best_s) else 0.0)
    _look_ahead(outlook, ways, begun, best_s, tuning.chunk)
    begun.ready_s[0, ~_first_half(work, modes)] = np.inf
    for _ in range(work.joins):
        looked_at += int(np.isfinite(begun.ready_s).sum())
        if most and looked_at > most:
            return None, best_s, False
        begun = _lengthen(begun, work, modes, ways, best_s, tuning.chunk)
        least = _look_ahead(outlook, ways, begun, best_s, tuning.chunk)
        keep = np.flatnonzero(least < best_s - _SOONER_S)
        keep = keep[np.argsort(least[keep], kind="stable")]
        if most == 0 and keep.size > tuning.first_width:
            keep, complete = keep[: tuning.first_width], False
        begun = begun.take(keep)
        if begun.done.size == 0:
            return None, best_s, complete
    bench = begun.end_s + work.after_s[begun.order[:, -1]]
    best = int(np.argmin(bench))
    return begun.order[best], float(bench[best]), complete


def _lengthen(
    begun: _Beginnings,
    work: HandWork,
    modes: Follower,
    ways: FloatArray,
    best_s: float,
    chunk: int,
) -> _Beginnings:
    """All beginnings one join longer that may still be better.

    Each join is welded at the first whole second of waiting at which every limit allows it; no
    second before it can be ready is asked for.
    """
    row, column = np.nonzero(begun.ready_s < np.inf)
    join = column.astype(np.int32)
    lag_s = _soonest_s(begun, work)[row, join]
    skipped_s = np.floor((begun.ready_s[row, join] - begun.end_s[row] - lag_s) / WAIT_STEP_S)
    lag_s = lag_s + np.maximum(skipped_s, 0.0) * WAIT_STEP_S
    rest = ((1 << work.joins) - 1) ^ (begun.done[row] | (np.int64(1) << join))
    room_s = best_s - _SOONER_S - begun.end_s[row] - lag_s - ways[rest, join]
    wait_s = np.full(row.shape[0], np.inf)
    some = np.flatnonzero(room_s > 0)
    for first in range(0, some.shape[0], chunk):
        part = some[first : first + chunk]
        state = begun.state[row[part]]
        wait_s[part] = least_wait_s(modes, state, join[part], lag_s[part], room_s[part])
    kept = np.flatnonzero(wait_s < room_s)
    row, join, lag_s = row[kept], join[kept], (lag_s + wait_s)[kept]
    return _Beginnings(
        order=np.concatenate([begun.order[row], join[:, None]], axis=1),
        done=begun.done[row] | (np.int64(1) << join),
        end_s=begun.end_s[row] + lag_s,
        state=_fade_alike(modes, begun.state[row], lag_s) + modes.weld[join],
        ready_s=np.full((row.shape[0], work.joins), np.inf),
    )


def _soonest_s(begun: _Beginnings, work: HandWork) -> FloatArray:
    """When each join could be next if nothing were warm, counted from the last weld, (b, m)."""
    every = np.arange(work.joins, dtype=np.int32)
    if not begun.order.shape[1]:
        return np.full((begun.done.size, work.joins), work.handle_s)
    last = begun.order[:, -1:]
    soonest_s: FloatArray = work.handle_s + work.after_s[last] + work.step_s(last, every)
    return soonest_s


def _fade_alike(modes: Follower, state: FloatArray, lag_s: FloatArray) -> FloatArray:
    """States some time later, where many rows share few times: whole waits and a few ways."""
    lags, which = np.unique(lag_s, return_inverse=True)
    state *= modes.fading(lags)[which]
    return state


def _look_ahead(
    outlook: Outlook, ways: FloatArray, begun: _Beginnings, best_s: float, chunk: int
) -> FloatArray:
    """Fill in when each join left can be next at the soonest; return the least bench time. [s].

    A join that could only be next too late for the best known time is not taken next. The k joins
    that are ready last are welded one after another, the first of them not before it is ready.
    """
    work, joins = outlook.work, outlook.work.joins
    if begun.order.shape[1] == joins:
        return begun.end_s + work.after_s[begun.order[:, -1]]
    every = np.arange(joins)
    left = (begun.done[:, None] >> every) & 1 == 0
    soonest_s, bench_s = _soonest_s(begun, work), np.empty(begun.done.size)
    after_s = float(work.after_s.min())
    by_end = np.argsort(-begun.end_s, kind="stable")  # alike in how much time is left
    for first in range(0, by_end.size, chunk):
        part = by_end[first : first + chunk]
        room_s = best_s - after_s - float(begun.end_s[part].min())
        found = soonest_s[part], left[part].sum(axis=1) * outlook.each_s
        if np.isfinite(best_s):  # else nothing is known that all orders are to beat
            found = outlook.look(begun.state[part], left[part], soonest_s[part], room_s)
        ready_s, last_s = found[0] + begun.end_s[part, None], found[1] + begun.end_s[part]
        rest = ((1 << joins) - 1) ^ (begun.done[part, None] | (np.int64(1) << every))
        in_time = ready_s + ways[rest, every] < best_s - _SOONER_S
        begun.ready_s[part] = np.where(in_time & left[part], ready_s, np.inf)
        one_by_one = -np.sort(-np.where(left[part], ready_s, -np.inf), axis=1)
        one_by_one += every * outlook.each_s
        bench_s[part] = np.maximum(one_by_one.max(axis=1), last_s) + after_s
    return bench_s


def _least_after_s(work: HandWork) -> FloatArray:
    """Least time from each join's pulse to the end of every set: hits, way and handling. [s].

    Row and column as of ``shortest_ways_s``.
    """
    each = work.handle_s + work.after_s
    inside = (np.arange(1 << work.joins)[:, None] >> np.arange(work.joins)) & 1
    total: FloatArray = (inside @ each)[:, None] + shortest_ways_s(work) + work.after_s
    return total


def _first_half(work: HandWork, modes: Follower) -> BoolArray:
    """Tell which joins to begin with: half of them if the piece is the same from its other end."""
    joins = work.joins
    every = np.arange(joins, dtype=np.int32)
    step = work.step_s(every[:, None], every[None, :])
    alike = modes.fingers is None and modes.part_k.size == 0
    alike &= np.allclose(step, step[::-1, ::-1], atol=_SOONER_S)
    alike &= np.allclose(work.after_s, work.after_s[::-1], atol=_SOONER_S)
    alike &= np.allclose(modes.join_k, modes.join_k[:, ::-1], atol=_ALIKE_K)
    for lag_s in (0.0, 5.0, 20.0, 80.0):
        rise = modes.rise_k(modes.fade(modes.weld, np.full(joins, lag_s)))[:, :, work.ring]
        alike &= np.allclose(rise, rise[::-1, :, ::-1], atol=_ALIKE_K)
    half: BoolArray = every < (joins + 1) // 2 if alike else every >= 0
    return half
