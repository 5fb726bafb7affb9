"""Rings in space: no overlap, links as they are said, joins on their rings and out in the open."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.reading import LINKS, PLAN, RINGS
from chainplan.examine.registry import check
from chainplan.examine.space.geometry import (
    are_linked,
    circle_distances_mm,
    plane_axes,
    point_to_circle_mm,
    turn_about_x,
)

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

ROUNDED_MM = 0.0002
"""Places are written to a ten-thousandth of a millimetre, directions to a millionth."""
OVERLAP = 1e-3
"""Of a wire: what rounding and a solver's last digit may let two wires overlap."""
TOUCHING = 2e-3
"""Of a wire: rings nearer than that are said to touch."""
MOST_PAIRS = 10_000
"""Pairs of rings that are measured anew; of larger pieces a seeded sample (judgement: a second)."""


@dataclass(frozen=True)
class Space:
    """The rings of a piece and, behind the end of a loop, those of its start again."""

    centre_mm: FloatArray
    normal: FloatArray
    radius_mm: FloatArray
    wire_mm: FloatArray
    ring: IndexArray  # (N,) which ring each of them is
    own: int  # the first so many are the piece itself

    def pairs_within(self, gap_mm: float) -> IndexArray:
        """Pairs of rings that may come as near as a gap; images only with rings of the piece."""
        from scipy.spatial import cKDTree

        reach = 2 * float((self.radius_mm + self.wire_mm / 2).max(initial=0.0)) + gap_mm
        pairs = cKDTree(self.centre_mm).query_pairs(reach, output_type="ndarray")
        pairs = pairs[(pairs < self.own).any(axis=1)]
        one, other = pairs.T
        apart = np.linalg.norm(self.centre_mm[one] - self.centre_mm[other], axis=1)
        outer = self.radius_mm + self.wire_mm / 2
        near: IndexArray = pairs[apart <= outer[one] + outer[other] + gap_mm]
        return near


def space_of(piece: PieceFiles, *, both_ways: bool = False, reach_mm: float = 0.0) -> Space:
    """Set the rings of a loop's start behind its end, and with ``both_ways`` its end before it."""
    centre, normal = piece.centre_mm, piece.normal
    ring = np.arange(piece.count)
    loop = piece.record.get("loop")
    if loop:
        shift, turn = np.array(loop["shift_mm"], dtype=float), float(loop["turn_deg"])
        reach = reach_mm + 4 * float((piece.radius_mm + piece.wire_mm).max())
        low, high = float(piece.centre_mm[:, 0].min()), float(piece.centre_mm[:, 0].max())
        copies = [(turn_about_x(piece.centre_mm, turn) + shift, turn)]
        if both_ways:
            copies.append((turn_about_x(piece.centre_mm - shift, -turn), -turn))
        for place, angle in copies:
            near = np.flatnonzero((place[:, 0] > low - reach) & (place[:, 0] < high + reach))
            centre = np.concatenate([centre, place[near]])
            normal = np.concatenate([normal, turn_about_x(piece.normal[near], angle)])
            ring = np.concatenate([ring, near])
    return Space(centre, normal, piece.radius_mm[ring], piece.wire_mm[ring], ring, piece.count)


def pick(count: int, most: int, seed: int = 0) -> IndexArray:
    """Take numbers below a count: all, or the first, the last and a seeded sample."""
    if count <= most:
        return np.arange(count)
    some = np.random.default_rng(seed).choice(count, most - 2, replace=False)
    return np.unique(np.concatenate([some, [0, count - 1]]))


def name_ring(piece: PieceFiles, row: int, column: str) -> str:
    """Say where a value of rings.csv stands."""
    return f"{piece.name}, ring {row + 1}, {column}"


@check("directions have length one")
def check_directions(files: PlanFiles, teller: Teller) -> None:
    """Axes of the rings and approaches of the electrode are unit vectors."""
    for piece in files.pieces:
        for name, vectors in (("normal_x", piece.normal), ("approach_x", piece.approach)):
            length = np.linalg.norm(vectors, axis=1)
            for row in np.flatnonzero(np.abs(length - 1) > 5e-6).tolist():
                teller.tell(RINGS, name_ring(piece, row, name), float(length[row]), "length 1")


@check("joins lie on their rings")
def check_joins(files: PlanFiles, teller: Teller) -> None:
    """Every join lies on the middle of its own wire, at the angle that is said."""
    for piece in files.pieces:
        off = point_to_circle_mm(piece.join_mm, piece.centre_mm, piece.normal, piece.radius_mm)
        allowed = 2 * ROUNDED_MM + 1e-5 * piece.radius_mm
        for row in np.flatnonzero(off > allowed).tolist():
            teller.tell(
                RINGS,
                name_ring(piece, row, "join_x_mm"),
                f"{off[row]:.4f} mm off its ring",
                "on it",
            )
        first, second = plane_axes(piece.normal)
        angle = np.radians(piece.rings["join_angle_deg"])[:, None]
        reach = piece.radius_mm[:, None]
        place = piece.centre_mm + reach * (np.cos(angle) * first + np.sin(angle) * second)
        away = np.linalg.norm(place - piece.join_mm, axis=1)
        # Where a ring lies almost flat, the last digit of its axis turns angle 0.
        lean = np.maximum(np.sqrt(np.maximum(1 - piece.normal[:, 2] ** 2, 0)), 1e-6)
        allowed = piece.radius_mm * (math.radians(0.06) + np.minimum(2e-6 / lean, 2.0)) + 0.001
        for row in np.flatnonzero(away > allowed).tolist():
            found = f"{piece.rings['join_angle_deg'][row]:g}°, {away[row]:.3f} mm from the join"
            teller.tell(
                RINGS, name_ring(piece, row, "join_angle_deg"), found, "the join's own angle"
            )


@check("wires do not overlap; links are those in space", apart=True)
def check_links(files: PlanFiles, teller: Teller) -> None:
    """Recomputes every link from the circles, and the gaps of near wires."""
    for piece in files.pieces:
        said = _said_links(piece, teller)
        if said is None:
            continue
        space = space_of(piece)
        pairs = space.pairs_within(0.0)
        one, other = pairs.T
        linked = are_linked(
            space.centre_mm[one], space.normal[one], space.radius_mm[one],
            space.centre_mm[other], space.normal[other], space.radius_mm[other],
        )  # fmt: skip
        n = piece.count
        image = (pairs >= n).any(axis=1)
        ring = np.sort(space.ring[pairs], axis=1)
        code = ring[:, 0] * n + ring[:, 1]
        found = {
            "link": code[linked & ~image],
            "closing link": code[linked & image],
        }
        loop = piece.record["loop"] or {"closing_links": []}
        closing = [min(pair) * n + max(pair) for pair in loop["closing_links"]]
        closing = sorted(code - n - 1 for code in closing)
        place = f"{piece.name}, loop, closing_links"
        teller.same(PLAN, place, closing, said["closing link"].tolist())
        for how, codes in found.items():
            _compare_links(piece, how, np.unique(codes), said[how], teller)
        _check_gaps(piece, space, pairs, teller)
        _check_touching(piece, space, said["touch"], teller)


def _said_links(piece: PieceFiles, teller: Teller) -> dict[str, IndexArray] | None:
    """Pairs of links.csv as codes, by how; None if a number is out of range."""
    one, other = piece.links["ring"] - 1, piece.links["other"] - 1
    n = piece.count
    wrong = (one < 0) | (other >= n) | (one >= other)
    for row in np.flatnonzero(wrong).tolist():
        teller.tell(
            LINKS, f"{piece.name}, link {row + 1}", f"{one[row] + 1} and {other[row] + 1}",
            f"two rings from 1 to {n}, the higher last",
        )  # fmt: skip
    if wrong.any():
        return None
    how = piece.links["how"]
    for row in np.flatnonzero(~np.isin(how, ["link", "closing link", "touch"])).tolist():
        teller.tell(LINKS, f"{piece.name}, link {row + 1}, how", how[row], "link or touch")
    code = one * n + other
    if len(np.unique(code)) != len(code):
        teller.tell(LINKS, piece.name, "the same pair twice", "every pair once")
    degree = np.bincount(np.concatenate([one[how != "touch"], other[how != "touch"]]), minlength=n)
    for row in np.flatnonzero(degree != piece.rings["links"]).tolist():
        teller.tell(
            RINGS, name_ring(piece, row, "links"), int(piece.rings["links"][row]), int(degree[row])
        )
    return {name: np.sort(code[how == name]) for name in ("link", "closing link", "touch")}


def _compare_links(
    piece: PieceFiles, how: str, found: IndexArray, said: IndexArray, teller: Teller
) -> None:
    n = piece.count
    for codes, text, expected in (
        (np.setdiff1d(said, found), "said to be linked", "linked in space too"),
        (np.setdiff1d(found, said), "linked in space", f"a row of links.csv, {how}"),
    ):
        for code in codes.tolist():
            place = f"{piece.name}, rings {code // n + 1} and {code % n + 1}"
            teller.tell(LINKS, place, text, expected)


def _check_gaps(piece: PieceFiles, space: Space, pairs: IndexArray, teller: Teller) -> None:
    some = pick(len(pairs), MOST_PAIRS)
    if len(some) < len(pairs):
        teller.note(
            f"{piece.name}: gaps of {len(some)} pairs of near rings, of {len(pairs)}, were "
            "measured, a seeded sample; links of all"
        )
    one, other = pairs[some].T
    gap = _gaps(space, one, other)
    wire = np.minimum(space.wire_mm[one], space.wire_mm[other])
    for row in np.flatnonzero(gap < -OVERLAP * wire - 2 * ROUNDED_MM).tolist():
        first, second = sorted((int(space.ring[one[row]]), int(space.ring[other[row]])))
        teller.tell(
            RINGS, f"{piece.name}, rings {first + 1} and {second + 1}",
            f"wires overlap by {-gap[row]:.4f} mm", "no overlap",
        )  # fmt: skip
    if piece.is_loose:
        residual = piece.record["residual_gap_mm"]
        teller.near(PLAN, f"{piece.name}, residual_gap_mm", residual, 0.0)
    if len(some) == len(pairs) and not piece.is_loose and len(gap):
        residual = float(piece.record["residual_gap_mm"])
        off = 2e-4 + OVERLAP * float(wire.max())
        if min(float(gap.min()), 0.0) - off > residual or residual > max(float(gap.min()), 0) + off:
            teller.tell(PLAN, f"{piece.name}, residual_gap_mm", residual, float(gap.min()))


def _check_touching(piece: PieceFiles, space: Space, said: IndexArray, teller: Teller) -> None:
    """Rings that are said to touch lie wire to wire; some may do so round the end of a loop."""
    some = said[pick(len(said), MOST_PAIRS // 4)]
    one, other = some // piece.count, some % piece.count
    gap = _gaps(space, one, other)
    for row in np.flatnonzero(np.abs(gap) > TOUCHING * space.wire_mm[one] + ROUNDED_MM).tolist():
        behind = np.flatnonzero(np.isin(space.ring, [one[row], other[row]]))
        behind = behind[behind >= space.own]
        again = [
            _gaps(space, np.array([a]), np.array([b]))[0]
            for b in behind.tolist()
            for a in (one[row], other[row])
        ]
        if min((abs(float(g)) for g in again), default=math.inf) > TOUCHING * space.wire_mm.max():
            teller.tell(
                LINKS, f"{piece.name}, rings {one[row] + 1} and {other[row] + 1}",
                f"said to touch, {gap[row]:.4f} mm apart", "wire to wire",
            )  # fmt: skip


def _gaps(space: Space, one: IndexArray, other: IndexArray) -> FloatArray:
    apart = circle_distances_mm(space.centre_mm, space.normal, space.radius_mm, one, other)
    gap: FloatArray = apart - (space.wire_mm[one] + space.wire_mm[other]) / 2
    return gap


@check("a piece hangs together")
def check_whole(files: PlanFiles, teller: Teller) -> None:
    """From any ring one gets to any other along links and fittings; loose joins have none."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    for piece in files.pieces:
        tied = piece.links["how"] != "touch"
        if piece.is_loose:
            teller.true(LINKS, piece.name, not tied.any(), "links", "none between loose joins")
            continue
        one, other = piece.links["ring"][tied] - 1, piece.links["other"][tied] - 1
        n = piece.count
        if not len(one) or max(one.max(), other.max()) >= n or min(one.min(), other.min()) < 0:
            teller.true(LINKS, piece.name, n == 1, "no links", f"links between {n} rings")
            continue
        held = [item["rings"] for item in piece.record["fittings"] if len(item["rings"]) > 1]
        pairs = [(rings[0] - 1, ring - 1) for rings in held for ring in rings[1:]]
        one = np.concatenate([one, [a for a, _ in pairs]]).astype(np.intp)
        other = np.concatenate([other, [b for _, b in pairs]]).astype(np.intp)
        graph = coo_matrix((np.ones(len(one)), (one, other)), shape=(n, n))
        parts = int(connected_components(graph, directed=False)[0])
        teller.same(LINKS, piece.name, f"{parts} parts", "1 parts")
