"""Kernels: how one weld warms the rings around it, and their sums over many welds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray


_BLOCK = 60_000  # pairs of node and source looked at together: they stay in the processor's cache
_MANY = 16  # nodes from which a class is summed by itself


class WeldTimes:
    """When each node was welded: one array of times, or several if rings are welded again."""

    def __init__(self, nodes: int, ring: IntArray, start_s: FloatArray) -> None:
        ring, times = np.asarray(ring), np.asarray(start_s, dtype=np.float64)
        self.layers: list[FloatArray] = []
        if np.bincount(ring, minlength=1).max() == 1:
            self.layers.append(np.full(nodes, np.inf))
            self.layers[0][ring] = times
            return
        order = np.argsort(times, kind="stable")
        ring, times = ring[order], times[order]
        while len(ring):
            _, first = np.unique(ring, return_index=True)
            layer = np.full(nodes, np.inf)
            layer[ring[first]] = times[first]
            self.layers.append(layer)
            rest = np.ones(len(ring), dtype=bool)
            rest[first] = False
            ring, times = ring[rest], times[rest]


@dataclass(frozen=True, kw_only=True)
class KernelTable:
    """Rise of node i at time τ after the join of ring j was welded, for all j near i.

    Spread-out form, for small pieces, made when first asked for: row i lists its sources in
    ``source[start[i]:start[i+1]]`` (i itself included) and for each the row ``curve`` of ``rise_k``
    that holds the rise in K against the even times ``time_s`` for the full heat of j's join.

    Compact form, for large pieces: nodes with the same surroundings share a class c, whose sources
    are the rings ``i + class_offset[class_start[c]:class_start[c+1]]`` with the curves
    ``class_curve``. Its rows ``log_rise_k`` belong to the times ``log_time_s``, which are even in
    ``log(1 + t/time_scale_s)``: use :meth:`rise_at`.

    Both are zero before 0 and beyond the last time. The temperature of node i is
    ``network.base_c[i]`` + the rises from all rings welded so far.
    """

    corner: str
    node_class: IntArray  # (N,)
    class_start: IntArray  # (classes + 1,)
    class_offset: IntArray  # (nnz,) source ring minus node
    class_curve: IntArray  # (nnz,) row of log_rise_k
    log_rise_k: npt.NDArray[np.float32]  # (curves, len(log_time_s))
    log_time_s: FloatArray  # from 0, even in log(1 + t/time_scale_s)
    time_scale_s: float
    dropped_k: float  # bound on what the truncation leaves out, at any node for any order
    step_s: float = 1.0  # of time_s
    source_share: FloatArray | None = None  # (N,) of its curve that each join brings; None: all

    @cached_property
    def start(self) -> IntArray:
        """First entry of each node in ``source`` and ``curve``, shape (N + 1,)."""
        counts = np.diff(self.class_start)[self.node_class]
        return np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)

    @cached_property
    def source(self) -> IntArray:
        """Sources near each node, spread out node by node (costs 4 bytes each)."""
        node = np.repeat(np.arange(len(self.node_class)), np.diff(self.start))
        return (node + self.class_offset[self._entry]).astype(np.int32)

    @cached_property
    def curve(self) -> IntArray:
        """Row of ``rise_k`` of each entry of ``source``."""
        return self.class_curve[self._entry]

    @property
    def _entry(self) -> npt.NDArray[np.int64]:
        sizes = np.diff(self.start)
        first = self.class_start[:-1][self.node_class].astype(np.int64)
        return np.arange(self.start[-1]) + np.repeat(first - self.start[:-1], sizes)

    @cached_property
    def time_s(self) -> FloatArray:
        """Even times of ``rise_k``, from 0. [s]."""
        samples = int(np.floor(self.log_time_s[-1] / self.step_s)) + 1
        times: FloatArray = np.arange(samples, dtype=np.float64) * self.step_s
        return times

    @cached_property
    def rise_k(self) -> npt.NDArray[np.float32]:
        """Curves at the even times ``time_s``, shape (curves, len(time_s)). [K]."""
        place = self.position(self.time_s)
        column = np.minimum(place.astype(np.int64), len(self.log_time_s) - 2)
        share = (place - column).astype(np.float32)
        below = self.log_rise_k[:, column]
        rise: npt.NDArray[np.float32] = below + share * (self.log_rise_k[:, column + 1] - below)
        return rise

    def share(self, source: IntArray) -> FloatArray:
        """Share of their curves that the joins of some rings bring, shape of ``source``."""
        if self.source_share is None:
            return np.ones(np.shape(source))
        shares: FloatArray = self.source_share[source]
        return shares

    def near(self, node: int) -> tuple[IntArray, IntArray]:
        """Return the sources near one node and the curve of each."""
        kind = int(self.node_class[node])
        part = slice(int(self.class_start[kind]), int(self.class_start[kind + 1]))
        return (self.class_offset[part] + np.int32(node)), self.class_curve[part]

    def position(self, lag_s: npt.ArrayLike) -> FloatArray:
        """Place of a time in the table, as a fractional column of ``log_rise_k``."""
        lag = np.asarray(lag_s, dtype=np.float64)
        last = len(self.log_time_s) - 1
        span = np.log1p(self.log_time_s[-1] / self.time_scale_s)
        place: FloatArray = np.log1p(np.maximum(lag, 0.0) / self.time_scale_s) * (last / span)
        return place

    def rise_at(self, curve: IntArray, lag_s: npt.ArrayLike) -> FloatArray:
        """Rise of given curves at given times since the weld; 0 outside the table. [K].

        The shapes of the two are broadcast against each other.
        """
        lag = np.asarray(lag_s, dtype=np.float64)
        place = self.position(lag)
        column = np.minimum(place.astype(np.int64), len(self.log_time_s) - 2)
        share = np.minimum(place - column, 1.0)
        below = self.log_rise_k[curve, column]
        rise = below + share * (self.log_rise_k[curve, column + 1] - below)
        inside = (lag >= 0.0) & (lag <= self.log_time_s[-1])
        result: FloatArray = np.where(inside, rise, 0.0)
        return result

    def rises_k(
        self, welds: WeldTimes, node: IntArray, at_s: FloatArray, later_s: float = 0.0
    ) -> FloatArray:
        """Rise of ``node[k]`` just before the moment ``at_s[k]``, shape (k,). [K].

        ``later_s``: look so much later, but count only the welds before ``at_s``.
        """
        kind = self.node_class[node]
        if (kind[1:] == kind[:-1]).all():
            return self._rises_sorted_k(welds, node, at_s, later_s)
        by_class = np.argsort(kind, kind="stable")
        total = np.empty(len(node))
        total[by_class] = self._rises_sorted_k(welds, node[by_class], at_s[by_class], later_s)
        return total

    def _rises_sorted_k(
        self, welds: WeldTimes, node: IntArray, at_s: FloatArray, later_s: float
    ) -> FloatArray:
        """As ``rises_k``, of nodes sorted by class, some pairs of node and source at a time."""
        total = np.zeros(len(node))
        ends = self._stretches(self.node_class[node])
        for begin, end in pairwise(ends):
            some = slice(begin, end)
            for layer in welds.layers:
                total[some] += self._rises_of_one_k(layer, node[some], at_s[some], later_s)
        return total

    def _stretches(self, kind: IntArray) -> list[int]:
        """Where to cut nodes sorted by class: into blocks, and apart where a class has many."""
        if not len(kind):
            return []
        new = np.flatnonzero(np.diff(kind)) + 1
        many = np.diff(np.concatenate([[0], new, [len(kind)]])) >= _MANY
        pairs = np.cumsum(np.diff(self.class_start)[kind], dtype=np.int64)
        full = np.flatnonzero(np.diff(pairs // _BLOCK)) + 1
        ends = np.concatenate([[0], new[many[1:] | many[:-1]], full, [len(kind)]])
        found: list[int] = np.unique(ends).tolist()
        return found

    def _rises_of_one_k(
        self, layer: FloatArray, node: IntArray, at_s: FloatArray, later_s: float
    ) -> FloatArray:
        """Rise of some nodes sorted by class, of one weld of each ring. [K]."""
        lag, counts, curve, source = self._felt(layer, node, at_s, later_s)
        rise: npt.NDArray[np.floating] = self._read(curve, lag, later_s)
        if self.source_share is not None:
            rise = rise * self.source_share.take(source)
        total = np.zeros(len(node))
        some = np.flatnonzero(counts)
        if len(some):
            first = (np.cumsum(counts) - counts)[some]
            total[some] = np.add.reduceat(rise, first, dtype=np.float64)
        return total

    def _felt(
        self, layer: FloatArray, node: IntArray, at_s: FloatArray, later_s: float
    ) -> tuple[FloatArray, npt.NDArray[np.intp], IntArray, IntArray]:
        """Pairs of node and source with a weld to count, node after node.

        Time since of each, how many pairs each node has, and curve and source of each. Nodes are
        sorted by class; those of one class need no list of all their pairs.
        """
        kind = self.node_class[node]
        first = self.class_start[kind]
        if kind.size and kind[0] == kind[-1]:
            entries = slice(int(first[0]), int(self.class_start[kind[0] + 1]))
            offset = self.class_offset[entries]
            source = node[:, None] + offset
            lag = layer.take(source)
            np.subtract(at_s[:, None], lag, out=lag)
            felt = (lag > 0) & (lag <= self.log_time_s[-1] - later_s)
            counts = np.count_nonzero(felt, axis=1)
            pair = np.flatnonzero(felt)
            near = pair - np.repeat(np.arange(len(node)) * len(offset), counts)
            curve = self.class_curve[entries].take(near)
        else:
            size = self.class_start[kind + 1] - first
            begin = np.cumsum(size) - size
            entry = np.arange(int(size.sum())) + np.repeat(first - begin, size)
            source = np.repeat(node, size) + self.class_offset.take(entry)
            lag = np.repeat(at_s, size) - layer.take(source)
            felt = (lag > 0) & (lag <= self.log_time_s[-1] - later_s)
            until = np.concatenate([[0], np.cumsum(felt)])
            counts = until[begin + size] - until[begin]
            pair = np.flatnonzero(felt)
            curve = self.class_curve.take(entry.take(pair))
        if self.source_share is None:
            return lag.take(pair), counts, curve, node[:0]
        return lag.take(pair), counts, curve, source.take(pair)

    def _read(self, curve: IntArray, lag_s: FloatArray, later_s: float) -> npt.NDArray[np.float32]:
        """Read curves within the table as ``rise_at`` does, in single precision as they are."""
        last = self.log_rise_k.shape[1] - 1
        place = lag_s.astype(np.float32)
        place += np.float32(later_s)
        place *= np.float32(1 / self.time_scale_s)
        place += np.float32(1)
        np.log(place, out=place)
        place *= np.float32(last / np.log1p(self.log_time_s[-1] / self.time_scale_s))
        column = place.astype(np.int32)
        np.minimum(column, last - 1, out=column)
        place -= column
        at = curve.astype(np.int64)
        at *= last + 1
        at += column
        table = self.log_rise_k.ravel()
        below = table.take(at)
        at += 1
        rise: npt.NDArray[np.float32] = table.take(at)
        rise -= below
        rise *= place
        rise += below
        return rise
