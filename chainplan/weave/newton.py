"""The Newton step that finishes a pull: bend of the contacts that bear load taken into account.

At a pulled-tight state the places that bear load are few and known from the linear programme's
forces λ. Held at their gaps, the rest of the unknowns can still move; how the load changes as they
move is the Hessian of Σ λ·gap, found by differences of the exact first derivatives. Directions in
which it is flat or bends the wrong way are left alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.weave.circles import follow_minima
from chainplan.weave.linearised import differentiate, move
from chainplan.weave.poses import place_centres, place_normals

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.weave.linearised import Linearised
    from chainplan.weave.poses import Poses

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int_]

_STEP = 1e-5  # of the differences [wire diameters]
_FLAT = 1e-5  # bend per wire diameter below which a direction counts as free


def _follow(poses: Poses, pairs: IntArray, near: FloatArray) -> FloatArray:
    """First derivatives of the gaps at the local minima nearest to the given points."""
    radius = poses.mean_radius
    i, j = pairs[:, 0], pairs[:, 1]
    p, q = follow_minima(
        (poses.centre[i], poses.normal[i], radius[i]),
        (place_centres(poses, pairs), place_normals(poses, pairs), radius[j]),
        near,
    )
    offset = p - q
    unit = offset / np.maximum(np.linalg.norm(offset, axis=1), 1e-9)[:, None]
    return differentiate(poses, pairs, p, q, unit)


def _gather_force(lines: Linearised, force: FloatArray) -> FloatArray:
    """Move what samples of an arc bear to the minimum of the same pair nearest to them."""
    gathered = np.where(lines.is_minimum, force, 0.0)
    for row in np.nonzero((force > 1e-7) & ~lines.is_minimum)[0]:
        same = lines.is_minimum & (lines.pairs == lines.pairs[row]).all(axis=1)
        minima = np.nonzero(same)[0]
        if minima.size:
            away = np.linalg.norm(lines.point_2[minima] - lines.point_2[row], axis=1)
            gathered[minima[np.argmin(away)]] += force[row]
    return gathered


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
    force = _gather_force(lines, force)
    bears = force > 1e-7
    if not bears.any():
        return None
    free = np.nonzero(limit > 0)[0]
    pairs, near, load = lines.pairs[bears], lines.point_2[bears], force[bears]
    hold = np.vstack([lines.change[bears][:, free], lines.gauge[:, free]])
    _, sizes, basis = np.linalg.svd(hold, full_matrices=True)
    rank = int((sizes > 1e-9 * sizes[0]).sum())
    null = basis[rank:].T
    if not null.shape[1]:
        return None
    # Step onto the held gaps first, then balance within what is left.
    wanted = np.concatenate([-lines.gap[bears], np.zeros(lines.gauge.shape[0])])
    onto = np.linalg.lstsq(hold, wanted, rcond=1e-9)[0]
    base = load @ lines.change[bears]
    bend = np.zeros((null.shape[1], null.shape[1]))
    bend_onto = np.zeros(null.shape[1])
    full = np.zeros(len(limit))
    columns = [*null.T, onto]
    for column, direction in enumerate(columns):
        size = float(np.abs(direction).max())
        if size == 0.0:
            continue
        full[:] = 0.0
        full[free] = direction * (_STEP / size)
        turned = load @ _follow(move(poses, full), pairs, near)
        change = null.T @ (turned - base)[free] * (size / _STEP)
        if column < null.shape[1]:
            bend[:, column] = change
        else:
            bend_onto = change
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
