"""Orders followed step by step through a piece's modes: how long they take, what gets warm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.work import HandWork


@dataclass(frozen=True, kw_only=True)
class Timed:
    """Orders with their start times. Arrays have one row an order."""

    start_s: FloatArray  # (b, m)
    wait_s: FloatArray  # (b, m)
    bench_s: FloatArray  # (b,)
    feasible: BoolArray  # (b,)


def time_by_modes(
    modes: Follower,
    work: HandWork,
    orders: IntArray,
    begun: Begun | None = None,
    most_s: float = np.inf,
) -> Timed:
    """Weld each join of each order at the first moment at which all limits allow it.

    ``begun``: all orders share a beginning that has been timed already. Orders that must take
    longer than ``most_s`` are given up on the way and count as infeasible.
    """
    orders = np.atleast_2d(np.asarray(orders, dtype=np.int32))
    rows, joins = orders.shape
    gaps = work.gaps_s(orders)
    least_s = gaps.sum(axis=1) + work.after_s[orders[:, -1]]
    wait = np.zeros(orders.shape)
    feasible = np.ones(rows, dtype=bool)
    state, first = modes.cold(rows), 0
    if begun is not None:
        first = begun.steps
        wait[:, :first] = begun.wait_s
        state = np.repeat(begun.state[None], rows, axis=0)
        least_s = least_s + begun.wait_s.sum()
    going = np.flatnonzero(least_s <= most_s)
    state = state[going]
    for step in range(first, joins):
        if going.size == 0:
            break
        room_s = None if np.isinf(most_s) else most_s - least_s[going]
        delay, state = modes.weld_next(state, orders[going, step], gaps[going, step], room_s)
        possible = np.isfinite(delay)
        feasible[going] &= possible
        wait[going, step] = np.where(possible, delay, 0.0)
        least_s[going] += wait[going, step] if room_s is None else delay
        quick = least_s[going] <= most_s
        if not quick.all():
            going, state = going[quick], state[quick]
    start = np.cumsum(gaps + wait, axis=1)
    return Timed(
        start_s=start, wait_s=wait, bench_s=least_s, feasible=feasible & (least_s <= most_s)
    )


@dataclass(frozen=True, kw_only=True)
class Begun:
    """The first steps of an order, timed: their waits, and the state just after the last weld."""

    steps: int
    wait_s: FloatArray
    state: FloatArray  # (c, n)


def list_beginnings(modes: Follower, work: HandWork, order: IntArray) -> list[Begun]:
    """Time one order and keep the state after every step; the k-th has k steps behind it."""
    gaps = work.gaps_s(order)
    wait = np.zeros(order.shape[0])
    state = modes.cold(1)
    out = [Begun(steps=0, wait_s=wait[:0], state=state[0])]
    for step in range(order.shape[0]):
        one = slice(step, step + 1)
        delay, state = modes.weld_next(state, order[one], gaps[one])
        wait[step] = delay[0] if np.isfinite(delay[0]) else 0.0
        out.append(Begun(steps=step + 1, wait_s=wait[: step + 1].copy(), state=state[0]))
    return out


def grip_temperatures_c(
    modes: Follower, work: HandWork, orders: IntArray, start_s: FloatArray, steps: IntArray
) -> FloatArray:
    """How warm the fingers' places are at some steps of timed orders: the worse side. [°C].

    Returns
    -------
    array, shape (b, k)
        The coolest place within reach; −inf where nothing is held.
    """
    gaps = np.diff(start_s, axis=1, prepend=0.0)
    warm = np.empty((orders.shape[0], steps.shape[0]))
    column = {step: number for number, step in enumerate(steps.tolist())}
    state = modes.cold(orders.shape[0])
    for step in range(orders.shape[1]):
        if step in column:
            warm[:, column[step]] = modes.warmest_held_c(state, orders[:, step], gaps[:, step])
        state = modes.fade(state, gaps[:, step]) + modes.weld[orders[:, step]]
    return warm


def keeps_limits(modes: Follower, work: HandWork, order: IntArray) -> bool:
    """Whether an order keeps all limits without any wait."""
    gaps = work.gaps_s(order)
    state = modes.cold(1)
    for step in range(order.shape[0]):
        one = slice(step, step + 1)
        if not modes.allows(state, order[one], gaps[one])[0]:
            return False
        state = modes.fade(state, gaps[one]) + modes.weld[order[one]]
    return True
