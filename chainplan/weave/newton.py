"""The Newton step that finishes a pull: bend of the contacts that bear load taken into account.

At a pulled-tight state the places that bear load are few and known from the linear programme's
forces λ. Held at their gaps, the rest of the unknowns can still move; how the load changes as they
move is the Hessian of Σ λ·gap, found by differences of the exact first derivatives. Directions in
which it is flat or bends the wrong way are left alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.weave.circles import follow_minima, project_points
from chainplan.weave.linearised import differentiate, move
from chainplan.weave.poses import pair_wire, place_centres, place_normals

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.weave.linearised import Linearised
    from chainplan.weave.poses import Poses

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int_]
    Circle = tuple[FloatArray, FloatArray, FloatArray]

_STEP = 1e-5  # of the differences [wire diameters]
_LOADED = 1e-7  # force above which a place bears load
_NESTLES = 0.02  # second derivative of the squared distance below which rings lie face to face
_FLAT = 1e-5  # bend per wire diameter below which a direction counts as free


def _circles(poses: Poses, pairs: IntArray) -> tuple[Circle, Circle]:
    radius = poses.mean_radius
    i, j = pairs[:, 0], pairs[:, 1]
    first = (poses.centre[i], poses.normal[i], radius[i])
    return first, (place_centres(poses, pairs), place_normals(poses, pairs), radius[j])


class _Bearing:
    """The places that bear load, and their gaps' first derivatives as the rings move.

    Where a pair's distance bends enough along the ring, its place is the local minimum, which
    shifts as the rings move. Where two rings nestle face to face the minimum is anywhere along an
    arc, and the place stays where it is on the second ring's wire.
    """

    def __init__(self, poses: Poses, lines: Linearised, force: FloatArray) -> None:
        loaded = force > _LOADED
        pairs, points = lines.pairs[loaded], lines.point_2[loaded]
        first, second = _circles(poses, pairs)
        _, found, bend = follow_minima(first, second, points)
        nestles = bend < _NESTLES
        points = np.where(nestles[:, None], points, found)
        # Samples of one arc that share a minimum are one place.
        mark = np.where(nestles, np.arange(len(pairs)), -1)
        table = np.column_stack([pairs, mark, np.round(points, 6) * (~nestles)[:, None]])
        _, chosen, place = np.unique(table, axis=0, return_index=True, return_inverse=True)
        self.load = np.bincount(place.ravel(), weights=force[loaded])
        self.pairs, self.points, self.nestles = pairs[chosen], points[chosen], nestles[chosen]
        self.arm = self.points - second[0][chosen]

    def differentiate(self, poses: Poses) -> tuple[FloatArray, FloatArray]:
        """Gaps' distances and first derivatives, shapes (rows,) and (rows, 5k + 5)."""
        first, second = _circles(poses, self.pairs)
        p, q = np.empty_like(self.points), np.empty_like(self.points)
        moving = ~self.nestles
        if moving.any():
            one = (first[0][moving], first[1][moving], first[2][moving])
            two = (second[0][moving], second[1][moving], second[2][moving])
            p[moving], q[moving], _ = follow_minima(one, two, self.points[moving])
        if self.nestles.any():
            n = self.nestles
            q[n] = project_points(
                second[0][n], second[1][n], second[2][n], second[0][n] + self.arm[n]
            )
            p[n] = project_points(first[0][n], first[1][n], first[2][n], q[n])
        offset = p - q
        distance = np.linalg.norm(offset, axis=1)
        unit = offset / np.maximum(distance, 1e-9)[:, None]
        return distance, differentiate(poses, self.pairs, p, q, unit)


def _measure_bend(
    bearing: _Bearing, poses: Poses, base: FloatArray, directions: FloatArray, free: IntArray
) -> tuple[FloatArray, FloatArray]:
    """How the load's pull changes along each direction, seen in all but the last of them.

    Returns
    -------
    tuple of two arrays, shapes (m, m) and (m,)
        For the first m directions, and for the last one.
    """
    within = directions[:, :-1]
    bend = np.zeros((within.shape[1], directions.shape[1]))
    for column, direction in enumerate(directions.T):
        size = float(np.abs(direction).max())
        if size == 0.0:
            continue
        step = np.zeros(len(base))
        step[free] = direction * (_STEP / size)
        turned = bearing.load @ bearing.differentiate(move(poses, step))[1]
        bend[:, column] = within.T @ (turned - base)[free] * (size / _STEP)
    return bend[:, :-1], bend[:, -1]


def newton_step(
    poses: Poses,
    lines: Linearised,
    force: FloatArray,
    slope: FloatArray,
    limit: FloatArray,
    trust: float,
) -> FloatArray | None:
    """Find the step to where the load balances on the places that bear it.

    Parameters
    ----------
    poses, lines : Poses, Linearised
        Where the step starts.
    force : array, shape (rows,)
        What each place bears, from the linear programme.
    slope : array, shape (5,)
        How the goal grows with the repeat's unknowns.
    limit : array, shape (5k + 5,)
        0 for unknowns that are fixed.
    trust : float
        Largest change of any unknown. [wire diameters]

    Returns
    -------
    array or None
        None where nothing bears load, or nothing is left to move.
    """
    if not (force > _LOADED).any():
        return None
    free = np.nonzero(limit > 0)[0]
    bearing = _Bearing(poses, lines, force)
    load = bearing.load
    distance, change = bearing.differentiate(poses)
    gap = distance - pair_wire(poses, bearing.pairs)
    hold = np.vstack([change[:, free], lines.gauge[:, free]])
    _, sizes, basis = np.linalg.svd(hold, full_matrices=True)
    rank = int((sizes > 1e-9 * sizes[0]).sum())
    null = basis[rank:].T
    if not null.shape[1]:
        return None
    # Step onto the held gaps first, then balance within what is left.
    wanted = np.concatenate([-gap, np.zeros(lines.gauge.shape[0])])
    onto = np.linalg.lstsq(hold, wanted, rcond=1e-9)[0]
    base = load @ change
    bend, bend_onto = _measure_bend(bearing, poses, base, np.column_stack([null, onto]), free)
    bend = (bend + bend.T) / 2
    goal = np.zeros(len(limit))
    goal[-len(slope) :] = slope
    pull = null.T @ (goal + base)[free] + bend_onto
    values, vectors = np.linalg.eigh(bend)
    downhill = values < -_FLAT
    amount = np.where(downhill, -(vectors.T @ pull) / np.where(downhill, values, 1.0), 0.0)
    step = np.zeros(len(limit))
    step[free] = onto + null @ (vectors @ amount)
    largest = float(np.abs(step).max())
    if largest > trust:
        step *= trust / largest
    return step
