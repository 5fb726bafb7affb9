"""How one weld warms a place, in one corner of the uncertain numbers: exact, by the modes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.thermal.heat import HeatModel
    from chainplan.order.piece.work import HandWork
    from chainplan.order.tuning import ClockTuning


@frozen
class Field:
    """The solved network of one corner, and what each join's weld puts into it."""

    corner: str
    base_c: FloatArray  # (nodes,) what each node would be without welds
    rate: FloatArray  # (n,) 1/s
    vectors: FloatArray  # (nodes, n)
    root_capacity: FloatArray  # (nodes,)
    ring: IntArray  # (m,)
    heat_j: FloatArray  # (m,) heat of each join's weld
    window_s: float  # after this long a weld is felt by less than the tail's share
    tuning: ClockTuning

    @property
    def step_s(self) -> float:
        """Step of even samples, where those are needed; finer where joins are few. [s]."""
        cube = max(self.ring.shape[0], 1) ** 3
        most = max(self.tuning.most_samples, self.tuning.most_cube_samples // cube)
        step_s = self.window_s / most
        if step_s > 1.0:
            return float(np.ceil(step_s))
        return max(self.tuning.finest_step_s, float(2.0 ** np.ceil(np.log2(step_s))))

    @property
    def samples(self) -> int:
        """Even samples of ``step_s`` that cover the window."""
        return int(np.ceil(self.window_s / self.step_s)) + 1

    def even_k(self, node: int, joins: npt.NDArray[np.int64]) -> FloatArray:
        """Rise of one node at even times after each join's weld, shape (joins, samples). [K].

        No sample is more than the rise at any time within a step of it: a chord misses a curve by
        an eighth of the step's square times its greatest second derivative at most, and that of a
        sum of fading modes ``c·e^(−λτ)`` is at most ``Σ |c|·λ²·e^(−λτ)`` from there on. The last
        sample is zero, so that it is never more than any later value.
        """
        times = np.arange(self.samples, dtype=np.float64) * self.step_s
        fading = np.exp(-np.outer(self.rate, times))
        share = self.welds(joins.astype(np.int32)) * self.shape_k(np.asarray([node]))[0]
        bend = np.abs(share) @ (self.rate[:, None] ** 2 * fading) * (self.step_s**2 / 8)
        bend[:, 1:] = np.maximum(bend[:, 1:], bend[:, :-1])
        rise: FloatArray = np.maximum(share @ fading - bend, 0.0)
        rise[:, -1] = 0.0
        return rise

    def peaks_k(self, node: int) -> FloatArray:
        """Highest rise that each join's weld alone brings to a node, shape (m,). [K]."""
        every = np.arange(self.ring.shape[0], dtype=np.int32)
        times = np.expm1(np.linspace(0.0, np.log1p(self.window_s), self.tuning.peak_samples))
        peaks: FloatArray = self._after_k(node, every, times).max(axis=1)
        return peaks

    def shape_k(self, node: IntArray) -> FloatArray:
        """Rise of some nodes per unit of each mode, shape (k, n). [K]."""
        shape: FloatArray = self.vectors[node] / self.root_capacity[node, None]
        return shape

    def welds(self, join: IntArray) -> FloatArray:
        """Modes that the welds of some joins add, shape (k, n)."""
        added: FloatArray = self.shape_k(self.ring[join]) * self.heat_j[join, None]
        return added

    def _after_k(self, node: int, join: IntArray, times_s: FloatArray) -> FloatArray:
        fading = np.exp(-np.outer(self.rate, times_s))
        here = self.vectors[node] / self.root_capacity[node]
        rise: FloatArray = np.maximum((self.welds(join) * here) @ fading, 0.0)
        return rise


@frozen
class Caps:
    """How warm things may be, as a rise over the base temperature, in one corner. [K]."""

    field: Field
    join_k: FloatArray  # (m,) before its own weld
    part_node: IntArray  # (p,) the same in every corner
    part_k: FloatArray  # (p,) ever


def build_field(
    heat: HeatModel, corner: str, work: HandWork, tuning: ClockTuning = USUAL.clock
) -> Field:
    """Take one corner's modes for the joins of a piece (small and middling pieces)."""
    network, modes = heat.networks[corner], heat.modes(corner)
    slowest = max(float(modes.rate_per_s.min()), 1e-9)
    return Field(
        corner=corner,
        base_c=np.asarray(network.base_c, dtype=float),
        rate=modes.rate_per_s,
        vectors=modes.vectors,
        root_capacity=modes.root_capacity,
        ring=work.ring,
        heat_j=network.join_heat_j[work.ring],
        window_s=float(np.clip(-np.log(tuning.tail_share) / slowest, 60.0, tuning.longest_s)),
        tuning=tuning,
    )


def before_k(field: Field, order: IntArray, start_s: FloatArray) -> FloatArray:
    """Rise of every ring just before its own weld, in the order of the steps. [K]."""
    kind: type = np.float64 if field.base_c.shape[0] <= field.tuning.fine_nodes else np.float32
    state = _before(field, order, start_s, kind)
    shape: FloatArray = field.shape_k(field.ring[order]).astype(kind)
    rise: FloatArray = np.einsum("km,km->k", state, shape)
    return rise.astype(np.float64)


def highest_after_k(
    field: Field, order: IntArray, start_s: FloatArray, nodes: IntArray
) -> FloatArray:
    """Highest rise of some nodes from each weld to the next, shape (welds, nodes). [K]."""
    after = _before(field, order, start_s, np.float64) + field.welds(order)
    gap = np.diff(start_s, append=np.inf)
    highest = np.full((order.shape[0], nodes.shape[0]), -np.inf)
    for later_s in field.tuning.later_s:
        fading = np.exp(-np.outer(np.minimum(later_s, gap), field.rate))
        highest = np.maximum(highest, (after * fading) @ field.shape_k(nodes).T)
    return highest


def _before(field: Field, order: IntArray, start_s: FloatArray, kind: type) -> FloatArray:
    """Modes just before each weld of an order, shape (welds, n)."""
    state: FloatArray = field.welds(order).astype(kind)
    fading: FloatArray = np.exp(np.outer(-np.diff(start_s), field.rate).astype(kind))
    after = state[0].copy()
    for step in range(1, order.shape[0]):
        after *= fading[step - 1]
        welded = state[step].copy()
        state[step] = after
        after += welded
    state[0] = 0.0
    return state
