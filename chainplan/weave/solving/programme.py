"""Towards a goal in steps: a linear programme in a trust box, a Newton step, a correction, a test.

Each step keeps every close place of every pair apart to first order (``linearised.py``), maximises
a :class:`Goal` within a trust box by HiGHS, and removes by least-norm correction the overlaps that
first order does not see. Near the end the places that bear load are known, and a Newton step on
them (``newton.py``) closes in where linear steps would go to and fro. A step counts only if the
merit (goal minus overlap) rises, every linking number stays, and the caller's own test holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.weave.shape.poses import find_links
from chainplan.weave.solving.linearised import EXTRA, linearise, move
from chainplan.weave.solving.newton import newton_step
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.weave.shape.poses import Poses
    from chainplan.weave.solving.linearised import Linearised


@frozen
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
        slope = np.zeros(EXTRA)
        slope[0], slope[1], slope[4] = self.along, self.across, self.ratio
        if poses.sheet and self.area:
            length, width = float(poses.vectors[0, 0]), float(poses.vectors[1, 1])
            slope[0] += self.area * np.sqrt(width / length) / 2
            slope[1] += self.area * np.sqrt(length / width) / 2
        return slope


def _limits(poses: Poses, goal: Goal, trust: float) -> FloatArray:
    """Largest change of every unknown within the trust box; 0 for what is fixed."""
    limit = np.full(5 * poses.count + EXTRA, trust)
    limit[-5] = trust * 2
    limit[-4] = trust * 2 if poses.sheet else 0.0
    limit[-3] = trust * 2 if poses.sheet and poses.free_shear else 0.0
    limit[-2] = trust / poses.mean_radius.max() if poses.free_turn else 0.0
    limit[-1] = trust if goal.ratio else 0.0
    return limit


@dataclass(frozen=True, slots=True)
class LinearStep:
    """What the linear programme of one step answers."""

    move: FloatArray  # (5k + 5,) change of every unknown
    gain: float  # merit that first order promises
    force: FloatArray  # (rows,) ≥ 0, what each place bears per unit of the goal


def solve_step(poses: Poses, goal: Goal, lines: Linearised, trust: float) -> LinearStep:
    """Solve the linear programme of one step."""
    slope = np.zeros(5 * poses.count + EXTRA)
    slope[-EXTRA:] = goal.slopes(poses)
    return _solve(poses, goal, slope, lines, trust)


def solve_towards(poses: Poses, slope: FloatArray, lines: Linearised, trust: float) -> FloatArray:
    """Find the step that goes farthest along a slope of all unknowns at a fixed aspect ratio."""
    return _solve(poses, Goal(along=1.0), slope, lines, trust).move


def _solve(
    poses: Poses, goal: Goal, slope: FloatArray, lines: Linearised, trust: float
) -> LinearStep:
    """Solve the linear programme of one step along a slope."""
    from scipy.optimize import linprog
    from scipy.sparse import csr_matrix

    limit = _limits(poses, goal, trust)
    free = np.nonzero(limit > 0)[0]
    size = len(free)
    change = lines.change[:, free]
    ones = np.ones((len(lines.gap), 1))
    overlap_price = 1.0 if goal.clearance else tuning().overlap_price
    cost = np.concatenate(
        [-slope[free] + tuning().step_price, slope[free] + tuning().step_price, [overlap_price]]
    )
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
        options={"presolve": False},  # small programmes: dearer than what it saves
    )
    step = np.zeros(len(limit))
    if answer.x is None:
        return LinearStep(step, 0.0, np.zeros(len(lines.gap)))
    step[free] = answer.x[:size] - answer.x[size : 2 * size]
    overlap = float(answer.x[-1])
    gain = float(slope @ step) + overlap_price * (overlap_of(lines.gap, goal) - overlap)
    return LinearStep(step, gain, -np.asarray(answer.ineqlin.marginals, dtype=float))


def overlap_of(gap: FloatArray, goal: Goal) -> float:
    """Largest overlap, or minus the clearance up to what the goal asks for."""
    least = float(gap.min()) if gap.size else np.inf
    return max(-least, -goal.clearance)


def restore(poses: Poses, *, times: int = 3, keep_ratio: bool = True) -> Poses:
    """Remove small overlaps by least-norm moves of the rings and the repeat; the best state counts.

    Where rings nestle along arcs a move may shift the overlap instead of removing it, so the state
    with the least overlap of all those visited is handed back.
    """
    return _restore(poses, 0.02, times=times, keep_ratio=keep_ratio)[0]


def _restore(
    poses: Poses, reach: float, *, times: int = 3, keep_ratio: bool = True
) -> tuple[Poses, Linearised]:
    """Remove small overlaps, and return the places nearer than ``reach`` too."""
    visited: list[tuple[float, Poses, Linearised]] = []
    for turn in range(times + 1):
        lines = linearise(poses, reach)
        gap = float(lines.gap.min()) if lines.gap.size else 0.0
        if not visited or gap > visited[-1][0]:
            visited.append((gap, poses, lines))
        if gap > -tuning().clean_overlap or turn == times:
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
    return visited[-1][1:]


@dataclass(frozen=True, slots=True)
class Pursuit:
    """How far the trust loop came."""

    poses: Poses
    overlap: float
    gain: float  # what first order still promises
    steps: int
    clean: Poses | None  # the last ones on the way without overlap


def pursue(
    poses: Poses,
    goal: Goal,
    links: IndexArray,
    *,
    accept: Callable[[Poses], bool] | None = None,
    trust: float = 0.15,
    steps: int = 200,
    tolerance: float = 1e-7,
    stall: float = 1e-5,
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
    stall : float
        Share of the worth that eight steps together must win for the loop to go on.

    Notes
    -----
    Where rings nestle along arcs the way to the very best state is long and flat. The loop
    therefore also ends when eight steps together won less than that share; what first
    order still promises is handed back as ``gain``.
    """
    price = 1.0 if goal.clearance else tuning().overlap_price

    def look(trial: Poses, radius: float, *, clear: bool) -> tuple[Poses, Linearised, float]:
        reach = max(3 * radius, 0.05) + goal.clearance
        if clear and not goal.clearance:
            trial, lines = _restore(trial, reach, keep_ratio=not goal.ratio)
        else:
            lines = linearise(trial, reach)
        return trial, lines, goal.value(trial) - price * overlap_of(lines.gap, goal)

    def stays(trial: Poses) -> bool:
        return np.array_equal(find_links(trial), links) and (accept is None or accept(trial))

    poses, lines, merit = look(poses, trust, clear=False)
    clean = poses if overlap_of(lines.gap, goal) < tuning().clean_overlap else None
    gain, done, radius = np.inf, 0, trust
    merits = [merit]
    while done < steps:
        done += 1
        if done > tuning().stall_steps and merit - merits[-tuning().stall_steps] < stall * max(
            abs(merit), 1.0
        ):
            break
        merits.append(merit)
        step = solve_step(poses, goal, lines, radius)
        gain = step.gain
        if gain < tolerance:
            break
        moves = [step.move]
        if not goal.clearance and gain < tuning().newton_gain:
            limit = _limits(poses, goal, 1.0)
            finer = newton_step(poses, lines, step.force, goal.slopes(poses), limit, radius)
            if finer is not None:
                moves.insert(0, finer)
        trial, trial_lines, trial_merit = look(move(poses, moves[0]), radius, clear=True)
        if len(moves) > 1 and trial_merit - merit < tuning().good_share * gain:
            other = look(move(poses, moves[1]), radius, clear=True)
            if other[2] > trial_merit:
                trial, trial_lines, trial_merit = other
        good = trial_merit - merit
        if good > 0.05 * gain and stays(trial):
            poses, lines, merit = trial, trial_lines, trial_merit
            if overlap_of(lines.gap, goal) < tuning().clean_overlap:
                clean = poses
            if good > tuning().good_share * gain:
                radius = min(2 * radius, trust)
        else:
            radius = min(radius, float(np.abs(step.move).max())) / 3
            if radius < 1e-9:
                break
    return Pursuit(poses, overlap_of(lines.gap, Goal()), gain, done, clean)
