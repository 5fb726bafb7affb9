"""One step towards a goal: the linearised problem of a repeat, its solution, and the trust loop.

The unknowns of a repeat are, per ring, the centre and two tilts (a turn about its own axis changes
nothing), then the length of the first repeat vector, the width of the second and perhaps its lean,
perhaps the turn per repeat, and the aspect ratio. A step keeps every close place of every pair
apart to first order::

    gap + u·(δc_i + ω_i×(p − c_i)) − u·(δc_j + ω_j×(q − c_j)) − u·(change of the image shift) ≥ 0

with ``u`` the unit vector from ``q`` on ring j to ``p`` on ring i. The linear programme maximises a
:class:`Goal` within a trust box and is solved by HiGHS. Overlaps that the first order does not
see are removed by least-norm correction; a step counts only if the merit (goal minus overlap)
rises, every linking number stays, and the caller's own test of the poses holds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.weave.circles import plane_basis
from chainplan.weave.poses import find_approaches, find_links, turn_about_x

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy.typing as npt

    from chainplan.weave.poses import Poses

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int_]

OVERLAP_PRICE = 300.0
"""Merit lost per wire diameter of overlap; far above any force that a unit pull causes."""
STEP_PRICE = 1e-5
"""Merit lost per wire diameter that a ring moves: rings with no reason to move stay."""
_EXTRA = 5  # length, width, lean, turn, aspect ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """What a step is for: weights of the repeat's unknowns, and how much clearance is wanted.

    ``along`` and ``across`` weigh the two repeat lengths (negative: shorter is better), ``area``
    their product, ``ratio`` the aspect ratio (0 keeps it fixed). A positive ``clearance`` asks for
    that gap between all wires and weighs it by ``clearance_price``.
    """

    along: float = 0.0
    across: float = 0.0
    area: float = 0.0
    ratio: float = 0.0
    clearance: float = 0.0

    def value(self, poses: Poses) -> float:
        """Worth of poses, overlap and clearance left out."""
        length = float(poses.vectors[0, 0])
        width = float(poses.vectors[1, 1]) if poses.sheet else 0.0
        size = float(np.sqrt(abs(length * width)))
        return (
            self.along * length
            + self.across * width
            + self.area * size
            + self.ratio * poses.aspect_ratio
        )

    def slopes(self, poses: Poses) -> FloatArray:
        """Return how the worth grows with length, width, lean, turn and aspect ratio."""
        slope = np.zeros(_EXTRA)
        slope[0], slope[1], slope[4] = self.along, self.across, self.ratio
        if poses.sheet and self.area:
            length, width = float(poses.vectors[0, 0]), float(poses.vectors[1, 1])
            slope[0] += self.area * np.sqrt(width / length) / 2
            slope[1] += self.area * np.sqrt(length / width) / 2
        return slope


@dataclass(frozen=True, slots=True)
class Linearised:
    """Close places of a repeat and how each gap changes with the unknowns."""

    gap: FloatArray  # (rows,)
    change: FloatArray  # (rows, 5k + 5)
    gauge: FloatArray  # (g, 5k + 5), moves of the whole that must not happen


def _frames(poses: Poses) -> tuple[FloatArray, FloatArray]:
    """Tilt axes of every ring over its radius, so that a unit tilt moves the wire by 1."""
    u, v = plane_basis(poses.normal)
    radius = poses.mean_radius[:, None]
    return u / radius, v / radius


def linearise(poses: Poses, reach: float) -> Linearised:
    """List the places nearer than ``reach`` and their first-order change with every unknown."""
    pairs, gap, places = find_approaches(poses, reach, samples=True)
    at = pairs[places.pair]
    i, j, a, b = at.T
    p, q = places.point_1, places.point_2
    unit = (p - q) / np.maximum(places.distance, 1e-9)[:, None]
    rows, count = np.arange(len(gap)), poses.count
    change = np.zeros((len(gap), 5 * count + _EXTRA))
    tilt_u, tilt_v = _frames(poses)
    # Ring i as it stands.
    moment = np.cross(p - poses.centre[i], unit)
    for axis in range(3):
        np.add.at(change, (rows, 5 * i + axis), unit[:, axis])
    np.add.at(change, (rows, 5 * i + 3), np.einsum("ij,ij->i", tilt_u[i], moment))
    np.add.at(change, (rows, 5 * i + 4), np.einsum("ij,ij->i", tilt_v[i], moment))
    # The image of ring j, turned back into the frame of the repeat.
    back = turn_about_x(-a * poses.turn_rad)
    shift = a[:, None] * poses.vectors[0]
    if poses.sheet:
        shift = shift + b[:, None] * poses.vectors[1]
    local_q = np.einsum("pij,pj->pi", back, q - shift)
    local_unit = np.einsum("pij,pj->pi", back, unit)
    moment = np.cross(local_q - poses.centre[j], local_unit)
    for axis in range(3):
        np.add.at(change, (rows, 5 * j + axis), -local_unit[:, axis])
    np.add.at(change, (rows, 5 * j + 3), -np.einsum("ij,ij->i", tilt_u[j], moment))
    np.add.at(change, (rows, 5 * j + 4), -np.einsum("ij,ij->i", tilt_v[j], moment))
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
    out_i = np.einsum("ij,ij->i", unit, p - poses.centre[i]) / radius[i]
    out_j = np.einsum("ij,ij->i", local_unit, local_q - poses.centre[j]) / radius[j]
    change[:, -1] = (out_i * poses.inner_ratio[i] - out_j * poses.inner_ratio[j]) / 2
    return Linearised(gap, change, _gauge(poses))


def _gauge(poses: Poses) -> FloatArray:
    """List the moves of the whole that change nothing: shifts, a roll about a chain's axis."""
    count = poses.count
    shifts = (0,) if poses.turn_rad or poses.free_turn else (0, 1, 2)
    rows = []
    for axis in shifts:
        row = np.zeros(5 * count + _EXTRA)
        row[axis : 5 * count : 5] = 1.0
        rows.append(row)
    if not poses.sheet:
        tilt_u, tilt_v = _frames(poses)
        row = np.zeros(5 * count + _EXTRA)
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
    tilt_u, tilt_v = _frames(poses)
    turn = part[:, 3:4] * tilt_u + part[:, 4:5] * tilt_v
    angle = np.linalg.norm(turn, axis=1, keepdims=True)
    # A rotation by the full angle about an axis in the ring's plane.
    normal = np.cos(angle) * poses.normal + np.sinc(angle / np.pi) * np.cross(turn, poses.normal)
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


def _limits(poses: Poses, goal: Goal, trust: float) -> FloatArray:
    """Largest change of every unknown within the trust box; 0 for what is fixed."""
    limit = np.full(5 * poses.count + _EXTRA, trust)
    limit[-5] = trust * 2
    limit[-4] = trust * 2 if poses.sheet else 0.0
    limit[-3] = trust * 2 if poses.sheet and poses.free_shear else 0.0
    limit[-2] = trust / poses.mean_radius.max() if poses.free_turn else 0.0
    limit[-1] = trust if goal.ratio else 0.0
    return limit


def solve_step(
    poses: Poses, goal: Goal, lines: Linearised, trust: float
) -> tuple[FloatArray, float, float]:
    """Solve the linear programme of one step.

    Returns
    -------
    tuple
        The step, the merit gain that first order promises, and the overlap left (negative: the
        clearance won). [wire diameters]
    """
    from scipy.optimize import linprog
    from scipy.sparse import csr_matrix

    limit = _limits(poses, goal, trust)
    free = np.nonzero(limit > 0)[0]
    size = len(free)
    slope = np.zeros(len(limit))
    slope[-_EXTRA:] = goal.slopes(poses)
    change = lines.change[:, free]
    ones = np.ones((len(lines.gap), 1))
    overlap_price = 1.0 if goal.clearance else OVERLAP_PRICE
    cost = np.concatenate([-slope[free] + STEP_PRICE, slope[free] + STEP_PRICE, [overlap_price]])
    gauge = lines.gauge[:, free]
    bounds = np.zeros((2 * size + 1, 2))
    bounds[: 2 * size, 1] = np.tile(limit[free], 2)
    bounds[-1] = (-goal.clearance, np.inf)
    answer = linprog(
        cost,
        A_ub=csr_matrix(np.hstack([-change, change, -ones])),
        b_ub=lines.gap,
        A_eq=csr_matrix(np.hstack([gauge, -gauge, np.zeros((len(gauge), 1))])),
        b_eq=np.zeros(lines.gauge.shape[0]),
        bounds=bounds,
        method="highs-ds",
    )
    step = np.zeros(len(limit))
    if answer.x is None:
        return step, 0.0, overlap_of(lines.gap, goal)
    step[free] = answer.x[:size] - answer.x[size : 2 * size]
    overlap = float(answer.x[-1])
    gain = float(slope @ step) + overlap_price * (overlap_of(lines.gap, goal) - overlap)
    return step, gain, overlap


def overlap_of(gap: FloatArray, goal: Goal) -> float:
    """Largest overlap, or minus the clearance up to what the goal asks for."""
    least = float(gap.min()) if gap.size else np.inf
    return max(-least, -goal.clearance)


def restore(poses: Poses, *, times: int = 3, keep_ratio: bool = True) -> Poses:
    """Remove small overlaps by least-norm moves of the rings and the repeat."""
    for _ in range(times):
        lines = linearise(poses, 0.02)
        if not lines.gap.size or lines.gap.min() > -1e-10:
            break
        limit = _limits(poses, Goal(ratio=0.0 if keep_ratio else 1.0), 1.0)
        free = np.nonzero(limit > 0)[0]
        tight = lines.gap < 1e-9
        matrix = np.vstack([lines.change[tight][:, free], lines.gauge[:, free]])
        wanted = np.concatenate([1e-9 - lines.gap[tight], np.zeros(lines.gauge.shape[0])])
        answer = np.linalg.lstsq(matrix, wanted, rcond=1e-9)[0]
        step = np.zeros(len(limit))
        step[free] = answer
        largest = np.abs(step).max()
        if largest > 0.3:
            step *= 0.3 / largest
        poses = move(poses, step)
    return poses


@dataclass(frozen=True, slots=True)
class Pursuit:
    """How far the trust loop came."""

    poses: Poses
    overlap: float
    gain: float  # what first order still promises
    steps: int


def pursue(
    poses: Poses,
    goal: Goal,
    links: IntArray,
    *,
    accept: Callable[[Poses], bool] | None = None,
    trust: float = 0.15,
    steps: int = 200,
    tolerance: float = 1e-7,
) -> Pursuit:
    """Improve poses towards a goal until first order promises nothing more.

    Parameters
    ----------
    poses : Poses
        Start, with the declared links.
    goal : Goal
        What to maximise.
    links : array, shape (m, 4)
        The links that must stay, as ``order_links`` orders them.
    accept : callable, optional
        A further test that every step must pass (invariants of folded weaves).
    trust : float
        First bound on each move. [wire diameters]
    steps : int
        Most linear programmes to solve.
    tolerance : float
        Promised gain at which to stop. [wire diameters]
    """
    price = 1.0 if goal.clearance else OVERLAP_PRICE
    lines = linearise(poses, max(3 * trust, 0.05) + goal.clearance)
    merit = goal.value(poses) - price * overlap_of(lines.gap, goal)
    gain, done, radius = np.inf, 0, trust
    while done < steps:
        done += 1
        step, gain, _ = solve_step(poses, goal, lines, radius)
        if gain < tolerance:
            break
        trial = move(poses, step)
        if not goal.clearance:
            trial = restore(trial, keep_ratio=not goal.ratio)
        trial_lines = linearise(trial, max(3 * radius, 0.05) + goal.clearance)
        trial_merit = goal.value(trial) - price * overlap_of(trial_lines.gap, goal)
        good = trial_merit - merit
        if (
            good > 0.05 * gain
            and np.array_equal(find_links(trial), links)
            and (accept is None or accept(trial))
        ):
            poses, lines, merit = trial, trial_lines, trial_merit
            if good > 0.5 * gain:
                radius = min(2 * radius, trust)
        else:
            radius = min(radius, float(np.abs(step).max())) / 3
            if radius < 1e-9:
                break
    return Pursuit(poses, overlap_of(lines.gap, Goal()), gain, done)
