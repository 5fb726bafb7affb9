"""Waits put in one after another by summed kernels: each the shortest at which all limits allow."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.thermal.kernels import WeldTimes
from chainplan.order.clock.solved import list_waits_s
from chainplan.order.piece.hold import JUST_BEFORE_S

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.thermal.heat import PartNode
    from chainplan.model.thermal.kernels import KernelTable
    from chainplan.order.piece.hold import Grips
    from chainplan.order.piece.situation import Situation


@frozen
class Headroom:
    """What the limits leave in one bad corner. [K]."""

    table: KernelTable
    base_c: FloatArray  # (nodes,)
    own_k: FloatArray  # (n,) mean rise of each ring by its own weld
    join_k: FloatArray  # (m,)
    part_k: FloatArray  # (parts,)
    finger_c: float


@dataclass(frozen=True, kw_only=True)
class Limits:
    """The limits of a piece in all bad corners, and where its parts are."""

    situation: Situation
    corners: tuple[Headroom, ...]
    parts: tuple[PartNode, ...]
    near: BoolArray  # (parts, m) joins whose weld is felt at each part

    @cached_property
    def waits_s(self) -> FloatArray:
        """Waits that are tried. [s]."""
        longest_s = max(float(corner.table.log_time_s[-1]) for corner in self.corners)
        return list_waits_s(longest_s, self.situation.tuning.clock, fine=False)

    @cached_property
    def lags_s(self) -> FloatArray:
        """Moments after a weld at which parts are read. [s]."""
        tuning = self.situation.tuning.clock
        later = np.linspace(
            tuning.followed_s / tuning.part_samples, tuning.followed_s, tuning.part_samples
        )
        return np.concatenate([tuning.soon_s, later])


def wait_forward(
    limits: Limits,
    order: IntArray,
    wait_s: FloatArray,
    *,
    grips: Grips | None = None,
    first: int = 0,
    room_s: float = np.inf,
) -> tuple[FloatArray, bool]:
    """Weld each join of an order at the first whole second at which all limits allow it.

    Parameters
    ----------
    limits
        The limits.
    order : array, shape (m,)
        The order.
    wait_s : array, shape (m,)
        Waits before the first steps, up to ``first``; later ones are found anew. [s]
    grips : Grips, optional
        Where the fingers may hold at the steps looked at; without it they are not counted.
    first : int, optional
        First step whose wait is not known.
    room_s : float, optional
        Given up when all waits come to more than this. [s]

    Returns
    -------
    array, bool
        The waits, and whether all limits hold.
    """
    work = limits.situation.work
    gaps, ring, wait = work.gaps_s(order), work.ring[order], wait_s.copy()
    wait[first:] = 0.0
    run = _WeldRun(limits=limits, grips=grips, welds=_nothing_welded(limits))
    start = np.cumsum(gaps + wait)
    run.welds.layers[0][ring[:first]] = start[:first]
    now = float(start[first - 1]) if first else 0.0
    total = float(wait.sum())
    for step in range(first, order.shape[0]):
        now += float(gaps[step])
        added = run.least_wait_s(step, int(order[step]), now)
        total += added
        if total > room_s or np.isinf(added):
            return wait, False
        wait[step] = added
        now += added
        run.welds.layers[0][ring[step]] = now
    return wait, True


def _nothing_welded(limits: Limits) -> WeldTimes:
    none = np.zeros(0, dtype=np.int32)
    nodes = limits.corners[0].base_c.shape[0]
    welds = WeldTimes(nodes, none, np.zeros(0))
    welds.layers.append(np.full(nodes, np.inf))
    return welds


@frozen
class _WeldRun:
    """Welds so far, and what the next one may do."""

    limits: Limits
    grips: Grips | None
    welds: WeldTimes

    def least_wait_s(self, step: int, join: int, at_s: float) -> float:
        """Shortest whole wait after which a join may be welded; inf if there is none. [s]."""
        if self._allows(step, join, at_s + np.zeros(1))[0]:
            return 0.0
        waits, count = self.limits.waits_s, 4
        begin = 0
        while begin < waits.shape[0]:
            some = waits[begin : begin + count]
            good = np.flatnonzero(self._allows(step, join, at_s + some))
            if good.size:
                place = begin + int(good[0])
                low = float(waits[place - 1]) if place else 0.0
                return self._shorten(step, join, at_s, low, float(waits[place]))
            begin, count = begin + count, 2 * count
        return np.inf

    def _shorten(self, step: int, join: int, at_s: float, low: float, high: float) -> float:
        """Halve down to whole seconds, between a wait too short and one that will do."""
        while high - low > 1.0:
            middle = low + float(np.floor((high - low) / 2))
            if self._allows(step, join, np.asarray([at_s + middle]))[0]:
                high = middle
            else:
                low = middle
        return high

    def _allows(self, step: int, join: int, at_s: FloatArray) -> BoolArray:
        """Whether a join may be welded at some moments, shape of ``at_s``."""
        good = np.ones(at_s.shape[0], dtype=bool)
        ring = int(self.limits.situation.work.ring[join])
        for corner in self.limits.corners:
            if not good.any():
                break
            rise = self._rise_k(corner, np.full(at_s.shape[0], ring, dtype=np.int32), at_s)
            good &= rise <= corner.join_k[join]
        if good.any() and self.limits.near[:, join].any():
            good[good] = self._parts_allow(join, ring, at_s[good])
        if good.any() and self.grips is not None:
            good[good] = self._fingers_allow(self.grips, step, at_s[good])
        return good

    def _rise_k(self, corner: Headroom, node: IntArray, at_s: FloatArray) -> FloatArray:
        return corner.table.rises_k(self.welds, node, at_s)

    def _parts_allow(self, join: int, ring: int, at_s: FloatArray) -> BoolArray:
        """Whether every part that feels the weld stays below its limit after it."""
        good = np.ones(at_s.shape[0], dtype=bool)
        lags = self.limits.lags_s
        later = (at_s[:, None] + lags).ravel()
        for number, part in enumerate(self.limits.parts):
            if not self.limits.near[number, join]:
                continue
            node = np.full(later.shape[0], part.node, dtype=np.int32)
            for corner in self.limits.corners:
                near, curve = corner.table.near(part.node)
                mine = curve[near == ring]
                own = corner.table.rise_at(mine[:, None], lags[None, :]).sum(axis=0)
                own = own * float(corner.table.share(np.array([ring]))[0])
                rise = self._rise_k(corner, node, later).reshape(-1, lags.shape[0]) + own
                good &= rise.max(axis=1) <= corner.part_k[number]
        return good

    def _fingers_allow(self, grips: Grips, step: int, at_s: FloatArray) -> BoolArray:
        """Whether both fingers find a cool place; steps that are not looked at always do."""
        row = int(np.searchsorted(grips.steps, step))
        if row == grips.steps.shape[0] or grips.steps[row] != step:
            return np.ones(at_s.shape[0], dtype=bool)
        begin, end = np.searchsorted(grips.row, [row, row + 1]).tolist()
        if begin == end:
            return np.ones(at_s.shape[0], dtype=bool)
        bounds = np.append(grips.first, grips.node.shape[0])
        node = grips.node[bounds[begin] : bounds[end]]
        first, side = grips.first[begin:end] - grips.first[begin], grips.side[begin:end]
        handle_s = self.limits.situation.pace.handle_s
        pulse = np.maximum(at_s - JUST_BEFORE_S, 0.0)
        moments = np.stack([np.maximum(pulse - handle_s, 0.0), pulse], axis=1)  # (k, 2)
        every = np.tile(node, moments.size)
        when = np.repeat(moments.ravel(), node.shape[0])
        good = np.ones(at_s.shape[0], dtype=bool)
        uneven = self.limits.situation.heat.uneven
        for corner in self.limits.corners:
            if not good.any():
                break
            warm = self._rise_k(corner, every, when) + corner.base_c[every]
            warm += uneven.at_join_k(corner.own_k, self.welds.layers[0], every, when)
            warm = warm.reshape(at_s.shape[0], 2, -1).max(axis=1)
            patch = np.maximum.reduceat(warm, first, axis=1)
            for one in (0, 1):
                if (side == one).any():
                    good &= patch[:, side == one].min(axis=1) <= corner.finger_c
        return good
