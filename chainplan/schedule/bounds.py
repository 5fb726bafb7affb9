"""What no schedule can do better: work that has to be done before a moment, by whom there is.

Three things bind any schedule that keeps the rules. A piece passes its stations one after another,
never quicker than its quickest person, while at least one person works. All work on some pieces is
done by the people there are, each in the hours that he or she works. And there is one welder.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import SHARED_STATIONS, Bound
from chainplan.schedule.workdays import weekdays_after, weekdays_before

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceReady, PieceWork
    from chainplan.schedule.shop import Shop

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


def _all_s(work: PieceWork) -> float:
    """All work on a piece at the usual pace."""
    return LEAST * (sum(work.station_s.values()) + work.copies * _hands_s(work))


def _begins_s(work: PieceWork, shop: Shop) -> int:
    first = next((name for name in SHARED_STATIONS if work.station_s.get(name, 0.0) > 0), "")
    return shop.delivered_s if first in work.bought_for else 0


def earliest_s(work: PieceWork, shop: Shop) -> int:
    """Return the moment before which no schedule can end the last work on a piece."""
    quickest = _quickest(shop)
    shared = sum(work.station_s.get(name, 0.0) for name in SHARED_STATIONS)
    set_up = work.station_s.get("set up", 0.0)
    each = (sum(work.station_s.values()) - shared - set_up) / work.copies
    chain = (shared + set_up + each) * quickest + _hands_s(work) * max(1.0, quickest)
    return reach_s(shop, _begins_s(work, shop), LEAST * chain, _all_s(work))


def bound_of(works: Sequence[PieceWork], ready: Sequence[PieceReady], shop: Shop) -> Bound:
    """Find the least late days and the earliest end, and say in words what they rest on."""
    late = sum(each.least_late_days for each in ready)
    words = [
        f"no schedule can finish {each.piece} before {each.earliest}: it is wanted by {each.due}"
        for each in ready
        if each.least_late_days
    ]
    end_s = _all_done_s(works, shop)
    alone = max(earliest_s(work, shop) for work in works)
    end_s = max(end_s, alone)
    for days, text in _together(works, shop):
        if days > late:
            late, words = days, [*words, text]
    return Bound(late_days=late, end_s=end_s, end=shop.moment(end_s), words=tuple(words))


def _all_done_s(works: Sequence[PieceWork], shop: Shop) -> int:
    """Return the moment before which no schedule ends the last work on some pieces."""
    later = [work for work in works if _begins_s(work, shop) > 0]
    return max(
        reach_s(shop, begins_s, _welder_s(some, shop), sum(_all_s(work) for work in some))
        for begins_s, some in ((0, works), (shop.delivered_s, later))
        if some
    )


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


def _together(works: Sequence[PieceWork], shop: Shop) -> list[tuple[int, str]]:
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
            (weekdays_after(day, work.hallmark_days) - work.due).days
            for work in some
            if work.due is not None
        )
        moment = shop.moment(end_s)
        found.append(
            (
                max(least, 0),
                f"no schedule can finish the {len(some)} pieces whose work has to end by {last} "
                f"before {moment:%a %Y-%m-%d %H:%M}",
            )
        )
    return found
