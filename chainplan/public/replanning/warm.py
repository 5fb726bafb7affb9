"""What is still warm from the last welds when a job is planned again."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.public.replanning.rest import pace_at_bench
from chainplan.units import show_wait

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.job import Job
    from chainplan.model.order import WeldOrder
    from chainplan.model.piece.joins import Joins
    from chainplan.model.plan import PiecePlan
    from chainplan.model.workshop.record import KnownPlan
    from chainplan.order import Before
    from chainplan.record.kept.store import Record
    from chainplan.record.rest import PieceState

WARM_FOR_S = 900.0
"""Welds of so many seconds ago are simulated: a piece has cooled by then to a few kelvins."""


@frozen
class Recent:
    """The last welds of one copy of a piece."""

    piece: str
    copy: int
    ring: IntArray  # from 0
    at_s: FloatArray  # seconds since 1970
    told_at: str  # the last of them, as it was told
    now_s: float


def recent_welds(record: Record, whole: KnownPlan, now: datetime.datetime | None) -> Recent | None:
    """Find the welds of the last minutes, on the copy that was welded last; None if it is cold."""
    import datetime

    now_s = (now or datetime.datetime.now()).timestamp()
    rows = record.rows(
        "SELECT e.piece, e.copy, e.ring, e.at_s, e.at FROM event_now AS e JOIN plan AS p "
        "ON p.key = e.plan WHERE p.root = ? AND e.kind IN ('done', 'again') AND e.at_s > ? "
        "AND e.at_s <= ? ORDER BY e.at_s, e.seq",
        (whole.root or whole.key, now_s - WARM_FOR_S, now_s),
    )
    if not rows:
        return None
    piece, copy = rows[-1][:2]
    own = [row for row in rows if row[:2] == (piece, copy)]
    return Recent(
        piece=piece,
        copy=copy,
        ring=np.array([row[2] - 1 for row in own], dtype=np.int32),
        at_s=np.array([row[3] for row in own], dtype=float),
        told_at=own[-1][4],
        now_s=now_s,
    )


def begun_warm(
    recent: Recent | None, piece: PiecePlan, order: WeldOrder, job: Job
) -> tuple[WeldOrder, str]:
    """Begin what is left of the only copy of a piece from the heat of the last welds.

    Returns
    -------
    tuple of WeldOrder and str
        The order with its first wait as long as that heat asks for, its rings as warm as they are;
        and what is said of it: "" if the piece is cold.
    """
    from chainplan.estimate import first_settings
    from chainplan.order import begin_warm

    ring = order.ring
    if recent is None or recent.piece != piece.piece.name or not len(ring):
        return order, ""
    if piece.piece.quantity > 1:  # its copies share one order: the turn of this copy begins later
        return order, ""
    begun = begin_warm(
        piece.layout, _only(piece, ring), piece.heat, _before(recent), ring, order.start_s,
        order.wait_s, settings=[line.setting for line in first_settings(job, piece.layout)],
        pace=pace_at_bench(order, job), limits=job.bench.heat, seed=order.seed,
    )  # fmt: skip
    later_s = begun.begin_after_s
    if later_s <= 0:
        return order, _say(recent, piece, 0.0)
    first = order.passes[0]
    rows_s = order.start_s if order.row_start_s is None else order.row_start_s
    row_wait_s = (order.wait_s if order.row_wait_s is None else order.row_wait_s).copy()
    row_wait_s[0] += later_s
    limit = order.wait_limit
    order = replace(
        order,
        start_s=begun.start_s,
        wait_s=begun.wait_s,
        row_start_s=rows_s + later_s,
        row_wait_s=row_wait_s,
        wait_limit=np.full(len(ring), -1, dtype=np.int32) if limit is None else limit,
        interpass_low_c=np.maximum(order.interpass_low_c, begun.low_c),
        interpass_usual_c=np.maximum(order.interpass_usual_c, begun.usual_c),
        interpass_high_c=np.maximum(order.interpass_high_c, begun.high_c),
        passes=(
            replace(first, seconds=first.seconds + later_s, wait_s=first.wait_s + later_s),
            *order.passes[1:],
        ),
        bench_time_s=order.bench_time_s + later_s,
        free_time_s=order.free_time_s + later_s,
    )
    return order, _say(recent, piece, later_s)


def cooling_s(
    recent: Recent | None,
    pieces: Sequence[PiecePlan],
    states: Mapping[str, PieceState],
    job: Job,
) -> tuple[float, str]:
    """Seconds until the copy welded last, one of several, may go on, and what is said of it."""
    piece = next((p for p in pieces if recent is not None and p.piece.name == recent.piece), None)
    state = None if recent is None else states.get(recent.piece)
    if recent is None or piece is None or state is None or piece.piece.quantity < 2:
        return 0.0, ""
    left = np.ones(len(piece.order.ring), dtype=bool)
    if recent.copy <= len(state.done):
        left = ~state.done[recent.copy - 1][piece.order.ring]
    if not left.any():
        return 0.0, ""
    wait_s = _cooling_s(recent, piece, job, left)
    return wait_s, _say(recent, piece, wait_s)


def _say(recent: Recent, piece: PiecePlan, wait_s: float) -> str:
    which = recent.piece
    if piece.piece.quantity > 1:
        which = f"{recent.piece}, copy {recent.copy}"
    last = f"The last weld was at {recent.told_at}, on {which}"
    if wait_s <= 0:
        return f"{last}: its heat, simulated, breaks no limit; go on at once."
    return (
        f"{last}: let it cool {show_wait(wait_s)} before the next join; the heat of the welds of "
        f"the last {WARM_FOR_S / 60:.0f} min was simulated, at the bad end."
    )


def _before(recent: Recent) -> Before:
    from chainplan.order import Before

    ago_s = recent.now_s - float(recent.at_s[-1])
    return Before(ring=recent.ring, at_s=recent.at_s - recent.at_s[0], ago_s=ago_s)


def _only(piece: PiecePlan, ring: IntArray) -> Joins:
    """Take all joins as welded but some."""
    open_now = np.zeros(piece.layout.rings, dtype=bool)
    open_now[ring] = True
    return replace(piece.joins, welded=~open_now & ~piece.joins.pre_closed)


def _cooling_s(recent: Recent, piece: PiecePlan, job: Job, left: BoolArray) -> float:
    from chainplan.estimate import first_settings
    from chainplan.order import begin_after_s

    order = piece.order
    pace = pace_at_bench(order, job)
    ring = order.ring[left]
    start_s = order.start_s[left] - order.start_s[left][0] + pace.handle_s
    return begin_after_s(
        piece.layout, _only(piece, ring), piece.heat, _before(recent), ring, start_s,
        settings=[line.setting for line in first_settings(job, piece.layout)], pace=pace,
        limits=job.bench.heat, seed=order.seed,
    )  # fmt: skip
