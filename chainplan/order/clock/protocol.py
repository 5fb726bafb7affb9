"""What the planner asks of a piece's heat, whichever way it is reckoned."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.piece.hold import spread

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.thermal.heat import PartNode
    from chainplan.order.clock.field import Caps
    from chainplan.order.clock.follow import Begun
    from chainplan.order.piece.hold import Hold
    from chainplan.order.piece.situation import Situation


NEVER_S = 1e9
"""Added to the time of what cannot be welded so, to rank it last: longer than any life."""


@frozen
class Settled:
    """One order with its times: every limit that is to be kept holds, if ``feasible``."""

    order: IntArray
    start_s: FloatArray
    wait_s: FloatArray
    bench_s: float
    feasible: bool
    held: bool = True  # whether the fingers' limit was kept too
    even_pace: bool = False  # waits as an even, slower pace

    @property
    def waiting_s(self) -> float:
        """All waits together, in seconds."""
        return float(self.wait_s.sum())


class Settling(NamedTuple):
    """How orders are timed."""

    held: bool = True
    """Counting the fingers."""
    most_s: float = np.inf
    """Orders that take longer are given up and come back as infeasible. [s]."""
    begun: Begun | None = None
    """A beginning that all of them share, timed already."""


IN_FULL = Settling()
"""With the fingers, to the end, from the start."""


class Clock(Protocol):
    """When each join of an order may be welded, so that the limits hold in every bad corner."""

    @property
    def situation(self) -> Situation:
        """The piece and its limits."""

    @property
    def lead(self) -> str:
        """The bad corner that usually comes out warmest: promises are made in it."""

    @property
    def margin_k(self) -> float:
        """Kept back from the limits of joins and parts."""

    @property
    def follows(self) -> bool:
        """Whether it goes weld by weld, so that cooling can be proved and orders searched."""

    @property
    def watched(self) -> tuple[PartNode, ...]:
        """Parts that all welds at once would bring above their limits in some corner."""

    @property
    def hold(self) -> Hold | None:
        """Where the fingers hold the piece; None if they do not, or nothing is proved of it."""

    @property
    def most_settled(self) -> float:
        """Orders that may be timed to the end before one of them is chosen."""

    def caps(self) -> Sequence[Caps]:
        """Tell what each corner allows, without margins, for the bound; empty if unknown."""

    def before_c(
        self, corner: str, order: IntArray, start_s: FloatArray, steps: IntArray | None = None
    ) -> FloatArray:
        """Temperature of each ring (or those of some steps) just before its weld. [°C]."""

    def alone_k(self, corner: str, node: int) -> tuple[IntArray, FloatArray]:
        """List joins felt at a node, and the highest rise after each one's weld alone. [K]."""

    def felt_s(self, corner: str) -> float:
        """How long one weld is followed. [s]."""

    def course_c(
        self,
        corner: str,
        settled: Settled,
        nodes: IntArray,
        shown: IntArray,
    ) -> FloatArray:
        """Highest temperature of nodes from each step shown to the next, (steps, nodes). [°C]."""

    def promise_s(self, orders: IntArray) -> tuple[FloatArray, FloatArray]:
        """Roughly what orders take without the fingers, and with them: to rank them by. [s]."""

    def settle_all(self, orders: IntArray, how: Settling = IN_FULL) -> list[Settled]:
        """Time several orders so that they keep all limits."""

    def begin(self, order: IntArray) -> Begun | None:
        """Time the beginning of an order once for all that share it; None if it does not help."""

    def needs_no_wait(self, order: IntArray, handle_s: float) -> bool:
        """Whether an order needs no wait at so many seconds a join."""

    def with_margins(self, more_k: float, hold_more_k: float) -> Clock:
        """Keep back more: from the limits of joins and parts, and from the fingers'."""

    def with_relief(self, relief: float) -> Clock:
        """Let every weld bring so many times less heat."""


def settle(clock: Clock, order: IntArray, *, held: bool = True) -> Settled:
    """Time one order so that it keeps all limits."""
    return clock.settle_all(np.asarray(order, dtype=np.int32)[None, :], Settling(held=held))[0]


def warmest_c(clock: Clock, order: IntArray, start_s: FloatArray) -> float:
    """Warmest interpass temperature at the bad end. [°C]."""
    return max(
        float(clock.before_c(corner, order, start_s).max())
        for corner in clock.situation.heat.bad_corners
    )


def find_lead(
    situation: Situation,
    before_c: Callable[[str, IntArray, FloatArray, IntArray | None], FloatArray],
) -> str:
    """Find the corner in which every other join, then the rest, come out warmest.

    ``before_c``: as the clock's own; looked at in some steps of long pieces.
    """
    every = np.arange(situation.work.joins, dtype=np.int32)
    order = np.concatenate([every[::2], every[1::2]])
    start = np.cumsum(situation.work.gaps_s(order))
    corners, some = situation.heat.bad_corners, spread(every, situation.tuning.clock.sampled_steps)
    warm = [float(before_c(corner, order, start, some).max()) for corner in corners]
    return corners[int(np.argmax(warm))]


def watch_parts(
    situation: Situation, alone_k: Callable[[str, int], tuple[IntArray, FloatArray]]
) -> tuple[PartNode, ...]:
    """Parts that all welds at once would bring above their limits in some corner.

    ``alone_k``: as the clock's own.
    """
    networks = situation.heat.networks
    return tuple(
        part
        for part in situation.parts
        if any(
            float(alone_k(corner, part.node)[1].sum())
            > part.limit_c - float(networks[corner].base_c[part.node])
            for corner in situation.heat.bad_corners
        )
    )


def keep_back(spare_k: FloatArray, margin_k: float) -> FloatArray:
    """Rise that a limit leaves once a margin is kept back: of little, never more than half. [K]."""
    kept: FloatArray = np.where(spare_k > 0, np.maximum(spare_k - margin_k, spare_k / 2), spare_k)
    return kept
