"""When each join of an order can be welded: waits only where a limit asks for one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.field import Field
    from chainplan.order.piece.work import Work


WAIT_STEP_S = 1.0
"""Waits are whole multiples of this, so that they can be counted out at the bench."""


@dataclass(frozen=True, kw_only=True)
class Caps:
    """How warm things may be, as a rise over the base temperature, in one corner. [K]."""

    field: Field
    join_k: FloatArray  # (m,) before its own weld
    part_node: IntArray  # (p,) the same in every corner
    part_k: FloatArray  # (p,) ever


@dataclass(frozen=True, kw_only=True)
class Timed:
    """Orders with their start times. Arrays have one row an order."""

    start_s: FloatArray  # (b, m)
    wait_s: FloatArray  # (b, m)
    bench_s: FloatArray  # (b,)
    feasible: BoolArray  # (b,)


def time_orders(work: Work, caps: Sequence[Caps], orders: IntArray) -> Timed:
    """Weld each join at the first moment at which the limits allow it, whoever holds the piece.

    Parameters
    ----------
    work : Work
        Joins and pace.
    caps : sequence of Caps
        One for every corner in which the limits must hold; empty: nobody waits.
    orders : array, shape (b, m)
        Orders to time.

    Returns
    -------
    Timed
        Start times and waits; infeasible orders are timed as if the limit were not there.
    """
    from chainplan.order.clock.follow import time_by_modes
    from chainplan.order.clock.follower import solve_modes

    orders = np.atleast_2d(np.asarray(orders, dtype=np.int32))
    if caps and work.joins:
        return time_by_modes(solve_modes(work, caps, None, np.inf), work, orders)
    start = np.cumsum(work.gaps_s(orders), axis=1)
    bench = start[:, -1] + work.after_s[orders[:, -1]] if work.joins else np.zeros(len(orders))
    return Timed(
        start_s=start,
        wait_s=np.zeros(orders.shape),
        bench_s=bench,
        feasible=np.ones(len(orders), dtype=bool),
    )
