"""An order cut into stints between which a piece is put down, and the proof that it may be."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np

from chainplan.model.order import LimitKind
from chainplan.model.workshop.schedule import Stints
from chainplan.order.piece.hold import lay_out_grips
from chainplan.order.piece.ring_limits import list_ring_limits
from chainplan.order.proof.verify import ALLOWANCE_K
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.groups import HeatSettings, PaceSettings
    from chainplan.model.order import BatchOrder, WeldOrder
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.heat import HeatModel
    from chainplan.order.tuning import BatchTuning


class _Wanted(Protocol):
    """What is needed of a piece: its name and how many copies."""

    @property
    def name(self) -> str:
        """What the user calls it."""

    @property
    def quantity(self) -> int:
        """How many copies."""


class PlannedPiece(Protocol):
    """A piece with its heat model and order, such as ``model.plan.PiecePlan``."""

    @property
    def piece(self) -> _Wanted:
        """What is wanted."""

    @property
    def layout(self) -> Layout:
        """Where its rings are."""

    @property
    def joins(self) -> Joins:
        """Where its joins are."""

    @property
    def heat(self) -> HeatModel:
        """How welds warm it."""

    @property
    def order(self) -> WeldOrder:
        """Order of one copy."""


def cut_order(
    order: WeldOrder,
    pace: PaceSettings,
    *,
    whole: bool = False,
    tuning: BatchTuning = USUAL.batch,
) -> Stints:
    """Cut an order at the waits that are worth putting the piece down for.

    A stint that would be too short to take the piece up for stays with the one before it.

    Parameters
    ----------
    order : WeldOrder
        The order of one copy.
    pace : PaceSettings
        Seconds to change pieces.
    whole : bool
        Do not cut: the copy is welded in one go.
    tuning : BatchTuning, optional
        What a wait and a stint have to be worth.
    """
    least_s = tuning.worth_changes * pace.change_piece_s
    cut = np.flatnonzero(order.wait_s >= least_s)
    cut = cut[cut > 0]
    if whole or order.ring.size > tuning.most_checked or cut.size > tuning.most_stints:
        cut = cut[:0]
    bounds = np.concatenate([order.start_s, [order.bench_time_s]])
    lead = order.start_s[0] if order.ring.size else 0.0
    kept: list[int] = []
    nexts = [*cut[1:].tolist(), order.ring.size][: cut.size]
    for step, after in zip(cut.tolist(), nexts, strict=True):
        rest_s = order.wait_s[after] if after < order.ring.size else 0.0
        long_s = bounds[after] - rest_s - bounds[step]
        if long_s >= least_s:
            kept.append(step)
    first = np.concatenate([[0], kept]).astype(np.int32)
    ends = np.concatenate([first[1:], [order.ring.size]])
    rest = order.wait_s[first].copy() if order.ring.size else np.zeros(1)
    rest[0] = 0.0
    begins = np.where(first == 0, 0.0, bounds[first] - lead)
    finish = np.concatenate([begins[1:] - rest[1:], [order.bench_time_s]])
    return Stints(
        first_step=first,
        steps=(ends - first).astype(np.int32),
        seconds=finish - begins,
        rest_s=rest,
    )


def warm_pieces(
    plans: Sequence[PlannedPiece],
    batch: BatchOrder,
    pace: PaceSettings,
    limits: HeatSettings | None,
) -> frozenset[str]:
    """Name the pieces whose limits the real times of a batch break.

    A rest may become longer than planned, or the steps after it fall at another distance; every
    copy that is put down between stints is simulated with its real times. Broken means: warmer than
    allowed, and than in its own order.

    Parameters
    ----------
    plans : sequence of PiecePlan
        Pieces with their orders.
    batch : BatchOrder
        The turns of welding.
    pace : PaceSettings
        The pace of the hand.
    limits : HeatSettings or None
        Where the fingers hold and how warm they and rings may be; without it only parts are
        looked at.
    """
    found: set[str] = set()
    names = np.asarray(batch.piece)
    for plan in plans:
        order, name = plan.order, plan.piece.name
        mine = np.flatnonzero(names == name) if names.size else np.zeros(0, dtype=int)
        for copy in np.unique(batch.copy[mine]).tolist():
            own = mine[batch.copy[mine] == copy]
            if own.size < 2 or name in found:
                continue
            first = batch.first_step[own]
            begun = batch.start_s[own]
            planned = order.start_s[first] - order.start_s[0]
            shift = np.repeat(begun - planned, batch.steps[own])
            if _is_warmer(plan, order.start_s + shift, pace, limits):
                found.add(name)
    return frozenset(found)


def _is_warmer(
    plan: PlannedPiece, start_s: FloatArray, pace: PaceSettings, limits: HeatSettings | None
) -> bool:
    """Whether a piece at other times gets warmer than allowed, and than in its own order."""
    order, heat = plan.order, plan.heat
    allowed_c = {
        item.name: item.limit_c if item.holds else max(item.limit_c, item.high_c)
        for item in order.limits
    }
    grips = None
    if limits is not None:
        earthing = order.earthing
        grips = lay_out_grips(
            plan.layout,
            plan.joins,
            order.ring,
            start_s,
            pace=pace if earthing is None else earthing.pace_of(pace),
            limits=limits,
            clip_ring=None if earthing is None else earthing.clip_ring,
        )

    rings = () if limits is None else list_ring_limits(heat, limits)

    def over(name: str, warm_c: float) -> bool:
        return warm_c > allowed_c.get(name, np.inf) + ALLOWANCE_K

    fingers_c = allowed_c.get(str(LimitKind.FINGERS), np.inf)
    parts = [part.node for part in heat.parts]
    for corner in heat.bad_corners:

        def warm(node: IntArray, at_s: FloatArray, corner: str = corner) -> FloatArray:
            return heat.touched_c(corner, order.ring, start_s, node, at_s)

        run = heat.simulate(corner, order.ring, start_s, peaks_of=parts)
        held_c = float(grips.at_fingers_c(warm, fingers_c).max()) if grips is not None else -np.inf
        if over(str(LimitKind.FINGERS), held_c):
            return True
        for item in rings:
            limited = np.isfinite(item.limit_c[order.ring])
            if over(item.name, float(run.before_c[limited].max(initial=-np.inf))):
                return True
        if any(over(part.name, float(run.peak_c[part.node])) for part in heat.parts):
            return True
    return False
