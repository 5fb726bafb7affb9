"""The Newton step that finishes a pull: bend of the contacts that bear load taken into account.

At a pulled-tight state the places that bear load are few and known from the linear programme's
forces λ. Held at their gaps, the rest of the unknowns can still move; how the load changes as they
move is the Hessian of Σ λ·gap, found by differences of the exact first derivatives. Directions in
which it is flat or bends the wrong way are left alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.weave.shape.circles import follow_minima, project_points
from chainplan.weave.shape.poses import pair_wire, place_centres, place_normals
from chainplan.weave.solving.linearised import EXTRA, differentiate, differentiate_parts, move_each
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.weave.shape.poses import Poses, PoseStack
    from chainplan.weave.solving.linearised import Linearised

    Circle = tuple[FloatArray, FloatArray, FloatArray]


def _circles(poses: Poses | PoseStack, pairs: IndexArray) -> tuple[Circle, Circle]:
    """Both circles of every pair, a row a pair: of a stack, pose after pose."""
    radius = poses.mean_radius
    i, j = pairs[:, 0], pairs[:, 1]
    first = (poses.centre.take(i, -2), poses.normal.take(i, -2), radius.take(i, -1))
    second = (place_centres(poses, pairs), place_normals(poses, pairs), radius.take(j, -1))
    return _in_rows(first), _in_rows(second)


def _pick(circle: Circle, chosen: BoolArray) -> Circle:
    return circle[0][chosen], circle[1][chosen], circle[2][chosen]


def _in_rows(circle: Circle) -> Circle:
    centre, normal, radius = circle
    return centre.reshape(-1, 3), normal.reshape(-1, 3), radius.reshape(-1)


class _Bearing:
    """The places that bear load, and their gaps' first derivatives as the rings move.

    Where a pair's distance bends enough along the ring, its place is the local minimum, which
    shifts as the rings move. Where two rings nestle face to face the minimum is anywhere along an
    arc, and the place stays where it is on the second ring's wire.
    """

    def __init__(self, poses: Poses, lines: Linearised, force: FloatArray) -> None:
        loaded = force > tuning().loaded
        pairs, points = lines.pairs[loaded], lines.point_2[loaded]
        first, second = _circles(poses, pairs)
        _, found, bend = follow_minima(first, second, points)
        nestles = bend < tuning().nestles
        points = np.where(nestles[:, None], points, found)
        # Samples of one arc that share a minimum are one place.
        mark = np.where(nestles, np.arange(len(pairs)), -1)
        table = np.column_stack([pairs, mark, np.round(points, 6) * (~nestles)[:, None]])
        _, chosen, place = np.unique(table, axis=0, return_index=True, return_inverse=True)
        self.load = np.bincount(place.ravel(), weights=force[loaded])
        self.pairs, self.points, self.nestles = pairs[chosen], points[chosen], nestles[chosen]
        self.arm = self.points - second[0][chosen]

    def find_places(self, poses: Poses | PoseStack, copies: int = 1) -> Circle:
        """Points on both rings of every place and their distance, a row a place and pose."""
        first, second = _circles(poses, self.pairs)
        nestles, points, arm = (
            np.concatenate([part] * copies) for part in (self.nestles, self.points, self.arm)
        )
        p, q = np.empty_like(points), np.empty_like(points)
        if not nestles.all():
            m = ~nestles
            p[m], q[m], _ = follow_minima(_pick(first, m), _pick(second, m), points[m])
        if nestles.any():
            one, two = _pick(first, nestles), _pick(second, nestles)
            q[nestles] = project_points(*two, two[0] + arm[nestles])
            p[nestles] = project_points(*one, q[nestles])
        offset = p - q
        return p, q, np.sqrt(np.einsum("ij,ij->i", offset, offset))

    def differentiate(self, poses: Poses) -> tuple[FloatArray, FloatArray]:
        """Gaps' distances and first derivatives, shapes (rows,) and (rows, 5k + 5)."""
        p, q, distance = self.find_places(poses)
        unit = (p - q) / np.maximum(distance, 1e-9)[:, None]
        return distance, differentiate(poses, self.pairs, p, q, unit)

    def pull(self, stack: PoseStack) -> FloatArray:
        """First derivatives of Σ load·gap at each of several poses, shape (m, 5k + 5)."""
        copies, count = stack.centre.shape[:2]
        p, q, distance = self.find_places(stack, copies)
        unit = (p - q) / np.maximum(distance, 1e-9)[:, None]
        shape = (copies, len(self.pairs), 3)
        p, q, unit = p.reshape(shape), q.reshape(shape), unit.reshape(shape)
        first, second, whole = differentiate_parts(stack, self.pairs, p, q, unit)
        ring = np.arange(count)[:, None]
        onto_first = (ring == self.pairs[:, 0]) * self.load
        onto_second = (ring == self.pairs[:, 1]) * self.load
        rings = onto_first @ first + onto_second @ second
        return np.hstack([rings.reshape(copies, -1), (self.load @ whole).reshape(copies, EXTRA)])


def _measure_bend(
    bearing: _Bearing, poses: Poses, base: FloatArray, directions: FloatArray, free: IndexArray
) -> tuple[FloatArray, FloatArray]:
    """How the load's pull changes along each direction, seen in all but the last of them.

    Returns
    -------
    tuple of two arrays, shapes (m, m) and (m,)
        For the first m directions, and for the last one.
    """
    size = np.abs(directions).max(axis=0)
    factor = tuning().difference / np.where(size > 0, size, 1.0)
    steps = np.zeros((directions.shape[1], len(base)))
    steps[:, free] = (directions * factor).T
    turned = (bearing.pull(move_each(poses, steps)) - base)[:, free]
    bend: FloatArray = directions[:, :-1].T @ turned.T / factor
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
    if not (force > tuning().loaded).any():
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
    downhill = values < -tuning().flat
    amount = np.where(downhill, -(vectors.T @ pull) / np.where(downhill, values, 1.0), 0.0)
    step = np.zeros(len(limit))
    step[free] = onto + null @ (vectors @ amount)
    largest = float(np.abs(step).max())
    if largest > trust:
        step *= trust / largest
    return step
