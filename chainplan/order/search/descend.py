"""Downhill to an order that no single move makes quicker: all moves of a few joins looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.clock.follow import time_by_modes

if TYPE_CHECKING:
    from chainplan.arrays import IntArray
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.work import HandWork


_SOONER_S = 1e-9
"""Less is rounding, not time won."""


def list_moves(joins: int) -> IntArray:
    """List every way to swap two steps, to move one, or to turn a stretch round, each one once.

    Returns
    -------
    array, shape (moves, joins)
        Which step comes where.
    """
    steps = np.arange(joins, dtype=np.int32)
    moved = [steps]
    for first in range(joins):
        rest = np.delete(steps, first)
        for second in range(joins):
            moved.append(np.insert(rest, second, first))
            if first < second:
                swapped, turned = steps.copy(), steps.copy()
                swapped[[first, second]] = second, first
                turned[first : second + 1] = steps[first : second + 1][::-1]
                moved += [swapped, turned]
    every: IntArray = np.unique(np.asarray(moved, dtype=np.int32), axis=0)[1:]
    return every


def descend(
    work: HandWork, modes: Follower, order: IntArray, most_rounds: int
) -> tuple[IntArray, float]:
    """Take the best of all moves until none helps: the order and its bench time, inf: none. [s]."""
    timed = time_by_modes(modes, work, order)
    best_s = float(timed.bench_s[0]) if timed.feasible[0] else np.inf
    moves = list_moves(work.joins)
    for _ in range(most_rounds):
        tries = order[moves]
        timed = time_by_modes(modes, work, tries, most_s=best_s - _SOONER_S)
        bench_s = np.where(timed.feasible, timed.bench_s, np.inf)
        first = int(bench_s.argmin())
        if not bench_s[first] < best_s - _SOONER_S:
            break
        order, best_s = tries[first], float(bench_s[first])
    return order, best_s
