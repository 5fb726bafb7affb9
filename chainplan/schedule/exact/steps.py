"""A job as steps of a timetable, at the same times as the dispatch rule has, or at the least."""

from __future__ import annotations

import datetime
import math
from collections import Counter
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import (
    FITTING,
    JOINED,
    LAST_FITTING,
    SHARED_STATIONS,
)
from chainplan.schedule.exact.timetable import Asked, Step
from chainplan.schedule.hours import DAY_S
from chainplan.schedule.machinery import kind_of
from chainplan.schedule.rule.stations import (
    AFTER_SHARED,
    AT_THE_WELDER,
    lots_of,
    needed,
    parts_of,
    usual_s,
)
from chainplan.schedule.rule.welding import in_one_go_s
from chainplan.schedule.workdays import weekdays_after

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.shop import Shop, Worker

WEIGHT = 10
"""Weights of late days are counted in tenths, so that they are whole."""


def ask(
    works: Sequence[PieceWork], shop: Shop, *, least: bool, pieces: Sequence[int] = ()
) -> Asked:
    """Write a job as steps.

    Parameters
    ----------
    works : sequence of PieceWork
        The pieces.
    shop : Shop
        People and hours.
    least : bool
        Leave out what a good schedule may save (waits that other work fills, putting down and
        taking up): no schedule of the job does better than the best timetable then.
    pieces : sequence of int, optional
        Only these of the pieces.
    """
    maker = _Maker(works, shop, least=least)
    wanted = list(pieces) or list(range(len(works)))
    for piece in wanted:
        maker.add(piece)
    horizon_s = _horizon_s(maker.steps, shop)
    return Asked(
        steps=tuple(maker.steps),
        hours=tuple(worker.hours for worker in shop.workers),
        horizon_s=horizon_s,
        late={
            piece: _late_by_day(works[piece], shop, horizon_s)
            for piece in wanted
            if works[piece].due is not None and shop.start is not None
        },
        change_s={
            work.settings[0]: round(shop.change_setting_s + shop.spoilt_share * work.spoilt_s)
            for work in works
            if work.settings
        },
        machines=Counter(place.kind for place in shop.places),
        least=least,
    )


class _Maker:
    """Collects the steps of some pieces.

    A timetable that is to be worked has what one person does in one go as one step: making the
    rings, and what follows the welding. A proof has each station by itself.
    """

    def __init__(self, works: Sequence[PieceWork], shop: Shop, *, least: bool) -> None:
        self.works, self.shop, self.least = works, shop, least
        self.lots = lots_of(works)
        self.steps: list[Step] = []
        self.kinds = {place.kind for place in shop.places}
        self.in_parts = sum(worker.can("weave") for worker in shop.workers) > 1

    def add(self, piece: int) -> None:
        """Add the steps of one piece: its rings, the set-up, then copy by copy."""
        work = self.works[piece]
        after: tuple[int, ...] = ()
        for stations in self._runs(work, SHARED_STATIONS):
            after = self._step(piece, stations, (1, work.copies), after)
        set_up: tuple[int, ...] = ()
        if work.station_s.get("set up", 0.0) > 0:
            set_up = self._step(piece, ("set up",), (1, work.copies), ())
        beyond = (LAST_FITTING,) if work.hallmark_days else ()  # begins when the piece is back
        named = tuple(name for name in AFTER_SHARED if name not in beyond)
        twins: dict[tuple[str, ...], int] = {}
        for lot in self.lots[piece]:
            last = after
            for number, stations in enumerate(self._runs(work, named)):
                parts = parts_of(work, stations[0], lot[1]) if self.in_parts else ()
                if parts:
                    woven = [self._step(piece, stations, lot, last, part=k) for k in parts]
                    before = tuple(k for own in woven for k in own)
                    last = self._step(piece, stations, lot, before, part=JOINED)
                    continue
                beside = set_up if stations[0] in AT_THE_WELDER else ()
                twin = twins.get(stations) if number == 0 else None
                last = self._step(piece, stations, lot, (*last, *beside), twin=twin)
                twins[stations] = last[0]

    def _runs(self, work: PieceWork, stations: Sequence[str]) -> Iterator[tuple[str, ...]]:
        """Put together the stations that are passed in one go."""
        run: list[str] = []
        for name in stations:
            if not needed(work, name):
                continue
            alike = run and all(
                worker.can(name) == worker.can(run[0]) for worker in self.shop.workers
            )
            alone = {*AT_THE_WELDER, "weave", FITTING, *self.kinds}
            # Rings that go into the tumbler at once are cut without leaving them in between.
            apart = name in alone - {"tumble"} or self.shop.material_s(work, name) > 0
            first = run[:1] and run[0] in alone
            if run and (self.least or apart or first or not alike):
                yield tuple(run)
                run = []
            run.append(name)
        if run:
            yield tuple(run)

    def _step(
        self,
        piece: int,
        stations: tuple[str, ...],
        lot: tuple[int, int],
        after: tuple[int, ...],
        *,
        part: int = 0,
        twin: int | None = None,
    ) -> tuple[int, ...]:
        work, kind = self.works[piece], kind_of(stations[-1])
        who = AT_THE_WELDER if stations[0] == "set up" else frozenset(stations)
        takes = {
            k: sum(self._takes_s(work, name, lot[1], part, worker) for name in stations)
            for k, worker in enumerate(self.shop.workers)
            if any(worker.can(name) for name in who)
        }
        welds = stations[0] in AT_THE_WELDER and bool(work.settings)
        tumbles = "tumble" in stations
        self.steps.append(
            Step(
                piece=piece,
                takes_s=takes,
                stations=stations,
                first=lot[0],
                part=part,
                twin=twin,
                after=after,
                from_s=self.shop.material_s(work, stations[0]),
                machine=kind if kind in self.kinds else "",
                stays_s=round(work.tumbling_s) if tumbles else 0,
                setting_before=work.settings[0] if welds else "",
                setting_after=work.settings[-1] if welds else "",
            )
        )
        return (len(self.steps) - 1,)

    def _takes_s(
        self, work: PieceWork, station: str, copies: int, part: int, worker: Worker
    ) -> int:
        if station != "weld":
            return max(worker.takes_s(usual_s(work, station, copies, part)), 1)
        again_s = worker.takes_s(work.station_s.get("rework", 0.0) * copies / work.copies)
        if not self.least:
            return in_one_go_s(work, worker, copies, self.shop.change_piece_s) + again_s
        hands_s = max(1.0, worker.pace) * (float(work.stints.seconds.sum()) + work.weld_extra_s)
        rounded_s = len(work.stints.seconds) + 1  # each stint is rounded to a whole second
        return max(math.floor(copies * (hands_s - rounded_s)), 0) + again_s


def _horizon_s(steps: Sequence[Step], shop: Shop) -> int:
    """Return a moment by which all is done if nobody ever idles while anything can be done.

    At any moment at which somebody could work, something is worked on, or turns in the tumbler.
    """
    total_s = sum(max(step.takes_s.values()) + step.stays_s for step in steps)
    begins_s = max((step.from_s for step in steps), default=0)
    known: list[object] = []
    end_s = begins_s
    for worker in shop.workers:
        if worker.hours.days not in known:
            known.append(worker.hours.days)
            end_s += worker.hours.after_s(begins_s, total_s) - begins_s
    return end_s + 1


def _late_by_day(work: PieceWork, shop: Shop, until_s: int) -> tuple[int, ...]:
    """Cost of lateness, in tenths of a weighted day, if the work ends on each day."""
    if work.due is None or shop.start is None:
        return ()
    found = []
    for number in range(until_s // DAY_S + 2):
        day = shop.start + datetime.timedelta(days=number)
        late = max((weekdays_after(day, work.hallmark_days) - work.due).days, 0)
        found.append(round(WEIGHT * work.late_weight) * late)
    return tuple(found)
