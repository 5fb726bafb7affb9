"""What lies around a patch of a large piece, put together in lumps of rings.

Heat of joins beyond a patch reaches its middle too: in a sheet of copper some kelvins from eight
rings away. So the rings around it are put together, some to a lump, each lump one node of all their
capacity and loss. Two lumps are joined by the links between them, each weakened by the number of
links from middle to middle, so that heat takes as long from lump to lump as from ring to ring.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.examine.heat.written import Network

LUMP = 16
"""Rings of a lump, about: four by four of a sheet, half as wide as the patch is from its middle."""
_FIRST_REACH = 64
"""Links that are gone at first: of a sheet, a patch and its lumps are not wider."""
LUMPS = 250
"""Lumps at most: of a sheet as far again as three times the patch."""
_UNFELT = 1e-7
"""Share of a ring's warmth that is not felt far off: of two thousand kelvins, 0.0002 K."""


def find_felt(network: Network, inside: BoolArray, steps: FloatArray) -> int | None:
    """Links beyond which no warmth is felt in the middle of a patch; None if it is from outside.

    What the middle feels of rings beyond ``d`` links, however warm these are and ever were, is at
    most the steady warmth of a patch of so many links with its rim's neighbours held at one
    (maximum principle): ``Σ g_j c_j`` over its rim, ``c`` the conductance outwards and ``g`` what a
    watt in the middle warms. ``g`` of the whole patch, its neighbours held at nothing, is no less
    than that of any smaller one, so that it is reckoned once a corner.

    Parameters
    ----------
    network : Network
        Of the whole piece.
    inside : array of bool, shape (N,)
        Nodes of the patch.
    steps : array, shape (N,)
        Links from its middle.
    """
    node = np.flatnonzero(inside)
    size, local = len(node), np.full(len(inside), len(node))
    local[node] = np.arange(size)
    touching = np.flatnonzero(inside[network.pairs].any(axis=1))
    one, other = network.pairs[touching].T
    nearer = np.where(steps[one] <= steps[other], one, other)
    outwards = steps[one] != steps[other]
    row, depth = local[nearer[outwards]], steps[nearer[outwards]].astype(int)
    if not len(depth) or (inside[one].all() and inside[other].all()):
        return None  # there is nothing outside
    felt = np.zeros(int(steps[node].max()) + 1)
    for value, loss in zip(network.conductance[:, touching], network.loss[:, node], strict=True):
        matrix = np.zeros((size + 1, size + 1))
        np.add.at(matrix, (local[one], local[other]), -value)
        matrix += matrix.T
        diagonal = np.bincount(local[one], value, size + 1) + np.bincount(
            local[other], value, size + 1
        )
        matrix[np.diag_indices(size + 1)] = diagonal
        matrix = matrix[:size, :size]
        matrix[np.diag_indices(size)] += loss + network.sink[node]
        warms = np.linalg.solve(matrix, (steps[node] == 0).astype(float))
        rim = np.bincount(depth, warms[row] * value[outwards], len(felt))
        felt = np.maximum(felt, rim)
    enough = np.flatnonzero(felt <= _UNFELT)
    return int(enough[0]) if len(enough) else None


def lump_outside(
    network: Network, inside: BoolArray, *, alone: bool = False
) -> tuple[Network, IndexArray]:
    """Put what lies around a patch together in lumps.

    Parameters
    ----------
    network : Network
        Of the whole piece.
    inside : array of bool, shape (N,)
        Nodes of the patch; they stay as they are.
    alone : bool
        Nothing around the patch is felt: there are no lumps.

    Returns
    -------
    Network, array of shape (N,)
        The patch's nodes, in their order, and then the lumps; and which of them each node of the
        piece belongs to, -1 further off. No heat crosses the outer rim.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    most = int(np.count_nonzero(inside)) + LUMP * LUMPS
    near = inside if alone else grow(network, inside, most)[0]
    node = np.flatnonzero(near)
    local = np.full(len(near), -1)
    local[node] = np.arange(len(node))
    one, other = local[network.pairs].T
    among = (one >= 0) & (other >= 0)
    one, other, size = one[among], other[among], len(node)
    fine = inside[node]
    middle = np.flatnonzero(~fine)[LUMP // 2 :: LUMP]
    patch = np.count_nonzero(fine)
    lump, depth = np.full(size, -1), np.zeros(size)
    lump[fine] = np.arange(patch)
    if len(middle):
        outer = ~(fine[one] | fine[other])
        links = coo_matrix((np.ones(np.count_nonzero(outer)), (one[outer], other[outer])))
        links.resize(size, size)
        steps, _, source = dijkstra(
            links.tocsr(), directed=False, indices=middle, unweighted=True, min_only=True,
            return_predecessors=True,
        )  # fmt: skip
        found = ~fine & np.isfinite(steps)
        lump[found] = patch + np.searchsorted(middle, source[found])
        depth[found] = steps[found]
    first, second = lump[one], lump[other]
    across = (first >= 0) & (second >= 0) & (first != second)
    apart = (depth[one] + depth[other] + 1.0)[across]
    held, lumps = lump >= 0, patch + len(middle)
    node, lump = node[held], lump[held]

    def total(values: FloatArray) -> FloatArray:
        return np.bincount(lump, values, lumps).astype(np.float64)

    sink = total(network.sink[node])
    drive = total(network.sink[node] * network.sink_c[node])
    place = np.full(len(near), -1)
    place[node] = lump
    return (
        replace(
            network,
            capacity=total(network.capacity[node]),
            loss=np.stack([total(row[node]) for row in network.loss]),
            pairs=np.stack([first[across], second[across]], axis=1),
            conductance=network.conductance[:, among][:, across] / apart,
            sink=sink,
            sink_c=np.where(sink > 0, drive / np.maximum(sink, 1e-300), network.room_c),
        ),
        place,
    )


def grow(network: Network, inside: BoolArray, most: int) -> tuple[BoolArray, FloatArray]:
    """Grow a set of nodes link by link, as long as they are no more than so many.

    Returns
    -------
    array of bool, array, both of shape (N,)
        The nodes, and the links from the set to each; infinite for those further off.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    size, one, other = len(inside), *network.pairs.T
    graph = coo_matrix((np.ones(len(one)), (one, other)), shape=(size, size)).tocsr()
    seeds, reach = np.flatnonzero(inside), _FIRST_REACH
    while True:
        steps = dijkstra(
            graph, directed=False, indices=seeds, unweighted=True, min_only=True, limit=reach
        )
        near = np.isfinite(steps)
        within = np.cumsum(np.bincount(steps[near].astype(int)))
        last = max(int(np.searchsorted(within, most, side="right")) - 1, 0)
        if last + 1 < len(within) or len(within) <= reach:  # it is full, or nothing is left
            grown: BoolArray = steps <= last
            return grown, steps
        reach *= 4
