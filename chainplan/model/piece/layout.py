"""A piece laid out in space: every ring's pose, links, contacts and place in its weave."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.frozen import frozen

if TYPE_CHECKING:
    import networkx as nx

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.kinds import Form
    from chainplan.model.piece.weave import Repeat, Tolerance, WeaveLimits


def ring_basis(normal: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two unit vectors u, v spanning each ring's plane: angle 0 lies along u, 90° along v.

    ``u`` is the direction in the ring's plane that leans most to the front (+z); a ring that lies
    flat takes the one that leans most along +x. ``v = n × u``.

    Parameters
    ----------
    normal : array, shape (n, 3)
        Unit normals. [-]

    Returns
    -------
    tuple of two arrays, shape (n, 3)
        Unit vectors u and v. [-]
    """
    normal = np.atleast_2d(np.asarray(normal, dtype=float))
    up = np.array([0.0, 0.0, 1.0])
    u = up - normal * normal[:, 2:3]
    length = np.linalg.norm(u, axis=1, keepdims=True)
    flat = length[:, 0] < 1e-6
    if flat.any():
        along = np.array([1.0, 0.0, 0.0])
        u[flat] = along - normal[flat] * normal[flat, 0:1]
        length = np.linalg.norm(u, axis=1, keepdims=True)
    u = u / length
    return u, np.cross(normal, u)


@frozen
class RingSize:
    """How many rings of one size and material a section has."""

    material: int  # index into the layout's materials
    wire_mm: float
    inner_mm: float
    rings: int


@frozen
class Alloy:
    """A metal in one temper."""

    metal: str  # key
    temper: str


@frozen
class Material:
    """What some rings of a section are made of: whatever follows from metal and wire is theirs."""

    section: int  # index into the layout's sections
    metal: str
    temper: str
    wire_mm: float
    rings: int


@frozen
class SectionLayout:
    """One section of a piece: a weave, a ring, a metal, and what whole repeats really give."""

    weave: str  # weave key, or "loose-joins"
    form: Form
    metal: str
    temper: str
    wire_mm: float
    inner_mm: float
    first_ring: int  # rings first_ring … first_ring + rings − 1 belong to this section
    rings: int
    joins: int
    links: int  # within the section
    repeats: int  # along the length
    rows: int  # across; 1 for a chain
    length_mm: float  # of whole repeats, outer edge to outer edge
    shorter_mm: float  # one repeat less
    longer_mm: float  # one repeat more
    wanted_mm: float | None  # what the user asked for; None if by ring count
    width_mm: float
    thickness_mm: float
    rings_per_cm: float
    computed_rings_per_cm: (
        float  # differs from rings_per_cm only if the user's own measurement overrides
    )
    lies: str = ""  # how a strip or sheet lies, its length pulled or flat; "" for a chain
    graded: int = 0  # a step of a graduated stretch: which of the piece's, from 1
    design: str = ""  # of several metals by place; "" where all is of the section's metal
    limits: WeaveLimits | None = None
    wanted_rings: int | None = None  # what the user asked for; None if by length
    tolerance: tuple[Tolerance, ...] = ()
    repeat: Repeat | None = None

    @property
    def aspect_ratio(self) -> float:
        """Inner diameter over wire diameter of the main ring class (no unit)."""
        return self.inner_mm / self.wire_mm


@frozen
class Loop:
    """How the ends of a loop meet. The poses are those of the piece laid straight, not bent round.

    After its last ring the loop goes on with its first ones: a ring of the start, turned about x by
    ``turn_rad`` and then shifted by ``shift_mm``, stands where the end links with it.
    """

    shift_mm: FloatArray  # (3,)
    turn_rad: float
    links: IntArray  # (k, 2) a ring of the end, a ring of the start; part of the layout's links


@frozen
class LaidFitting:
    """A fitting in place; it is no ring, so only where it begins and ends is known."""

    index: int  # among the fittings of the piece
    name: str
    in_line: bool
    before: bool  # there while the piece is welded
    from_mm: tuple[float, float, float]  # where it is pulled: the edge of its eye
    to_mm: tuple[float, float, float]
    rings: tuple[int, ...]  # that go through its eyes, or that its bail sits on


@dataclass(frozen=True, kw_only=True)
class Layout:
    """One copy of a piece, laid out.

    Rings are numbered 0 … n−1 here and 1 … n for people, start to end, row by row. The piece lies
    along +x, its start at x ≈ 0; sheets and strips spread along y; +z is the front face.
    Links and contacts are pairs i < j, sorted.
    """

    piece: str
    centre_mm: FloatArray  # (n, 3)
    normal: FloatArray  # (n, 3), unit
    mean_radius_mm: FloatArray  # (n,)
    wire_mm: FloatArray  # (n,)
    section: IntArray  # (n,) index into sections
    place: IntArray  # (n,) ring within the repeat
    along: IntArray  # (n,) repeat index along the length, within the section
    across: IntArray  # (n,) repeat index across (row group), 0 in a chain
    row: IntArray  # (n,) row as a maker counts them across the piece, 0-based
    column: IntArray  # (n,) count along the length within a row, 0-based
    links: IntArray  # (m, 2)
    contacts: IntArray  # (c, 2), pairs that touch, linked or not
    sections: tuple[SectionLayout, ...]
    fittings: tuple[LaidFitting, ...] = ()
    closed: bool = False  # a loop: the last repeat links to the first
    loop: Loop | None = None  # how, if it is one
    length_mm: float = 0.0  # whole piece, fittings in line as well, without ``clasp length``
    residual_gap_mm: float = 0.0
    alloys: tuple[Alloy, ...] = ()  # of a design; the rings name them
    design_notes: tuple[str, ...] = ()  # what to know of how a design came out
    alloy: IntArray | None = None  # (n,) index into alloys; −1, or None: its section's own metal

    @property
    def rings(self) -> int:
        """Number of rings."""
        return int(self.centre_mm.shape[0])

    @cached_property
    def _made_of(self) -> tuple[tuple[Material, ...], IntArray]:
        """Sort the rings by section, wire and alloy: the kinds, and which each ring is of."""
        first_mm = np.array([self.wire_mm[s.first_ring] for s in self.sections])
        if self.alloy is None and (self.wire_mm == first_mm[self.section]).all():
            plain = tuple(
                Material(
                    section=k, metal=s.metal, temper=s.temper, wire_mm=float(mm), rings=s.rings
                )
                for k, (s, mm) in enumerate(zip(self.sections, first_mm, strict=True))
            )
            return plain, self.section
        wires, wire = np.unique(self.wire_mm, return_inverse=True)
        alloys, alloy = self._alloys()
        code = self.section.astype(np.int64) * len(wires) + wire.ravel()
        code = code * len(alloys) + alloy
        codes, of_ring, many = np.unique(code, return_inverse=True, return_counts=True)
        found = []
        for packed, rings in zip(codes.tolist(), many.tolist(), strict=True):
            rest, number = divmod(packed, len(alloys))
            section, size = divmod(rest, len(wires))
            here = self.sections[section]
            own = alloys[number] or Alloy(metal=here.metal, temper=here.temper)
            found.append(
                Material(
                    section=section,
                    metal=own.metal,
                    temper=own.temper,
                    wire_mm=float(wires[size]),
                    rings=rings,
                )
            )
        return tuple(found), of_ring.ravel().astype(np.int32)

    def _alloys(self) -> tuple[tuple[Alloy | None, ...], IntArray]:
        """List the alloys, the section's own (None) first, and say which each ring is of.

        What a design gives in the metal of the section itself is the section's own.
        """
        none = np.zeros(self.rings, dtype=np.int32)
        if self.alloy is None:
            return (None,), none
        listed = (None, *self.alloys)
        number = self.alloy + np.int32(1)
        for place, alloy in enumerate(self.alloys, 1):
            same = np.asarray(
                [(s.metal, s.temper) == (alloy.metal, alloy.temper) for s in self.sections]
            )
            number = np.where((number == place) & same[self.section], none, number)
        return listed, number.astype(np.int32)

    @property
    def materials(self) -> tuple[Material, ...]:
        """What the rings are made of, by section, wire and alloy; plain: one a section and wire."""
        return self._made_of[0]

    @property
    def material(self) -> IntArray:
        """Which of the materials each ring is of, shape (n,)."""
        return self._made_of[1]

    def material_name(self, number: int) -> str:
        """Name one of the materials as short as tells it from the others.

        The weave where all is one, else its section, and the metal and wire where that has several.
        """
        own = self.materials[number]
        here = [item for item in self.materials if item.section == own.section]
        weave = self.sections[own.section].weave
        name = weave if len(self.sections) == 1 else f"section {own.section + 1}"
        if len({(item.metal, item.temper) for item in here}) > 1:
            name += f", {own.metal.replace('-', ' ')}"
        if len({item.wire_mm for item in here}) > 1:
            name += f", {own.wire_mm:.3g} mm wire"
        return name

    @cached_property
    def degree(self) -> IntArray:
        """Links of each ring, shape (n,)."""
        return np.bincount(self.links.ravel(), minlength=self.rings).astype(np.int32)

    def ring_sizes(self, section: int) -> tuple[RingSize, ...]:
        """Count the rings of one section by material and size, the most frequent first."""
        own = self.section == section
        wire_mm, inner_mm = self.wire_mm[own], 2 * self.mean_radius_mm[own] - self.wire_mm[own]
        rows = np.stack([self.material[own], wire_mm, inner_mm], 1)
        sizes, count = np.unique(rows.round(6), axis=0, return_counts=True)
        return tuple(
            RingSize(
                material=int(sizes[k, 0]),
                wire_mm=float(sizes[k, 1]),
                inner_mm=float(sizes[k, 2]),
                rings=int(count[k]),
            )
            for k in np.argsort(-count, kind="stable")
        )

    def point_mm(self, angle_rad: FloatArray, ring: IntArray | slice = slice(None)) -> FloatArray:
        """Points on the wire's centre line at an angle of each ring, shape (n, 3), in mm.

        Angles are counted as :func:`ring_basis` says.
        """
        u, v = ring_basis(self.normal[ring])
        angle = np.asarray(angle_rad, dtype=float)[:, None]
        reach = self.mean_radius_mm[ring][:, None]
        points: FloatArray = self.centre_mm[ring] + reach * (np.cos(angle) * u + np.sin(angle) * v)
        return points

    def graph(self, **attributes: Any) -> nx.Graph:
        """Build the link graph: nodes are ring numbers from 1 with attributes, edges are links.

        Keyword arguments add node attributes: arrays of length n.
        """
        import networkx as nx

        graph = nx.Graph(name=self.piece)
        columns: dict[str, list[Any]] = {
            "section": self.section.tolist(),
            "row": (self.row + 1).tolist(),
            "column": (self.column + 1).tolist(),
            "wire_mm": self.wire_mm.tolist(),
            "inner_mm": (2 * self.mean_radius_mm - self.wire_mm).tolist(),
            "centre_mm": [tuple(row) for row in self.centre_mm.tolist()],
            "normal": [tuple(row) for row in self.normal.tolist()],
        }
        columns.update({name: np.asarray(values).tolist() for name, values in attributes.items()})
        names = list(columns)
        rows = zip(*columns.values(), strict=True)
        graph.add_nodes_from(
            (number, dict(zip(names, row, strict=True))) for number, row in enumerate(rows, 1)
        )
        graph.add_edges_from((self.links + 1).tolist())
        return graph
