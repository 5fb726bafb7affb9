"""Rings cut into runs of wire: nothing lost, right places, nearer wire drawn later."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan.report.wire.arcs import BACK, FRONT, Rings, View, extent_mm, tilted_view, wire_layers
from chainplan.report.wire.weave_picture import LEANING


def rings_of(*rows: tuple[float, ...], wire_mm: float = 1.0) -> Rings:
    """Build rings from rows of centre, normal and mean radius."""
    table = np.array(rows, dtype=float)
    normal = table[:, 3:6] / np.linalg.norm(table[:, 3:6], axis=1, keepdims=True)
    return Rings(
        centre_mm=table[:, :3],
        normal=normal,
        mean_radius_mm=table[:, 6],
        wire_mm=np.full(len(table), wire_mm),
    )


angles = st.floats(-3.0, 3.0)


@given(a=angles, b=angles, radius=st.floats(1.0, 8.0), view=st.sampled_from([FRONT, BACK, LEANING]))
def test_every_part_of_a_ring_is_drawn_at_its_place(
    a: float, b: float, radius: float, view: View
) -> None:
    """All points lie on the projected circle, and every direction of the circle is covered."""
    normal = (np.sin(a) * np.cos(b), np.sin(a) * np.sin(b), np.cos(a))
    ring = rings_of((1.0, 2.0, 3.0, *normal, radius))
    layers = wire_layers(ring, view, segments=24)
    points = np.concatenate([layer.points_mm for layer in layers])
    low, high = points.min(axis=0), points.max(axis=0)
    edges = extent_mm(ring, view)
    assert np.all(low >= np.array(edges[:2]) + 0.5 - 1e-9)
    assert np.all(high <= np.array(edges[2:]) - 0.5 + 1e-9)
    chord = radius * (1 - np.cos(np.pi / 24)) + 1e-9
    assert np.all(low <= np.array(edges[:2]) + 0.5 + chord)
    assert np.all(high >= np.array(edges[2:]) - 0.5 - chord)
    pieces = sum(np.count_nonzero(~layer.first) - 2 * layer.first.sum() for layer in layers)
    assert pieces == 24


def test_flat_ring_is_one_closed_run() -> None:
    """A ring of one depth is a single line that overlaps itself, so that no seam shows."""
    (layer,) = wire_layers(rings_of((0, 0, 0, 0, 0, 1, 2.0)), FRONT, segments=12)
    assert int(layer.first.sum()) == 1
    assert len(layer.points_mm) == 12 + 3


@given(lean=st.floats(0.2, 1.3), reach=st.floats(1.6, 2.4), view=st.sampled_from([FRONT, BACK]))
def test_nearer_wire_is_drawn_over_the_farther_one(lean: float, reach: float, view: View) -> None:
    """Where two linked rings cross as seen, the nearer one's piece comes in a later layer."""
    pair = rings_of(
        (0, 0, 0, 0, np.cos(lean), np.sin(lean), 2.0),
        (reach, 0, 0, 0, np.cos(lean), -np.sin(lean), 2.0),
        wire_mm=0.6,
    )
    layers = wire_layers(pair, view, segments=48)
    depth = [layer.depth_mm for layer in layers]
    assert depth == sorted(depth)
    rows = [
        (x, y, ring, place)
        for place, layer in enumerate(layers)
        for (x, y), ring in zip(layer.points_mm.tolist(), layer.ring.tolist(), strict=True)
    ]
    table = np.array(rows)
    exact = _circle(pair, 0, view), _circle(pair, 1, view)
    apart = np.hypot(*(exact[0][:, None, :2] - exact[1][None, :, :2]).transpose(2, 0, 1))
    for i, j in zip(*np.nonzero(apart < 0.02), strict=True):
        height = exact[0][i, 2], exact[1][j, 2]
        if abs(height[0] - height[1]) < 0.6:
            continue  # touching or overlapping wires have no over and under
        places = [
            table[table[:, 2] == ring][
                np.hypot(*(table[table[:, 2] == ring][:, :2] - exact[ring][k, :2]).T) < 0.3
            ][:, 3]
            for ring, k in ((0, i), (1, j))
        ]
        nearer = int(height[1] > height[0])
        assert places[nearer].max() > places[1 - nearer].min()


def _circle(rings: Rings, ring: int, view: View) -> np.ndarray:
    """The circle itself as seen, worked out another way: by turning about its normal."""
    normal = rings.normal[ring]
    start = np.cross(normal, [0.3, 0.5, 0.81])
    start *= rings.mean_radius_mm[ring] / np.linalg.norm(start)
    angle = np.linspace(0, 2 * np.pi, 700)[:, None]
    points = rings.centre_mm[ring] + start * np.cos(angle) + np.cross(normal, start) * np.sin(angle)
    return view.project(points)


@pytest.mark.parametrize("view", [FRONT, BACK, LEANING, tilted_view(30, 70)])
def test_views_are_right_handed_and_square(view: View) -> None:
    """Right, up and towards the eye are unit vectors at right angles; nothing is mirrored."""
    axes = np.array([view.right, view.up, view.toward])
    assert np.allclose(axes @ axes.T, np.eye(3))
    assert np.isclose(np.linalg.det(axes), 1.0)


def test_no_rings_give_no_layers() -> None:
    """An empty window is drawn as nothing."""
    empty = rings_of((0, 0, 0, 0, 0, 1, 2.0)).take(slice(0))
    assert wire_layers(empty, FRONT) == ()
