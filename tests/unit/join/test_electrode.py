"""The electrode as a solid: distances at points where they are known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.join.reaching.directions import (
    BACK,
    FACE_OF_SIDE,
    FRONT,
    LOWER,
    UPPER,
    classify_sides,
    dip_mm,
    list_directions,
)
from chainplan.join.reaching.electrode import Electrode, shape_electrode
from chainplan.model.bench.groups import ElectrodeSettings

NEEDLE = Electrode(
    half_angle_rad=math.radians(30), shank_radius_mm=1.0, stick_out_mm=6.0, holder_radius_mm=3.0
)


def distance(height_mm, across_mm):
    found = NEEDLE.distance_mm(np.array([height_mm]), np.array([across_mm]))
    return float(found[0])


@pytest.mark.parametrize(
    ("height_mm", "across_mm", "expected_mm"),
    [
        (-2.0, 0.0, 2.0),  # below the tip
        (-3.0, 4.0, 5.0),  # below it, nearest to the tip itself
        (0.0, 1.0, math.cos(math.radians(30))),  # beside the tip: foot on the cone's side
        (4.0, 1.5, 0.5),  # beside the shank
        (5.0, 3.0, 1.0),  # under the holder's face
        (3.0, 7.0, 5.0),  # off the holder's lower edge: 3 below, 4 beside
        (40.0, 7.0, 4.0),  # beside the holder, however far up
        # off the corner of cone and shank, 15° below level
        (math.sqrt(3) - math.sin(math.pi / 12), 1 + math.cos(math.pi / 12), 1.0),
    ],
)
def test_distance_is_exact_beside_every_part(height_mm, across_mm, expected_mm):
    """Plane geometry, worked by hand for a cone of 30°, shank 1, stick-out 6 and holder 3."""
    assert distance(height_mm, across_mm) == pytest.approx(expected_mm, abs=1e-12)


def test_distance_is_negative_inside_every_part():
    """A point on the axis of cone, shank or holder lies inside the solid."""
    for height in (0.5, 3.0, 30.0):
        assert distance(height, 0.0) < 0


def test_distance_is_zero_on_the_outline():
    """Points on the profile lie on the surface."""
    height = np.array([0.2, 1.0, 2.5, 5.5, 9.0])
    found = NEEDLE.distance_mm(height, NEEDLE.profile_mm(height))
    assert np.abs(found).max() < 1e-12


def test_quick_hit_test_never_names_a_point_that_is_clear():
    """It may be lenient, but a try that it drops must really be too near."""
    rng = np.random.default_rng(1)
    height, across = rng.uniform(-2, 10, 20_000), rng.uniform(0, 6, 20_000)
    for within in (0.3, 0.6, 1.4):
        hit = NEEDLE.surely_hits(height.astype(np.float32), (across**2).astype(np.float32), within)
        true = NEEDLE.distance_mm(height, across)
        assert (true[hit] < within).all()
        beside_needle = (height > 0) & (height < 6.0 - within)
        assert not (beside_needle & (true < within - 0.06) & ~hit).any()


def test_tip_is_ground_as_asked():
    """A blunt tip has the wider cone and so the shorter one; the shank is the same."""
    settings = ElectrodeSettings()
    sharp, blunt = shape_electrode(settings, "sharp"), shape_electrode(settings, "blunt")
    assert sharp.cone_mm > blunt.cone_mm
    assert sharp.shank_radius_mm == blunt.shank_radius_mm == settings.shank_mm / 2


def test_unknown_tip_is_refused_with_a_hint():
    """A slip of the pen is told from a choice."""
    with pytest.raises(InputError, match="did you mean 'sharp'"):
        shape_electrode(ElectrodeSettings(), "sharpp")


def test_directions_are_unit_vectors_and_turn_into_themselves():
    """A quarter and a third of a turn about x must find the same directions again."""
    found = list_directions()
    assert np.allclose(np.linalg.norm(found, axis=1), 1)
    assert len({tuple(np.round(row, 9)) for row in found.tolist()}) == len(found)
    for turn in (math.pi / 2, 2 * math.pi / 3):
        turned = found.copy()
        turned[:, 1] = found[:, 1] * math.cos(turn) - found[:, 2] * math.sin(turn)
        turned[:, 2] = found[:, 1] * math.sin(turn) + found[:, 2] * math.cos(turn)
        nearest = np.linalg.norm(turned[:, None] - found[None], axis=2).min(axis=1)
        assert nearest.max() < 1e-9


def test_leaning_holder_dips_below_its_tip():
    """Upright nothing is below the tip; at 90° the holder is, by its radius."""
    dip = dip_mm(NEEDLE, np.array([1.0, 0.0]))
    assert dip[0] == pytest.approx(0.0, abs=1e-12)
    assert dip[1] == pytest.approx(-3.0, abs=1e-12)


def test_approach_that_would_meet_the_block_is_not_the_front():
    """Over a block a low approach is only possible where the join stands high above it."""
    upright = np.array([1.0, math.cos(math.radians(70)), -1.0, 0.0, 0.0])
    sideways = np.array([0.0, 0.9, 0.0, 1.0, -1.0])
    low = classify_sides(
        NEEDLE,
        upright,
        sideways,
        np.full(5, 0.5),
        lowest_mm=0.0,
        highest_mm=2.0,
        held_in_air=True,
    )
    high = classify_sides(
        NEEDLE,
        upright,
        sideways,
        np.full(5, 9.0),
        lowest_mm=0.0,
        highest_mm=10.0,
        held_in_air=False,
    )
    assert low.tolist() == [FRONT, UPPER, BACK, UPPER, LOWER]
    assert high.tolist() == [FRONT, FRONT, BACK, -1, -1]
    assert FACE_OF_SIDE[low].tolist() == [0, 2, 1, 2, 2]
    assert FACE_OF_SIDE[high].tolist() == [0, 0, 1, -1, -1]
