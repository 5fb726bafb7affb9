"""Where the fingers can hold the piece while a join is welded, and how warm it is there.

The fingers take the piece on both sides of the join, somewhere between two distances from it. The
piece is cut into patches as wide as a fingertip; on each side the coolest patch within reach is
taken, and its warmest ring counts, when the fingers close on it and when the pulse falls. A side
on which the piece has no patch within reach is not held.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.field import temperatures_k
from chainplan.order.timing import WAIT_STEP_S

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.layout import Layout
    from chainplan.order.field import Field
    from chainplan.order.work import Work

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]


@dataclass(frozen=True, kw_only=True)
class Hold:
    """Patches of the piece, and for every join which of them lie within reach on each side."""

    patch_ring: IntArray  # (p, r), −1 fills up
    reach: tuple[tuple[IntArray, ...], tuple[IntArray, ...]]  # left and right: per join, patches
    limit_c: float


def lay_out_hold(
    layout: Layout, work: Work, limits: HeatSettings, fingertip_mm: float
) -> Hold | None:
    """Cut the piece into patches; None if nothing is ever held bare between the fingers."""
    if not limits.held_bare or work.joins == 0 or limits.hold_to_mm <= 0:
        return None
    place = layout.centre_mm[:, :2]
    cell = np.floor((place - place.min(axis=0)) / fingertip_mm).astype(np.int64)
    key = cell[:, 0] * (int(cell[:, 1].max()) + 1) + cell[:, 1]
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    by_patch = np.argsort(key, kind="stable")
    begin = np.concatenate([[0], np.cumsum(count)[:-1]])
    pick = np.arange(int(count.max()))[None, :]
    inside = pick < count[:, None]
    ring = by_patch[begin[:, None] + np.minimum(pick, count[:, None] - 1)]
    patch_ring = np.where(inside, ring, -1).astype(np.int32)
    middle = (cell[first] + 0.5) * fingertip_mm + place.min(axis=0)
    reach = []
    for sign in (-1.0, 1.0):
        lists = []
        for here in work.place_mm:
            away = sign * (middle[:, 0] - here[0])
            within = (away >= limits.hold_from_mm) & (away <= limits.hold_to_mm) & (away > 0)
            within &= np.abs(middle[:, 1] - here[1]) <= limits.hold_to_mm
            lists.append(np.flatnonzero(within).astype(np.int32))
        reach.append(tuple(lists))
    if not any(patches.size for side in reach for patches in side):
        return None
    return Hold(patch_ring=patch_ring, reach=(reach[0], reach[1]), limit_c=limits.finger_limit_c)


def rank_patches(hold: Hold, work: Work, order: IntArray) -> tuple[IntArray, IntArray]:
    """For every step, the patches within reach on each side, longest untouched first.

    Returns
    -------
    tuple of two arrays, shape (m, most patches within reach)
        Left and right; −1 fills up.
    """
    patch_of = np.full(int(max(hold.patch_ring.max(), work.ring.max())) + 1, -1)
    filled = hold.patch_ring >= 0
    patch_of[hold.patch_ring[filled]] = np.nonzero(filled)[0]
    touched = patch_of[work.ring]
    sides = []
    for reach in hold.reach:
        ranked = np.full((order.shape[0], max(1, max(p.size for p in reach))), -1, dtype=np.int32)
        welded = np.full(hold.patch_ring.shape[0], -1.0)
        for step, join in enumerate(order.tolist()):
            patches = reach[join]
            if patches.size:
                ranked[step, : patches.size] = patches[np.argsort(welded[patches], kind="stable")]
            welded[touched[join]] = step
        sides.append(ranked)
    return sides[0], sides[1]


def grip_temperatures_c(
    hold: Hold,
    fields: Sequence[Field],
    work: Work,
    order: IntArray,
    start_s: FloatArray,
    *,
    ranked: tuple[IntArray, IntArray] | None = None,
    steps: IntArray | None = None,
    limit_c: float | None = None,
) -> FloatArray:
    """How warm the fingers' places get at each step: the worse side, the worst corner. [°C].

    Stops looking for a cooler patch as soon as one is below the limit, so values below the limit
    are not the least possible ones. Steps at which nothing is held give −inf.
    """
    at_steps = np.arange(order.shape[0]) if steps is None else np.asarray(steps)
    limit_c = hold.limit_c if limit_c is None else limit_c
    worst = np.full(at_steps.shape[0], -np.inf)
    for side in ranked or rank_patches(hold, work, order):
        best = np.full(at_steps.shape[0], np.inf)
        held = side[at_steps, 0] >= 0
        for rank in range(side.shape[1]):
            patch = side[at_steps, rank]
            ask = np.flatnonzero((patch >= 0) & (best > limit_c))
            if ask.size == 0:
                break
            ring = hold.patch_ring[patch[ask]]
            at = start_s[at_steps[ask]]
            value = np.full(ask.size, -np.inf)
            for heat in fields:
                base = heat.base_c[ring]
                for moment in (np.maximum(at - work.handle_s, 0.0), at):
                    rise = temperatures_k(heat, order, start_s, ring, moment)
                    value = np.maximum(value, np.where(ring >= 0, base + rise, -np.inf).max(axis=1))
            best[ask] = np.minimum(best[ask], value)
        worst = np.maximum(worst, np.where(held, best, -np.inf))
    return worst


def wait_for_fingers(
    hold: Hold,
    fields: Sequence[Field],
    work: Work,
    order: IntArray,
    wait_s: FloatArray,
    *,
    margin_k: float = 0.0,
) -> FloatArray:
    """Lengthen waits so that a patch cool enough to hold exists on each side at every step.

    Goes through the steps in order; a wait moves everything after it.

    Returns
    -------
    array, shape (m,)
        Waits, at least those given. [s]
    """
    gaps = work.gaps_s(order)
    wait = wait_s.copy()
    ranked = rank_patches(hold, work, order)
    limit = hold.limit_c - margin_k
    longest = max(heat.window_s for heat in fields)

    def grip(start_s: FloatArray, steps: IntArray) -> FloatArray:
        return grip_temperatures_c(
            hold, fields, work, order, start_s, ranked=ranked, steps=steps, limit_c=limit
        )

    begin, chunk = 0, order.shape[0]
    while begin < order.shape[0]:
        start = np.cumsum(gaps + wait)
        steps = np.arange(begin, min(begin + chunk, order.shape[0]))
        hot = np.flatnonzero(grip(start, steps) > limit)
        if hot.size == 0:
            begin, chunk = int(steps[-1]) + 1, chunk * 2
            continue
        step = int(steps[hot[0]])
        extra = WAIT_STEP_S
        while extra < longest:
            trial = start.copy()
            trial[step:] += extra
            if grip(trial, np.asarray([step]))[0] <= limit:
                break
            extra = float(np.ceil(extra * 1.3))
        wait[step] += extra
        begin, chunk = step + 1, 8
    return wait
