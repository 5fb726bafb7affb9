"""The clock of small and middling pieces: weld by weld, by the network's own modes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.clock.field import Caps, before_k, build_field, highest_after_k
from chainplan.order.clock.follow import keeps_limits, list_beginnings, time_by_modes
from chainplan.order.clock.promise import HeldWork, time_bare, time_held
from chainplan.order.clock.protocol import (
    IN_FULL,
    Settled,
    Settling,
    find_lead,
    keep_back,
    watch_parts,
)
from chainplan.order.clock.solved import solve_modes
from chainplan.order.piece.hold import lay_out_hold

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.thermal.heat import PartNode
    from chainplan.order.clock.field import Field
    from chainplan.order.clock.follow import Begun
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.hold import Hold
    from chainplan.order.piece.situation import Situation


@dataclass(frozen=True, kw_only=True)
class ExactClock:
    """See ``Clock``."""

    situation: Situation
    fields: tuple[Field, ...]  # the bad corners
    hold: Hold | None
    lead: str = ""
    margin_k: float
    hold_margin_k: float
    relief: float = 1.0
    follows: bool = True
    most_settled: float = np.inf

    @cached_property
    def watched(self) -> tuple[PartNode, ...]:
        """Parts that all welds at once would bring above their limits in some corner."""
        return watch_parts(self.situation, self.alone_k)

    def caps(self, *, margin: bool = False) -> list[Caps]:
        """Rises that the limits leave in every bad corner.

        Parts that all welds at once would leave below their limits are not watched.
        """
        node = np.asarray([part.node for part in self.watched], dtype=np.int32)
        limit = np.asarray([part.limit_c for part in self.watched], dtype=float)
        back = self.margin_k if margin else 0.0
        out = []
        for field in self.fields:
            join = self.situation.interpass_c - field.base_c[self.situation.work.ring]
            part = limit - field.base_c[node]
            out.append(
                Caps(
                    field=field,
                    join_k=keep_back(join, back) * self.relief,
                    part_node=node,
                    part_k=keep_back(part, back) * self.relief,
                )
            )
        return out

    @cached_property
    def follower(self) -> Follower:
        """The solved network in all bad corners, with the limits."""
        situation = self.situation
        limit = situation.limits.kept_finger_c - self.hold_margin_k
        caps = self.caps(margin=True)
        return solve_modes(
            situation.work, caps, self.hold, limit, situation.tuning.clock, situation.heat.uneven
        )

    @cached_property
    def quick(self) -> Follower:
        """The same in the leading corner alone."""
        return self.follower.only(self.situation.heat.bad_corners.index(self.lead))

    def before_c(
        self, corner: str, order: IntArray, start_s: FloatArray, steps: IntArray | None = None
    ) -> FloatArray:
        """Temperature of each ring (or those of some steps) just before its weld. [°C]."""
        field = self._field(corner)
        node = self.situation.work.ring[order]
        warm: FloatArray = field.base_c[node] + before_k(field, order, start_s)
        return warm if steps is None else warm[steps]

    def _field(self, corner: str) -> Field:
        return self.fields[self.situation.heat.bad_corners.index(corner)]

    def alone_k(self, corner: str, node: int) -> tuple[IntArray, FloatArray]:
        """Every join, and the highest rise at a node after each one's weld alone. [K]."""
        every = np.arange(self.situation.work.joins, dtype=np.int32)
        return every, self._field(corner).peaks_k(node)

    def felt_s(self, corner: str) -> float:
        """How long one weld is followed. [s]."""
        return self._field(corner).window_s

    def course_c(
        self, corner: str, settled: Settled, nodes: IntArray, shown: IntArray
    ) -> FloatArray:
        """Highest temperature of nodes from each step shown to the next, (steps, nodes). [°C]."""
        field = self._field(corner)
        highest = highest_after_k(field, settled.order, settled.start_s, nodes)
        course: FloatArray = np.maximum.reduceat(highest + field.base_c[nodes], shown, axis=0)
        return course

    def promise_s(self, orders: IntArray) -> tuple[FloatArray, FloatArray]:
        """Time orders in the leading corner: without the fingers, and with what they cost. [s]."""
        tuning, work = self.situation.tuning.search, self.situation.work
        start_s, bare_s = time_bare(self.quick, work, orders, tuning)
        if self.hold is None:
            return bare_s, bare_s
        limit_c = self.situation.limits.kept_finger_c
        by = HeldWork(self.quick, work, limit_c, tuning)
        return bare_s, time_held(by, orders, (start_s, bare_s))

    def settle_all(self, orders: IntArray, how: Settling = IN_FULL) -> list[Settled]:
        """Time several orders side by side so that they keep all limits; see ``Clock``."""
        modes = self.follower if how.held else self.follower.bare()
        timed = time_by_modes(modes, self.situation.work, orders, how.begun, most_s=how.most_s)
        return [
            Settled(
                order=np.asarray(order, dtype=np.int32),
                start_s=timed.start_s[row],
                wait_s=timed.wait_s[row],
                bench_s=float(timed.bench_s[row]),
                feasible=bool(timed.feasible[row]),
                held=how.held or self.hold is None,
            )
            for row, order in enumerate(orders)
        ]

    def begin(self, order: IntArray) -> Begun | None:
        """Time the beginning of an order once for all that share it."""
        return list_beginnings(self.follower, self.situation.work, order)[-1]

    def needs_no_wait(self, order: IntArray, handle_s: float) -> bool:
        """Whether an order needs no wait at so many seconds a join."""
        work = replace(self.situation.work, handle_s=handle_s)
        follower = replace(self.follower, handle_s=handle_s)  # the fingers hold on for longer too
        return keeps_limits(follower, work, order)

    def with_margins(self, more_k: float, hold_more_k: float) -> ExactClock:
        """Keep back more: from the limits of joins and parts, and from the fingers'."""
        return replace(
            self,
            margin_k=self.margin_k + more_k,
            hold_margin_k=self.hold_margin_k + hold_more_k,
        )

    def with_relief(self, relief: float) -> ExactClock:
        """Let every weld bring so many times less heat: the same as limits so much wider."""
        return replace(self, relief=relief)


def make_exact_clock(situation: Situation) -> ExactClock:
    """Solve a piece's network in every bad corner."""
    tuning = situation.tuning.clock
    fields = tuple(
        build_field(situation.heat, corner, situation.work, tuning)
        for corner in situation.heat.bad_corners
    )
    patches = situation.patches
    hold = None if patches is None else lay_out_hold(patches, situation.work, situation.limits)
    clock = ExactClock(
        situation=situation,
        fields=fields,
        hold=hold,
        margin_k=tuning.margin_k,
        hold_margin_k=tuning.margin_k,
    )
    return replace(clock, lead=find_lead(situation, clock.before_c))
