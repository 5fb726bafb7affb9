"""Orders followed step by step through a piece's modes: how long they take, what gets warm."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.clock.waits import wait_beyond_s

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.work import HandWork


@frozen
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
    kept: FloatArray | None = None,
) -> Timed:
    """Weld each join of each order at the first moment at which all limits allow it.

    Most joins need no wait. So every order is followed for some steps as if none did, all those
    steps are asked together whether the limits allow them, and the first that they do not allow is
    put off. How far ahead that goes follows what came of it so far.

    ``begun``: all orders share a beginning that has been timed already. Orders that must take
    longer than ``most_s`` are given up on the way and count as infeasible. ``kept``, shape
    (steps, corners, modes): filled with the states just after each weld of a single order.
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
    state, done = state[going], np.full(going.size, first)
    far = modes.tuning.least_ahead
    while going.size:
        most = max(1, modes.tuning.steps_at_once // going.size)
        span = min(far, most, int(joins - done.min()))
        step = done + np.arange(span)[:, None]
        inside = step < joins
        step = np.minimum(step, joins - 1)
        join = orders[going, step]
        closing, then = modes.weld_ahead(state, join, gaps[going, step])
        shape = (span * going.size, *modes.rate.shape)
        good = modes.allows_at(closing.reshape(shape), then.reshape(shape), join.ravel())
        good = good.reshape(span, -1) | ~inside
        free = np.where(good.all(axis=0), span, good.argmin(axis=0))  # steps without a wait
        every = np.arange(going.size)
        late = np.flatnonzero(free < span)
        at = np.minimum(free, np.minimum(span, joins - done) - 1)
        last = then[at, every]
        if late.size:
            here, now = going[late], join[at[late], late]
            room_s = None if np.isinf(most_s) else most_s - least_s[here]
            delay = wait_beyond_s(modes, closing[at[late], late], last[late], now, room_s)
            possible = np.isfinite(delay)
            feasible[here] &= possible
            waited = np.where(possible, delay, 0.0)
            last[late] = modes.fade(last[late], waited)
            wait[here, step[at[late], late]] = waited
            least_s[here] += waited if room_s is None else delay
        state = last + modes.weld[join[at, every]]
        if kept is not None:
            begin = int(done[0])
            kept[begin : begin + int(at[0])] = then[: at[0], 0] + modes.weld[join[: at[0], 0]]
            kept[begin + int(at[0])] = state[0]
        done = done + at + 1
        far = 2 * span if late.size * 2 < going.size else max(1, int(2 * free.mean()))
        going_on = (done < joins) & (least_s[going] <= most_s)
        if not going_on.all():
            going, state, done = going[going_on], state[going_on], done[going_on]
    start = np.cumsum(gaps + wait, axis=1)
    return Timed(
        start_s=start, wait_s=wait, bench_s=least_s, feasible=feasible & (least_s <= most_s)
    )


@frozen
class Begun:
    """The first steps of an order, timed: their waits, and the state just after the last weld."""

    steps: int
    wait_s: FloatArray
    state: FloatArray  # (c, n)


def list_beginnings(modes: Follower, work: HandWork, order: IntArray) -> list[Begun]:
    """Time one order and keep the state after every step; the k-th has k steps behind it."""
    kept = np.empty((order.shape[0], *modes.rate.shape), dtype=modes.rate.dtype)
    wait = time_by_modes(modes, work, order, kept=kept).wait_s[0] if order.size else np.zeros(0)
    states = (modes.cold(1)[0], *kept)
    return [
        Begun(steps=steps, wait_s=wait[:steps], state=state) for steps, state in enumerate(states)
    ]


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
    state = modes.cold(orders.shape[0])
    begin = 0
    for number, step in enumerate(steps.tolist()):
        join, lag = orders[:, begin : step + 1].T, gaps[:, begin : step + 1].T
        closing, then = modes.weld_ahead(state, join, lag)
        warm[:, number] = modes.warmest_held_c(closing[-1], then[-1], orders[:, step])
        state, begin = then[-1] + modes.weld[orders[:, step]], step + 1
    return warm


def keeps_limits(modes: Follower, work: HandWork, order: IntArray) -> bool:
    """Whether an order keeps all limits without any wait."""
    gaps = work.gaps_s(order)
    state, begin, span = modes.cold(1), 0, modes.tuning.least_ahead
    while begin < order.shape[0]:
        join = order[begin : begin + span]
        closing, then = modes.weld_ahead(state, join[:, None], gaps[begin : begin + span, None])
        if not modes.allows_at(closing[:, 0], then[:, 0], join).all():
            return False
        state = then[-1] + modes.weld[join[-1:]]
        begin, span = begin + span, min(2 * span, modes.tuning.steps_at_once)
    return True
