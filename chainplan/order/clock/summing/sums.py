"""Temperatures and limits of a large piece, summed from the kernels of the welds around a place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.thermal.kernels import WeldTimes
from chainplan.order.clock.protocol import Settled, keep_back, watch_parts
from chainplan.order.clock.summing.forward import Headroom, Limits
from chainplan.order.piece.hold import lay_out_grips

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.thermal.heat import PartNode
    from chainplan.model.thermal.kernels import KernelTable
    from chainplan.order.piece.hold import Grips, Temperatures
    from chainplan.order.piece.situation import Situation
    from chainplan.order.tuning import ClockTuning


@dataclass(frozen=True, kw_only=True)
class Sums:
    """What a piece's kernels say of an order, and what its limits leave, margins kept back."""

    situation: Situation
    margin_k: float
    hold_margin_k: float
    relief: float = 1.0

    @property
    def tuning(self) -> ClockTuning:
        """Numbers that trade time against goodness."""
        return self.situation.tuning.clock

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
            corner: self.left_k(
                corner, self.situation.interpass_c - self.base_c(corner)[self.situation.work.ring]
            )
            for corner in self.situation.heat.bad_corners
        }

    def left_k(self, corner: str, spare_k: FloatArray) -> FloatArray:
        """Less the margin, and what the kernels leave out. [K]."""
        return keep_back(spare_k - self.table(corner).dropped_k, self.margin_k) * self.relief

    @cached_property
    def watched(self) -> tuple[PartNode, ...]:
        """Parts that all welds at once would bring above their limits in some corner."""
        return watch_parts(self.situation, self.alone_k)

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
        peaks = peaks * table.share(near[inside][joins >= 0])
        return joins[joins >= 0], peaks.astype(np.float64)

    def felt_s(self, corner: str) -> float:
        """How long one weld is followed. [s]."""
        return float(self.table(corner).log_time_s[-1])

    def near_steps(self, corner: str, node: int, order: IntArray) -> IntArray:
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

    def over_part_k(self, order: IntArray, start_s: FloatArray, part: PartNode) -> float:
        """How far a part is above what its limit leaves, in the worst corner; ≤ 0: it keeps it."""
        after = np.linspace(
            min(1.0, self.tuning.followed_s), self.tuning.followed_s, self.tuning.part_samples
        )
        after = np.concatenate([self.tuning.soon_s, after])
        worst = -np.inf
        for corner in self.situation.heat.bad_corners:
            near = self.near_steps(corner, part.node, order)
            moments = (start_s[near, None] + after).ravel()
            rise = self.part_k(corner, part.node, order, start_s, moments)
            spare = np.asarray([part.limit_c - float(self.base_c(corner)[part.node])])
            worst = max(worst, float(rise.max(initial=0.0)) - float(self.left_k(corner, spare)[0]))
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
        grips = self._grips(order, start_s, most_steps, handle_s)
        if grips is None or not self.situation.held:
            return True
        return all(
            grips.cool(self._warm(corner, order, start_s), self._finger_c(corner))
            for corner in self.situation.heat.bad_corners
        )

    def over_hold_k(
        self,
        corners: Sequence[str],
        order: IntArray,
        start_s: FloatArray,
        most_steps: int | None,
    ) -> FloatArray:
        """How far the fingers' places are above their limit at the steps looked at. [K]."""
        grips = self._grips(order, start_s, most_steps, None)
        if grips is None or not self.situation.held:
            return np.zeros(0)
        over = np.full(grips.steps.shape[0], -np.inf)
        for corner in corners:
            most_c = self._finger_c(corner)
            warm = self._warm(corner, order, start_s)
            over = np.maximum(over, grips.at_fingers_c(warm, most_c) - most_c)
        return over

    def first_too_warm(self, grips: Grips, order: IntArray, start_s: FloatArray) -> int | None:
        """First step at which the fingers find nothing cool in some bad corner; None: nowhere.

        Looked for in ever longer stretches: where it comes early, the rest is not looked at.
        """
        corners = self.situation.heat.bad_corners
        warm = {corner: self._warm(corner, order, start_s) for corner in corners}
        begin, long = 0, self.tuning.first_stretch
        while begin < grips.steps.shape[0]:
            part = grips.part(slice(begin, min(begin + long, grips.steps.shape[0])))
            over = np.zeros(part.steps.shape[0], dtype=bool)
            for corner in corners:
                most_c = self._finger_c(corner)
                over |= part.at_fingers_c(warm[corner], most_c) > most_c
            if over.any():
                return int(part.steps[np.argmax(over)])
            begin, long = begin + long, 2 * long
        return None

    def _finger_c(self, corner: str) -> float:
        """Most that the fingers' places may be reckoned to have. [°C]."""
        kept_c = self.situation.limits.kept_finger_c - self.hold_margin_k
        return float(kept_c - self.table(corner).dropped_k)

    def _grips(
        self, order: IntArray, start_s: FloatArray, most_steps: int | None, handle_s: float | None
    ) -> Grips | None:
        situation = self.situation
        pace = situation.pace
        if handle_s is not None:
            pace = replace(pace, handle_s=handle_s)
        return lay_out_grips(
            situation.layout,
            situation.joins,
            situation.work.ring[order],
            start_s,
            pace=pace,
            limits=situation.limits,
            clip_ring=situation.work.clip_rings(order),
            most_steps=most_steps,
            tuning=situation.tuning.proof,
        )

    def _warm(self, corner: str, order: IntArray, start_s: FloatArray) -> Temperatures:
        """Temperatures of rings at moments of an order, in a corner."""
        heat = self.situation.heat
        table, base = self.table(corner), self.base_c(corner)
        welds = WeldTimes(len(table.node_class), self.situation.work.ring[order], start_s)
        own_k = heat.networks[corner].own_rise_k

        def warm(node: IntArray, at_s: FloatArray) -> FloatArray:
            rise = table.rises_k(welds, node, at_s)
            rise += heat.uneven.at_join_k(own_k, welds.layers[0], node, at_s)
            found: FloatArray = base[node] + rise
            return found

        return warm

    def plain(self, order: IntArray) -> tuple[FloatArray, float]:
        """Start and bench time of an order in which nobody waits. [s]."""
        start = np.cumsum(self.situation.work.gaps_s(order))
        return start, self.situation.work.bench_s(order, start)

    def timed(
        self, order: IntArray, wait_s: FloatArray, *, feasible: bool, even_pace: bool = False
    ) -> Settled:
        """Give an order its times, waits known."""
        start = np.cumsum(self.situation.work.gaps_s(order) + wait_s)
        return Settled(
            order=order,
            start_s=start,
            wait_s=wait_s,
            bench_s=self.situation.work.bench_s(order, start),
            feasible=feasible,
            even_pace=even_pace,
        )

    @cached_property
    def limits(self) -> Limits:
        """What the limits leave, with all margins."""
        near = np.zeros((len(self.watched), self.situation.work.joins), dtype=bool)
        corners = []
        for name in self.situation.heat.bad_corners:
            table, base, spare = self.table(name), self.base_c(name), []
            for number, part in enumerate(self.watched):
                near[number, self.alone_k(name, part.node)[0]] = True
                spare.append(part.limit_c - float(base[part.node]))
            finger_c = self.situation.limits.kept_finger_c - self.hold_margin_k - table.dropped_k
            corners.append(
                Headroom(
                    table=table,
                    base_c=base,
                    own_k=self.situation.heat.networks[name].own_rise_k,
                    join_k=self.spare_k[name],
                    part_k=self.left_k(name, np.asarray(spare)),
                    finger_c=finger_c,
                )
            )
        return Limits(
            situation=self.situation, corners=tuple(corners), parts=self.watched, near=near
        )
