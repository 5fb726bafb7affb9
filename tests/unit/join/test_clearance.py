"""Gaps between electrode and wires where they are known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from chainplan.join.reaching.clearance import (
    ACCURACY_MM,
    Pairs,
    find_gaps_mm,
    make_circles,
    point_gaps_mm,
    point_wire_gaps_mm,
)
from chainplan.join.reaching.electrode import Electrode

NEEDLE = Electrode(
    half_angle_rad=math.radians(12), shank_radius_mm=0.5, stick_out_mm=6.0, holder_radius_mm=3.0
)
UP = np.array([[0.0, 0.0, 1.0]])


def ring(centre, normal, radius_mm=2.0, wire_mm=0.8):
    return make_circles(
        np.array([centre], dtype=float),
        np.array([normal], dtype=float),
        np.array([radius_mm]),
        np.array([wire_mm]),
    )


def gap(circles):
    return float(find_gaps_mm(NEEDLE, Pairs(np.zeros((1, 3)), UP, circles))[0])


def test_gap_is_exact_for_a_ring_round_the_shank():
    """Every point of a ring round the shank is equally far: R − shank − wire radius."""
    assert gap(ring((0, 0, 4), (0, 0, 1))) == pytest.approx(2.0 - 0.5 - 0.4, abs=1e-9)


def test_gap_is_exact_for_a_ring_beside_the_shank():
    """A ring that stands beside the shank with its nearest point at (2, 0, 4)."""
    assert gap(ring((4, 0, 4), (0, 0, 1))) == pytest.approx(2.0 - 0.5 - 0.4, abs=ACCURACY_MM)


def test_gap_is_negative_when_the_wire_runs_through_the_needle():
    """A ring whose circle crosses the axis."""
    assert gap(ring((2, 0, 4), (0, 0, 1))) < 0


def test_nearest_wire_point_is_found_in_closed_form():
    """Beside, above and on the axis of a flat ring of mean radius 2 and wire 0.8."""
    circles = ring((0, 0, 0), (0, 0, 1))
    points = np.array([[5.0, 0.0, 0.0], [2.0, 0.0, 3.0], [0.0, 0.0, 0.0]])
    gaps, nearest = point_gaps_mm(points, circles)
    assert gaps[:, 0] == pytest.approx([2.6, 2.6, 1.6])
    assert nearest[0, 0] == pytest.approx([2, 0, 0])
    assert point_wire_gaps_mm(points, circles) == pytest.approx(gaps.min(axis=1), abs=1e-9)


def test_gap_without_any_other_wire_is_infinite():
    """Nothing is infinitely far."""
    empty = ring((0, 0, 0), (0, 0, 1)).take(np.zeros(0, dtype=int))
    assert np.isinf(point_wire_gaps_mm(np.zeros((2, 3)), empty)).all()
