"""Independent sets against brute force on small graphs."""

from __future__ import annotations

import networkx as nx
import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from chainplan.join.independent import find_largest_set, list_cliques, two_colour


@st.composite
def graphs(draw, most=11):
    """A number of rings and pairs of them."""
    count = draw(st.integers(1, most))
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count)]
    chosen = draw(st.lists(st.sampled_from(pairs), unique=True)) if pairs else []
    return count, np.array(sorted(chosen), dtype=np.int32).reshape(-1, 2)


def brute_size(count, links, forced, allowed):
    """Size of the largest independent set, by trying every subset."""
    best = 0
    for mask in range(1 << count):
        chosen = [ring for ring in range(count) if mask >> ring & 1]
        inside = set(chosen)
        if not forced <= inside or not inside <= allowed | forced:
            continue
        if any(i in inside and j in inside for i, j in links.tolist()):
            continue
        best = max(best, len(chosen))
    return best


@given(graph=graphs())
def test_largest_set_equals_the_optimum_of_all_subsets(graph):
    """The set is independent, as large as the best subset, and proved so."""
    count, links = graph
    found = find_largest_set(count, links)
    assert not found.chosen[links].all(axis=1).any()
    assert found.size == brute_size(count, links, set(), set(range(count)))
    assert found.exact


@given(graph=graphs(most=9), data=st.data())
def test_forced_rings_are_kept_and_others_only_taken_where_allowed(graph, data):
    """Rings that nothing reaches are in the set whatever it costs."""
    count, links = graph
    linked = {tuple(pair) for pair in links.tolist()}
    forced: set[int] = set()
    for ring in data.draw(st.permutations(range(count))):
        if len(forced) < 2 and not any((min(ring, f), max(ring, f)) in linked for f in forced):
            forced.add(ring)
    allowed = set(data.draw(st.lists(st.integers(0, count - 1), unique=True)))
    mark = np.zeros((2, count), dtype=bool)
    mark[0, list(forced)] = True
    mark[1, list(allowed)] = True
    found = find_largest_set(count, links, forced=mark[0], allowed=mark[1])
    chosen = set(np.flatnonzero(found.chosen).tolist())
    assert forced <= chosen <= forced | allowed
    assert not found.chosen[links].all(axis=1).any()
    assert found.size == brute_size(count, links, forced, allowed)


@given(graph=graphs(most=14))
def test_two_colouring_is_found_exactly_where_networkx_finds_one(graph):
    """Bipartite or not must not be a matter of opinion."""
    count, links = graph
    reference = nx.Graph()
    reference.add_nodes_from(range(count))
    reference.add_edges_from(links.tolist())
    colour = two_colour(count, links)
    assert (colour is not None) == nx.is_bipartite(reference)
    if colour is not None:
        assert (colour[links[:, 0]] != colour[links[:, 1]]).all()


@given(
    left=st.integers(1, 30),
    right=st.integers(1, 30),
    seed=st.integers(0, 10_000),
    density=st.floats(0.02, 0.4),
)
def test_bipartite_set_has_the_size_of_koenigs_theorem(left, right, seed, density):
    """Rings less a maximum matching, the matching being networkx's own."""
    rng = np.random.default_rng(seed)
    i, j = np.nonzero(rng.random((left, right)) < density)
    links = np.column_stack([i, j + left]).astype(np.int32)
    count = left + right
    reference = nx.Graph()
    reference.add_nodes_from(range(count))
    reference.add_edges_from(links.tolist())
    matching = nx.bipartite.hopcroft_karp_matching(reference, top_nodes=range(left))
    found = find_largest_set(count, links)
    assert found.exact
    assert found.size == count - len(matching) // 2


@given(graph=graphs())
def test_cliques_cover_every_link_and_are_cliques(graph):
    """A bound from something that is no clique would be no bound."""
    count, links = graph
    linked = {tuple(pair) for pair in links.tolist()}
    covered = set()
    for row in list_cliques(count, links).tolist():
        members = [ring for ring in row if ring >= 0]
        pairs = {(i, j) for i in members for j in members if i < j}
        assert pairs <= linked
        covered |= pairs
    assert covered == linked
