"""What no end of an order can avoid, told from its beginning: when each join left can be ready.

Times ahead are cut into short intervals. In each of them a ring is at least as warm as the cooler
of the interval's two ends, less what a chord can miss a sum of fading modes by (an eighth of the
interval's square times the greatest second derivative, ``Σ |c|·λ²·e^(−λt)``). So a join whose ring
is above its limit even by that, or none of whose patches is cool by that when the fingers close and
when the pulse falls, is welded nowhere in the interval: heat of later welds only adds to it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.proof.dealing import ROUNDING_K

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.order.clock.follower import Follower
    from chainplan.order.piece.work import HandWork

_LONGEST_S = 2.0
"""Length of an interval at most: shorter ones tell more and cost more (judgement)."""


@frozen
class Outlook:
    """A piece's modes seen interval by interval. Arrays of heat in single precision."""

    work: HandWork
    modes: Follower
    gap_s: FloatArray  # (m, m) from the pulse of one join to that of the next at the soonest
    each_s: float  # the least of those
    step_s: float  # length of an interval
    closing: int  # intervals between the fingers' closing and the pulse
    fading: FloatArray  # (c, n, g + 1) share of every mode left at the ends of the intervals
    bend: FloatArray  # (c, n, g) what a chord can miss a mode by

    def least_k(self, state: FloatArray, end: int, corner: int) -> FloatArray:
        """Least rise of every node in the first intervals, shape (rows, nodes, intervals). [K]."""
        rows, modes = state.shape[0], state.shape[2]
        shape = self.modes.shape[:, corner].astype(np.float32)
        apart = state[:, corner].astype(np.float32)
        flat = (apart[:, None] * shape).reshape(-1, modes)
        at = flat @ self.fading[corner, :, : end + 1]
        least = np.minimum(at[:, :-1], at[:, 1:]).reshape(rows, -1, end)
        widest = np.abs(shape).max(axis=0)
        least -= ((np.abs(apart) * widest) @ self.bend[corner, :, :end])[:, None]
        rise: FloatArray = np.maximum(least, 0.0, out=least)
        return rise

    def ready_s(
        self, state: FloatArray, left: BoolArray, soonest_s: FloatArray, room_s: float
    ) -> FloatArray:
        """When each join left can be ready at the soonest. [s].

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
        array, shape (rows, m)
            Counted from the last weld; inf: not within that time. No join is welded sooner,
            whatever is welded before it.
        """
        end = min(int(np.ceil(room_s / self.step_s)), self.bend.shape[2])
        if end < 1:
            return np.full(left.shape, np.inf)
        corners = range(self.modes.rate.shape[0])
        least = np.stack([self.least_k(state, end, corner) for corner in corners])
        able = self._able(least, left)
        able &= np.arange(1, end + 1) * self.step_s >= soonest_s[..., None]
        ready_s: FloatArray = np.maximum(self._first_s(able), soonest_s)
        return ready_s

    def _first_s(self, able: BoolArray) -> FloatArray:
        """Beginning of the first interval that will do; inf: none. [s]."""
        first: FloatArray = able.argmax(axis=-1) * self.step_s
        return np.where(able.any(axis=-1), first, np.inf)

    def _able(self, warm_k: FloatArray, left: BoolArray) -> BoolArray:
        """Whether nothing forbids a join in an interval, shape (rows, m, intervals)."""
        modes, own_k = self.modes, warm_k[:, :, self.work.ring]
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
    gap_s = work.handle_s + work.after_s[:, None] + work.step_s(every[:, None], every[None, :])
    apart = gap_s[~np.eye(work.joins, dtype=bool)]
    each_s = float(apart.min()) if apart.size else work.handle_s
    closing = int(np.ceil(work.handle_s / _LONGEST_S))
    step_s = work.handle_s / closing if closing else _LONGEST_S
    count = max(1, int(np.ceil(horizon_s / step_s)))
    fading = np.exp(-modes.rate[:, :, None] * np.arange(count + 1) * step_s)
    bend = modes.rate[:, :, None] ** 2 * fading[:, :, :-1] * (step_s**2 / 8)
    return Outlook(
        work=work,
        modes=modes,
        gap_s=gap_s,
        each_s=each_s,
        step_s=step_s,
        closing=closing,
        fading=fading.astype(np.float32),
        bend=bend.astype(np.float32),
    )
