"""Reach against brute force: the electrode as a cloud of points, on random small scenes."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from chainplan.join.reaching.clearance import ACCURACY_MM, Pairs, find_gaps_mm, make_circles
from chainplan.join.reaching.electrode import Electrode, shape_electrode
from chainplan.join.reaching.reach import ReachRules, find_reach, list_own_tries
from chainplan.join.reaching.surroundings import Surroundings
from chainplan.model.bench.groups import ElectrodeSettings

STEP_MM = 0.04
"""How far apart the points of the cloud are at most, along the electrode and around it."""
ELECTRODES = st.builds(
    Electrode,
    half_angle_rad=st.floats(math.radians(6), math.radians(50)),
    shank_radius_mm=st.floats(0.2, 1.0),
    stick_out_mm=st.floats(3.0, 6.0),
    holder_radius_mm=st.floats(1.2, 2.5),
)
UNIT = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: sum(x * x for x in v) > 0.05)
RINGS = st.tuples(
    st.tuples(st.floats(-4, 4), st.floats(-4, 4), st.floats(-2, 8)),
    UNIT,
    st.floats(0.8, 3.0),
    st.floats(0.4, 1.2),
)


def unit(vector):
    vector = np.asarray(vector, dtype=float)
    return vector / np.linalg.norm(vector)


def cloud(electrode, tip, axis, *, length_mm=14.0):
    """Points on the skin of the electrode, the holder's face included."""
    axis = unit(axis)
    side = unit(np.cross(axis, [1.0, 0, 0] if abs(axis[0]) < 0.8 else [0, 1.0, 0]))
    third = np.cross(axis, side)
    cone = electrode.shank_radius_mm / math.tan(electrode.half_angle_rad)
    needle = np.arange(0, electrode.stick_out_mm, STEP_MM / 2)
    nose = np.arange(electrode.stick_out_mm, length_mm, STEP_MM)
    face = np.arange(0, electrode.holder_radius_mm, STEP_MM)
    heights = [needle, nose, np.full(face.size, electrode.stick_out_mm)]
    radii = [
        np.minimum(needle / cone, 1.0) * electrode.shank_radius_mm,
        np.full(nose.size, electrode.holder_radius_mm),
        face,
    ]
    rings = np.column_stack([np.concatenate(heights), np.concatenate(radii)])
    points = []
    for height, radius in rings.tolist():
        count = max(int(2 * math.pi * radius / STEP_MM), 1)
        turn = np.arange(count) * (2 * math.pi / count)
        points.append(
            tip
            + height * axis
            + radius * (np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * third)
        )
    return np.concatenate(points)


def brute_gap_mm(electrode, tip, axis, centre, normal, radius_mm, wire_mm):
    """Smallest distance of the cloud's points from the ring's wire; never below the truth."""
    offset = cloud(electrode, tip, axis) - centre
    height = offset @ normal
    across = np.sqrt(np.maximum(np.einsum("ij,ij->i", offset, offset) - height**2, 0))
    return float(np.hypot(height, across - radius_mm).min()) - wire_mm / 2


def make_rings(rows):
    centre = np.array([row[0] for row in rows], dtype=float)
    normal = np.array([unit(row[1]) for row in rows])
    radius, wire = np.array([row[2] for row in rows]), np.array([row[3] for row in rows])
    return make_circles(centre, normal, radius, wire)


@given(electrode=ELECTRODES, axis=UNIT, ring=RINGS)
def test_gap_agrees_with_a_cloud_of_points(electrode, axis, ring):
    """Where electrode and wire are apart, the cloud finds the same gap within its own step."""
    circles = make_rings([ring])
    axis = unit(axis)
    pairs = Pairs(np.zeros((1, 3)), axis[None], circles)
    found = float(find_gaps_mm(electrode, pairs)[0])
    brute = brute_gap_mm(
        electrode, np.zeros(3), axis, np.array(ring[0]), unit(ring[1]), ring[2], ring[3]
    )
    if found + ring[3] / 2 > 0.01:  # the circle itself lies outside the electrode
        assert found <= brute + ACCURACY_MM
        assert brute <= found + 1.5 * STEP_MM
    else:
        assert brute < 1.5 * STEP_MM or found < 0


@given(electrode=ELECTRODES, axis=UNIT, ring=RINGS)
def test_refined_gap_is_never_missed_by_more_than_the_stated_accuracy(electrode, axis, ring):
    """A circle sampled every 0.1° cannot lie nearer than the refined gap says, but by that much."""
    circles = make_rings([ring])
    axis = unit(axis)
    found = float(find_gaps_mm(electrode, Pairs(np.zeros((1, 3)), axis[None], circles))[0])
    points = circles.points_mm(3600)[0]
    height = points @ axis
    across = np.sqrt(np.maximum(np.einsum("ij,ij->i", points, points) - height**2, 0))
    dense = float(electrode.distance_mm(height, across).min()) - ring[3] / 2
    if dense + ring[3] / 2 > 0:
        assert found <= dense + ACCURACY_MM
        assert found >= dense - ring[2] * math.pi / 3600


SMALL_RINGS = st.lists(
    st.tuples(
        st.tuples(st.floats(-5, 5), st.floats(-5, 5), st.floats(-3, 3)),
        UNIT,
        st.floats(1.0, 2.6),
        st.floats(0.6, 1.0),
    ),
    min_size=1,
    max_size=5,
)


@settings(max_examples=30)
@given(rings=SMALL_RINGS, normal=UNIT, tip=st.sampled_from(["sharp", "blunt"]))
def test_tries_found_are_those_that_brute_force_finds(rings, normal, tip):
    """Every try that is kept is clear by the cloud of points; every one dropped is not."""
    electrode = shape_electrode(ElectrodeSettings(), tip)
    rules = ReachRules(spot_mm=0.0, margin_mm=0.0, clearance_mm=0.1)
    own = make_circles(np.zeros((1, 3)), unit(normal)[None], np.array([2.0]), np.array([0.8]))
    others = make_rings(rings)
    own_tries = list_own_tries(own, electrode, clearance_mm=0.1)
    scene = Surroundings(own, others)
    found = find_reach(scene, own_tries, electrode, rules)
    kept = set(zip(found.tries.angle.tolist(), found.tries.direction.tolist(), strict=True))
    rng = np.random.default_rng(0)
    for row in rng.choice(own_tries.count, 6, replace=False).tolist():
        name = int(own_tries.angle[row]), int(own_tries.direction[row])
        gaps = [
            brute_gap_mm(
                electrode,
                own_tries.tip_mm[row],
                own_tries.axis[row],
                np.array(ring[0]),
                unit(ring[1]),
                ring[2],
                ring[3],
            )
            for ring in rings
        ]
        buried = _any_wire_inside(electrode, own_tries.tip_mm[row], own_tries.axis[row], rings)
        if buried or min(gaps) < 0.1 - ACCURACY_MM:
            assert name not in kept
        elif min(gaps) > 0.1 + 1.5 * STEP_MM:
            assert name in kept


def _any_wire_inside(electrode, tip, axis, rings):
    """Whether a wire's centre line runs inside the solid, where the skin's points do not tell."""
    for ring in rings:
        points = make_rings([ring]).points_mm(720)[0] - tip
        height = points @ axis
        across = np.sqrt(np.maximum(np.einsum("ij,ij->i", points, points) - height**2, 0))
        if (across < electrode.profile_mm(height) - 0.02)[height > 0].any():
            return True
    return False


@example(
    radius_mm=3.5,
    wire_mm=0.5,
    normal=(0.5, 0.53125, -1.0),
    electrode=Electrode(
        half_angle_rad=0.55859375,
        shank_radius_mm=0.8125,
        stick_out_mm=4.0,
        holder_radius_mm=2.0,
    ),
)  # a second low hides between the tip's own and the next sample
@given(
    radius_mm=st.floats(1.0, 4.0), wire_mm=st.floats(0.4, 1.4), normal=UNIT, electrode=ELECTRODES
)
def test_own_wire_is_never_in_the_way_of_a_try(radius_mm, wire_mm, normal, electrode):
    """The electrode touches its own ring at the tip and nowhere else."""
    own = make_circles(
        np.zeros((1, 3)), unit(normal)[None], np.array([radius_mm]), np.array([wire_mm])
    )
    tries = list_own_tries(own, electrode, clearance_mm=0.0)
    assert tries.count > 0
    rng = np.random.default_rng(0)
    some = tries.take(rng.choice(tries.count, min(tries.count, 40), replace=False))
    points = own.points_mm(360)[0]
    offset = points[None] - some.tip_mm[:, None]
    height = np.einsum("npi,ni->np", offset, some.axis)
    across = np.sqrt(np.maximum(np.einsum("npi,npi->np", offset, offset) - height**2, 0))
    assert electrode.distance_mm(height, across).min() >= wire_mm / 2 - 0.01
