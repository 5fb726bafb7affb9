"""The dispatch rule: who is free takes the next thing that is ready, by a ranking of the pieces.

Stations of a copy follow one another; its rings are made with those of the other copies. Whoever
is free takes, of all that is ready and that he or she does, the piece that ranks highest, of it the
earliest station and then the lowest copy. So all copies lie woven before one person begins to weld.
At the welder one setting goes on as long as woven pieces ask for it and no date would be missed.
The ranking is what is searched for: ``chainplan.schedule.search``.
"""

from __future__ import annotations

import heapq
import itertools
from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import (
    ASSAY,
    JOINED,
    LAST_FITTING,
    SHARED_STATIONS,
    TUMBLING,
)
from chainplan.schedule.hours import DAY_S
from chainplan.schedule.machinery import WELD, kind_of, stands_of
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
from chainplan.schedule.welding import MOST_ON_BENCH, WORTH_S, Changes, in_one_go_s, in_turns
from chainplan.schedule.workdays import weekdays_before

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.machinery import Stand
    from chainplan.schedule.shop import Shop, Worker
    from chainplan.schedule.welding import Stretch


MOST_STANDING = 5000
"""Days and people for which nothing is done while machines stand, before work is given up."""


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

    def run(self) -> Laid:
        """Let everybody work until all is done; every station needs somebody who does it."""
        workers = self.shop.workers
        people = [(worker.hours.next_s(0), k) for k, worker in enumerate(workers)]
        heapq.heapify(people)
        stands = [stand for group in self.stands.values() for stand in group]
        idle: set[int] = set()
        nights = 0
        while self.left:
            now, who = heapq.heappop(people)
            worker = workers[who]
            while self.future and self.future[0][0] <= now:
                item = heapq.heappop(self.future)[1]
                heapq.heappush(self.ready[STATIONS[item.station]], item)
            chosen = self._choose(worker, now)
            if chosen is not None:
                free, nights = self._do(*chosen, worker, now), 0
                idle.clear()
            else:
                comes = [stand.free_s for stand in stands if stand.free_s > now]
                comes += [self.future[0][0]] if self.future else []
                back = [stand.next_s(now) for stand in stands if stand.place.hours is not None]
                idle = set() if comes else idle | {who}
                nights += not comes and bool(back)
                if len(idle) == len(workers) and (not back or nights > MOST_STANDING):
                    raise StuckError
                waits = [*comes, *back, *(at for at, _ in people if at > now)]
                free = min(waits, default=now + 1)
            heapq.heappush(people, (worker.hours.next_s(free), who))
        return self.laid

    def _choose(self, worker: Worker, now: int) -> tuple[Item, Stand | None] | None:
        """Take the highest ranking item that this person can do now off its list.

        The tumbler is filled before anything longer is begun: it then turns by itself.
        """
        best: tuple[Item, Stand | None] | None = None
        for station, items in self.ready.items():
            if not items or not worker.can(station):
                continue
            found = self._first(items, station, worker, now)
            if found and (best is None or self._urgency(found[0]) < self._urgency(best[0])):
                best = found
        if best is None:
            return None
        item, stand = best
        if stand is not None and STATIONS[item.station] == "weld":
            item = self._same_setting(item, stand, worker, now)
        self._take(item)
        return item, stand

    def _urgency(self, item: Item) -> tuple[bool, Item]:
        alone = STATIONS[item.station] == "tumble" and self.works[item.piece].tumbling_s > 0
        return not alone, item

    def _first(
        self, items: list[Item], station: str, worker: Worker, now: int
    ) -> tuple[Item, Stand | None] | None:
        """Find the highest ranking item of a station, with a machine for it if it needs one."""
        group = self.stands.get(kind_of(station))
        if group is None:
            return items[0], None
        free = [stand for stand in group if stand.is_free(now)]
        if all(stand.place.hours is None for stand in free):
            return (items[0], self._nearest(items[0], free)) if free else None
        for item in sorted(items):
            there = [one for one in free if not self._put_off(item, one, worker, now)]
            if there:
                return item, self._nearest(item, there)
        return None

    def _nearest(self, item: Item, free: Sequence[Stand]) -> Stand:
        """Choose the machine at which the least has to be changed for a piece."""

        def cost_s(stand: Stand) -> float:
            work = self.works[item.piece]
            again = item.piece in self.set_up and item.piece not in stand.set_up
            found = work.station_s.get("set up", 0.0) if again else 0.0
            if stand.setting and self._setting(item, stand) != stand.setting:
                found += self._change_cost_s(work)
            return found

        return free[0] if len(free) == 1 else min(free, key=cost_s)

    def _change_cost_s(self, work: PieceWork) -> float:
        return self.shop.change_setting_s + self.shop.spoilt_share * work.spoilt_s

    def _put_off(self, item: Item, stand: Stand, worker: Worker, now: int) -> bool:
        """Whether a day off of the machine would interrupt work that need not be interrupted."""
        days = stand.place.days_off
        own, joint = worker.hours, self.shop.hours_at(worker, stand.place)
        if not days or self.shop.start is None or own is joint:
            return False
        work, station = self.works[item.piece], STATIONS[item.station]
        takes_s = worker.takes_s(usual_s(work, station, item.copies, item.part))
        if station in AT_THE_WELDER:
            takes_s = in_one_go_s(work, worker, item.copies, self.shop.change_piece_s)
            beside = sum(work.station_s.get(name, 0.0) for name in ("set up", "rework"))
            takes_s += worker.takes_s(beside) + round(self.shop.change_setting_s)
        if joint.after_s(now, takes_s) == own.after_s(now, takes_s):
            return False
        stands_s = [((day - self.shop.start).days + 1) * DAY_S for day in days]
        back_s = joint.next_s(min(at for at in stands_s if at > now))
        return joint.after_s(back_s, takes_s) == own.after_s(back_s, takes_s)

    def _take(self, item: Item) -> None:
        """Take something off the list of what is ready."""
        items = self.ready[STATIONS[item.station]]
        if item == items[0]:
            heapq.heappop(items)
        else:
            items.remove(item)
            heapq.heapify(items)

    def _setting(self, item: Item, stand: Stand) -> str:
        settings = self.works[item.piece].settings
        return settings[0] if settings else stand.setting

    def _same_setting(self, item: Item, stand: Stand, worker: Worker, now: int) -> Item:
        """Find a woven copy at the welder's setting that no piece's date forbids to take first."""
        if not stand.setting or self._setting(item, stand) == stand.setting:
            return item
        items = self.ready["weld"]
        alike = [
            one for one in items
            if self._setting(one, stand) == stand.setting
            and not self._put_off(one, stand, worker, now)
        ]  # fmt: skip
        if not alike:
            return item
        found = min(alike)
        takes_s = in_one_go_s(
            self.works[found.piece], worker, found.copies, self.shop.change_piece_s
        )
        for one in items:
            if one < found and not self._has_time(one.piece, worker, now, takes_s):
                return item
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

    def _do(self, item: Item, stand: Stand | None, worker: Worker, now: int) -> int:
        """Let a person do something, and return when he or she is free again."""
        station = STATIONS[item.station]
        self.left -= 1
        if station == "weld" and stand is not None:
            return self._weld(item, stand, worker, now)
        work = self.works[item.piece]
        takes_s = max(worker.takes_s(usual_s(work, station, item.copies, item.part)), 1)
        hours = self.shop.hours_at(worker, stand.place if stand else None)
        start = now
        if station == "pre-close" and stand is not None:
            self.sessions += 1
            lead_s = self._turn_to(work, (item.piece, item.first), stand)
            start = self._set_up([item.piece], stand, worker, (now, lead_s))
            if start == now and lead_s:
                start = hours.next_s(hours.after_s(now, lead_s))
        end = hours.after_s(start, takes_s)
        self._add(item, station, worker.label, stand, (start, end, takes_s))
        after = end
        if station == "tumble" and stand is not None:
            after = stand.place.later_s(end, round(work.tumbling_s))
            if after > end:
                self._add(item, TUMBLING, "", stand, (end, after, 0))
        if stand is not None:
            stand.free_s = after
        if station == "pre-close" and stand is not None:
            stand.setting = work.settings[-1] if work.settings else stand.setting
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
            self._add(item, ASSAY, "", None, (begins_s, back_s, 0))
        return back_s

    def _weld(self, item: Item, stand: Stand, worker: Worker, now: int) -> int:
        """Weld a copy, with others in turns where it has rests; rework follows at once."""
        self.sessions += 1
        lots, stretches, total_s = self._turns(item, stand, worker)
        works = [self.works[one.piece] for one in lots]
        for one in lots[1:]:
            self.ready["weld"].remove(one)
            self.left -= 1
        heapq.heapify(self.ready["weld"])
        hours = self.shop.hours_at(worker, stand.place)
        lead_s = self._turn_to(works[0], (item.piece, item.first), stand)
        begin = self._set_up([one.piece for one in lots], stand, worker, (now, lead_s))
        if begin == now and lead_s:
            begin = hours.next_s(hours.after_s(now, lead_s))
        end, ends = begin, {}
        if len(lots) == 1 and total_s > 0:
            end = hours.after_s(begin, total_s)
            steps = int(works[0].stints.steps.sum())
            self._add(item, "weld", worker.label, stand, (begin, end, total_s), (0, steps))
        for part in stretches:
            start = hours.next_s(hours.after_s(begin, part.start_s))
            end = hours.after_s(begin, part.end_s)
            one, work = lots[part.lot], works[part.lot]
            run = int(work.stints.first_step[part.stint]), int(work.stints.steps[part.stint])
            long_s = hours.worked_s(end) - hours.worked_s(start)
            self._add(one, "weld", worker.label, stand, (start, end, long_s), run)
            self._count_change(work, one.piece, stand)
        self.laid.weld_s += total_s
        for one, work in zip(lots, works, strict=True):
            again_s = worker.takes_s(work.station_s.get("rework", 0.0) * one.copies / work.copies)
            start, end = end, hours.after_s(end, again_s) if again_s else end
            if again_s:
                start = hours.next_s(start)
                self._add(one, "rework", worker.label, stand, (start, end, again_s))
            ends[one] = end
        for one, at_s in ends.items():
            self._follow(one.piece, one.first, one.copies, one.station + 1, at_s)
        stand.free_s = end
        if len(lots) == 1 and works[0].settings:
            stand.setting = works[0].settings[-1]
        return end

    def _turns(
        self, item: Item, stand: Stand, worker: Worker
    ) -> tuple[list[Item], list[Stretch], int]:
        """Choose the copies that are welded in turns, with their stretches and all the seconds."""
        work, shop = self.works[item.piece], self.shop
        alone_s = in_one_go_s(work, worker, item.copies, shop.change_piece_s)
        best: tuple[list[Item], list[Stretch], int] = ([item], [], alone_s)
        beside = self._beside(item, stand)
        if not beside:
            return best
        changes = Changes(piece_s=shop.change_piece_s, setting_s=shop.change_setting_s)
        alike = [one for one in beside if self._settings(one) == self._settings(item)]
        # With others of the same setting, else with one of another for which it is well worth it.
        for lots in [[item, *alike]] if alike else [[item, one] for one in beside]:
            works = [self.works[one.piece] for one in lots]
            stretches, total_s = in_turns(works, worker, changes)
            one_by_one_s = changes.one_by_one_s(works) + sum(
                in_one_go_s(own, worker, 1, shop.change_piece_s) for own in works
            )
            saved_s: float = one_by_one_s - total_s
            if not alike:
                cost_s, risk_s = self._changes_in(works, stretches)
                if saved_s + cost_s - risk_s <= shop.turns_worth_changes * cost_s:
                    continue
                saved_s -= risk_s
            if saved_s >= WORTH_S:
                return lots, stretches, total_s
        return best

    def _changes_in(
        self, works: Sequence[PieceWork], stretches: Sequence[Stretch]
    ) -> tuple[float, float]:
        """Cost of the changes of setting that turns have beyond one copy after another.

        Returns
        -------
        tuple of float
            Seconds, spoilt rings counted as time; and the spoilt rings' part of it.
        """
        turned_to = [
            works[two.lot] for one, two in itertools.pairwise(stretches)
            if works[one.lot].settings != works[two.lot].settings
        ]  # fmt: skip
        cost_s = sum(self._change_cost_s(work) for work in turned_to)
        cost_s -= self._change_cost_s(works[1])  # one after another has that one too
        return cost_s, cost_s - self.shop.change_setting_s * (len(turned_to) - 1)

    def _settings(self, item: Item) -> frozenset[str]:
        return frozenset(self.works[item.piece].settings)

    def _beside(self, item: Item, stand: Stand) -> list[Item]:
        """Find woven copies to weld while this one cools: of its single setting first."""
        work = self.works[item.piece]
        if not self.shop.interleave or item.copies > 1 or len(work.stints.steps) < 2:
            return []
        own = self._settings(item)
        if len(own) > 1:
            return []
        single = [
            other for other in sorted(self.ready["weld"])
            if other != item and other.copies == 1 and len(self._settings(other)) <= 1
        ]  # fmt: skip
        alike = [other for other in single if self._settings(other) == own]
        if alike or not own:
            return alike[: MOST_ON_BENCH - 1]
        return [other for other in single if self._settings(other)][: MOST_ON_BENCH - 1]

    def _turn_to(self, work: PieceWork, lot: tuple[int, int], stand: Stand) -> int:
        """Seconds from what lay at the welder to this piece; counts a change of setting."""
        last, stand.last_lot = stand.last_lot, lot
        if self._count_change(work, lot[0], stand):
            return round(self.shop.change_setting_s)
        return round(self.shop.change_piece_s) if last not in ((-1, -1), lot) else 0

    def _count_change(self, work: PieceWork, piece: int, stand: Stand) -> bool:
        """Turn the welder to a piece's first setting; count it if that is a change."""
        before, now = stand.setting, work.settings[0] if work.settings else ""
        changed = bool(before and now and before != now)
        if changed:
            self.laid.changes += 1
            self.laid.count_cost(piece, self._change_cost_s(work))
        stand.setting = now or before
        return changed

    def _set_up(
        self, pieces: Sequence[int], stand: Stand, worker: Worker, begun: tuple[int, int]
    ) -> int:
        """Set the welder up for pieces that come to it for the first time; return when it is.

        ``begun`` is the moment, and the seconds that turning to the first of them takes.
        """
        now, lead_s = begun
        hours, at_s = self.shop.hours_at(worker, stand.place), now
        for piece in dict.fromkeys(pieces):
            work = self.works[piece]
            usual_s = work.station_s.get("set up", 0.0)
            if piece in stand.set_up or usual_s <= 0:
                continue
            if piece in self.set_up:  # at another welder already
                self.laid.further_set_ups += 1
                self.laid.further_s += usual_s
                self.laid.count_cost(piece, usual_s)
            stand.set_up.add(piece)
            self.set_up.add(piece)
            takes_s = max(worker.takes_s(usual_s), 1) + (lead_s if at_s == now else 0)
            start = hours.next_s(at_s)
            at_s = hours.after_s(start, takes_s)
            item = Item(self.rank[piece], 0, 1, piece, work.copies)
            self._add(item, "set up", worker.label, stand, (start, at_s, takes_s))
        return hours.next_s(at_s)

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
