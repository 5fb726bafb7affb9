"""How every close place of a repeat changes with its unknowns, and how a step moves the rings.

The unknowns of a repeat are, per ring, the centre and two tilts (a turn about its own axis changes
nothing), then the length of the first repeat vector, the width of the second and perhaps its lean,
perhaps the turn per repeat, and the aspect ratio::

    change of gap = u·(δc_i + ω_i×(p − c_i)) − u·(δc_j + ω_j×(q − c_j)) − u·(change of the shift)

with ``u`` the unit vector from ``q`` on ring j (an image) to ``p`` on ring i. A tilt is counted as
the way that the ring's wire moves, so that all unknowns are lengths in wire diameters.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.weave.circles import cross, plane_basis
from chainplan.weave.poses import find_approaches, turn_about_x

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.weave.poses import Poses

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int_]
    BoolArray = npt.NDArray[np.bool_]

EXTRA = 5
"""Unknowns beside those of the rings: length, width, lean, turn, aspect ratio."""


@dataclass(frozen=True, slots=True)
class Linearised:
    """Close places of a repeat and how each gap changes with the unknowns."""

    gap: FloatArray  # (rows,)
    change: FloatArray  # (rows, 5k + 5)
    gauge: FloatArray  # (g, 5k + 5), moves of the whole that must not happen
    pairs: IntArray  # (rows, 4), ring, ring, offset along, offset across
    point_2: FloatArray  # (rows, 3), on the image of the second ring
    is_minimum: BoolArray  # (rows,), a local minimum and not a sample of an arc


def tilt_axes(poses: Poses) -> tuple[FloatArray, FloatArray]:
    """Tilt axes of every ring over its radius, so that a unit tilt moves the wire by 1."""
    u, v = plane_basis(poses.normal)
    radius = poses.mean_radius[:, None]
    return u / radius, v / radius


def linearise(poses: Poses, reach: float, *, samples: bool = True) -> Linearised:
    """List the places nearer than ``reach`` and their first-order change with every unknown."""
    pairs, gap, places = find_approaches(poses, reach, samples=samples)
    at = pairs[places.pair]
    unit = (places.point_1 - places.point_2) / np.maximum(places.distance, 1e-9)[:, None]
    change = differentiate(poses, at, places.point_1, places.point_2, unit)
    return Linearised(gap, change, list_gauge(poses), at, places.point_2, places.is_minimum)


def differentiate(
    poses: Poses, pairs: IntArray, p: FloatArray, q: FloatArray, unit: FloatArray
) -> FloatArray:
    """Change of each gap with every unknown, shape (rows, 5k + 5).

    Parameters
    ----------
    poses : Poses
        The repeat.
    pairs : array, shape (rows, 4)
        Ring, ring, offset along, offset across.
    p, q, unit : array, shape (rows, 3)
        Points on the first and the second ring, and the direction from q to p.
    """
    i, j, a, b = pairs.T
    rows, count = np.arange(len(pairs)), poses.count
    change = np.zeros((len(pairs), 5 * count + EXTRA))
    tilt_u, tilt_v = tilt_axes(poses)
    # Ring i as it stands.
    arm_i = p - poses.centre[i]
    moment = cross(arm_i, unit)
    change[rows[:, None], 5 * i[:, None] + np.arange(3)] = unit
    change[rows, 5 * i + 3] = np.einsum("ij,ij->i", tilt_u[i], moment)
    change[rows, 5 * i + 4] = np.einsum("ij,ij->i", tilt_v[i], moment)
    # The image of ring j, turned back into the frame of the repeat.
    shift = a[:, None] * poses.vectors[0]
    if poses.sheet:
        shift = shift + b[:, None] * poses.vectors[1]
    local_q, local_unit = q - shift, unit
    if poses.turn_rad or poses.free_turn:
        back = turn_about_x(-a * float(poses.turn_rad))
        local_q = np.einsum("pij,pj->pi", back, local_q)
        local_unit = np.einsum("pij,pj->pi", back, unit)
    arm_j = local_q - poses.centre[j]
    moment = cross(arm_j, local_unit)
    change[rows[:, None], 5 * j[:, None] + np.arange(3)] -= local_unit
    change[rows, 5 * j + 3] -= np.einsum("ij,ij->i", tilt_u[j], moment)
    change[rows, 5 * j + 4] -= np.einsum("ij,ij->i", tilt_v[j], moment)
    # The repeat and the ring size.
    lean = poses.vectors[1, 0] / poses.vectors[0, 0] if poses.sheet else 0.0
    kept_lean = 0.0 if poses.free_shear else lean
    change[:, -5] = -(a + b * kept_lean) * unit[:, 0]
    if poses.sheet:
        change[:, -4] = -b * unit[:, 1]
        if poses.free_shear:
            change[:, -3] = -b * unit[:, 0]
    if poses.free_turn:
        change[:, -2] = -a * (q[:, 1] * unit[:, 2] - q[:, 2] * unit[:, 1])
    radius = poses.mean_radius
    out_i = np.einsum("ij,ij->i", unit, arm_i) / radius[i]
    out_j = np.einsum("ij,ij->i", local_unit, arm_j) / radius[j]
    change[:, -1] = (out_i * poses.inner_ratio[i] - out_j * poses.inner_ratio[j]) / 2
    return change


def list_gauge(poses: Poses) -> FloatArray:
    """List the moves of the whole that change nothing: shifts, a roll about a chain's axis."""
    count = poses.count
    shifts = (0,) if poses.turn_rad or poses.free_turn else (0, 1, 2)
    rows = []
    for axis in shifts:
        row = np.zeros(5 * count + EXTRA)
        row[axis : 5 * count : 5] = 1.0
        rows.append(row)
    if not poses.sheet:
        tilt_u, tilt_v = tilt_axes(poses)
        row = np.zeros(5 * count + EXTRA)
        middle = poses.centre.mean(axis=0) if len(shifts) == 3 else np.zeros(3)
        arm = poses.centre - middle
        row[1 : 5 * count : 5] = -arm[:, 2]
        row[2 : 5 * count : 5] = arm[:, 1]
        square = poses.mean_radius**2
        row[3 : 5 * count : 5] = tilt_u[:, 0] * square
        row[4 : 5 * count : 5] = tilt_v[:, 0] * square
        rows.append(row)
    return np.array(rows)


def move(poses: Poses, step: FloatArray) -> Poses:
    """Apply a step of the unknowns: centres shift, normals tilt, the repeat and the size change."""
    count = poses.count
    part = step[: 5 * count].reshape(count, 5)
    tilt_u, tilt_v = tilt_axes(poses)
    turn = part[:, 3:4] * tilt_u + part[:, 4:5] * tilt_v
    angle = np.linalg.norm(turn, axis=1, keepdims=True)
    # A rotation by the full angle about an axis in the ring's plane.
    normal = np.cos(angle) * poses.normal + np.sinc(angle / np.pi) * cross(turn, poses.normal)
    vectors = poses.vectors.copy()
    lean = vectors[1, 0] / vectors[0, 0] if poses.sheet else 0.0
    vectors[0, 0] += step[-5]
    if poses.sheet:
        vectors[1, 1] += step[-4]
        if poses.free_shear:
            vectors[1, 0] += step[-3]
        else:
            vectors[1, 0] = lean * vectors[0, 0]
    return replace(
        poses,
        centre=poses.centre + part[:, :3],
        normal=normal / np.linalg.norm(normal, axis=1, keepdims=True),
        vectors=vectors,
        turn_rad=poses.turn_rad + float(step[-2]),
        aspect_ratio=poses.aspect_ratio + float(step[-1]),
    )
