"""How warm a place is at a time, from the kernels of the welds before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.model.heat import HeatModel
    from chainplan.order.work import Work

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]

_CHUNK = 1_500_000


@dataclass(frozen=True, kw_only=True)
class Field:
    """One corner of the uncertain numbers, ready for adding up kernels.

    ``offset[node, join]`` points into the flat ``rise`` where that pair's curve begins; curve 0 is
    zero throughout. Samples are even in ``log(1 + t/scale_s)``; every curve ends in zeros.
    """

    corner: str
    base_c: FloatArray  # (N,) what each node would be without welds
    offset: IntArray  # (N, m)
    rise: npt.NDArray[np.float32]  # flat, K
    columns: int  # samples of a curve, zeros at the end not counted
    scale_s: float
    window_s: float  # after this long a weld is no longer felt
    known_s: float  # the table's last time; from there to ``window_s`` curves run down to zero
    dropped_k: float  # what the kernels leave out at most
    step_s: float = 1.0  # of even samples, where those are needed

    @property
    def samples(self) -> int:
        """Even samples of ``step_s`` that cover the window."""
        return int(np.ceil(self.window_s / self.step_s)) + 1

    @property
    def width(self) -> int:
        """Places that one curve takes up in ``rise``."""
        return self.columns + 2

    def _place(self, lag_s: FloatArray) -> tuple[IntArray, npt.NDArray[np.float32]]:
        factor = np.float32(self.columns / np.log1p(self.window_s / self.scale_s))
        x = np.log(np.maximum(lag_s, 0.0).astype(np.float32) / np.float32(self.scale_s) + 1)
        x = np.minimum(x * factor, np.float32(self.columns))
        index = x.astype(np.int32)
        return index, x - index

    def sum_k(self, node: IntArray, join: IntArray, lag_s: FloatArray) -> npt.NDArray[np.float32]:
        """Rise of nodes some positive time after joins were welded, over the last axis. [K]."""
        index, share = self._place(lag_s)
        at = self.offset[node, join] + index
        low = self.rise.take(at)
        high = self.rise.take(at + 1)
        total: npt.NDArray[np.float32] = (low + (high - low) * share).sum(axis=-1)
        return total

    def rise_k(self, node: IntArray, join: IntArray, lag_s: FloatArray) -> npt.NDArray[np.float32]:
        """Rise of nodes some time after joins were welded (negative lags: none). [K]."""
        index, share = self._place(lag_s)
        at = self.offset[node, join] + index
        low = self.rise.take(at)
        value: npt.NDArray[np.float32] = low + (self.rise.take(at + 1) - low) * share
        return np.where(lag_s > 0, value, np.float32(0))

    def even_k(self, node: int, joins: npt.NDArray[np.int64]) -> FloatArray:
        """Rise of one node at even times after each join's weld, shape (joins, samples). [K].

        Zero beyond the table's last time, so never more than the table knows.
        """
        times = np.arange(self.samples) * self.step_s
        rise = self.rise_k(
            np.asarray(node), joins.astype(np.int32)[:, None], np.maximum(times, 1e-6)[None, :]
        )
        return np.where(times <= self.known_s, rise, 0.0)

    def peaks_k(self, node: int) -> FloatArray:
        """Highest rise that each join's weld alone brings to a node, shape (m,). [K]."""
        peaks: FloatArray = self.tops_k()[self.offset[node] // self.width].astype(float)
        return peaks

    def tops_k(self) -> npt.NDArray[np.float32]:
        """Highest value of every curve. [K]."""
        tops: npt.NDArray[np.float32] = self.rise.reshape(-1, self.width).max(axis=1)
        return tops


def build_field(heat: HeatModel, corner: str, work: Work) -> Field:
    """Lay one corner's kernel table out for the joins of a piece (small and middling pieces)."""
    table = heat.kernels(corner)
    network = heat.networks[corner]
    nodes = network.capacity_j_k.shape[0]
    curves, columns = table.log_rise_k.shape
    rise = np.zeros((curves + 1, columns + 2), dtype=np.float32)
    rise[1:, :columns] = table.log_rise_k
    join_of = np.full(nodes, -1, dtype=np.int32)
    join_of[work.ring] = np.arange(work.joins, dtype=np.int32)
    target = np.repeat(np.arange(nodes, dtype=np.int32), np.diff(table.start))
    join = join_of[table.source]
    known = join >= 0
    offset = np.zeros((nodes, work.joins), dtype=np.int32)
    offset[target[known], join[known]] = (table.curve[known] + 1) * (columns + 2)
    last_s, scale_s = float(table.log_time_s[-1]), float(table.time_scale_s)
    span = np.log1p(last_s / scale_s) * columns / (columns - 1)
    return Field(
        corner=corner,
        base_c=np.asarray(network.base_c, dtype=float),
        offset=offset,
        rise=rise.ravel(),
        columns=columns,
        scale_s=scale_s,
        window_s=float(scale_s * np.expm1(span)),
        known_s=last_s,
        dropped_k=float(table.dropped_k),
    )


def temperatures_k(
    field: Field, order: IntArray, start_s: FloatArray, node: IntArray, at_s: FloatArray
) -> FloatArray:
    """Rise of some nodes at some times under an order. [K].

    Parameters
    ----------
    field : Field
        The corner.
    order, start_s : array, shape (m,)
        Joins and when each is welded. [s]
    node : array, shape (p, r)
        For each of p times, r nodes; −1 counts as cold.
    at_s : array, shape (p,)
        Times, just before any weld that falls at the same moment. [s]

    Returns
    -------
    array, shape (p, r)
        Rise over the base temperature. [K]
    """
    last = np.searchsorted(start_s, at_s, side="left")
    first = np.searchsorted(start_s, at_s - field.window_s, side="right")
    width = int(np.max(last - first, initial=0))
    out = np.zeros(node.shape, dtype=float)
    if width == 0:
        return out
    chunk = max(1, _CHUNK // (width * node.shape[1]))
    back = np.arange(1, width + 1)
    for begin in range(0, at_s.shape[0], chunk):
        part = slice(begin, begin + chunk)
        step = last[part, None] - back
        lag = at_s[part, None] - start_s[np.maximum(step, 0)]
        lag[step < 0] = -1.0
        join = order[np.maximum(step, 0)]
        here = node[part]
        value = field.rise_k(here[:, :, None], join[:, None, :], lag[:, None, :])
        out[part] = value.sum(axis=2, dtype=np.float64)
    out[node < 0] = 0.0
    return out


def before_k(field: Field, work: Work, order: IntArray, start_s: FloatArray) -> FloatArray:
    """Rise of every ring just before its own weld, in the order of the steps. [K]."""
    return temperatures_k(field, order, start_s, work.ring[order][:, None], start_s)[:, 0]
