"""What lies around a patch of a large piece, put together in lumps of rings.

Heat of joins beyond a patch reaches its middle too: in a sheet of copper some kelvins from eight
rings away. So the rings around it are put together, some to a lump, each lump one node of all their
capacity and loss. Two lumps are joined by the links between them, each weakened by the number of
links from middle to middle, so that heat takes as long from lump to lump as from ring to ring.
"""

from __future__ import annotations

import math
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
_UNFELT = 1e-6
"""Share of a ring's warmth that is not felt far off: of two thousand kelvins, 0.002 K."""


def find_reach(network: Network) -> float:
    """Links after which no more than a millionth of any ring's warmth is felt, in any corner.

    What one ring feels of others ``n`` links off, however warm these are, is at most the chance
    that a walk from link to link, by their conductances, gets so far before it is lost to the room
    or a sink: ``ρ^n``, ρ the most that any node hands on of what it holds (maximum principle).
    Infinite where a node loses nothing.
    """
    size, (one, other) = len(network.capacity), network.pairs.T
    hands_on = 0.0
    for through, loss in zip(network.conductance, network.loss, strict=True):
        on = np.bincount(one, through, size) + np.bincount(other, through, size)
        all_ways = on + loss + network.sink
        hands_on = max(hands_on, float((on / np.where(all_ways > 0, all_ways, 1.0)).max()))
    if not 0 < hands_on < 1:
        return math.inf if hands_on else 0.0
    return math.ceil(math.log(_UNFELT) / math.log(hands_on))


def lump_outside(
    network: Network, inside: BoolArray, further: float = math.inf
) -> tuple[Network, IndexArray]:
    """Put what lies around a patch together in lumps.

    Parameters
    ----------
    network : Network
        Of the whole piece.
    inside : array of bool, shape (N,)
        Nodes of the patch; they stay as they are.
    further : float
        Links beyond the patch that are looked at; with 0 there are no lumps.

    Returns
    -------
    Network, array of shape (N,)
        The patch's nodes, in their order, and then the lumps; and which of them each node of the
        piece belongs to, -1 further off. No heat crosses the outer rim.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    near, _ = grow(network, inside, int(np.count_nonzero(inside)) + LUMP * LUMPS, further)
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


def grow(
    network: Network, inside: BoolArray, most: int, furthest: float = math.inf
) -> tuple[BoolArray, int]:
    """Grow a set of nodes link by link, as long as they are no more than so many; by how many.

    No further than so many links.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    size, one, other = len(inside), *network.pairs.T
    graph = coo_matrix((np.ones(len(one)), (one, other)), shape=(size, size)).tocsr()
    seeds, reach = np.flatnonzero(inside), min(_FIRST_REACH, furthest)
    while True:
        steps = dijkstra(
            graph, directed=False, indices=seeds, unweighted=True, min_only=True, limit=reach
        )
        near = np.isfinite(steps)
        within = np.cumsum(np.bincount(steps[near].astype(int)))
        last = max(int(np.searchsorted(within, most, side="right")) - 1, 0)
        full, all_there = last + 1 < len(within), len(within) <= reach
        if full or all_there or reach >= furthest:
            grown: BoolArray = steps <= last
            return grown, last
        reach = min(4 * reach, furthest)
