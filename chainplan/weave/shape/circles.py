"""Pairs of round circles in space: do they link, and where do they come closest.

A ring is the circle of its wire's centre line: centre ``c``, unit normal ``n``, radius ``R`` (the
*mean* radius of the ring). Everything here is vectorised over pairs: row k of the first ring's
arrays is paired with row k of the second ring's. Lengths may be in any unit, the same one
throughout.

Two questions:

* :func:`linking_number`: exact, from the signed count of the points where one circle goes through
  the other's disc (0 or ±1 for round circles).
* :func:`closest_approach`: the smallest distance and the two points; :func:`list_approaches`: every
  local minimum of the distance, and samples along an arc where two rings lie close together.

The distance of a point to a circle has a closed form, so a pair is a problem in one unknown, the
angle on the second circle: sampled, bracketed and finished by a safeguarded Newton iteration.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IndexArray


_ANGLE_EXACT = 1e-10  # the distance is flat at its minimum: exact to the square of this [rad]
_SLOPE_EXACT = 1e-12  # rounding; matters where rings nestle and the minimum is flat
_SQUARE_EXACT = 1e-14  # of the squared distance: what is left to win within the bracket
_TINY = 1e-300  # keeps a root of zero from dividing; above the least double
_NEXT, _LAST = np.array([1, 2, 0]), np.array([2, 0, 1])
"""Axes after and before each of the three, in turn."""
_AXES = np.eye(3)


def cross(one: FloatArray, other: FloatArray) -> FloatArray:
    """Cross products of rows, shape (…, 3); plainer and quicker than numpy's for short arrays."""
    result: FloatArray = one.take(_NEXT, -1) * other.take(_LAST, -1) - one.take(
        _LAST, -1
    ) * other.take(_NEXT, -1)
    return result


def plane_basis(normal: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return unit vectors u, v with (u, v, n) right-handed, for each normal.

    Parameters
    ----------
    normal : array, shape (…, n, 3)
        Unit normals. [-]

    Returns
    -------
    tuple of two arrays, shape (…, n, 3)
        Unit vectors in the plane of each circle. [-]
    """
    normal = np.atleast_2d(normal)
    u = cross(normal, _AXES[np.abs(normal).argmin(axis=-1)])
    u /= np.sqrt(np.einsum("...i,...i->...", u, u))[..., None]
    return u, cross(normal, u)


class CentreLines(NamedTuple):
    """Circle of a ring's centre line, or a row a ring; each turns right-handed about its normal."""

    centre: FloatArray
    """Shape (3,) or (p, 3)."""
    normal: FloatArray
    """Unit vectors, of the same shape."""
    radius: FloatArray | float
    """Shape () or (p,)."""

    def as_rows(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return centres (p, 3), normals (p, 3) and radii (p,) with a row a circle."""
        c = np.atleast_2d(np.asarray(self.centre, dtype=float))
        n = np.atleast_2d(np.asarray(self.normal, dtype=float))
        r = np.atleast_1d(np.asarray(self.radius, dtype=float))
        p = max(len(c), len(n), len(r))
        return np.broadcast_to(c, (p, 3)), np.broadcast_to(n, (p, 3)), np.broadcast_to(r, (p,))

    def pick(self, rows: BoolArray | IndexArray) -> CentreLines:
        """Return some of the circles."""
        c, n, r = self.as_rows()
        return CentreLines(c[rows], n[rows], r[rows])


def linking_number(first: CentreLines, second: CentreLines) -> IndexArray:
    """Gauss linking number of each pair of circles: −1, 0 or +1, exact.

    Parameters
    ----------
    first, second : CentreLines
        A row a pair.

    Returns
    -------
    array of int, shape (p,)
        The sign changes when one normal is reversed.

    Notes
    -----
    Circle 1 meets the plane of circle 2 at no point or at two, in opposite directions. The number
    is the signed count of those of them that lie inside circle 2 (Gauss's sign: going
    through the disc along its normal counts +1).

    Examples
    --------
    >>> import numpy as np
    >>> flat = CentreLines(np.zeros(3), np.array([0, 0, 1.0]), 1.0)
    >>> int(linking_number(flat, CentreLines(np.array([1.0, 0, 0]), np.array([0, 1.0, 0]), 1.0))[0])
    1
    """
    c1, n1, r1 = first.as_rows()
    c2, n2, r2 = second.as_rows()
    u, v = plane_basis(n1)
    a = r1 * np.einsum("ij,ij->i", u, n2)
    b = r1 * np.einsum("ij,ij->i", v, n2)
    height = np.einsum("ij,ij->i", c1 - c2, n2)
    reach = np.hypot(a, b)
    crosses = np.abs(height) < reach
    safe = np.where(crosses, reach, 1.0)
    phase = np.arctan2(b, a)
    half = np.arccos(np.clip(-height / safe, -1.0, 1.0))
    total = np.zeros(np.shape(height), dtype=np.int_)
    for angle, sign in ((phase - half, 1), (phase + half, -1)):
        point = c1 + r1[:, None] * (np.cos(angle)[:, None] * u + np.sin(angle)[:, None] * v)
        offset = point - c2
        inside = crosses & (np.einsum("ij,ij->i", offset, offset) < r2**2)
        total += sign * inside
    return total


@dataclass(frozen=True, slots=True)
class Approaches:
    """Places where two rings come close; one row a place, several rows a pair.

    ``pair`` is the row of the pair in the input, ``point_1`` lies on ring 1, ``point_2`` on ring 2,
    ``distance`` is between them (centre line to centre line, the wire is not taken off).
    ``is_minimum`` tells a refined local minimum from a sample of a close arc.
    """

    pair: IndexArray
    distance: FloatArray
    point_1: FloatArray
    point_2: FloatArray
    is_minimum: BoolArray


def project_points(
    centre: FloatArray, normal: FloatArray, radius: FloatArray, point: FloatArray
) -> FloatArray:
    """Return the point of each circle that is nearest to a given point, shape (p, 3)."""
    flat = point - centre
    flat = flat - normal * np.einsum("ij,ij->i", flat, normal)[:, None]
    length = np.sqrt(np.einsum("ij,ij->i", flat, flat))
    on_axis = length < 1e-12 * radius
    if on_axis.any():
        flat[on_axis] = plane_basis(normal[on_axis])[0]
        length[on_axis] = 1.0
    result: FloatArray = centre + (radius / length)[:, None] * flat
    return result


class _PairProfile:
    """Squared distance from circle 1 to the point of circle 2 at an angle, and its slope."""

    def __init__(
        self,
        first: tuple[FloatArray, FloatArray, FloatArray],
        second: tuple[FloatArray, FloatArray, FloatArray],
    ) -> None:
        c1, n1, r1 = first
        c2, n2, r2 = second
        u, v = plane_basis(n2)
        offset = c2 - c1
        self.r1, self.r2, self.u, self.v, self.c1, self.n1, self.c2 = r1, r2, u, v, c1, n1, c2
        self.along_u = np.einsum("ij,ij->i", offset, u)
        self.along_v = np.einsum("ij,ij->i", offset, v)
        self.square = np.einsum("ij,ij->i", offset, offset) + r2**2
        self.height = np.einsum("ij,ij->i", offset, n1)
        self.height_u = np.einsum("ij,ij->i", u, n1)
        self.height_v = np.einsum("ij,ij->i", v, n1)
        along = (self.along_u, self.along_v, self.square)
        self.terms = np.stack([r1, r2, *along, self.height, self.height_u, self.height_v])

    def sample(self, angle: FloatArray) -> FloatArray:
        """Squared distances at the same angles for every pair, shape (p, angles)."""
        cos, sin = np.cos(angle), np.sin(angle)
        r2 = self.r2[:, None]
        square = self.square[:, None] + 2 * r2 * (
            self.along_u[:, None] * cos + self.along_v[:, None] * sin
        )
        height = self.height[:, None] + r2 * (
            self.height_u[:, None] * cos + self.height_v[:, None] * sin
        )
        level = np.sqrt(np.maximum(square - height**2, 0.0))
        result: FloatArray = height**2 + (level - self.r1[:, None]) ** 2
        return result

    def slopes(self, pair: IndexArray, angle: FloatArray) -> tuple[FloatArray, FloatArray]:
        """First and second derivative of the squared distance at one angle a row."""
        cos, sin = np.cos(angle), np.sin(angle)
        r1, r2, along_u, along_v, square_0, height_0, height_u, height_v = self.terms[:, pair]
        square_2 = -2 * r2 * (along_u * cos + along_v * sin)
        square = square_0 - square_2
        square_1 = 2 * r2 * (along_v * cos - along_u * sin)
        tilt = r2 * (height_u * cos + height_v * sin)
        height = height_0 + tilt
        height_1 = r2 * (height_v * cos - height_u * sin)
        level = np.sqrt(np.maximum(square - height**2, _TINY))
        level_1 = (square_1 - 2 * height * height_1) / (2 * level)
        level_2 = ((square_2 - 2 * height_1**2 + 2 * height * tilt) / 2 - level_1**2) / level
        return square_1 - 2 * r1 * level_1, square_2 - 2 * r1 * level_2

    def points(self, pair: IndexArray, angle: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the point of circle 2 at the angle and the point of circle 1 nearest to it."""
        cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
        second = self.c2[pair] + self.r2[pair][:, None] * (cos * self.u[pair] + sin * self.v[pair])
        return project_points(self.c1[pair], self.n1[pair], self.r1[pair], second), second


def _refine(profile: _PairProfile, pair: IndexArray, angle: FloatArray, step: float) -> FloatArray:
    """Find the minimum within one sample step of each angle: Newton, bisection where it strays."""
    low, high = angle - step, angle + step
    best = angle.copy()
    active = np.arange(len(angle))
    for _ in range(tuning().circle_newton_steps):
        slope, bend = profile.slopes(pair[active], best[active])
        now, lower, upper = best[active], low[active], high[active]
        rising = slope > 0
        upper = np.where(rising, now, upper)
        lower = np.where(rising, lower, now)
        low[active], high[active] = lower, upper
        curved = bend > 1e-12
        newton = now - slope / np.where(curved, bend, 1.0)
        # A root at an end of the bracket must not be halved towards for ever.
        held = np.minimum(np.maximum(newton, lower), upper)
        inside = curved & (np.abs(newton - held) < 1e-6)
        new = np.where(inside, held, 0.5 * (lower + upper))
        slope = np.abs(slope)
        flat = (slope < _SLOPE_EXACT) | (slope * (upper - lower) < _SQUARE_EXACT)
        new = np.where(flat, now, new)
        best[active] = new
        active = active[np.abs(new - now) > _ANGLE_EXACT]
        if not active.size:
            break
    return best


def list_approaches(
    first: CentreLines,
    second: CentreLines,
    *,
    reach: float | FloatArray = np.inf,
    samples: bool = False,
) -> Approaches:
    """List the local minima of the distance of each pair, and samples of close arcs.

    Parameters
    ----------
    first, second : CentreLines
        A row a pair.
    reach : float or array, shape (p,)
        Only places nearer than this are listed.
    samples : bool
        Also list the sampled points of ring 2 that lie nearer than ``reach``: rings that lie
        nearly parallel touch along an arc, which one point does not describe.

    Returns
    -------
    Approaches
        Rows sorted by pair.
    """
    one, other = first.as_rows(), second.as_rows()
    rows = max(len(one[0]), len(other[0]))
    reach_of = np.broadcast_to(np.asarray(reach, dtype=float), (rows,))
    profile = _PairProfile(one, other)
    step = 2 * np.pi / tuning().circle_samples
    angle: FloatArray = np.arange(tuning().circle_samples, dtype=np.float64) * step
    squared = profile.sample(angle)
    is_low = (squared <= np.roll(squared, 1, axis=1)) & (squared < np.roll(squared, -1, axis=1))
    is_low[np.arange(rows), np.argmin(squared, axis=1)] = True
    # Between two samples the distance changes by at most the arc between them.
    near = np.sqrt(squared) - step * np.broadcast_to(other[2], (rows,))[:, None]
    pair, column = np.nonzero(is_low & (near < reach_of[:, None]))
    found = _refine(profile, pair, angle[column], step)
    minimum = np.ones(len(pair), dtype=bool)
    if samples:
        arc, at = np.nonzero((squared < reach_of[:, None] ** 2) & ~is_low)
        pair = np.concatenate([pair, arc])
        found = np.concatenate([found, angle[at]])
        minimum = np.concatenate([minimum, np.zeros(len(arc), dtype=bool)])
    point_1, point_2 = profile.points(pair, found)
    distance = np.linalg.norm(point_1 - point_2, axis=1)
    order = np.lexsort((~minimum, pair))
    order = order[distance[order] < reach_of[pair[order]]]
    return Approaches(pair[order], distance[order], point_1[order], point_2[order], minimum[order])


def follow_minima(
    first: tuple[FloatArray, FloatArray, FloatArray],
    second: tuple[FloatArray, FloatArray, FloatArray],
    near: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Find the local minimum of each pair nearest to a known point of its second ring.

    Parameters
    ----------
    first, second : tuple of arrays
        Centres (p, 3), normals (p, 3) and radii (p,) of the circles.
    near : array, shape (p, 3)
        Points on, or close to, the second circles.

    Returns
    -------
    tuple of arrays, shapes (p, 3), (p, 3), (p,)
        The points on the first and on the second circle, and the second derivative of the squared
        distance by the angle there.
    """
    profile = _PairProfile(first, second)
    arm = near - second[0]
    angle = np.arctan2(np.einsum("ij,ij->i", arm, profile.v), np.einsum("ij,ij->i", arm, profile.u))
    pair = np.arange(len(angle))
    angle = _refine(profile, pair, angle, 2 * np.pi / tuning().circle_samples)
    return *profile.points(pair, angle), profile.slopes(pair, angle)[1]


def closest_approach(
    first: CentreLines, second: CentreLines
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Smallest distance of each pair of circles, and the two points.

    Parameters
    ----------
    first, second : CentreLines
        A row a pair.

    Returns
    -------
    tuple of arrays, shapes (p,), (p, 3), (p, 3)
        Distance of the centre lines, the point on ring 1, the point on ring 2.

    Examples
    --------
    >>> import numpy as np
    >>> up = np.array([0, 0, 1.0])
    >>> d, p, q = closest_approach(
    ...     CentreLines(np.zeros(3), up, 1.0), CentreLines(np.array([3.0, 0, 0]), up, 1.0))
    >>> round(float(d[0]), 12)
    1.0
    """
    places = list_approaches(first, second)
    order = np.lexsort((places.distance, places.pair))
    _, start = np.unique(places.pair[order], return_index=True)
    rows = order[start]
    return places.distance[rows], places.point_1[rows], places.point_2[rows]
