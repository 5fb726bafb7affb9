"""The clock of large pieces: every temperature summed from the kernels of the welds around it.

An order is looked at in some steps and then in all; few have to wait. Where one does, waits are put
in one after another, each the shortest that will do. In pieces too large for that they are put
before all the joins that are too warm, again and again until none is, or, if that is quicker,
everything is welded at a slower even pace; so are pieces that get too warm for the fingers.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kernels import WeldTimes
from chainplan.order.clock.follower import WAIT_STEP_S
from chainplan.order.clock.forward import Corner, Limits, wait_forward
from chainplan.order.clock.protocol import NEVER_S, Settled, find_lead, keep_back, watch_parts
from chainplan.order.piece.hold import JUST_BEFORE_S, lay_out_grips, spread

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.heat import PartNode
    from chainplan.model.kernels import KernelTable
    from chainplan.order.clock.field import Caps
    from chainplan.order.clock.follow import Begun
    from chainplan.order.piece.situation import Situation
    from chainplan.order.tuning import ClockTuning


@dataclass
class _Memory:
    """What a clock has found out: joins that were too warm, orders settled without the fingers."""

    suspects: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int32))
    settled: dict[bytes, tuple[float, Settled]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class SummedClock:
    """See ``Clock``."""

    situation: Situation
    lead: str = ""
    margin_k: float
    hold_margin_k: float
    relief: float = 1.0
    follows: bool = False
    memory: _Memory = field(default_factory=_Memory)

    @property
    def tuning(self) -> ClockTuning:
        """Numbers that trade time against goodness."""
        return self.situation.tuning.clock

    @property
    def most_settled(self) -> float:
        """Orders that may be timed to the end before one of them is chosen."""
        return max(1, self.tuning.settled_joins // self.situation.work.joins)

    def caps(self) -> Sequence[Caps]:
        """No caps: what cooling takes at least is not proved for large pieces."""
        return ()

    def table(self, corner: str) -> KernelTable:
        """Kernels of a corner."""
        return self.situation.heat.kernels(corner)

    def base_c(self, corner: str) -> FloatArray:
        """Temperature of every node without welds. [°C]."""
        return self.situation.heat.networks[corner].base_c

    @cached_property
    def spare_k(self) -> dict[str, FloatArray]:
        """Rise that the interpass limit leaves to every join, in each bad corner. [K]."""
        return {
            corner: self._spare_k(
                corner, self.situation.interpass_c - self.base_c(corner)[self.situation.work.ring]
            )
            for corner in self.situation.heat.bad_corners
        }

    def _spare_k(self, corner: str, spare_k: FloatArray) -> FloatArray:
        """Less the margin, and what the kernels leave out. [K]."""
        return keep_back(spare_k - self.table(corner).dropped_k, self.margin_k) * self.relief

    @cached_property
    def watched(self) -> tuple[PartNode, ...]:
        """Parts that all welds at once would bring above their limits in some corner."""
        return watch_parts(self)

    def rise_k(
        self,
        corner: str,
        order: IntArray,
        start_s: FloatArray,
        steps: IntArray,
        later_s: float = 0.0,
    ) -> FloatArray:
        """Rise of the rings of some steps before their welds, were these put off alone. [K]."""
        table, ring = self.table(corner), self.situation.work.ring
        welds = WeldTimes(len(table.node_class), ring[order], start_s)
        return table.rises_k(welds, ring[order[steps]], start_s[steps], later_s)

    def too_warm(
        self, order: IntArray, start_s: FloatArray, steps: IntArray, later_s: float = 0.0
    ) -> IntArray:
        """Those of the given steps at which the ring is too warm to be welded."""
        hot = np.zeros(steps.shape[0], dtype=bool)
        for corner in self.situation.heat.bad_corners:
            left = np.flatnonzero(~hot)
            rise = self.rise_k(corner, order, start_s, steps[left], later_s)
            hot[left] = rise > self.spare_k[corner][order[steps[left]]]
        return steps[hot]

    def before_c(
        self, corner: str, order: IntArray, start_s: FloatArray, steps: IntArray | None = None
    ) -> FloatArray:
        """Temperature of each ring (or those of some steps) just before its weld. [°C]."""
        if steps is None:
            steps = np.arange(order.shape[0], dtype=np.int32)
        base = self.base_c(corner)[self.situation.work.ring[order[steps]]]
        return base + self.rise_k(corner, order, start_s, steps)

    @cached_property
    def _join_of(self) -> IntArray:
        """Join of each ring; −1 for rings closed beforehand."""
        join = np.full(self.situation.layout.rings, -1, dtype=np.int32)
        join[self.situation.work.ring] = np.arange(self.situation.work.joins, dtype=np.int32)
        return join

    def alone_k(self, corner: str, node: int) -> tuple[IntArray, FloatArray]:
        """List joins near a node, and the highest rise there after each one's weld alone. [K]."""
        table = self.table(corner)
        near, curve = table.near(node)
        inside = near < self.situation.layout.rings
        joins = self._join_of[near[inside]]
        peaks = table.log_rise_k[curve[inside][joins >= 0]].max(axis=1, initial=0.0)
        return joins[joins >= 0], peaks.astype(np.float64)

    def felt_s(self, corner: str) -> float:
        """How long one weld is followed. [s]."""
        return float(self.table(corner).log_time_s[-1])

    def _near_steps(self, corner: str, node: int, order: IntArray) -> IntArray:
        """List the steps whose welds are felt at a node."""
        felt = np.zeros(self.situation.work.joins, dtype=bool)
        felt[self.alone_k(corner, node)[0]] = True
        return np.flatnonzero(felt[order]).astype(np.int32)

    def part_k(
        self, corner: str, node: int, order: IntArray, start_s: FloatArray, at_s: FloatArray
    ) -> FloatArray:
        """Rise of one node at some moments of a run of welds. [K]."""
        table = self.table(corner)
        welds = WeldTimes(len(table.node_class), self.situation.work.ring[order], start_s)
        return table.rises_k(welds, np.full(at_s.shape[0], node, dtype=np.int32), at_s)

    def course_c(
        self, corner: str, settled: Settled, nodes: IntArray, shown: IntArray
    ) -> FloatArray:
        """Highest temperature of nodes from each step shown to the next, (steps, nodes). [°C]."""
        start = settled.start_s
        lags = np.asarray(self.tuning.later_s) + JUST_BEFORE_S
        gap = np.diff(start, append=np.inf)
        course = np.empty((shown.shape[0], nodes.shape[0]))
        for column, node in enumerate(nodes.tolist()):
            near = self._near_steps(corner, node, settled.order)
            after = (start[near, None] + np.minimum(lags, gap[near, None] - JUST_BEFORE_S)).ravel()
            moments = np.sort(np.concatenate([start[shown], after]))
            rise = self.part_k(corner, node, settled.order, start, moments)
            first = np.searchsorted(moments, start[shown])
            course[:, column] = np.maximum.reduceat(rise, first) + self.base_c(corner)[node]
        return course

    def part_peaks_c(self, order: IntArray, start_s: FloatArray, part: PartNode) -> float:
        """How far a part is above what its limit leaves, in the worst corner; ≤ 0: it keeps it."""
        after = np.linspace(
            min(1.0, self.tuning.followed_s), self.tuning.followed_s, self.tuning.part_samples
        )
        worst = -np.inf
        for corner in self.situation.heat.bad_corners:
            near = self._near_steps(corner, part.node, order)
            moments = (start_s[near, None] + after).ravel()
            rise = self.part_k(corner, part.node, order, start_s, moments)
            spare = np.asarray([part.limit_c - float(self.base_c(corner)[part.node])])
            worst = max(
                worst, float(rise.max(initial=0.0)) - float(self._spare_k(corner, spare)[0])
            )
        return worst

    def cool_to_hold(
        self,
        order: IntArray,
        start_s: FloatArray,
        most_steps: int | None = None,
        handle_s: float | None = None,
    ) -> bool:
        """Whether the fingers find cool places in every bad corner.

        Looked at in as many steps as the verifier looks at, or in so many at most.
        """
        over = self._over_hold_k(
            self.situation.heat.bad_corners, order, start_s, most_steps, handle_s
        )
        return bool(over.max(initial=0.0) <= 0.0)

    def _over_hold_k(
        self,
        corners: Sequence[str],
        order: IntArray,
        start_s: FloatArray,
        most_steps: int | None,
        handle_s: float | None = None,
    ) -> FloatArray:
        """How far the fingers' places are above their limit at the steps looked at. [K]."""
        situation = self.situation
        ring, pace = situation.work.ring[order], situation.pace
        if handle_s is not None:
            pace = replace(pace, handle_s=handle_s)
        grips = lay_out_grips(
            situation.layout,
            situation.joins,
            ring,
            start_s,
            pace=pace,
            limits=situation.limits,
            most_steps=most_steps,
            tuning=situation.tuning.proof,
        )
        if grips is None or not situation.held:
            return np.zeros(0)
        limit_c = situation.limits.finger_limit_c - self.hold_margin_k
        over = np.full(grips.steps.shape[0], -np.inf)
        for corner in corners:
            table, base = self.table(corner), self.base_c(corner)
            welds = WeldTimes(len(table.node_class), ring, start_s)

            def warm(
                node: IntArray,
                at_s: FloatArray,
                table: KernelTable = table,
                base: FloatArray = base,
                welds: WeldTimes = welds,
            ) -> FloatArray:
                return base[node] + table.rises_k(welds, node, at_s)

            over = np.maximum(over, grips.at_fingers_c(warm) - limit_c + table.dropped_k)
        return over

    def promise_s(self, orders: IntArray) -> tuple[FloatArray, FloatArray]:
        """Reckon from some steps what orders take: without the fingers, and with them. [s].

        Orders that even without a wait take longer than what another promises are not looked at.
        """
        plain_s = np.asarray([self._plain(order)[1] for order in orders])
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

    def _plain(self, order: IntArray) -> tuple[FloatArray, float]:
        """Start and bench time of an order in which nobody waits. [s]."""
        start = np.cumsum(self.situation.work.gaps_s(order))
        return start, self.situation.work.bench_s(order, start)

    def _sampled_wait_s(self, order: IntArray) -> float:
        """Estimate the waiting that an order needs, from some of its steps. [s].

        What each of them would wait alone is too much where many wait, and an even pace at which
        none has to is too much where few do.
        """
        every = np.arange(order.shape[0], dtype=np.int32)
        some, start = spread(every, self.tuning.sampled_steps), self._plain(order)[0]
        hot = self.too_warm(order, start, some)
        total = waited = 0.0
        even = [0.0] if hot.size == 0 else []
        for wait_s in self.tuning.waits_s:
            total += hot.size * (wait_s - waited)
            waited = wait_s
            if hot.size:
                hot = self.too_warm(order, start, hot, wait_s)
            if not even and not self.too_warm(order, start + wait_s * (every + 1), some).size:
                even.append(wait_s * order.shape[0])
        alone = NEVER_S if hot.size else total * order.shape[0] / some.shape[0]
        return float(min(alone, *even, NEVER_S))

    def _sampled_hold_s(self, order: IntArray) -> float:
        """Estimate what the fingers cost, from some steps of an order without waits. [s]."""
        start, some = self._plain(order)[0], self.tuning.held_steps
        over = self._over_hold_k([self.lead], order, start, some)
        thinned = order.shape[0] / max(1, over.shape[0])
        warm = float(np.maximum(over, 0.0).sum())
        return float(self.situation.tuning.search.seconds_a_kelvin * thinned * warm)

    def settle_all(
        self,
        orders: IntArray,
        *,
        held: bool = True,
        most_s: float = np.inf,
        begun: Begun | None = None,
    ) -> list[Settled]:
        """Time several orders so that they keep all limits, one by one; see ``Clock``."""
        return [self._settle(order, most_s, held=held) for order in orders]

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
        return self._slow_down(found, most_s)

    @cached_property
    def _limits(self) -> Limits:
        """What the limits leave, with all margins."""
        near = np.zeros((len(self.watched), self.situation.work.joins), dtype=bool)
        corners = []
        for name in self.situation.heat.bad_corners:
            table, base, spare = self.table(name), self.base_c(name), []
            for number, part in enumerate(self.watched):
                near[number, self.alone_k(name, part.node)[0]] = True
                spare.append(part.limit_c - float(base[part.node]))
            finger_c = self.situation.limits.finger_limit_c - self.hold_margin_k - table.dropped_k
            corners.append(
                Corner(
                    table=table,
                    base_c=base,
                    join_k=self.spare_k[name],
                    part_k=self._spare_k(name, np.asarray(spare)),
                    finger_c=finger_c,
                )
            )
        return Limits(
            situation=self.situation, corners=tuple(corners), parts=self.watched, near=near
        )

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
            tuning=situation.tuning.proof,
        )
        over = self._over_hold_k(situation.heat.bad_corners, bare.order, bare.start_s, None)
        if grips is None or not (over > 0).any():
            return bare
        first = int(grips.steps[np.argmax(over > 0)])
        room_s = most_s - bare.bench_s + bare.waiting_s
        wait, fits = wait_forward(
            self._limits, bare.order, bare.wait_s, grips=grips, first=first, room_s=room_s
        )
        return self._timed(bare.order, wait, feasible=fits)

    def _timed(
        self, order: IntArray, wait_s: FloatArray, *, feasible: bool, even_pace: bool = False
    ) -> Settled:
        start = np.cumsum(self.situation.work.gaps_s(order) + wait_s)
        return Settled(
            order=order,
            start_s=start,
            wait_s=wait_s,
            bench_s=self.situation.work.bench_s(order, start),
            feasible=feasible,
            even_pace=even_pace,
        )

    def _settle_bare(self, order: IntArray, most_s: float) -> Settled:
        """Settle an order by waits in places or by an even pace, whichever is quicker."""
        none = np.zeros(order.shape[0])
        start, plain_s = self._plain(order)
        room_s = most_s - plain_s
        if room_s < 0:
            return self._timed(order, none, feasible=False)
        hot = self._find_hot(order, start)
        forward = order.shape[0] <= self.tuning.forward_joins
        if hot.size == 0 and not any(
            self.part_peaks_c(order, start, part) > 0 for part in self.watched
        ):
            return self._timed(order, none, feasible=True)
        if room_s < WAIT_STEP_S:
            return self._timed(order, none, feasible=False)
        if forward:
            wait, fits = wait_forward(self._limits, order, none, room_s=room_s)
            return self._timed(order, wait, feasible=fits)
        if hot.size == 0:
            return self._spare_parts(self._timed(order, none, feasible=True), most_s)
        wait, placed = self._place_waits(order, room_s)
        found = [self._timed(order, wait, feasible=placed)]
        every = np.arange(order.shape[0], dtype=np.int32)
        mean = np.cumsum(self.situation.work.gaps_s(order) + wait.mean())
        if not (placed and self.too_warm(order, mean, every).size):
            even = self._even_pace_s(order, room_s / order.shape[0])
            waits = np.full(order.shape[0], even)
            fits = even <= self.tuning.slowest_s
            found.append(self._timed(order, waits, feasible=fits, even_pace=True))
        best = min(found, key=lambda item: (not item.feasible, item.bench_s))
        return self._spare_parts(best, most_s) if best.feasible else best

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
            hot = self.too_warm(order, start_s, steps)
            if hot.size:
                few = order[hot[:: hot.size // self.tuning.suspects + 1]]
                self.memory.suspects = np.union1d(self.memory.suspects, few).astype(np.int32)
                return hot
        return every[:0]

    def _place_waits(self, order: IntArray, room_s: float) -> tuple[FloatArray, bool]:
        """Put waits before the joins that are too warm, all at once, again until none is.

        Given up when they come to more than ``room_s``.
        """
        gaps = self.situation.work.gaps_s(order)
        wait = np.zeros(order.shape[0])
        every = np.arange(order.shape[0], dtype=np.int32)
        for _ in range(self.tuning.wait_rounds):
            start = np.cumsum(gaps + wait)
            hot = self.too_warm(order, start, every)
            if hot.size == 0:
                return wait, True
            for later in self.tuning.waits_s:
                still = self.too_warm(order, start, hot, later)
                wait[np.setdiff1d(hot, still)] += later
                hot = still
                if hot.size == 0:
                    break
            wait[hot] += self.tuning.waits_s[-1]
            if wait.sum() > room_s:
                return wait, False
        return wait, self.too_warm(order, np.cumsum(gaps + wait), every).size == 0

    def _even_pace_s(self, order: IntArray, most_s: float) -> float:
        """Smallest even wait before every join that keeps all below the limit, by bisection. [s].

        Longer than ``tuning.slowest_s`` if there is none, or none up to ``most_s``.
        """
        gaps = self.situation.work.gaps_s(order)
        every = np.arange(order.shape[0], dtype=np.int32)
        hot = every[:0]

        def fits(wait_s: float) -> bool:
            nonlocal hot
            start = np.cumsum(gaps + wait_s)
            if self.too_warm(order, start, hot).size:  # those that were too warm before
                return False
            hot = self.too_warm(order, start, every)
            return hot.size == 0

        low, high = 0.0, self.tuning.waits_s[0]
        while not fits(high):
            low, high = high, 2 * high
            if low > most_s or high > self.tuning.slowest_s:
                return 2 * self.tuning.slowest_s
        for _ in range(self.tuning.halvings):
            middle = (low + high) / 2
            low, high = (low, middle) if fits(middle) else (middle, high)
        return high

    def _spare_parts(self, found: Settled, most_s: float) -> Settled:
        """Wait before every join next to a part until the part keeps its limit."""
        best = found
        for part in self.watched:
            near = self._near_steps(self.lead, part.node, best.order)
            for later in (0.0, *self.tuning.waits_s):
                wait = best.wait_s.copy()
                wait[near] += later
                trial = self._timed(best.order, wait, feasible=True, even_pace=best.even_pace)
                if trial.bench_s > most_s:
                    return replace(best, feasible=False)
                if self.part_peaks_c(trial.order, trial.start_s, part) <= 0:
                    best = trial
                    break
            else:
                return replace(best, feasible=False)
        return best

    def _slow_down(self, bare: Settled, most_s: float) -> Settled:
        """Weld at a slower even pace until the fingers find cool places.

        Waiting longer everywhere only cools what the other limits ask for.
        """
        wait_s = 0.0
        while wait_s <= self.tuning.slowest_s:
            trial = bare
            if wait_s:
                wait = bare.wait_s + wait_s
                trial = self._timed(bare.order, wait, feasible=True, even_pace=bare.even_pace)
            if trial.bench_s > most_s:
                return replace(bare, feasible=False)
            if all(
                self.cool_to_hold(trial.order, trial.start_s, most)
                for most in (self.tuning.held_steps, None)
            ):
                return trial
            wait_s = max(1.0, float(np.ceil(self.tuning.slower * wait_s)))
        return replace(bare, feasible=False)

    def begin(self, order: IntArray) -> Begun | None:
        """Keep nothing of a beginning: it does not help."""
        return None

    def needs_no_wait(self, order: IntArray, handle_s: float) -> bool:
        """Whether an order needs no wait at so many seconds a join."""
        start = np.cumsum(replace(self.situation.work, handle_s=handle_s).gaps_s(order))
        if self._find_hot(order, start).size:
            return False
        if any(self.part_peaks_c(order, start, part) > 0 for part in self.watched):
            return False
        return not self.situation.held or self.cool_to_hold(order, start, handle_s=handle_s)

    def with_margins(self, more_k: float, hold_more_k: float) -> SummedClock:
        """Keep back more: from the limits of joins and parts, and from the fingers'."""
        return replace(
            self,
            margin_k=self.margin_k + more_k,
            hold_margin_k=self.hold_margin_k + hold_more_k,
            memory=_Memory(),
        )

    def with_relief(self, relief: float) -> SummedClock:
        """Let every weld bring so many times less heat: the same as limits so much wider."""
        return replace(self, relief=relief, memory=_Memory())


def make_summed_clock(situation: Situation) -> SummedClock:
    """Make the clock of a large piece; its kernels are solved when they are first asked for."""
    margin = situation.tuning.clock.summed_margin_k
    clock = SummedClock(situation=situation, margin_k=margin, hold_margin_k=margin)
    return replace(clock, lead=find_lead(situation, clock))
