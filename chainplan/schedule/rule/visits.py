"""Visits to the welder: setting it up, welding one copy or several in turns, rework."""

from __future__ import annotations

import heapq
import itertools
from typing import TYPE_CHECKING

from chainplan.schedule.rule.run import Run
from chainplan.schedule.rule.stations import Item
from chainplan.schedule.rule.welding import MOST_ON_BENCH, WORTH_S, Changes, in_one_go_s, in_turns

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.machinery import Stand
    from chainplan.schedule.rule.welding import Stretch
    from chainplan.schedule.shop import Worker


class Visits(Run):
    """What is done at the welder without leaving it."""

    def _change_cost_s(self, work: PieceWork) -> float:
        return self.shop.change_setting_s + self.shop.spoilt_share * work.spoilt_s

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
