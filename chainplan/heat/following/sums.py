"""Large pieces: temperatures as sums of kernels over the welds nearby, linear in the rings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.heat.following.peaks import AFTER_S, highest_between
from chainplan.heat.tuning import tuning
from chainplan.model.thermal.heat import HeatRun
from chainplan.model.thermal.kernels import WeldTimes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.thermal.heat import HeatNetwork
    from chainplan.model.thermal.kernels import KernelTable


def simulate_sums(
    network: HeatNetwork,
    table: KernelTable,
    ring: IntArray,
    start_s: FloatArray,
    at_s: FloatArray | None = None,
    *,
    peaks_of: Sequence[int] | None = None,
) -> HeatRun:
    """Simulate a run of welds by kernel sums, each within the table's ``dropped_k``.

    Peaks are looked for just before and after a ring's own weld and after the weld of each of its
    six strongest neighbours, when that one is felt most; of nodes that are not welded (parts,
    mainly; 200 at most) also at several instants after every weld nearby. Peaks of parts, which
    have limits of their own, are closed in on. ``peaks_of``: only those of these nodes, all closed
    in on; of the others peaks are those at the welds themselves.
    """
    nodes = len(network.capacity_j_k)
    ring = np.asarray(ring, dtype=np.int32)
    start = np.asarray(start_s, dtype=np.float64)
    welds = WeldTimes(nodes, ring, start)
    before = table.rises_k(welds, ring, start)
    jump = network.join_heat_j[ring] / network.capacity_j_k[ring]
    peak = np.zeros(nodes)
    np.maximum.at(peak, ring, before + jump)
    if peaks_of is None:
        for node, times in _moments(table, welds, ring):
            np.maximum.at(peak, node, table.rises_k(welds, node, times))
    for part in range(len(network.join_heat_j), nodes) if peaks_of is None else peaks_of:
        peak[part] = max(peak[part], _highest_of_node(table, welds, part))
    at_c = None
    if at_s is not None:
        every = np.arange(nodes, dtype=np.int32)
        at_c = np.empty((len(at_s), nodes))
        for index, moment in enumerate(np.asarray(at_s, dtype=np.float64)):
            at_c[index] = _at_c(network, table, welds, every, np.full(nodes, moment))
    few = peaks_of is not None
    notes = ("most peaks are those at the welds themselves",) if few else ()
    return HeatRun(
        corner=network.corner,
        before_c=before + network.base_c[ring],
        peak_c=peak + network.base_c,
        dropped_k=table.dropped_k,
        at_c=at_c,
        notes=notes,
    )


def temperatures_by_sums(
    network: HeatNetwork,
    table: KernelTable,
    ring: IntArray,
    start_s: FloatArray,
    node: IntArray,
    at_s: FloatArray,
) -> FloatArray:
    """Temperature of ``node[k]`` at ``at_s[k]`` in a run of welds, shape (k,). [°C]."""
    welds = WeldTimes(len(network.capacity_j_k), ring, start_s)
    return _at_c(network, table, welds, np.asarray(node), np.asarray(at_s, dtype=np.float64))


def _at_c(
    network: HeatNetwork, table: KernelTable, welds: WeldTimes, node: IntArray, at_s: FloatArray
) -> FloatArray:
    later = np.nextafter(at_s, np.inf)  # a weld at the very moment counts
    warm: FloatArray = network.base_c[node] + table.rises_k(welds, node, later)
    return warm


def _highest_of_node(table: KernelTable, welds: WeldTimes, node: int) -> float:
    """Find the highest rise of one node between the welds that it feels. [K]."""
    source, _ = table.near(node)
    times = np.unique(np.concatenate([layer[source] for layer in welds.layers]))
    times = times[np.isfinite(times)]
    if not times.size:
        return 0.0

    def rises(row: IntArray, lag: FloatArray) -> FloatArray:
        moment = np.nextafter(times[row][:, None] + lag, np.inf).ravel()
        nodes = np.full(moment.size, node, dtype=np.int32)
        return table.rises_k(welds, nodes, moment).reshape(lag.shape)

    return highest_between(rises, np.append(np.diff(times), AFTER_S))


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
        for rank in range(tuning().strongest):
            offset, lag = _neighbour(table, highest, when_s, rank)
            sizes = np.diff(bounds)
            there = order + np.repeat(offset, sizes)
            moment = layer[np.clip(there, 0, nodes - 1)] + np.repeat(lag, sizes)
            known = np.isfinite(moment)
            yield order[known], moment[known]
        for node in np.flatnonzero(idle)[: tuning().most_idle]:
            source, _ = table.near(int(node))
            times = layer[source]
            times = times[np.isfinite(times)]
            sampled = (times[:, None] + np.array(tuning().later_s)).ravel()
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
