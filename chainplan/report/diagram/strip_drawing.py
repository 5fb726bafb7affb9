"""One strip or tile of one pass, or of small passes together, with everything drawn around it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.piece.joins import FACES
from chainplan.report.diagram.drawn import around, marks, parts, rows
from chainplan.report.diagram.drawn.axis import draw_axis, steps_of
from chainplan.report.diagram.drawn.dots import pairs_of, spread_dots
from chainplan.report.diagram.drawn.marks import RULER_PT, Joins2D
from chainplan.report.diagram.drawn.pins import pin_numbers
from chainplan.report.diagram.drawn.rows import ROW_MM
from chainplan.report.diagram.drawn.strips import (
    LANE_MM,
    PIN_MM,
    TIGHT_HEIGHT_MM,
    Lanes,
    number_width_mm,
    place_numbers,
)
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import GREY, INK, WHITE, Picture
from chainplan.report.text.instructions import SHORTEST_WAIT_S, loose_rings

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import AnyIntArray, FloatArray
    from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
    from chainplan.report.diagram.drawn.parts import Zone
    from chainplan.report.diagram.drawn.windows import Window
    from chainplan.report.diagram.frame.pages import Pages
    from chainplan.report.diagram.pass_groups import PassGroup
    from chainplan.report.paper.sheet import Sheet


RULER_MM = 6.0
"""The ruler's line, its ticks and its numbers in `RULER_PT`."""
HOLD_ROW_MM = 4.0
"""From one bar that says where to hold to the next: its label is a line of `RULER_PT`."""
SAME_HOLD_MM = 4.0
"""Passes that begin at places not further apart are held alike: a finger is wider than this."""
GAP_MM = 2.0
"""Air below a strip."""


@dataclass
class Strip:
    """One strip or tile of a group of passes."""

    drawn: DrawnPiece
    group: PassGroup
    window: Window
    hold_mm: tuple[float, float]
    left_mm: float
    ends: bool = False  # near an end tweezers hold that end, and no fingers
    listed: bool = False  # a table says the rest: no way from join to join is drawn
    mine: AnyIntArray = field(init=False)
    dots_mm: FloatArray = field(init=False)  # (k, 2) on the sheet, the strip's upper edge at 0
    lanes: Lanes | None = field(init=False)
    above_left_mm: float = field(init=False)  # where the map stands
    zones: list[tuple[Zone, float, int]] = field(init=False)
    holds: list[tuple[str, list[tuple[float, float]], int]] = field(init=False)

    def __post_init__(self) -> None:
        points, scale = self.group.points_mm, self.group.cut.scale
        self.mine = np.flatnonzero(self.window.holds(points))
        left, lower, right, upper = self.window.window_mm
        self.lanes = None
        narrow = self.group.cut.narrow
        joins = self._picture(0.0).on_sheet(points[self.mine])
        ring = self.drawn.plan.order.ring[self.group.first_step + self.mine]
        group = self.drawn.group_number[ring]
        self.dots_mm = spread_dots(joins, self.mine, paired=narrow, group=group)
        if narrow:
            x = self.dots_mm[:, 0] - self.left_mm
            rise = points[self.mine, 1] - (lower + upper) / 2
            room = self.box_mm + 1.0 + marks.WAIT_MM * bool(self._waits.any())
            first = pairs_of(joins[:, 0], self.mine, group)
            self.lanes = place_numbers(x, rise, room, 0.0, (right - left) * scale, first=first)
        self.zones = self._placed_zones()
        self.holds = self._held()

    @property
    def _waits(self) -> npt.NDArray[np.bool_]:
        """Before which of the joins shown here to wait."""
        waits: npt.NDArray[np.bool_] = (
            self.drawn.plan.order.wait_s[self.mine + self.group.first_step] >= SHORTEST_WAIT_S
        )
        return waits

    @property
    def box_mm(self) -> float:
        """Width of a number's box."""
        return number_width_mm(int(self.drawn.plan.order.ring.size))

    @property
    def _mapped(self) -> bool:
        """Whether a map says which tile this is; along a strip, axis or columns do."""
        lower, upper = self.window.window_mm[1::2]
        extent = self.group.cut.extent_mm
        whole = lower <= extent[1] and upper >= extent[3]
        return not whole and not self.group.cut.narrow

    @property
    def _map_width_mm(self) -> float:
        extent = self.group.cut.extent_mm
        return (extent[2] - extent[0]) * around.map_scale(extent)

    @property
    def above_mm(self) -> float:
        """Room above the piece: map and parts, then numbers."""
        rows = max((row for *_, row in self.zones), default=-1) + 1
        high = rows * ROW_MM
        if self._mapped:
            high = max(high, 10.5)  # the map of a wide piece is as high as two lines
        if self.lanes is None:
            return high + TIGHT_HEIGHT_MM + 1.0  # a number at the upper edge stands above it
        return high + self.lanes.lanes[0] * LANE_MM + 0.8

    @property
    def _below_mm(self) -> float:
        """Room for numbers below the piece."""
        return self.lanes.lanes[1] * LANE_MM + 1.5 if self.lanes is not None else 2.0

    @property
    def height_mm(self) -> float:
        """Height of the strip with everything around it."""
        window = self.window.window_mm
        rows = max((row for *_, row in self.holds), default=-1) + 1
        high = self.above_mm + (window[3] - window[1]) * self.group.cut.scale + self._below_mm
        return high + self._ruler_mm + rows * HOLD_ROW_MM + GAP_MM

    @property
    def _ruler_mm(self) -> float:
        """Height of the axis below a strip, or of the columns below a tile."""
        return RULER_MM if self.group.cut.narrow else 2 * rows.COLUMN_LINE_MM + 1.0

    def _picture(self, top_mm: float) -> Picture:
        window = self.window.window_mm
        return Picture(
            drawing=self.drawn.drawing(self.group.view, window), left_mm=self.left_mm,
            top_mm=top_mm, scale=self.group.cut.scale, window_mm=window,
        )  # fmt: skip

    def _placed_zones(self) -> list[tuple[Zone, float, int]]:
        """Place the labels of parts beside the map, which stands left or right."""
        picture, zones = self._picture(0.0), self.drawn.zones()
        low, high = picture.left_mm, picture.left_mm + picture.width_mm
        wide = (self._map_width_mm + 4.0) * self._mapped
        self.above_left_mm = low
        if not wide:
            return parts.place_zones(picture, zones, low)
        spans = []
        for middle, zone in parts.middles_of_zones(picture, zones):
            width = parts.zone_label(zone)[1]
            left = max(min(middle - width / 2, high - width), low)
            spans.append((left, left + width))
        if any(left < low + wide for left, _ in spans) and all(
            right + 4.0 < high - wide for _, right in spans
        ):
            self.above_left_mm = high - wide + 4.0
            return parts.place_zones(picture, zones, low)
        return parts.place_zones(picture, zones, low + wide)

    def _pass_of(self, join: AnyIntArray) -> AnyIntArray:
        """Index of the pass within the group that a join belongs to."""
        return np.searchsorted(self.group.starts, join, side="right") - 1

    def _held(self) -> list[tuple[str, list[tuple[float, float]], int]]:
        """Where the piece is held as each pass begins here: a label, spans on the sheet, a line.

        Line 0 is below the ruler; the mark of a single pass stands on the ruler itself, line −1.
        """
        near, far, least = (
            part * self.group.cut.scale for part in (*self.hold_mm, around.SHORTEST_HOLD_MM)
        )
        starts = [start for start in self.group.starts if start in self.mine]
        loose = loose_rings(self.drawn.plan.layout)
        held: list[tuple[str, list[tuple[float, float]], int]] = []
        if far <= 0:
            return held
        picture = self._picture(0.0)
        shown = (picture.left_mm, picture.left_mm + picture.width_mm)
        ends = np.sort(picture.on_sheet(self.drawn.seen(self.group.view))[:, 0])[[0, -1]]
        free: list[float] = []
        for start in starts:
            if loose[self.drawn.plan.order.ring[self.group.first_step + start]]:
                continue
            x = float(picture.on_sheet(self.group.points_mm[start : start + 1])[0, 0])
            spans = around.hold_spans(x, near, far, shown)
            if self.ends and min(x - ends[0], ends[1] - x) < near + least:
                continue
            if not spans:
                continue
            if len(self.group.passes) == 1:
                held.append(("", spans, -1 if self.group.cut.narrow else 0))
                continue
            number = self.group.first_step + start + 1
            if held and np.shape(held[-1][1]) == np.shape(spans):
                text, last, row = held[-1]
                if np.abs(np.subtract(last, spans)).max() < SAME_HOLD_MM:
                    held[-1] = (f"{text}, {number}", last, row)
                    free[row] += text_width_mm(f", {number}", RULER_PT, bold=True)
                    continue
            text = self.drawn.t("sheet.hold_at", numbers=number)
            end = spans[-1][1] + text_width_mm(text, RULER_PT, bold=True) + 4.0
            row = next((k for k, edge in enumerate(free) if edge <= spans[0][0]), len(free))
            free[row : row + 1] = [end]
            held.append((text, spans, row))
        return held

    def draw(self, pages: Pages) -> None:
        """Draw the strip at its place on the page and move this on."""
        sheet = pages.sheet
        top = pages.y_mm + self.above_mm
        picture = self._picture(top)
        sheet.pictures.append(picture)
        bottom = top + picture.height_mm
        self._overlaps(pages, picture)
        for zone, left, row in self.zones:
            place = (left, pages.y_mm + ROW_MM * row + 3.6)
            parts.draw_zone(sheet, picture, zone, top_mm=top, bottom_mm=bottom, text_mm=place)
            pages.explain("cool")
        self._own_rings(pages, picture)
        self._other_joins(pages, picture)
        ruler = bottom + self._below_mm
        layout = self.drawn.plan.layout
        if self.group.cut.narrow:
            self._axis(sheet, picture, ruler + 0.6)
            pages.explain("axis")
            if self.drawn.unit == "column":
                rows.name_rows(sheet, picture, self.drawn.seen(self.group.view), layout.row)
                pages.explain("strip_rows")
        else:
            own = self.drawn.in_rows
            joins = self.drawn.seen(self.group.view)[own]
            rows.draw_rows(sheet, picture, joins, layout.row[own], layout.column[own], self.drawn.t)
            pages.explain("rows")
        for text, spans, row in self.holds:
            y = ruler + self._ruler_mm + HOLD_ROW_MM * row + 1.6
            if row < 0:
                y = ruler + 0.6
            around.draw_hold(sheet, spans, y, pages.right_mm, text)
            pages.explain("hold")
        self._clips(pages, picture)
        self._map(pages)
        if self.group.cut.true:
            pages.explain("true")
        self._numbers(pages, picture, top, bottom)
        pages.y_mm += self.height_mm

    def _axis(self, sheet: Sheet, picture: Picture, y_mm: float) -> None:
        """Draw the axis below a strip with the steps of its passes."""
        drawn = self.drawn
        ring = drawn.plan.order.ring[self.group.first_step + self.mine]
        along = self.group.points_mm[self.mine]
        steps = steps_of(
            drawn.unit_number[ring] + 1,
            picture.on_sheet(along)[:, 0],
            along[:, 0] - drawn.start_mm,
            runs=len(self.group.passes) == 1 and not self.listed,
        )
        draw_axis(
            sheet,
            picture,
            y_mm,
            start_mm=drawn.start_mm,
            unit=drawn.t(f"line.word.{drawn.unit}"),
            steps=steps,
        )

    def _clips(self, pages: Pages, picture: Picture) -> None:
        """Mark the rings that the return lead's clip sits on in these passes."""
        places = [place for work in self.group.passes for place in self.drawn.clips_of(work)]
        rings = np.unique(np.array([ring for ring, _ in places], dtype=np.intp))
        middle = self.group.view.project(self.drawn.rings.centre_mm[rings])[:, :2]
        inside = self.window.holds(middle, core=False)
        if inside.any():
            marks.draw_clips(pages.sheet, picture.on_sheet(middle[inside]))
            pages.explain("clip")

    def _map(self, pages: Pages) -> None:
        """Draw the map of the piece above a tile."""
        if self._mapped:
            extent, window = self.group.cut.extent_mm, self.window.window_mm
            around.draw_map(pages.sheet, self.above_left_mm, pages.y_mm + 1.0, extent, window)
            pages.explain("map")

    def _overlaps(self, pages: Pages, picture: Picture) -> None:
        """Mark where the strip runs over into its neighbours."""
        left, _, right, _ = self.window.window_mm
        for edge in (self.window.core_mm[0], self.window.core_mm[2]):
            if np.isfinite(edge) and left < edge < right:
                pages.explain("dashed")
                x = picture.left_mm + (edge - left) * picture.scale
                ends = [(x, picture.top_mm - 1.0), (x, picture.top_mm + picture.height_mm + 1.0)]
                pages.sheet.line(ends, width_mm=0.3, colour=GREY, dash_mm=(0.8, 0.8))

    def _own_rings(self, pages: Pages, picture: Picture) -> None:
        """Fill the rings whose joins are welded here."""
        if not self.mine.size:
            return
        ring = self.drawn.plan.order.ring[self.group.first_step + self.mine]
        view = self.group.view
        arcs, seen = self.drawn.own_arcs(view, self.window.window_mm, ring)
        wire = self.drawn.rings.wire_mm[ring]
        marks.draw_own_rings(pages.sheet, picture, arcs, seen, wire)
        if seen.any():
            pages.explain("ring")

    def _other_joins(self, pages: Pages, picture: Picture) -> None:
        """Show what is closed already: earlier passes and rings closed before weaving."""
        plan = self.drawn.plan
        joins = plan.joins
        welded = np.flatnonzero(joins.closed & ~joins.pre_closed)  # under an earlier plan
        earlier = np.concatenate([welded, plan.order.ring[: self.group.first_step]])
        code = FACES.index(self.group.passes[0].face)
        earlier = earlier[plan.joins.face[earlier] == code]
        closed = np.flatnonzero(plan.joins.pre_closed)
        for ring, radius, fill, stroke, name in (
            (earlier, 0.6, GREY, "", "before"),
            (closed, 0.8, WHITE, INK, "closed"),
        ):
            if len(ring):
                seen = self.drawn.seen(self.group.view, ring)
                inside = self.window.holds(seen, core=False)
                pages.sheet.discs(picture.on_sheet(seen[inside]), radius, fill=fill, stroke=stroke)
                if inside.any():
                    pages.explain(name)

    def _numbers(self, pages: Pages, picture: Picture, top: float, bottom: float) -> None:
        first = self.group.first_step
        starts = np.array(self.group.starts)
        ends = np.append(starts[1:], self.group.joins) - 1
        joins = Joins2D(
            number=self.mine + first + 1,
            points_mm=self.dots_mm + np.array([0.0, top]),
            waits=self._waits,
            starts=np.isin(self.mine, starts),
            ends=np.isin(self.mine, ends),
            shaded=self._pass_of(self.mine) % 2 == 1,
        )
        pages.explain("join", "start", "end")
        if joins.waits.any():
            pages.explain("wait")
        if joins.shaded.any():
            pages.explain("shaded")
        look = marks.number_look(int(self.drawn.plan.order.ring.size), tight=self.lanes is None)
        if self.lanes is None:
            middles = pin_numbers(joins.points_mm, look.width_mm, look.height_mm, PIN_MM)
            centre = self.group.view.project(self.drawn.rings.centre_mm)[:, :2]
            half = look.width_mm / 2, look.height_mm / 2
            row = self.drawn.plan.layout.row
            rows.number_rings(pages.sheet, picture, centre, row, middles, half)
        else:
            middles = marks.lane_middles(self.lanes, top, bottom)
            middles[:, 0] += picture.left_mm
        if not self.group.way and not self.listed:
            marks.draw_way(pages.sheet, joins)
            pages.explain("from_to")
        marks.draw_numbers(pages.sheet, joins, middles, look)
