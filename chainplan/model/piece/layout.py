"""A piece laid out in space: every ring's pose, links, contacts and place in its weave."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

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


@dataclass(frozen=True, slots=True, kw_only=True)
class RingSize:
    """How many rings of one size a section has."""

    wire_mm: float
    inner_mm: float
    rings: int


@dataclass(frozen=True, kw_only=True)
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
    limits: WeaveLimits | None = None
    wanted_rings: int | None = None  # what the user asked for; None if by length
    tolerance: tuple[Tolerance, ...] = ()
    repeat: Repeat | None = None

    @property
    def aspect_ratio(self) -> float:
        """Inner diameter over wire diameter of the main ring class (no unit)."""
        return self.inner_mm / self.wire_mm


@dataclass(frozen=True, kw_only=True)
class Loop:
    """How the ends of a loop meet. The poses are those of the piece laid straight, not bent round.

    After its last ring the loop goes on with its first ones: a ring of the start, turned about x by
    ``turn_rad`` and then shifted by ``shift_mm``, stands where the end links with it.
    """

    shift_mm: FloatArray  # (3,)
    turn_rad: float
    links: IntArray  # (k, 2) a ring of the end, a ring of the start; part of the layout's links


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
    closed: bool = False  # a loop: the last repeat links to the first
    loop: Loop | None = None  # how, if it is one
    length_mm: float = 0.0  # whole piece without clasp
    residual_gap_mm: float = 0.0

    @property
    def rings(self) -> int:
        """Number of rings."""
        return int(self.centre_mm.shape[0])

    @cached_property
    def degree(self) -> IntArray:
        """Links of each ring, shape (n,)."""
        return np.bincount(self.links.ravel(), minlength=self.rings).astype(np.int32)

    def ring_sizes(self, section: int) -> tuple[RingSize, ...]:
        """Count the rings of one section by size, the most frequent first."""
        own = self.section == section
        size = np.stack([self.wire_mm[own], 2 * self.mean_radius_mm[own] - self.wire_mm[own]], 1)
        sizes, count = np.unique(size.round(6), axis=0, return_counts=True)
        return tuple(
            RingSize(wire_mm=float(sizes[k, 0]), inner_mm=float(sizes[k, 1]), rings=int(count[k]))
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
