"""Link graphs and shapes tell weaves apart, however their repeats are cut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.shape.comparison import (
    count_links,
    count_parts,
    count_shells,
    find_same_links,
    is_same_shape,
    measure_shape,
)
from chainplan.weave.solving.solver import solve_repeat


def rolled_european(columns: int):
    """European 4-in-1 with its rows closed into a tube of so many columns, from its own links."""
    sheet = load_weave("european-4-in-1")
    links = []
    for i, j, along, across in sheet.links.tolist():
        for column in range(columns):
            other = (column + along) % columns
            links.append([2 * column + i, 2 * other + j, across, 0])
    return replace(
        sheet,
        form="chain",
        ring_class=(0,) * (2 * columns),
        links=np.array(links, dtype=np.int32),
    )


LINKS_OF_EACH_RING = {
    "single-link": {2},
    "double-link": {4},
    "triple-link": {6},
    "byzantine": {4},
    "box-chain": {4},
    "roundmaille": {4},
    "jens-pind-3": {4},
    "spiral-4-in-1": {4},
    "european-4-in-1": {4},
    "european-6-in-1": {6},
    "half-persian-3-in-1": {3},
    "full-persian-6-in-1": {6},
    "japanese-4-in-1": {2, 4},
    "japanese-12-in-2": {4, 12},
    "rosette-chain": {4, 6},
}


@pytest.mark.parametrize("key", weave_keys())
def test_each_ring_goes_through_as_many_others_as_the_weave_is_known_for(key):
    """The number in a weave's name is its links: 4-in-1, 6-in-1, 12-in-2 …"""
    assert set(count_links(load_weave(key))) == LINKS_OF_EACH_RING[key]


@pytest.mark.parametrize("key", weave_keys())
def test_every_shipped_weave_is_one_piece(key):
    """Links that leave every second ring out would make two chains side by side."""
    assert count_parts(load_weave(key)) == 1


def test_a_chain_that_skips_every_second_ring_is_two_pieces():
    """Ring n linked to ring n + 2 only: two chains; to nothing further on: no chain at all."""
    single = load_weave("single-link")
    skipping = replace(single, links=np.array([[0, 0, 2, 0]], dtype=np.int32))
    assert count_parts(skipping) == 2
    hanging = replace(single, ring_class=(0, 0), links=np.array([[0, 1, 0, 0]], dtype=np.int32))
    assert count_parts(hanging) == 0


def test_shells_of_a_single_link_and_of_a_square_sheet_are_as_counted_by_hand():
    """A path has 2 more rings each step, a square grid 4 n."""
    assert count_shells(load_weave("single-link"), 4) == ((2, 2, 2, 2),)
    assert count_shells(load_weave("european-4-in-1"), 4) == ((4, 8, 12, 16),)


@pytest.mark.parametrize(("columns", "key"), [(2, "box-chain"), (3, "roundmaille")])
def test_box_chain_and_roundmaille_are_a_rolled_european_4_in_1(columns, key):
    """Box is a four-sided European 4-in-1 (makers' article); roundmaille has one column more."""
    assert count_shells(rolled_european(columns)) == count_shells(load_weave(key))


def test_half_persian_is_one_half_of_full_persian():
    """One ring of each pair of Full Persian leaves the links of Half Persian."""
    full = load_weave("full-persian-6-in-1")
    kept = {0: 0, 2: 1}
    links = [
        [kept[i], kept[j], a, b] for i, j, a, b in full.links.tolist() if i in kept and j in kept
    ]
    half = replace(full, ring_class=(0, 0), links=np.array(links, dtype=np.int32))
    assert count_shells(half) == count_shells(load_weave("half-persian-3-in-1"))


def test_weaves_of_one_link_graph_are_found():
    """Byzantine, box and double link share their links; so do Jens Pind and the spiral."""
    library = [load_weave(key) for key in weave_keys()]
    found = {other.key for other in find_same_links(load_weave("byzantine"), library)}
    assert found == {"box-chain", "double-link"}
    found = {other.key for other in find_same_links(load_weave("spiral-4-in-1"), library)}
    assert found == {"jens-pind-3"}


def test_shape_does_not_depend_on_how_the_repeat_is_cut():
    """Two repeats of a double link taken as one are the same shape, another ratio is not."""
    weave = load_weave("double-link")
    repeat = solve_repeat(weave, 5.0)
    cos, sin = np.cos(repeat.turn_rad), np.sin(repeat.turn_rad)
    spin = np.array([[1, 0, 0], [0, cos, -sin], [0, sin, cos]])
    links = [[i, j + 2, 0, 0] for i, j, _, _ in repeat.links.tolist()]
    links += [[i + 2, j, 1, 0] for i, j, _, _ in repeat.links.tolist()]
    doubled = replace(
        repeat,
        centre=np.concatenate([repeat.centre, repeat.centre @ spin.T + repeat.vectors[0]]),
        normal=np.concatenate([repeat.normal, repeat.normal @ spin.T]),
        vectors=2 * repeat.vectors,
        turn_rad=2 * repeat.turn_rad,
        links=np.array(links, dtype=np.int32),
    )
    np.testing.assert_allclose(measure_shape(doubled), measure_shape(repeat), atol=1e-9)
    assert is_same_shape(doubled, repeat)
    assert not is_same_shape(repeat, solve_repeat(weave, 5.1))
