"""When each join of an order can be welded: waits only where a limit asks for one.

Many orders go through the forward pass side by side, step by step, so that trying a portfolio of
patterns or a batch of moves costs little more than trying one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.field import before_k

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.order.field import Field
    from chainplan.order.work import Work

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]
    RowArray = npt.NDArray[np.int64]
    BoolArray = npt.NDArray[np.bool_]

WAIT_STEP_S = 1.0
"""Waits are whole multiples of this, so that they can be counted out at the bench."""
_WAIT_CHUNK = 24
_SHORT = 60
_NEGLECTED = 0.01
"""Welds that together bring a part less than this share of its cap are not followed one by one."""


@dataclass(frozen=True, kw_only=True)
class Caps:
    """How warm things may be, as a rise over the base temperature, in one corner. [K]."""

    field: Field
    join_k: FloatArray  # (m,) before its own weld
    part_node: IntArray  # (p,)
    part_k: FloatArray  # (p,) ever


@dataclass(frozen=True, kw_only=True)
class Timed:
    """Orders with their start times. Arrays have one row an order."""

    start_s: FloatArray  # (b, m)
    wait_s: FloatArray  # (b, m)
    bench_s: FloatArray  # (b,)
    feasible: BoolArray  # (b,)


@dataclass
class _PartForecast:
    """What every part will come to if nothing more is welded, on a grid of absolute time."""

    caps: Caps
    rows: int
    forecast: npt.NDArray[np.float32] = field(init=False)
    touching: BoolArray = field(init=False)  # (m,) joins that count
    cap_k: FloatArray = field(init=False)  # less what the joins that do not count could bring

    def __post_init__(self) -> None:
        samples = self.caps.field.samples
        self.forecast = np.zeros(
            (self.rows, self.caps.part_node.shape[0], 4 * samples + 4), dtype=np.float32
        )
        self.touching = np.zeros(self.caps.join_k.shape[0], dtype=bool)
        self.cap_k = self.caps.part_k.copy()
        for index, node in enumerate(self.caps.part_node.tolist()):
            peak = self.caps.field.peaks_k(node)
            rank = np.argsort(peak, kind="stable")
            small = np.cumsum(peak[rank]) <= _NEGLECTED * self.cap_k[index]
            self.touching[rank[~small]] = True
            self.cap_k[index] -= float(peak[rank[small]].sum())

    def _reach(self, last_s: float) -> None:
        need = int(last_s / self.caps.field.step_s) + 3 * self.caps.field.samples
        have = self.forecast.shape[2]
        if need > have:
            more = np.zeros((*self.forecast.shape[:2], max(need - have, have)), dtype=np.float32)
            self.forecast = np.concatenate([self.forecast, more], axis=2)

    def _curves(
        self, join: IntArray, start_s: FloatArray
    ) -> tuple[RowArray, npt.NDArray[np.float32]]:
        """Grid index of the first sample after each start, and the part curves from there."""
        heat = self.caps.field
        first = np.ceil(start_s / heat.step_s).astype(np.int64)
        lag = (first * heat.step_s - start_s)[:, None] + np.arange(heat.samples) * heat.step_s
        node = self.caps.part_node[None, :, None]
        rise = heat.rise_k(node, join[:, None, None], np.maximum(lag, 1e-9)[:, None, :])
        return first, rise

    def first_wait_s(self, rows: RowArray, join: IntArray, start_s: FloatArray) -> FloatArray:
        """Shortest wait after which each row's join keeps every part below its cap (inf: none)."""
        heat = self.caps.field
        self._reach(float(start_s.max()) + heat.window_s)
        first, rise = self._curves(join, start_s)
        samples = heat.samples
        window = self.forecast[rows[:, None], :, first[:, None] + np.arange(2 * samples)]
        window = np.moveaxis(window, 2, 1)
        waits = np.full(rows.shape[0], np.inf)
        cap = self.cap_k[None, :]
        per = max(1, round(WAIT_STEP_S / heat.step_s))
        open_rows = np.arange(rows.shape[0])
        for shift in range(0, samples + per, per):
            peak = (window[open_rows, :, shift : shift + samples] + rise[open_rows]).max(axis=2)
            good = (peak <= cap).all(axis=1)
            waits[open_rows[good]] = shift * heat.step_s
            open_rows = open_rows[~good]
            if open_rows.size == 0:
                break
        return waits

    def add(self, rows: RowArray, join: IntArray, start_s: FloatArray) -> None:
        """Weld the joins at the given times."""
        self._reach(float(start_s.max()))
        first, rise = self._curves(join, start_s)
        steps = first[:, None] + np.arange(self.caps.field.samples)
        parts = np.arange(rise.shape[1])
        self.forecast[rows[:, None, None], parts[None, :, None], steps[:, None, :]] += rise


def join_wait_s(
    caps: Sequence[Caps],
    node: IntArray,
    join: IntArray,
    source: IntArray,
    lag_s: FloatArray,
) -> FloatArray:
    """Shortest whole wait until every row's ring is below its cap in every corner."""
    rows = join.shape[0]
    waits = np.full(rows, np.inf)
    left = np.arange(rows)
    longest = max(cap.field.window_s for cap in caps)
    begin = 0
    while left.size and begin * WAIT_STEP_S <= longest + WAIT_STEP_S:
        extra = (begin + np.arange(_WAIT_CHUNK)) * WAIT_STEP_S
        good = np.ones((left.size, _WAIT_CHUNK), dtype=bool)
        for cap in caps:
            lag = lag_s[left][:, None, :] + extra[None, :, None]
            lag[np.broadcast_to((lag_s[left] <= 0)[:, None, :], lag.shape)] = -1.0
            rise = cap.field.rise_k(node[left][:, None, None], source[left][:, None, :], lag)
            good &= rise.sum(axis=2) <= cap.join_k[join[left]][:, None]
        found = good.any(axis=1)
        waits[left[found]] = extra[np.argmax(good[found], axis=1)]
        left = left[~found]
        begin += _WAIT_CHUNK
    return waits


def time_orders(
    work: Work,
    caps: Sequence[Caps],
    orders: IntArray,
    *,
    rest_s: float = 0.0,
    least_wait_s: FloatArray | None = None,
) -> Timed:
    """Weld each join at the first moment at which the limits allow it.

    Parameters
    ----------
    work : Work
        Joins and pace.
    caps : sequence of Caps
        One for every corner in which the limits must hold; empty: nobody waits.
    orders : array, shape (b, m)
        Orders to time.
    rest_s : float, optional
        Once a wait is needed, wait at least this long (another piece is welded meanwhile). [s]
    least_wait_s : array, shape (b, m), optional
        Waits that are there for another reason and are kept. [s]

    Returns
    -------
    Timed
        Start times and waits; infeasible orders are timed as if the limit were not there.
    """
    orders = np.atleast_2d(np.asarray(orders, dtype=np.int32))
    rows, joins = orders.shape
    least = np.zeros(orders.shape) if least_wait_s is None else np.atleast_2d(least_wait_s)
    gaps = work.gaps_s(orders) + least
    start = np.cumsum(gaps, axis=1)
    wait = np.zeros_like(start)
    feasible = np.ones(rows, dtype=bool)
    every = np.arange(rows, dtype=np.int64)
    if rows == 1 and joins > _SHORT and _nothing_waits(work, caps, orders[0], start[0]):
        bench = start[:, -1] + work.after_s[orders[:, -1]]
        return Timed(start_s=start, wait_s=least.copy(), bench_s=bench, feasible=feasible)
    forecasts = [_PartForecast(cap, rows) for cap in caps if cap.part_node.size]
    window = max((cap.field.window_s for cap in caps), default=0.0)
    low = 0
    for step in range(joins if caps else 0):
        at = gaps[:, step] + (start[:, step - 1] if step else 0.0)
        while low < step and float((at - start[:, low]).min()) >= window:
            low += 1
        join = orders[:, step]
        node = work.ring[join]
        delay = np.zeros(rows)
        if low < step:
            source, lag = orders[:, low:step], at[:, None] - start[:, low:step]
            hot = np.zeros(rows, dtype=bool)
            for cap in caps:
                hot |= cap.field.sum_k(node[:, None], source, lag) > cap.join_k[join]
            if hot.any():
                delay[hot] = join_wait_s(caps, node[hot], join[hot], source[hot], lag[hot])
        for forecast in forecasts:
            near = np.flatnonzero(forecast.touching[join] & np.isfinite(delay)).astype(np.int64)
            if near.size:
                delay[near] += forecast.first_wait_s(near, join[near], at[near] + delay[near])
        if forecasts and low < step:
            both = (delay > 0) & np.any([forecast.touching[join] for forecast in forecasts], axis=0)
            if both.any():
                joins_now = (node, join, orders[:, low:step])
                delay = _settle(caps, forecasts, joins_now, at, start, delay, low, both)
        delay = np.where(delay > 0, np.maximum(delay, rest_s), delay)
        feasible &= np.isfinite(delay)
        delay[~np.isfinite(delay)] = 0.0
        wait[:, step] = delay
        start[:, step] = at + delay
        for forecast in forecasts:
            near = np.flatnonzero(forecast.touching[join]).astype(np.int64)
            if near.size:
                forecast.add(every[near], join[near], start[near, step])
    bench = start[:, -1] + work.after_s[orders[:, -1]] if joins else np.zeros(rows)
    return Timed(start_s=start, wait_s=wait + least, bench_s=bench, feasible=feasible)


def _nothing_waits(work: Work, caps: Sequence[Caps], order: IntArray, start_s: FloatArray) -> bool:
    """Whether an order keeps all limits as it is, looked at in one go (parts: not looked at)."""
    return all(
        cap.part_node.size == 0
        and bool((before_k(cap.field, work, order, start_s) <= cap.join_k[order]).all())
        for cap in caps
    )


def _settle(
    caps: Sequence[Caps],
    forecasts: Sequence[_PartForecast],
    joins: tuple[IntArray, IntArray, IntArray],
    at: FloatArray,
    start: FloatArray,
    delay: FloatArray,
    low: int,
    both: BoolArray,
) -> FloatArray:
    """Lengthen waits until the ring's own limit and every part's hold at the same moment."""
    node, join, source = joins
    waiting = np.flatnonzero(both & np.isfinite(delay)).astype(np.int64)
    for _ in range(8):
        if waiting.size == 0:
            break
        then = at[waiting] + delay[waiting]
        lag = then[:, None] - start[waiting, low : low + source.shape[1]]
        more = join_wait_s(caps, node[waiting], join[waiting], source[waiting], lag)
        for forecast in forecasts:
            finite = np.isfinite(more)
            extra = np.zeros(waiting.size)
            if finite.any():
                extra[finite] = forecast.first_wait_s(
                    waiting[finite], join[waiting[finite]], then[finite] + more[finite]
                )
            more = more + extra
        delay[waiting] += more
        waiting = waiting[(more > 0) & np.isfinite(more)]
    return delay
