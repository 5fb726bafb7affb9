"""The named checks measure what they say, and tell folded weaves from plain ones."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.shape.invariants import (
    holds,
    measure_depth_between,
    measure_handedness,
    measure_invariants,
    place_image,
)
from chainplan.weave.shape.poses import read_seed


def test_a_ring_of_another_repeat_stands_where_the_vectors_say():
    """Along and across a sheet, in the same lie; a chain's is turned about its axis too."""
    sheet = read_seed(load_weave("european-4-in-1"))
    centre, normal, radius = place_image(sheet, [1, 2, -3])
    wanted = sheet.centre[1] + 2 * sheet.vectors[0] - 3 * sheet.vectors[1]
    np.testing.assert_allclose(centre, wanted)
    np.testing.assert_allclose(normal, sheet.normal[1])
    assert radius == sheet.mean_radius[1]
    chain = read_seed(load_weave("double-link"))
    centre, normal, _ = place_image(chain, [1, 1])
    x, y, z = chain.centre[1]
    np.testing.assert_allclose(centre, [x + chain.vectors[0, 0], -z, y], atol=1e-12)
    a, b, c = chain.normal[1]
    np.testing.assert_allclose(normal, [a, -c, b], atol=1e-12)


@dataclass
class Rings:
    """A few rings in space, without any weave."""

    centre: np.ndarray
    normal: np.ndarray
    mean_radius: np.ndarray
    vectors: np.ndarray
    turn_rad: float = 0.0


def three_parallel_rings(height: float, aside: float) -> Rings:
    """Two rings of radius 3 at z = ±2, and one of radius 1 at a height, moved aside."""
    return Rings(
        centre=np.array([[0, 0, 2.0], [0, 0, -2.0], [aside, 0, height]]),
        normal=np.array([[0, 0, 1.0], [0, 0, -1.0], [0, 0, 1.0]]),
        mean_radius=np.array([3.0, 3.0, 1.0]),
        vectors=np.array([[20.0, 0, 0]]),
    )


@pytest.mark.parametrize(
    ("height", "aside", "depth"),
    [
        (0.0, 0.0, 2.0),  # in the middle: both planes 2 away, the circles' edges 2 away
        (1.5, 0.0, 0.5),  # half a wire under the upper ring's plane
        (2.5, 0.0, -0.5),  # above it
        (0.0, 3.5, 0.5),  # its nearest point is 2.5 from the axis: 0.5 inside
        (0.0, 5.0, -1.0),  # its nearest point is 1 outside
    ],
)
def test_depth_between_is_the_smallest_margin(height, aside, depth):
    """Parallel rings about one axis: the four margins can be told by hand."""
    rings = three_parallel_rings(height, aside)
    got = measure_depth_between(rings, [2, 0], [[0, 0], [1, 0]])
    assert got == pytest.approx(depth, abs=1e-12)


def test_depth_between_does_not_care_which_way_the_normals_point():
    """A ring has no front: turning a normal about changes nothing."""
    rings = three_parallel_rings(0.5, 1.0)
    turned = replace(rings, normal=rings.normal * np.array([[-1], [1], [-1]]))
    pair = [[0, 0], [1, 0]]
    assert measure_depth_between(rings, [2, 0], pair) == pytest.approx(
        measure_depth_between(turned, [2, 0], pair)
    )


def test_handedness_is_the_sign_of_three_rings_and_turns_over_in_a_mirror():
    """The mirror image of a Jens Pind chain is the other hand of it."""
    weave = load_weave("jens-pind-3")
    poses = read_seed(weave)
    walk = [[0, 0], [0, 1], [0, 2]]
    sign = measure_handedness(poses, walk)
    mirror = np.array([1.0, 1.0, -1.0])
    mirrored = replace(
        poses,
        centre=poses.centre * mirror,
        normal=poses.normal * mirror,
        turn_rad=-poses.turn_rad,
    )
    assert abs(sign) == 1
    assert measure_handedness(mirrored, walk) == -sign
    assert not holds(weave, mirrored)


def test_turn_of_a_spiral_is_not_the_turn_of_jens_pind():
    """The two have the same links; the turn per ring tells them apart."""
    weave = load_weave("jens-pind-3")
    wound = replace(read_seed(weave), turn_rad=np.radians(150.0))
    findings = {finding.check: finding for finding in measure_invariants(weave, wound)}
    assert not findings["turn"].holds
    assert findings["turn"].value == pytest.approx(150.0)
    assert "does NOT hold" in str(findings["turn"])


@pytest.mark.parametrize("key", weave_keys())
def test_seed_passes_the_checks_of_its_own_file(key):
    """A seed that fails its own check would make every solution fail."""
    weave = load_weave(key)
    assert holds(weave, read_seed(weave))


def test_folded_weaves_ask_for_a_check():
    """Weaves that share a link graph with another one must be told from it by more than links."""
    for key in ("byzantine", "box-chain", "roundmaille", "jens-pind-3", "half-persian-3-in-1"):
        assert measure_invariants(load_weave(key), read_seed(load_weave(key)))


@pytest.mark.parametrize(("folded", "repeats"), [("byzantine", 3), ("box-chain", 2)])
def test_a_double_link_of_the_same_links_does_not_pass_for_a_folded_weave(folded, repeats):
    """The trap: 2-in-2 has every link of Byzantine and box chain, and must still be refused."""
    plain = read_seed(load_weave("double-link"))
    steps = np.arange(repeats)
    centre = np.concatenate([plain.centre + step * plain.vectors[0] for step in steps])
    normals = []
    for step in steps:
        cos, sin = np.cos(step * plain.turn_rad), np.sin(step * plain.turn_rad)
        normals.append(plain.normal @ np.array([[1, 0, 0], [0, cos, sin], [0, -sin, cos]]))
    unfolded = Rings(
        centre=centre,
        normal=np.concatenate(normals),
        mean_radius=np.tile(plain.mean_radius, repeats),
        vectors=repeats * plain.vectors,
        turn_rad=repeats * plain.turn_rad,
    )
    weave = load_weave(folded)
    findings = measure_invariants(weave, unfolded)
    assert not holds(weave, unfolded)
    assert all(finding.value < 0 for finding in findings)
