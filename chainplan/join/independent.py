"""Largest sets of rings of which no two are linked: what can be closed before weaving.

Bipartite link graphs are solved exactly by König's theorem: the largest independent set is what a
smallest vertex cover leaves, and that cover comes from a maximum matching. Other graphs are an
integer programme with one row a clique, exact when its optimum is proved; large ones are cut into
blocks, whose optima together bound the whole from above.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.join.tuning import tuning

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import BoolArray, IndexArray


@dataclass(frozen=True, slots=True)
class IndependentSet:
    """An independent set and how good it is."""

    chosen: BoolArray  # (n,)
    bound: int  # no independent set is larger

    @property
    def size(self) -> int:
        """Rings in the set."""
        return int(np.count_nonzero(self.chosen))

    @property
    def exact(self) -> bool:
        """Whether it is proved that no larger one exists."""
        return self.size == self.bound


def two_colour(count: int, links: IndexArray) -> BoolArray | None:
    """Colour rings so that linked ones differ, or return None where no such colouring exists.

    Notes
    -----
    In the double cover every ring stands twice, once a colour, and a link joins unlike colours. The
    graph is bipartite if and only if no ring's two copies hang together.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    first, second = links[:, 0], links[:, 1]
    rows = np.concatenate([first, second])
    columns = np.concatenate([second, first]) + count
    cover = coo_array((np.ones(rows.size, dtype=np.int8), (rows, columns)), (2 * count, 2 * count))
    _, part = connected_components(cover, directed=False)
    if (part[:count] == part[count:]).any():
        return None
    colour: BoolArray = part[:count] < part[count:]
    return colour


def find_largest_set(
    count: int,
    links: npt.NDArray[np.integer],
    *,
    forced: BoolArray | None = None,
    allowed: BoolArray | None = None,
) -> IndependentSet:
    """Find a largest independent set of rings, or the best found with a proved bound.

    Parameters
    ----------
    count : int
        Number of rings.
    links : array of int, shape (m, 2)
        Linked pairs.
    forced : array of bool, shape (n,), optional
        Rings that must be in it; no two of them may be linked.
    allowed : array of bool, shape (n,), optional
        Rings that may be in it besides.
    """
    links = links.astype(np.intp)
    chosen = np.zeros(count, dtype=bool) if forced is None else forced.copy()
    free = np.ones(count, dtype=bool) if allowed is None else allowed.copy()
    ahead = int(np.count_nonzero(chosen))
    free &= ~chosen
    for one, other in ((0, 1), (1, 0)):
        free[links[chosen[links[:, one]], other]] = False
    rings = np.flatnonzero(free)
    number = np.full(count, -1)
    number[rings] = np.arange(rings.size)
    inner = links[free[links].all(axis=1)]
    inner = number[inner]
    colour = two_colour(rings.size, inner)
    found = (
        _solve_by_matching(rings.size, inner, colour)
        if colour is not None
        else _solve_in_blocks(rings.size, inner)
    )
    chosen[rings[found.chosen]] = True
    return IndependentSet(chosen, ahead + found.bound)


def _solve_by_matching(count: int, links: IndexArray, colour: BoolArray) -> IndependentSet:
    """König: from a maximum matching, what alternating paths reach from the unmatched left side."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order, maximum_bipartite_matching

    if not links.size:
        return IndependentSet(np.ones(count, dtype=bool), count)
    swap = colour[links[:, 0]]
    left = np.where(swap, links[:, 1], links[:, 0])
    right = np.where(swap, links[:, 0], links[:, 1])
    ones = np.ones(left.size, dtype=np.int8)
    graph = coo_array((ones, (left, right)), (count, count)).tocsr()
    mate = maximum_bipartite_matching(graph, perm_type="column").astype(np.intp)
    matched = mate >= 0
    starts = np.flatnonzero(~matched & ~colour)
    source = np.full(starts.size, count)
    rows = np.concatenate([left, mate[matched], source])
    columns = np.concatenate([right, np.flatnonzero(matched), starts])
    paths = coo_array(
        (np.ones(rows.size, dtype=np.int8), (rows, columns)), (count + 1, count + 1)
    ).tocsr()
    order = breadth_first_order(paths, count, directed=True, return_predecessors=False)
    reached = np.zeros(count + 1, dtype=bool)
    reached[order] = True
    chosen = np.where(colour, ~reached[:count], reached[:count])
    return IndependentSet(chosen, count - int(np.count_nonzero(matched)))


def _solve_in_blocks(count: int, links: IndexArray) -> IndependentSet:
    """Solve one integer programme, or several and join their solutions."""
    if count <= tuning().block_rings:
        return _solve_programme(count, links)
    block = links // tuning().block_rings
    inside = links[block[:, 0] == block[:, 1]]
    inside = inside[np.argsort(inside[:, 0], kind="stable")]
    limits = np.searchsorted(
        inside[:, 0],
        np.arange(0, count + tuning().block_rings, tuning().block_rings, dtype=np.intp),
    )
    known: dict[bytes, IndependentSet] = {}
    chosen = np.zeros(count, dtype=bool)
    bound = 0
    for number, start in enumerate(range(0, count, tuning().block_rings)):
        size = min(tuning().block_rings, count - start)
        own = inside[limits[number] : limits[number + 1]] - start
        own = own[np.lexsort((own[:, 1], own[:, 0]))]
        key = size.to_bytes(4, "big") + own.tobytes()
        if key not in known:
            solve = _solve_programme if len(known) < tuning().most_blocks else _solve_greedily
            known[key] = solve(size, own)
        chosen[start : start + size] = known[key].chosen
        bound += known[key].bound
    clash = links[chosen[links].all(axis=1)]
    chosen[clash[:, 1]] = False
    return IndependentSet(fill_up(chosen, links), bound)


def _solve_programme(count: int, links: IndexArray) -> IndependentSet:
    """Maximise the number of rings with at most one of every clique (HiGHS)."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    cliques = list_cliques(count, links)
    greedy = _solve_greedily(count, links, cliques)
    if greedy.exact:
        return greedy
    row, column = np.nonzero(cliques >= 0)
    rows = coo_array(
        (np.ones(row.size), (row, cliques[row, column])), (cliques.shape[0], count)
    ).tocsr()
    result = milp(
        -np.ones(count),
        constraints=LinearConstraint(rows, ub=np.ones(cliques.shape[0])),
        bounds=Bounds(0, 1),
        integrality=np.ones(count),
        options={"node_limit": tuning().node_limit},
    )
    best, bound = greedy.chosen, greedy.bound
    if result.mip_dual_bound is not None and np.isfinite(result.mip_dual_bound):
        bound = min(bound, int(np.floor(-result.mip_dual_bound + 1e-6)))
    if result.x is not None:
        better = fill_up(result.x > 0.5, links)
        clash = better[links].all(axis=1).any()
        if not clash and np.count_nonzero(better) > np.count_nonzero(best):
            best = better
    return IndependentSet(best, bound)


def _solve_greedily(
    count: int, links: IndexArray, cliques: IndexArray | None = None
) -> IndependentSet:
    """Take rings in order where no linked one is taken; cover the rings by cliques as a bound."""
    if cliques is None:
        cliques = list_cliques(count, links)
    neighbours = neighbour_table(count, links)
    blocked = bytearray(count)
    chosen = np.zeros(count, dtype=bool)
    for ring, row in enumerate(neighbours.tolist()):
        if not blocked[ring]:
            chosen[ring] = True
            for other in row:
                if other >= 0:
                    blocked[other] = 1
    size = (cliques >= 0).sum(axis=1)
    covered = bytearray(count)
    cover = 0
    order = np.lexsort((cliques[:, 0], -size))
    starts: dict[int, list[int]] = {}
    for row in cliques[order].tolist():
        starts.setdefault(row[0], row)
    for ring in range(count):
        if not covered[ring]:
            cover += 1
            for other in starts.get(ring, [ring]):
                if other >= 0:
                    covered[other] = 1
    return IndependentSet(chosen, cover)


def neighbour_table(count: int, links: IndexArray) -> IndexArray:
    """List the rings linked to each ring, ascending, padded with −1; shape (n, largest degree)."""
    both = np.concatenate([links, links[:, ::-1]])
    both = both[np.lexsort((both[:, 1], both[:, 0]))]
    degree = np.bincount(both[:, 0], minlength=count)
    table = np.full((count, max(int(degree.max(initial=0)), 1)), -1)
    start = np.cumsum(degree) - degree
    table[both[:, 0], np.arange(both.shape[0]) - start[both[:, 0]]] = both[:, 1]
    return table


def list_cliques(count: int, links: IndexArray) -> IndexArray:
    """List, for every link, one clique that nothing can be added to; rows ascending, padded −1."""
    table = neighbour_table(count, links)
    common = _shared(table[links[:, 0]], table[links[:, 1]])
    members = [np.sort(links, axis=1)]
    while (common >= 0).any():
        added = np.where(common >= 0, common, count).min(axis=1)
        added = np.where(added < count, added, -1)
        members.append(added[:, None])
        rows = np.where(added[:, None] >= 0, table[added], -1)
        common = _shared(common, rows)
    cliques = np.concatenate(members, axis=1)
    cliques = np.sort(np.where(cliques < 0, count, cliques), axis=1)
    cliques = np.unique(cliques, axis=0)
    return np.where(cliques == count, -1, cliques)


def _shared(first: IndexArray, second: IndexArray) -> IndexArray:
    """Keep the entries of each row of the first table that stand in that row of the second."""
    same = (first[:, :, None] == second[:, None, :]).any(axis=2) & (first >= 0)
    return np.where(same, first, -1)


def fill_up(chosen: BoolArray, links: IndexArray) -> BoolArray:
    """Add rings while none of their linked ones is in the set, many at a time, lowest first.

    The lowest of the rings that are left has no lower neighbour among them: each turn adds one.
    """
    chosen = chosen.copy()
    while True:
        blocked = chosen.copy()
        for one, other in ((0, 1), (1, 0)):
            blocked[links[chosen[links[:, one]], other]] = True
        if blocked.all():
            return chosen
        open_links = links[~blocked[links].any(axis=1)]
        lowest = ~blocked
        lowest[open_links.max(axis=1, initial=0) if open_links.size else open_links.ravel()] = False
        chosen |= lowest
