"""A heat simulation of the examiner's own, from the network as it is written.

Every ring and every heat-sensitive part has one temperature T_i over the room's:

    C_i dT_i/dt = Σ_j g_ij (T_j − T_i) − (H_i + s_i) T_i + s_i (T_sink − T_room)

and a weld adds q/C_i to its ring at once, q = arc share × power × hits. Between welds that is
linear, so it is solved exactly in the eigenvectors of ``C^(-1/2)·A·C^(-1/2)``. Peaks of parts are
looked for in every interval and then closed in on. Of a large piece patches are cut out, with
what is around them in lumps (`outside.py`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.heat.outside import find_felt, grow, lump_outside

if TYPE_CHECKING:
    from collections.abc import Iterable

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.examine.heat.written import Network
    from chainplan.examine.reading import PieceFiles

LARGEST = 640
"""Nodes that are solved as a whole; a larger piece is looked at in patches of so many at most."""
_LAGS = np.array([0.0, 0.15, 0.4, 0.7, 1.0])
"""Roots of the shares of an interval at which peaks are looked for first."""
_EARLIEST, _EARLY_STEP = 0.1, 1.6
"""Thin wire gives its heat to what it touches within milliseconds: samples begin at a tenth of the
quickest mode's time, each so many times as late as the one before it."""
_ALIKE = 1e-5
"""Of the loss over the capacity: what six written digits leave open of one that is the same."""
_FORGOTTEN = 30.0
"""Time over the slowest mode's own: less than a millionth of a millionth of a weld is left."""
_COOLING_S = 900.0
_CLOSEST = 6
_POINTS, _STEPS = 8, 16
"""Seconds after the last weld, intervals that are looked at closer, points of their arcs, and
Newton's steps about the best of these: the far end of a wait, ranks that can hold the peak. Sixteen
leave less than a thousandth of a kelvin of a spot that is warmest a third of a second after the
last weld, where the arc begins by being halved; six left a kelvin."""


@dataclass(frozen=True)
class Patch:
    """Some nodes of a piece, what is around them in lumps, and the welds, in order of time."""

    network: Network  # of p nodes: the piece's own, then the lumps
    node: IndexArray  # (p,) which of the piece, -1: a lump
    weld: IndexArray  # (w,) steps of the order
    place: IndexArray  # (w,) which of the p nodes is welded
    start_s: FloatArray  # (w,)
    set_j: FloatArray  # (w,) power × hits


@dataclass(frozen=True)
class CornerModes:
    """The eigenvectors of one corner of some nodes."""

    rate: FloatArray  # (p,) [1/s]
    shape: FloatArray  # (p, p) node by mode, over the root of its capacity
    base_c: FloatArray  # (p,) without any weld


@dataclass(frozen=True)
class PatchRun:
    """One corner of a patch, followed through its welds."""

    modes: CornerModes
    after: FloatArray  # (w, p) state just after each weld
    before: FloatArray  # (w, p)
    start_s: FloatArray
    place: IndexArray  # (w,) which node is welded
    _fields: dict[float, FloatArray] = field(default_factory=dict)  # asked for by several checks
    _peaks: dict[int, float] = field(default_factory=dict)
    touched: dict[str, FloatArray] = field(default_factory=dict)  # by fingers, of each ring

    def before_c(self, place: IndexArray) -> FloatArray:
        """Temperature of each weld's own node just before it, shape (w,). [°C]."""
        rise = np.einsum("wm,wm->w", self.modes.shape[place], self.before)
        result: FloatArray = rise + self.modes.base_c[place]
        return result

    def slope_k_s(self, place: IndexArray) -> FloatArray:
        """How fast each weld's own node warms or cools just before it, shape (w,). [K/s]."""
        slope = np.einsum("wm,wm->w", self.modes.shape[place], self.before * self.modes.rate)
        result: FloatArray = -slope
        return result

    def fields_c(self, earlier_s: float) -> FloatArray:
        """Temperatures of all nodes so long before each weld, shape (w, p). [°C]."""
        if earlier_s not in self._fields:
            self._fields[earlier_s] = self._field_c(earlier_s)
        return self._fields[earlier_s]

    def _field_c(self, earlier_s: float) -> FloatArray:
        state = self.before
        if earlier_s > 0:
            lag = np.diff(self.start_s) - earlier_s
            state = np.zeros_like(self.after)
            np.multiply(_decay(np.maximum(lag, 0.0), self.modes.rate), self.after[:-1],
                        out=state[1:])  # fmt: skip
        # Single precision is good for a ten-thousandth of a kelvin, in half the time.
        rise = state.astype(np.float32) @ self.modes.shape.T.astype(np.float32)
        fields: FloatArray = rise + self.modes.base_c
        return fields

    def at_joins_k(self, earlier_s: float, spread_s: FloatArray, least: FloatArray) -> FloatArray:
        """How far joins are above their rings' means so long before each weld, shape (w, p). [K].

        Heat of a ring's own weld goes along its wire as ``2·Σ exp(−n²·t/spread)`` of the mean rise.
        ``spread_s``: of each ring, shape (n,); ``least``: shares of it that count at the least.
        """
        above = np.zeros(self.before.shape)
        slow = np.flatnonzero(spread_s[self.place] > 0)
        node = self.place[slow]
        shape = self.modes.shape[node]
        own_k = np.einsum("wm,wm->w", self.after[slow] - self.before[slow], shape)
        since = self.start_s[:, None] - max(earlier_s, 1e-6) - self.start_s[slow]
        gone = np.maximum(since / spread_s[node], least[node])
        waves = np.zeros(gone.shape)
        for number in range(1, 60):
            more = 2 * np.exp(-(number**2) * gone)
            waves += more
            if float(more.max(initial=0.0)) < 1e-9:
                break
        np.add.at(above.T, node, np.where(since > 0, waves * own_k, 0.0).T)
        return above

    def peak_c(self, node: int) -> float:
        """Highest temperature of one node at any moment, found by closing in. [°C]."""
        if node not in self._peaks:
            self._peaks[node] = self._find_peak_c(node)
        return self._peaks[node]

    def _find_peak_c(self, node: int) -> float:
        gap = np.append(np.diff(self.start_s), _COOLING_S)
        weight = self.after * self.modes.shape[node]
        lags, rate = gap[:, None] * _LAGS**2, self.modes.rate
        # Just after each weld and just before the next nothing has to be reckoned again.
        first = weight.sum(axis=1)
        last = np.append(self.before[1:] @ self.modes.shape[node], 0.0)
        last[-1] = np.exp(-lags[-1, -1] * rate) @ weight[-1]
        between = np.empty((len(gap), len(_LAGS) - 2))
        alike, of_gap = np.unique(np.round(gap, 6), return_inverse=True)
        for k, long in enumerate(alike.tolist()):  # a hand's steps take a few different times
            rows_alike = of_gap == k
            decay = np.exp(-np.outer(long * _LAGS[1:-1] ** 2, rate))
            between[rows_alike] = weight[rows_alike] @ decay.T
        found = np.column_stack([first, between, last])
        lag = np.broadcast_to(_LAGS, found.shape)
        found, lag = self._with_early(found, lag, gap, weight)
        # Intervals whose samples come near the highest, and the arc around each one's best lag: in
        # roots of its share of the interval, in which a spot's peak soon after a weld is wide too.
        rows = np.argsort(-found.max(axis=1), kind="stable")[:_CLOSEST]
        found, lag, gap, weight = found[rows], lag[rows], gap[rows], weight[rows]
        best, every = found.argmax(axis=1), np.arange(len(rows))
        top = float(found.max(initial=0.0))
        # A part may still cool while the heat of a weld comes nearer, so the arc is sampled first.
        low = lag[every, np.maximum(best - 1, 0)]
        step = (lag[every, np.minimum(best + 1, lag.shape[1] - 1)] - low) / _POINTS
        tries = low[:, None] + step[:, None] * np.arange(_POINTS + 1)
        decay = np.exp(-(gap[:, None] * tries**2)[:, :, None] * rate)
        place = (decay @ weight[:, :, None])[:, :, 0].argmax(axis=1)
        at = low + step * place
        low, high = (
            low + step * np.maximum(place - 1, 0),
            low + step * np.minimum(place + 1, _POINTS),
        )
        for _ in range(_STEPS):
            # The slope is nothing at the peak; where Newton would leave the arc it is halved.
            term = weight * np.exp(-(gap * at**2)[:, None] * rate)
            top = max(top, float(term.sum(axis=1).max()))
            falls, bends = gap * (term @ rate), gap**2 * (term @ rate**2)
            slope, bend = -2 * at * falls, 4 * at**2 * bends - 2 * falls
            low, high = np.where(falls < 0, at, low), np.where(falls < 0, high, at)
            tried = at - slope / np.where(bend < 0, bend, np.nan)
            inside = (tried > low) & (tried < high)
            at = np.where(inside, tried, (low + high) / 2)
        return float(top + self.modes.base_c[node])

    def _with_early(
        self, found: FloatArray, lag: FloatArray, gap: FloatArray, weight: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Add samples soon after each weld, where modes are quicker than the first of them tell.

        Shapes of samples and of their lags (roots of shares of the interval): (w, samples).
        """
        first_s = _EARLIEST / float(self.modes.rate.max())
        until_s = float(gap.max()) * float(_LAGS[1]) ** 2
        if first_s >= until_s:
            return found, lag
        many = math.ceil(math.log(until_s / first_s) / math.log(_EARLY_STEP))
        early_s = first_s * _EARLY_STEP ** np.arange(many)
        early = weight @ np.exp(-np.outer(early_s, self.modes.rate)).T
        root = np.sqrt(early_s / gap[:, None])
        early = np.where(root < 1, early, -np.inf)
        lags, samples = np.hstack([lag, np.minimum(root, 1.0)]), np.hstack([found, early])
        order = np.argsort(lags, axis=1, kind="stable")
        return np.take_along_axis(samples, order, 1), np.take_along_axis(lags, order, 1)


def _decay(lag_s: FloatArray, rate: FloatArray) -> FloatArray:
    """Tell what is left of each mode after each lag, shape (w, p): alike lags are reckoned once."""
    alike, of_lag = _alike_decay(lag_s, rate)
    return alike[of_lag]


def _alike_decay(lag_s: FloatArray, rate: FloatArray) -> tuple[FloatArray, IndexArray]:
    alike, of_lag = np.unique(np.round(lag_s, 6), return_inverse=True)
    decay: FloatArray = np.exp(-np.outer(alike, rate))
    return decay, of_lag.ravel()


def cut_patch(
    network: Network, seeds: IndexArray, welded: IndexArray, start_s: FloatArray, set_j: FloatArray
) -> Patch:
    """Take the nodes around some seeds, link by link, and lumps of those around them."""
    inside = np.zeros(len(network.capacity), dtype=bool)
    around, place = network, np.arange(len(inside))
    if len(inside) <= LARGEST:
        inside[:] = True
    else:
        inside[seeds] = True
        middle = inside
        for most in (LARGEST // 6, LARGEST // 3):
            inside, links = grow(network, middle, most)
            felt = find_felt(network, inside, links)
            if felt is not None:
                break
        if felt is not None:
            inside = links <= felt
        around, place = lump_outside(network, inside, alone=felt is not None)
    node = np.full(len(around.capacity), -1)
    node[: np.count_nonzero(inside)] = np.flatnonzero(inside)
    weld = np.flatnonzero(place[welded] >= 0)
    weld = weld[np.argsort(start_s[weld], kind="stable")]
    return Patch(around, node, weld, place[welded[weld]], start_s[weld], set_j[weld])


def solve(network: Network, corner: int) -> CornerModes:
    """Solve one corner of a network."""
    matrix = _matrix(network, corner)
    root = np.sqrt(network.capacity)
    rate, vector = np.linalg.eigh(matrix / np.outer(root, root))
    return CornerModes(rate, vector / root[:, None], _base_c(network, matrix))


def solve_all(network: Network) -> list[CornerModes]:
    """Solve all corners of a network."""
    found: list[CornerModes] = []
    for k in range(len(network.corners)):
        solved = ((network, other, modes) for other, modes in enumerate(found))
        found.append(solve_beside(network, k, solved) or solve(network, k))
    return found


def solve_beside(
    network: Network, corner: int, solved: Iterable[tuple[Network, int, CornerModes]]
) -> CornerModes | None:
    """Solve a corner from another of the same nodes; None if none of those is like it.

    Where all links are so many times as good, and what a node then loses more is one share of its
    capacity, ``A₁ = q·A₀ + s·C``, so that the eigenvectors are the same and the rates ``q·r + s``.
    Rings of one wire are so: they lose by their surface, hold by their volume, and touch alike.

    Parameters
    ----------
    network, corner
        What is looked for.
    solved : iterable
        Networks of the same nodes, their corners, and what was found for these.
    """
    for other, number, modes in solved:
        better = network.conductance[corner] / other.conductance[number]
        times = float(better.mean()) if better.size else 1.0
        if better.size and float(np.ptp(better)) > _ALIKE * times:
            continue
        sunk = network.sink.any()
        if sunk and (times != 1.0 or not np.array_equal(other.sink, network.sink)):
            continue
        lost = network.loss[corner] / network.capacity
        faster = lost - times * other.loss[number] / network.capacity
        if float(np.ptp(faster)) <= _ALIKE * float(lost.max()):
            base = _base_c(network, _matrix(network, corner)) if sunk else modes.base_c
            return CornerModes(times * modes.rate + float(faster.mean()), modes.shape, base)
    return None


def _matrix(network: Network, corner: int) -> FloatArray:
    """Set out what flows from each node to each, shape (p, p). [W/K]."""
    one, other = network.pairs.T
    value, size = network.conductance[corner], len(network.capacity)
    matrix = np.zeros((size, size))
    np.add.at(matrix, (one, other), -value)
    matrix += matrix.T
    through = np.bincount(one, value, size) + np.bincount(other, value, size)
    matrix[np.diag_indices(size)] = through + network.loss[corner] + network.sink
    return matrix


def _base_c(network: Network, matrix: FloatArray) -> FloatArray:
    """Temperatures without any weld, shape (p,). [°C]."""
    base = np.full(len(network.capacity), network.room_c)
    drive = network.sink * (network.sink_c - network.room_c)
    if drive.any():
        base += np.linalg.solve(matrix, drive)
    return base


def follow(network: Network, patch: Patch, corner: int, modes: CornerModes) -> PatchRun:
    """Follow one corner of a patch through its welds."""
    shape, rate = modes.shape, modes.rate
    after = shape[patch.place]
    after *= (network.share[corner] * patch.set_j)[:, None]  # what each weld adds, at first
    decay, of_lag = _alike_decay(np.diff(patch.start_s), rate)
    before = np.empty_like(after)
    before[:1] = 0.0
    for k, lag in enumerate(of_lag.tolist(), 1):
        np.multiply(after[k - 1], decay[lag], out=before[k])
        after[k] += before[k]
    return PatchRun(modes, after, before, patch.start_s, patch.place)


@dataclass(frozen=True)
class SimulatedPiece:
    """A piece, or a patch of a large one, in all its corners."""

    network: Network
    patch: Patch
    runs: tuple[PatchRun, ...]

    def before_c(self, end: str) -> FloatArray:
        """Highest temperature before each weld among the corners of an end, shape (w,). [°C]."""
        found = [self.runs[k].before_c(self.patch.place) for k in self.network.end(end)]
        highest: FloatArray = np.max(found, axis=0)
        return highest


def slopes_k_s(found: SimulatedPiece, end: str) -> FloatArray:
    """How fast each join warms or cools before its weld, at most, among an end's corners. [K/s]."""
    slopes = [np.abs(found.runs[k].slope_k_s(found.patch.place)) for k in found.network.end(end)]
    steepest: FloatArray = np.max(slopes, axis=0)
    return steepest


def simulate(
    network: Network, piece: PieceFiles, start_s: FloatArray, seeds: IndexArray,
    known: SimulatedPiece | None = None,
) -> SimulatedPiece:  # fmt: skip
    """Follow a piece, or the patch around some nodes, through its welds.

    ``known``: the same nodes at other times; then only the high end is looked at.
    """
    steps = piece.steps
    set_j = steps["power_j"] * steps["hits"]
    patch = cut_patch(network, seeds, piece.welded, start_s, set_j)
    if known is None:
        modes = solve_all(patch.network)
        runs = [follow(network, patch, k, own) for k, own in enumerate(modes)]
    else:
        runs = [
            follow(network, patch, k, run.modes) if network.ends[k] == "high" else run
            for k, run in enumerate(known.runs)
        ]
    return SimulatedPiece(network, patch, tuple(runs))


def warmth_before(
    network: Network, piece: PieceFiles, start_s: FloatArray, step: int
) -> dict[str, tuple[float, float]]:
    """How warm one join is just before its weld, and how fast that changes. [°C, K/s].

    Of each end the warmest and the steepest of its corners. What was welded so long before that
    even the slowest mode has forgotten it is left out.
    """
    steps = piece.steps
    set_j = steps["power_j"] * steps["hits"]
    patch = cut_patch(network, piece.welded[[step]], piece.welded, start_s, set_j)
    node = int(patch.place[np.flatnonzero(patch.weld == step)[0]])
    age_s = float(start_s[step]) - patch.start_s
    modes = solve_all(patch.network)
    slowest = min(float(own.rate.min()) for own in modes)
    own = (patch.weld != step) & (age_s >= 0) & (age_s * slowest < _FORGOTTEN)
    age_s, set_j, place = age_s[own], patch.set_j[own], patch.place[own]
    found: dict[str, tuple[float, float]] = {}
    for k, mode in enumerate(modes):
        left = np.exp(-np.outer(age_s, mode.rate)) * mode.shape[place]
        state = mode.shape[node] * ((network.share[k] * set_j) @ left)
        warm_c = float(state.sum() + mode.base_c[node])
        steep = abs(float(state @ mode.rate))
        before = found.get(network.ends[k], (-math.inf, 0.0))
        found[network.ends[k]] = (max(before[0], warm_c), max(before[1], steep))
    return found
