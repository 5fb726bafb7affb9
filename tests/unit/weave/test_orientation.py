"""A solved chain lies the way its seed does, however the search rolled it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.orientation import find_roll, lay_as_seed
from chainplan.weave.poses import find_links, read_seed, smallest_gap, turn_about_x

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
