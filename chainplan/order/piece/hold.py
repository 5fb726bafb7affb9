"""Which patches each join can be held by, for planning; and which the fingers take step by step."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.piece.patches import Patches, cut_patches, find_reach
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.bench.groups import HeatSettings, PaceSettings
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout
    from chainplan.order.piece.work import HandWork
    from chainplan.order.tuning import ProofTuning

    Temperatures = Callable[[IntArray, FloatArray], FloatArray]
    """°C of the node and the moment given in each place of two arrays."""


JUST_BEFORE_S = 1e-6
"""A pulse's own heat is not counted to the moment before it: far below any time of the hand."""


RINGS_AT_ONCE = 1_000_000
"""Rings between the fingers whose temperatures are asked together: some hundred megabytes."""


ASKED_FIRST = 2
"""Steps asked before all others whether the fingers find nothing cool: on a wide sheet each
has thousands of patches in reach, and one step without a cool one is enough (judgement)."""
SOME_THEN_ALL = (4, 0)
"""Patches a side that are tried where the likeliest is too warm, then all (judgement)."""


@frozen
class Hold:
    """Patches of the piece, and for every join which of them lie within reach on each side."""

    patch_ring: IntArray  # (p, r), −1 fills up
    reach: BoolArray  # (2, m, p) left and right


def lay_out_hold(patches: Patches, work: HandWork, limits: HeatSettings) -> Hold | None:
    """List the patches of each join in full, joins times patches; None if none is in reach."""
    every = np.arange(work.joins, dtype=np.int32)
    clip_ring = work.clip_rings(every)
    found = find_reach(patches, work.place_mm, work.ring, limits, clip_ring=clip_ring)
    if found.row.size == 0:
        return None
    count = patches.first.shape[0]
    reach = np.zeros((2, work.joins, count), dtype=bool)
    reach[found.side, found.row, found.patch] = True
    pick = np.arange(int(patches.size.max()))[None, :]
    inside = pick < patches.size[:, None]
    ring = patches.ring[patches.first[:, None] + np.minimum(pick, patches.size[:, None] - 1)]
    return Hold(patch_ring=np.where(inside, ring, -1).astype(np.int32), reach=reach)


@frozen
class Grips:
    """Patches within reach at some steps of an order, one entry a patch and side."""

    steps: IntArray  # (k,) all steps, or evenly spread ones of a long order
    moment_s: FloatArray  # (2, k) when the fingers close and just before the pulse
    row: IntArray  # (e,) which of ``steps``
    side: IntArray  # (e,) 0: left, 1: right
    node: IntArray  # rings of the patches, entry after entry
    first: IntArray  # (e,) where each entry's rings begin
    more: Callable[[IntArray, int], Grips | None] | None = None
    """So many patches a side of some steps, 0: all; where the entries are one likely cool one."""

    def at_fingers_c(self, temperatures_c: Temperatures, enough_c: float = -np.inf) -> FloatArray:
        """How warm it is at the fingers at each step, −inf where nothing is held, (k,). [°C].

        On each side that is held the fingers take the patch whose warmest ring, when they close and
        when the pulse falls, is coolest; of two sides the warmer counts. On a large piece the
        coolest is looked for only where a patch that is likely cool is above ``enough_c``: the
        others are at most so warm.
        """
        return self._widened_c(self._coolest_c(temperatures_c), temperatures_c, enough_c)

    def _widened_c(
        self, worst: FloatArray, temperatures_c: Temperatures, enough_c: float
    ) -> FloatArray:
        """Look at more patches where the likely one is too warm. [°C]."""
        for most in SOME_THEN_ALL if self.more is not None else ():
            over = np.flatnonzero(worst > enough_c)
            wider = self.more(self.steps[over], most) if self.more and over.size else None
            if wider is not None:
                worst[over] = np.minimum(worst[over], wider._coolest_c(temperatures_c))
        return worst

    def cool(self, temperatures_c: Temperatures, limit_c: float) -> bool:
        """Whether the fingers find a patch no warmer than this at every step.

        As :meth:`at_fingers_c` says it; but of the steps at which the likely patch is too warm the
        warmest few are looked at first, since one of them is enough to say no.
        """
        worst = self._coolest_c(temperatures_c)
        if self.more is not None:
            over = np.flatnonzero(worst > limit_c)
            first = np.sort(over[np.argsort(-worst[over], kind="stable")[:ASKED_FIRST]])
            for most in SOME_THEN_ALL:
                wider = self.more(self.steps[first], most) if first.size else None
                if wider is not None:
                    first = first[wider._coolest_c(temperatures_c) > limit_c]
            if first.size:
                return False
        return bool((self._widened_c(worst, temperatures_c, limit_c) <= limit_c).all())

    def part(self, some: slice) -> Grips:
        """Only some of the steps looked at, one after another."""
        begin, end = np.searchsorted(self.row, [some.start, some.stop]).tolist()
        ends = np.append(self.first, self.node.shape[0])
        return replace(
            self,
            steps=self.steps[some],
            moment_s=self.moment_s[:, some],
            row=self.row[begin:end] - np.int32(some.start),
            side=self.side[begin:end],
            node=self.node[ends[begin] : ends[end]],
            first=(self.first[begin:end] - ends[begin]).astype(np.int32),
        )

    def _coolest_c(self, temperatures_c: Temperatures) -> FloatArray:
        """How warm it is in the coolest of the patches listed, on the worse side. [°C]."""
        sides = np.full((self.steps.shape[0], 2), np.inf)
        ends = np.append(self.first, self.node.shape[0])
        patch = np.empty(self.first.shape[0])
        block = self.first // RINGS_AT_ONCE
        cuts = [0, *(np.flatnonzero(np.diff(block)) + 1).tolist(), patch.shape[0]]
        for begin, end in pairwise(cuts):
            node = self.node[ends[begin] : ends[end]]
            row = np.repeat(self.row[begin:end], np.diff(ends[begin : end + 1]))
            warm = temperatures_c(np.tile(node, 2), self.moment_s[:, row].ravel())
            first = self.first[begin:end] - self.first[begin]
            patch[begin:end] = np.maximum.reduceat(warm.reshape(2, -1).max(axis=0), first)
        np.minimum.at(sides, (self.row, self.side), patch)
        worst: FloatArray = np.where(np.isfinite(sides), sides, -np.inf).max(axis=1)
        return worst


def lay_out_grips(
    layout: Layout,
    joins: Joins,
    ring: IntArray,
    start_s: FloatArray,
    *,
    pace: PaceSettings,
    limits: HeatSettings,
    clip_ring: IntArray | None = None,
    most_steps: int | None = None,
    tuning: ProofTuning = USUAL.proof,
) -> Grips | None:
    """Find what the fingers may take at the steps of an order; None if they never take any.

    Every step is looked at; of pieces with many rings first in one patch a step and side, which is
    likely cool. Of wide pieces as many steps, evenly spread, as come to some hundred thousand
    rings, of chains and strips to ten million, or ``most_steps`` if that is fewer. ``clip_ring``:
    ring that the return lead's clip sits on at each step.
    """
    patches = cut_patches(layout, limits, pace)
    if patches is None or ring.shape[0] == 0:
        return None
    steps = np.arange(ring.shape[0], dtype=np.int32)

    def reach_at(chosen: IntArray) -> tuple[IntArray, IntArray, IntArray]:
        there = ring[chosen]
        clip = None if clip_ring is None else clip_ring[chosen]
        found = find_reach(patches, joins.point_mm[there, :2], there, limits, tuning, clip)
        return found.row, found.side, found.patch

    def some(chosen: IntArray, most: int) -> Grips | None:
        row, side, patch = reach_at(chosen)
        if most:
            likely = _likely_cool(patches, ring, start_s, chosen, (row, side, patch), most, tuning)
            row, side, patch = row[likely], side[likely], patch[likely]
        return _list_rings(patches, chosen, (row, side, patch), start_s, pace)

    large = layout.rings > tuning.all_steps_rings
    if large:
        few = spread(steps, tuning.fewest_steps)
        row, side, patch = reach_at(few)
        if row.size == 0:
            return None
        sides = np.unique(np.stack([row, side]), axis=1).shape[1]
        mean = max(1.0, float(patches.size[patch].mean()) * sides / few.shape[0])
        narrow = patches.across <= tuning.narrow_cells
        most = tuning.looked_at_narrow if narrow else tuning.looked_at
        steps = spread(steps, max(tuning.fewest_steps, int(most / mean)))
    if most_steps is not None:
        steps = spread(steps, most_steps)
    grips = some(steps, 1 if large else 0)
    return replace(grips, more=some) if grips is not None and large else grips


def _list_rings(
    patches: Patches,
    steps: IntArray,
    found: tuple[IntArray, IntArray, IntArray],
    start_s: FloatArray,
    pace: PaceSettings,
) -> Grips | None:
    """List the rings of patches within reach, each with its step's row and side."""
    row, side, patch = found
    if row.size == 0:
        return None
    size = patches.size[patch]
    first = np.cumsum(size) - size
    inner = np.arange(int(size.sum())) - np.repeat(first, size)
    pulse = np.maximum(start_s[steps] - JUST_BEFORE_S, 0.0)
    return Grips(
        steps=steps,
        moment_s=np.stack([np.maximum(pulse - pace.handle_s, 0.0), pulse]),
        row=row,
        side=side,
        node=patches.ring[np.repeat(patches.first[patch], size) + inner],
        first=first.astype(np.int32),
    )


def _likely_cool(
    patches: Patches,
    ring: IntArray,
    start_s: FloatArray,
    steps: IntArray,
    found: tuple[IntArray, IntArray, IntArray],
    most: int,
    tuning: ProofTuning,
) -> IntArray:
    """Pick so many patches a step and side: those with the fewest welds in and beside lately."""
    row, side, patch = found
    count = ring.shape[0] + 1
    welded = patches.of_ring[ring].astype(np.int64) * count + np.arange(ring.shape[0])
    welded.sort()
    now = steps[row].astype(np.int64)
    since = np.searchsorted(start_s, start_s[steps] - tuning.lately_s)[row]
    lately = np.zeros(row.shape[0])
    for shift, weight in ((0, 2), (-patches.across, 1), (patches.across, 1)):
        wanted = patches.key[patch] + shift
        beside = np.minimum(np.searchsorted(patches.key, wanted), patches.key.shape[0] - 1)
        there = patches.key[beside] == wanted
        first = beside.astype(np.int64) * count
        welds = np.searchsorted(welded, first + now) - np.searchsorted(welded, first + since)
        lately += weight * np.where(there, welds, 0)
    order = np.lexsort((patches.size[patch], lately, side, row))
    fresh = np.diff(row[order].astype(np.int64) * 2 + side[order], prepend=-1) != 0
    every = np.arange(order.shape[0])
    rank = every - np.maximum.accumulate(np.where(fresh, every, 0))
    return np.sort(order[rank < most]).astype(np.int32)


def spread(steps: IntArray, most: int) -> IntArray:
    """Keep so many steps at most, evenly spread, the first and the last among them."""
    if steps.shape[0] <= most:
        return steps
    return steps[np.linspace(0, steps.shape[0] - 1, most).astype(np.int32)]
