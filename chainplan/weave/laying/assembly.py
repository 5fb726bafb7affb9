"""Sections put end to end: their rings in the piece's frame, connecting rings, links, lengths."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.kinds import Form
from chainplan.model.piece.layout import Layout, Loop, SectionLayout
from chainplan.weave.laying.connection import End, connect_ends, hang_ring
from chainplan.weave.laying.tiling import Tiler, find_row_plan
from chainplan.weave.shape.poses import turn_about_x
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.job import Piece
    from chainplan.weave.laying.connection import Connection, Hang
    from chainplan.weave.laying.section import LaidSection


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

    def add_section(self, laid: LaidSection, number: int, placed: _Placed) -> None:
        """Append the rings of a placed section."""
        tiling, wire_mm, repeat = laid.tiling, laid.section.wire_mm, laid.repeat
        first = np.int32(self.rings)
        self.add(
            links=tiling.links + first,
            contacts=tiling.contacts + first,
            centre=placed.centre,
            normal=placed.normal,
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
        self, laid: LaidSection, number: int, centre: FloatArray, normal: FloatArray,
        ends: list[int],
    ) -> int:  # fmt: skip
        """Append a connecting ring that goes through the given rings; return its number."""
        wire_mm, inner_mm = laid.section.wire_mm, laid.section.inner_mm
        ring = self.rings
        pairs = np.array(sorted((min(ring, end), max(ring, end)) for end in ends), dtype=np.int32)
        pairs = pairs.reshape(-1, 2)
        self.add(
            links=pairs,
            contacts=pairs,
            centre=centre[None],
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
        return ring


class _Placed:
    """The rings of a section in the piece's frame, in mm; its own lowest edge starts at x = 0."""

    def __init__(self, laid: LaidSection) -> None:
        wire_mm = laid.section.wire_mm
        origin = np.array([laid.extent.start, *laid.extent.middle])
        self.laid = laid
        self.centre: FloatArray = (laid.tiling.centre - origin) * wire_mm
        self.normal: FloatArray = laid.tiling.normal

    def move(self, connection: Connection) -> None:
        """Roll about x and shift to where a connecting ring is."""
        turn = turn_about_x(connection.roll_rad)[0]
        self.centre = self.centre @ turn.T + connection.shift
        self.normal = self.normal @ turn.T

    def edges_mm(self) -> tuple[float, float]:
        """Lowest and highest x of the outer edges."""
        tiling, wire_mm = self.laid.tiling, self.laid.section.wire_mm
        half = self.laid.repeat.mean_radius[tiling.place] * np.sqrt(
            np.maximum(1 - self.normal[:, 0] ** 2, 0)
        )
        half = (half + self.laid.repeat.wire[tiling.place] / 2) * wire_mm
        x = self.centre[:, 0]
        return float((x - half).min()), float((x + half).max())

    def end(self, rings: IntArray) -> End:
        """Rings near the given ones, as an end in which those are to be linked."""
        repeat, tiling = self.laid.repeat, self.laid.tiling
        wire_mm = self.laid.section.wire_mm
        radius = repeat.mean_radius[tiling.place] * wire_mm
        middle = self.centre[rings].mean(axis=0)
        away = np.linalg.norm(self.centre - middle, axis=1)
        near = np.nonzero(away < 2 * tuning().end_reach * radius[rings].max())[0]
        linked = np.isin(near, rings)
        wire = repeat.wire[tiling.place[near]] * wire_mm
        return End(self.centre[near], self.normal[near], radius[near], wire, linked)


def find_end_rings(laid: LaidSection, *, last: bool) -> IntArray:
    """Rings at one end of a section that miss the most links; of a sheet, the one that stands out.

    In a sheet that is the outermost ring of the three rows about the middle one.

    Returns
    -------
    array of int
        Ring numbers within the section.
    """
    tiling = laid.tiling
    if laid.rows > 1:
        away = np.abs(tiling.row - laid.rows // 2)
        x = tiling.centre[:, 0] * (-1.0 if last else 1.0)
        worth = np.where(away <= 1, np.round(x, 3), np.inf)
        return np.lexsort((tiling.row, away, worth))[:1].astype(np.int32)
    degree = np.bincount(tiling.links.ravel(), minlength=tiling.rings)
    full = np.bincount(laid.repeat.links[:, :2].ravel(), minlength=laid.repeat.rings)
    end = laid.repeats - 1 if last else 0
    reach = max(int(np.abs(laid.repeat.links[:, 2]).max(initial=1)), 1)
    near = np.abs(tiling.along - end) < reach
    missing = np.where(near, full[tiling.place] - degree, -1)
    return np.nonzero(missing == missing.max())[0].astype(np.int32)


def choose_end(placed: _Placed, *, last: bool, radius: float, wire: float) -> tuple[Hang, IntArray]:
    """Choose the rings of an end that a connecting ring goes through, and where it hangs there.

    All rings that miss most links, where a ring of this size hangs in all of them without overlap;
    otherwise the one of them in which it hangs farthest out.
    """
    rings = find_end_rings(placed.laid, last=last)
    choices = [rings, *(rings[k : k + 1] for k in range(len(rings)) if len(rings) > 1)]
    found: list[tuple[Hang, IntArray]] = []
    for choice in choices:
        end = placed.end(choice)
        hang = hang_ring(end if last else end.mirrored(), radius, wire)
        found.append((hang, choice))
        if hang.is_clean:
            break
    return max(found, key=lambda pair: float(pair[0].worth.max()))


def join_sections(piece: Piece, laid: list[LaidSection]) -> Layout:
    """Put sections end to end with connecting rings between them."""
    assembly = _Assembly()
    described: list[SectionLayout] = []
    several = len(laid) > 1
    gap_mm = min(part.repeat.residual_gap * part.section.wire_mm for part in laid)
    total_mm = sum(part.length_mm(part.repeats) for part in laid)
    placed = _Placed(laid[0])
    loop = _loop_of(laid[0]) if piece.closed and not several else None
    for number, part in enumerate(laid):
        first_ring = assembly.rings
        assembly.add_section(part, number, placed)
        radius = (part.section.inner_mm + part.section.wire_mm) / 2
        wire = part.section.wire_mm
        connects = number + 1 < len(laid)
        if connects:
            following = _Placed(laid[number + 1])
            one, last_rings = choose_end(placed, last=True, radius=radius, wire=wire)
            two, first_rings = choose_end(following, last=False, radius=radius, wire=wire)
            chain = laid[number + 1].weave.form == Form.CHAIN
            found = connect_ends(one, two, may_roll=chain)
            following.move(found)
            total_mm += following.edges_mm()[0] - placed.edges_mm()[1]
            gap_mm = min(gap_mm, found.gap)
            ends = (first_ring + last_rings).tolist()
            ends += (assembly.rings + 1 + first_rings).tolist()
            assembly.add_connector(part, number, found.centre, found.normal, ends)
            placed = following
        elif several and piece.closed:
            connects = True
            loop, added_mm, gap = _close_round(assembly, laid, placed, first_ring)
            total_mm += added_mm
            gap_mm = min(gap_mm, gap)
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
        loop=loop,
        length_mm=total_mm,
        residual_gap_mm=gap_mm,
    )


def _loop_of(laid: LaidSection) -> Loop:
    """How the last repeat of one closed section links to the first."""
    repeat, tiling = laid.repeat, laid.tiling
    tiler = Tiler(repeat, find_row_plan(laid.weave), laid.rows)
    straight = tiler.join_pairs(repeat.links, laid.repeats, closed=False).astype(np.int64)
    number = tiling.links.astype(np.int64) @ np.array([tiling.rings, 1])
    closing = tiling.links[~np.isin(number, straight @ np.array([tiling.rings, 1]))]
    from_end = np.argsort(-tiling.centre[closing, 0], axis=1, kind="stable")
    return Loop(
        shift_mm=laid.repeats * repeat.vectors[0] * laid.section.wire_mm,
        turn_rad=laid.repeats * repeat.turn_rad,
        links=np.take_along_axis(closing, from_end, axis=1),
    )


def _close_round(
    assembly: _Assembly, laid: list[LaidSection], placed: _Placed, first_ring: int
) -> tuple[Loop, float, float]:
    """Append the ring that closes a loop of several sections, after the last of them.

    The piece is laid straight, so this ring hangs in the last section, and in the first one where
    the loop goes on.

    Returns
    -------
    Loop, float, float
        How the ends meet, what the ring adds to the length and the gap that it leaves. [mm]
    """
    part, again = laid[-1], _Placed(laid[0])
    radius, wire = (part.section.inner_mm + part.section.wire_mm) / 2, part.section.wire_mm
    one, last_rings = choose_end(placed, last=True, radius=radius, wire=wire)
    two, first_rings = choose_end(again, last=False, radius=radius, wire=wire)
    found = connect_ends(one, two, may_roll=laid[0].weave.form == Form.CHAIN)
    again.move(found)
    ends = (first_ring + last_rings).tolist() + first_rings.tolist()
    ring = assembly.add_connector(part, len(laid) - 1, found.centre, found.normal, ends)
    links = np.array([(ring, first) for first in first_rings.tolist()], dtype=np.int32)
    loop = Loop(shift_mm=found.shift, turn_rad=found.roll_rad, links=links)
    return loop, again.edges_mm()[0] - placed.edges_mm()[1], found.gap


def _sort_pairs(pairs: IntArray) -> IntArray:
    """Sort pairs by their first and then their second ring."""
    result: IntArray = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
    return result
