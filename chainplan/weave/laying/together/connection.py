"""Where a connecting ring hangs between two sections: searched for, in both ends, without overlap.

The connecting ring's plane holds the piece's axis (x), so its pose is a place and one angle about
that axis. Each end is searched by itself for the place farthest out at which the ring links with
exactly the end's outer rings and overlaps nothing: a grid, then smaller and smaller random steps
(seeded), then a bisection to contact. A chain that follows is rolled about its axis until the two
angles agree; a sheet stays flat, so one angle serves both ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from chainplan.weave.shape.circles import CentreLines, closest_approach, linking_number
from chainplan.weave.solving.continuation import OVERLAP_ALLOWED
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.weave.tuning import WeaveTuning


@dataclass(frozen=True, slots=True)
class End:
    """Rings near one end of a section, the end pointing towards +x, and which are to be linked."""

    centre: FloatArray  # (n, 3)
    normal: FloatArray  # (n, 3)
    radius: FloatArray  # (n,)
    wire: FloatArray  # (n,)
    linked: BoolArray  # (n,)

    def mirrored(self) -> End:
        """Return the end seen from the other side: x reversed."""
        flip = np.array([-1.0, 1.0, 1.0], dtype=np.float64)
        return End(self.centre * flip, self.normal * flip, self.radius, self.wire, self.linked)


@dataclass(frozen=True, slots=True)
class Hang:
    """Best place of a connecting ring in one end, a row an angle: place, gap, worth."""

    centre: FloatArray  # (angles, 3)
    gap: FloatArray  # (angles,)
    worth: FloatArray  # (angles,), x where clean, far below zero where not

    @property
    def clean(self) -> BoolArray:
        """At which angles the ring hangs without overlap, linked as it should be."""
        good: BoolArray = self.worth > _NOT_CLEAN
        return good

    @property
    def is_clean(self) -> bool:
        """Whether it does at some angle."""
        return bool(self.clean.any())


_NOT_CLEAN = -1e5  # worth below which a place overlaps something


def list_angles() -> FloatArray:
    """Angles about x that are searched. [rad]."""
    return np.linspace(0.0, np.pi, tuning().hang_angles, endpoint=False)


def measure_fit(
    end: End, centre: FloatArray, angle: FloatArray, radius: float, wire: float
) -> tuple[FloatArray, BoolArray]:
    """Least gap of each trial ring to the end's rings, and whether it links as it should.

    Rings too far away to touch count with what their centres alone say: a gap above zero, which
    is no more than the true one.
    """
    shape = (len(centre), len(end.radius))
    touch = (wire + end.wire) / 2
    apart = np.linalg.norm(centre[:, None] - end.centre, axis=2)
    gap = apart - (radius + end.radius + touch)
    trial, other = np.nonzero(gap <= 0)
    normal = np.column_stack([np.zeros(len(centre)), -np.sin(angle), np.cos(angle)])
    tried = CentreLines(centre[trial], normal[trial], np.full(len(trial), radius))
    beside = CentreLines(end.centre[other], end.normal[other], end.radius[other])
    linked = np.zeros(shape, dtype=bool)
    linked[trial, other] = linking_number(tried, beside) != 0
    right: BoolArray = (linked == end.linked).all(axis=1)
    rows = right[trial]
    trial, other = trial[rows], other[rows]
    distance = closest_approach(tried.pick(rows), beside.pick(rows))[0]
    gap[trial, other] = distance - touch[other]
    return np.where(right, gap.min(axis=1), -np.inf), right


def _worth(gap: FloatArray, x: FloatArray, wire: float) -> FloatArray:
    """Farther out is better among clean places; otherwise the larger gap is."""
    clean = gap >= -OVERLAP_ALLOWED * wire
    return np.where(clean, x, np.where(np.isfinite(gap), gap * 1e3 - 1e6, -1e12))


def hang_ring(end: End, radius: float, wire: float) -> Hang:
    """Search the place farthest out for a connecting ring, at each angle.

    Parameters
    ----------
    end : End
        The end, pointing towards +x.
    radius, wire : float
        Mean radius and wire diameter of the connecting ring, in the end's unit.
    """
    parts = (end.centre, end.normal, end.radius, end.wire)
    written = tuple(np.asarray(part, dtype=np.float64).tobytes() for part in parts)
    return _search_place((*written, end.linked.tobytes()), radius, wire, tuning())


@lru_cache(maxsize=64)
def _search_place(parts: tuple[bytes, ...], radius: float, wire: float, _by: WeaveTuning) -> Hang:
    """Search for a ring's place in an end written as bytes: ends of one piece are often alike."""
    centre, normal, radii, wires = (np.frombuffer(part) for part in parts[:4])
    linked = np.frombuffer(parts[4], dtype=np.bool_)
    end = End(centre.reshape(-1, 3), normal.reshape(-1, 3), radii, wires, linked)
    angles = list_angles()
    goal = end.linked
    edge = (end.centre[:, 0] + end.radius * np.sqrt(1 - end.normal[:, 0] ** 2))[goal].max()
    middle = end.centre[goal].mean(axis=0)
    x = np.linspace(edge - 0.4 * radius, edge + radius, 20)
    side = np.array([-1.6, -0.8, 0.0, 0.8, 1.6]) * wire
    grid = np.stack(np.meshgrid(x, side + middle[1], side + middle[2], indexing="ij"), axis=-1)
    places = grid.reshape(-1, 3)
    best = np.zeros((tuning().hang_angles, 3))
    best_gap, best_worth = (
        np.full(tuning().hang_angles, -np.inf),
        np.full(tuning().hang_angles, -1e12),
    )

    def keep(number: int, centre: FloatArray, gap: FloatArray) -> None:
        worth = _worth(gap, centre[:, 0], wire)
        top = int(np.argmax(worth))
        if worth[top] > best_worth[number]:
            best[number], best_gap[number] = centre[top], gap[top]
            best_worth[number] = worth[top]

    for number, angle in enumerate(angles):
        gap, _ = measure_fit(end, places, np.full(len(places), angle), radius, wire)
        keep(number, places, gap)
    rng = np.random.default_rng(1)
    size = 0.4 * wire
    for _ in range(tuning().hang_rounds):
        step = rng.normal(scale=size, size=(tuning().hang_angles, tuning().hang_tries, 3))
        trial = best[:, None, :] + step
        gap, _ = measure_fit(
            end, trial.reshape(-1, 3), np.repeat(angles, tuning().hang_tries), radius, wire
        )
        for number in range(tuning().hang_angles):
            keep(
                number,
                trial[number],
                gap.reshape(tuning().hang_angles, tuning().hang_tries)[number],
            )
        size /= 2
    _touch(end, best, best_gap, best_worth, radius, wire)
    return Hang(best, best_gap, best_worth)


def _touch(
    end: End, best: FloatArray, gap: FloatArray, worth: FloatArray, radius: float, wire: float
) -> None:
    """Move every clean place outwards along x until the ring touches, by bisection."""
    angles = list_angles()
    low, high = np.zeros(tuning().hang_angles), np.full(tuning().hang_angles, 0.3 * wire)
    for _ in range(30):
        step = (low + high) / 2
        trial = best + step[:, None] * np.array([1.0, 0.0, 0.0])
        found, _ = measure_fit(end, trial, angles, radius, wire)
        clean = found >= -OVERLAP_ALLOWED * wire
        low, high = np.where(clean, step, low), np.where(clean, high, step)
    moved = worth > _NOT_CLEAN
    best[moved, 0] += low[moved]
    worth[moved] += low[moved]
    gap[moved] = np.minimum(gap[moved], 0.0)


@dataclass(frozen=True, slots=True)
class Connection:
    """A connecting ring between two ends, and how the second section is moved to meet it."""

    centre: FloatArray  # (3,)
    normal: FloatArray  # (3,)
    roll_rad: float  # of the second section about x, before the shift
    shift: FloatArray  # (3,), of the second section
    gap: float


def connect_ends(one: Hang, two: Hang, *, may_roll: bool) -> Connection:
    """Match where a connecting ring hangs in the end of one section and the start of the next.

    Parameters
    ----------
    one, two : Hang
        Of the earlier section's end, and of the later section's start seen mirrored.
    may_roll : bool
        Whether the later section may be rolled about x: a chain may, a sheet lies flat.
    """
    angles = list_angles()
    if may_roll:
        here, there = int(np.argmax(one.worth)), int(np.argmax(two.worth))
    else:
        here = there = int(np.argmax(one.worth + two.worth))
    roll = float(angles[here] - angles[there])
    cos, sin = np.cos(roll), np.sin(roll)
    turn = np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])
    theirs = two.centre[there] * np.array([-1.0, 1.0, 1.0])
    return Connection(
        centre=one.centre[here],
        normal=np.array([0.0, -np.sin(angles[here]), np.cos(angles[here])]),
        roll_rad=roll,
        shift=one.centre[here] - turn @ theirs,
        gap=float(min(one.gap[here], two.gap[there])),
    )
