"""Round rings in space by formulas of the examiner's own: links, gaps, an electrode beside wires.

Links: the planes of two circles meet in a line. Each circle crosses that line in two points, or in
none. The circles link just where the two pairs of points alternate along the line.

Gaps: the distance from a point to a circle is ``hypot(h, ρ − R)``, h its height over the plane and
ρ its distance from the axis. Of two circles the least is looked for along one of them: in even
steps, then by halving the arc around each of the lowest steps.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IndexArray

STEPS = 24
_LOWEST = 3
_HALVINGS = 10
"""Points tried on a ring, the lowest of them that are followed, and steps from there: two rings
have at most four places where they come closest, and ten steps, halved from 7.5 degrees on, end
within 0.015 degrees, where the gap of wires side by side is within a millionth of a millimetre."""
_AT_ONCE = 2_000
"""Pairs that are measured together: their numbers stay near the processor."""


def are_linked(
    centre_1: FloatArray, normal_1: FloatArray, radius_1: FloatArray,
    centre_2: FloatArray, normal_2: FloatArray, radius_2: FloatArray,
) -> BoolArray:  # fmt: skip
    """Whether each pair of circles links, shape (p,)."""
    along = np.cross(normal_1, normal_2)
    size = np.linalg.norm(along, axis=1)
    flat = size < 1e-9
    size = np.where(flat, 1.0, size)
    apart = centre_1 - centre_2
    # How far each centre lies from the line, within its own plane.
    off_1 = np.einsum("ij,ij->i", apart, normal_2) / size
    off_2 = np.einsum("ij,ij->i", apart, normal_1) / size
    half_1 = np.sqrt(np.maximum(radius_1**2 - off_1**2, 0.0))
    half_2 = np.sqrt(np.maximum(radius_2**2 - off_2**2, 0.0))
    middle = np.abs(np.einsum("ij,ij->i", apart, along) / size)
    alternate = (middle < half_1 + half_2) & (middle > np.abs(half_1 - half_2))
    linked: BoolArray = alternate & (half_1 > 0) & (half_2 > 0) & ~flat
    return linked


def plane_axes(normal: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two unit vectors in each ring's plane, shape (n, 3) each.

    Angle 0 of a ring is the direction in its plane that leans most to the front (+z), or most along
    the piece (+x) where the ring lies flat; angles count from there, right-handed about its normal.
    """
    up = np.zeros_like(normal)
    up[:, 2] = 1.0
    first = up - normal * normal[:, 2:]
    flat = np.linalg.norm(first, axis=1) < 1e-5
    ahead = np.zeros_like(normal)
    ahead[:, 0] = 1.0
    first[flat] = (ahead - normal * normal[:, :1])[flat]
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    return first, np.cross(normal, first)


def point_to_circle_mm(
    point_mm: FloatArray, centre_mm: FloatArray, normal: FloatArray, radius_mm: FloatArray
) -> FloatArray:
    """Distance of points (…, 3) from the circles (…,) that they broadcast against. [mm]."""
    offset = point_mm - centre_mm
    height = (offset * normal).sum(axis=-1)
    across = np.sqrt(np.maximum((offset * offset).sum(axis=-1) - height**2, 0.0))
    distance: FloatArray = np.hypot(height, across - radius_mm)
    return distance


@dataclass(frozen=True)
class _Facing:
    """Pairs of circles: from the other's centre a point of the first is c + R·(cos·u + sin·v).

    Its height over the other's plane and its square are sums of cos and sin with numbers of the
    pair alone, so no point has to be set up. All of shape (p, 1).
    """

    radius: FloatArray
    height: tuple[FloatArray, FloatArray, FloatArray]  # c·n, u·n, v·n
    along: tuple[FloatArray, FloatArray]  # c·u, c·v
    square: FloatArray  # c·c + R²
    other_radius: FloatArray

    def distance_mm(self, angle: FloatArray) -> FloatArray:
        """Distance of points of the first, at angles (p, k), from the other circle. [mm]."""
        cos, sin = np.cos(angle) * self.radius, np.sin(angle) * self.radius
        height = self.height[0] + cos * self.height[1] + sin * self.height[2]
        square = self.square + 2 * (cos * self.along[0] + sin * self.along[1])
        across = np.sqrt(np.maximum(square - height**2, 0.0)) - self.other_radius
        distance: FloatArray = np.hypot(height, across)
        return distance


def circle_distances_mm(
    centre_mm: FloatArray, normal: FloatArray, radius_mm: FloatArray,
    one: IndexArray, other: IndexArray,
) -> FloatArray:  # fmt: skip
    """Least distance between the centre lines of pairs of rings, shape (p,). [mm]."""
    first, second = plane_axes(normal)

    def dot(p: FloatArray, q: FloatArray) -> FloatArray:
        sums: FloatArray = np.einsum("ij,ij->i", p, q)[:, None]
        return sums

    found = np.empty(len(one))
    even = np.asarray(np.arange(STEPS) * (2 * math.pi / STEPS), dtype=np.float64)
    for begin in range(0, len(one), _AT_ONCE):
        a, b = one[begin : begin + _AT_ONCE], other[begin : begin + _AT_ONCE]
        apart, u, v, n = centre_mm[a] - centre_mm[b], first[a], second[a], normal[b]
        radius = radius_mm[a][:, None]
        pairs = _Facing(
            radius, (dot(apart, n), dot(u, n), dot(v, n)), (dot(apart, u), dot(apart, v)),
            dot(apart, apart) + radius**2, radius_mm[b][:, None],
        )  # fmt: skip
        coarse = pairs.distance_mm(even[None, :])
        lowest = np.argpartition(coarse, _LOWEST, axis=1)[:, :_LOWEST]
        angle = even[lowest]
        best = np.take_along_axis(coarse, lowest, axis=1)
        width = math.pi / STEPS
        for _ in range(_HALVINGS):
            for side in (-width, width):
                moved: FloatArray = angle + side
                tried = pairs.distance_mm(moved)
                better = tried < best
                angle = np.where(better, moved, angle)
                best = np.where(better, tried, best)
            width /= 2
        found[begin : begin + _AT_ONCE] = best.min(axis=1)
    return found


def electrode_distance_mm(
    height_mm: FloatArray, across_mm: FloatArray, *,
    half_angle_deg: float, shank_mm: float, stick_out_mm: float, holder_mm: float,
) -> FloatArray:  # fmt: skip
    """Distance of points from the electrode, negative inside. [mm].

    Its outline, height over the tip against distance from its axis: from the tip up the cone to the
    shank's radius, along the shank to the stick-out, out to the holder's radius and on up.

    Parameters
    ----------
    height_mm, across_mm : array
        Of the points, along the axis and from it. [mm]
    half_angle_deg, shank_mm, stick_out_mm, holder_mm : float
        Half the angle of the cone, diameters of shank and holder, length of what sticks out.
    """
    shank, holder = shank_mm / 2, holder_mm / 2
    cone = shank / math.tan(math.radians(half_angle_deg))
    corners = [
        (0.0, 0.0),
        (cone, shank),
        (stick_out_mm, shank),
        (stick_out_mm, holder),
        (1e4, holder),
    ]
    distance = np.full(np.broadcast_shapes(height_mm.shape, across_mm.shape), np.inf)
    for (h0, r0), (h1, r1) in itertools.pairwise(corners):
        length = math.hypot(h1 - h0, r1 - r0)
        if length == 0:
            continue
        share = ((height_mm - h0) * (h1 - h0) + (across_mm - r0) * (r1 - r0)) / length**2
        share = np.clip(share, 0.0, 1.0)
        foot = np.hypot(height_mm - h0 - share * (h1 - h0), across_mm - r0 - share * (r1 - r0))
        distance = np.minimum(distance, foot)
    inside = (height_mm > 0) & (across_mm < np.minimum(height_mm * (shank / cone), shank))
    inside |= (height_mm > stick_out_mm) & (across_mm < holder)
    return np.where(inside, -distance, distance)


def turn_about_x(vectors: FloatArray, degrees: float) -> FloatArray:
    """Turn vectors, shape (n, 3), about the x axis."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.column_stack(
        [
            vectors[:, 0],
            cos * vectors[:, 1] - sin * vectors[:, 2],
            sin * vectors[:, 1] + cos * vectors[:, 2],
        ]
    )
