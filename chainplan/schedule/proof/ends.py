"""The moment before which no schedule ends: by hands, and by the welder with heads and tails."""

from __future__ import annotations

import heapq
from typing import TYPE_CHECKING

import numpy as np

from chainplan.schedule.machinery import WELD

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.schedule.proof.pool import Pool
    from chainplan.schedule.proof.ways import Ways


def all_done_s(ways: Ways, pieces: Sequence[int]) -> float:
    """Return the moment before which no schedule ends the work on all of some pieces.

    Parameters
    ----------
    ways : Ways
        The ways of all pieces.
    pieces : sequence of int
        Which pieces.
    """
    heads = {piece: ways.heads_s(piece) for piece in pieces}
    legs = [(heads[k][at], leg) for k in pieces for at, leg in enumerate(ways.legs[k])]
    found = [0.0, *(_alone_s(ways, piece) for piece in pieces)]
    for doers in sorted({leg.doers for _, leg in legs} | {ways.everybody}, key=sorted):
        own = [(head, leg.work_s) for head, leg in legs if leg.doers <= doers]
        pool = ways.pool(doers)
        found += _by_heads(own, pool, ways.first_s)
    at_welder = [(head, leg) for head, leg in legs if leg.welder_s > 0]
    if at_welder:
        doers = frozenset[int]().union(*(leg.doers for _, leg in at_welder))
        line = ways.line(doers, WELD, ways.welders)
        own = [(head, leg.welder_s) for head, leg in at_welder]
        found += _by_heads(own, line, ways.change_s)
        if ways.welders == 1:
            found.append(_with_tails_s(ways, pieces, heads))
    return max(found)


def _alone_s(ways: Ways, piece: int) -> float:
    legs, heads = ways.legs[piece], ways.heads_s(piece)
    if not legs:
        return 0.0
    return float(ways.through_s(legs[-1], np.array(heads[-1:]))[0])


def _by_heads(own: Sequence[tuple[float, float]], pool: Pool, first_s: float) -> list[float]:
    """Look at what cannot begin before each of the heads, all of it together."""
    if not own:
        return []
    rows = np.array(sorted(own, reverse=True))
    left = np.maximum(np.cumsum(rows[:, 1]) - first_s, 0.0)
    return [float(pool.reach(pool.done(rows[:, 0]) + left).max())]


def _with_tails_s(ways: Ways, pieces: Sequence[int], heads: dict[int, list[float]]) -> float:
    """Let the one welder work with leaving off allowed, always on what has most after it.

    Counted in seconds at which anybody works; so no schedule that may not leave off does better.

    Notes
    -----
    J. R. Jackson, Scheduling a production line to minimize maximum tardiness, Management Science
    Research Project, University of California, Los Angeles 1955; J. Carlier, The one-machine
    sequencing problem, European Journal of Operational Research 11, 1982, pages 42-47.
    """
    line = ways.line(ways.everybody)
    jobs: list[tuple[float, float, float]] = []
    for piece in pieces:
        legs = ways.legs[piece]
        for at, leg in enumerate(legs):
            if leg.welder_s > 0:
                tail = sum(other.quick_s for other in legs[at + 1 :])
                jobs.append((float(line.done(np.array([heads[piece][at]]))[0]), leg.welder_s, tail))
    return float(line.reach(np.array([leaving_off(jobs) - ways.change_s]))[0])


def leaving_off(jobs: Sequence[tuple[float, float, float]]) -> float:
    """Return the end of the best schedule of one machine that may leave off, with heads and tails.

    Parameters
    ----------
    jobs : sequence of triples
        Head, work and tail of each.

    Examples
    --------
    >>> leaving_off([(0, 6, 1), (2, 3, 8)])
    13
    """
    waiting = sorted(jobs)
    ready: list[list[float]] = []  # tail (negative), work left
    at, end, k = 0.0, 0.0, 0
    while k < len(waiting) or ready:
        if not ready:
            at = max(at, waiting[k][0])
        while k < len(waiting) and waiting[k][0] <= at:
            heapq.heappush(ready, [-waiting[k][2], waiting[k][1]])
            k += 1
        until = waiting[k][0] if k < len(waiting) else float("inf")
        tail, left = ready[0]
        if at + left <= until:
            at += left
            heapq.heappop(ready)
            end = max(end, at - tail)
        else:
            ready[0][1] = left - (until - at)
            at = until
    return end
