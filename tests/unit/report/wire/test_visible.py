"""What is seen of a ring: nothing behind nearer wire, all of a ring that lies on top."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.report.wire.arcs import BACK, FRONT, Rings, View
from chainplan.report.wire.visible import Cover


def rings_at(*centres: tuple[float, float, float]) -> Rings:
    """Rings that lie flat, of 4 mm mean diameter and 0.5 mm wire."""
    n = len(centres)
    return Rings(
        centre_mm=np.array(centres, dtype=float), normal=np.tile([0.0, 0.0, 1.0], (n, 1)),
        mean_radius_mm=np.full(n, 2.0), wire_mm=np.full(n, 0.5),
    )  # fmt: skip


def test_a_ring_alone_is_seen_all_round() -> None:
    """And its points lie on its circle."""
    points, seen = Cover(rings_at((1, 2, 3)), FRONT).arcs(np.array([0]), np.array([0.7]), 3.0)
    assert seen.all()
    assert np.hypot(*(points[0] - (1, 2)).T) == pytest.approx(np.full(points.shape[1], 2.0))


@pytest.mark.parametrize(("view", "hidden"), [(FRONT, 0), (BACK, 1)])
def test_of_two_rings_on_one_another_the_farther_is_hidden(view: View, hidden: int) -> None:
    """Seen from behind it is the other one."""
    cover = Cover(rings_at((0, 0, 0), (0, 0, 0.6)), view)
    _, seen = cover.arcs(np.array([0, 1]), np.zeros(2), 2.0)
    assert not seen[hidden].any()
    assert seen[1 - hidden].all()


def test_an_arc_ends_where_another_wire_covers_it() -> None:
    """What is seen beyond the cover is not shown as if it belonged to the place."""
    cover = Cover(rings_at((0, 0, 0), (3.0, 0, 0.6)), FRONT)
    points, seen = cover.arcs(np.array([0]), np.array([np.pi]), np.pi)
    shown = points[0][seen[0]]
    crossing = 1.5  # of the two circles, along the line of their centres
    assert shown[:, 0].max() < crossing
    assert shown[:, 0].min() == pytest.approx(-2.0, abs=0.05)
    beyond = points[0][~seen[0]]
    assert (beyond[:, 0] > crossing).any()  # seen through the nearer ring, but cut off


def test_a_covered_place_shows_the_nearest_part_that_is_seen() -> None:
    """A join behind a wire is told by its ring beside that wire."""
    cover = Cover(rings_at((0, 0, 0), (3.0, 0, 0.6)), FRONT)
    angle = np.arccos(0.75)  # where the nearer ring crosses
    points, seen = cover.arcs(np.array([0]), np.array([angle]), 1.5)
    middle = points.shape[1] // 2
    assert not seen[0, middle]
    assert seen[0].any()
    gap = np.abs(np.flatnonzero(seen[0]) - middle).min()
    assert gap * 3.0 / (points.shape[1] - 1) < 0.5
