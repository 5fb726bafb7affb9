"""A visit to the welder: which copies are welded in turns while others cool, and in what order."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.shop import Worker

MOST_ON_BENCH = 4
"""Copies that are welded in turns. Judgement: more lie in each other's way and are mixed up."""
WORTH_S = 60
"""Seconds that turns have to save over one copy after another. Judgement: a minute."""


@frozen
class Stretch:
    """One stint of one of the copies, in seconds of work from the start of welding."""

    lot: int  # place in the sequence that was given
    stint: int
    start_s: int
    end_s: int


def in_one_go_s(work: PieceWork, worker: Worker, copies: int, change_s: float) -> int:
    """Seconds for some copies one after another, each in one go."""
    stints = work.stints
    each_s = worker.welds_s(float(stints.seconds.sum()) + work.weld_extra_s)
    each_s += round(float(stints.rest_s.sum()))
    return copies * each_s + (copies - 1) * round(change_s)


@frozen
class Changes:
    """Seconds from one copy to another."""

    piece_s: float  # put one down and take up the other
    setting_s: float  # the same where the welder has to be set anew

    def between_s(self, one: PieceWork, other: PieceWork) -> int:
        """Return the seconds from a copy to another."""
        return round(self.piece_s if one.settings == other.settings else self.setting_s)

    def one_by_one_s(self, works: Sequence[PieceWork]) -> int:
        """Return the seconds between copies that are welded one after another."""
        return sum(self.between_s(one, two) for one, two in itertools.pairwise(works))


def in_turns(
    works: Sequence[PieceWork], worker: Worker, changes: Changes
) -> tuple[list[Stretch], int]:
    """Weld single copies in turns: always the one that is ready and has most left to do.

    Parameters
    ----------
    works : sequence of PieceWork
        One entry a copy.
    worker : Worker
        Who welds.
    changes : Changes
        Seconds from one copy to another.

    Returns
    -------
    tuple of list and int
        The stints in the order of time, and the seconds that all of it takes.
    """
    lasts = [[worker.welds_s(float(s)) for s in work.stints.seconds] for work in works]
    for own, work in zip(lasts, works, strict=True):
        own[-1] += worker.welds_s(work.weld_extra_s)
    rests = [[round(float(s)) for s in work.stints.rest_s] for work in works]
    left = [sum(a) + sum(b) for a, b in zip(lasts, rests, strict=True)]
    place, ready = [0] * len(works), [0] * len(works)
    now, last = 0, -1
    found: list[Stretch] = []
    while any(at < len(own) for at, own in zip(place, lasts, strict=True)):
        pick, begin = -1, 0
        for k, own in enumerate(lasts):
            if place[k] == len(own):
                continue
            change = 0 if last in (k, -1) else changes.between_s(works[last], works[k])
            at = max(ready[k], now + change)
            if pick < 0 or (at, -left[k]) < (begin, -left[pick]):
                pick, begin = k, at
        stint = place[pick]
        now, last = begin + lasts[pick][stint], pick
        found.append(Stretch(lot=pick, stint=stint, start_s=begin, end_s=now))
        left[pick] -= lasts[pick][stint]
        place[pick] += 1
        if place[pick] < len(lasts[pick]):
            ready[pick] = now + rests[pick][place[pick]]
            left[pick] -= rests[pick][place[pick]]
    return found, now
