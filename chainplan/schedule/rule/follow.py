"""Work by a timetable: everybody does what it gives them, in its order, by the rules of the bench.

The rules are those of the dispatch rule, which this is but for the choice of what comes next; so
what is welded in turns, set up or waited for is the same in both.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.schedule.machinery import kind_of
from chainplan.schedule.rule.dispatch import Dispatch
from chainplan.schedule.rule.stations import STATIONS, Item

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.machinery import Stand
    from chainplan.schedule.rule.stations import Laid
    from chainplan.schedule.shop import Shop, Worker

_Key = tuple[int, str, int, int]


@frozen
class Line:
    """One line of a timetable: who does what next."""

    piece: int
    station: str
    first: int  # copy
    part: int
    worker: int

    @property
    def key(self) -> _Key:
        """What is done."""
        return self.piece, self.station, self.first, self.part


class Follow(Dispatch):
    """One run of a timetable, whose lines stand in an order in which they can be done."""

    def __init__(self, works: Sequence[PieceWork], shop: Shop, lines: Sequence[Line]) -> None:
        self.own: dict[str, deque[_Key]] = {worker.label: deque() for worker in shop.workers}
        self.at: dict[str, deque[_Key]] = {place.kind: deque() for place in shop.places}
        self.by: dict[_Key, str] = {}
        self.begun: set[_Key] = set()
        self.offered: list[Item] = []
        for line in lines:
            label = shop.workers[line.worker].label
            self.own[label].append(line.key)
            self.by[line.key] = label
            if kind_of(line.station) in self.at:
                self.at[kind_of(line.station)].append(line.key)
        super().__init__(works, shop, range(len(works)))

    def _next(self, line: deque[_Key]) -> _Key | None:
        while line and line[0] in self.begun:
            line.popleft()
        return line[0] if line else None

    def _choose(self, worker: Worker, now: int) -> tuple[Item, Stand | None] | None:
        """Take what the timetable has next for this person, if it is ready and its turn."""
        key = self._next(self.own[worker.label])
        if key is None:
            return None
        kind = kind_of(key[1])
        if kind in self.at and self._next(self.at[kind]) != key:
            return None
        for item in self.ready[key[1]]:
            if _key(item) == key:
                found = self._first([item], key[1], worker, now)
                if found is None:
                    return None
                self._take(item)
                self.begun.add(key)
                return found
        return None

    def _beside(self, item: Item, stand: Stand) -> list[Item]:
        """Weld in turns only what the same person would weld later."""
        mine = self.by[_key(item)]
        self.offered = [one for one in super()._beside(item, stand) if self.by[_key(one)] == mine]
        return self.offered

    def _weld(self, item: Item, stand: Stand, worker: Worker, now: int) -> int:
        self.offered = []
        free = super()._weld(item, stand, worker, now)
        left = {_key(one) for one in self.ready["weld"]}
        self.begun.update(_key(one) for one in self.offered if _key(one) not in left)
        return free


def _key(item: Item) -> _Key:
    return item.piece, STATIONS[item.station], item.first, item.part


def lines_of(laid: Laid, shop: Shop) -> Iterator[tuple[Line, int]]:
    """Tell what was laid as lines of a timetable, each with its start; stints of a copy as one."""
    number = {worker.label: k for k, worker in enumerate(shop.workers)}
    told = set()
    for item, station, person, _, (start_s, _, _), _, _ in sorted(laid.rows, key=lambda r: r[4][0]):
        line = Line(
            piece=item.piece, station=station, first=item.first, part=item.part,
            worker=number.get(person, -1),
        )  # fmt: skip
        if person and station not in ("set up", "rework") and line.key not in told:
            told.add(line.key)
            yield line, start_s
