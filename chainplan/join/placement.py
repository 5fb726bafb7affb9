"""Choosing a join for every class of rings: where it lies, from where, and on which faces it may.

All rings of a class at the same turn about the piece's axis get the same join, and rings near an
end get that of their fellows in the interior wherever it will do, so that the bench sheet can be
followed. One such group is a *cell*.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.join.reaching.clearance import point_wire_gaps_mm
from chainplan.join.reaching.directions import UPPER, classify_sides, list_directions
from chainplan.join.reaching.reach import (
    find_blockers,
    find_clearance_mm,
    find_reach,
    list_own_tries,
    ring_points,
    room_beside_mm,
)
from chainplan.join.tuning import tuning

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.join.cells import Cells, Workplace
    from chainplan.join.reaching.reach import ReachTable, Tries
    from chainplan.join.reaching.surroundings import Neighbourhood, RingClasses, Surroundings
    from chainplan.model.piece.layout import Layout


_SIDE_BINS = 24  # of 15° round the wire, as fine as the directions of the electrode
_OPPOSITE = tuple(range(9, 16))  # bins of 15° that surely lie 120° to 240° round the wire


def fill_cells(
    cells: Cells,
    layout: Layout,
    classes: RingClasses,
    neighbourhood: Neighbourhood,
    workplace: Workplace,
) -> None:
    """Work out reach for every class and choose the best try of every cell and face."""
    leads = np.lexsort((np.arange(classes.count), ~classes.interior, classes.family))
    rows_of = np.argsort(cells.ring_class, kind="stable")
    limits = np.searchsorted(cells.ring_class[rows_of], np.arange(classes.count + 1))
    lead: _Lead | None = None
    for ring_class in leads.tolist():
        ring = int(classes.representative[ring_class])
        scene = neighbourhood.around(ring, float(classes.phase_rad[ring]))
        section, spot = int(layout.section[ring]), int(classes.spot[ring_class])
        family = int(classes.family[ring_class])
        if lead is None or family != lead.family:
            own_tries = list_own_tries(
                scene.own, workplace.electrode, clearance_mm=workplace.rules[spot].clearance_mm
            )
            lead = _Lead(family=family, u=scene.own.u, v=scene.own.v, own_tries=own_tries)
        scene = replace(scene, own=replace(scene.own, u=lead.u, v=lead.v))
        rows = rows_of[limits[ring_class] : limits[ring_class + 1]]
        job = _ClassJob(
            scene=scene,
            table=find_reach(
                scene,
                lead.own_tries,
                workplace.electrode,
                workplace.rules[spot],
                lead.table if lead.scene is not None and scene.within(lead.scene) else None,
            ),
            own_tries=lead.own_tries,
            section=section,
            spot=spot,
            workplace=workplace,
            lead=lead,
        )
        if lead.scene is None:
            lead.scene, lead.table = scene, job.table
        _choose(cells, rows, int(ring_class), job)


@dataclass(slots=True)
class _Lead:
    """What the leading class of a family hands on to the others."""

    family: int
    u: FloatArray
    v: FloatArray
    own_tries: Tries
    scene: Surroundings | None = None
    table: ReachTable | None = None
    chosen: dict[tuple[int, int], int] | None = None


@dataclass(frozen=True, slots=True)
class _ClassJob:
    """One class at work."""

    scene: Surroundings
    table: ReachTable
    own_tries: Tries
    section: int
    spot: int
    workplace: Workplace
    lead: _Lead

    @property
    def wants_two_sides(self) -> bool:
        wire_mm = 2 * float(self.scene.own.wire_radius_mm[0])
        return wire_mm >= self.workplace.two_sides_from_mm - 1e-9


def _choose(cells: Cells, rows: IndexArray, ring_class: int, job: _ClassJob) -> None:
    """Choose the best try for every cell (row) of a class and every face."""
    tries, phase = job.table.tries, cells.phase_rad[rows]
    height = cells.height_mm[rows]
    faces, upright = _faces(tries, phase, height, job)
    opposite = _has_opposite(tries, faces, job.scene)
    score = _base_score(job)[None] + _view_score(tries, faces, upright, phase, job.scene)
    if job.wants_two_sides:
        score = score + tuning().two_sides_weight * opposite
    score = np.round(score, 6)
    code = tries.angle * len(list_directions()) + tries.direction
    leading = job.lead.chosen is None
    if leading:
        job.lead.chosen = {}
    chosen = np.full((rows.size, 4), -1)
    for face in range(4):
        fits = faces == face
        if not tries.count or not fits.any():
            continue
        values = np.where(fits, score, -np.inf)
        best = values.argmax(axis=1)
        best = _keep_lead(best, fits, code, face, phase, job.lead, leading=leading)
        reached = fits.any(axis=1)
        chosen[reached, face] = best[reached]
        cells.score[rows[reached], face] = values[reached, best[reached]]
    _record(cells, rows, chosen, faces, score, job)
    row, side = np.nonzero(chosen >= 0)
    cells.both_sides[rows[row], side] = opposite[row, chosen[row, side]]
    if job.wants_two_sides:
        cells.both_sides[rows] = np.isfinite(cells.other_score[rows]).any(axis=2)
    _find_quiet_place(cells, rows, job)
    unreached = ~cells.reached[rows]
    if unreached.any():
        first = np.flatnonzero(unreached)[:1]
        own_faces, _ = _faces(job.own_tries, phase[first], height[first], job)
        tried = job.own_tries.take(own_faces[0] >= 0)
        found = find_blockers(
            job.scene, tried, job.workplace.electrode, job.workplace.rules[job.spot]
        )
        others = job.scene.others.take(np.array(found, dtype=np.intp))
        cells.blockers[ring_class] = others.centre_mm, others.normal


def _keep_lead(
    best: IndexArray,
    fits: BoolArray,
    code: IndexArray,
    face: int,
    phase: FloatArray,
    lead: _Lead,
    *,
    leading: bool,
) -> IndexArray:
    """Take the leading class's choice at the same turn and face where it will do."""
    assert lead.chosen is not None
    best = best.copy()
    names = np.round(phase * 1e6).astype(np.int64).tolist()
    if leading:
        for row, name in enumerate(names):
            if fits[row, best[row]]:
                lead.chosen[name, face] = int(code[best[row]])
        return best
    for row, name in enumerate(names):
        wanted = lead.chosen.get((name, face))
        if wanted is None:
            continue
        same = np.flatnonzero(code == wanted)
        if same.size and fits[row, same[0]]:
            best[row] = same[0]
    return best


def _faces(
    tries: Tries, phase: FloatArray, centre_mm: FloatArray, job: _ClassJob
) -> tuple[npt.NDArray[np.int8], FloatArray]:
    """Face of every try at every phase, shape (P, O), and how upright it is."""
    sin, cos = np.sin(phase)[:, None], np.cos(phase)[:, None]
    upright = sin * tries.axis[:, 1] + cos * tries.axis[:, 2]
    height = centre_mm[:, None] + sin * tries.tip_mm[:, 1] + cos * tries.tip_mm[:, 2]
    workplace = job.workplace
    faces = classify_sides(
        workplace.electrode,
        upright,
        cos * tries.axis[:, 1] - sin * tries.axis[:, 2],
        height,
        lowest_mm=float(workplace.lowest_mm[job.section]),
        highest_mm=float(workplace.highest_mm[job.section]),
        held_in_air=workplace.held_in_air,
    )
    return faces, upright


def _base_score(job: _ClassJob) -> FloatArray:
    """Score of each try apart from its lean: far from contacts, clear, free to slip a little."""
    table, rules = job.table, job.workplace.rules[job.spot]
    radius = rules.spot_mm / 2
    spot = table.spot_gap_mm / radius
    spot = np.minimum(spot, 2.0) + tuning().spot_more * spot
    clear = np.minimum(table.clearance_mm / tuning().enough_mm, 1.0)
    free = np.bincount(table.tries.angle, minlength=tuning().angles) > 0
    steps = np.arange(-tuning().arc_steps, tuning().arc_steps + 1)
    slip = free[(np.arange(tuning().angles)[:, None] + steps) % tuning().angles].mean(axis=1)
    _, _, out = ring_points(job.scene.own)
    inward = np.einsum("ij,ij->i", table.tries.side, out[table.tries.angle])
    score: FloatArray = (
        tuning().spot_weight * spot
        + tuning().clearance_weight * clear
        + tuning().arc_weight * slip[table.tries.angle]
        + tuning().inward_weight * np.minimum(inward, 0.0)
    )
    return score


def _view_score(
    tries: Tries,
    faces: npt.NDArray[np.int8],
    upright: FloatArray,
    phase: FloatArray,
    scene: Surroundings,
) -> FloatArray:
    """Score of each try at each phase, (P, O): upright, on top, and of equals always the same."""
    points, _, _ = ring_points(scene.own)
    points = points[tries.angle] / scene.own.radius_mm
    sin, cos = np.sin(phase)[:, None], np.cos(phase)[:, None]
    top = (sin * points[:, 1] + cos * points[:, 2]) * np.sign(upright)
    lean = np.where(faces >= UPPER, np.abs(upright), 1.0 - np.abs(upright))
    sideways = cos * tries.axis[:, 1] - sin * tries.axis[:, 2]
    tie = tuning().tie_weight * (sideways + 0.5 * tries.axis[:, 0])
    score: FloatArray = (
        tie
        - tuning().lean_weight * lean
        + np.where(faces >= UPPER, -tuning().edge_weight, tuning().top_weight * top)
    )
    return score


def _side_bins(tries: Tries, scene: Surroundings) -> IndexArray:
    """Return the 15° bin, round the wire, of the side that each try touches."""
    _, _, out = ring_points(scene.own)
    normal = scene.own.normal[0]
    turn = np.arctan2(tries.side @ normal, np.einsum("ij,ij->i", tries.side, out[tries.angle]))
    bins: IndexArray = np.round(turn * _SIDE_BINS / (2 * math.pi)).astype(np.intp) % _SIDE_BINS
    return bins


def _has_opposite(tries: Tries, faces: npt.NDArray[np.int8], scene: Surroundings) -> BoolArray:
    """Whether the same join can be reached from the other side of the wire too, shape (P, O)."""
    if not tries.count:
        return np.zeros(faces.shape, dtype=bool)
    bins = _side_bins(tries, scene)
    phases = faces.shape[0]
    present = np.zeros((phases, tuning().angles * _SIDE_BINS), dtype=bool)
    slot = tries.angle * _SIDE_BINS + bins
    row, column = np.nonzero(faces >= 0)
    present[row, slot[column]] = True
    around = present.reshape(phases, tuning().angles, _SIDE_BINS)
    across = np.zeros_like(around)
    for shift in _OPPOSITE:
        across |= np.roll(around, shift, axis=2)
    opposite: BoolArray = across.reshape(phases, -1)[:, slot]
    return opposite


def _record(
    cells: Cells,
    rows: IndexArray,
    chosen: IndexArray,
    faces: npt.NDArray[np.int8],
    score: FloatArray,
    job: _ClassJob,
) -> None:
    """Write the chosen tries into the cells, with exact clearances and gaps."""
    row, face = np.nonzero(chosen >= 0)
    if not row.size:
        return
    tries, scene = job.table.tries, job.scene
    picked = chosen[row, face]
    unique, of_picked = np.unique(picked, return_inverse=True)
    some = tries.take(unique)
    points, _, _ = ring_points(scene.own)
    clearance = find_clearance_mm(
        some, scene.others, job.workplace.electrode, enough_mm=job.workplace.search_mm
    )
    from_middle = point_wire_gaps_mm(points[some.angle], scene.others)
    gap = np.minimum(from_middle, point_wire_gaps_mm(some.tip_mm, scene.others))
    air = np.maximum(from_middle - float(scene.own.wire_radius_mm[0]), 0.0)
    at = rows[row]
    cells.join_mm[at, face] = points[tries.angle[picked]]
    cells.axis[at, face] = tries.axis[picked]
    cells.clearance_mm[at, face] = clearance[of_picked]
    cells.spot_gap_mm[at, face] = np.minimum(gap, job.workplace.search_mm)[of_picked]
    cells.air_mm[at, face] = np.minimum(air, job.workplace.search_mm)[of_picked]
    cells.free_arc_rad[at, face] = _free_arc(tries, faces)[row, tries.angle[picked]]
    if job.wants_two_sides:
        _record_others(cells, at, face, row, picked, tries, faces, score)


def _free_arc(tries: Tries, faces: npt.NDArray[np.int8]) -> FloatArray:
    """Length of the arc of angles that would do around each angle, (P, angles), in radians."""
    phases = faces.shape[0]
    free = np.zeros((phases, tuning().angles), dtype=bool)
    row, column = np.nonzero(faces >= 0)
    free[row, tries.angle[column]] = True
    turns = (np.arange(tuning().angles)[:, None] + np.arange(tuning().angles)) % tuning().angles
    ahead = np.cumprod(free[:, turns], axis=2).sum(axis=2)
    back = np.cumprod(
        free[:, turns[:, (-np.arange(tuning().angles)) % tuning().angles]], axis=2
    ).sum(axis=2)
    run = np.minimum(np.where(free, ahead + back - 1, 0), tuning().angles)
    arc: FloatArray = run * (2 * math.pi / tuning().angles)
    return arc


def _record_others(
    cells: Cells,
    at: IndexArray,
    side: IndexArray,
    row: IndexArray,
    picked: IndexArray,
    tries: Tries,
    faces: npt.NDArray[np.int8],
    score: FloatArray,
) -> None:
    """Write into the cells the best tries at the same join from the other side of the wire."""
    order = np.argsort(tries.angle, kind="stable")
    limits = np.searchsorted(tries.angle[order], np.arange(tuning().angles + 1))
    places = zip(at.tolist(), side.tolist(), row.tolist(), picked.tolist(), strict=True)
    for cell, first, phase, one in places:
        angle = int(tries.angle[one])
        same = order[limits[angle] : limits[angle + 1]]
        same = same[tries.side[same] @ tries.side[one] <= -0.5 + 1e-9]
        for second in range(4):
            some = same[faces[phase, same] == second]
            if some.size:
                best = some[score[phase, some].argmax()]
                cells.other_score[cell, first, second] = score[phase, best]
                cells.other_axis[cell, first, second] = tries.axis[best]


def _find_quiet_place(cells: Cells, rows: IndexArray, job: _ClassJob) -> None:
    """Find the join farthest from other wires, for a ring that is closed before weaving."""
    points, _, out = ring_points(job.scene.own)
    gap = np.minimum(point_wire_gaps_mm(points, job.scene.others), job.workplace.search_mm)
    room, _ = room_beside_mm(job.scene.own, job.scene.others)
    best = int(np.lexsort((np.round(-np.minimum(room, 1e3), 6), np.round(-gap, 6)))[0])
    cells.quiet_join_mm[rows] = points[best]
    cells.quiet_axis[rows] = out[best]
    cells.quiet_gap_mm[rows] = gap[best]
    cells.quiet_air_mm[rows] = max(float(gap[best] - job.scene.own.wire_radius_mm[0]), 0.0)
