"""Orders for pieces of thousands to millions of joins: patterns alone, all vectorised.

Every pattern's interpass temperatures are summed from the kernels in one go, first for some joins.
The quickest pattern that needs no wait is taken. If there is none, waits are put before the joins
that are too warm, all at once and again until none is, or, if that is quicker, everything is welded
at a slower even pace.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kernels import WeldTimes
from chainplan.order.pattern.families import list_patterns
from chainplan.order.pattern.passes import lay_out_passes, order_of
from chainplan.order.piece.grid import Grid, lay_out_grid
from chainplan.order.piece.work import Work, lay_out_work
from chainplan.order.proof.fingers import lay_out_grips, spread

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.bench.pace import PaceSettings
    from chainplan.model.heat import HeatModel
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout
    from chainplan.model.order import WeldSetting
    from chainplan.order.pattern.passes import Pattern, PlannedPass


MOST_SMALL = 1200
"""Pieces with more joins are planned here."""
_MARGIN_K = 0.2
_WAITS_S = (2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 512.0)
_MOST_ROUNDS = 6
_HALVINGS = 8
_SLOWEST_S = 600.0
_PART_SAMPLES = 60
_LAID_OUT = 4_000_000  # joins of all patterns tried, together
_FEWEST_PATTERNS = 6
_MOST_PATTERNS = 40
_SAMPLED = 3000
_HOLD_MARGIN_K = 0.2
HELD_STEPS = 20  # at which the fingers are looked at first
_MOST_SPOILED = 3
_MOST_SUSPECTS = 200
_SHARES = 8


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
        table = self.heat.kernels(corner)
        welds = WeldTimes(len(table.node_class), self.work.ring[order], start_s)
        return table.rises_k(welds, self.work.ring[order[steps]], start_s[steps], later_s)

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
    peaks: dict[str, float] = {}
    for corner in heat.bad_corners:
        table = heat.kernels(corner)
        welds = WeldTimes(len(table.node_class), work.ring[found.order], found.start_s)
        after = np.linspace(table.step_s, 120.0, _PART_SAMPLES)
        for part in heat.parts:
            times = welds.layers[0][table.near(part.node)[0]]
            times = (times[np.isfinite(times)][:, None] + after).ravel()
            node = np.full(times.shape[0], part.node, dtype=np.int32)
            rise = float(table.rises_k(welds, node, times).max(initial=0.0))
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


def large_patterns(situation: LargeSituation, *, held: bool) -> list[Pattern]:
    """Patterns worth trying on a large piece: the fewer, the more joins it has."""
    grid, limits, joins = situation.grid, situation.limits, situation.work.joins
    window = (limits.hold_from_mm, limits.hold_to_mm) if held else (np.inf, np.inf)
    most = int(np.clip(_LAID_OUT // joins, _FEWEST_PATTERNS, _MOST_PATTERNS))
    return list_patterns(grid, joins, window, most, rich=False)


def _lay_out_all(situation: LargeSituation, *, held: bool) -> list[tuple[Pattern, IntArray]]:
    """Every pattern worth trying with its order."""
    grid, work = situation.grid, situation.work
    return [
        (pattern, order_of(lay_out_passes(grid, pattern, work, say=False)))
        for pattern in large_patterns(situation, held=held)
    ]


def _some_steps(situation: LargeSituation) -> IntArray:
    """Pick the steps that are looked at first, evenly over the order."""
    return spread(np.arange(situation.work.joins, dtype=np.int32), _SAMPLED)


def _plain_s(situation: LargeSituation, order: IntArray) -> float:
    """Bench time of an order in which nobody waits. [s]."""
    return situation.work.bench_s(order, np.cumsum(situation.work.gaps_s(order)))


def lay_out_order(situation: LargeSituation, pattern: Pattern) -> LargeOrder:
    """Time one pattern so that interpass and part limits hold."""
    passes = lay_out_passes(situation.grid, pattern, situation.work)
    return replace(keep_limits(situation, order_of(passes)), passes=tuple(passes))


def choose_bare(situation: LargeSituation) -> LargeOrder:
    """Find the quickest pattern whoever holds the piece: without any wait, or with few."""
    laid = _lay_out_all(situation, held=False)
    return _first_without_waits(situation, laid) or _with_fewest_waits(situation, laid)


def choose_held(situation: LargeSituation, pace: PaceSettings) -> LargeOrder | None:
    """Find the quickest pattern without any wait that the fingers can hold; None if none can."""
    return _first_without_waits(situation, _lay_out_all(situation, held=True), pace)


def _first_without_waits(
    situation: LargeSituation,
    laid: Sequence[tuple[Pattern, IntArray]],
    pace: PaceSettings | None = None,
) -> LargeOrder | None:
    """Look at patterns in some steps, from the quickest on, and in all if nothing is too warm.

    Joins that were too warm in one pattern are the first to be looked at in the next.
    """
    suspects = np.zeros(0, dtype=np.int32)
    place = np.empty(situation.work.joins, dtype=np.int32)
    spoiled = 0
    for pattern, order in sorted(laid, key=lambda item: _plain_s(situation, item[1])):
        start = np.cumsum(situation.work.gaps_s(order))
        place[order] = np.arange(order.shape[0], dtype=np.int32)
        some = np.union1d(_some_steps(situation), place[suspects])
        if situation.too_warm(order, start, some).size:
            continue
        if pace is not None and not cool_to_hold(situation, order, start, pace, HELD_STEPS):
            continue
        hot = order[_too_warm_first(situation, order, start)]
        if hot.size:
            suspects = np.union1d(suspects, hot[:: hot.size // _MOST_SUSPECTS + 1])
            continue
        if pace is not None and not cool_to_hold(situation, order, start, pace):
            continue
        found = lay_out_order(situation, pattern)
        if found.feasible:
            return found
        spoiled += 1  # by a part
        if spoiled == _MOST_SPOILED:
            break
    return None


def _too_warm_first(situation: LargeSituation, order: IntArray, start_s: FloatArray) -> IntArray:
    """Find steps at which the ring is too warm, in the first share of all steps that has any."""
    for first in range(_SHARES):
        steps = np.arange(first, order.shape[0], _SHARES, dtype=np.int32)
        hot = situation.too_warm(order, start_s, steps)
        if hot.size:
            return hot
    return np.zeros(0, dtype=np.int32)


def _with_fewest_waits(
    situation: LargeSituation, laid: Sequence[tuple[Pattern, IntArray]]
) -> LargeOrder:
    """Take the quicker of the two patterns that have to wait at the fewest of some joins."""
    some = _some_steps(situation)

    def waits(item: tuple[Pattern, IntArray]) -> tuple[int, float]:
        order = item[1]
        start = np.cumsum(situation.work.gaps_s(order))
        return situation.too_warm(order, start, some).size, _plain_s(situation, order)

    ready = [lay_out_order(situation, pattern) for pattern, _ in sorted(laid, key=waits)[:2]]
    return min(ready, key=lambda item: (not item.feasible, item.bench_s))


def cool_to_hold(
    situation: LargeSituation,
    order: IntArray,
    start_s: FloatArray,
    pace: PaceSettings,
    most_steps: int | None = None,
) -> bool:
    """Whether the fingers find cool places in every bad corner.

    Looked at in as many steps as the verifier looks at, or in so many at most.
    """
    grips = lay_out_grips(
        situation.layout,
        situation.joins,
        situation.work.ring[order],
        start_s,
        pace=pace,
        limits=situation.limits,
        most_steps=most_steps,
    )
    if grips is None:
        return True
    ring, limit_c = situation.work.ring[order], situation.limits.finger_limit_c - _HOLD_MARGIN_K
    return all(
        grips.warmest_c(situation.heat, corner, ring, start_s).max() <= limit_c
        for corner in situation.heat.bad_corners
    )
