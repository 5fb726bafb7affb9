"""Nodes with the same surroundings: found by passing hashes along the links, round by round."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.frozen import frozen
from chainplan.heat.tuning import tuning

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import IntArray
    from chainplan.model.thermal.heat import HeatNetwork

    HashArray = npt.NDArray[np.uint64]

# Constants of SplitMix64: Steele, Lea, Flood, Fast splittable pseudorandom number generators,
# OOPSLA 2014, 10.1145/2660193.2660195.
_MULTIPLIERS = (np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB))
_SHIFTS = (np.uint64(30), np.uint64(27), np.uint64(31))
"""Multipliers and shifts of splitmix64 (G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014; variant 13
of Stafford): bits are mixed so well that unlike surroundings get unlike numbers."""
_GOLDEN = np.uint64(0x9E3779B97F4A7C15)


@frozen
class NodeClasses:
    """Classes of nodes whose neighbourhoods out to ``rounds`` links are the same.

    Two nodes share a class when all that lies within that many links of them has the same numbers
    and stands at the same distances *in node number*, so that one list of number offsets serves
    both.
    """

    node_class: IntArray  # (N,)
    example: IntArray  # (classes,) the first node of each class
    rounds: int


def _mix(value: HashArray) -> HashArray:
    """Scramble 64-bit words (the finishing step of the SplitMix64 generator)."""
    mixed = (value ^ (value >> _SHIFTS[0])) * _MULTIPLIERS[0]
    mixed = (mixed ^ (mixed >> _SHIFTS[1])) * _MULTIPLIERS[1]
    return mixed ^ (mixed >> _SHIFTS[2])


def _bits(values: npt.NDArray[np.float64]) -> HashArray:
    """Floats as words, last bits rounded off so that equal sums in another order agree."""
    _, exponent = np.frexp(values)
    rounded = np.ldexp(np.rint(np.ldexp(values, 40 - exponent)), exponent - 40) + 0.0
    return _mix(rounded.view(np.uint64) + _GOLDEN)


def find_surroundings(
    network: HeatNetwork, matrix: Any, rounds: int, known: int | None = None
) -> NodeClasses:
    """Sort nodes into classes of equal surroundings out to a number of links.

    ``known``: only so many links out the numbers have to be equal; from there on it is enough
    that there are as many nodes at the same places.

    Each round replaces a node's hash by a hash of itself and of its neighbours', each mixed with
    the conductance and the number offset of the link. 64-bit hashes: the chance that any two
    different surroundings of a million nodes fall together is below 1e-7. The result does not
    depend on the interpreter's hash seed.
    """
    nodes = len(network.capacity_j_k)
    heat = np.zeros(nodes)
    heat[: len(network.join_heat_j)] = network.join_heat_j
    label = _bits(network.capacity_j_k)
    for values in (network.loss_w_k, network.sink_w_k, heat):
        label = _mix(label * _GOLDEN + _bits(np.ascontiguousarray(values)))
    indptr, target = matrix.indptr, matrix.indices
    starts = range(0, nodes, tuning().nodes_at_once)
    blocks = [slice(first, min(first + tuning().nodes_at_once, nodes)) for first in starts]
    edge = np.empty(len(target), dtype=np.uint64)
    place = np.empty(0 if known is None else len(target), dtype=np.uint64)
    for some in blocks:
        links = slice(int(indptr[some.start]), int(indptr[some.stop]))
        own = np.arange(some.start, some.stop, dtype=np.int64)
        offset = target[links] - np.repeat(own, np.diff(indptr[some.start : some.stop + 1]))
        where = _mix(offset.view(np.uint64) * _GOLDEN)
        edge[links] = _mix(_bits(np.where(offset == 0, 0.0, matrix.data[links])) + where)
        if known is not None:
            place[links] = where

    def passed_on(label: HashArray, edge: HashArray, times: int) -> HashArray:
        for _ in range(times):
            after = np.empty_like(label)
            for some in blocks:
                links = slice(int(indptr[some.start]), int(indptr[some.stop]))
                arriving = _mix(label[target[links]] ^ edge[links])
                sums = np.add.reduceat(arriving, indptr[some] - links.start)
                after[some] = _mix(label[some] * _GOLDEN + sums)
            label = after
        return label

    label = passed_on(label, edge, rounds if known is None else known)
    if known is not None:
        apart = _bits(np.ascontiguousarray(network.sink_w_k))
        apart[len(network.join_heat_j) :] += np.arange(1, nodes - len(network.join_heat_j) + 1,
                                                       dtype=np.uint64)  # fmt: skip
        label = _mix(label * _GOLDEN + passed_on(apart, place, rounds))
    _, example, node_class = np.unique(label, return_index=True, return_inverse=True)
    # number the classes by first appearance: the same piece gives the same table on any machine
    order = np.argsort(example, kind="stable")
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return NodeClasses(
        node_class=rank[node_class.ravel()].astype(np.int32),
        example=example[order].astype(np.int32),
        rounds=rounds,
    )


@frozen
class Neighbourhoods:
    """Neighbourhoods of several nodes, laid one after another."""

    start: npt.NDArray[np.int64]  # (patches + 1,)
    node: IntArray  # (total,) ascending within a patch
    centre: npt.NDArray[np.int64]  # (patches,) index into node

    def part(self, some: slice) -> Neighbourhoods:
        """Only some of the patches, one after another."""
        first, last = int(self.start[some.start]), int(self.start[some.stop])
        return Neighbourhoods(
            start=self.start[some.start : some.stop + 1] - first,
            node=self.node[first:last],
            centre=self.centre[some] - first,
        )


def gather_patches(matrix: Any, centres: IntArray, rounds: int) -> Neighbourhoods:
    """Collect all nodes within a number of links of each centre."""
    nodes = np.int64(matrix.shape[0])
    indptr, target = matrix.indptr.astype(np.int64), matrix.indices
    patch = np.arange(len(centres), dtype=np.int64)
    known = patch * nodes + centres
    rim = known
    for _ in range(rounds):
        owner, node = np.divmod(rim, nodes)
        count = indptr[node + 1] - indptr[node]
        where = np.repeat(indptr[node], count) + _counting(count)
        reached = np.sort(np.repeat(owner * nodes, count) + target[where])
        reached = reached[np.flatnonzero(np.diff(reached, prepend=-1))]
        place = np.searchsorted(known, reached)
        old = known[np.minimum(place, len(known) - 1)] == reached
        rim = reached[~old]
        if rim.size == 0:
            break
        known = np.sort(np.concatenate([known, rim]))
    owner, node = np.divmod(known, nodes)
    start = np.searchsorted(owner, np.arange(len(centres) + 1))
    centre = np.searchsorted(known, patch * nodes + centres)
    return Neighbourhoods(start=start, node=node.astype(np.int32), centre=centre)


def _counting(count: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """0 … c−1 for each count c, one after another."""
    ends = np.cumsum(count)
    total = int(ends[-1]) if len(ends) else 0
    return np.arange(total) - np.repeat(ends - count, count)


def patch_matrix(matrix: Any, patches: Neighbourhoods) -> tuple[Any, npt.NDArray[np.float64]]:
    """Block-diagonal conductance matrix of all patches, cut free from the rest of the piece.

    Returns
    -------
    tuple of a CSR matrix and an array, shape (total,)
        The insulated patches' matrix, and for each node the conductance that was cut. [W/K]
    """
    from scipy.sparse import csr_matrix

    nodes = np.int64(matrix.shape[0])
    total = len(patches.node)
    owner = np.repeat(np.arange(len(patches.start) - 1, dtype=np.int64), np.diff(patches.start))
    key = owner * nodes + patches.node
    indptr = matrix.indptr.astype(np.int64)
    count = indptr[patches.node + 1] - indptr[patches.node]
    where = np.repeat(indptr[patches.node], count) + _counting(count)
    row = np.repeat(np.arange(total), count)
    wanted = owner[row] * nodes + matrix.indices[where]
    place = np.minimum(np.searchsorted(key, wanted), total - 1)
    inside = key[place] == wanted
    value = matrix.data[where]
    cut = np.bincount(row[~inside], weights=-value[~inside], minlength=total).astype(np.float64)
    row, place, value = row[inside], place[inside], value[inside]
    value = np.where(row == place, value - cut[row], value)
    pointer = np.concatenate([[0], np.cumsum(np.bincount(row, minlength=total))])
    block = csr_matrix(
        (value, place.astype(np.int32), pointer.astype(np.int32)), shape=(total, total)
    )
    return block, cut
