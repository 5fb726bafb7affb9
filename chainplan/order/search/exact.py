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
from chainplan.order.clock.waits import WAIT_STEP_S, least_wait_s
from chainplan.order.search.descend import descend
from chainplan.order.search.outlook import make_outlook
from chainplan.order.search.rest import make_rest
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.work import HandWork
    from chainplan.order.search.outlook import Outlook
    from chainplan.order.search.rest import Rest
    from chainplan.order.tuning import SearchTuning


_ALIKE_K = 1e-6
"""Two ends of a piece are the same to within rounding."""
_SOONER_S = 1e-9
"""Less is rounding, not time won."""
_FEWEST_LEFT = 2
"""Of a single join left its own limits tell more."""
_ONE_BY_ONE = 4
"""So few joins left are bounded beginning by beginning; more of them in groups."""


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
        Give up being exact after asking this often how long a join has to wait; 0: at once.

    Returns
    -------
    array, bool
        The best order found, and whether every other one has been ruled out: never if the waits
        to be tried leave whole seconds out, since a join might then be ready sooner than reckoned.
    """
    order, best_s = descend(work, modes, known, tuning.most_descents)
    ways = _least_after_s(work)
    for most in (0, most_looks) if most_looks else (0,):
        found, found_s, complete = _grow(work, modes, ways, best_s, most, tuning)
        if found is not None:
            order, best_s = found, found_s
        if found is not None and not complete:
            order, best_s = descend(work, modes, found, tuning.most_descents)
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
    rest = make_rest(outlook, min(tuning.most_left, work.joins))
    _look_ahead(outlook, ways, begun, best_s, tuning.chunk)
    begun.ready_s[0, ~_first_half(work, modes)] = np.inf
    for _ in range(work.joins):
        looked_at += int(np.isfinite(begun.ready_s).sum())
        if most and looked_at > most:
            return None, best_s, False
        begun = _lengthen(begun, outlook, ways, best_s, tuning.chunk)
        least = _look_ahead(outlook, ways, begun, best_s, tuning.chunk)
        if np.isfinite(best_s):  # else nothing is known that all orders are to beat
            _look_at_rest(rest, begun, least, best_s, tuning)
        keep = np.flatnonzero(least < best_s - _SOONER_S)
        keep = keep[np.argsort(least[keep], kind="stable")]
        if most == 0 and keep.size > tuning.first_width:
            keep, complete = _most_promising(begun.done, keep, tuning.first_width), False
        begun = begun.take(keep)
        if begun.done.size == 0:
            return None, best_s, complete
    bench = begun.end_s + work.after_s[begun.order[:, -1]]
    best = int(np.argmin(bench))
    return begun.order[best], float(bench[best]), complete


def _lengthen(
    begun: _Beginnings,
    outlook: Outlook,
    ways: FloatArray,
    best_s: float,
    chunk: int,
) -> _Beginnings:
    """All beginnings one join longer that may still be better.

    Each join is welded at the first whole second of waiting at which every limit allows it; no
    second before it can be ready is asked for.
    """
    work, modes = outlook.work, outlook.modes
    row, column = np.nonzero(begun.ready_s < np.inf)
    join = column.astype(np.int32)
    lag_s = _soonest_s(begun, outlook)[row, join]
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


def _soonest_s(begun: _Beginnings, outlook: Outlook) -> FloatArray:
    """When each join could be next if nothing were warm, counted from the last weld, (b, m)."""
    if not begun.order.shape[1]:
        return np.full((begun.done.size, outlook.work.joins), outlook.work.handle_s)
    soonest_s: FloatArray = outlook.gap_s[begun.order[:, -1]]
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
    soonest_s, bench_s = _soonest_s(begun, outlook), np.empty(begun.done.size)
    after_s = float(work.after_s.min())
    by_end = np.argsort(-begun.end_s, kind="stable")  # alike in how much time is left
    for first in range(0, by_end.size, chunk):
        part = by_end[first : first + chunk]
        room_s = best_s - after_s - float(begun.end_s[part].min())
        ready_s = soonest_s[part]
        if np.isfinite(best_s):  # else nothing is known that all orders are to beat
            ready_s = outlook.ready_s(begun.state[part], left[part], ready_s, room_s)
        ready_s = ready_s + begun.end_s[part, None]
        rest = ((1 << joins) - 1) ^ (begun.done[part, None] | (np.int64(1) << every))
        in_time = ready_s + ways[rest, every] < best_s - _SOONER_S
        begun.ready_s[part] = np.where(in_time & left[part], ready_s, np.inf)
        one_by_one = -np.sort(-np.where(left[part], ready_s, -np.inf), axis=1)
        one_by_one += every * outlook.each_s
        last_s = begun.end_s[part] + left[part].sum(axis=1) * outlook.each_s
        bench_s[part] = np.maximum(one_by_one.max(axis=1), last_s) + after_s
    return bench_s


def _look_at_rest(
    rest: Rest, begun: _Beginnings, least_s: FloatArray, best_s: float, tuning: SearchTuning
) -> None:
    """Raise the least bench time of each beginning by all that is left of it (in place).

    First all beginnings with the same joins behind them are bounded together, then those that
    may still be better in groups, the smaller the fewer joins are left.
    """
    count = rest.outlook.work.joins - begun.order.shape[1]
    if not _FEWEST_LEFT <= count <= rest.most_left:
        return
    most = max(1, tuning.grouped ** (count - _ONE_BY_ONE))
    at_once = tuning.groups << (rest.most_left - count)
    for size in (begun.done.size, most) if most > 1 else (most,):
        keep = np.flatnonzero(least_s < best_s - _SOONER_S)
        keep = keep[np.lexsort((*begun.order[keep, -2:].T, begun.done[keep]))]
        fresh = np.diff(begun.done[keep], prepend=-1) != 0
        place = np.arange(keep.size)
        place -= np.maximum.accumulate(np.where(fresh, place, 0))
        cuts = [*np.flatnonzero(place % size == 0).tolist(), keep.size]
        for first in range(0, len(cuts) - 1, at_once):
            some = np.asarray(cuts[first : first + at_once + 1])
            rows, begin = keep[some[0] : some[-1]], some[:-1] - some[0]
            last_s = _groups_last_s(rest, begun, rows, begin, best_s)
            bench_s = begun.end_s[rows] + np.repeat(last_s, np.diff(some))
            bench_s += rest.outlook.work.after_s.min()
            least_s[rows] = np.maximum(least_s[rows], bench_s)


def _groups_last_s(
    rest: Rest, begun: _Beginnings, rows: npt.NDArray[np.int64], begin: IntArray, best_s: float
) -> FloatArray:
    """Soonest last pulse of each group of some beginnings, counted from the last weld. [s].

    ``begin``: where each group begins in ``rows``.
    """
    outlook, work = rest.outlook, rest.outlook.work
    room_s = best_s - float(begun.end_s[rows].min())
    end = min(max(int(np.ceil(room_s / outlook.step_s)), 1), outlook.bend.shape[2])
    least_k = outlook.least_k(begun.state[rows], end, rest.corner)
    least_k = np.minimum.reduceat(least_k, begin, axis=0)
    soonest_s = np.minimum.reduceat(_soonest_s(begun, outlook)[rows], begin, axis=0)
    is_left = (begun.done[rows[begin], None] >> np.arange(work.joins)) & 1 == 0
    left = np.nonzero(is_left)[1].reshape(begin.size, -1).astype(np.int32)
    return rest.last_s(least_k, left, np.take_along_axis(soonest_s, left, axis=1))


def _most_promising(
    done: npt.NDArray[np.int64], ranked: npt.NDArray[np.int64], most: int
) -> npt.NDArray[np.int64]:
    """Keep the best beginning of each set of joins, the best sets first; if few, further ones."""
    first = np.zeros(ranked.size, dtype=bool)
    first[np.unique(done[ranked], return_index=True)[1]] = True
    return np.concatenate([ranked[first], ranked[~first]])[:most]


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
