"""The one place that decides how a piece's heat is reckoned."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.order.clock.exact import make_exact_clock
from chainplan.order.clock.summing.summed import make_summed_clock

if TYPE_CHECKING:
    from chainplan.order.clock.protocol import Clock
    from chainplan.order.piece.situation import Situation


def make_clock(situation: Situation) -> Clock:
    """Take exact modes while the piece is small enough for them, else summed kernels."""
    tuning = situation.tuning.clock
    small = situation.layout.rings <= tuning.most_exact_nodes
    if small and situation.work.joins <= tuning.most_exact_joins:
        return make_exact_clock(situation)
    return make_summed_clock(situation)
