"""The dispatch rule: who is free takes the next thing that is ready, by a ranking of the pieces.

Stations of a copy follow one another; its rings are made with those of the other copies. Whoever
is free takes, of all that is ready and that he or she does, the piece that ranks highest, of it the
earliest station and then the lowest copy. So all copies lie woven before one person begins to weld.
At the welder one setting goes on as long as woven pieces ask for it and no date would be missed.
The ranking is what is searched for: ``chainplan.schedule.search``.
"""

from __future__ import annotations

import heapq
from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import (
    ASSAY,
    JOINED,
    LAST_FITTING,
    SHARED_STATIONS,
    TUMBLER,
    TUMBLING,
    WELDER,
)
from chainplan.schedule.stations import (
    AT_THE_WELDER,
    STATIONS,
    Item,
    Laid,
    lots_of,
    needed,
    parts_of,
    usual_s,
)
from chainplan.schedule.welding import MOST_ON_BENCH, WORTH_S, in_one_go_s, in_turns
from chainplan.schedule.workdays import weekdays_before

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.shop import Shop, Worker


class StuckError(Exception):
    """Nobody can do anything, and nothing is to come: the order asked for cannot be worked."""


class Dispatch:
    """One run of the rule."""

    def __init__(self, works: Sequence[PieceWork], shop: Shop, ranking: Sequence[int]) -> None:
        self.works, self.shop = works, shop
        self.rank = {piece: place for place, piece in enumerate(ranking)}
        self.lots = lots_of(works)
        self.ready: dict[str, list[Item]] = {station: [] for station in STATIONS}
        self.future: list[tuple[int, Item]] = []
        self.free_s = {WELDER: 0, TUMBLER: 0}
        self.set_up: set[int] = set()
        self.last_lot = (-1, -1)
        self.sessions = 0
        self.laid = Laid(done_s=[0] * len(works), ready_s=[0] * len(works))
        self.left = 0
        self.lots_left = [len(own) for own in self.lots]
        self.parts_left: dict[tuple[int, int], int] = {}
        self.woven_s: dict[tuple[int, int], int] = {}  # end of the sections woven so far
        self.in_parts = sum(worker.can("weave") for worker in shop.workers) > 1
        for piece, work in enumerate(works):
            self._follow(piece, 1, work.copies, 0, 0)

    def run(self) -> Laid:
        """Let everybody work until all is done; every station needs somebody who does it."""
        workers = self.shop.workers
        people = [(worker.hours.next_s(0), k) for k, worker in enumerate(workers)]
        heapq.heapify(people)
        idle = 0
        while self.left:
            now, who = heapq.heappop(people)
            worker = workers[who]
            while self.future and self.future[0][0] <= now:
                item = heapq.heappop(self.future)[1]
                heapq.heappush(self.ready[STATIONS[item.station]], item)
            item_or_none = self._choose(worker, now)
            if item_or_none is not None:
                free, idle = self._do(item_or_none, worker, now), 0
            else:
                waits = [at for at, _ in people if at > now]
                waits += [at for at in self.free_s.values() if at > now]
                waits += [self.future[0][0]] if self.future else []
                idle = 0 if waits else idle + 1
                if idle > 2 * len(workers):
                    raise StuckError
                free = min(waits, default=now + 1)
            heapq.heappush(people, (worker.hours.next_s(free), who))
        return self.laid

    def _choose(self, worker: Worker, now: int) -> Item | None:
        """Take the highest ranking item that this person can do now off its list."""
        best = None
        for station, items in self.ready.items():
            if not items or not worker.can(station):
                continue
            if station in AT_THE_WELDER and self.free_s[WELDER] > now:
                continue
            if station == "tumble" and self.free_s[TUMBLER] > now:
                continue
            if best is None or items[0] < best:
                best = items[0]
        if best is None:
            return None
        if STATIONS[best.station] == "weld" and self._setting(best) != self.laid.setting:
            best = self._same_setting(self.ready["weld"], worker, now) or best
        self._take(best)
        return best

    def _take(self, item: Item) -> None:
        """Take something off the list of what is ready."""
        items = self.ready[STATIONS[item.station]]
        if item == items[0]:
            heapq.heappop(items)
        else:
            items.remove(item)
            heapq.heapify(items)

    def _setting(self, item: Item) -> str:
        settings = self.works[item.piece].settings
        return settings[0] if settings else self.laid.setting

    def _same_setting(self, items: list[Item], worker: Worker, now: int) -> Item | None:
        """Find a woven copy at the welder's setting that no piece's date forbids to take first."""
        alike = [item for item in items if self._setting(item) == self.laid.setting]
        if not alike or not self.laid.setting:
            return None
        found = min(alike)
        takes_s = in_one_go_s(
            self.works[found.piece], worker, found.copies, self.shop.change_piece_s
        )
        for item in items:
            if item < found and not self._has_time(item.piece, worker, now, takes_s):
                return None
        return found

    def _has_time(self, piece: int, worker: Worker, now: int, takes_s: int) -> bool:
        """Whether a piece that lies woven is still in time if something else is welded first."""
        work = self.works[piece]
        if work.due is None or self.shop.start is None:
            return True
        due_s = self.shop.end_of_day_s(weekdays_before(work.due, work.hallmark_days))
        if due_s <= now:
            return False
        after = ("set up", "rework", "clean", "inspect", "finish")
        rest_s = work.copies * work.weld_s + sum(work.station_s.get(name, 0.0) for name in after)
        hours = worker.hours
        there_s = hours.worked_s(int(due_s)) - hours.worked_s(now)
        return there_s >= takes_s + worker.takes_s(rest_s)

    def _do(self, item: Item, worker: Worker, now: int) -> int:
        """Let a person do something, and return when he or she is free again."""
        station = STATIONS[item.station]
        self.left -= 1
        if station == "weld":
            return self._weld(item, worker, now)
        work = self.works[item.piece]
        takes_s = max(worker.takes_s(usual_s(work, station, item.copies, item.part)), 1)
        machine = ""
        start = now
        if station == "pre-close":
            machine = WELDER
            self.sessions += 1
            lead_s = self._turn_to(work, (item.piece, item.first))
            start = self._set_up([item.piece], worker, now, lead_s)
            if start == now and lead_s:
                start = worker.hours.next_s(worker.hours.after_s(now, lead_s))
        end = worker.hours.after_s(start, takes_s)
        if station == "tumble":
            machine = TUMBLER
        self._add(item, station, worker.label, machine, (start, end, takes_s))
        after = end
        if station == "tumble":
            after = end + round(work.tumbling_s)
            if after > end:
                self._add(item, TUMBLING, "", TUMBLER, (end, after, 0))
            self.free_s[TUMBLER] = after
        if machine == WELDER:
            self.free_s[WELDER] = end
            self.laid.at_welder_s += takes_s
            self.laid.setting = work.settings[-1] if work.settings else self.laid.setting
        if station in SHARED_STATIONS:
            self._follow(item.piece, 1, work.copies, item.station + 1, after)
        elif item.part > 0:
            self._woven_part(item, after)
        else:
            self._follow(item.piece, item.first, item.copies, item.station + 1, after)
        return end

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
            self._add(item, ASSAY, "", "", (begins_s, back_s, 0))
        return back_s

    def _weld(self, item: Item, worker: Worker, now: int) -> int:
        """Weld a copy, with others in turns where it has rests; rework follows at once."""
        self.sessions += 1
        lots = [item, *self._beside(item)]
        works = [self.works[one.piece] for one in lots]
        change_s = self.shop.change_piece_s
        stretches, total_s = in_turns(works, worker, change_s) if item.copies == 1 else ([], 0)
        alone_s = sum(
            in_one_go_s(work, worker, one.copies, change_s)
            for work, one in zip(works, lots, strict=True)
        ) + round(change_s) * (len(lots) - 1)
        if len(lots) > 1 and total_s > alone_s - WORTH_S:
            lots, works = lots[:1], works[:1]
        if len(lots) == 1:
            total_s = in_one_go_s(works[0], worker, item.copies, change_s)
        for one in lots[1:]:
            self.ready["weld"].remove(one)
            self.left -= 1
        heapq.heapify(self.ready["weld"])
        lead_s = self._turn_to(works[0], (item.piece, item.first))
        begin = self._set_up([one.piece for one in lots], worker, now, lead_s)
        hours = worker.hours
        if begin == now and lead_s:
            begin = hours.next_s(hours.after_s(now, lead_s))
        end, ends = begin, {}
        if len(lots) == 1 and total_s > 0:
            end = hours.after_s(begin, total_s)
            steps = int(works[0].stints.steps.sum())
            self._add(item, "weld", worker.label, WELDER, (begin, end, total_s), (0, steps))
        for part in stretches if len(lots) > 1 else ():
            start = hours.next_s(hours.after_s(begin, part.start_s))
            end = hours.after_s(begin, part.end_s)
            one, stints = lots[part.lot], works[part.lot].stints
            run = int(stints.first_step[part.stint]), int(stints.steps[part.stint])
            long_s = hours.worked_s(end) - hours.worked_s(start)
            self._add(one, "weld", worker.label, WELDER, (start, end, long_s), run)
        self.laid.weld_s += total_s
        for one, work in zip(lots, works, strict=True):
            again_s = worker.takes_s(work.station_s.get("rework", 0.0) * one.copies / work.copies)
            start, end = end, hours.after_s(end, again_s) if again_s else end
            if again_s:
                start = hours.next_s(start)
                self._add(one, "rework", worker.label, WELDER, (start, end, again_s))
            ends[one] = end
        for one, at_s in ends.items():
            self._follow(one.piece, one.first, one.copies, one.station + 1, at_s)
        self.free_s[WELDER] = end
        self.laid.at_welder_s += hours.worked_s(end) - hours.worked_s(now)
        if works[-1].settings:
            self.laid.setting = works[-1].settings[-1]
        return end

    def _beside(self, item: Item) -> list[Item]:
        """Find woven copies of the same single setting to weld while this one cools."""
        work = self.works[item.piece]
        if not self.shop.interleave or item.copies > 1 or len(work.stints.steps) < 2:
            return []
        if len(set(work.settings)) > 1:
            return []
        alike = [
            other for other in sorted(self.ready["weld"])
            if other != item and other.copies == 1
            and set(self.works[other.piece].settings) == set(work.settings)
        ]  # fmt: skip
        return alike[: MOST_ON_BENCH - 1]

    def _turn_to(self, work: PieceWork, lot: tuple[int, int]) -> int:
        """Seconds from what lay at the welder to this piece; counts a change of setting."""
        before, now = self.laid.setting, work.settings[0] if work.settings else ""
        last, self.last_lot = self.last_lot, lot
        if before and now and before != now:
            self.laid.changes += 1
            cost_s = self.shop.change_setting_s + self.shop.spoilt_share * work.spoilt_s
            self.laid.change_cost_s += cost_s
            own = self.laid.change_costs_s
            own[lot[0]] = own.get(lot[0], 0.0) + cost_s
            return round(self.shop.change_setting_s)
        return round(self.shop.change_piece_s) if last not in ((-1, -1), lot) else 0

    def _set_up(self, pieces: Sequence[int], worker: Worker, now: int, lead_s: int) -> int:
        """Set the welder up for pieces that come to it for the first time; return when it is."""
        at_s = now
        for piece in dict.fromkeys(pieces):
            work = self.works[piece]
            usual_s = work.station_s.get("set up", 0.0)
            if piece in self.set_up or usual_s <= 0:
                continue
            self.set_up.add(piece)
            takes_s = max(worker.takes_s(usual_s), 1) + (lead_s if at_s == now else 0)
            start = worker.hours.next_s(at_s)
            at_s = worker.hours.after_s(start, takes_s)
            item = Item(self.rank[piece], 0, 1, piece, work.copies)
            self._add(item, "set up", worker.label, WELDER, (start, at_s, takes_s))
        return worker.hours.next_s(at_s)

    def _add(
        self,
        item: Item,
        station: str,
        person: str,
        machine: str,
        span: tuple[int, int, int],
        run: tuple[int, int] = (0, 0),
    ) -> None:
        session = self.sessions if machine == WELDER else 0
        self.laid.rows.append((item, station, person, machine, span, run, session))
