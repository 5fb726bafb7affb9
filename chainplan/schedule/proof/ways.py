"""The way of a piece through its stations, as quick as it can be, and the work that it is."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.workshop.schedule import LAST_FITTING, SHARED_STATIONS
from chainplan.schedule.machinery import all_standing, kind_of
from chainplan.schedule.proof.pool import Pool
from chainplan.schedule.rule.stations import AFTER_SHARED, AT_THE_WELDER, lots_of, needed, parts_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.shop import Shop

HALF_S = 0.5
"""What rounding a stretch of work to whole seconds can take off it."""


@frozen
class Leg:
    """One station on the way of a piece."""

    station: str
    doers: frozenset[int]  # who may do it
    quick_s: float  # of one copy in the quickest hands
    work_s: float  # of all copies at the usual pace
    from_s: int = 0  # material is not there before
    alone_s: float = 0.0  # it then lies by itself, night or day
    welder_s: float = 0.0  # of all copies at the welder


class Ways:
    """The ways of all pieces, and the pools of people."""

    def __init__(self, works: Sequence[PieceWork], shop: Shop, until_s: float) -> None:
        self.works, self.shop, self.until_s = works, shop, until_s
        self._pools: dict[frozenset[int], Pool] = {}
        self._heads: dict[int, list[float]] = {}
        self._lines: dict[tuple[frozenset[int], str, int], Pool] = {}
        self._standing = all_standing(shop.places)
        self.welders = shop.welders()
        self.everybody = frozenset(range(len(shop.workers)))
        lots = lots_of(works)
        self.single = sum(map(len, lots)) == 1
        self.in_parts = sum(worker.can("weave") for worker in shop.workers) > 1
        self.change_s = round(min(shop.change_setting_s, shop.change_piece_s))
        # Nothing is put down for the first copy: what is counted for it at the usual pace.
        self.first_s = self.change_s / min(worker.pace for worker in shop.workers)
        self.legs = [self._legs(work, own) for work, own in zip(works, lots, strict=True)]

    def pool(self, doers: frozenset[int]) -> Pool:
        """Return what some people can do together."""
        if doers not in self._pools:
            workers = [self.shop.workers[k] for k in sorted(doers)]
            self._pools[doers] = Pool.of(workers, self.until_s)
        return self._pools[doers]

    def line(self, doers: frozenset[int], kind: str = "", most: int = 1) -> Pool:
        """Return the seconds at which somebody of some people is there, so many at once at most.

        Parameters
        ----------
        doers : frozenset of int
            Who.
        kind : str
            Kind of machine that they work at: not on days on which all of them stand.
        most : int
            How many of them can work at once.
        """
        place = self._standing.get(kind)
        key = doers, "" if place is None else kind, most
        if key not in self._lines:
            workers = [self.shop.workers[k] for k in sorted(doers)]
            if place is not None:
                workers = [replace(one, hours=self.shop.hours_at(one, place)) for one in workers]
            self._lines[key] = Pool.of(workers, self.until_s, most=most)
        return self._lines[key]

    def heads_s(self, piece: int) -> list[float]:
        """Return the moment before which no copy begins each leg."""
        if piece in self._heads:
            return self._heads[piece]
        found: list[float] = []
        moment = np.zeros(1)
        for leg in self.legs[piece]:
            begins = np.maximum(moment, float(leg.from_s))
            found.append(float(begins[0]))
            moment = (
                self.line(leg.doers, kind_of(leg.station)).after_s(begins, leg.quick_s)
                + leg.alone_s
            )
        self._heads[piece] = found
        return found

    def done_s(self, piece: int, after: int, moment_s: FloatArray) -> FloatArray:
        """Return when a copy is done at the earliest that has passed some legs at each moment."""
        for leg in self.legs[piece][after:]:
            begins = np.maximum(moment_s, float(leg.from_s))
            moment_s = (
                self.line(leg.doers, kind_of(leg.station)).after_s(begins, leg.quick_s)
                + leg.alone_s
            )
        return moment_s

    def through_s(self, leg: Leg, begins_s: FloatArray) -> FloatArray:
        """Return when a copy has passed a leg at the earliest."""
        line = self.line(leg.doers, kind_of(leg.station))
        return line.after_s(begins_s, leg.quick_s) + leg.alone_s

    def fitted_s(self, piece: int, back_s: int) -> int:
        """Return when a piece is fitted that is back from the assay office; 0 for none to fit."""
        work = self.works[piece]
        usual_s = work.station_s.get(LAST_FITTING, 0.0)
        if not work.hallmark_days or usual_s <= 0:
            return 0
        doers = self._doers(lambda worker: worker.can(LAST_FITTING))
        takes_s = max(usual_s * self._quickest(doers) - HALF_S, 0.0)
        begins = np.array([float(max(back_s, self.shop.material_s(work, LAST_FITTING)))])
        return math.floor(float(self.line(doers).after_s(begins, takes_s)[0]))

    def between_s(self, one_s: float, other_s: float) -> float:
        """Return the seconds between two moments in which anybody works."""
        done = self.line(self.everybody).done(np.array([one_s, other_s]))
        return float(done[1] - done[0])

    def _legs(self, work: PieceWork, lots: Sequence[tuple[int, int]]) -> list[Leg]:
        beyond = {LAST_FITTING} if work.hallmark_days else set()
        names = [
            name
            for name in (*SHARED_STATIONS, *AFTER_SHARED)
            if name not in beyond and needed(work, name)
        ]
        found: list[Leg] = []
        set_up_s = work.station_s.get("set up", 0.0)
        for name in names:
            doers = self._doers(lambda worker, name=name: worker.can(name))
            if name in AT_THE_WELDER and set_up_s > 0:
                # the same visit: whoever welds first has set the welder up just before
                found.append(self._leg(work, "set up", doers, set_up_s, 1, 1))
                set_up_s = 0.0
            if name == "weld":
                taken_up = not needed(work, "pre-close")
                found.append(self._welding(work, doers, lots, taken_up=taken_up))
                again_s = work.station_s.get("rework", 0.0)
                if again_s > 0:
                    found.append(self._leg(work, "rework", doers, again_s, work.copies, len(lots)))
                continue
            usual_s = work.station_s.get(name, 0.0)
            copies = 1 if name in SHARED_STATIONS else work.copies
            stretches = 1 if name in SHARED_STATIONS else len(lots)
            found.append(self._leg(work, name, doers, usual_s, copies, stretches))
        return found

    def _doers(self, can: Callable[..., bool]) -> frozenset[int]:
        return frozenset(k for k, worker in enumerate(self.shop.workers) if can(worker))

    def _leg(
        self,
        work: PieceWork,
        name: str,
        doers: frozenset[int],
        usual_s: float,
        copies: int,
        stretches: int,
    ) -> Leg:
        """Put one station together; ``stretches`` are rounded to whole seconds each."""
        quickest = self._quickest(doers)
        one_s, parts = usual_s / copies, 1
        if name == "weave" and self.in_parts and parts_of(work, name, 1):
            parts = len(work.weave_shares)
            one_s *= max(work.weave_shares[:-1]) + work.weave_shares[-1]
        rounded_s = HALF_S * stretches * parts / quickest
        at_welder = name in ("set up", "rework", *AT_THE_WELDER)
        change_s = self.change_s * stretches if name == "pre-close" else 0
        return Leg(
            station=name,
            doers=doers,
            quick_s=max(one_s * quickest - HALF_S * min(parts, 2), 0.0),
            work_s=max(usual_s - rounded_s, 0.0) + change_s / self._slowest(doers),
            from_s=self.shop.material_s(work, name),
            alone_s=float(round(work.tumbling_s)) if name == "tumble" else 0.0,
            welder_s=max(usual_s * quickest - HALF_S * stretches, 0.0) + change_s
            if at_welder
            else 0.0,
        )

    def _quickest(self, doers: frozenset[int]) -> float:
        return min(self.shop.workers[k].pace for k in doers)

    def _slowest(self, doers: frozenset[int]) -> float:
        return max(self.shop.workers[k].pace for k in doers)

    def _welding(
        self,
        work: PieceWork,
        doers: frozenset[int],
        lots: Sequence[tuple[int, int]],
        *,
        taken_up: bool,
    ) -> Leg:
        """Welding of all copies, with the waits that nothing else can fill."""
        stints, paces = work.stints, [self.shop.workers[k].pace for k in doers]
        quickest = max(min(paces), 1.0)
        hands_s = float(stints.seconds.sum()) + work.weld_extra_s
        rest_s = float(stints.rest_s.sum())
        filled = self.shop.interleave and len(set(work.settings)) < 2 and not self.single
        rounded_s = HALF_S * (2 * len(stints.seconds) + 1)
        a_copy_s = max(hands_s - rounded_s / min(paces), 0.0)
        least_s = max(hands_s * quickest - rounded_s, 0.0)
        kept_s = 0.0 if filled else max(rest_s - rounded_s, 0.0)
        change_s = self.change_s * len(lots) if taken_up else 0
        return Leg(
            station="weld",
            doers=doers,
            quick_s=least_s + max(rest_s - rounded_s, 0.0),
            work_s=work.copies * (a_copy_s + kept_s / self._slowest(doers))
            + change_s / self._slowest(doers),
            from_s=self.shop.material_s(work, "weld"),
            welder_s=work.copies * (least_s + kept_s) + change_s,
        )
