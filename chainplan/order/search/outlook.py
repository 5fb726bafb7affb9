"""What no end of an order can avoid, told from its beginning: when each join left can be ready.

Times ahead are cut into short intervals. In each of them a ring is at least as warm as the cooler
of the interval's two ends, less what a chord can miss a sum of fading modes by (an eighth of the
interval's square times the greatest second derivative, ``Σ |c|·λ²·e^(−λt)``). So a join whose ring
is above its limit even by that, or none of whose patches is cool by that when the fingers close and
when the pulse falls, is welded nowhere in the interval: heat of later welds only adds to it.

The last of the joins left finds the heat of all others left too. Each of these falls at least one
step after the beginning and one before the last pulse, a handling less before the fingers close; so
it brings at least its least over those lags. If a ring is too warm even so, the order does not end
in the interval.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.proof.dealing import ROUNDING_K

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.work import HandWork

_LONGEST_S = 2.0
"""Length of an interval at most: shorter ones tell more and cost more (judgement)."""


@frozen
class Outlook:
    """A piece's modes seen interval by interval. Arrays of heat in single precision."""

    work: HandWork
    modes: Follower
    each_s: float  # least time from one pulse to the next
    step_s: float  # length of an interval
    closing: int  # intervals between the fingers' closing and the pulse
    fading: FloatArray  # (c, n, g + 1) share of every mode left at the ends of the intervals
    bend: FloatArray  # (c, n, g) what a chord can miss a mode by
    later_k: FloatArray  # (m, c, nodes, g) least rise of a weld still to come, when the last falls
    using_k: FloatArray  # (c, nodes, g) most of it by a join that is held at the node's patch

    def least_k(self, state: FloatArray, first: int, end: int) -> FloatArray:
        """Least rise of every node in some intervals, shape (c, rows, nodes, intervals). [K]."""
        corners, modes = self.modes.rate.shape
        rows, nodes = state.shape[0], self.modes.shape.shape[0]
        shape = self.modes.shape.transpose(1, 0, 2).astype(np.float32)
        apart = state.astype(np.float32).transpose(1, 0, 2)
        flat = (apart[:, :, None] * shape[:, None]).reshape(corners, rows * nodes, modes)
        at = np.matmul(flat, self.fading[:, :, first : end + 1])
        least = np.minimum(at[..., :-1], at[..., 1:]).reshape(corners, rows, nodes, -1)
        widest = np.abs(shape).max(axis=1)[:, None]
        least -= np.matmul(np.abs(apart) * widest, self.bend[:, :, first:end])[:, :, None]
        rise: FloatArray = np.maximum(least, 0.0, out=least)
        return rise

    def look(
        self, state: FloatArray, left: BoolArray, soonest_s: FloatArray, room_s: float
    ) -> tuple[FloatArray, FloatArray]:
        """When each join left can be ready at the soonest, and the last of all be welded. [s].

        Parameters
        ----------
        state : array, shape (rows, corners, modes)
            Just after the last weld of each beginning.
        left : array, shape (rows, m)
            Joins still to be welded, one at least in each row.
        soonest_s : array, shape (rows, m)
            When each could be the next if nothing were warm, counted from the last weld.
        room_s : float
            Later times are of no use.

        Returns
        -------
        array (rows, m), array (rows,)
            Counted from the last weld; inf: not within that time. No join is welded sooner,
            whatever is welded before it.
        """
        end = min(int(np.ceil(room_s / self.step_s)), self.bend.shape[2])
        if end < 1:
            return np.full(left.shape, np.inf), np.full(left.shape[0], np.inf)
        least = self.least_k(state, 0, end)
        able = self._able(least, least[:, :, self.work.ring], left)
        until_s = np.arange(1, end + 1) * self.step_s
        able &= until_s >= soonest_s[..., None]
        ready_s = np.maximum(self._first_s(able), soonest_s)
        count = left.sum(axis=1)
        first = min(int(count.min() * self.each_s / self.step_s), end - 1)
        from_here = max(first - self.closing, 0)
        least, more = least[..., from_here:], self.later_k[..., from_here:end]
        some = left.astype(np.float32)
        both = (some @ more.reshape(more.shape[0], -1)).reshape(-1, *more.shape[1:])
        both = both.transpose(1, 0, 2, 3)
        every = np.arange(self.work.joins)
        mine = more[every, :, self.work.ring].transpose(1, 0, 2)  # of its own ring
        others = both[:, :, self.work.ring] - mine[:, None]
        patch = np.maximum(both - self.using_k[:, None, :, from_here:end], 0.0)
        own = least[:, :, self.work.ring] + np.maximum(others, 0.0)
        able = self._able(least + patch, own, left)
        able &= (until_s[from_here:] >= (count * self.each_s)[:, None])[:, None]
        last_s = self._first_s(np.asarray(able.any(axis=1))) + from_here * self.step_s
        return ready_s, np.maximum(last_s, count * self.each_s)

    def _first_s(self, able: BoolArray) -> FloatArray:
        """Beginning of the first interval that will do; inf: none. [s]."""
        first: FloatArray = able.argmax(axis=-1) * self.step_s
        return np.where(able.any(axis=-1), first, np.inf)

    def _able(self, warm_k: FloatArray, own_k: FloatArray, left: BoolArray) -> BoolArray:
        """Whether nothing forbids a join in an interval, shape (rows, m, intervals)."""
        modes = self.modes
        able = (own_k <= (modes.join_k + ROUNDING_K)[:, None, :, None]).all(axis=0)
        able &= left[..., None]
        if modes.fingers is None:
            return np.asarray(able)
        warm = (warm_k + modes.base_c[:, None, :, None].astype(np.float32)).max(axis=0)
        if self.closing < warm.shape[2]:
            later = warm[..., self.closing :]
            warm[..., self.closing :] = np.maximum(later, warm[..., : later.shape[2]])
        patch = warm[:, modes.fingers.patch_ring].max(axis=2)
        cool = patch <= modes.fingers.limit_c + ROUNDING_K  # (rows, patches, intervals)
        for side in modes.fingers.reach:
            kinds, which = np.unique(side, axis=1, return_inverse=True)
            for number, kind in enumerate(kinds.T):
                if kind.any():
                    able[:, which.ravel() == number] &= cool[:, kind].any(axis=1)[:, None]
        return np.asarray(able)


def make_outlook(work: HandWork, modes: Follower, horizon_s: float) -> Outlook:
    """Prepare a look ahead of so many seconds."""
    every = np.arange(work.joins, dtype=np.int32)
    step = work.step_s(every[:, None], every[None, :])
    np.fill_diagonal(step, np.inf)
    each_s = work.handle_s + float(work.after_s.min())
    each_s += float(step.min()) if work.joins > 1 else 0.0
    closing = int(np.ceil(work.handle_s / _LONGEST_S))
    step_s = work.handle_s / closing if closing else _LONGEST_S
    count = max(1, int(np.ceil(horizon_s / step_s)))
    fading = np.exp(-modes.rate[:, :, None] * np.arange(count + 1) * step_s)
    bend = modes.rate[:, :, None] ** 2 * fading[:, :, :-1] * (step_s**2 / 8)
    corners, nodes = modes.rate.shape[0], modes.shape.shape[0]
    bare = Outlook(
        work=work,
        modes=modes,
        each_s=each_s,
        step_s=step_s,
        closing=closing,
        fading=fading.astype(np.float32),
        bend=bend.astype(np.float32),
        later_k=np.zeros((work.joins, corners, nodes, count), dtype=np.float32),
        using_k=np.zeros((corners, nodes, count), dtype=np.float32),
    )
    rise = bare.least_k(modes.weld, 0, count).transpose(1, 0, 2, 3)
    first = min(int((each_s - work.handle_s) / step_s), count - 1)
    soon = np.minimum.accumulate(rise[..., first:], axis=3)
    lags = np.ceil((np.arange(1, count + 1) * step_s - each_s) / step_s).astype(int) - 1
    later_k = soon[..., np.clip(lags - first, 0, soon.shape[3] - 1)]
    return Outlook(
        work=work,
        modes=modes,
        each_s=each_s,
        step_s=step_s,
        closing=closing,
        fading=bare.fading,
        bend=bare.bend,
        later_k=later_k,
        using_k=_most_of_users(modes, later_k),
    )


def _most_of_users(modes: Follower, later_k: FloatArray) -> FloatArray:
    """Most that a join can bring to a patch that it is held at, (c, nodes, g). [K].

    The last join's own weld does not warm the patch that it is held at.
    """
    most: FloatArray = np.zeros(later_k.shape[1:], dtype=np.float32)
    if modes.fingers is None:
        return most
    held = np.asarray(modes.fingers.reach.any(axis=0))
    for rings, users in zip(modes.fingers.patch_ring, held, strict=True):
        mine: IntArray = np.unique(rings)
        if users.any():
            most[:, mine] = later_k[users][:, :, mine].max(axis=0)
    return most
