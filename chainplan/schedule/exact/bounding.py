"""What the solver proves: the least lateness, the earliest end, the earliest of one piece."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.schedule.exact.improve import MOST_STEPS, too_large
from chainplan.schedule.exact.solve import has_solver, solve
from chainplan.schedule.exact.steps import WEIGHT, ask

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.shop import Shop

SHARE = 0.3
"""Deterministic time for each proof, as a share of that for the timetable."""


class Proofs:
    """Bounds that hold for every schedule of a job; 0 where nothing is proved."""

    def __init__(self, works: Sequence[PieceWork], shop: Shop, *, limit: float) -> None:
        self.works, self.shop = works, shop
        self.limit = SHARE * limit if has_solver() else 0.0

    def _bound(self, aim: str, pieces: Sequence[int] = ()) -> int:
        if self.limit <= 0 or too_large(self.works, pieces):
            return 0
        asked = ask(self.works, self.shop, least=True, pieces=pieces)
        if len(asked.steps) > MOST_STEPS:
            return 0
        return solve(asked, aim, limit=self.limit).bound

    def late_days(self) -> float:
        """Return the least weighted days late of all pieces together."""
        return self._bound("late") / WEIGHT

    def end_s(self) -> int:
        """Return the moment before which no schedule ends."""
        return self._bound("end")

    def earliest_s(self, piece: int) -> int:
        """Return the moment before which no schedule ends the work on a piece."""
        return self._bound("end", [piece])
