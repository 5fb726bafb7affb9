"""Which part of a ring is seen around a place on it, and not covered by nearer wire."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.piece.layout import ring_basis

if TYPE_CHECKING:
    from chainplan.arrays import AnyIntArray, BoolArray, FloatArray, IndexArray
    from chainplan.report.wire.arcs import Rings, View

SAMPLES_A_RING = 48
"""Places at which other rings are looked at: nearer to each other than a wire is wide at any aspect
ratio up to 14."""
SAMPLES_AN_ARC = 41
"""Places along an arc, its middle among them: as dense as the pictures' own segments."""
NEAREST = 48
"""Places of other rings that are looked at: of the up to eight wires around a place, six each."""
COVERED_SHARE = 0.8
"""Centre lines nearer than this share of the wires' mean width cover each other."""


class Cover:
    """The wire of many rings as seen from one side, to ask what covers what."""

    def __init__(self, rings: Rings, view: View) -> None:
        from scipy.spatial import cKDTree

        self.rings, self.view = rings, view
        angle = np.linspace(0, 2 * np.pi, SAMPLES_A_RING, endpoint=False)
        everyone = np.arange(rings.count)
        seen = _points(rings, view, everyone, np.tile(angle, (rings.count, 1))).reshape(-1, 3)
        self.depth_mm = seen[:, 2]
        self.ring: IndexArray = np.repeat(everyone, SAMPLES_A_RING)
        self.tree = cKDTree(seen[:, :2])

    def arcs(
        self, ring: AnyIntArray, angle_rad: FloatArray, reach_rad: float
    ) -> tuple[FloatArray, BoolArray]:
        """Find the part of a ring around a place, or the nearest to it, that is seen unbroken.

        Parameters
        ----------
        ring : array, shape (k,)
            Ring indices.
        angle_rad : array, shape (k,)
            Place on each ring, as in :class:`chainplan.model.piece.joins.Joins`.
        reach_rad : float
            How far the arc goes to either side at most.

        Returns
        -------
        points_mm : array, shape (k, m, 2)
            The whole arcs as seen: right and up.
        seen : array, shape (k, m)
            Which of their points lie on that part; none of an arc that is covered altogether.
        """
        angle = angle_rad[:, None] + np.linspace(-reach_rad, reach_rad, SAMPLES_AN_ARC)
        points = _points(self.rings, self.view, ring, angle)
        wire = self.rings.wire_mm
        near = min(NEAREST, self.ring.size)
        apart, found = self.tree.query(
            points[..., :2].reshape(-1, 2), k=near, distance_upper_bound=float(wire.max())
        )
        apart, found = (
            part.reshape(*points.shape[:2], near) for part in (apart, found % self.ring.size)
        )
        other = self.ring[found]
        own = wire[ring][:, None, None]
        covered = (
            (other != ring[:, None, None])
            & (apart < COVERED_SHARE * (own + wire[other]) / 2)
            & (self.depth_mm[found] > points[..., 2, None] + own / 2)
        ).any(axis=2)
        off = np.abs(np.arange(SAMPLES_AN_ARC) - SAMPLES_AN_ARC // 2)
        start = np.where(covered, SAMPLES_AN_ARC, off).argmin(axis=1)
        run = np.cumsum(np.diff(covered, axis=1, prepend=covered[:, :1]) != 0, axis=1)
        seen = ~covered & (run == np.take_along_axis(run, start[:, None], axis=1))
        return points[..., :2], seen


def _points(rings: Rings, view: View, ring: AnyIntArray, angle_rad: FloatArray) -> FloatArray:
    """Right, up and depth of places on rings, shape (k, m, 3), for angles of shape (k, m)."""
    u, v = ring_basis(rings.normal[ring])
    cos, sin = np.cos(angle_rad)[..., None], np.sin(angle_rad)[..., None]
    spoke = cos * u[:, None] + sin * v[:, None]
    place = rings.centre_mm[ring][:, None] + rings.mean_radius_mm[ring][:, None, None] * spoke
    return view.project(place)
