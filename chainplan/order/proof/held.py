"""What the fingers ask of the last joins that they hold: a lower bound on the time of any order.

Let H be the joins that the fingers hold the piece for, and i the one of them that is welded when
a − 1 others of H are still to come, and b of the joins that nothing is held for. Its place in the
order is k = m − (a − 1) − b. On every side that is held one patch within its reach is cool: every
ring of it, in every corner, when the fingers close and when the pulse falls. All kernels are ≥ 0,
so these rings are at least as warm as the welds of the first k − 1 places make them. The weld in
place l fell between (k − l)·h and t − e(l) before the pulse at t, where h is the least time from
one pulse to the next and e(l) = handle + (l − 1)·h the soonest that place l can come.

Which joins are in which place is not known. They are dealt out so that the ring gets least: the
m − 1 joins but i to the k − 1 places, b places for joins that nothing is held for and a − 1 for
any of H, both at no heat. If for every i every patch of one side has a ring that even so is above
the limit, then i is not welded at t. Lags only grow with t, so the least t is found by bisection;
after it come a − 1 + b further welds. For each a the least over all b is a bound on the last
pulse, and the bound is the largest over a.

What is given away: each ring of each patch is dealt out for by itself, each corner and each of the
two moments too, and each a; where the limit asks for waits in the middle of an order, which patch
is taken when, is not seen at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.proof.dealing import ROUNDING_K, Kernels, least_sum, sample_kernels

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.field import Caps
    from chainplan.order.piece.hold import Hold
    from chainplan.order.piece.work import HandWork

_LOOKED_AT = 4
"""Rings, corners and moments of a patch that are dealt out in full; more only raise the bound."""
_FORBIDDEN_K = 1e6
"""Costs of giving a place to a join that may not have it: far above any rise."""


@dataclass(frozen=True, kw_only=True)
class HeldProof:
    """The joins, what warms the rings that the fingers may take, and how warm those may be."""

    work: HandWork
    caps: Sequence[Caps]
    hold: Hold
    limit_c: float

    @cached_property
    def held(self) -> BoolArray:
        """Joins that the fingers hold the piece for, (m,)."""
        return np.asarray(self.hold.reach.any(axis=(0, 2)))

    @cached_property
    def nodes(self) -> IntArray:
        """Rings that the fingers may take, ascending."""
        used = self.hold.patch_ring[self.hold.reach.any(axis=(0, 1))]
        return np.unique(used[used >= 0]).astype(np.int32)

    @cached_property
    def kernels(self) -> list[Kernels]:
        """Of those rings in each corner."""
        return [sample_kernels(cap.field, self.nodes) for cap in self.caps]

    @cached_property
    def spare_k(self) -> list[FloatArray]:
        """What the limit leaves of each of those rings, by corner. [K]."""
        return [self.limit_c - cap.field.base_c[self.nodes] + ROUNDING_K for cap in self.caps]

    @cached_property
    def each_s(self) -> float:
        """Least time from one pulse to the next. [s]."""
        every = np.arange(self.work.joins, dtype=np.int32)
        step = self.work.step_s(every[:, None], every[None, :])
        np.fill_diagonal(step, np.inf)
        least = float(step.min()) if every.shape[0] > 1 else 0.0
        return self.work.handle_s + float(self.work.after_s.min()) + least

    def possible(self, at_s: float, soonest_s: FloatArray, held_later: int) -> bool:
        """Whether some held join may be welded at a moment, ``held_later`` others after it.

        ``soonest_s``: of each place before it, and of its own. [s]
        """
        if at_s < soonest_s[-1]:
            return False
        places = soonest_s.shape[0] - 1
        low = np.arange(places, 0, -1) * self.each_s
        high = at_s - soonest_s[:-1]
        least = [
            kernels.least_k(np.maximum(low - back_s, 0.0), high - back_s)
            for kernels in self.kernels
            for back_s in (0.0, self.work.handle_s)
        ]
        costs = np.stack(least)
        free_later = self.work.joins - 1 - held_later - places
        return any(
            self._cool_for(int(join), costs, held_later, free_later)
            for join in np.flatnonzero(self.held)
        )

    def _cool_for(
        self,
        join: int,
        costs: FloatArray,
        held_later: int,
        free_later: int,
    ) -> bool:
        """Whether on every side that is held some patch might be cool for a join."""
        known: dict[int, bool] = {}
        for side in self.hold.reach[:, join]:
            patches = np.flatnonzero(side).tolist()
            if not patches:
                continue
            for patch in patches:
                if patch not in known:
                    rings = self.hold.patch_ring[patch]
                    rows = np.searchsorted(self.nodes, rings[rings >= 0])
                    known[patch] = self._cool(join, rows, costs, held_later, free_later)
                if known[patch]:
                    break
            else:
                return False
        return True

    def _cool(
        self, join: int, rows: IntArray, costs: FloatArray, held_later: int, free_later: int
    ) -> bool:
        """Whether none of some rings need be too warm when a join is welded.

        The rings, corners and moments at which most is left over the limit if every weld has its
        own best place are looked at in full.
        """
        others = np.delete(np.arange(self.work.joins), join)
        later = np.zeros((others.shape[0], held_later + free_later))
        later[np.ix_(self.held[others], np.arange(free_later))] = _FORBIDDEN_K
        later[np.ix_(~self.held[others], free_later + np.arange(held_later))] = _FORBIDDEN_K
        mine = costs[:, rows][:, :, others]
        spare = np.repeat(self.spare_k, 2, axis=0)[:, rows]
        last = later.min(axis=1, initial=np.inf)
        quick = np.minimum(mine.min(axis=3, initial=np.inf), last).sum(axis=2) - spare
        if quick.max() > 0:
            return False
        full = np.minimum(mine.max(axis=3, initial=0.0), _FORBIDDEN_K).sum(axis=2) - spare
        for number in np.argsort(-quick, axis=None, kind="stable")[:_LOOKED_AT].tolist():
            which, ring = np.unravel_index(number, quick.shape)
            if full[which, ring] <= 0:
                continue
            cost = np.concatenate([mine[which, ring], later], axis=1)
            if least_sum(cost) > spare[which, ring]:
                return False
        return True


def bound_held_s(proof: HeldProof, least_s: float) -> float:
    """Soonest that the last pulse of any order can fall for the fingers' sake. [s].

    ``least_s``: known to be no later. Goes from the first join that is held to the last: what has
    been found for one tells how soon the places after it can come.
    """
    work, each_s = proof.work, proof.each_s
    held = int(np.count_nonzero(proof.held))
    free = work.joins - held
    soonest_s: FloatArray = work.handle_s + np.arange(work.joins, dtype=np.float64) * each_s
    last_s = least_s
    for number in range(1, held + 1):
        mine_s, end_s = np.inf, np.inf
        for later in range(free, -1, -1):
            place = number + free - later
            after_s = (held - number + later) * each_s
            if soonest_s[place - 1] >= mine_s and soonest_s[place - 1] + after_s >= end_s:
                continue
            at_s = _least_s(proof, soonest_s[:place], held - number)
            mine_s, end_s = min(mine_s, at_s), min(end_s, at_s + after_s)
        if not np.isfinite(mine_s):
            return least_s  # no order at all keeps the limit, and there is no bound to give
        last_s = max(last_s, end_s)
        later_s = mine_s + np.arange(work.joins - number - free + 1) * each_s
        soonest_s[number + free - 1 :] = np.maximum(soonest_s[number + free - 1 :], later_s)
    return last_s


def _least_s(proof: HeldProof, soonest_s: FloatArray, held_later: int) -> float:
    """Least moment at which some held join may be welded in a place; inf if there is none. [s]."""
    low = float(soonest_s[-1])
    if proof.possible(low, soonest_s, held_later):
        return low
    step_s = proof.kernels[0].step_s
    ahead, longest_s = 8 * step_s, max(cap.field.window_s for cap in proof.caps)
    high = low + ahead
    while not proof.possible(high, soonest_s, held_later):
        if high > soonest_s[-1] + longest_s + step_s:
            return np.inf
        low, ahead = high, 2 * ahead
        high = low + ahead
    while high - low > step_s / 2:
        middle = (low + high) / 2
        if proof.possible(middle, soonest_s, held_later):
            high = middle
        else:
            low = middle
    return low
