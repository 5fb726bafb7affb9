"""Where the fingers can hold the piece while a join is welded, and how warm it is there.

The fingers take the piece on both sides of the join, somewhere between two distances from it. The
piece is cut into patches as wide as a fingertip; on each side the coolest patch within reach is
taken, and its warmest ring counts, when the fingers close on it and when the pulse falls. A side
on which the piece has no patch within reach is not held. Loose joins (pendant rings, earring posts)
are not held this way at all: each belongs to something of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

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

_UNFELT_K = 0.01
_MOST_ASKED = 256
_LONGER = 1.25
"""Waits for the fingers are tried in steps of this ratio."""


@dataclass(frozen=True, kw_only=True)
class Hold:
    """Patches of the piece, and for every join which of them lie within reach on each side."""

    patch_ring: IntArray  # (p, r), −1 fills up
    reach: tuple[tuple[IntArray, ...], tuple[IntArray, ...]]  # left and right: per join, patches
    limit_c: float
    fields: tuple[Field, ...]  # the corners looked at
    felt: tuple[npt.NDArray[np.bool_], ...]  # for each: (p, m) welds that a patch feels at all


def lay_out_hold(
    layout: Layout,
    work: Work,
    limits: HeatSettings,
    fingertip_mm: float,
    fields: Sequence[Field],
) -> Hold | None:
    """Cut the piece into patches; None if nothing is ever held bare between the fingers."""
    if not limits.held_bare or work.joins == 0 or limits.hold_to_mm <= 0:
        return None
    loose = np.asarray([section.form == "loose" for section in layout.sections])[layout.section]
    if loose.all():
        return None
    place = layout.centre_mm[:, :2]
    cell = np.floor((place - place.min(axis=0)) / fingertip_mm).astype(np.int64)
    key = cell[:, 0] * (int(cell[:, 1].max()) + 1) + cell[:, 1]
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    by_patch = np.argsort(key, kind="stable")
    whole = np.logical_or.reduceat(~loose[by_patch], np.concatenate([[0], np.cumsum(count)[:-1]]))
    begin = np.concatenate([[0], np.cumsum(count)[:-1]])
    pick = np.arange(int(count.max()))[None, :]
    inside = pick < count[:, None]
    ring = by_patch[begin[:, None] + np.minimum(pick, count[:, None] - 1)]
    patch_ring = np.where(inside, ring, -1).astype(np.int32)
    middle = (cell[first] + 0.5) * fingertip_mm + place.min(axis=0)
    reach = []
    for sign in (-1.0, 1.0):
        lists = []
        for here, alone in zip(work.place_mm, loose[work.ring].tolist(), strict=True):
            if alone:
                lists.append(np.zeros(0, dtype=np.int32))
                continue
            away = sign * (middle[:, 0] - here[0])
            within = (
                (away >= limits.hold_from_mm) & (away <= limits.hold_to_mm) & (away > 0) & whole
            )
            within &= np.abs(middle[:, 1] - here[1]) <= limits.hold_to_mm
            lists.append(np.flatnonzero(within).astype(np.int32))
        reach.append(tuple(lists))
    if not any(patches.size for side in reach for patches in side):
        return None
    return Hold(
        patch_ring=patch_ring,
        reach=(reach[0], reach[1]),
        limit_c=limits.finger_limit_c,
        fields=tuple(fields),
        felt=tuple(_felt(field, patch_ring) for field in fields),
    )


def _felt(field: Field, patch_ring: IntArray) -> npt.NDArray[np.bool_]:
    """Which welds a patch feels by more than a hundredth of a kelvin at any time."""
    tops = field.tops_k()
    ring = np.maximum(patch_ring, 0)
    felt = np.zeros((patch_ring.shape[0], field.offset.shape[1]), dtype=bool)
    for place in range(patch_ring.shape[1]):
        strong = tops[field.offset[ring[:, place]] // field.width] > _UNFELT_K
        felt |= strong & (patch_ring[:, place] >= 0)[:, None]
    return felt


def _patch_c(
    hold: Hold,
    index: int,
    order: IntArray,
    start_s: FloatArray,
    patch: IntArray,
    at_s: FloatArray,
) -> FloatArray:
    """Warmest ring of some patches at some times, in one corner. [°C]."""
    if at_s.shape[0] > _MOST_ASKED:
        half = at_s.shape[0] // 2
        parts = [
            _patch_c(hold, index, order, start_s, patch[some], at_s[some])
            for some in (slice(None, half), slice(half, None))
        ]
        return np.concatenate(parts)
    field = hold.fields[index]
    last = np.searchsorted(start_s, at_s, side="left")
    first = np.searchsorted(start_s, at_s - field.window_s, side="right")
    width = int(np.max(last - first, initial=0))
    back = np.arange(1, width + 1)
    ring = hold.patch_ring[patch]
    inside = ring >= 0
    warm = field.base_c[np.maximum(ring, 0)].astype(float)
    row = np.zeros(0, dtype=np.int64)
    if width:
        step = np.maximum(last[:, None] - back, 0)
        join, lag = order[step], at_s[:, None] - start_s[step]
        near_enough = (last[:, None] >= back) & (lag < field.window_s)
        row, column = np.nonzero(hold.felt[index][patch[:, None], join] & near_enough)
    if row.size:
        near = np.maximum(ring[row], 0)
        value = field.rise_k(near, join[row, column][:, None], lag[row, column][:, None])
        begin = np.flatnonzero(np.diff(row, prepend=-1))
        warm[row[begin]] += np.add.reduceat(value, begin, axis=0)
    warmest: FloatArray = np.where(inside, warm, -np.inf).max(axis=1)
    return warmest


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
    work: Work,
    order: IntArray,
    start_s: FloatArray,
    *,
    ranked: tuple[IntArray, IntArray] | None = None,
    steps: IntArray | None = None,
    limit_c: float | None = None,
    corners: Sequence[int] | None = None,
) -> FloatArray:
    """How warm the fingers' places get at each step: the worse side, the worst corner. [°C].

    Stops looking for a cooler patch as soon as one is below the limit, so values below the limit
    are not the least possible ones. Steps at which nothing is held give −inf.
    """
    at_steps = np.arange(order.shape[0]) if steps is None else np.asarray(steps)
    worst = np.full(at_steps.shape[0], -np.inf)
    for side in ranked or rank_patches(hold, work, order):
        warm = _side_c(
            hold, work, order, start_s, side[at_steps], start_s[at_steps], limit_c, corners
        )
        worst = np.maximum(worst, warm)
    return worst


def _side_c(
    hold: Hold,
    work: Work,
    order: IntArray,
    start_s: FloatArray,
    patches: IntArray,
    at_s: FloatArray,
    limit_c: float | None,
    corners: Sequence[int] | None,
) -> FloatArray:
    """Coolest patch of one side for pulses at some times; −inf where there is none. [°C].

    Row k of ``patches`` lists what is within reach for the pulse at ``at_s[k]``.
    """
    limit_c = hold.limit_c if limit_c is None else limit_c
    best = np.full(at_s.shape[0], np.inf)
    for rank in range(patches.shape[1]):
        ask = np.flatnonzero((patches[:, rank] >= 0) & (best > limit_c))
        if ask.size == 0:
            break
        value = np.full(ask.size, -np.inf)
        for index in range(len(hold.fields)) if corners is None else corners:
            for moment in (np.maximum(at_s[ask] - work.handle_s, 0.0), at_s[ask]):
                warm = _patch_c(hold, index, order, start_s, patches[ask, rank], moment)
                value = np.maximum(value, warm)
        best[ask] = np.minimum(best[ask], value)
    return np.where(patches[:, 0] >= 0, best, -np.inf)


def wait_for_fingers(
    hold: Hold,
    work: Work,
    order: IntArray,
    wait_s: FloatArray,
    *,
    margin_k: float = 0.0,
) -> FloatArray | None:
    """Lengthen waits so that a patch cool enough to hold exists on each side at every step.

    Goes through the steps in order; a wait moves everything after it.

    Returns
    -------
    array, shape (m,), or None
        Waits, at least those given; None if no wait makes some place cool enough. [s]
    """
    gaps = work.gaps_s(order)
    wait = wait_s.copy()
    ranked = rank_patches(hold, work, order)
    limit = hold.limit_c - margin_k
    longest = max(field.window_s for field in hold.fields) + WAIT_STEP_S
    count = int(np.log(longest) / np.log(_LONGER)) + 2
    extras = np.unique(np.ceil(_LONGER ** np.arange(count) / WAIT_STEP_S) * WAIT_STEP_S)
    begin, chunk = 0, order.shape[0]
    while begin < order.shape[0]:
        start = np.cumsum(gaps + wait)
        steps = np.arange(begin, min(begin + chunk, order.shape[0]), dtype=np.int32)
        grip = grip_temperatures_c(
            hold, work, order, start, ranked=ranked, steps=steps, limit_c=limit
        )
        hot = np.flatnonzero(grip > limit)
        if hot.size == 0:
            begin, chunk = int(steps[-1]) + 1, chunk * 2
            continue
        step = int(steps[hot[0]])
        warm = np.full(extras.shape[0], -np.inf)
        for side in ranked:
            reach = np.repeat(side[step][None, :], extras.shape[0], axis=0)
            before = start[:step]
            at = start[step] + extras
            cooled = _side_c(hold, work, order, before, reach, at, limit, None)
            warm = np.maximum(warm, cooled)
        good = np.flatnonzero(warm <= limit)
        if good.size == 0:
            return None
        wait[step] += float(extras[good[0]])
        begin, chunk = step + 1, 4
    return wait
