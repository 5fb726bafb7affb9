"""What is still warm from the last welds when a job is planned again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.public.replanning.rest import pace_at_bench
from chainplan.units import show_wait

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.job import Job
    from chainplan.model.plan import PiecePlan
    from chainplan.model.workshop.record import KnownPlan
    from chainplan.record.kept.store import Record
    from chainplan.record.rest import PieceState

WARM_FOR_S = 900.0
"""Welds of so many seconds ago are simulated: a piece has cooled by then to a few kelvins."""


@dataclass(frozen=True, kw_only=True)
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


def say_warm(
    recent: Recent | None,
    pieces: Sequence[PiecePlan],
    states: Mapping[str, PieceState],
    job: Job,
) -> tuple[str, ...]:
    """Say how long a copy that is still warm has to cool before its next join."""
    if recent is None:
        return ()
    piece = next((p for p in pieces if p.piece.name == recent.piece), None)
    state = states.get(recent.piece)
    if piece is None or state is None or recent.copy > len(state.done):
        return ()
    order = piece.order
    left = ~state.done[recent.copy - 1][order.ring]
    if not left.any():
        return ()
    wait_s = _cooling_s(recent, piece, job, left)
    copies = piece.piece.quantity
    which = f"{recent.piece}, copy {recent.copy}" if copies > 1 else recent.piece
    last = f"The last weld was at {recent.told_at}, on {which}"
    if wait_s <= 0:
        return (f"{last}: its heat, simulated, breaks no limit; go on at once.",)
    return (
        f"{last}: let it cool {show_wait(wait_s)} before the next join; the heat of the welds of "
        f"the last {WARM_FOR_S / 60:.0f} min was simulated, at the bad end.",
    )


def _cooling_s(recent: Recent, piece: PiecePlan, job: Job, left: np.ndarray) -> float:
    from chainplan.estimate import first_settings
    from chainplan.order import Before, begin_after_s

    order = piece.order
    pace = pace_at_bench(order, job)
    ring = order.ring[left]
    open_now = np.zeros(piece.layout.rings, dtype=bool)
    open_now[ring] = True
    start_s = order.start_s[left] - order.start_s[left][0] + pace.handle_s
    return begin_after_s(
        piece.layout,
        replace(piece.joins, welded=~open_now & ~piece.joins.pre_closed),
        piece.heat,
        Before(
            ring=recent.ring,
            at_s=recent.at_s - recent.at_s[0],
            ago_s=recent.now_s - float(recent.at_s[-1]),
        ),
        ring,
        start_s,
        settings=[line.setting for line in first_settings(job, piece.layout)],
        pace=pace,
        limits=job.bench.heat,
        seed=order.seed,
    )
