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

    def possible(self, last_s: float, held_later: int) -> bool:
        """Whether the last pulse might fall by then, ``held_later`` held joins after some one."""
        free = int(np.count_nonzero(~self.held))
        return any(
            self._some_join(last_s - (held_later + later) * self.each_s, held_later, later)
            for later in range(free, -1, -1)
        )

    def _some_join(self, at_s: float, held_later: int, free_later: int) -> bool:
        """Whether any held join might be welded at a moment, with so many welds still to come."""
        places = self.work.joins - 1 - held_later - free_later
        soonest = self.work.handle_s + np.arange(places + 1) * self.each_s
        if at_s < soonest[-1]:
            return False
        low = np.arange(places, 0, -1) * self.each_s
        high = at_s - soonest[:-1]
        costs: list[tuple[FloatArray, FloatArray]] = []
        for kernels, spare in zip(self.kernels, self.spare_k, strict=True):
            for back_s in (0.0, self.work.handle_s):
                least = kernels.least_k(np.maximum(low - back_s, 0.0), high - back_s)
                costs.append((least, spare))
        return any(
            self._cool_for(int(join), costs, held_later, free_later)
            for join in np.flatnonzero(self.held)
        )

    def _cool_for(
        self,
        join: int,
        costs: Sequence[tuple[FloatArray, FloatArray]],
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
        self,
        join: int,
        rows: IntArray,
        costs: Sequence[tuple[FloatArray, FloatArray]],
        held_later: int,
        free_later: int,
    ) -> bool:
        """Whether none of some rings need be too warm when a join is welded."""
        others = np.delete(np.arange(self.work.joins), join)
        later = np.zeros((others.shape[0], held_later + free_later))
        later[np.ix_(self.held[others], np.arange(free_later))] = _FORBIDDEN_K
        later[np.ix_(~self.held[others], free_later + np.arange(held_later))] = _FORBIDDEN_K
        for least, spare in costs:
            for row in rows.tolist():
                cost = np.concatenate([least[row, others], later], axis=1)
                if least_sum(cost) > spare[row]:
                    return False
        return True


def bound_held_s(proof: HeldProof, least_s: float, most_held_later: int) -> float:
    """Soonest that the last pulse of any order can fall for the fingers' sake. [s].

    ``least_s``: known to be no later. ``most_held_later``: held joins after the one looked at.
    """
    window_s = max(cap.field.window_s for cap in proof.caps)
    step_s = max(cap.field.step_s for cap in proof.caps)
    soonest_s = least_s
    for held_later in range(min(most_held_later, int(proof.held.sum()) - 1) + 1):
        if proof.possible(soonest_s, held_later):
            continue
        low, high = soonest_s, soonest_s + window_s + proof.work.joins * proof.each_s
        if not proof.possible(high, held_later):
            continue  # one weld alone is too much: no order at all, and no bound to give
        while high - low > step_s / 2:
            middle = (low + high) / 2
            low, high = (low, middle) if proof.possible(middle, held_later) else (middle, high)
        soonest_s = low
    return soonest_s
