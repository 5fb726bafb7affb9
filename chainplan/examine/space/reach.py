"""The air beside joins and electrode, and the faces that the electrode comes from."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.reading import PLAN, RINGS
from chainplan.examine.registry import check
from chainplan.examine.space.geometry import (
    electrode_distance_mm,
    plane_axes,
    point_to_circle_mm,
)
from chainplan.examine.space.poses import name_ring, pick, space_of

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles
    from chainplan.examine.space.poses import Space

MOST_JOINS = 500
_SAMPLES = 32
"""Joins that are looked at, and points on a ring that may stand in the way: a seeded sample of
large pieces (judgement: a second), and points a thirty-second of a ring apart, closed in on."""


@check("joins are out in the open", apart=True)
def check_reach(files: PlanFiles, teller: Teller) -> None:
    """Measure anew the air beside each join, and beside the electrode at its approach."""
    electrode = {
        name: files.value(f"bench.electrode.{name}")
        for name in ("tip_half_angle_deg", "shank_mm", "stick_out_mm", "holder_mm")
    }
    for piece in files.pieces:
        outer_mm = float((2 * piece.radius_mm + piece.wire_mm).max(initial=0.0))
        search_mm = math.hypot(electrode["stick_out_mm"], electrode["holder_mm"] / 2) + outer_mm
        if piece.is_loose:
            for name in ("clearance_mm", "spot_gap_mm"):
                for row in np.flatnonzero(np.abs(piece.rings[name] - search_mm) > 0.001).tolist():
                    value = float(piece.rings[name][row])
                    teller.tell(RINGS, name_ring(piece, row, name), value, search_mm)
            continue
        rows = pick(piece.count, MOST_JOINS, seed=1)
        if len(rows) < piece.count:
            teller.note(f"{piece.name}: the air of {len(rows)} joins of {piece.count} was measured")
        _check_air(piece, rows, search_mm, electrode, files, teller)


def _check_air(
    piece: PieceFiles, rows: IndexArray, search_mm: float, electrode: dict[str, float],
    files: PlanFiles, teller: Teller,
) -> None:  # fmt: skip
    space = space_of(piece, both_ways=True, reach_mm=search_mm)
    row, other = _near_rings(space, rows, search_mm)
    air = np.full(piece.count, search_mm)
    beside = point_to_circle_mm(
        piece.join_mm[row], space.centre_mm[other], space.normal[other], space.radius_mm[other]
    )
    beside -= (space.wire_mm[other] + piece.wire_mm[row]) / 2
    np.minimum.at(air, row, np.maximum(beside, 0.0))
    clear = _clearances(piece, space, row, other, electrode)
    clear = np.minimum(clear, search_mm)
    for centre, radius_mm in _fittings(piece):  # bodies that are there: rows of balls
        near = np.linalg.norm(piece.centre_mm - centre, axis=1) <= search_mm + radius_mm
        gap = np.linalg.norm(piece.join_mm - centre, axis=1) - radius_mm - piece.wire_mm / 2
        air[near] = np.minimum(air[near], np.maximum(gap[near], 0.0))
        off = _from_electrode(piece, np.tile(centre, (piece.count, 1)), electrode) - radius_mm
        clear[near] = np.minimum(clear[near], off[near])
    least_mm = files.value("bench.electrode.clearance_mm")
    reached = piece.rings["face"] != "none"
    for name, measured in (("spot_gap_mm", air), ("clearance_mm", clear)):
        said = piece.rings[name]
        low = _least_alike(piece, rows, measured)
        for k in rows.tolist():
            if name == "clearance_mm" and not reached[k]:
                teller.near(RINGS, name_ring(piece, k, name), said[k], 0.0)
                continue
            # Rings near an end have the join, and the air, of their fellows in the interior.
            if not low[k] - 0.004 <= said[k] <= measured[k] + 0.004:
                teller.tell(RINGS, name_ring(piece, k, name), float(said[k]), float(measured[k]))
            elif name == "clearance_mm" and measured[k] < least_mm - 0.004:
                text = f"{measured[k]:.3f} mm of air"
                teller.tell(RINGS, name_ring(piece, k, name), text, f"{least_mm:g} mm at least")


def _near_rings(space: Space, rows: IndexArray, search_mm: float) -> tuple[IndexArray, IndexArray]:
    """Pair each chosen ring with all others whose centres lie within a distance of its own."""
    from scipy.spatial import cKDTree

    tree = cKDTree(space.centre_mm)
    lists = tree.query_ball_point(space.centre_mm[rows], search_mm)
    size = np.array([len(item) for item in lists])
    other = np.concatenate([np.asarray(item, dtype=np.intp) for item in lists])
    row = np.repeat(rows, size)
    apart = other != row
    return row[apart], other[apart]


def _fittings(piece: PieceFiles) -> list[tuple[FloatArray, float]]:
    """List the balls of the fittings that are there while the piece is welded. [mm].

    A quarter of the length to either side, 4 mm at most, half a radius from ball to ball; where a
    ring pulls, one and a half of its wire are the eye.
    """
    found: list[tuple[FloatArray, float]] = []
    for item in piece.record["fittings"]:
        rows = np.array([ring - 1 for ring in item["rings"]], dtype=int)
        if item["fitted"] != "before welding" or not item["from_mm"] or not len(rows):
            continue
        ends = np.array([item["from_mm"], item["to_mm"]], dtype=float)
        long = float(np.linalg.norm(ends[1] - ends[0]))
        wire = piece.wire_mm[rows]
        eyes = []
        for end in ends:
            away = point_to_circle_mm(
                np.tile(end, (len(rows), 1)), piece.centre_mm[rows], piece.normal[rows],
                piece.radius_mm[rows],
            )  # fmt: skip
            pulled = bool((away - wire / 2 <= 1.5 * wire.max()).any())
            eyes.append(1.5 * float(wire.max()) if pulled else 0.0)
        free = long - sum(eyes)
        if long <= 0 or free <= 0:
            continue
        half = min(long / 4, 4.0, free / 2)
        count = 1 + math.ceil((free - 2 * half) / (half / 2) - 1e-9)
        places = np.linspace(eyes[0] + half, long - eyes[1] - half, count).tolist()
        found += [(ends[0] + at / long * (ends[1] - ends[0]), half) for at in places]
    return found


def _tips(piece: PieceFiles) -> FloatArray:
    """Where the electrode's tip stands at each join, on the wire's surface. [mm]."""
    out = piece.join_mm - piece.centre_mm
    along = np.cross(piece.normal, out)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    side = piece.approach - (piece.approach * along).sum(axis=1, keepdims=True) * along
    side /= np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-12)
    tip: FloatArray = piece.join_mm + piece.wire_mm[:, None] / 2 * side
    return tip


def _from_electrode(
    piece: PieceFiles, points: FloatArray, electrode: dict[str, float]
) -> FloatArray:
    """Distance of a point for each join from the electrode there. [mm]."""
    offset = points - _tips(piece)
    height = (offset * piece.approach).sum(axis=1)
    square = (offset * offset).sum(axis=1)
    return electrode_distance_mm(
        height, np.sqrt(np.maximum(square - height**2, 0.0)), **_shape(electrode)
    )


def _shape(electrode: dict[str, float]) -> dict[str, float]:
    return {
        "half_angle_deg": electrode["tip_half_angle_deg"],
        "shank_mm": electrode["shank_mm"],
        "stick_out_mm": electrode["stick_out_mm"],
        "holder_mm": electrode["holder_mm"],
    }


def _clearances(
    piece: PieceFiles, space: Space, row: IndexArray, other: IndexArray, electrode: dict[str, float]
) -> FloatArray:
    """Least air between the electrode at each join and the other rings. [mm]."""
    tip, shape = _tips(piece), _shape(electrode)

    def distances(k: IndexArray, points: FloatArray) -> FloatArray:
        offset = points - tip[row[k]][:, None]
        height = (offset * piece.approach[row[k]][:, None]).sum(axis=2)
        square = (offset * offset).sum(axis=2)
        return electrode_distance_mm(height, np.sqrt(np.maximum(square - height**2, 0.0)), **shape)

    middle = distances(np.arange(len(row)), space.centre_mm[other][:, None])[:, 0]
    floor = middle - space.radius_mm[other] - space.wire_mm[other] / 2
    first, second = plane_axes(space.normal)
    clear = np.full(piece.count, np.inf)
    # The nearest by their centres first; whatever cannot come nearer than those is left out.
    best = np.full(piece.count, np.inf)
    np.minimum.at(best, row, middle + space.radius_mm[other])
    near = np.flatnonzero(floor <= best[row])
    width = math.pi / _SAMPLES
    even = np.arange(_SAMPLES) * 2 * width

    def on_ring(k: IndexArray, angle: FloatArray) -> FloatArray:
        ring = other[k]
        turn = np.cos(angle)[..., None] * first[ring][:, None]
        turn = turn + np.sin(angle)[..., None] * second[ring][:, None]
        return space.centre_mm[ring][:, None] + space.radius_mm[ring][:, None, None] * turn

    for begin in range(0, len(near), 4000):
        k = near[begin : begin + 4000]
        found = distances(k, on_ring(k, np.broadcast_to(even, (len(k), _SAMPLES))))
        # Between two points a wire comes no nearer than the arc from one of them to the middle:
        # rings that cannot be the nearest so are not looked at closer.
        least = found.min(axis=1) - space.wire_mm[other[k]] / 2
        np.minimum.at(clear, row[k], least)
        close = least - width * space.radius_mm[other[k]] <= clear[row[k]]
        k, found = k[close], found[close]
        lowest = np.argpartition(found, 2, axis=1)[:, :2]
        angle, low = even[lowest], np.take_along_axis(found, lowest, axis=1)
        step = width
        for _ in range(8):
            for move in (-step, step):
                moved = np.asarray(angle + move, dtype=np.float64)
                tried = distances(k, on_ring(k, moved))
                better = tried < low
                angle, low = np.where(better, moved, angle), np.where(better, tried, low)
            step /= 2
        np.minimum.at(clear, row[k], low.min(axis=1) - space.wire_mm[other[k]] / 2)
    return clear


def _least_alike(piece: PieceFiles, rows: IndexArray, measured: FloatArray) -> FloatArray:
    """Least measured value among rings of one section, size, face and lean of the approach."""
    lean = np.abs(np.einsum("ij,ij->i", piece.approach, piece.normal)).round(3)
    faces = piece.coded("face")[1]
    key = np.column_stack(
        [piece.rings["section"], piece.wire_mm, piece.rings["inner_mm"], faces, lean]
    )[rows]
    _, group = np.unique(key.round(4), axis=0, return_inverse=True)
    least = np.full(group.max() + 1, np.inf)
    np.minimum.at(least, group.ravel(), measured[rows])
    result = np.full(piece.count, np.inf)
    result[rows] = least[group.ravel()]
    return result


def facing(piece: PieceFiles) -> BoolArray:
    """Whether each approach suits the face that is said; a piece held in the air takes any."""
    upright = piece.approach[:, 2]
    face = piece.rings["face"]
    least = math.cos(math.radians(75.0)) - 1e-5
    front, back = face == "front", face == "back"
    good: BoolArray = ~(front & (upright < least)) & ~(back & (upright > -least))
    return good


@check("the electrode comes from the face that is said")
def check_faces(files: PlanFiles, teller: Teller) -> None:
    """Front and back lean at most 75° from upright; the face is one of four words."""
    for piece in files.pieces:
        face = piece.rings["face"]
        known = np.isin(face, ["front", "back", "edge", "none"])
        for row in np.flatnonzero(~known | ~facing(piece)).tolist():
            found = f"{face[row]}, approach {piece.approach[row, 2]:.3f} upright"
            teller.tell(RINGS, name_ring(piece, row, "face"), found, "the face of its approach")
        open_ = piece.rings["closed_beforehand"] == "no"
        for row in np.flatnonzero(open_ & (face == "none")).tolist():
            teller.tell(RINGS, name_ring(piece, row, "face"), "none, welded in place", "a face")
        counts = piece.record["joins_per_face"]
        for name in ("front", "back", "edge"):
            expected = int(np.count_nonzero(open_ & (face == name)))
            teller.same(PLAN, f"{piece.name}, joins_per_face, {name}", counts[name], expected)
