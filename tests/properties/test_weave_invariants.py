"""What the checks of folded weaves measure does not depend on where and how the piece lies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.shape.invariants import (
    holds,
    list_rules,
    measure_depth_between,
    measure_handedness,
    measure_invariants,
)
from chainplan.weave.shape.poses import read_seed, turn_about_x

CHECKED = [key for key in weave_keys() if list_rules(load_weave(key))]
keys = st.sampled_from(CHECKED)
angles = st.floats(-np.pi, np.pi)
shifts = st.floats(-20.0, 20.0)


@given(key=keys, angle=angles, shift=shifts)
def test_checks_do_not_change_when_the_chain_is_turned_and_moved_along(key, angle, shift):
    """A chain has no up: about its own axis, and along it, every pose is as good."""
    weave = load_weave(key)
    poses = read_seed(weave)
    spin = turn_about_x(angle)[0]
    moved = replace(
        poses,
        centre=poses.centre @ spin.T + np.array([shift, 0.0, 0.0]),
        normal=poses.normal @ spin.T,
    )
    before = [finding.value for finding in measure_invariants(weave, poses)]
    after = [finding.value for finding in measure_invariants(weave, moved)]
    # The circle of the passing ring is sampled: another basis, other points.
    np.testing.assert_allclose(after, before, atol=1e-3)
    assert holds(weave, moved)


@given(key=keys, signs=st.lists(st.sampled_from([-1.0, 1.0]), min_size=16, max_size=16))
def test_checks_do_not_change_when_rings_are_turned_over(key, signs):
    """A ring has no front: its normal may point either way."""
    weave = load_weave(key)
    poses = read_seed(weave)
    over = np.array(signs[: poses.count])[:, None]
    assert holds(weave, replace(poses, normal=poses.normal * over))


@given(factor=st.floats(0.2, 5.0))
def test_depth_between_scales_with_the_rings(factor):
    """The depth is a length."""
    poses = read_seed(load_weave("byzantine"))
    rule = list_rules(load_weave("byzantine"))[0]
    # Wire counts to the mean radius, so the aspect ratio is set for radii that scale exactly.
    scaled = replace(
        poses,
        centre=poses.centre * factor,
        vectors=poses.vectors * factor,
        aspect_ratio=(poses.aspect_ratio + 1) * factor - 1,
    )
    depth = measure_depth_between(poses, rule["ring"], rule["pair"])
    assert measure_depth_between(scaled, rule["ring"], rule["pair"]) == pytest.approx(
        factor * depth, rel=1e-6
    )


@given(angle=angles, start=st.integers(-3, 3))
def test_handedness_is_the_same_all_along_the_chain(angle, start):
    """Three rings in a row are linked alike wherever they are taken."""
    poses = read_seed(load_weave("jens-pind-3"))
    spin = turn_about_x(angle)[0]
    turned = replace(poses, centre=poses.centre @ spin.T, normal=poses.normal @ spin.T)
    walk = [[0, start], [0, start + 1], [0, start + 2]]
    assert measure_handedness(turned, walk) == measure_handedness(poses, [[0, 0], [0, 1], [0, 2]])
