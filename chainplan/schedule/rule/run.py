"""One run of the rule: what is ready or will be, what is laid, and what follows on what."""

from __future__ import annotations

import heapq
from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import ASSAY, JOINED, LAST_FITTING
from chainplan.schedule.machinery import WELD, stands_of
from chainplan.schedule.rule.stations import STATIONS, Item, Laid, lots_of, needed, parts_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.machinery import Stand
    from chainplan.schedule.shop import Shop


class Run:
    """The state of a run."""

    def __init__(self, works: Sequence[PieceWork], shop: Shop, ranking: Sequence[int]) -> None:
        self.works, self.shop = works, shop
        self.rank = {piece: place for place, piece in enumerate(ranking)}
        self.lots = lots_of(works)
        self.ready: dict[str, list[Item]] = {station: [] for station in STATIONS}
        self.future: list[tuple[int, Item]] = []
        self.stands = stands_of(shop.places)
        self.set_up: set[int] = set()  # pieces for which a welder is set up
        self.sessions = 0
        self.laid = Laid(done_s=[0] * len(works), ready_s=[0] * len(works))
        self.left = 0
        self.lots_left = [len(own) for own in self.lots]
        self.parts_left: dict[tuple[int, int], int] = {}
        self.woven_s: dict[tuple[int, int], int] = {}  # end of the sections woven so far
        self.in_parts = sum(worker.can("weave") for worker in shop.workers) > 1
        for piece, work in enumerate(works):
            self._follow(piece, 1, work.copies, 0, 0)

    def _woven_part(self, item: Item, at_s: int) -> None:
        """Let the sections of a copy be joined when the last of them is woven."""
        key = item.piece, item.first
        self.parts_left[key] -= 1
        woven_s = self.woven_s[key] = max(self.woven_s.get(key, 0), at_s)
        if not self.parts_left[key]:
            heapq.heappush(self.future, (woven_s, replace(item, part=JOINED)))
            self.left += 1

    def _follow(self, piece: int, first: int, copies: int, station: int, at_s: int) -> None:
        """Put what comes next on the list of what will be ready."""
        work = self.works[piece]
        while station < len(STATIONS):
            name = STATIONS[station]
            if name == "pre-close" and copies == work.copies and len(self.lots[piece]) > 1:
                for lot in self.lots[piece]:
                    self._follow(piece, *lot, station, at_s)
                return
            if name == LAST_FITTING and work.hallmark_days:
                back_s = self._assayed(piece, at_s)
                if back_s is None:
                    return
                at_s, first, copies = back_s, 1, work.copies
            if needed(work, name):
                ready = max(at_s, self.shop.material_s(work, name))
                item = Item(self.rank[piece], station, first, piece, copies)
                parts = parts_of(work, name, copies) if self.in_parts else ()
                self.parts_left[piece, first] = len(parts)
                for part in parts or (0,):
                    heapq.heappush(self.future, (ready, replace(item, part=part)))
                    self.left += 1
                return
            station += 1
        laid = self.laid
        laid.ready_s[piece] = max(laid.ready_s[piece], at_s)
        if not work.hallmark_days:
            laid.done_s[piece] = laid.ready_s[piece]

    def _assayed(self, piece: int, at_s: int) -> int | None:
        """Return when a piece is back from the assay, all copies together; None if one lacks."""
        laid, work = self.laid, self.works[piece]
        laid.done_s[piece] = max(laid.done_s[piece], at_s)
        self.lots_left[piece] -= 1
        if self.lots_left[piece] > 0:
            return None
        begins_s = laid.done_s[piece]
        back_s = self.shop.assayed_s(begins_s, work.hallmark_days)
        if back_s > begins_s:
            item = Item(self.rank[piece], 0, 1, piece, work.copies)
            self._add(item, ASSAY, "", None, (begins_s, back_s, 0))
        return back_s

    def _add(
        self,
        item: Item,
        station: str,
        person: str,
        stand: Stand | None,
        span: tuple[int, int, int],
        run: tuple[int, int] = (0, 0),
    ) -> None:
        machine = "" if stand is None else stand.place.label
        session = self.sessions if stand is not None and stand.place.kind == WELD else 0
        self.laid.rows.append((item, station, person, machine, span, run, session))
