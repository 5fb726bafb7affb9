"""Large pieces: temperatures as sums of kernels over the welds nearby, linear in the rings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.heat import HeatRun

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

    from chainplan.model.heat import HeatNetwork, KernelTable

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]

_BLOCK = 200_000  # pairs of node and source looked at together
_STRONGEST = 6
_MOST_IDLE = 200
_LATER_S = (1.0, 2.5, 5.0, 10.0, 20.0, 40.0, 80.0)


class WeldTimes:
    """When each node was welded: one array of times, or several if rings are welded again."""

    def __init__(self, nodes: int, ring: IntArray, start_s: FloatArray) -> None:
        order = np.argsort(start_s, kind="stable")
        ring, times = np.asarray(ring)[order], np.asarray(start_s, dtype=np.float64)[order]
        self.layers: list[FloatArray] = []
        while len(ring):
            _, first = np.unique(ring, return_index=True)
            layer = np.full(nodes, np.inf)
            layer[ring[first]] = times[first]
            self.layers.append(layer)
            rest = np.ones(len(ring), dtype=bool)
            rest[first] = False
            ring, times = ring[rest], times[rest]


def rises_k(table: KernelTable, welds: WeldTimes, node: IntArray, at_s: FloatArray) -> FloatArray:
    """Rise of ``node[k]`` just before the moment ``at_s[k]``, shape (k,). [K]."""
    total = np.zeros(len(node))
    kind = table.node_class[node]
    order = np.argsort(kind, kind="stable")
    bounds = np.searchsorted(kind[order], np.arange(len(table.class_start)))
    for number in np.flatnonzero(np.diff(bounds)):
        part = slice(int(table.class_start[number]), int(table.class_start[number + 1]))
        offset, curve = table.class_offset[part], table.class_curve[part]
        if len(offset) == 0:
            continue
        members = order[bounds[number] : bounds[number + 1]]
        step = max(1, _BLOCK // len(offset))
        for begin in range(0, len(members), step):
            some = members[begin : begin + step]
            for layer in welds.layers:
                total[some] += _sum_block(table, layer, offset, curve, node[some], at_s[some])
    return total


def _sum_block(
    table: KernelTable,
    layer: FloatArray,
    offset: IntArray,
    curve: IntArray,
    node: IntArray,
    at_s: FloatArray,
) -> FloatArray:
    """Sum over the sources near nodes of one class, at most one weld a source."""
    lag = (at_s[:, None] - layer[node[:, None] + offset]).ravel()
    felt = np.flatnonzero((lag > 0) & (lag <= table.log_time_s[-1]))
    row, near = np.divmod(felt, len(offset))
    rise = table.rise_at(curve[near], lag[felt])
    return np.bincount(row, rise, len(node)).astype(np.float64)


def simulate_sums(
    network: HeatNetwork,
    table: KernelTable,
    ring: IntArray,
    start_s: FloatArray,
    at_s: FloatArray | None = None,
    *,
    peaks: bool = True,
) -> HeatRun:
    """Simulate a run of welds by kernel sums, each within the table's ``dropped_k``.

    Peaks are looked for just before and after a ring's own weld and after the weld of each of its
    six strongest neighbours, when that one is felt most; of nodes that are not welded (parts,
    mainly; 200 at most) also at several instants after every weld nearby.
    """
    nodes = len(network.capacity_j_k)
    ring = np.asarray(ring, dtype=np.int32)
    start = np.asarray(start_s, dtype=np.float64)
    welds = WeldTimes(nodes, ring, start)
    before = rises_k(table, welds, ring, start)
    jump = network.join_heat_j[ring] / network.capacity_j_k[ring]
    peak = np.zeros(nodes)
    np.maximum.at(peak, ring, before + jump)
    if peaks:
        for node, times in _moments(table, welds, ring):
            np.maximum.at(peak, node, rises_k(table, welds, node, times))
    at_c = None
    if at_s is not None:
        every = np.arange(nodes, dtype=np.int32)
        at_c = np.empty((len(at_s), nodes))
        for index, moment in enumerate(np.asarray(at_s, dtype=np.float64)):
            later = np.nextafter(moment, np.inf)  # a weld at the very moment counts
            at_c[index] = network.base_c + rises_k(table, welds, every, np.full(nodes, later))
    notes = () if peaks else ("peaks are those at the welds themselves",)
    return HeatRun(
        corner=network.corner,
        before_c=before + network.base_c[ring],
        peak_c=peak + network.base_c,
        dropped_k=table.dropped_k,
        at_c=at_c,
        notes=notes,
    )


def _moments(
    table: KernelTable, welds: WeldTimes, ring: IntArray
) -> Iterator[tuple[IntArray, FloatArray]]:
    """Nodes and moments at which to look for peaks, in a few long lists."""
    nodes = len(table.node_class)
    order = np.argsort(table.node_class, kind="stable").astype(np.int32)
    bounds = np.searchsorted(table.node_class[order], np.arange(len(table.class_start)))
    highest = table.log_rise_k.max(axis=1)
    when_s = table.log_time_s[table.log_rise_k.argmax(axis=1)]
    idle = np.ones(nodes, dtype=bool)
    idle[ring] = False
    for layer in welds.layers:
        for rank in range(_STRONGEST):
            offset, lag = _neighbour(table, highest, when_s, rank)
            sizes = np.diff(bounds)
            there = order + np.repeat(offset, sizes)
            moment = layer[np.clip(there, 0, nodes - 1)] + np.repeat(lag, sizes)
            known = np.isfinite(moment)
            yield order[known], moment[known]
        for node in np.flatnonzero(idle)[:_MOST_IDLE]:
            source, _ = table.near(int(node))
            times = layer[source]
            times = times[np.isfinite(times)]
            sampled = (times[:, None] + np.array(_LATER_S)).ravel()
            yield np.full(len(sampled), node, dtype=np.int32), sampled


def _neighbour(
    table: KernelTable, highest: npt.NDArray[np.float32], when_s: FloatArray, rank: int
) -> tuple[IntArray, FloatArray]:
    """Offset of each class's source of some rank in strength, and when it is felt most.

    A class with fewer sources gives a lag of infinity.
    """
    classes = len(table.class_start) - 1
    offset = np.zeros(classes, dtype=np.int32)
    lag = np.full(classes, np.inf)
    for number in range(classes):
        part = slice(int(table.class_start[number]), int(table.class_start[number + 1]))
        others = np.flatnonzero(table.class_offset[part] != 0)
        if len(others) <= rank:
            continue
        curve = table.class_curve[part][others]
        chosen = np.argsort(-highest[curve], kind="stable")[rank]
        offset[number] = table.class_offset[part][others[chosen]]
        lag[number] = when_s[curve[chosen]]
    return offset, lag
