"""Rings seen from a side: pieces of wire, sorted from far to near, ready to be stroked.

A ring's wire is the union of balls of the wire's diameter along a circle. Seen from far away, a
ball is a disc, so the ring's outline is exactly a round stroke, as wide as the wire, along the
projected circle. Over and under come from drawing far pieces first. Pieces of about the same
depth (a fraction of the wire) are put into one layer, because a few long paths are drawn and
written far faster than thousands of short ones: two wires that cross differ by at least one wire
diameter in depth, so a layer never holds both.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.model.piece.layout import ring_basis

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.arrays import BoolArray, FloatArray, IndexArray
    from chainplan.model.piece.layout import Layout
    from chainplan.model.piece.weave import Repeat


LAYERS_A_WIRE = 4
"""Layers in the depth of one wire diameter: wires that cross are at least a whole one apart, so
that no layer holds both even where they slant; more layers only write more paths."""

OVERLAP = 1.2
"""How far a piece of wire runs on beyond its ends at most, in segments, so that no gap shows."""

STEEP = 0.8
"""Depth over width from which on wire counts as running towards the eye."""


@frozen
class Rings:
    """Circles with wire around them; what every picture starts from.

    All lengths in mm (or in wire diameters, for a scale-free repeat).
    """

    centre_mm: FloatArray  # (n, 3)
    normal: FloatArray  # (n, 3), unit
    mean_radius_mm: FloatArray  # (n,)
    wire_mm: FloatArray  # (n,)
    look: IndexArray | None = None  # (n,) which look each has, where they differ
    bodies_mm: FloatArray = field(default_factory=lambda: np.zeros((0, 3)))  # ends of fittings

    @property
    def count(self) -> int:
        """Number of rings."""
        return int(self.wire_mm.shape[0])

    def take(self, chosen: IndexArray | BoolArray | slice) -> Rings:
        """Return some of the rings, by index, mask or slice."""
        return Rings(
            centre_mm=self.centre_mm[chosen],
            normal=self.normal[chosen],
            mean_radius_mm=self.mean_radius_mm[chosen],
            wire_mm=self.wire_mm[chosen],
            look=None if self.look is None else self.look[chosen],
        )


def rings_of_layout(layout: Layout, *, look: IndexArray | None = None) -> Rings:
    """Take the rings of a laid-out piece, in mm; ``look`` says which look each has."""
    return Rings(
        centre_mm=np.asarray(layout.centre_mm, dtype=float),
        normal=np.asarray(layout.normal, dtype=float),
        mean_radius_mm=np.asarray(layout.mean_radius_mm, dtype=float),
        wire_mm=np.asarray(layout.wire_mm, dtype=float),
        look=look,
        bodies_mm=np.array(
            [end for item in layout.fittings if item.in_line for end in (item.from_mm, item.to_mm)]
        ).reshape(-1, 3),
    )


def rings_of_repeat(repeat: Repeat, along: int, across: int = 1, *, wire_mm: float = 1.0) -> Rings:
    """Shift a solved repeat ``along`` × ``across`` times, scaled to a wire, in mm.

    Parameters
    ----------
    repeat : Repeat
        Scale-free repeat.
    along, across : int
        How often it is shown along its first and second repeat vector.
    wire_mm : float
        Wire diameter of ring class 0. [mm]
    """
    a, b = (grid.ravel() for grid in np.meshgrid(np.arange(along), np.arange(across)))
    angle = a * repeat.turn_rad
    turn = np.zeros((a.size, 3, 3))
    turn[:, 0, 0] = 1.0
    turn[:, 1, 1] = turn[:, 2, 2] = np.cos(angle)
    turn[:, 2, 1] = np.sin(angle)
    turn[:, 1, 2] = -turn[:, 2, 1]
    shift = a[:, None] * repeat.vectors[0]
    if repeat.vectors.shape[0] > 1:
        shift = shift + b[:, None] * repeat.vectors[1]
    centre = np.einsum("tij,kj->tki", turn, repeat.centre) + shift[:, None, :]
    normal = np.einsum("tij,kj->tki", turn, repeat.normal)
    return Rings(
        centre_mm=centre.reshape(-1, 3) * wire_mm,
        normal=normal.reshape(-1, 3),
        mean_radius_mm=np.tile(repeat.mean_radius, a.size) * wire_mm,
        wire_mm=np.tile(repeat.wire, a.size) * wire_mm,
    )


@frozen
class View:
    """From where the piece is seen: three unit vectors at right angles."""

    name: str
    right: tuple[float, float, float]
    up: tuple[float, float, float]
    toward: tuple[float, float, float]  # to the eye

    def project(self, points_mm: FloatArray) -> FloatArray:
        """Return right, up and depth (towards the eye) of points, shape (…, 3), in mm."""
        axes = np.array([self.right, self.up, self.toward])
        seen: FloatArray = np.asarray(points_mm, dtype=float) @ axes.T
        return seen


FRONT = View(name="front", right=(1, 0, 0), up=(0, 1, 0), toward=(0, 0, 1))
BACK = View(name="back", right=(1, 0, 0), up=(0, -1, 0), toward=(0, 0, -1))
"""The piece turned over about its length: its start stays on the left."""
UPPER_EDGE = View(name="edge", right=(1, 0, 0), up=(0, 0, -1), toward=(0, 1, 0))
LOWER_EDGE = View(name="edge", right=(1, 0, 0), up=(0, 0, 1), toward=(0, -1, 0))


def face_view(face: str, approach: FloatArray | None = None) -> View:
    """Return the view in which a face is welded: "front", "back" or "edge".

    For "edge" the mean approach of its joins, shape (k, 3), tells which edge is meant.
    """
    if face == "back":
        return BACK
    if face == "edge":
        lower = approach is not None and float(np.mean(np.atleast_2d(approach)[:, 1])) < 0
        return LOWER_EDGE if lower else UPPER_EDGE
    return FRONT


def tilted_view(elevation_deg: float = 60.0, turn_deg: float = -25.0) -> View:
    """Return a view from above: 90° looks straight at the front, ``turn_deg`` turns the piece."""
    e, t = np.radians(elevation_deg), np.radians(turn_deg)
    right = (float(np.cos(t)), float(np.sin(t)), 0.0)
    up = (
        float(-np.sin(t) * np.sin(e)),
        float(np.cos(t) * np.sin(e)),
        float(np.cos(e)),
    )
    toward = tuple(float(part) for part in np.cross(right, up))
    return View(name="tilted", right=right, up=up, toward=(toward[0], toward[1], toward[2]))


@frozen
class WireLayer:
    """Runs of one wire size at about one depth: polylines one after another."""

    depth_mm: float
    wire_mm: float
    points_mm: FloatArray  # (m, 2) right, up
    first: BoolArray  # (m,) whether a point starts a new polyline
    ring: IndexArray  # (m,) ring that the point lies on
    look: int = 0
    steep: bool = False  # whether the wire runs mostly towards the eye
    # Strokes end square. Steep wire is seen nearly end on and turns sharply: there a near ball of
    # it really hides the bright line of the next, so its lighter strokes end round, which covers
    # the corners of the dark edge.


@dataclass(frozen=True, slots=True)
class Runs:
    """Runs of several layers, one after another, to be drawn on beyond their ends together."""

    points_mm: FloatArray  # (m, 2)
    begin: IndexArray  # first and last point of each polyline
    end: IndexArray

    @classmethod
    def of(cls, layers: Sequence[WireLayer]) -> Runs:
        """Put layers together."""
        begin = np.flatnonzero(np.concatenate([layer.first for layer in layers]))
        points = np.concatenate([layer.points_mm for layer in layers])
        return cls(points, begin, np.append(begin[1:], len(points)) - 1)

    def reaching(self, share: float) -> FloatArray:
        """Points with every polyline running on beyond its ends by a share of the overlap.

        The dark edge is drawn with a small share and each lighter stroke with a larger one, so
        that the lighter strokes cover the ends of the darker ones and no seam shows.
        """
        points = self.points_mm.copy()
        for tip, corner in ((self.begin, self.begin + 1), (self.end, self.end - 1)):
            points[tip] = points[corner] + share * (points[tip] - points[corner])
        return points


def wire_layers(
    rings: Rings, view: View, *, segments: int = 36, layer_mm: float | None = None
) -> tuple[WireLayer, ...]:
    """Cut rings into runs of about equal depth and sort these from far to near.

    Parameters
    ----------
    rings : Rings
        What is drawn.
    view : View
        From where.
    segments : int
        Straight segments a ring.
    layer_mm : float, optional
        Depth of a layer; a quarter of the thinnest wire if not given. [mm]

    Returns
    -------
    tuple of WireLayer
        Draw them in this order, each with the wide dark strokes before the narrow light ones.
    """
    if rings.count == 0:
        return ()
    if layer_mm is None:
        layer_mm = float(rings.wire_mm.min()) / LAYERS_A_WIRE
    u, v = ring_basis(rings.normal)
    axes = np.array([view.right, view.up, view.toward])
    centre = rings.centre_mm @ axes.T
    u = (u * rings.mean_radius_mm[:, None]) @ axes.T
    v = (v * rings.mean_radius_mm[:, None]) @ axes.T

    step = 2 * np.pi / segments
    middle = (np.arange(segments) + 0.5) * step
    depth = centre[:, 2:] + u[:, 2:] * np.cos(middle) + v[:, 2:] * np.sin(middle)
    level = np.floor((depth - depth.min()) / layer_mm).astype(np.int64)

    ring, start, end, run_level = _find_runs(level)
    sizes, size = np.unique(rings.wire_mm, return_inverse=True)
    look = np.zeros(rings.count, dtype=np.intp) if rings.look is None else rings.look
    looks = int(look.max()) + 1
    steep = _is_steep(u[ring], v[ring], (start + end) / 2 * step)
    key = ((2 * run_level + steep) * sizes.size + size[ring]) * looks + look[ring]
    order = np.argsort(key, kind="stable")
    ring, start, end, key = ring[order], start[order], end[order], key[order]

    length = end - start + 3  # its corners and one more point beyond each end
    total = int(length.sum())
    begin = np.cumsum(length) - length
    number = np.arange(total) - np.repeat(begin, length)
    corner = np.clip(number - 1, 0, np.repeat(length - 3, length)).astype(float)
    corner += np.repeat(start, length)
    corner[begin] -= OVERLAP
    corner[begin + length - 1] += OVERLAP
    of_ring = np.repeat(ring, length)
    cos, sin = np.cos(corner * step)[:, None], np.sin(corner * step)[:, None]
    points = centre[of_ring, :2] + u[of_ring, :2] * cos + v[of_ring, :2] * sin
    first = np.zeros(total, dtype=bool)
    first[begin] = True

    edges = np.flatnonzero(np.diff(key)) + 1
    runs = np.concatenate([[0], edges, [key.size]])
    lowest = float(depth.min())
    layers = []
    for low, high in zip(runs[:-1].tolist(), runs[1:].tolist(), strict=True):
        part = slice(int(begin[low]), int(begin[high]) if high < key.size else total)
        code, own = divmod(int(key[low]), looks)
        layers.append(
            WireLayer(
                depth_mm=lowest + (code // sizes.size // 2 + 0.5) * layer_mm,
                wire_mm=float(sizes[code % sizes.size]),
                points_mm=points[part],
                first=first[part],
                ring=of_ring[part],
                look=own,
                steep=bool(code // sizes.size % 2),
            )
        )
    return tuple(layers)


def _is_steep(u: FloatArray, v: FloatArray, angle: FloatArray) -> BoolArray:
    """Tell where wire runs more towards the eye than across it, at given angles."""
    along = v * np.cos(angle)[:, None] - u * np.sin(angle)[:, None]
    steep: BoolArray = np.abs(along[:, 2]) > STEEP * np.hypot(along[:, 0], along[:, 1])
    return steep


def _find_runs(
    level: npt.NDArray[np.int64],
) -> tuple[IndexArray, IndexArray, IndexArray, IndexArray]:
    """Find runs of equal level around each ring: ring, first and end segment, level.

    Every ring is read from one of its changes of level on, so that a run is never cut in two;
    a ring that is all of one level is one run once around.
    """
    n, segments = level.shape
    change = level != np.roll(level, 1, axis=1)
    offset = np.argmax(change, axis=1)
    column = (offset[:, None] + np.arange(segments)) % segments
    rows = np.arange(n)[:, None]
    level = level[rows, column]
    change = change[rows, column]
    change[:, 0] = True
    flat = np.flatnonzero(change)
    ring, start = np.divmod(flat, segments)
    end = np.where(np.append(ring[1:], n) == ring, np.append(start[1:], segments), segments)
    shift = offset[ring]
    return ring, start + shift, end + shift, level.ravel()[flat]


def extent_mm(rings: Rings, view: View) -> tuple[float, float, float, float]:
    """Return left, lower, right and upper edge as seen, in mm: of wire, and of fittings in line."""
    u, v = ring_basis(rings.normal)
    axes = np.array([view.right, view.up])
    centre = rings.centre_mm @ axes.T
    reach = rings.mean_radius_mm[:, None] * np.hypot(u @ axes.T, v @ axes.T)
    reach = reach + rings.wire_mm[:, None] / 2
    bodies = rings.bodies_mm @ axes.T
    low = np.concatenate([centre - reach, bodies]).min(axis=0)
    high = np.concatenate([centre + reach, bodies]).max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
