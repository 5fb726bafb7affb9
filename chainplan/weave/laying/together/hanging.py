"""Hangs a fitting on a piece: at its middle, at a distance from an end, or on a ring."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import Refusal, WeaveError
from chainplan.model.piece.fittings import Spot
from chainplan.weave.laying.elements import row_of_section
from chainplan.weave.laying.together.blocks import block_of_row
from chainplan.weave.laying.together.connection import End, hang_ring, list_angles
from chainplan.weave.laying.together.walk import QUARTER, LaidBody, along
from chainplan.weave.shape.poses import turn_about_x
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.model.job import Piece
    from chainplan.model.piece.fittings import Fitting
    from chainplan.weave.laying.together.blocks import Block, Links, Ring
    from chainplan.weave.laying.together.connection import Hang

MOST_TRIED = 24
"""Rings near a place that are tried to hang something on: some repeats of any weave. Judgement."""
LEVEL = 1e-6
"""Square of the sine of a ring's slope below which no place of it is lower: rounding."""


@dataclass(slots=True)
class Hung:
    """A fitting that hangs, with its connecting rings."""

    body: LaidBody
    blocks: list[Block] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _RingsLaid:
    """All rings laid so far, seen with what is down, −y, as +x; those of a loop once more."""

    centre: FloatArray
    normal: FloatArray
    radius: FloatArray
    wire: FloatArray
    ring: list[Ring]  # without those that stand round the loop once more


def _look_down(vectors: FloatArray) -> FloatArray:
    """Turn (x, y, z) so that what is down, −y, points along +x."""
    return np.column_stack([-vectors[:, 1], vectors[:, 0], vectors[:, 2]])


def _look_back(vector: FloatArray) -> FloatArray:
    """Turn a vector back into the piece's frame."""
    return np.array([vector[1], -vector[0], vector[2]])


def hang_fitting(
    piece: Piece, index: int, blocks: Sequence[Block], links: Links,
    span_mm: tuple[float, float], meets: tuple[FloatArray, float] | None,
) -> Hung:  # fmt: skip
    """Hang one fitting.

    Parameters
    ----------
    piece : Piece
        With its fittings.
    index : int
        Which of them.
    blocks, links :
        What is laid in line; the connecting rings are tied to it.
    span_mm : tuple of float
        Outer edges of the piece along x.
    meets : tuple, optional
        Of a loop, which is laid straight: by what its first rings are shifted [mm] and turned about
        x [rad] where they stand again behind the last.

    Raises
    ------
    WeaveError
        If there is no such ring, or its connecting ring goes through no ring there without overlap.
    """
    fitting = piece.fittings[index]
    seen = _see(blocks, meets)
    candidates = _candidates(fitting, blocks, seen, span_mm)
    if fitting.rings == 0:
        where = int(candidates[0])
        start = _look_back(_lowest_inside(seen, where))
        end = start - [0.0, fitting.length_mm, 0.0]
        return Hung(LaidBody(index, start, end, [seen.ring[where]]))
    number, section = next(
        (n, section) for n, section in enumerate(piece.sections) if section.fitting == index
    )
    row = row_of_section(section, number)
    hang, where = _first_that_hangs(piece, fitting, candidates, seen, row.radius_mm, row.wire_mm)
    here = int(np.argmax(hang.worth))
    step = 2 * row.radius_mm - row.wire_mm
    angles = [float(list_angles()[here]) + QUARTER * k for k in range(row.rings)]
    places = [hang.centre[here] + along(step * k) for k in range(row.rings)]
    normals = [np.array([0.0, -np.sin(a), np.cos(a)]) for a in angles]
    block = block_of_row(
        number, row.wire_mm, row.radius_mm, [_look_back(p) for p in places],
        [_look_back(n) for n in normals], (0, 0, 0),
    )  # fmt: skip
    links.tie((block, 0), [seen.ring[where]])
    start = _look_back(places[-1] + along(row.inner_mm / 2))
    end = start - [0.0, fitting.length_mm, 0.0]
    return Hung(LaidBody(index, start, end, [(block, row.rings - 1)]), [block])


def _lowest_inside(seen: _RingsLaid, where: int) -> FloatArray:
    """Lowest place inside a ring, where its wire pulls on what hangs in it. [mm]."""
    normal = seen.normal[where]
    ways = np.eye(3) - normal[:, None] * normal  # each axis as far as it lies in the ring's plane
    down = ways[0]
    if float(down @ down) < LEVEL:
        down = ways[2]  # the ring lies level: all of it is as low
    inside_mm = seen.radius[where] - seen.wire[where] / 2
    lowest: FloatArray = seen.centre[where] + inside_mm * down / np.linalg.norm(down)
    return lowest


def _see(blocks: Sequence[Block], meets: tuple[FloatArray, float] | None) -> _RingsLaid:
    """Gather the rings in the order of their numbers, seen from above; round a loop once more."""

    def whole(name: str) -> FloatArray:
        parts = [getattr(b, name)[::-1] if b.backwards else getattr(b, name) for b in blocks]
        return np.concatenate(parts)

    ring: list[Ring] = [
        (block, block.rings - 1 - k if block.backwards else k)
        for block in blocks
        for k in range(block.rings)
    ]
    centre, normal = [whole("centre")], [whole("normal")]
    radius, wire = [whole("radius")], [whole("wire")]
    if meets is not None:
        shift, turn = meets[0], turn_about_x(meets[1])[0]
        # A row vector times a turn goes against it: before the first ring the last ones stand.
        centre += [centre[0] @ turn.T + shift, (centre[0] - shift) @ turn]
        normal += [normal[0] @ turn.T, normal[0] @ turn]
        radius, wire = radius * 3, wire * 3
    return _RingsLaid(
        _look_down(np.concatenate(centre)), _look_down(np.concatenate(normal)),
        np.concatenate(radius), np.concatenate(wire), ring,
    )  # fmt: skip


def _candidates(
    fitting: Fitting, blocks: Sequence[Block], seen: _RingsLaid, span_mm: tuple[float, float]
) -> IndexArray:
    """Rings that the fitting may hang on, the one that is meant first."""
    place = fitting.spot
    assert place is not None
    if place.spot == Spot.RING:
        if place.number > len(seen.ring):
            found = f"{fitting.name!r} hangs on ring {place.number}, and there are {len(seen.ring)}"
            raise WeaveError(Refusal(found, "number the rings from the start"))
        return np.array([place.number - 1])
    low, high = span_mm
    at = {Spot.FROM_START: low + place.away_mm, Spot.FROM_END: high - place.away_mm}
    x = at.get(place.spot, (low + high) / 2)
    # Rings whose lower edge is open: of a sheet, those of the row that hangs lowest.
    own = len(seen.ring)
    lower, wire = (seen.centre[:, 0] + seen.radius)[:own], seen.wire[:own]
    wide = np.concatenate([np.full(b.rings, int(b.row.max(initial=0)) > 0) for b in blocks])
    edge = ~wide | (lower > lower.max() - wire)
    away = np.where(edge, np.abs(seen.centre[:own, 1] - x), np.inf)
    order: IndexArray = np.argsort(away, kind="stable")
    return order[: min(MOST_TRIED, int(edge.sum()))]


def _first_that_hangs(
    piece: Piece,
    fitting: Fitting,
    candidates: IndexArray,
    seen: _RingsLaid,
    radius: float,
    wire: float,
) -> tuple[Hang, int]:
    """Find the first ring on which a connecting ring hangs without overlap."""
    for where in candidates.tolist():
        hang = hang_ring(_end_at(where, seen), radius, wire)
        if hang.is_clean:
            return hang, where
    found = (
        f"a connecting ring of {2 * radius - wire:.4g} mm inside in {wire:.4g} mm wire goes "
        f"through no ring of {piece.name!r} at {fitting.place} without overlap"
    )
    allowed = "take a larger ring, another place, or 0 connecting rings for a bail round the chain"
    raise WeaveError(Refusal(found, allowed))


def _end_at(where: int, seen: _RingsLaid) -> End:
    """Take the rings about one as an end in which that one is to be linked."""
    away = np.linalg.norm(seen.centre - seen.centre[where], axis=1)
    near = np.flatnonzero(away < 2 * tuning().end_reach * seen.radius[where])
    return End(
        seen.centre[near], seen.normal[near], seen.radius[near], seen.wire[near], near == where
    )
