"""One piece being drawn: its rings and views, its drawings of wire kept for all passes."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.piece.line import count_units, sheet_section
from chainplan.reference.texts import ENGLISH
from chainplan.report.diagram.drawn.parts import Zone
from chainplan.report.wire.arcs import (
    FRONT,
    View,
    extent_mm,
    face_view,
    rings_of_layout,
    wire_layers,
)
from chainplan.report.wire.looks import wire_drawing
from chainplan.report.wire.visible import Cover

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.arrays import AnyIntArray, BoolArray, FloatArray, IntArray
    from chainplan.model.order import Pass
    from chainplan.model.plan import PiecePlan
    from chainplan.reference.texts import Texts
    from chainplan.report.paper.sheet import Drawing
    from chainplan.report.wire.arcs import Rings, WireLayer


WHOLE_RINGS = 150
"""Up to so many rings the piece is one drawing; beyond, every window is drawn on its own, which
keeps a long piece's file small: what a window does not show is not in it."""
OVERVIEW_RINGS = 20000
"""Up to so many rings the overview shows the real rings, beyond that their outline: of a
sheet, a ring would be less than a mm."""
ARC_RAD = 2.6
"""A ring is filled up to so far around its join, to either side, as far as no other wire covers it:
nearly the whole of a ring that lies on top."""


@dataclass(kw_only=True)
class DrawnPiece:
    """One piece being drawn: its rings, views and drawings, kept for all passes."""

    number: int
    plan: PiecePlan
    t: Texts = ENGLISH  # of the language that is spoken on the pages
    rings: Rings = field(init=False)
    unit: str = field(init=False)  # what a hand counts along the piece
    unit_number: IntArray = field(init=False)  # (n,) of each ring's unit, from 0
    sheet: int | None = field(init=False)  # section whose rows and columns are counted
    group_number: IntArray = field(init=False)  # (n,) of each ring's pair or three, from 0
    drawings: dict[str, Drawing] = field(default_factory=dict)
    covers: dict[tuple[object, ...], tuple[Cover, AnyIntArray]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        layout = self.plan.layout
        self.rings = rings_of_layout(layout)
        self.unit, number = count_units(layout)
        self.group_number = number
        self.sheet = sheet_section(layout)
        if self.sheet is not None:
            self.unit, number = "column", layout.column
        elif len(layout.sections) > 1 and np.bincount(number).min(initial=2) == 1:
            # Single rings among pairs: pairs then have no numbers that a hand could count.
            self.unit, number = "ring", np.arange(layout.rings, dtype=np.int32)
        self.unit_number = number

    def name_ring(self, ring: int) -> str:
        """Name a ring as a hand finds it: "ring 5", "pair 3 (ring 5)", "row 2, column 3 (…)"."""
        t = self.t
        name = t("title.ring", ring=ring + 1)
        if self.unit == "column":
            if self.plan.layout.section[ring] != self.sheet:
                return name  # it holds a fitting to the sheet
            row = self.plan.layout.row[ring] + 1
            place = t("sheet.row_column", row=row, column=int(self.unit_number[ring]) + 1)
            return t("line.at_ring", name=place, ring=ring + 1)
        if self.unit == "ring":
            return name
        unit = t(f"line.named.one.{self.unit}", number=int(self.unit_number[ring]) + 1)
        return t("line.at_ring", name=unit, ring=ring + 1)

    @cached_property
    def in_rows(self) -> BoolArray:
        """Tell which rings are counted in rows and columns; others hold a fitting to the sheet."""
        section = self.plan.layout.section
        counted: BoolArray = (
            np.ones(section.shape, bool) if self.sheet is None else section == self.sheet
        )
        return counted

    @cached_property
    def start_mm(self) -> float:
        """Where the piece begins, in its own mm along its length."""
        return extent_mm(self.rings, FRONT)[0]

    def is_too_short(self, near_mm: float) -> bool:
        """Whether no ring lies so far along from another: the piece is held at an end then."""
        return float(np.ptp(self.rings.centre_mm[:, 0])) < near_mm

    def view(self, work: Pass) -> View:
        """From where a pass is welded."""
        ring = self.rings_of(work)
        return face_view(work.face, np.asarray(self.plan.joins.approach)[ring])

    def rings_of(self, work: Pass) -> AnyIntArray:
        """Ring indices of a pass, in the order in which they are welded."""
        steps = slice(work.first_step, work.first_step + work.joins)
        return self.plan.order.ring[steps]

    def clips_of(self, work: Pass) -> list[tuple[int, int]]:
        """List where the return lead's clip sits in a pass: ring, and the step from which on."""
        earthing = self.plan.order.earthing
        return [] if earthing is None else earthing.clips(work.first_step, work.joins)

    def seen(self, view: View, ring: AnyIntArray | slice = slice(None)) -> FloatArray:
        """Return joins as seen, shape (k, 2), on the wire's surface towards the electrode."""
        joins, layout = self.plan.joins, self.plan.layout
        surface = joins.point_mm[ring] + joins.approach[ring] * layout.wire_mm[ring][:, None] / 2
        return view.project(surface)[:, :2]

    def drawing(
        self, view: View, window: tuple[float, float, float, float] | None = None
    ) -> Drawing:
        """Wire as seen: the whole piece, or what shows in a window of a large one."""
        side = f"{view.name}{'-' if view.toward[1] < 0 else ''}"
        key = f"piece{self.number}{side}"
        if window is not None and self.rings.count > WHOLE_RINGS:
            key += "_".join(f"{edge * 10:.0f}" for edge in window)
        if key not in self.drawings:
            rings = self.rings
            if window is not None and rings.count > WHOLE_RINGS:
                rings = rings.take(self._shown(view, window))
            segments = 18 if self.rings.count > WHOLE_RINGS else 36
            layers = wire_layers(rings, view, segments=segments, layer_mm=_layer_mm(rings))
            self.drawings[key] = wire_drawing(key, layers)
        return self.drawings[key]

    def own_arcs(
        self, view: View, window: tuple[float, float, float, float], ring: AnyIntArray
    ) -> tuple[FloatArray, BoolArray]:
        """Find what is seen of rings around their joins: arcs, (k, m, 2), and which points."""
        key = (tuple(view.toward), window)
        if key not in self.covers:
            number = np.flatnonzero(self._shown(view, window))
            self.covers[key] = Cover(self.rings.take(number), view), number
        cover, number = self.covers[key]
        at = np.minimum(np.searchsorted(number, ring), number.size - 1)
        return cover.arcs(at, self.plan.joins.angle_rad[ring], ARC_RAD)

    def _shown(self, view: View, window: tuple[float, float, float, float]) -> BoolArray:
        """Tell which rings reach into a window."""
        middle = view.project(self.rings.centre_mm)
        reach = self.rings.mean_radius_mm + self.rings.wire_mm
        shown: BoolArray = (
            (middle[:, 0] + reach > window[0])
            & (middle[:, 0] - reach < window[2])
            & (middle[:, 1] + reach > window[1])
            & (middle[:, 1] - reach < window[3])
        )
        return shown

    def whole_drawing(self, view: View) -> Drawing:
        """Wire of the whole piece, roughly; without lines if there are too many rings."""
        if self.rings.count <= WHOLE_RINGS:
            return self.drawing(view)
        layers: tuple[WireLayer, ...] = ()
        if self.rings.count <= OVERVIEW_RINGS:
            layers = wire_layers(self.rings, view, segments=12, layer_mm=_layer_mm(self.rings))
        return wire_drawing(f"piece{self.number}whole", layers)

    def zones(self) -> list[Zone]:
        """Heat-sensitive parts and fittings with their place along the piece."""
        near: dict[str, list[int]] = {}  # a long part is several nodes of one name
        for node in self.plan.heat.parts:
            near.setdefault(node.name, []).extend(node.near_rings)
        x = self.rings.centre_mm[:, 0]
        reach = self.rings.mean_radius_mm + self.rings.wire_mm / 2
        low, high = float((x - reach).min()), float((x + reach).max())
        zones = []
        for part in self.plan.piece.parts:
            if part.stand is not None:
                continue
            ring = np.array(near.get(part.name, ()), dtype=int)
            if len(ring):
                left, right = float((x - reach)[ring].min()), float((x + reach)[ring].max())
            else:
                at = high - part.place_mm if part.from_end else low + part.place_mm
                left, right = at - part.length_mm / 2, at + part.length_mm / 2
            text = self.t("part.below", limit=f"{part.limit_c:.0f}")
            zones.append(Zone(name=part.name, left_mm=left, right_mm=right, text=text))
        return [*zones, *self._fittings()]

    def _fittings(self) -> Iterator[Zone]:
        """Fittings at their own place and as long as they are, not over rings."""
        for laid in self.plan.layout.fittings:
            fitting = self.plan.piece.fittings[laid.index]
            left, right = sorted((laid.from_mm[0], laid.to_mm[0]))
            text = self.t(f"fitting.{fitting.kind.replace(' ', '_')}")
            if fitting.warms and fitting.limit_c is not None:
                text = self.t("part.below", limit=f"{fitting.limit_c:.0f}")
            elif not laid.before:
                text = self.t("part.after")
            yield Zone(name=laid.name, left_mm=left, right_mm=right, text=text, warm=fitting.warms)


def _layer_mm(rings: Rings) -> float:
    """Half a wire: enough for a drawing of this size, and half as much to write."""
    return float(rings.wire_mm.min()) / 2 if rings.count else 1.0
