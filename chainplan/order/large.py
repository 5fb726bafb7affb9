"""Orders for pieces of thousands to millions of joins: a handful of patterns, all vectorised.

Every pattern's interpass temperatures are summed from the kernels in one go. If the quickest
pattern needs no wait, it is taken. Otherwise waits are put before the joins that are too warm, all
at once and again until none is, or, if that is quicker, everything is welded at a slower even pace.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.grid import Grid, lay_out_grid
from chainplan.order.patterns import Pattern, lay_out_passes, middle_jump, order_of
from chainplan.order.wide import NEVER_S, rises_k
from chainplan.order.work import Work, lay_out_work

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.heat import HeatModel
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout
    from chainplan.model.order import WeldSetting
    from chainplan.order.patterns import PlannedPass

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]

MOST_SMALL = 1200
"""Pieces with more joins are planned here."""
_MARGIN_K = 0.2
_WAITS_S = (2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 512.0)
_MOST_ROUNDS = 6
_HALVINGS = 8
_SLOWEST_S = 600.0
_PART_SAMPLES = 60


@dataclass(frozen=True, kw_only=True)
class LargeSituation:
    """A large piece as the order stage sees it."""

    layout: Layout
    joins: Joins
    heat: HeatModel
    work: Work
    grid: Grid
    limits: HeatSettings
    seed: int

    def spare_k(self, corner: str) -> FloatArray:
        """Rise that the interpass limit leaves to every join, in one corner. [K]."""
        base = self.heat.networks[corner].base_c[self.work.ring]
        back = _MARGIN_K + self.heat.kernels(corner).dropped_k
        spare: FloatArray = self.limits.highest_interpass_c - base - back
        return spare

    def rise_k(
        self,
        corner: str,
        order: IntArray,
        start_s: FloatArray,
        steps: IntArray,
        later_s: float = 0.0,
    ) -> FloatArray:
        """Rise of the rings of some steps before their welds, were these put off alone. [K]."""
        welded = np.full(self.layout.rings, NEVER_S)
        welded[self.work.ring[order]] = start_s
        node = self.work.ring[order[steps]]
        return rises_k(self.heat.kernels(corner), welded, node, start_s[steps], later_s)

    def too_warm(
        self, order: IntArray, start_s: FloatArray, steps: IntArray, later_s: float = 0.0
    ) -> IntArray:
        """Those of the given steps at which the ring is too warm to be welded."""
        hot = np.zeros(steps.shape[0], dtype=bool)
        for corner in self.heat.bad_corners:
            left = np.flatnonzero(~hot)
            rise = self.rise_k(corner, order, start_s, steps[left], later_s)
            hot[left] = rise > self.spare_k(corner)[order[steps[left]]]
        return steps[hot]

    def warmest_c(self, order: IntArray, start_s: FloatArray) -> float:
        """Warmest interpass temperature at the bad end. [°C]."""
        every = np.arange(order.shape[0], dtype=np.int32)
        return max(
            float(
                (
                    self.rise_k(corner, order, start_s, every)
                    + self.heat.networks[corner].base_c[self.work.ring[order]]
                ).max()
            )
            for corner in self.heat.bad_corners
        )


@dataclass(frozen=True, kw_only=True)
class LargeOrder:
    """One order of a large piece with its times."""

    order: IntArray
    start_s: FloatArray
    wait_s: FloatArray
    bench_s: float
    feasible: bool
    passes: tuple[PlannedPass, ...] = ()
    even_pace: bool = False

    @property
    def waiting_s(self) -> float:
        """All waits together, in seconds."""
        return float(self.wait_s.sum())


def take_large_stock(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    seed: int,
) -> LargeSituation:
    """Gather what an order of a large piece is judged by."""
    work = lay_out_work(layout, joins, settings, pace)
    return LargeSituation(
        layout=layout,
        joins=joins,
        heat=heat,
        work=work,
        grid=lay_out_grid(layout, work),
        limits=limits,
        seed=seed,
    )


def _timed(
    situation: LargeSituation,
    order: IntArray,
    wait_s: FloatArray,
    *,
    feasible: bool,
    even_pace: bool = False,
) -> LargeOrder:
    start = np.cumsum(situation.work.gaps_s(order) + wait_s)
    return LargeOrder(
        order=order,
        start_s=start,
        wait_s=wait_s,
        bench_s=situation.work.bench_s(order, start),
        feasible=feasible,
        even_pace=even_pace,
    )


def keep_limits(situation: LargeSituation, order: IntArray) -> LargeOrder:
    """Time an order so that interpass and part limits hold: waits in places, or an even pace."""
    wait, placed = _place_waits(situation, order)
    found = [_timed(situation, order, wait, feasible=placed)]
    every = np.arange(order.shape[0], dtype=np.int32)
    mean = np.cumsum(situation.work.gaps_s(order) + wait.mean())
    if wait.any() and not (placed and situation.too_warm(order, mean, every).size):
        even = _even_pace_s(situation, order)
        waits = np.full(order.shape[0], even)
        found.append(_timed(situation, order, waits, feasible=even < _SLOWEST_S, even_pace=True))
    best = min(found, key=lambda item: (not item.feasible, item.bench_s))
    return _spare_parts(situation, best)


def _place_waits(situation: LargeSituation, order: IntArray) -> tuple[FloatArray, bool]:
    """Put waits before the joins that are too warm, all at once, again until none is."""
    gaps = situation.work.gaps_s(order)
    wait = np.zeros(order.shape[0])
    every = np.arange(order.shape[0], dtype=np.int32)
    for _ in range(_MOST_ROUNDS):
        start = np.cumsum(gaps + wait)
        hot = situation.too_warm(order, start, every)
        if hot.size == 0:
            return wait, True
        for later in _WAITS_S:
            still = situation.too_warm(order, start, hot, later)
            wait[np.setdiff1d(hot, still)] += later
            hot = still
            if hot.size == 0:
                break
        wait[hot] += _WAITS_S[-1]
    return wait, situation.too_warm(order, np.cumsum(gaps + wait), every).size == 0


def _even_pace_s(situation: LargeSituation, order: IntArray) -> float:
    """Smallest even wait before every join that keeps all below the limit, by bisection. [s]."""
    gaps = situation.work.gaps_s(order)
    every = np.arange(order.shape[0], dtype=np.int32)

    hot = every[:0]

    def fits(wait_s: float) -> bool:
        nonlocal hot
        start = np.cumsum(gaps + wait_s)
        if situation.too_warm(order, start, hot).size:  # those that were too warm before
            return False
        hot = situation.too_warm(order, start, every)
        return hot.size == 0

    low, high = 0.0, 2.0
    while not fits(high):
        low, high = high, 2 * high
        if high > _SLOWEST_S:
            return high
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high


def part_peaks_c(situation: LargeSituation, found: LargeOrder) -> dict[str, float]:
    """Highest temperature of each part at the bad end. [°C]."""
    work, heat = situation.work, situation.heat
    welded = np.full(situation.layout.rings, NEVER_S)
    welded[work.ring[found.order]] = found.start_s
    peaks: dict[str, float] = {}
    for corner in heat.bad_corners:
        table = heat.kernels(corner)
        after = np.linspace(table.step_s, 120.0, _PART_SAMPLES)
        for part in heat.parts:
            times = welded[table.near(part.node)[0]]
            times = (times[np.isfinite(times)][:, None] + after).ravel()
            node = np.full(times.shape[0], part.node, dtype=np.int32)
            rise = float(rises_k(table, welded, node, times).max(initial=0.0))
            warm = float(heat.networks[corner].base_c[part.node]) + rise
            peaks[part.name] = max(peaks.get(part.name, -np.inf), warm)
    return peaks


def _spare_parts(situation: LargeSituation, found: LargeOrder) -> LargeOrder:
    """Wait before every join next to a part until the part keeps its limit."""
    best = found
    for part in situation.heat.parts:
        near = np.isin(
            situation.work.ring[best.order],
            situation.heat.kernels(situation.heat.bad_corners[0]).near(part.node)[0],
        )
        for later in (0.0, *_WAITS_S):
            wait = best.wait_s + np.where(near, later, 0.0)
            trial = _timed(
                situation,
                best.order,
                wait,
                feasible=best.feasible,
                even_pace=best.even_pace,
            )
            if part_peaks_c(situation, trial)[part.name] <= part.limit_c - _MARGIN_K:
                best = trial
                break
        else:
            best = _timed(situation, best.order, best.wait_s, feasible=False)
    return best


def large_patterns(grid: Grid) -> list[Pattern]:
    """Patterns worth trying on a large piece, those with the least travel first."""
    if not grid.sheet:
        return [Pattern(stride=s, jump=middle_jump(s)) for s in (1, 2, 3, 5, 9)]
    return [
        Pattern(family="rows", snake=True),
        Pattern(family="rows", classes=2, snake=True),
        Pattern(family="rows", classes=3, snake=True),
        Pattern(family="rows", stride=2, snake=True),
        Pattern(family="rows", stride=3, classes=2, snake=True),
        Pattern(family="columns", stride=5, jump=2, snake=True),
    ]


def patterns_beyond(grid: Grid, reach_mm: float) -> list[Pattern]:
    """Patterns along a line whose last weld lies further off than the fingers reach."""
    if grid.sheet or grid.pitch_mm <= 0:
        return []
    least = int(reach_mm // grid.pitch_mm) + 1
    strides = (least, least + 1, least + 3)
    units = int(np.unique(grid.column).shape[0])
    return [
        Pattern(stride=s, jump=j) for s in strides if units >= 2 * s for j in (1, middle_jump(s))
    ]


def lay_out_order(situation: LargeSituation, pattern: Pattern) -> LargeOrder:
    """Time one pattern so that interpass and part limits hold."""
    passes = lay_out_passes(situation.grid, pattern, situation.work)
    return replace(keep_limits(situation, order_of(passes)), passes=tuple(passes))


def choose_large(situation: LargeSituation) -> LargeOrder:
    """Find the quickest of the patterns that needs no wait, or else the quickest with waits."""
    every = np.arange(situation.work.joins, dtype=np.int32)
    tries: list[tuple[float, int, IntArray, FloatArray, list[PlannedPass]]] = []
    for pattern in large_patterns(situation.grid):
        passes = lay_out_passes(situation.grid, pattern, situation.work)
        order = order_of(passes)
        start = np.cumsum(situation.work.gaps_s(order))
        tries.append((situation.work.bench_s(order, start), len(tries), order, start, passes))
    tries.sort(key=lambda item: item[:2])
    counted = []
    for bench, rank, order, start, passes in tries:
        hot = situation.too_warm(order, start, every).size
        if hot == 0:
            found = keep_limits(situation, order)
            return LargeOrder(**{**vars(found), "passes": tuple(passes)})
        counted.append((hot, bench, rank, order, passes))
    counted.sort(key=lambda item: item[:3])
    ready = []
    for _, _, _, order, passes in counted[:2]:
        found = keep_limits(situation, order)
        ready.append(LargeOrder(**{**vars(found), "passes": tuple(passes)}))
    return min(ready, key=lambda item: (not item.feasible, item.bench_s))
