"""The clock of large pieces: every temperature summed from the kernels of the welds around it.

An order is looked at in some steps and then in all; few have to wait. Where one does, waits are put
in one after another, each the shortest that will do. In pieces too large for that they are put
before all the joins that are too warm, again and again until none is, or, if that is quicker,
everything is welded at a slower even pace; so are pieces that get too warm for the fingers.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.clock.protocol import IN_FULL, NEVER_S, Settled, Settling, find_lead
from chainplan.order.clock.summing.at_once import even_pace_s, place_waits, slow_down, spare_parts
from chainplan.order.clock.summing.forward import wait_forward
from chainplan.order.clock.summing.sums import Sums
from chainplan.order.clock.waits import WAIT_STEP_S
from chainplan.order.piece.hold import JUST_BEFORE_S, lay_out_grips, spread

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.thermal.heat import PartNode
    from chainplan.order.clock.field import Caps
    from chainplan.order.clock.follow import Begun
    from chainplan.order.piece.hold import Hold
    from chainplan.order.piece.situation import Situation
    from chainplan.order.tuning import ClockTuning


@dataclass
class _Memory:
    """What a clock has found out: joins that were too warm, orders settled without the fingers."""

    suspects: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int32))
    settled: dict[bytes, tuple[float, Settled]] = field(default_factory=dict)


@frozen
class SummedClock:
    """See ``Clock``."""

    sums: Sums
    lead: str = ""
    hold: Hold | None = None  # what cooling takes at least is not proved for large pieces
    follows: bool = False
    memory: _Memory = field(default_factory=_Memory)

    @property
    def situation(self) -> Situation:
        """The piece and its limits."""
        return self.sums.situation

    @property
    def tuning(self) -> ClockTuning:
        """Numbers that trade time against goodness."""
        return self.situation.tuning.clock

    @property
    def margin_k(self) -> float:
        """Kept back from the limits of joins and parts."""
        return self.sums.margin_k

    @property
    def watched(self) -> tuple[PartNode, ...]:
        """Parts that all welds at once would bring above their limits in some corner."""
        return self.sums.watched

    def before_c(
        self, corner: str, order: IntArray, start_s: FloatArray, steps: IntArray | None = None
    ) -> FloatArray:
        """Temperature of each ring (or those of some steps) just before its weld. [°C]."""
        return self.sums.before_c(corner, order, start_s, steps)

    def alone_k(self, corner: str, node: int) -> tuple[IntArray, FloatArray]:
        """List joins near a node, and the highest rise there after each one's weld alone. [K]."""
        return self.sums.alone_k(corner, node)

    def felt_s(self, corner: str) -> float:
        """How long one weld is followed. [s]."""
        return float(self.sums.table(corner).log_time_s[-1])

    @property
    def most_settled(self) -> float:
        """Orders that may be timed to the end before one of them is chosen."""
        return max(1, self.tuning.settled_joins // self.situation.work.joins)

    def caps(self) -> Sequence[Caps]:
        """No caps: what cooling takes at least is not proved for large pieces."""
        return ()

    def course_c(
        self, corner: str, settled: Settled, nodes: IntArray, shown: IntArray
    ) -> FloatArray:
        """Highest temperature of nodes from each step shown to the next, (steps, nodes). [°C]."""
        start = settled.start_s
        lags = np.asarray(self.tuning.later_s) + JUST_BEFORE_S
        gap = np.diff(start, append=np.inf)
        course = np.empty((shown.shape[0], nodes.shape[0]))
        for column, node in enumerate(nodes.tolist()):
            near = self.sums.near_steps(corner, node, settled.order)
            after = (start[near, None] + np.minimum(lags, gap[near, None] - JUST_BEFORE_S)).ravel()
            moments = np.sort(np.concatenate([start[shown], after]))
            rise = self.sums.part_k(corner, node, settled.order, start, moments)
            first = np.searchsorted(moments, start[shown])
            course[:, column] = np.maximum.reduceat(rise, first) + self.sums.base_c(corner)[node]
        return course

    def promise_s(self, orders: IntArray) -> tuple[FloatArray, FloatArray]:
        """Reckon from some steps what orders take: without the fingers, and with them. [s].

        Orders that even without a wait take longer than what another promises are not looked at.
        """
        plain_s = np.asarray([self.sums.plain(order)[1] for order in orders])
        bare_s = plain_s.copy()
        held_s = plain_s.copy()
        best_bare_s = best_held_s = np.inf
        for row in np.argsort(plain_s, kind="stable").tolist():
            if plain_s[row] < best_bare_s:
                bare_s[row] += self._sampled_wait_s(orders[row])
                best_bare_s = min(best_bare_s, float(bare_s[row]))
            held_s[row] = bare_s[row]
            if self.situation.held and held_s[row] < best_held_s:
                held_s[row] += self._sampled_hold_s(orders[row])
            best_held_s = min(best_held_s, float(held_s[row]))
        return bare_s, held_s

    def _sampled_wait_s(self, order: IntArray) -> float:
        """Estimate the waiting that an order needs, from some of its steps. [s].

        What each of them would wait alone is too much where many wait, and an even pace at which
        none has to is too much where few do.
        """
        every = np.arange(order.shape[0], dtype=np.int32)
        start, some = self.sums.plain(order)[0], spread(every, self.tuning.sampled_steps)
        hot = self.sums.too_warm(order, start, some)
        total = waited = 0.0
        even = [0.0] if hot.size == 0 else []
        for wait_s in self.tuning.waits_s:
            total += hot.size * (wait_s - waited)
            waited = wait_s
            if hot.size:
                hot = self.sums.too_warm(order, start, hot, wait_s)
            if not even and not self.sums.too_warm(order, start + wait_s * (every + 1), some).size:
                even.append(wait_s * order.shape[0])
        alone = NEVER_S if hot.size else total * order.shape[0] / some.shape[0]
        return float(min(alone, *even, NEVER_S))

    def _sampled_hold_s(self, order: IntArray) -> float:
        """Estimate what the fingers cost, from some steps of an order without waits. [s]."""
        start, some = self.sums.plain(order)[0], self.tuning.held_steps
        over = self.sums.over_hold_k([self.lead], order, start, some)
        thinned = order.shape[0] / max(1, over.shape[0])
        warm = float(np.maximum(over, 0.0).sum())
        return float(self.situation.tuning.search.seconds_a_kelvin * thinned * warm)

    def settle_all(self, orders: IntArray, how: Settling = IN_FULL) -> list[Settled]:
        """Time several orders so that they keep all limits, one by one; see ``Clock``."""
        return [self._settle(order, how.most_s, held=how.held) for order in orders]

    def _settle(self, order: IntArray, most_s: float, *, held: bool) -> Settled:
        """Settle an order without the fingers, and slow it down for them if that is asked for."""
        key = order.tobytes()
        tried_s, found = self.memory.settled.get(key, (-np.inf, None))
        if found is None or (not found.feasible and tried_s < most_s):
            found = self._settle_bare(order, most_s)
            self.memory.settled[key] = (most_s, found)
        counted = held or not self.situation.held
        found = replace(found, feasible=found.feasible and found.bench_s <= most_s, held=counted)
        if not found.feasible or not held or not self.situation.held:
            return found
        if order.shape[0] <= self.tuning.forward_joins:
            return self._wait_for_fingers(found, most_s)
        return slow_down(self.sums, found, most_s)

    def _wait_for_fingers(self, bare: Settled, most_s: float) -> Settled:
        """Put in what waits the fingers need, from the first step at which they need one."""
        situation = self.situation
        ring = situation.work.ring[bare.order]
        grips = lay_out_grips(
            situation.layout,
            situation.joins,
            ring,
            bare.start_s,
            pace=situation.pace,
            limits=situation.limits,
            clip_ring=situation.work.clip_rings(bare.order),
            tuning=situation.tuning.proof,
        )
        if grips is None:
            return bare
        first = self.sums.first_too_warm(grips, bare.order, bare.start_s)
        if first is None:
            return bare
        room_s = most_s - bare.bench_s + bare.waiting_s
        wait, fits = wait_forward(
            self.sums.limits, bare.order, bare.wait_s, grips=grips, first=first, room_s=room_s
        )
        return self.sums.timed(bare.order, wait, feasible=fits)

    def _settle_bare(self, order: IntArray, most_s: float) -> Settled:
        """Settle an order without the fingers."""
        none = np.zeros(order.shape[0])
        start, plain_s = self.sums.plain(order)
        room_s = most_s - plain_s
        if room_s < 0:
            return self.sums.timed(order, none, feasible=False)
        hot = self._find_hot(order, start)
        if hot.size == 0 and not any(
            self.sums.over_part_k(order, start, part) > 0 for part in self.sums.watched
        ):
            return self.sums.timed(order, none, feasible=True)
        if room_s < WAIT_STEP_S:
            return self.sums.timed(order, none, feasible=False)
        if order.shape[0] <= self.tuning.forward_joins:
            wait, fits = wait_forward(self.sums.limits, order, none, room_s=room_s)
            return self.sums.timed(order, wait, feasible=fits)
        return self._settle_at_once(order, room_s, most_s)

    def _settle_at_once(self, order: IntArray, room_s: float, most_s: float) -> Settled:
        """Put waits before all joins that are too warm, or weld at an even pace; spare parts."""
        sums, every = self.sums, np.arange(order.shape[0], dtype=np.int32)
        wait, placed = place_waits(sums, order, room_s)
        found = [sums.timed(order, wait, feasible=placed)]
        mean = np.cumsum(self.situation.work.gaps_s(order) + wait.mean())
        if wait.any() and not (placed and sums.too_warm(order, mean, every).size):
            even = even_pace_s(sums, order, room_s / order.shape[0])
            fits = even <= self.tuning.slowest_s
            waits = np.full(order.shape[0], even)
            found.append(sums.timed(order, waits, feasible=fits, even_pace=True))
        best = min(found, key=lambda item: (not item.feasible, item.bench_s))
        return spare_parts(sums, best, most_s) if best.feasible else best

    def _find_hot(self, order: IntArray, start_s: FloatArray) -> IntArray:
        """Find steps that are too warm, the first there are: what was so before is looked at first.

        Then come some steps, and then all of them share by share.
        """
        every = np.arange(order.shape[0], dtype=np.int32)
        suspects = np.flatnonzero(np.isin(order, self.memory.suspects)).astype(np.int32)
        looks = [np.union1d(suspects, spread(every, self.tuning.sampled_steps))]
        if looks[0].shape[0] < order.shape[0]:
            looks += [every[first :: self.tuning.shares] for first in range(self.tuning.shares)]
        for steps in looks:
            hot = self.sums.too_warm(order, start_s, steps)
            if hot.size:
                few = order[hot[:: hot.size // self.tuning.suspects + 1]]
                self.memory.suspects = np.union1d(self.memory.suspects, few).astype(np.int32)
                return hot
        return every[:0]

    def begin(self, order: IntArray) -> Begun | None:
        """Keep nothing of a beginning: it does not help."""
        return None

    def needs_no_wait(self, order: IntArray, handle_s: float) -> bool:
        """Whether an order needs no wait at so many seconds a join."""
        start = np.cumsum(replace(self.situation.work, handle_s=handle_s).gaps_s(order))
        if self._find_hot(order, start).size:
            return False
        if any(self.sums.over_part_k(order, start, part) > 0 for part in self.sums.watched):
            return False
        return not self.situation.held or self.sums.cool_to_hold(order, start, handle_s=handle_s)

    def with_margins(self, more_k: float, hold_more_k: float) -> SummedClock:
        """Keep back more: from the limits of joins and parts, and from the fingers'."""
        wider = replace(
            self.sums,
            margin_k=self.sums.margin_k + more_k,
            hold_margin_k=self.sums.hold_margin_k + hold_more_k,
        )
        return replace(self, sums=wider, memory=_Memory())

    def with_relief(self, relief: float) -> SummedClock:
        """Let every weld bring so many times less heat: the same as limits so much wider."""
        return replace(self, sums=replace(self.sums, relief=relief), memory=_Memory())


def make_summed_clock(situation: Situation) -> SummedClock:
    """Make the clock of a large piece; its kernels are solved when they are first asked for."""
    margin = situation.tuning.clock.summed_margin_k
    sums = Sums(situation=situation, margin_k=margin, hold_margin_k=margin)
    return SummedClock(sums=sums, lead=find_lead(situation, sums.before_c))
