"""The dispatch rule: who is free takes the next thing that is ready, by a ranking of the pieces.

Stations of a copy follow one another; its rings are made with those of the other copies. Whoever
is free takes, of all that is ready and that he or she does, the piece that ranks highest, of it the
earliest station and then the lowest copy. So all copies lie woven before one person begins to weld.
At the welder one setting goes on as long as woven pieces ask for it and no date would be missed.
The ranking is what is searched for: ``chainplan.schedule.search``.
"""

from __future__ import annotations

import heapq
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import (
    SHARED_STATIONS,
    TUMBLING,
)
from chainplan.schedule.hours import DAY_S
from chainplan.schedule.machinery import kind_of
from chainplan.schedule.rule.stations import (
    AT_THE_WELDER,
    STATIONS,
    Item,
    Laid,
    usual_s,
)
from chainplan.schedule.rule.visits import Visits
from chainplan.schedule.rule.welding import in_one_go_s
from chainplan.schedule.workdays import weekdays_before

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.schedule.machinery import Stand
    from chainplan.schedule.shop import Worker


MOST_STANDING = 5000
"""Days and people for which nothing is done while machines stand, before work is given up."""


class StuckError(Exception):
    """Nobody can do anything, and nothing is to come: the order asked for cannot be worked."""


class Dispatch(Visits):
    """One run of the rule."""

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
