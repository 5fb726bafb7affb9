"""Going on with a piece that is warm from welds before: when to begin, and how long to wait.

The welds before are simulated with what is left, so that the heat that they left is in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.clock.protocol import settle
from chainplan.order.clock.select import make_clock
from chainplan.order.limits import (
    check_limits,
    find_hopeless,
    find_in_the_way,
    still_wrong,
    usual_corner,
    warmest_before_c,
)
from chainplan.order.piece.situation import take_stock
from chainplan.order.proof.verify import list_too_warm, simulate_order
from chainplan.order.say.causes import find_causes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.groups import HeatSettings, PaceSettings
    from chainplan.model.order import LimitCheck, SetAside, WeldSetting
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.heat import HeatModel
    from chainplan.order.clock.protocol import Settled
    from chainplan.order.piece.situation import Situation
    from chainplan.order.proof.verify import Simulated

LONGEST_S = 1800
"""Nobody waits longer for a piece to cool: by then thin wire is at the room's temperature."""
MENDED_BY_S, MOST_MENDED = 5.0, 60
"""Seconds by which a wait that is too short is lengthened, and how often."""
MOST_ASIDE = 6
"""Limits that are set aside one after another before the times are taken as they are."""


@frozen
class Before:
    """Welds that have been made already: rings, when, and how long ago the last of them was."""

    ring: IntArray  # (b,) from 0
    at_s: FloatArray  # (b,) ascending, from any moment on
    ago_s: float  # from the last of them to the moment from which times count


@frozen
class Resumed:
    """What is left of a piece, timed from the state that earlier welds left it in."""

    start_s: FloatArray  # (k,) from the moment on, the wait before the first join included
    wait_s: FloatArray  # (k,) whole seconds
    low_c: FloatArray  # (k,) of each ring before its weld, at the ends of the uncertain numbers
    usual_c: FloatArray
    high_c: FloatArray
    begin_after_s: float  # the part of the first wait that lets the heat of earlier welds go
    set_aside: tuple[SetAside, ...]  # limits that cannot be kept


def begin_after_s(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    before: Before,
    ring: IntArray,
    start_s: FloatArray,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    seed: int = 0,
) -> float:
    """Find the least whole seconds to wait before an order so that earlier welds break no limit.

    Parameters
    ----------
    layout, joins, heat
        The piece; ``joins.welded`` has every ring that is not in ``ring``.
    before : Before
        What has been welded.
    ring, start_s : array, shape (k,)
        The order, and its times as it would go from cold.
    settings, pace, limits
        As in :func:`chainplan.order.find_order`.

    Returns
    -------
    float
        0 if the order can begin at once; at most half an hour.
    """
    situation = take_stock(
        layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=seed
    )
    return _begin_after_s(situation, before, ring, start_s)


def begin_warm(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    before: Before,
    ring: IntArray,
    start_s: FloatArray,
    wait_s: FloatArray,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    seed: int = 0,
) -> Resumed:
    """Begin a timed order from the state that earlier welds left: its first wait is longer for it.

    Parameters are those of :func:`begin_after_s`; ``wait_s`` has the waits that are in ``start_s``.
    """
    situation = take_stock(
        layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=seed
    )
    first_s = _begin_after_s(situation, before, ring, start_s)
    wait_s = wait_s.copy()
    wait_s[:1] += first_s
    return _told(situation, before, ring, start_s + first_s, wait_s, first_s)


def resume_order(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    before: Before,
    ring: IntArray,
    *,
    extra_s: FloatArray | None = None,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    seed: int = 0,
) -> Resumed:
    """Time an order of what is left within the limits, from the state that earlier welds left.

    Parameters
    ----------
    layout, joins, heat, before, ring, settings, pace, limits, seed
        As in :func:`begin_after_s`.
    extra_s : array, shape (k,), optional
        What the hand does before each join beyond the usual: more hits, another setting. [s]
    """
    situation = take_stock(
        layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=seed
    )
    order = np.searchsorted(situation.work.ring, ring).astype(np.int32)
    situation, settled = _settle(situation, order)
    wait_s = np.round(settled.wait_s)
    worked_s = settled.start_s - np.cumsum(settled.wait_s)
    worked_s = worked_s + (0.0 if extra_s is None else np.cumsum(extra_s))
    first_s = _begin_after_s(situation, before, ring, worked_s + np.cumsum(wait_s))
    wait_s[:1] += first_s
    wait_s = _wait_longer(situation, before, ring, worked_s, wait_s)
    start_s = worked_s + np.cumsum(wait_s)
    return _told(situation, before, ring, start_s, wait_s, first_s)


def _told(
    situation: Situation, before: Before, ring: IntArray, start_s: FloatArray,
    wait_s: FloatArray, first_s: float,
) -> Resumed:  # fmt: skip
    """Say how warm each ring is before its weld, the heat of earlier welds in it."""
    heat = situation.heat
    seen = _simulate(situation, before, ring, start_s, heat.corners)
    count = len(before.ring)
    low, usual = (
        seen.runs[corner].before_c[count:] for corner in (heat.corners[0], usual_corner(heat))
    )
    return Resumed(
        start_s=start_s, wait_s=wait_s, low_c=low, usual_c=usual,
        high_c=warmest_before_c(situation, seen)[count:], begin_after_s=first_s,
        set_aside=situation.set_aside,
    )  # fmt: skip


def limits_of_order(
    layout: Layout,
    joins: Joins,
    heat: HeatModel,
    ring: IntArray,
    start_s: FloatArray,
    *,
    settings: Sequence[WeldSetting],
    pace: PaceSettings,
    limits: HeatSettings,
    wait_s: FloatArray,
    seed: int = 0,
    set_aside: Sequence[SetAside] = (),
) -> tuple[tuple[LimitCheck, ...], IntArray, tuple[FloatArray, FloatArray, FloatArray]]:
    """Compare an order that begins from cold with every limit: low, usual and bad end.

    Parameters are those of :func:`begin_after_s`; ``set_aside`` has the limits that are not kept.

    Returns
    -------
    tuple
        The limits; for each step the place among them of the one that asks for its wait (−1: nobody
        waits); and how warm each ring is before its weld: low, usual and high. [°C]
    """
    situation = take_stock(
        layout, joins, heat, settings=settings, pace=pace, limits=limits, seed=seed
    ).without(set_aside)
    nothing = Before(ring=ring[:0], at_s=start_s[:0], ago_s=0.0)
    seen = _simulate(situation, nothing, ring, start_s, heat.corners)
    checks = check_limits(situation, seen)
    before_c = (
        seen.runs[heat.corners[0]].before_c,
        seen.runs[usual_corner(heat)].before_c,
        warmest_before_c(situation, seen),
    )
    return checks, find_causes(situation, seen, wait_s, checks), before_c


def _settle(situation: Situation, order: IntArray) -> tuple[Situation, Settled]:
    """Time the order from cold; limits that no times keep are set aside by name."""
    clock = make_clock(situation)
    hopeless = find_hopeless(clock)
    if hopeless:
        clock = make_clock(situation.without(hopeless))
    settled = settle(clock, order)
    for _ in range(MOST_ASIDE):
        item = None if settled.feasible else find_in_the_way(clock, order)
        if item is None:
            break
        clock = make_clock(clock.situation.without([item]))
        settled = settle(clock, order)
    return clock.situation, settled


def _simulate(
    situation: Situation, before: Before, ring: IntArray, start_s: FloatArray,
    corners: Sequence[str],
) -> Simulated:  # fmt: skip
    """Simulate earlier welds and an order after them as one run."""
    moment = float(before.at_s[-1]) + before.ago_s if len(before.at_s) else 0.0
    return simulate_order(
        situation.layout,
        situation.joins,
        situation.heat,
        np.concatenate([before.ring, ring]).astype(np.int32),
        np.concatenate([before.at_s, moment + start_s]),
        pace=situation.pace,
        limits=situation.limits,
        corners=corners,
        tuning=situation.tuning.proof,
    )


def _wrong_steps(
    situation: Situation, before: Before, ring: IntArray, start_s: FloatArray
) -> list[int]:
    """List steps of the order, from 0, that pass a limit which is to be kept."""
    heat = situation.heat
    seen = _simulate(situation, before, ring, start_s, heat.bad_corners)
    found = list_too_warm(seen, heat, situation.limits, situation.tuning.proof)
    steps = (item.step - len(before.ring) for item in still_wrong(situation, found))
    return sorted(step for step in steps if step >= 0)


def _wait_longer(
    situation: Situation, before: Before, ring: IntArray, worked_s: FloatArray, wait_s: FloatArray
) -> FloatArray:
    """Lengthen waits until the simulation of earlier welds and the order finds no limit passed.

    Coming later is not always coming cooler: heat of a neighbour may still be on its way.
    """
    for _ in range(MOST_MENDED):
        wrong = _wrong_steps(situation, before, ring, worked_s + np.cumsum(wait_s))
        if not wrong:
            break
        wait_s = wait_s.copy()
        wait_s[wrong[0]] += MENDED_BY_S
    return wait_s


def _begin_after_s(
    situation: Situation, before: Before, ring: IntArray, start_s: FloatArray
) -> float:
    if not len(ring):
        return 0.0

    def wrong(earlier: Before, later_s: float) -> int:
        return len(_wrong_steps(situation, earlier, ring, start_s + later_s))

    if not len(before.ring) or not wrong(before, 0.0):
        return 0.0
    nothing = Before(ring=before.ring[:0], at_s=before.at_s[:0], ago_s=0.0)
    anyway = wrong(nothing, 0.0)
    low, high = 0, 15
    while high < LONGEST_S and wrong(before, high) > anyway:
        low, high = high, 2 * high
    high = min(high, LONGEST_S)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if wrong(before, middle) > anyway else (low, middle)
    return float(high)
