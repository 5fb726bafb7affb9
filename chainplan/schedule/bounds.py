"""What no schedule can do better: work that has to be done before a moment, by whom there is.

Three things bind any schedule that keeps the rules. A piece passes its stations one after another,
never quicker than its quickest person, while at least one person works. All work on some pieces is
done by the people there are, each in the hours that he or she works. And there is one welder.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import LAST_FITTING, SHARED_STATIONS, Bound
from chainplan.schedule.exact import Proofs
from chainplan.schedule.workdays import weekdays_after, weekdays_before

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceReady, PieceWork
    from chainplan.schedule.shop import Shop
    from chainplan.schedule.stations import Laid

WORTH_SHARE = 0.002
"""Share of a schedule's length that no search is made for. Judgement: a minute in a day."""
MOST_ALONE = 5
"""Dated pieces whose earliest end is proved by the solver."""
LEAST = 0.999
"""Share of the work that is counted, so that rounding each stretch to whole seconds undoes no
proof."""


def reach_s(shop: Shop, from_s: int, chain_s: float, people_s: float) -> int:
    """Return the first moment by which so much can be done at most.

    Parameters
    ----------
    shop : Shop
        Who works when.
    from_s : int
        When work begins.
    chain_s : float
        Work that only one person at a time can do, as the quickest takes.
    people_s : float
        Work that can be shared among all, at the usual pace.
    """
    hours = [worker.hours for worker in shop.workers]
    moment = from_s
    while chain_s > 1e-9 or people_s > 1e-9:
        opens = [each.next_s(moment) for each in hours]
        moment = min(opens)
        at_work = [k for k, at in enumerate(opens) if at <= moment]
        until = min(
            [hours[k].shut_s(moment) for k in at_work] + [at for at in opens if at > moment]
        )
        rate = sum(1 / shop.workers[k].pace for k in at_work)
        needs_s = max(chain_s, people_s / rate, 0.0)
        if moment + needs_s <= until:
            return moment + math.floor(needs_s)
        chain_s -= until - moment
        people_s -= rate * (until - moment)
        moment = until
    return moment


def _quickest(shop: Shop) -> float:
    return min(worker.pace for worker in shop.workers)


def _hands_s(work: PieceWork) -> float:
    """Welding of one copy at the usual pace, without the waits that other work can fill."""
    return float(work.stints.seconds.sum()) + work.weld_extra_s


def _stations_s(work: PieceWork) -> dict[str, float]:
    """Usual time at each station before the assay, the welding apart."""
    beyond = {LAST_FITTING} if work.hallmark_days else set()
    return {name: usual_s for name, usual_s in work.station_s.items() if name not in beyond}


def _all_s(work: PieceWork) -> float:
    """All work on a piece at the usual pace."""
    return LEAST * (sum(_stations_s(work).values()) + work.copies * _hands_s(work))


def _begins_s(work: PieceWork, shop: Shop) -> int:
    first = next((name for name in SHARED_STATIONS if work.station_s.get(name, 0.0) > 0), "")
    return shop.material_s(work, first)


def earliest_s(work: PieceWork, shop: Shop) -> int:
    """Return the moment before which no schedule can end the work on a piece before the assay."""
    quickest, usual_s = _quickest(shop), _stations_s(work)
    shared = sum(usual_s.get(name, 0.0) for name in SHARED_STATIONS)
    set_up = usual_s.get("set up", 0.0)
    each = (sum(usual_s.values()) - shared - set_up) / work.copies
    if len(work.weave_shares) > 1:  # sections are woven at once where there are people for it
        at_once = 1 - max(work.weave_shares[:-1]) - work.weave_shares[-1]
        each -= at_once * usual_s.get("weave", 0.0) / work.copies
    chain = (shared + set_up + each) * quickest + _hands_s(work) * max(1.0, quickest)
    return reach_s(shop, _begins_s(work, shop), LEAST * chain, _all_s(work))


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """Bounds of a job: each the best of the sums below and of the solver's proofs."""

    works: tuple[PieceWork, ...]
    shop: Shop
    late_days: float  # weighted, of all pieces together
    end_s: int
    earliest_s: tuple[int, ...]  # of each piece, were it alone

    @classmethod
    def of(
        cls, works: Sequence[PieceWork], shop: Shop, *, late: float, end_s: int, limit: float
    ) -> Bounds:
        """Find the bounds of a job.

        Parameters
        ----------
        works, shop : sequence of PieceWork, Shop
            The job.
        late, end_s : float, int
            Weighted late days and end of a schedule that is known: what is met is proved.
        limit : float
            Deterministic time for the solver.
        """
        proofs = Proofs(works, shop, limit=limit)
        alone = [earliest_s(work, shop) for work in works]
        if late:
            for k in _latest(works, alone, shop):
                alone[k] = max(alone[k], proofs.earliest_s(k))
        least = math.fsum(
            work.late_weight * _days_late(work, at_s, shop)
            for work, at_s in zip(works, alone, strict=True)
        )
        least = max([least, *(days for days, _ in _together(works, shop))])
        if late > least:
            least = max(least, proofs.late_days())
        back = [
            shop.assayed_s(at_s, work.hallmark_days)  # and fitted after that
            for work, at_s in zip(works, alone, strict=True)
            if work.station_s.get(LAST_FITTING, 0.0) > 0
        ]
        last_s = max(_all_done_s(works, shop), *alone, *back)
        if end_s > last_s * (1 + WORTH_SHARE):
            last_s = max(last_s, proofs.end_s())
        return cls(
            works=tuple(works), shop=shop, late_days=least, end_s=last_s, earliest_s=tuple(alone)
        )

    def leave_room(self, laid: Laid, works: Sequence[PieceWork]) -> bool:
        """Whether a schedule could be better than what is laid, as far as is proved."""
        late = math.fsum(
            work.late_weight * _days_late(work, done_s, self.shop)
            for work, done_s in zip(works, laid.done_s, strict=True)
        )
        settings = {name for work in works for name in work.settings}
        return (
            late > self.late_days
            or laid.changes > max(len(settings) - 1, 0)
            or laid.end_s > self.end_s * (1 + WORTH_SHARE)
        )

    def told(self, ready: Sequence[PieceReady]) -> Bound:
        """Say in words what is proved beside late pieces."""
        words = [
            f"no schedule can finish {each.piece} before "
            f"{each.earliest_worked:%a %Y-%m-%d %H:%M}{_back(each)}: it is wanted by {each.due}"
            for each in ready
            if each.least_late_days
        ]
        single = math.fsum(each.late_weight * each.least_late_days for each in ready)
        words += [text for days, text in _together(self.works, self.shop) if days > single]
        return Bound(
            late_days=self.late_days,
            end_s=self.end_s,
            end=self.shop.moment(self.end_s),
            words=tuple(words),
        )


def _back(ready: PieceReady) -> str:
    """Say when a piece would be back from the assay office."""
    return f", and have it back before {ready.earliest}" if ready.hallmark_days else ""


def _latest(works: Sequence[PieceWork], alone: Sequence[int], shop: Shop) -> list[int]:
    """Pick the dated pieces that a proof of their own is worth most for."""
    dated = [k for k, work in enumerate(works) if work.due is not None]
    return sorted(dated, key=lambda k: (-_days_late(works[k], alone[k], shop), k))[:MOST_ALONE]


def _days_late(work: PieceWork, done_s: int, shop: Shop) -> int:
    """Days by which a piece is late whose work before any assay ends at a moment."""
    day = shop.day(shop.assayed_s(done_s, work.hallmark_days))
    if day is None or work.due is None:
        return 0
    return max((day - work.due).days, 0)


def _all_done_s(works: Sequence[PieceWork], shop: Shop) -> int:
    """Return the moment before which no schedule ends the last work on some pieces."""
    found = []
    for begins_s in {0} | {_begins_s(work, shop) for work in works}:
        some = [work for work in works if _begins_s(work, shop) >= begins_s]
        all_s = sum(_all_s(work) for work in some)
        found.append(reach_s(shop, begins_s, _welder_s(some, shop), all_s))
    return max(found, default=0)


def _welder_s(works: Sequence[PieceWork], shop: Shop) -> float:
    """Work that only the one welder can do."""
    beside = ("pre-close", "set up", "rework")
    quickest = _quickest(shop)
    total = sum(
        quickest * sum(work.station_s.get(name, 0.0) for name in beside)
        + max(1.0, quickest) * work.copies * _hands_s(work)
        for work in works
    )
    return LEAST * total


def _together(works: Sequence[PieceWork], shop: Shop) -> list[tuple[float, str]]:
    """For each date: the pieces wanted by then, taken together, and how late one must be."""
    if shop.start is None:
        return []
    dated = [(weekdays_before(w.due, w.hallmark_days), w) for w in works if w.due is not None]
    found = []
    for last in sorted({day for day, _ in dated}):
        some = [work for day, work in dated if day <= last]
        end_s = _all_done_s(some, shop)
        day = shop.day(end_s)
        if day is None or day <= last or len(some) < 2:
            continue
        least = min(
            work.late_weight * max((weekdays_after(day, work.hallmark_days) - work.due).days, 0)
            for work in some
            if work.due is not None
        )
        moment = shop.moment(end_s)
        found.append(
            (
                least,
                f"no schedule can finish the {len(some)} pieces whose work has to end by {last} "
                f"before {moment:%a %Y-%m-%d %H:%M}",
            )
        )
    return found
