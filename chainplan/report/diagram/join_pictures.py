"""Where the joins go, in pictures: the piece from each face, and close-ups of one repeat.

``joins.pdf`` holds, for every piece, a close-up of each ring of the repeat with the electrode at
its approach, then the piece from each face that is welded, every join marked where it is to lie
and numbered as in the weld order.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.piece.joins import FACES
from chainplan.report.diagram import approach_picture as cards
from chainplan.report.diagram.approach_picture import CARD_MM, rings_of_a_repeat
from chainplan.report.diagram.drawn import marks, rows
from chainplan.report.diagram.drawn.axis import draw_axis, draw_start
from chainplan.report.diagram.drawn.dots import pairs_of, spread_dots
from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
from chainplan.report.diagram.drawn.pins import pin_numbers
from chainplan.report.diagram.drawn.strips import LANE_MM, place_numbers
from chainplan.report.diagram.drawn.windows import cut_piece
from chainplan.report.diagram.frame.key import SMALL_PT
from chainplan.report.diagram.frame.pages import Pages, draw_face_tag
from chainplan.report.paper.sheet import GREY, Picture
from chainplan.report.wire.arcs import face_view

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.arrays import AnyIntArray, FloatArray
    from chainplan.model.bench.groups import ElectrodeSettings
    from chainplan.model.piece.joins import Joins
    from chainplan.model.piece.layout import Layout
    from chainplan.model.plan import Plan
    from chainplan.report.diagram.drawn.windows import Cut, Window
    from chainplan.report.paper.sheet import Sheet
    from chainplan.report.wire.arcs import View


RULER_MM = 7.0
"""The axis, its ticks and its numbers."""
AROUND_MM = 52.0
"""What a map's title, four lanes of numbers and its axis need: with less room left below the close
views, it begins on a page of its own."""
MOST_STRIPS = 60
"""Strips or tiles of one face that are drawn, some 20 pages; beyond, the beginning stands for the
rest, since the repeats are alike."""
MOST_CARDS = 24
"""Rings of a repeat that are drawn close up, on six pages: the largest repeat of the library has
16."""
_WIDE_MM, _HIGH_MM = CARD_MM


def write_join_pictures(plan: Plan, folder: Path, *, paper: str = "A4") -> list[Path]:
    """Write ``joins.pdf``: where every join of every piece goes; return the files written.

    The same plan gives the same bytes.
    """
    from chainplan.report.paper.pdf import write_pdf

    title = f"Joins: {plan.job.name}"
    pages = Pages(paper, title, plan.stamp.of_work)
    for number, piece in enumerate(plan.pieces):
        add_approaches(pages, piece.piece.name, piece.layout, piece.joins, plan.job.bench.electrode)
        drawn = DrawnPiece(number=number, plan=piece)
        for face in FACES:
            add_face(pages, drawn, face)
    target = folder / "joins.pdf"
    target.write_bytes(write_pdf(pages.finish(), title=title))
    return [target]


def add_approaches(
    pages: Pages, name: str, layout: Layout, joins: Joins, settings: ElectrodeSettings
) -> None:
    """Add pages with one card a ring of each section's repeat."""
    for number, section in enumerate(layout.sections):
        heading = f"{name}: joins"
        if len(layout.sections) > 1:
            heading += f", section {number + 1} ({section.weave})"
        rings = rings_of_a_repeat(layout, number)[:MOST_CARDS]
        if section.form == "loose":
            rings = rings[:1]
        _turn_page(pages, heading)
        column = 0
        for ring in rings.tolist():
            if column == 0 and not pages.has_room(_HIGH_MM):
                _turn_page(pages, heading)
            title = f"ring {int(layout.place[ring]) + 1} of the repeat"
            if section.form == "loose":
                title = "every ring"
            cards.draw_card(
                pages.sheet,
                layout,
                joins,
                settings,
                ring,
                left_mm=pages.left_mm + column * (_WIDE_MM + 4.0),
                top_mm=pages.y_mm,
                title=title,
            )
            column = (column + 1) % 2
            if column == 0:
                pages.y_mm += _HIGH_MM
        if column:
            pages.y_mm += _HIGH_MM


def _turn_page(pages: Pages, heading: str) -> None:
    """Begin a page of cards and say at its foot what the marks mean."""
    pages.turn_page(heading)
    text = (
        "Blue line: the ring; cross: its join. Its top is where it stands highest as the piece "
        "shows its front; upper edge, start and end as seen then, the start on the left."
    )
    sheet = pages.sheet
    sheet.write(pages.left_mm, pages.bottom_mm + 4.5, text, 8, colour=GREY)


def add_face(pages: Pages, drawn: DrawnPiece, face: str) -> None:
    """Add the pages of one face: strips or tiles of the piece with their joins.

    Joins of the two edges are drawn apart, each as seen from its own edge.
    """
    order, joins = drawn.plan.order, drawn.plan.joins
    step = np.flatnonzero(joins.face[order.ring] == FACES.index(face))
    if face != "edge":
        _add_side(pages, drawn, face, step)
        return
    lower = joins.approach[order.ring[step], 1] < -1e-9
    _add_side(pages, drawn, face, step[~lower])
    _add_side(pages, drawn, face, step[lower])


def _add_side(pages: Pages, drawn: DrawnPiece, face: str, step: AnyIntArray) -> None:
    """Add the pages of the joins with these places in the weld order."""
    order, joins = drawn.plan.order, drawn.plan.joins
    if not step.size:
        return
    ring = order.ring[step]
    view = face_view(face, joins.approach[ring])
    points = drawn.seen(view, ring)
    largest = int(order.ring.size)
    cut = cut_piece(
        drawn.rings,
        view,
        points,
        largest,
        rows=int(drawn.plan.layout.row.max(initial=0)) + 1,
        width_mm=pages.width_mm,
        height_mm=pages.height_mm - 14.0,
    )
    _, lower, _, upper = cut.windows[0].window_mm
    if not pages.sheets or not pages.has_room((upper - lower) * cut.scale + AROUND_MM):
        pages.turn_page(f"{drawn.plan.piece.name}: joins from the {face}")
    draw_face_tag(pages.sheet, pages.left_mm, pages.y_mm + 4.0, face)
    scale = cut.said(drawn.t)
    text = f"{step.size} joins, numbered as they are welded; {scale}; the wedge is the start"
    windows = [window for window in cut.windows if window.holds(points).any()]
    if len(windows) > MOST_STRIPS:
        text += f"; the first {MOST_STRIPS} of {len(windows)} parts of the piece are drawn"
    pages.sheet.write(pages.left_mm + 20.0, pages.y_mm + 5.5, text, SMALL_PT)
    pages.y_mm += 10.0
    for window in windows[:MOST_STRIPS]:
        _add_strip(pages, drawn, view, cut, window, points, step + 1)


def _add_strip(
    pages: Pages,
    drawn: DrawnPiece,
    view: View,
    cut: Cut,
    window: Window,
    points: FloatArray,
    number: AnyIntArray,
) -> None:
    """Draw one strip or tile: wire, marks at the joins, numbers beside them."""
    mine = np.flatnonzero(window.holds(points))
    left, lower, right, upper = window.window_mm
    look = marks.number_look(int(drawn.plan.order.ring.size), tight=not cut.narrow)
    box = look.width_mm
    picture = Picture(
        drawing=drawn.drawing(view, window.window_mm),
        left_mm=pages.left_mm,
        top_mm=0.0,
        scale=cut.scale,
        window_mm=window.window_mm,
    )
    joins = picture.on_sheet(points[mine])
    places = spread_dots(joins, number[mine], paired=cut.narrow)
    lanes = None
    above = below = 2.0
    if cut.narrow:
        lanes = place_numbers(
            places[:, 0] - picture.left_mm,
            points[mine, 1] - (lower + upper) / 2,
            box + 1.0,
            0.0,
            (right - left) * cut.scale,
            first=pairs_of(joins[:, 0], number[mine]),
        )
        above, below = (count * LANE_MM + 2.5 for count in lanes.lanes)
    below += RULER_MM if cut.narrow else 2 * rows.COLUMN_LINE_MM + 1.0
    high = (upper - lower) * cut.scale
    if not pages.has_room(above + high + below):
        pages.turn_page(pages.headings[-1])
    top = pages.y_mm + above
    pages.sheet.pictures.append(replace(picture, top_mm=top))
    places[:, 1] += top
    if lanes is None:
        middles = pin_numbers(places, look.width_mm, look.height_mm, cards.CROSS_MM)
    else:
        middles = marks.lane_middles(lanes, top, top + high)
        middles[:, 0] += picture.left_mm
    _draw_scale(pages, drawn, view, cut, replace(picture, top_mm=top), top + high + below)
    _draw_numbers(pages.sheet, places, middles, number[mine], look)
    pages.y_mm = top + high + below + 2.0


def _draw_scale(
    pages: Pages, drawn: DrawnPiece, view: View, cut: Cut, picture: Picture, bottom_mm: float
) -> None:
    """Draw the axis below a strip, or rows and columns around a tile, and mark the start."""
    if cut.narrow:
        draw_axis(pages.sheet, picture, bottom_mm - RULER_MM, start_mm=drawn.start_mm)
    else:
        layout, own = drawn.plan.layout, drawn.in_rows
        joins = drawn.seen(view)[own]
        rows.draw_rows(pages.sheet, picture, joins, layout.row[own], layout.column[own])
    if picture.window_mm[0] <= cut.extent_mm[0] + 1e-6:
        draw_start(pages.sheet, picture.left_mm, picture.top_mm + picture.height_mm / 2)


def _draw_numbers(
    sheet: Sheet,
    places: FloatArray,
    middles: FloatArray,
    number: AnyIntArray,
    look: marks.NumberLook,
) -> None:
    """Draw the numbers in boxes with lines to their joins, and the joins as crosses."""
    none = np.zeros(number.size, dtype=bool)
    joins = marks.Joins2D(
        number=number, points_mm=places, waits=none, starts=none, ends=none, shaded=none
    )
    marks.draw_numbers(sheet, joins, middles, look)
    cards.draw_join_marks(sheet, places)
