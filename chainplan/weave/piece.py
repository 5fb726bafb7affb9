"""From a piece as the user asks for it to a layout: sections, connecting rings, loose joins.

Lengths are taut, outer edge to outer edge, the clasp taken off. Sections lie end to end along x;
between two of them a connecting ring (of the earlier section's size, counted to it) goes through
the last ring of the one and the first ring of the other: those that miss most links at that end.
Its place is laid so that it hangs in both, it is not solved for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.errors import InputError
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.layout import Layout, SectionLayout
from chainplan.weave.section import lay_section

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from chainplan.model.job import Piece, Section, StockItem
    from chainplan.weave.section import LaidSection

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.int32]
    OnStep = Callable[[str, int, int], None]


def lay_piece(
    piece: Piece, *, stock: Sequence[StockItem] = (), on_step: OnStep | None = None
) -> Layout:
    """Lay out one copy of a piece.

    Parameters
    ----------
    piece : Piece
        With its sections, clasp length, rounding rule.
    stock : sequence of StockItem
        Finished rings at hand, suggested first where a ring does not suit its weave.
    on_step : callable, optional
        Told ``("weave", sections done, sections)``.

    Raises
    ------
    CannotBeWoven, NotConverged
        If a ring does not go into its weave.
    InputError
        If rows, lengths or sizes are missing or a loop is too short.
    """
    if all(section.weave == LOOSE_JOINS for section in piece.sections):
        return _lay_loose(piece)
    wanted = share_length_mm(piece)
    laid = []
    for number, section in enumerate(piece.sections):
        if section.weave == LOOSE_JOINS:
            message = f"piece {piece.name!r}: {LOOSE_JOINS} must be a piece of their own"
            raise InputError(message)
        at_hand = [
            item.inner_mm
            for item in stock
            if item.kind == "rings" and abs(item.size_mm - section.wire_mm) < 0.005
        ]
        laid.append(
            lay_section(
                section,
                wanted_mm=wanted[number],
                rounding=piece.rounding,
                closed=piece.closed and len(piece.sections) == 1,
                stock_inner_mm=at_hand,
            )
        )
        if on_step is not None:
            on_step("weave", number + 1, len(piece.sections))
    return _join_sections(piece, laid)


def share_length_mm(piece: Piece) -> list[float | None]:
    """Length that each section has to reach: the clasp is taken off all in proportion. [mm]."""
    lengths = [section.length_mm for section in piece.sections]
    total = sum(length for length in lengths if length is not None)
    if total and piece.clasp_length_mm >= total:
        message = (
            f"piece {piece.name!r}: the clasp is {piece.clasp_length_mm:g} mm long and the whole "
            f"piece {total:g} mm; the clasp must be shorter"
        )
        raise InputError(message)
    factor = 1 - piece.clasp_length_mm / total if total else 1.0
    return [None if length is None else length * factor for length in lengths]


class _Assembly:
    """Grows the arrays of a layout section by section."""

    def __init__(self) -> None:
        self.parts: dict[str, list[npt.NDArray[np.generic]]] = {
            name: []
            for name in ("centre", "normal", "radius", "wire", "section", "place", "along",
                         "across", "row", "column", "links", "contacts")
        }  # fmt: skip
        self.rings = 0

    def add(self, **arrays: npt.NDArray[np.generic]) -> None:
        """Append rings, or links and contacts, whose numbers are those of the whole piece."""
        for name, array in arrays.items():
            self.parts[name].append(array)
        if "centre" in arrays:
            self.rings += len(arrays["centre"])

    def array(self, name: str) -> Any:
        """Return one array of the whole piece."""
        parts = self.parts[name]
        return parts[0] if len(parts) == 1 else np.concatenate(parts)

    def add_section(self, laid: LaidSection, number: int, start_mm: float) -> None:
        """Append the rings of a section whose outer edge starts at ``start_mm``."""
        tiling, wire_mm, repeat = laid.tiling, laid.section.wire_mm, laid.repeat
        centre = tiling.centre * wire_mm
        centre[:, 0] += start_mm - laid.extent.start * wire_mm
        centre[:, 1] -= laid.extent.middle[0] * wire_mm
        centre[:, 2] -= laid.extent.middle[1] * wire_mm
        first = np.int32(self.rings)
        self.add(
            links=tiling.links + first,
            contacts=tiling.contacts + first,
            centre=centre,
            normal=tiling.normal,
            radius=(repeat.mean_radius * wire_mm)[tiling.place],
            wire=(repeat.wire * wire_mm)[tiling.place],
            section=np.full(tiling.rings, number, dtype=np.int32),
            place=tiling.place,
            along=tiling.along,
            across=tiling.across,
            row=tiling.row,
            column=tiling.column,
        )

    def add_connector(
        self, laid: LaidSection, number: int, middle_mm: float, ends: list[int], normal: FloatArray
    ) -> None:
        """Append a connecting ring that goes through the given rings."""
        wire_mm, inner_mm = laid.section.wire_mm, laid.section.inner_mm
        ring = self.rings
        pairs = np.array(sorted((min(ring, end), max(ring, end)) for end in ends), dtype=np.int32)
        pairs = pairs.reshape(-1, 2)
        self.add(
            links=pairs,
            contacts=pairs,
            centre=np.array([[middle_mm, 0.0, 0.0]]),
            normal=normal[None],
            radius=np.array([(inner_mm + wire_mm) / 2]),
            wire=np.array([wire_mm]),
            section=np.array([number], dtype=np.int32),
            place=np.array([0], dtype=np.int32),
            along=np.array([laid.repeats], dtype=np.int32),
            across=np.array([0], dtype=np.int32),
            row=np.array([laid.rows // 2], dtype=np.int32),
            column=np.array([int(laid.tiling.column.max()) + 1], dtype=np.int32),
        )


def find_end_rings(laid: LaidSection, *, last: bool) -> IntArray:
    """Rings at one end of a section that miss the most links, of the middle row of a sheet.

    Returns
    -------
    array of int
        Ring numbers within the section.
    """
    tiling = laid.tiling
    degree = np.bincount(tiling.links.ravel(), minlength=tiling.rings)
    full = np.bincount(laid.repeat.links[:, :2].ravel(), minlength=laid.repeat.rings)
    end = laid.repeats - 1 if last else 0
    reach = max(int(np.abs(laid.repeat.links[:, 2]).max(initial=1)), 1)
    near = np.abs(tiling.along - end) < reach
    if laid.rows > 1:
        near &= tiling.row == laid.rows // 2
    missing = np.where(near, full[tiling.place] - degree, -1)
    ends = np.nonzero(missing == missing.max())[0]
    if laid.rows > 1:
        ends = ends[-1:] if last else ends[:1]
    return ends.astype(np.int32)


def _join_sections(piece: Piece, laid: list[LaidSection]) -> Layout:
    """Put sections end to end with connecting rings between them."""
    assembly = _Assembly()
    described: list[SectionLayout] = []
    edge_mm, total_mm = 0.0, 0.0
    several = len(laid) > 1
    first_ends: list[int] = []
    for number, part in enumerate(laid):
        first_ring = assembly.rings
        if number:
            # The connecting ring's far edge is inside this section's first ring.
            edge_mm -= laid[number - 1].section.wire_mm + part.section.wire_mm
        assembly.add_section(part, number, edge_mm)
        length_mm = part.length_mm(part.repeats)
        span_mm = part.extent.length(part.repeats, closed=False) * part.section.wire_mm
        edge_mm += span_mm
        total_mm += length_mm
        follows = number + 1 < len(laid)
        connects = follows or (several and piece.closed)
        if number == 0:
            first_ends = (first_ring + find_end_rings(part, last=False)).tolist()
        if connects:
            wire_mm, inner_mm = part.section.wire_mm, part.section.inner_mm
            ends = (first_ring + find_end_rings(part, last=True)).tolist()
            normal = np.asarray(assembly.parts["normal"][-1], dtype=float)[ends[0] - first_ring]
            across = np.array([0.0, -normal[2], normal[1]])  # x axis × normal
            size = float(np.linalg.norm(across))
            across = across / size if size > 1e-6 else np.array([0.0, 0.0, 1.0])
            outer_mm = inner_mm + 2 * wire_mm
            middle_mm = edge_mm - 2 * wire_mm + outer_mm / 2
            if follows:
                following = laid[number + 1]
                start = assembly.rings + 1
                ends += (start + find_end_rings(following, last=False)).tolist()
                total_mm += inner_mm - wire_mm - following.section.wire_mm
            else:
                ends += first_ends
                total_mm += inner_mm - wire_mm - laid[0].section.wire_mm
            assembly.add_connector(part, number, middle_mm, ends, across)
            edge_mm = middle_mm + outer_mm / 2
        described.append(part.describe(first_ring, int(connects)))
    links: IntArray = assembly.array("links")
    contacts: IntArray = assembly.array("contacts")
    return Layout(
        piece=piece.name,
        centre_mm=assembly.array("centre"),
        normal=assembly.array("normal"),
        mean_radius_mm=assembly.array("radius"),
        wire_mm=assembly.array("wire"),
        section=assembly.array("section"),
        place=assembly.array("place"),
        along=assembly.array("along"),
        across=assembly.array("across"),
        row=assembly.array("row"),
        column=assembly.array("column"),
        links=_sort_pairs(links) if several else links,
        contacts=_sort_pairs(contacts) if several else contacts,
        sections=tuple(described),
        closed=piece.closed,
        length_mm=total_mm,
        residual_gap_mm=min(part.repeat.residual_gap * part.section.wire_mm for part in laid),
    )


def _sort_pairs(pairs: IntArray) -> IntArray:
    """Sort pairs by their first and then their second ring."""
    result: IntArray = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
    return result


def _lay_loose(piece: Piece) -> Layout:
    """Lay joins of no weave side by side: single rings, or the number a row gives."""
    described, sizes = [], []
    first, edge_mm = 0, 0.0
    for section in piece.sections:
        rings = section.rings or 1
        described.append(_describe_loose(section, first, rings))
        sizes.append((rings, section.wire_mm, section.inner_mm))
        first += rings
    count = np.array([rings for rings, _, _ in sizes])
    wire = np.repeat([wire for _, wire, _ in sizes], count).astype(float)
    inner = np.repeat([inner for _, _, inner in sizes], count).astype(float)
    # Side by side on the bench, one wire apart.
    outer = inner + 2 * wire
    x = edge_mm + np.cumsum(outer + wire) - wire - outer / 2
    order = np.arange(first, dtype=np.int32)
    none = np.zeros(first, dtype=np.int32)
    return Layout(
        piece=piece.name,
        centre_mm=np.column_stack([x, np.zeros(first), np.zeros(first)]),
        normal=np.tile([0.0, 0.0, 1.0], (first, 1)),
        mean_radius_mm=(inner + wire) / 2,
        wire_mm=wire,
        section=np.repeat(np.arange(len(sizes)), count).astype(np.int32),
        place=none,
        along=order,
        across=none,
        row=none,
        column=order,
        links=np.zeros((0, 2), dtype=np.int32),
        contacts=np.zeros((0, 2), dtype=np.int32),
        sections=tuple(described),
        length_mm=float(x[-1] + outer[-1] / 2),
    )


def _describe_loose(section: Section, first: int, rings: int) -> SectionLayout:
    """Describe single rings: no weave, no limits."""
    outer_mm = section.inner_mm + 2 * section.wire_mm
    step_mm = outer_mm + section.wire_mm
    length_mm = rings * step_mm - section.wire_mm
    return SectionLayout(
        weave=LOOSE_JOINS,
        form="loose",
        metal=section.metal,
        temper=section.temper,
        wire_mm=section.wire_mm,
        inner_mm=section.inner_mm,
        first_ring=first,
        rings=rings,
        joins=rings,
        links=0,
        repeats=rings,
        rows=1,
        length_mm=length_mm,
        shorter_mm=length_mm - step_mm,
        longer_mm=length_mm + step_mm,
        wanted_mm=None,
        width_mm=outer_mm,
        thickness_mm=section.wire_mm,
        rings_per_cm=10 / step_mm,
        computed_rings_per_cm=10 / step_mm,
    )
