"""Everything an order is judged by, in one place: joins, pace, limits, kernels, fingers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.clock.field import before_k, build_field
from chainplan.order.clock.follow import time_by_modes
from chainplan.order.clock.follower import Modes, solve_modes
from chainplan.order.clock.timing import Caps
from chainplan.order.piece.grid import Grid, lay_out_grid
from chainplan.order.piece.hold import Hold, lay_out_hold
from chainplan.order.piece.work import Work, lay_out_work

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.heat import HeatModel, PartNode
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout
    from chainplan.model.order import WeldSetting
    from chainplan.order.clock.field import Field
    from chainplan.order.clock.follow import Begun


MARGIN_K = 0.02
"""Kept back from every limit for looking at parts at some instants only, and for rounding."""
MOST_SEARCHED = 150
"""Up to so many joins orders are searched for, and timed by the network's own modes."""


@dataclass(frozen=True, kw_only=True)
class Settled:
    """One order with its times: every limit kept, if ``feasible``."""

    order: IntArray
    start_s: FloatArray
    wait_s: FloatArray
    bench_s: float
    feasible: bool
    held: bool = True  # whether the fingers' limit was kept too

    @property
    def waiting_s(self) -> float:
        """All waits together, in seconds."""
        return float(self.wait_s.sum())


@dataclass(frozen=True, kw_only=True)
class Situation:
    """A piece as the order stage sees it."""

    layout: Layout
    joins: Joins
    heat: HeatModel
    work: Work
    grid: Grid
    fields: tuple[Field, ...]  # the bad corners
    hold: Hold | None
    pace: PaceSettings
    limits: HeatSettings
    seed: int
    leading: int  # the corner that the search looks at; the end result is judged in all
    margin_k: float = MARGIN_K
    hold_margin_k: float = MARGIN_K

    def caps(
        self,
        *,
        margin: bool = True,
        relief: float = 1.0,
        leading: bool = False,
    ) -> list[Caps]:
        """Rises that the limits leave in every bad corner; ``relief`` > 1 for less heat a weld.

        Parts that all welds at once would leave below their limits are not watched.
        """
        out = []
        watched = self.watched_parts
        for field in [self.fields[self.leading]] if leading else self.fields:
            node = np.asarray([part.node for part in watched], dtype=np.int32)
            limit = np.asarray([part.limit_c for part in watched], dtype=float)
            back = self.margin_k if margin else 0.0
            join = self.limits.highest_interpass_c - field.base_c[self.work.ring]
            part = limit - field.base_c[node]
            out.append(
                Caps(
                    field=field,
                    join_k=np.where(join > 0, np.maximum(join - back, join / 2), join) * relief,
                    part_node=node,
                    part_k=np.where(part > 0, np.maximum(part - back, part / 2), part) * relief,
                )
            )
        return out

    @cached_property
    def watched_parts(self) -> tuple[PartNode, ...]:
        """Parts that all welds at once would bring above their limits in some corner."""
        return tuple(
            part
            for part in self.heat.parts
            if any(
                float(field.peaks_k(part.node).sum()) > part.limit_c - field.base_c[part.node]
                for field in self.fields
            )
        )

    @cached_property
    def modes(self) -> Modes:
        """The solved network in all bad corners, with the limits."""
        limit = self.limits.finger_limit_c - self.hold_margin_k
        return solve_modes(self.work, self.caps(), self.hold, limit)

    @cached_property
    def quick_modes(self) -> Modes:
        """The same in the leading corner alone."""
        return self.modes.only(self.leading)

    def settle_all(
        self,
        orders: IntArray,
        *,
        held: bool = True,
        most_s: float = np.inf,
        begun: Begun | None = None,
    ) -> list[Settled]:
        """Time several orders side by side so that they keep all limits.

        Not ``held``: a yardstick only, without the fingers. Orders that take longer than
        ``most_s`` are given up and come back as infeasible. ``begun``: a beginning that all of
        them share, timed already.
        """
        modes = self.modes if held else self.modes.bare()
        timed = time_by_modes(modes, self.work, orders, begun, most_s=most_s)
        return [
            Settled(
                order=np.asarray(order, dtype=np.int32),
                start_s=timed.start_s[row],
                wait_s=timed.wait_s[row],
                bench_s=float(timed.bench_s[row]),
                feasible=bool(timed.feasible[row]),
                held=held or self.hold is None,
            )
            for row, order in enumerate(orders)
        ]

    def settle(self, order: IntArray, *, held: bool = True) -> Settled:
        """Time one order so that it keeps all limits, fingers included.

        Not ``held``: a yardstick only, without the fingers.
        """
        return self.settle_all(np.asarray(order)[None, :], held=held)[0]

    def warmest_c(self, order: IntArray, start_s: FloatArray) -> float:
        """Warmest interpass temperature at the bad end, by the modes. [°C]."""
        node = self.work.ring[order]
        return max(
            float(np.max(field.base_c[node] + before_k(field, order, start_s)))
            for field in self.fields
        )

    def warmest_without_waits_c(self, order: IntArray) -> float:
        """Warmest interpass temperature if nobody waited. [°C]."""
        return self.warmest_c(order, np.cumsum(self.work.gaps_s(order)))

    def with_margins(self, more_k: float, hold_more_k: float) -> Situation:
        """Keep back more: from the limits of joins and parts, and from the fingers'."""
        return replace(
            self,
            margin_k=self.margin_k + more_k,
            hold_margin_k=self.hold_margin_k + hold_more_k,
        )


def take_stock(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    seed: int,
) -> Situation:
    """Gather what an order is judged by."""
    work = lay_out_work(layout, joins, settings, pace)
    grid = lay_out_grid(layout, work)
    fields = tuple(build_field(heat, corner, work) for corner in heat.bad_corners)
    leading = _worst_corner(fields, work)
    return Situation(
        layout=layout,
        joins=joins,
        heat=heat,
        work=work,
        grid=grid,
        fields=fields,
        hold=lay_out_hold(layout, work, limits, pace.fingertip_mm),
        pace=pace,
        limits=limits,
        seed=seed,
        leading=leading,
    )


def _worst_corner(fields: Sequence[Field], work: Work) -> int:
    """Find the corner in which every other join, then the rest, come out warmest."""
    every = np.arange(work.joins, dtype=np.int32)
    order = np.concatenate([every[::2], every[1::2]])
    start = np.cumsum(work.gaps_s(order))
    warm = [
        float(np.max(field.base_c[work.ring[order]] + before_k(field, order, start)))
        for field in fields
    ]
    return int(np.argmax(warm))
