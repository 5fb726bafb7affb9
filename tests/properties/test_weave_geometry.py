"""What must hold for every weave: rigid motion, mirror and scale change nothing but the hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.model.piece.weave import RingClass, Weave
from chainplan.weave.laying.section import count_repeats
from chainplan.weave.shape.circles import CentreLines, closest_approach, linking_number
from chainplan.weave.shape.poses import turn_about_x
from chainplan.weave.solving.solver import solve_repeat

angles = st.floats(0.0, 2 * np.pi)
coordinates = st.floats(-1.5, 1.5)
vectors = st.tuples(coordinates, coordinates, coordinates)
radii = st.floats(0.3, 2.0)
circles = st.tuples(vectors, st.tuples(angles, st.floats(-1.0, 1.0)), radii)


def as_circles(circle):
    """A drawn circle, in one row."""
    centre, (turn, height), radius = circle
    level = np.sqrt(1 - height**2)
    normal = np.array([[level * np.cos(turn), level * np.sin(turn), height]])
    return CentreLines(np.array([centre]), normal, np.array([radius]))


def rotation(seed):
    """A rotation drawn evenly, from a seed."""
    matrix, _ = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    return matrix * np.sign(np.linalg.det(matrix))


@given(one=circles, other=circles, seed=st.integers(0, 10**6), shift=vectors)
def test_rigid_motion_keeps_distance_and_linking(one, other, seed, shift):
    """Geometry does not know where it is."""
    both = [as_circles(one), as_circles(other)]
    matrix, offset = rotation(seed), np.array([shift])
    distance = closest_approach(*both)[0]
    moved = [CentreLines(c @ matrix.T + offset, n @ matrix.T, r) for c, n, r in both]
    # The square is what is minimised, so near nothing the distance itself is less exact.
    assert closest_approach(*moved)[0] ** 2 == pytest.approx(distance**2, rel=1e-9, abs=1e-13)
    if distance[0] > 1e-6:
        assert linking_number(*moved)[0] == linking_number(*both)[0]


@given(one=circles, other=circles)
def test_a_mirror_keeps_distance_and_turns_the_sign_of_linking(one, other):
    """Reflected in z = 0, with each circle still counted right-handed about its normal."""
    both = [as_circles(one), as_circles(other)]
    mirror = np.array([1.0, 1.0, -1.0])
    distance = closest_approach(*both)[0]
    mirrored = [CentreLines(c * mirror, -n * mirror, r) for c, n, r in both]
    assert closest_approach(*mirrored)[0] ** 2 == pytest.approx(distance**2, rel=1e-9, abs=1e-13)
    if distance[0] > 1e-6:
        assert linking_number(*mirrored)[0] == -linking_number(*both)[0]


@given(one=circles, other=circles, factor=st.floats(0.1, 20.0))
def test_scaling_scales_the_distance(one, other, factor):
    """Twice the size, twice the distance."""
    both = [as_circles(one), as_circles(other)]
    distance = closest_approach(*both)[0]
    scaled = [CentreLines(c * factor, n, r * factor) for c, n, r in both]
    square = (distance * factor) ** 2
    assert closest_approach(*scaled)[0] ** 2 == pytest.approx(square, rel=1e-9, abs=1e-12)


RING = np.array([[0.0, -0.1205, -0.15753]]), np.array([[0.2392, 0.7712, -0.58994]])
TURN_RAD = np.radians(120.2682)


def a_spiral(centre, normal, turn_rad):
    """A three-link spiral from one ring's pose."""
    ring = [*centre[0].tolist(), *normal[0].tolist()]
    return Weave(
        key="invented-spiral", title="Invented spiral", trade_names=(), family="test",
        form="chain", classes=(RingClass(name="ring"),), ring_class=(0,),
        links=np.array([[0, 0, 1, 0], [0, 0, 2, 0]], dtype=np.int32), turn_rad=turn_rad,
        data={"seed": {"aspect_ratio": 6.0, "rings": [ring], "vectors": [[2.47981, 0, 0]]}},
    )  # fmt: skip


@settings(max_examples=3)
@given(roll=angles, ratio=st.floats(3.0, 4.5))
def test_a_weave_rolled_about_its_axis_solves_to_the_same_pitch(roll, ratio):
    """The axis has no up."""
    matrix = turn_about_x(roll)[0]
    plain = solve_repeat(a_spiral(*RING, TURN_RAD), ratio)
    rolled = solve_repeat(a_spiral(RING[0] @ matrix.T, RING[1] @ matrix.T, TURN_RAD), ratio)
    assert rolled.vectors[0, 0] == pytest.approx(plain.vectors[0, 0], rel=2e-4)


@settings(max_examples=3)
@given(ratio=st.floats(3.0, 4.5))
def test_the_mirror_image_of_a_weave_solves_to_the_same_pitch(ratio):
    """Left-handed and right-handed spirals count the same."""
    mirror = np.array([1.0, 1.0, -1.0])
    plain = solve_repeat(a_spiral(*RING, TURN_RAD), ratio)
    mirrored = solve_repeat(a_spiral(RING[0] * mirror, RING[1] * mirror, -TURN_RAD), ratio)
    assert mirrored.vectors[0, 0] == pytest.approx(plain.vectors[0, 0], rel=2e-4)
    assert np.array_equal(mirrored.links, plain.links)


@given(
    length=st.floats(1.0, 2000.0),
    pitch=st.floats(0.5, 30.0),
    ends=st.floats(0.0, 10.0),
    rounding=st.sampled_from(["nearest", "at least", "at most"]),
)
def test_whole_repeats_keep_the_rounding_rule(length, pitch, ends, rounding):
    """At least is not shorter, at most not longer, nearest not beaten by a neighbour."""
    count = count_repeats(length, pitch, ends, rounding)
    real = count * pitch + ends
    slack = 1e-6 * (1 + length)
    assert count >= 1
    if rounding == "at least":
        assert real >= length - slack
        assert count == 1 or real - pitch < length + slack
    elif rounding == "at most":
        assert count == 1 or real <= length + slack
        assert real + pitch > length - slack
    else:
        assert count == 1 or abs(real - length) <= pitch / 2 + slack
