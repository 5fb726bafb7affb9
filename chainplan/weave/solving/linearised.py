"""How every close place of a repeat changes with its unknowns, and how a step moves the rings.

The unknowns of a repeat are, per ring, the centre and two tilts (a turn about its own axis changes
nothing), then the length of the first repeat vector, the width of the second and perhaps its lean,
perhaps the turn per repeat, and the aspect ratio::

    change of gap = u·(δc_i + ω_i×(p − c_i)) − u·(δc_j + ω_j×(q − c_j)) − u·(change of the shift)

with ``u`` the unit vector from ``q`` on ring j (an image) to ``p`` on ring i. A tilt is counted as
the way that the ring's wire moves, so that all unknowns are lengths in wire diameters.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.weave.shape.circles import cross, plane_basis
from chainplan.weave.shape.poses import PoseStack, find_approaches, place_shifts, turn_back

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.weave.shape.poses import Poses


EXTRA = 5
"""Unknowns beside those of the rings: length, width, lean, turn, aspect ratio."""


@dataclass(frozen=True, slots=True)
class Linearised:
    """Close places of a repeat and how each gap changes with the unknowns."""

    gap: FloatArray  # (rows,)
    change: FloatArray  # (rows, 5k + 5)
    gauge: FloatArray  # (g, 5k + 5), moves of the whole that must not happen
    pairs: IndexArray  # (rows, 4), ring, ring, offset along, offset across
    point_2: FloatArray  # (rows, 3), on the image of the second ring
    is_minimum: BoolArray  # (rows,), a local minimum and not a sample of an arc


def tilt_axes(poses: Poses | PoseStack) -> tuple[FloatArray, FloatArray]:
    """Tilt axes of every ring over its radius, so that a unit tilt moves the wire by 1."""
    u, v = plane_basis(poses.normal)
    radius = poses.mean_radius[..., None]
    return u / radius, v / radius


def linearise(poses: Poses, reach: float, *, samples: bool = True) -> Linearised:
    """List the places nearer than ``reach`` and their first-order change with every unknown."""
    pairs, gap, places = find_approaches(poses, reach, samples=samples)
    at = pairs[places.pair]
    unit = (places.point_1 - places.point_2) / np.maximum(places.distance, 1e-9)[:, None]
    change = differentiate(poses, at, places.point_1, places.point_2, unit)
    return Linearised(gap, change, list_gauge(poses), at, places.point_2, places.is_minimum)


def differentiate(
    poses: Poses, pairs: IndexArray, p: FloatArray, q: FloatArray, unit: FloatArray
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
    rows, count = np.arange(len(pairs)), poses.count
    first, second, whole = differentiate_parts(poses, pairs, p, q, unit)
    change = np.zeros((len(pairs), count + 1, 5))
    change[rows, pairs[:, 0]] = first
    change[rows, pairs[:, 1]] += second
    change[:, count] = whole
    return change.reshape(len(pairs), 5 * count + EXTRA)


def differentiate_parts(
    poses: Poses | PoseStack, pairs: IndexArray, p: FloatArray, q: FloatArray, unit: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Change of each gap with the unknowns of its two rings and of the repeat.

    Parameters
    ----------
    poses : Poses or PoseStack
        The repeat, or several poses of it.
    pairs : array, shape (rows, 4)
        Ring, ring, offset along, offset across.
    p, q, unit : array, shape (…, rows, 3)
        Points on the first and the second ring, and the direction from q to p.

    Returns
    -------
    tuple of three arrays, shape (…, rows, 5)
        For the centre and the tilts of the first ring, those of the second, and the repeat's own.
    """
    i, j = pairs[:, 0], pairs[:, 1]
    a, b = pairs[:, 2:3], pairs[:, 3:4]
    tilt_u, tilt_v = tilt_axes(poses)
    # Ring i as it stands, and the image of ring j, turned back into the frame of the repeat.
    arm_i = p - poses.centre.take(i, -2)
    arm_j = turn_back(poses, pairs, q - place_shifts(poses, pairs)) - poses.centre.take(j, -2)
    unit_j = turn_back(poses, pairs, unit)
    parts, out = [], []
    for ring, arm, towards in ((i, arm_i, unit), (j, arm_j, unit_j)):
        moment = cross(arm, towards)
        turns = [_dot(tilt.take(ring, -2), moment)[..., None] for tilt in (tilt_u, tilt_v)]
        parts.append(np.concatenate([towards, *turns], axis=-1))
        size = poses.inner_ratio[ring] / poses.mean_radius.take(ring, -1)
        out.append(_dot(towards, arm) * size)
    whole = np.zeros_like(parts[0])
    along = a * unit
    whole[..., 0] = -along[..., 0]
    if poses.sheet:
        across = b * unit
        if poses.free_shear:
            whole[..., 2] = -across[..., 0]
        else:
            lean = poses.vectors[..., 1:, 0] / poses.vectors[..., :1, 0]
            whole[..., 0] -= lean * across[..., 0]
        whole[..., 1] = -across[..., 1]
    if poses.free_turn:
        whole[..., 3] = along[..., 1] * q[..., 2] - along[..., 2] * q[..., 1]
    whole[..., 4] = (out[0] - out[1]) / 2
    return parts[0], -parts[1], whole


def _dot(one: FloatArray, other: FloatArray) -> FloatArray:
    """Scalar products of rows."""
    product: FloatArray = np.einsum("...i,...i->...", one, other)
    return product


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
    return move_each(poses, step[None]).pick(0)


def move_each(poses: Poses, steps: FloatArray) -> PoseStack:
    """Apply each of several steps to the same poses.

    Parameters
    ----------
    poses : Poses
        Where all of them start.
    steps : array, shape (m, 5k + 5)
        Changes of the unknowns, a row a step.
    """
    count = poses.count
    part = steps[:, : 5 * count].reshape(-1, count, 5)
    tilt_u, tilt_v = tilt_axes(poses)
    turn = part[..., 3:4] * tilt_u + part[..., 4:5] * tilt_v
    angle = np.sqrt(_dot(turn, turn))[..., None]
    # A rotation by the full angle about an axis in the ring's plane.
    share = np.sin(angle) / np.where(angle > 0, angle, 1.0)
    normal = np.cos(angle) * poses.normal + share * cross(turn, poses.normal)
    vectors = np.repeat(poses.vectors[None], len(steps), axis=0)
    vectors[:, 0, 0] += steps[:, -5]
    if poses.sheet:
        vectors[:, 1, 1] += steps[:, -4]
        if poses.free_shear:
            vectors[:, 1, 0] += steps[:, -3]
        else:
            vectors[:, 1, 0] *= vectors[:, 0, 0] / poses.vectors[0, 0]
    return PoseStack(
        aspect_ratio=poses.aspect_ratio + steps[:, -1],
        centre=poses.centre + part[..., :3],
        normal=normal / np.sqrt(_dot(normal, normal))[..., None],
        vectors=vectors,
        turn_rad=poses.turn_rad + steps[:, -2],
        inner_ratio=poses.inner_ratio,
        wire=poses.wire,
        free_turn=poses.free_turn,
        free_shear=poses.free_shear,
    )
