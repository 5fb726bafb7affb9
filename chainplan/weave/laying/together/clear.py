"""Whether what was put together goes together: rings that meet where sections and fittings do.

Each end is searched by itself for the place of a connecting ring. Here all rings about such a place
are looked at together: those of both ends share the inside of one ring.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from chainplan.errors import Refusal, WeaveError
from chainplan.weave.shape.circles import CentreLines, closest_approach
from chainplan.weave.solving.continuation import OVERLAP_ALLOWED

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.job import Piece, Section
    from chainplan.weave.laying.together.blocks import Block, Links

    Arrays = Mapping[str, FloatArray]


class _Meeting(NamedTuple):
    """Two rings of different blocks that overlap, and by how much."""

    overlap_mm: float
    one: int
    other: int


def refuse_overlaps(
    piece: Piece, blocks: Sequence[Block], links: Links, arrays: Arrays, closing: Block | None
) -> None:
    """Refuse a piece in which rings overlap where its sections or fittings meet.

    Parameters
    ----------
    piece : Piece
        For the message: its sections and fittings.
    blocks, links, arrays :
        What is laid, numbered, with the links between blocks.
    closing : Block, optional
        The ring that closes a loop of several sections.

    Raises
    ------
    WeaveError
        Naming the two sections, the fitting or the step of a graduated chain.
    """
    first = np.array([block.first for block in blocks])
    for pair in links.pairs:
        found = _overlap_near([block.number(ring) for block, ring in pair], first, arrays)
        if found is not None:
            raise WeaveError(_tell(piece, pair[0][0], pair[1][0], blocks, closing))


def _overlap_near(rings: Sequence[int], first: FloatArray, arrays: Arrays) -> _Meeting | None:
    """Find the worst overlap of rings of different blocks about some rings, if there is any."""
    centre, radius, wire = arrays["centre_mm"], arrays["mean_radius_mm"], arrays["wire_mm"]
    at, reach = centre[rings[0]], radius[rings[0]] + wire[rings[0]]
    near = np.flatnonzero(np.linalg.norm(centre - at, axis=1) < reach + radius + wire)
    block = np.searchsorted(first, near, side="right")
    one, other = np.triu_indices(len(near), 1)
    apart = block[one] != block[other]
    one, other = near[one[apart]], near[other[apart]]
    if not len(one):
        return None
    lines = CentreLines(centre, arrays["normal"], radius)
    touch = (wire[one] + wire[other]) / 2
    gap = closest_approach(lines.pick(one), lines.pick(other))[0] - touch
    beyond = gap + 2 * OVERLAP_ALLOWED * np.maximum(wire[one], wire[other])
    worst = int(np.argmin(beyond))
    if beyond[worst] >= 0:
        return None
    return _Meeting(-float(gap[worst]), int(one[worst]), int(other[worst]))


def _tell(
    piece: Piece, ring: Block, end: Block, blocks: Sequence[Block], closing: Block | None
) -> Refusal:
    """Say which connecting ring goes through which end only with an overlap."""
    sections = piece.sections
    size = _size(ring)
    for block in (ring, end):
        index = sections[block.section].fitting
        if index is not None:
            other = end if block is ring else ring
            size = _size(block)
            return Refusal(
                f"a connecting ring of {piece.fittings[index].name!r}, {size}, goes through no "
                f"ring of {_called(sections[other.section])} there without overlap",
                "give the fitting another 'inner' or 'wire', mostly a larger inner diameter, or 0 "
                "connecting rings",
            )
    if ring is closing:
        return Refusal(
            f"the ring that closes the loop, {size}, goes through the last rings of the last "
            "section and the first of the first only with overlap",
            "begin or end with larger rings, or with loose-joins of a ring size of their own",
        )
    if (
        sections[ring.section].graded
        and sections[ring.section].graded == sections[end.section].graded
    ):
        steps = sorted({(s.wire_mm, s.inner_mm) for s in sections if s.graded})
        told = ", ".join(f"{inner:.4g} in {wire:.4g}" for wire, inner in steps)
        return Refusal(
            f"from step to step (rings of {told} mm wire) a ring is too small for the wire beside "
            "it",
            "make the stretch longer, which gives it more steps, or grade it less",
        )
    return Refusal(
        f"the ring between two sections, {size}, goes through the last rings of the one and the "
        f"first of the other ({_called(sections[end.section])}) only with overlap",
        "put a section of loose-joins between them, such as 1 ring of a larger inner diameter",
    )


def _size(block: Block) -> str:
    """Say the size of a block's first ring."""
    return f"{2 * block.radius[0] - block.wire[0]:.4g} mm inside in {block.wire[0]:.4g} mm wire"


def _called(section: Section) -> str:
    return f"{section.weave} of {section.inner_mm:.4g} mm rings in {section.wire_mm:.4g} mm wire"
