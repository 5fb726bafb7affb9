"""All pieces of a batch: one piece cools while another is welded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from chainplan.model.order import BatchOrder, LimitKind
from chainplan.order.piece.hold import lay_out_grips
from chainplan.order.piece.ring_limits import list_ring_limits
from chainplan.order.proof.verify import ALLOWANCE_K
from chainplan.order.tuning import USUAL
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.heat import HeatModel
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout
    from chainplan.model.order import WeldOrder
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


@dataclass(frozen=True, kw_only=True)
class _Stints:
    """An order cut at the waits that are worth putting the piece down for."""

    first: IntArray  # step
    steps: IntArray
    seconds: FloatArray  # of work in the stint, small waits included
    rest_s: FloatArray  # wait before the stint


def _cut(order: WeldOrder, least_s: float) -> _Stints:
    cut = np.flatnonzero(order.wait_s >= least_s)
    cut = cut[cut > 0]
    first = np.concatenate([[0], cut]).astype(np.int32)
    ends = np.concatenate([first[1:], [order.ring.shape[0]]])
    rest = order.wait_s[first].copy()
    rest[0] = 0.0
    bounds = np.concatenate([order.start_s, [order.bench_time_s]])
    lead = order.start_s[0] if order.ring.size else 0.0
    begins = np.where(first == 0, 0.0, bounds[first] - lead)
    finish = np.concatenate([begins[1:] - rest[1:], [order.bench_time_s]])
    return _Stints(
        first=first, steps=(ends - first).astype(np.int32), seconds=finish - begins, rest_s=rest
    )


def order_batch(
    plans: Sequence[PlannedPiece],
    pace: PaceSettings,
    limits: HeatSettings | None = None,
    tuning: BatchTuning = USUAL.batch,
) -> BatchOrder:
    """Weld the pieces of a batch one after another, or one while another cools.

    Each order is cut into stints at the waits long enough to put the piece down and take it up
    again. Whoever is free welds on the piece whose rest is over and which has most left to do. A
    rest may become longer than planned; every piece is simulated again with its real times, and a
    piece that would break the limit of a ring, the fingers or a part is not interleaved.

    Parameters
    ----------
    plans : sequence of PiecePlan
        Pieces with their orders; ``piece.quantity`` copies of each.
    pace : PaceSettings
        Seconds to change pieces, and whether interleaving is wanted.
    limits : HeatSettings, optional
        Where the fingers hold and how warm they and rings may be; without it only parts are
        looked at.
    tuning : BatchTuning, optional
        How far interleaving goes.

    Returns
    -------
    BatchOrder
        Stints in the order of time.
    """
    plans = [plan for plan in plans if plan.order.ring.size]
    copies = [
        (index, copy) for index, plan in enumerate(plans) for copy in range(plan.piece.quantity)
    ]
    alone_s = sum(plans[index].order.bench_time_s for index, _ in copies)
    alone_s += pace.change_piece_s * max(0, len(copies) - 1)
    whole = [_cut(plan.order, np.inf) for plan in plans]
    plain = _run(plans, copies, whole, pace, alone_s, interleaved=False)
    if not pace.interleave or len(copies) < 2:
        return plain
    worth_s = tuning.worth_changes * pace.change_piece_s
    cut = [_cut(plan.order, worth_s) for plan in plans]
    if all(stints.first.size == 1 for stints in cut):
        return plain
    if sum(cut[index].first.size for index, _ in copies) > tuning.most_stints:
        return plain
    for _ in range(len(plans) + 1):
        mixed = _run(plans, copies, cut, pace, alone_s, interleaved=True)
        broken = _too_warm(plans, copies, cut, mixed, pace, limits, tuning)
        if not broken:
            break
        cut = [whole[k] if k in broken else stints for k, stints in enumerate(cut)]
    return mixed if not broken and mixed.bench_time_s < plain.bench_time_s - 1 else plain


def _run(
    plans: Sequence[PlannedPiece],
    copies: list[tuple[int, int]],
    cut: list[_Stints],
    pace: PaceSettings,
    alone_s: float,
    *,
    interleaved: bool,
) -> BatchOrder:
    """Work through all stints: always the ready piece with most left to do."""
    count = len(copies)
    place = np.zeros(count, dtype=int)
    ready = np.zeros(count)
    left = np.asarray([float((cut[k].seconds + cut[k].rest_s).sum()) for k, _ in copies])
    now, last = 0.0, -1
    rows: list[tuple[int, int, int, float]] = []
    while count and (left >= 0).any():
        open_ = left >= 0
        change = np.where((np.arange(count) == last) | (last < 0), 0.0, pace.change_piece_s)
        begin = np.maximum(ready, now + change)
        begin[~open_] = np.inf
        soonest = float(begin.min())
        tied = np.flatnonzero(begin <= soonest + 1e-9)
        pick = int(tied[np.argmax(left[tied])]) if interleaved else int(tied[0])
        stints, at = cut[copies[pick][0]], place[pick]
        rows.append((pick, int(stints.first[at]), int(stints.steps[at]), soonest))
        now, last = soonest + float(stints.seconds[at]), pick
        left[pick] -= float(stints.seconds[at] + stints.rest_s[at])
        place[pick] += 1
        if place[pick] == stints.first.size:
            left[pick] = -1.0
        else:
            left[pick] = max(left[pick], 0.0)
            ready[pick] = now + float(stints.rest_s[place[pick]])
    saved = alone_s - now
    note = (
        f"Welding on another piece while one cools saves {show_duration(saved)}."
        if interleaved and saved >= 1
        else "One piece after another: no wait is long enough to take up another piece."
    )
    if not pace.interleave:
        note = "One piece after another, as the bench settings ask."
    return BatchOrder(
        piece=tuple(plans[copies[row[0]][0]].piece.name for row in rows),
        copy=np.asarray([copies[row[0]][1] + 1 for row in rows], dtype=np.int32),
        first_step=np.asarray([row[1] for row in rows], dtype=np.int32),
        steps=np.asarray([row[2] for row in rows], dtype=np.int32),
        start_s=np.asarray([row[3] for row in rows]),
        bench_time_s=now,
        one_after_another_s=alone_s,
        interleaved=interleaved,
        note=note,
    )


def _too_warm(
    plans: Sequence[PlannedPiece],
    copies: list[tuple[int, int]],
    cut: list[_Stints],
    batch: BatchOrder,
    pace: PaceSettings,
    limits: HeatSettings | None,
    tuning: BatchTuning,
) -> set[int]:
    """Pieces whose limits the real times break: warmer than in their own order and than allowed."""
    broken: set[int] = set()
    for index, copy in copies:
        plan, stints = plans[index], cut[index]
        if index in broken or stints.first.size == 1:
            continue
        order = plan.order
        if order.ring.size > tuning.most_checked:
            broken.add(index)
            continue
        mine = [
            k
            for k, (name, number) in enumerate(zip(batch.piece, batch.copy.tolist(), strict=True))
            if name == plan.piece.name and number == copy + 1
        ]
        begun = batch.start_s[mine]
        shift = np.repeat(
            begun - (order.start_s[stints.first] - order.start_s[0]),
            stints.steps,
        )
        start_s = order.start_s + shift
        if _is_warmer(plan, start_s, pace, limits):
            broken.add(index)
    return broken


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
        grips = lay_out_grips(
            plan.layout, plan.joins, order.ring, start_s, pace=pace, limits=limits
        )

    rings = () if limits is None else list_ring_limits(heat, limits)

    def over(name: str, warm_c: float) -> bool:
        return warm_c > allowed_c.get(name, np.inf) + ALLOWANCE_K

    for corner in heat.bad_corners:

        def warm(node: IntArray, at_s: FloatArray, corner: str = corner) -> FloatArray:
            return heat.temperatures_c(corner, order.ring, start_s, node, at_s)

        run = heat.simulate(corner, order.ring, start_s)
        held_c = float(grips.at_fingers_c(warm).max()) if grips is not None else -np.inf
        if over(str(LimitKind.FINGERS), held_c):
            return True
        for item in rings:
            limited = np.isfinite(item.limit_c[order.ring])
            if over(item.name, float(run.before_c[limited].max(initial=-np.inf))):
                return True
        if any(over(part.name, float(run.peak_c[part.node])) for part in heat.parts):
            return True
    return False
