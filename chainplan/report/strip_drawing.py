"""One strip or tile of one pass, with everything that is drawn around it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.joins import FACES
from chainplan.report import diagram_marks as marks
from chainplan.report.diagram_marks import Joins2D, Zone
from chainplan.report.sheet import GREY, INK, WHITE, Stamp
from chainplan.report.strips import LANE_MM, Cut, Lanes, Window, number_width_mm, place_numbers

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.model.order import Pass
    from chainplan.report.arcs import View
    from chainplan.report.figure import Figure
    from chainplan.report.pages import Book

    FloatArray = npt.NDArray[np.float64]
    IntArray = npt.NDArray[np.signedinteger[Any]]

SLACK_RINGS = 1.2
"""A pass that steps back by no more than this, in ring diameters, still goes one way."""


@dataclass
class Strip:
    """One strip or tile of one pass."""

    figure: Figure
    work: Pass
    cut: Cut
    window: Window
    view: View
    points: FloatArray  # (k, 2) of the whole pass, as seen
    hold_mm: tuple[float, float]
    mine: IntArray = field(init=False)
    lanes: Lanes | None = field(init=False)
    left_mm: float = 0.0

    def __post_init__(self) -> None:
        self.mine = np.flatnonzero(self.window.holds(self.points))
        left, lower, right, upper = self.window.window_mm
        self.lanes = None
        if self.cut.narrow:
            x = (self.points[self.mine, 0] - left) * self.cut.scale
            rise = self.points[self.mine, 1] - (lower + upper) / 2
            wide = (right - left) * self.cut.scale
            self.lanes = place_numbers(x, rise, self.box_mm + 1.0, 0.0, wide)

    @property
    def box_mm(self) -> float:
        """Width of a number's box."""
        return number_width_mm(int(self.figure.plan.order.ring.size))

    @property
    def stamp_height_mm(self) -> float:
        """Height of the piece on the sheet."""
        return (self.window.window_mm[3] - self.window.window_mm[1]) * self.cut.scale

    @property
    def above_mm(self) -> float:
        """Room above the piece: arrow, map, numbers."""
        room = 10.5 if any(self._shows(zone) for zone in self.figure.zones()) else 5.5
        return room + (self.lanes.lanes[0] * LANE_MM if self.lanes is not None else 2.0)

    def _stamp(self, left_mm: float, top_mm: float) -> Stamp:
        window = self.window.window_mm
        drawing = self.figure.drawing(self.view, window)
        return Stamp(
            drawing=drawing, left_mm=left_mm, top_mm=top_mm, scale=self.cut.scale, window_mm=window
        )  # fmt: skip

    def _shows(self, zone: Zone) -> bool:
        return marks.zone_span(self._stamp(0.0, 0.0), zone) is not None

    @property
    def ruled(self) -> bool:
        """Whether ring numbers make sense along this strip."""
        return self.cut.narrow

    @property
    def height_mm(self) -> float:
        """Height of the strip with everything around it."""
        below = self.lanes.lanes[1] * LANE_MM + 1.5 if self.lanes is not None else 2.0
        return self.above_mm + self.stamp_height_mm + below + self.foot_mm

    @property
    def foot_mm(self) -> float:
        """Room below the numbers: ruler, and the fingers where the pass begins."""
        held = 0 in self.mine and self.hold_mm[1] > 0
        return (8.0 if self.ruled else 5.0) + (5.5 if held else 0.0)

    def draw(self, book: Book) -> None:
        """Draw the strip at the book's place and move this on."""
        sheet = book.sheet
        top = book.y_mm + self.above_mm
        window = self.window.window_mm
        stamp = self._stamp(book.left_mm, top)
        sheet.stamps.append(stamp)
        bottom = top + stamp.height_mm
        shown = (stamp.left_mm, stamp.left_mm + stamp.width_mm)
        self._overlaps(book, stamp)
        for zone in self.figure.zones():
            marks.draw_zone(sheet, stamp, zone, top, bottom, book.y_mm + 8.6)
        self._other_joins(book, stamp)
        lower = self.lanes.lanes[1] * LANE_MM + 1.5 if self.lanes is not None else 2.0
        if self.ruled:
            centre = self.view.project(self.figure.rings.centre_mm)[:, 0]
            marks.draw_ruler(sheet, stamp, bottom + lower + 0.6, centre, shown)
            self._hold(book, stamp, bottom + lower + 7.4, shown)
        else:
            centre = self.view.project(self.figure.rings.centre_mm)[:, :2]
            layout = self.figure.plan.layout
            marks.draw_rows(sheet, stamp, centre, layout.row, layout.column)
            self._hold(book, stamp, bottom + lower + 4.6, shown)
        if len(self.cut.windows) > 1:
            marks.draw_map(sheet, book.right_mm, book.y_mm + 1.0, self.cut.extent_mm, window)
        self._numbers(book, stamp, top, bottom)
        book.y_mm += self.height_mm

    def _overlaps(self, book: Book, stamp: Stamp) -> None:
        """Mark where the strip runs over into its neighbours."""
        left, _, right, _ = self.window.window_mm
        for edge in (self.window.core_mm[0], self.window.core_mm[2]):
            if np.isfinite(edge) and left < edge < right:
                x = stamp.left_mm + (edge - left) * stamp.scale
                ends = [(x, stamp.top_mm - 1.0), (x, stamp.top_mm + stamp.height_mm + 1.0)]
                book.sheet.line(ends, width_mm=0.3, colour=GREY, dash_mm=(0.8, 0.8))

    def _other_joins(self, book: Book, stamp: Stamp) -> None:
        """Show what is closed already: earlier passes and rings closed before weaving."""
        plan = self.figure.plan
        earlier = plan.order.ring[: self.work.first_step]
        code = FACES.index(self.work.face)
        earlier = earlier[plan.joins.face[earlier] == code]
        closed = np.flatnonzero(plan.joins.pre_closed)
        for ring, radius, fill, stroke in (
            (earlier, 0.6, GREY, ""),
            (closed, 0.8, WHITE, INK),
        ):
            if len(ring):
                seen = self.figure.seen(self.view, ring)
                inside = self.window.holds(seen, core=False)
                book.sheet.discs(stamp.on_sheet(seen[inside]), radius, fill=fill, stroke=stroke)

    def _hold(self, book: Book, stamp: Stamp, y_mm: float, shown: tuple[float, float]) -> None:
        if 0 not in self.mine:
            return
        x = float(stamp.on_sheet(self.points[:1])[0, 0])
        near, far = (part * stamp.scale for part in self.hold_mm)
        if far > 0:
            marks.draw_hold(book.sheet, x, near, far, y_mm, shown)

    def _numbers(self, book: Book, stamp: Stamp, top: float, bottom: float) -> None:
        waits = self.figure.plan.order.wait_s
        first = self.work.first_step
        joins = Joins2D(
            number=self.mine + first + 1,
            points_mm=stamp.on_sheet(self.points[self.mine]),
            waits=waits[self.mine + first] >= 0.5,
            first=first + 1,
            last=first + self.work.joins,
        )
        largest = int(self.figure.plan.order.ring.size)
        if self.lanes is None:
            shift = np.array([self.box_mm / 2 + 1.2, -3.6])
            marks.draw_way(book.sheet, joins)
            marks.draw_numbers(book.sheet, joins, joins.points_mm + shift, largest)
            return
        middles = marks.lane_middles(self.lanes, top, bottom)
        middles[:, 0] += stamp.left_mm
        step = np.diff(joins.points_mm[:, 0])
        back = SLACK_RINGS * self.cut.outer_mm * self.cut.scale
        if len(step) and (np.all(step >= -back) or np.all(step <= back)):
            forward = bool(step.sum() >= 0)
            y = book.y_mm + 2.6
            left = stamp.left_mm
            marks.draw_direction(book.sheet, left, left + 30.0, y, forward=forward)
        else:
            marks.draw_way(book.sheet, joins)
        marks.draw_numbers(book.sheet, joins, middles, largest)
