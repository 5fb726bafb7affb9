"""What no schedule can do better: work that has to be done before a moment, by whom there is.

Three things bind any schedule that keeps the rules. A piece passes its stations one after another,
never quicker than its quickest person, while somebody who does them works. All work on some pieces
is done by the people there are, each in the hours that he or she works. And there are so many
welders. ``schedule.proof`` holds the sums; ``schedule.exact`` adds what the solver proves.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.model.workshop.schedule import Bound
from chainplan.schedule.exact import Proofs
from chainplan.schedule.hours import DAY_S
from chainplan.schedule.proof.days import least_late_days
from chainplan.schedule.proof.ends import all_done_s
from chainplan.schedule.proof.ways import Ways
from chainplan.schedule.workdays import weekdays_after, weekdays_before

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.workshop.schedule import PieceReady, PieceWork
    from chainplan.schedule.rule.stations import Laid
    from chainplan.schedule.shop import Shop

WORTH_S = 900
"""Working seconds by which work has to end sooner for a search. Judgement: people plan in quarters
of an hour."""
AHEAD_S = 30 * DAY_S
"""How far hours are looked at beyond the end of a schedule that is known."""
MOST_ALONE = 2
"""Dated pieces whose earliest end is proved by the solver."""


@frozen
class JobBounds:
    """Bounds of a job: each the best of the sums below and of the solver's proofs."""

    works: tuple[PieceWork, ...]
    shop: Shop
    late_days: float  # weighted, of all pieces together
    end_s: int
    earliest_s: tuple[int, ...]  # of each piece, were it alone
    together: tuple[tuple[float, str], ...] = ()  # days late of those wanted by a day, in words
    worth: bool = True  # to look for an earlier end than that of the schedule that is known

    @classmethod
    def of(
        cls, works: Sequence[PieceWork], shop: Shop, *, late: float, end_s: int, limit: float
    ) -> JobBounds:
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
        ways = Ways(works, shop, end_s + AHEAD_S)
        every = range(len(works))
        alone = [math.floor(all_done_s(ways, [k])) for k in every]
        together = tuple(_together(ways))
        least = max([_singly(works, alone, shop), *(days for days, _ in together)])
        if late > least:
            least = max(least, least_late_days(ways, known=late, end_s=end_s))
        if late > least:
            for k in _latest(works, alone, shop):
                alone[k] = max(alone[k], proofs.earliest_s(k))
            least = max(least, _singly(works, alone, shop), proofs.late_days())
        back = [ways.fitted_s(k, shop.assayed_s(alone[k], works[k].hallmark_days)) for k in every]
        last_s = max(math.floor(all_done_s(ways, every)), *alone, *back)
        if ways.between_s(last_s, end_s) >= WORTH_S:
            last_s = max(last_s, proofs.end_s())
        return cls(
            works=tuple(works), shop=shop, late_days=least, end_s=last_s, earliest_s=tuple(alone),
            together=together, worth=ways.between_s(last_s, end_s) >= WORTH_S,
        )  # fmt: skip

    def leave_room(self, laid: Laid, late: float) -> bool:
        """Whether a schedule could be better than what is laid, as far as is proved."""
        settings = {name for work in self.works for name in work.settings}
        return late > self.late_days or laid.changes > max(len(settings) - 1, 0) or self.worth

    def told(self, ready: Sequence[PieceReady]) -> Bound:
        """Say in words what is proved beside late pieces."""
        words = [
            f"no schedule can finish {each.piece} before "
            f"{each.earliest_worked:%a %Y-%m-%d %H:%M}{_back(each)}: it is wanted by {each.due}"
            for each in ready
            if each.least_late_days
        ]
        single = math.fsum(each.late_weight * each.least_late_days for each in ready)
        words += [text for days, text in self.together if days > single]
        return Bound(
            late_days=self.late_days,
            end_s=self.end_s,
            end=self.shop.moment(self.end_s),
            words=tuple(words),
        )


def _back(ready: PieceReady) -> str:
    """Say when a piece would be back from the assay office."""
    return f", and have it back before {ready.earliest}" if ready.hallmark_days else ""


def _singly(works: Sequence[PieceWork], alone: Sequence[int], shop: Shop) -> float:
    """Weighted days late, were each piece the only one."""
    return math.fsum(
        work.late_weight * _days_late(work, at_s, shop)
        for work, at_s in zip(works, alone, strict=True)
    )


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


def _together(ways: Ways) -> Iterator[tuple[float, str]]:
    """For each date: the pieces wanted by then, taken together, and how late one must be."""
    works, shop = ways.works, ways.shop
    if shop.start is None:
        return
    dated = [
        (weekdays_before(work.due, work.hallmark_days), k)
        for k, work in enumerate(works)
        if work.due is not None
    ]
    for last in sorted({day for day, _ in dated}):
        some = [k for day, k in dated if day <= last]
        if len(some) < 2:
            continue
        end_s = math.floor(all_done_s(ways, some))
        day = shop.day(end_s)
        if day is None or day <= last:
            continue
        least = min(
            works[k].late_weight * max((weekdays_after(day, works[k].hallmark_days) - due).days, 0)
            for k in some
            if (due := works[k].due) is not None
        )
        moment = shop.moment(end_s)
        yield (
            least,
            f"no schedule can finish the {len(some)} pieces whose work has to end by {last} "
            f"before {moment:%a %Y-%m-%d %H:%M}",
        )
