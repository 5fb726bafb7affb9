"""A solved chain lies the way its seed does, however the search rolled it."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.shape.orientation import find_roll, lay_as_seed
from chainplan.weave.shape.poses import find_links, read_seed, smallest_gap, turn_about_x

CHAINS = [key for key in weave_keys() if load_weave(key).form == "chain"]


@pytest.mark.parametrize("angle", [-2.0, 0.3, 1.5])
@pytest.mark.parametrize("key", CHAINS)
def test_rolled_seed_is_rolled_back(key, angle):
    """Up to the symmetry of the chain: the rings' planes come back to where they were."""
    weave = load_weave(key)
    seed = read_seed(weave)
    spin = turn_about_x(angle)[0]
    rolled = replace(seed, centre=seed.centre @ spin.T, normal=seed.normal @ spin.T)
    back = lay_as_seed(weave, rolled)
    agree = np.abs((back.normal * seed.normal).sum(axis=1))
    np.testing.assert_allclose(agree, 1.0, atol=1e-6)
    assert smallest_gap(back) == pytest.approx(smallest_gap(seed), abs=1e-9)
    np.testing.assert_array_equal(find_links(back), find_links(seed))


def test_chain_without_a_turn_is_put_on_its_axis():
    """Its centres lie about the x axis again."""
    weave = load_weave("box-chain")
    seed = read_seed(weave)
    aside = replace(seed, centre=seed.centre + np.array([0.0, 3.0, -2.0]))
    np.testing.assert_allclose(lay_as_seed(weave, aside).centre[:, 1:].mean(axis=0), 0, atol=1e-12)


def test_sheet_is_left_as_it_is():
    """Sheets lie in the x–y plane by their repeat vectors."""
    weave = load_weave("european-4-in-1")
    seed = read_seed(weave)
    assert lay_as_seed(weave, seed) is seed


@pytest.mark.parametrize("flat", [False, True], ids=["round", "flat"])
@pytest.mark.parametrize("case", range(8))
def test_the_roll_is_the_one_that_trying_all_finds(case, flat):
    """Centres and normals pull different ways; a normal may point either way."""
    draw = np.random.default_rng(case)
    centre, like_centre = draw.normal(size=(2, 5, 3)) * draw.choice([0.01, 0.3])
    normal, like_normal = draw.normal(size=(2, 5, 3))
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    like_normal /= np.linalg.norm(like_normal, axis=1, keepdims=True)
    if flat:
        like_centre[:, 2] = 0
    rolls = np.linspace(-np.pi, np.pi, 4_001)
    likeness = np.empty_like(rolls)
    scale = np.abs(like_centre[:, 1:]).max()
    for number, roll in enumerate(rolls):
        spin = turn_about_x(roll)[0]
        near = ((centre @ spin.T)[:, 1:] * like_centre[:, 1:]).sum() / scale**2
        likeness[number] = near + (((normal @ spin.T) * like_normal).sum(axis=1) ** 2).sum()
    found = find_roll(centre, normal, like_centre, like_normal)
    assert np.interp(found, rolls, likeness) == pytest.approx(likeness.max(), abs=1e-4)


@pytest.mark.parametrize("seed_words", [{}, {"free_turn": False}, {"free_turn": True}])
@pytest.mark.parametrize("turn_rad", [0.0, 0.4])
def test_a_seed_off_its_axis_with_normals_of_any_length_is_met(seed_words, turn_rad):
    """A chain without a turn is put on its axis unless its seed says otherwise."""
    draw = np.random.default_rng(5)
    centre = draw.normal(size=(4, 3)) + np.array([0.0, 2.0, -1.0])
    normal = draw.normal(size=(4, 3))
    unit = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    lengths = np.array([0.01, 1.0, 30.0, 2.0])
    rings = np.hstack([centre, unit * lengths[:, None]])
    weave = SimpleNamespace(
        form="chain", turn_rad=turn_rad, data={"seed": {"rings": rings.tolist(), **seed_words}}
    )
    spin = turn_about_x(0.7)[0]
    on_axis = not turn_rad and not seed_words.get("free_turn")
    shift = np.array([0.0, 5.0, 3.0]) if on_axis else np.zeros(3)
    placed = replace(
        read_seed(load_weave("box-chain")), centre=centre @ spin.T + shift, normal=unit @ spin.T
    )
    back = lay_as_seed(weave, placed)
    wanted = centre - [0, *centre[:, 1:].mean(axis=0)] if on_axis else centre
    np.testing.assert_allclose(back.centre, wanted, atol=1e-3)
    np.testing.assert_allclose(back.normal, unit, atol=1e-3)


@pytest.mark.parametrize("angle", [0.0, 0.123456, -2.5, 3.0])
def test_the_roll_is_found_to_a_millionth(angle):
    """Pictures of one chain at two rings must not differ by what the search left over."""
    draw = np.random.default_rng(9)
    centre, normal = draw.normal(size=(2, 5, 3))
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    spin = turn_about_x(angle)[0]
    assert find_roll(centre @ spin.T, normal @ spin.T, centre, normal) == pytest.approx(
        -angle, abs=1e-6
    )


def test_of_two_rolls_that_lie_alike_the_smaller_is_taken():
    """Rings about the axis lie the same after half a turn."""
    draw = np.random.default_rng(9)
    normal = draw.normal(size=(5, 3)) * np.array([0.0, 1.0, 1.0])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    centre = np.zeros((5, 3))
    assert find_roll(centre, normal, centre, normal) == pytest.approx(0.0, abs=1e-6)
