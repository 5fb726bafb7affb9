"""The way of a piece through its stations, as quick as it can be, and the work that it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.schedule import LAST_FITTING, SHARED_STATIONS
from chainplan.schedule.proof.pool import Pool
from chainplan.schedule.stations import AFTER_SHARED, AT_THE_WELDER, lots_of, needed, parts_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.shop import Shop

HALF_S = 0.5
"""What rounding a stretch of work to whole seconds can take off it."""


@dataclass(frozen=True, slots=True, kw_only=True)
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
        self._lines: dict[frozenset[int], Pool] = {}
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

    def line(self, doers: frozenset[int], most: int = 1) -> Pool:
        """Return the seconds at which somebody of some people is there, one thing at a time."""
        if most > 1:
            workers = [self.shop.workers[k] for k in sorted(doers)]
            return Pool.of(workers, self.until_s, most=most)
        if doers not in self._lines:
            workers = [self.shop.workers[k] for k in sorted(doers)]
            self._lines[doers] = Pool.of(workers, self.until_s, most=1)
        return self._lines[doers]

    def heads_s(self, piece: int) -> list[float]:
        """Return the moment before which no copy begins each leg."""
        if piece in self._heads:
            return self._heads[piece]
        found: list[float] = []
        moment = np.zeros(1)
        for leg in self.legs[piece]:
            begins = np.maximum(moment, float(leg.from_s))
            found.append(float(begins[0]))
            moment = self.line(leg.doers).after_s(begins, leg.quick_s) + leg.alone_s
        self._heads[piece] = found
        return found

    def done_s(self, piece: int, after: int, moment_s: FloatArray) -> FloatArray:
        """Return when a copy is done at the earliest that has passed some legs at each moment."""
        for leg in self.legs[piece][after:]:
            begins = np.maximum(moment_s, float(leg.from_s))
            moment_s = self.line(leg.doers).after_s(begins, leg.quick_s) + leg.alone_s
        return moment_s

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
        quickest = min(self.shop.workers[k].pace for k in doers)
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
