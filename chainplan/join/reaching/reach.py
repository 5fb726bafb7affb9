"""Which joins of one ring the electrode reaches, and how.

A *try* is a join angle on the ring together with an approach. It will do if

* the approach comes from outside the ring's own wire: the tip touches the wire where it faces the
  approach, and cone, shank and holder clear the rest of the ring;
* the two wires beside the join leave room for the molten spot and a margin;
* the electrode clears every other ring by the clearance asked for.

The tests run from cheap to dear, each on what the one before left over.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.join.reaching.clearance import (
    ACCURACY_MM,
    Pairs,
    distances_mm,
    find_gaps_mm,
    point_gaps_mm,
    point_wire_gaps_mm,
)
from chainplan.join.reaching.directions import list_directions
from chainplan.join.tuning import tuning

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.join.reaching.clearance import Circles
    from chainplan.join.reaching.electrode import Electrode
    from chainplan.join.reaching.surroundings import Surroundings


LEAST_ELEVATION_DEG = 30.0
"""Least angle between approach and wire surface; common practice, no source."""
_TOUCH_MM = 1e-6  # rounding of places of some hundred mm, with room


@frozen
class ReachRules:
    """What a try must leave free, in mm."""

    spot_mm: float
    margin_mm: float
    clearance_mm: float


@dataclass(frozen=True, slots=True)
class Tries:
    """Tries on one ring, a row each; the ring's centre is the origin of its class's frame."""

    angle: IndexArray  # (O,) index of the join angle, 0 … tuning().angles − 1
    direction: IndexArray  # (O,) index into list_directions()
    tip_mm: FloatArray  # (O, 3)
    axis: FloatArray  # (O, 3) unit vector towards the holder
    side: FloatArray  # (O, 3) unit vector from the wire's centre line to the tip

    @property
    def count(self) -> int:
        """Number of tries."""
        return int(self.angle.shape[0])

    def take(self, rows: IndexArray | BoolArray) -> Tries:
        """Return some of the tries, by index or mask."""
        return Tries(
            self.angle[rows],
            self.direction[rows],
            self.tip_mm[rows],
            self.axis[rows],
            self.side[rows],
        )


@dataclass(frozen=True, slots=True)
class ReachTable:
    """The tries of one ring that will do."""

    row: IndexArray  # (O,) row of each in the list of own tries, ascending
    tries: Tries
    clearance_mm: FloatArray  # (O,) right to clearance.ACCURACY_MM up to tuning().enough_mm
    spot_gap_mm: FloatArray  # (O,)


def ring_points(own: Circles) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Join points on the centre line, the wire's directions and outward directions, (angles, 3)."""
    angle = np.arange(tuning().angles) * (2 * math.pi / tuning().angles)
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    out = cos * own.u + sin * own.v
    return own.radius_mm * out, cos * own.v - sin * own.u, out


def list_own_tries(own: Circles, electrode: Electrode, *, clearance_mm: float) -> Tries:
    """List the tries that come from outside the ring's own wire and clear the rest of it.

    Notes
    -----
    The cone stays on its side of the plane that touches the wire at the tip as long as it stands
    steeper than its own half-angle. A ring lies wholly on the other side of that plane where the
    tip does not lean inward, so only inward approaches, and those whose holder dips below the
    plane, are checked against the ring's own circle.
    """
    points, along, out = ring_points(own)
    directions = list_directions()
    wire = float(own.wire_radius_mm[0])
    slide = along @ directions.T  # (tuning().angles, D)
    steepness = np.sqrt(np.maximum(1.0 - slide**2, 0.0))
    least = max(math.radians(LEAST_ELEVATION_DEG), electrode.half_angle_rad)
    angle, direction = np.nonzero(steepness >= math.sin(least) - 1e-12)
    axis = directions[direction]
    steep = steepness[angle, direction]
    side = (axis - slide[angle, direction][:, None] * along[angle]) / steep[:, None]
    tries = Tries(angle, direction, points[angle] + wire * side, axis, side)
    inward = np.einsum("ij,ij->i", side, out[angle]) < -1e-9
    lean = np.sqrt(np.maximum(1.0 - steep**2, 0.0))
    dips = electrode.stick_out_mm * steep < electrode.holder_radius_mm * lean
    doubtful = np.flatnonzero(inward | dips)
    if not doubtful.size:
        return tries
    samples = 3 * tuning().coarse_points
    found = distances_mm(
        electrode, tries.tip_mm[doubtful], tries.axis[doubtful], own.points_mm(samples)[0]
    )
    turn = np.abs(
        (np.arange(samples) / samples - tries.angle[doubtful][:, None] / tuning().angles + 0.5) % 1
        - 0.5
    )
    far = turn > 0.25
    gap = found - wire - np.where(far, clearance_mm, 0.0)
    good = np.ones(tries.count, dtype=bool)
    good[doubtful] = gap.min(axis=1) >= -_TOUCH_MM
    # What lies between the samples: the tip touches, so the smallest gap is 0 and no less.
    left = doubtful[good[doubtful]]
    ring = own.take(np.zeros(left.size, dtype=np.intp))
    pairs = Pairs(tries.tip_mm[left], tries.axis[left], ring)
    good[left] = find_gaps_mm(electrode, pairs) >= -ACCURACY_MM
    return tries.take(good)


def room_beside_mm(own: Circles, others: Circles) -> tuple[FloatArray, IndexArray]:
    """Room that the two wires beside each join leave, and which wires these are, in mm.

    Shapes (angles,) and (angles, 2). Infinite where there is no wire on one side; −1 then.
    """
    points, along, _ = ring_points(own)
    if others.count == 0:
        return np.full(tuning().angles, np.inf), np.full((tuning().angles, 2), -1)
    gap, nearest = point_gaps_mm(points, others)
    offset = nearest - points[:, None]
    length = np.maximum(np.linalg.norm(offset, axis=2), 1e-12)
    slide = np.einsum("pji,pi->pj", offset, along) / length
    total = np.zeros(tuning().angles)
    wires = np.full((tuning().angles, 2), -1)
    for column, sign in enumerate((1.0, -1.0)):
        beside = np.where(sign * slide >= tuning().beside_cosine, gap, np.inf)
        nearest_one = beside.argmin(axis=1)
        width = beside[np.arange(tuning().angles), nearest_one]
        total += width
        wires[:, column] = np.where(np.isfinite(width), nearest_one, -1)
    return total, wires


def find_reach(
    scene: Surroundings,
    own_tries: Tries,
    electrode: Electrode,
    rules: ReachRules,
    known: ReachTable | None = None,
) -> ReachTable:
    """Find the tries on one ring that will do.

    Parameters
    ----------
    scene : Surroundings
        The ring and the rings near it.
    own_tries : Tries
        From :func:`list_own_tries`.
    electrode : Electrode
        Its shape.
    rules : ReachRules
        What must be left free.
    known : ReachTable, optional
        What will do among more rings than these, all of these included: taking rings away cannot
        spoil it, so it is taken over as it is, its clearances and gaps being lower bounds.
    """
    near = _touching(scene)
    beside = scene.others.take(near)
    room, _ = room_beside_mm(scene.own, beside)
    open_rows = room[own_tries.angle] >= rules.spot_mm + rules.margin_mm
    if known is not None:
        open_rows[known.row] = False
    row = np.flatnonzero(open_rows)
    row = row[_coarsely_clear(own_tries.take(row), beside, electrode, rules.clearance_mm)]
    tries = own_tries.take(row)
    clearance = find_clearance_mm(tries, scene.others, electrode, enough_mm=tuning().enough_mm)
    good = clearance >= rules.clearance_mm
    row, tries, clearance = row[good], tries.take(good), clearance[good]
    points, _, _ = ring_points(scene.own)
    spot_gap = np.minimum(
        point_wire_gaps_mm(points, beside)[tries.angle], point_wire_gaps_mm(tries.tip_mm, beside)
    )
    spot_gap = np.minimum(spot_gap, electrode.stick_out_mm)
    if known is not None:
        row = np.concatenate([known.row, row])
        clearance = np.concatenate([known.clearance_mm, clearance])
        spot_gap = np.concatenate([known.spot_gap_mm, spot_gap])
        order = np.argsort(row)
        row, clearance, spot_gap = row[order], clearance[order], spot_gap[order]
    return ReachTable(row, own_tries.take(row), clearance, spot_gap)


def _touching(scene: Surroundings) -> IndexArray:
    """Rows of the rings so near that they can stand beside the ring's wire."""
    own_reach = float(scene.own.radius_mm[0] + 4 * scene.own.wire_radius_mm[0])
    distance = np.linalg.norm(scene.others.centre_mm, axis=1)
    return np.flatnonzero(
        distance <= own_reach + scene.others.radius_mm + 2 * scene.others.wire_radius_mm
    )


def _coarsely_clear(
    tries: Tries, circles: Circles, electrode: Electrode, clearance_mm: float
) -> BoolArray:
    """Mark the tries that hit no sampled point of a near ring; the others surely hit the ring."""
    clear = np.ones(tries.count, dtype=bool)
    left = np.arange(tries.count)
    tip, axis = tries.tip_mm.astype(np.float32), tries.axis.astype(np.float32)
    foot = np.einsum("ij,ij->i", tip, axis)[:, None]
    far = np.einsum("ij,ij->i", tip, tip)[:, None]
    for row in range(0, circles.count, tuning().rings_at_once):
        if not left.size:
            break
        group = circles.take(np.arange(row, min(row + tuning().rings_at_once, circles.count)))
        points = group.points_mm(tuning().coarse_points).reshape(-1, 3).astype(np.float32)
        height = axis[left] @ points.T
        height -= foot[left]
        square = tip[left] @ points.T
        square *= np.float32(-2.0)
        square += far[left] + np.einsum("ij,ij->i", points, points)
        square -= height * height
        within = float(group.wire_radius_mm.min()) + clearance_mm
        bad = electrode.surely_hits(height, square, within).any(axis=1)
        clear[left[bad]] = False
        left = left[~bad]
    return clear


def find_clearance_mm(
    tries: Tries, circles: Circles, electrode: Electrode, *, enough_mm: float
) -> FloatArray:
    """Smallest gap between the electrode and any of the rings for each try, shape (O,), in mm.

    Rings whose surrounding ball is farther from the electrode than ``enough_mm`` are not looked
    at; where there is no nearer ring the result is ``enough_mm``.
    """
    clearance = np.full(tries.count, enough_mm)
    if not tries.count or not circles.count:
        return clearance
    from_centre = distances_mm(electrode, tries.tip_mm, tries.axis, circles.centre_mm)
    floor = from_centre - circles.radius_mm - circles.wire_radius_mm
    placing, circle = np.nonzero(floor < enough_mm)
    pairs = Pairs(tries.tip_mm[placing], tries.axis[placing], circles.take(circle))
    gaps = find_gaps_mm(electrode, pairs, enough_mm=enough_mm, group=placing)
    np.minimum.at(clearance, placing, gaps)
    return clearance


def find_blockers(
    scene: Surroundings, tries: Tries, electrode: Electrode, rules: ReachRules
) -> tuple[int, ...]:
    """Find a few rings that between them stand in the way of every one of some tries.

    Returns
    -------
    tuple of int
        Rows of ``scene.others``, the one that blocks most first: together they block every try
        that any ring blocks. Empty where no ring is in the way.
    """
    if not tries.count or not scene.others.count:
        return ()
    near = _touching(scene)
    room, wires = room_beside_mm(scene.own, scene.others.take(near))
    others = scene.others
    from_centre = distances_mm(electrode, tries.tip_mm, tries.axis, others.centre_mm)
    floor = from_centre - others.radius_mm - others.wire_radius_mm
    placing, circle = np.nonzero(floor < rules.clearance_mm)
    pairs = Pairs(tries.tip_mm[placing], tries.axis[placing], others.take(circle))
    gaps = find_gaps_mm(electrode, pairs, enough_mm=rules.clearance_mm)
    blocked = np.zeros((tries.count, others.count), dtype=bool)
    blocked[placing, circle] = gaps < rules.clearance_mm
    narrow = np.flatnonzero(room[tries.angle] < rules.spot_mm + rules.margin_mm)
    for column in range(2):
        wire = wires[tries.angle[narrow], column]
        present = wire >= 0
        blocked[narrow[present], near[wire[present]]] = True
    chosen: list[int] = []
    blocked = blocked[blocked.any(axis=1)]
    while blocked.shape[0]:
        worst = int(blocked.sum(axis=0).argmax())
        chosen.append(worst)
        blocked = blocked[~blocked[:, worst]]
    return tuple(chosen)
