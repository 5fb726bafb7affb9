"""The gap between the electrode and the wire of rings: sampled circles, refined to a set accuracy.

A ring is a circle of its mean radius thickened by its wire, so its gap to the electrode is the
distance of the circle from the electrode less half the wire. That distance changes by at most the
arc that one walks, which bounds what lies between two samples; every stretch of arc that could hold
the smallest gap is cut up until its steps are so short that what they miss is below
``ACCURACY_MM``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.join.tuning import tuning
from chainplan.model.piece.layout import ring_basis

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.join.reaching.electrode import Electrode


ACCURACY_MM = 0.001
"""To what a refined gap is right. Near a low the distance is a parabola or flatter."""


@dataclass(frozen=True, slots=True)
class Circles:
    """Centre lines of rings and their wire; arrays with a row a ring."""

    centre_mm: FloatArray  # (J, 3)
    u: FloatArray  # (J, 3)
    v: FloatArray  # (J, 3)
    radius_mm: FloatArray  # (J,) mean radius
    wire_radius_mm: FloatArray  # (J,)

    @property
    def count(self) -> int:
        """Number of circles."""
        return int(self.radius_mm.shape[0])

    @property
    def normal(self) -> FloatArray:
        """Unit normals, shape (J, 3)."""
        return np.cross(self.u, self.v)

    def points_mm(self, samples: int) -> FloatArray:
        """Points spread evenly over every circle, shape (J, samples, 3), in mm."""
        angle = np.arange(samples) * (2 * np.pi / samples)
        cos, sin = np.cos(angle)[None, :, None], np.sin(angle)[None, :, None]
        reach = self.radius_mm[:, None, None]
        points: FloatArray = self.centre_mm[:, None] + reach * (
            cos * self.u[:, None] + sin * self.v[:, None]
        )
        return points

    def take(self, rows: IndexArray | npt.NDArray[np.bool_]) -> Circles:
        """Return some of the circles, by index or mask."""
        return Circles(
            self.centre_mm[rows],
            self.u[rows],
            self.v[rows],
            self.radius_mm[rows],
            self.wire_radius_mm[rows],
        )


def make_circles(
    centre_mm: FloatArray, normal: FloatArray, radius_mm: FloatArray, wire_mm: FloatArray
) -> Circles:
    """Make circles from centres, normals, mean radii and wire diameters."""
    u, v = ring_basis(normal)
    return Circles(np.asarray(centre_mm, dtype=float), u, v, radius_mm, np.asarray(wire_mm) / 2)


def distances_mm(
    electrode: Electrode, tip_mm: FloatArray, axis: FloatArray, points_mm: FloatArray
) -> FloatArray:
    """Distance of every point from every placing of the electrode, shape (O, P), in mm.

    Parameters
    ----------
    electrode : Electrode
        Its shape.
    tip_mm, axis : array, shape (O, 3)
        Where the tip is, and the unit vector from it towards the holder.
    points_mm : array, shape (P, 3)
        Points.
    """
    height = axis @ points_mm.T
    height -= np.einsum("ij,ij->i", tip_mm, axis)[:, None]
    square = tip_mm @ points_mm.T
    square *= -2.0
    square += np.einsum("ij,ij->i", tip_mm, tip_mm)[:, None]
    square += np.einsum("ij,ij->i", points_mm, points_mm)
    square -= height * height
    np.maximum(square, 0.0, out=square)
    return electrode.distance_mm(height, np.sqrt(square, out=square))


@dataclass(frozen=True, slots=True)
class Pairs:
    """Placings of the electrode and rings, paired row by row."""

    tip_mm: FloatArray  # (N, 3)
    axis: FloatArray  # (N, 3)
    circles: Circles  # N of them

    def take(self, rows: IndexArray) -> Pairs:
        """Return some of the pairs."""
        return Pairs(self.tip_mm[rows], self.axis[rows], self.circles.take(rows))


class _GapProfile:
    """Distance of the electrode from the point at an angle of the paired circle.

    Both the height of that point above the tip and its squared distance from the tip are a constant
    and one wave in the angle, so a sample costs a few multiplications.
    """

    def __init__(self, electrode: Electrode, pairs: Pairs) -> None:
        circles = pairs.circles
        offset = circles.centre_mm - pairs.tip_mm
        radius = circles.radius_mm
        self._electrode = electrode
        self._height = np.stack(
            [
                np.einsum("ni,ni->n", offset, pairs.axis),
                np.einsum("ni,ni->n", circles.u, pairs.axis) * radius,
                np.einsum("ni,ni->n", circles.v, pairs.axis) * radius,
            ]
        )[..., None]
        self._square = np.stack(
            [
                np.einsum("ni,ni->n", offset, offset) + radius**2,
                np.einsum("ni,ni->n", circles.u, offset) * (2 * radius),
                np.einsum("ni,ni->n", circles.v, offset) * (2 * radius),
            ]
        )[..., None]

    def sample(self, rows: IndexArray | slice, angle: FloatArray) -> FloatArray:
        """Distances at angles, shape (rows, angles) or one row for all, in mm."""
        cos, sin = np.cos(angle), np.sin(angle)
        level, along_u, along_v = self._height[:, rows]
        height = along_u * cos
        room = along_v * sin
        height += room
        height += level
        level, along_u, along_v = self._square[:, rows]
        square = along_u * cos
        square += np.multiply(along_v, sin, out=room)
        square += level
        square -= np.multiply(height, height, out=room)
        np.maximum(square, 0.0, out=square)
        return self._electrode.distance_mm(height, np.sqrt(square, out=square))


def find_gaps_mm(
    electrode: Electrode,
    pairs: Pairs,
    *,
    enough_mm: float = np.inf,
    group: IndexArray | None = None,
) -> FloatArray:
    """Gap between the electrode and a ring's wire, for each pair, shape (N,), in mm.

    Parameters
    ----------
    electrode : Electrode
        Its shape.
    pairs : Pairs
        Placings and rings.
    enough_mm : float
        Gaps that are surely larger are not refined. [mm]
    group : array of int, shape (N,), optional
        Pairs of which only the smallest gap of each group matters; the others are not refined.

    Returns
    -------
    array, shape (N,)
        Never below the truth, and above it by at most ``ACCURACY_MM`` where it is refined;
        negative where they overlap.
    """
    radius, wire = pairs.circles.radius_mm, pairs.circles.wire_radius_mm
    if not radius.size:
        return np.zeros(0)
    profile = _GapProfile(electrode, pairs)
    step = 2 * np.pi / tuning().circle_samples
    found = profile.sample(slice(None), np.arange(tuning().circle_samples, dtype=np.float64) * step)
    found -= wire[:, None]
    best: FloatArray = found.min(axis=1)
    row, column = (
        np.arange(wire.size).repeat(tuning().circle_samples),
        np.tile(np.arange(tuning().circle_samples), wire.size),
    )
    pair, angle, value = row, column * step, found.ravel()
    last_step_mm = _last_step_mm(float(wire.min()))
    spread = (np.arange(tuning().zoom) + 0.5) / tuning().zoom - 0.5
    while True:
        # Within half a step of arc the gap can sink by that much and no more.
        keep = value - radius[pair] * (step / 2) < _limits(best, enough_mm, group)[pair]
        pair, angle = pair[keep], angle[keep]
        if not pair.size or float(radius[pair].max()) * step <= last_step_mm:
            return best
        angles = angle[:, None] + spread * step
        found = profile.sample(pair, angles)
        found -= wire[pair][:, None]
        np.minimum.at(best, pair, found.min(axis=1))
        pair, angle, value = pair.repeat(tuning().zoom), angles.ravel(), found.ravel()
        step /= tuning().zoom


def _limits(best: FloatArray, enough_mm: float, group: IndexArray | None) -> FloatArray:
    """Gap above which nothing more about a pair matters, in mm."""
    if group is None:
        return np.minimum(best, enough_mm)
    least = np.full(int(group.max()) + 1, enough_mm)
    np.minimum.at(least, group, best)
    limits: FloatArray = least[group]
    return limits


def _last_step_mm(wire_radius_mm: float) -> float:
    """Return the step at which a low is exact: its parabola bends by 2 / wire radius, in mm."""
    return float(np.sqrt(4.0 * ACCURACY_MM * max(wire_radius_mm, 1e-9)))


def point_gaps_mm(points_mm: FloatArray, circles: Circles) -> tuple[FloatArray, FloatArray]:
    """Gap from points to the wire of every circle, and the nearest points of the centre lines.

    Closed form: with the height h above the circle's plane and the distance ρ from its axis, the
    distance is ``hypot(h, ρ − R)``.

    Returns
    -------
    tuple of arrays, shapes (P, J) and (P, J, 3)
        Gaps and nearest points. [mm]
    """
    offset = points_mm[:, None] - circles.centre_mm[None]
    normal = circles.normal
    height = np.einsum("pji,ji->pj", offset, normal)
    flat = offset - height[..., None] * normal[None]
    across = np.linalg.norm(flat, axis=2)
    gap = np.hypot(height, across - circles.radius_mm) - circles.wire_radius_mm
    scale = circles.radius_mm / np.maximum(across, 1e-12)
    return gap, circles.centre_mm[None] + flat * scale[..., None]


def point_wire_gaps_mm(points_mm: FloatArray, circles: Circles) -> FloatArray:
    """Gap from points to the nearest wire, shape (P,), in mm; infinite where there is none."""
    if circles.count == 0:
        return np.full(len(points_mm), np.inf)
    normal = circles.normal
    centre = circles.centre_mm
    height = points_mm @ normal.T - np.einsum("ji,ji->j", centre, normal)
    square = (
        np.einsum("pi,pi->p", points_mm, points_mm)[:, None]
        - 2 * points_mm @ centre.T
        + np.einsum("ji,ji->j", centre, centre)
    )
    across = np.sqrt(np.maximum(square - height * height, 0.0))
    gap = np.hypot(height, across - circles.radius_mm) - circles.wire_radius_mm
    nearest: FloatArray = gap.min(axis=1)
    return nearest
