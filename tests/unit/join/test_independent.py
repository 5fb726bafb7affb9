"""Independent sets of graphs whose largest one is known."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.join.independent import fill_up, find_largest_set
from chainplan.join.tuning import tuning

BLOCK_RINGS = tuning().block_rings


def path_links(count, reach=1):
    """Ring i linked to the next ``reach`` rings, as in a chain or a spiral."""
    return np.concatenate(
        [np.column_stack([np.arange(count - k), np.arange(k, count)]) for k in range(1, reach + 1)]
    )


@pytest.mark.parametrize(("reach", "share"), [(1, 2), (2, 3), (3, 4)])
@pytest.mark.parametrize("count", [17, 500, 2 * BLOCK_RINGS + 301])
def test_chain_closes_one_ring_in_so_many(count, reach, share):
    """Each ring linked to the next r: one in r + 1 is best, rounded up."""
    found = find_largest_set(count, path_links(count, reach))
    best = -(-count // share)
    assert not found.chosen[path_links(count, reach)].all(axis=1).any()
    assert found.bound >= best >= found.size
    if count <= BLOCK_RINGS or reach == 1:
        assert found.size == best
        assert found.exact
    else:
        assert found.bound - found.size <= 2 * (count // BLOCK_RINGS)


def test_odd_loop_closes_half_the_rings_less_one():
    """A closed chain of 501 rings: 250."""
    links = np.concatenate([path_links(501), [[0, 500]]])
    found = find_largest_set(501, links)
    assert found.size == 250
    assert found.exact


def test_large_sheet_is_solved_exactly_and_fast_enough_to_be_bipartite():
    """A grid of 300 × 301 rings: the larger colour class, by König."""
    number = np.arange(300 * 301).reshape(300, 301)
    links = np.concatenate(
        [
            np.column_stack([number[:, :-1].ravel(), number[:, 1:].ravel()]),
            np.column_stack([number[:-1].ravel(), number[1:].ravel()]),
        ]
    )
    found = find_largest_set(number.size, links)
    assert found.size == -(-number.size // 2)
    assert found.exact


def test_filling_up_leaves_no_ring_that_could_be_added():
    """From nothing to a set to which nothing can be added."""
    links = path_links(50, 2)
    filled = fill_up(np.zeros(50, dtype=bool), links)
    assert not filled[links].all(axis=1).any()
    touched = filled.copy()
    for one, other in ((0, 1), (1, 0)):
        touched[links[filled[links[:, one]], other]] = True
    assert touched.all()


def test_filling_up_takes_a_ring_that_is_alone():
    """One ring without a link, and nothing at all."""
    nobody = np.zeros((0, 2), dtype=np.int64)
    assert fill_up(np.zeros(1, dtype=bool), nobody).tolist() == [True]
    assert fill_up(np.zeros(0, dtype=bool), nobody).tolist() == []
