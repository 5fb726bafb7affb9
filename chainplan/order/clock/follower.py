"""The heat of a small piece as a sum of fading modes: when each join may be welded, fingers too.

Between welds the network is linear, ``C dT/dt = −A T``. With ``C^-½ A C^-½ = V diag(rate) Vᵀ`` the
rise over the base temperature is ``T = C^-½ V a`` and every ``a`` fades by ``e^(−rate·t)``; a weld
of q joules at ring i adds ``q·V[i]/√C[i]`` to it. A state therefore tells all that later welds need
to know of the past, and going one step on costs the same however many welds came before.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.order.tuning import ClockTuning


@frozen
class Fingers:
    """Patches the fingers can take: rings sorted by patch, and which patches each join can use."""

    ring: IntArray  # sorted by patch
    begin: IntArray  # (p,) first of each patch in ``ring``
    patch_ring: IntArray  # (p, q) rings of each patch, the first one repeated to fill up
    shape: FloatArray  # (c, p, n) rise of each patch's first ring per unit of a mode, K
    every: FloatArray  # (c, k, n) the same of all rings of patches, in the order of ``ring``
    base_c: FloatArray  # (c, k, 1) of all rings of patches
    reach: BoolArray  # (2, p, m) left, right
    limit_c: float

    def only(self, corner: slice) -> Fingers:
        """Look at one corner alone, in single precision."""
        return replace(
            self,
            shape=self.shape[corner].astype(np.float32),
            every=self.every[corner].astype(np.float32),
            base_c=self.base_c[corner].astype(np.float32),
        )


@frozen
class Follower:
    """A piece's network in some corners, solved; what each weld adds; what must stay cool.

    Pieces of many nodes are followed in single precision: rounding then adds some thousandths of a
    kelvin, far inside the margins.
    """

    rate: FloatArray  # (c, n) 1/s
    shape: FloatArray  # (nodes, c, n) rise of a node per unit of a mode, K
    touch: FloatArray  # the same where fingers may have it hottest
    weld: FloatArray  # (m, c, n) what a join's weld adds to the modes
    base_c: FloatArray  # (c, nodes)
    join_k: FloatArray  # (c, m)
    ahead: FloatArray  # (c, n, parts · samples) a part's rise at times to come
    part_k: FloatArray  # (c, parts · samples)
    touching: BoolArray  # (m,) joins whose weld counts for a part
    fingers: Fingers | None
    handle_s: float
    ring: IntArray  # (m,)
    wait_s: FloatArray  # waits that are tried
    wait_fading: FloatArray  # (c, n, waits) share of every mode left after each
    tuning: ClockTuning

    def only(self, corner: int) -> Follower:
        """Look at one corner alone, in single precision: enough to rank orders by."""
        one, kind = slice(corner, corner + 1), np.float32
        shape: FloatArray = self.shape[:, one].astype(kind, order="C")
        touch: FloatArray = shape
        if self.touch is not self.shape:
            touch = self.touch[:, one].astype(kind, order="C")
        return replace(
            self,
            rate=self.rate[one].astype(kind),
            shape=shape,
            touch=touch,
            weld=self.weld[:, one].astype(kind, order="C"),
            base_c=self.base_c[one].astype(kind),
            join_k=self.join_k[one].astype(kind),
            ahead=self.ahead[one].astype(kind),
            part_k=self.part_k[one].astype(kind),
            wait_fading=self.wait_fading[one].astype(kind),
            fingers=self.fingers and self.fingers.only(one),
        )

    def bare(self) -> Follower:
        """Let no fingers hold the piece."""
        return replace(self, fingers=None)

    def cold(self, rows: int) -> FloatArray:
        """States before the first weld, shape (rows, corners, modes)."""
        return np.zeros((rows, *self.rate.shape), dtype=self.rate.dtype)

    def fading(self, seconds: FloatArray) -> FloatArray:
        """Share of every mode left after some seconds, shape (…, corners, modes)."""
        left: FloatArray = self.rate * -seconds.astype(self.rate.dtype)[..., None, None]
        return np.exp(left, out=left)

    def fade(self, state: FloatArray, seconds: FloatArray) -> FloatArray:
        """States some seconds later, one number a row."""
        faded: FloatArray = state * self.fading(seconds)
        return faded

    def rise_k(self, state: FloatArray) -> FloatArray:
        """Rise of every node, shape (rows, corners, nodes). [K]."""
        rise: FloatArray = np.matmul(state.transpose(1, 0, 2), self.shape.transpose(1, 2, 0))
        return rise.transpose(1, 0, 2)

    def own_k(self, state: FloatArray, join: IntArray) -> FloatArray:
        """Rise of each row's own ring, shape (rows, corners). [K]."""
        rise: FloatArray = np.einsum("rcn,rcn->rc", state, self.shape[self.ring[join]])
        return rise

    def weld_ahead(
        self, state: FloatArray, join: IntArray, lag_s: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Weld on without any wait: states when the fingers close, and when each pulse falls.

        ``join`` and ``lag_s`` have shape (steps, rows), the states (steps, rows, corners, modes).
        Whether the limits allow each weld is asked of all of them together afterwards.
        """
        steps = join.shape[0]
        if self.fingers is None:
            then = self.fading(lag_s)
            then[0] *= state
            for step in range(1, steps):
                then[step] *= then[step - 1] + self.weld[join[step - 1]]
            return then, then
        early = np.maximum(lag_s - self.handle_s, 0.0)
        rest = lag_s - early
        closing, then = (
            self.fading(early),
            np.empty((*lag_s.shape, *self.rate.shape), self.rate.dtype),
        )
        last = self.fading(rest[:1, :1])[0] if np.ptp(rest) == 0 else None
        for step in range(steps):
            closing[step] *= state
            fading = self.fading(rest[step]) if last is None else last
            np.multiply(closing[step], fading, out=then[step])
            if step + 1 < steps:
                state = then[step] + self.weld[join[step]]
        return closing, then

    def allows(self, state: FloatArray, join: IntArray, lag_s: FloatArray) -> BoolArray:
        """Whether each row's join may be welded so long after the state. (rows,)."""
        return self.allows_at(*self.before(state, lag_s), join)

    def allows_at(self, closing: FloatArray, then: FloatArray, join: IntArray) -> BoolArray:
        """Whether each row's join may be welded at a state; the fingers have closed at another."""
        good: BoolArray = np.asarray((self.own_k(then, join) <= self.join_k[:, join].T).all(axis=1))
        if self.part_k.size:
            some = np.flatnonzero(good & self.touching[join])
            if some.size:
                after = then[some] + self.weld[join[some]]
                peak = np.matmul(after.transpose(1, 0, 2), self.ahead)
                good[some] = (peak <= self.part_k[:, None, :]).all(axis=(0, 2))
        if self.fingers is not None:
            some = np.flatnonzero(good)
            if some.size:
                good[some] = self._place_for(self.fingers, closing[some], then[some], join[some])
        return good

    def _place_for(
        self, fingers: Fingers, closing: FloatArray, then: FloatArray, join: IntArray
    ) -> BoolArray:
        """Whether both fingers find a cool place; in large pieces the likeliest is asked first."""
        mine = fingers.reach[:, :, join]
        free: BoolArray = ~np.asarray(mine.any(axis=1))  # (2, rows) sides that are not held
        good = np.zeros(join.shape[0], dtype=bool)
        if self.shape.shape[0] > self.tuning.fine_nodes:
            good = self._likely_place_for(fingers, (closing, then), mine, free)
            left = np.flatnonzero(~good)
            if left.size:
                closing, then, mine = closing[left], then[left], mine[:, :, left]
                good[left] = self._cool_place(fingers, closing, then, mine, free[:, left])
            return good
        return self._cool_place(fingers, closing, then, mine, free)

    def _cool_place(
        self,
        fingers: Fingers,
        closing: FloatArray,
        then: FloatArray,
        mine: BoolArray,
        free: BoolArray,
    ) -> BoolArray:
        """Whether any patch within reach will do, on both sides. (rows,)."""
        cool = self._patches_c(fingers, closing, then) <= fingers.limit_c
        good: BoolArray = np.all((cool & mine).any(axis=1) | free, axis=0)
        return good

    def _likely_place_for(
        self,
        fingers: Fingers,
        states: tuple[FloatArray, FloatArray],
        mine: BoolArray,
        free: BoolArray,
    ) -> BoolArray:
        """Whether the patch whose first ring is coolest will do, on both sides. (rows,)."""
        closing, then = states
        rows = then.shape[0]
        likely = np.matmul(fingers.shape, then.transpose(1, 2, 0))
        likely = (likely + self.base_c[:, fingers.patch_ring[:, 0], None]).max(axis=0)
        pick = np.where(mine, likely, np.inf).argmin(axis=1)  # (2, rows)
        place = fingers.patch_ring[pick].transpose(1, 0, 2).reshape(rows, -1)
        shape = self.touch[place].transpose(0, 2, 1, 3)
        both = np.stack([closing, then], axis=3)
        warm = np.matmul(shape, both).max(axis=3) + self.base_c[:, place].transpose(1, 0, 2)
        cool = (warm.max(axis=1) <= fingers.limit_c).reshape(rows, 2, -1).all(axis=2)
        good: BoolArray = np.all(cool.T | free, axis=0)
        return good

    def warmest_held_c(self, closing: FloatArray, then: FloatArray, join: IntArray) -> FloatArray:
        """Coolest place of the worse side; −inf: not held. (rows,) [°C]."""
        if self.fingers is None:
            return np.full(join.shape[0], -np.inf)
        warm = self._patches_c(self.fingers, closing, then)
        mine = self.fingers.reach[:, :, join]
        coolest = np.where(mine, warm, np.inf).min(axis=1)
        worst: FloatArray = np.where(mine.any(axis=1), coolest, -np.inf).max(axis=0)
        return worst

    def _patches_c(self, fingers: Fingers, closing: FloatArray, then: FloatArray) -> FloatArray:
        """Warmest ring of every patch, in the worse corner and moment, shape (patches, rows). [°C].

        All rings and both moments are asked of the linear algebra together.
        """
        warm = np.matmul(fingers.every, then.transpose(1, 2, 0))
        np.maximum(warm, np.matmul(fingers.every, closing.transpose(1, 2, 0)), out=warm)
        warm += fingers.base_c
        worse = warm[0] if warm.shape[0] == 1 else warm.max(axis=0)
        patch: FloatArray = np.maximum.reduceat(worse, fingers.begin, axis=0)
        return patch

    def before(self, state: FloatArray, lag_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """States when the fingers close and when the pulse falls."""
        if self.fingers is None:
            then = self.fade(state, lag_s)
            return then, then
        early = np.maximum(lag_s - self.handle_s, 0.0)
        closing = self.fade(state, early)
        rest = lag_s - early
        if np.ptp(rest) == 0:
            return closing, closing * self.fading(rest[:1])
        return closing, self.fade(closing, rest)
