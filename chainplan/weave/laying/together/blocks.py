"""Rings whose numbers are still to come: a woven section, or rings in a row; and their links."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.weave.laying.together.placed import PlacedSection

Ring = tuple["Block", int]
"""A ring by its block, and which of the block it is."""


@dataclass(eq=False, slots=True)
class Block:
    """Rings that follow one another in the numbering of a piece."""

    section: int
    centre: FloatArray
    normal: FloatArray
    radius: FloatArray
    wire: FloatArray
    place: IntArray
    along: IntArray
    across: IntArray
    row: IntArray
    column: IntArray
    links: IntArray  # within the block
    contacts: IntArray
    first: int = -1  # number of its first ring, once it is known
    backwards: bool = False  # its rings are listed against the numbering

    @property
    def rings(self) -> int:
        """How many they are."""
        return len(self.radius)

    def number(self, ring: int) -> int:
        """Return the number in the piece of one of its rings."""
        return self.first + (self.rings - 1 - ring if self.backwards else ring)


def block_of_section(placed: PlacedSection, section: int) -> Block:
    """Take the rings of a woven section where they are placed."""
    tiling, repeat, wire_mm = placed.laid.tiling, placed.laid.repeat, placed.laid.section.wire_mm
    return Block(
        section=section,
        centre=placed.centre,
        normal=placed.normal,
        radius=(repeat.mean_radius * wire_mm)[tiling.place],
        wire=(repeat.wire * wire_mm)[tiling.place],
        place=tiling.place,
        along=tiling.along,
        across=tiling.across,
        row=tiling.row,
        column=tiling.column,
        links=tiling.links,
        contacts=tiling.contacts,
    )


def block_of_row(
    section: int,
    wire_mm: float,
    radius_mm: float,
    centres: Sequence[FloatArray],
    normals: Sequence[FloatArray],
    at: tuple[int, int, int],
    *,
    alike: bool = False,
) -> Block:
    """Take rings in a row, each linked with the one before.

    ``at``: repeat along the section, row and column of the first of them. ``alike``: the ring
    stands for the first of its weave's repeat; otherwise each has a place of its own.
    """
    count = len(centres)
    along, row, column = at
    step = np.arange(count, dtype=np.int32)
    zero = np.zeros(count, dtype=np.int32)
    pairs = np.column_stack([step[:-1], step[1:]]).astype(np.int32)
    return Block(
        section=section,
        centre=np.array(centres, dtype=np.float64).reshape(-1, 3),
        normal=np.array(normals, dtype=np.float64).reshape(-1, 3),
        radius=np.full(count, radius_mm),
        wire=np.full(count, wire_mm),
        place=zero if alike else step + np.int32(along),
        along=step + np.int32(along),
        across=zero,
        row=zero + np.int32(row),
        column=step + np.int32(column),
        links=pairs,
        contacts=pairs,
    )


@dataclass(slots=True)
class Links:
    """Links between blocks."""

    pairs: list[tuple[Ring, Ring]] = field(default_factory=list)

    def tie(self, one: Ring, others: Sequence[Ring]) -> None:
        """Note that a ring goes through others."""
        self.pairs += [(one, other) for other in others]


def merge(blocks: Sequence[Block], links: Links) -> dict[str, Any]:
    """Give blocks their numbers one after another, and return the arrays of the whole piece.

    Returns
    -------
    dict
        Arrays by the names of a layout's fields; links and contacts sorted.
    """
    first = 0
    for block in blocks:
        block.first = first
        first += block.rings
    names = {"centre_mm": "centre", "normal": "normal", "mean_radius_mm": "radius",
             "wire_mm": "wire", "place": "place", "along": "along", "across": "across",
             "row": "row", "column": "column"}  # fmt: skip

    def whole(name: str) -> Any:
        parts = [getattr(b, name)[::-1] if b.backwards else getattr(b, name) for b in blocks]
        return parts[0] if len(parts) == 1 else np.concatenate(parts)

    arrays = {field_: whole(name) for field_, name in names.items()}
    sections = [np.full(block.rings, block.section, dtype=np.int32) for block in blocks]
    arrays["section"] = np.concatenate(sections)
    between = [
        (min(pair), max(pair))
        for (one, a), (other, b) in links.pairs
        for pair in ((one.number(a), other.number(b)),)
    ]
    tied = np.array(between, dtype=np.int32).reshape(-1, 2)
    for name in ("links", "contacts"):
        parts = [_numbered(block, getattr(block, name)) for block in blocks]
        pairs = parts[0] if len(parts) == 1 and not len(tied) else np.concatenate([*parts, tied])
        arrays[name] = pairs if len(blocks) == 1 else sort_pairs(pairs)
    return arrays


def _numbered(block: Block, pairs: IntArray) -> IntArray:
    """Give pairs within a block the numbers of the piece, the lower first."""
    if not block.backwards:
        return pairs + np.int32(block.first)
    turned = np.int32(block.first + block.rings - 1) - pairs
    return np.sort(turned, axis=1).astype(np.int32)


def sort_pairs(pairs: IntArray) -> IntArray:
    """Sort pairs by their first and then their second ring."""
    result: IntArray = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
    return result
