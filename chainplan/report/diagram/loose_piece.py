"""Joins that hang in no weave, pendant rings or posts: one line, one picture, boxes to tick."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.said import said
from chainplan.report.diagram.drawn.marks import draw_dots
from chainplan.report.diagram.drawn.strips import NUMBER_PT, number_width_mm
from chainplan.report.diagram.frame.pages import LINE_MM, TEXT_PT, Pages, draw_face_tag
from chainplan.report.paper.lettering import fold_text
from chainplan.report.paper.sheet import GREY, INK, Picture
from chainplan.report.text.instructions import (
    SHORTEST_WAIT_S,
    limits_in_words,
    loose_rings,
    setting_text,
)
from chainplan.units import show_duration

if TYPE_CHECKING:
    from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
    from chainplan.report.paper.sheet import Sheet

PICTURE_MM = 22.0
"""Width and height of the picture of one ring or post."""
MOST_JOINS = 120
"""Joins whose boxes stand on one page; more are ticked on the bench sheet."""
BOX_MM = (3.6, 5.6)
"""A box to tick beside a number, and the height of a line of them."""
POST_MM = (10.0, 0.9)
"""A post is drawn so long and so thick, on a pad: what it is, not how large."""


def is_loose(drawn: DrawnPiece) -> bool:
    """Tell whether a piece is single joins, all alike, welded one after another without a wait."""
    order, layout = drawn.plan.order, drawn.plan.layout
    return (
        0 < order.ring.size <= MOST_JOINS
        and bool(loose_rings(layout).all())
        and len({(work.face, setting_text(work.setting)) for work in order.passes}) == 1
        and bool((np.diff(order.ring) == 1).all())
        and float(order.wait_s.max(initial=0.0)) < SHORTEST_WAIT_S
    )


def add_loose_piece(pages: Pages, drawn: DrawnPiece) -> None:
    """Add such a piece below the last one, or on a page of its own."""
    plan = drawn.plan
    order, setting = plan.order, plan.order.passes[0].setting
    posts = not any(section.made_of_rings for section in plan.piece.sections)
    t = pages.t
    head = t(
        "sheet.loose_what",
        things=said("sheet.posts" if posts else "sheet.rings", n=order.ring.size),
        hits=said("hits", n=setting.hits),
        power=f"{setting.power_j:.3g}",
        tip=said(f"tip.{setting.tip}"),
        time=show_duration(order.bench_time_s),
    )
    if plan.piece.quantity > 1:
        head = t("sheet.copies_each", copies=plan.piece.quantity, what=head)
    notes = [t("note.of_piece", note=plan.piece.notes)] if plan.piece.notes.strip() else []
    limits = " · ".join(limits_in_words(order.limits, t))
    notes += [limits[:1].upper() + limits[1:]] if limits else []
    lines = [line for text in notes for line in fold_text(text, TEXT_PT, pages.width_mm)]
    wide = number_width_mm(order.ring.size) + BOX_MM[0] * plan.piece.quantity + 4.0
    across = max(1, int((pages.width_mm - PICTURE_MM - 6.0) / wide))
    rows = -(-order.ring.size // across)
    high = 7.0 + LINE_MM * (len(lines) + 1) + max(PICTURE_MM, rows * BOX_MM[1]) + 8.0
    heading = t("sheet.loose")  # such pieces share pages
    if pages.headings[-1:] != [heading] or not pages.has_room(high):
        pages.turn_page(heading)
    pages.write_lines([plan.piece.name], size_pt=12, bold=True, line_mm=7.0)
    draw_face_tag(pages.sheet, pages.left_mm, pages.y_mm + 2.6, order.passes[0].face, t)
    pages.write_lines(fold_text(head, TEXT_PT, pages.width_mm - 20.0), indent_mm=20.0)
    pages.y_mm += 1.5
    pages.write_lines(lines)
    pages.y_mm += 1.5
    if posts:
        _draw_post(pages.sheet, pages.left_mm, pages.y_mm)
    else:
        _draw_ring(pages, drawn)
    for k in range(order.ring.size):
        left = pages.left_mm + PICTURE_MM + 6.0 + k % across * wide
        _draw_boxes(pages, left, k // across, k + 1, plan.piece.quantity)
    pages.y_mm += max(PICTURE_MM, rows * BOX_MM[1]) + 5.0


def _draw_boxes(pages: Pages, left: float, row: int, number: int, copies: int) -> None:
    """Draw a join's number and a box a copy to tick."""
    y = pages.y_mm + row * BOX_MM[1]
    for copy in range(copies):
        pages.sheet.box(left + copy * BOX_MM[0], y + 0.9, 3.2, 3.2, stroke=INK, line_mm=0.35)
    at = left + copies * BOX_MM[0] + 0.8
    pages.sheet.write(at, y + 4.2, str(number), NUMBER_PT, bold=True)


def _draw_ring(pages: Pages, drawn: DrawnPiece) -> None:
    """Draw the first ring with its join, as large as its picture."""
    view = drawn.view(drawn.plan.order.passes[0])
    ring = drawn.plan.order.ring[:1]
    x, y = view.project(drawn.rings.centre_mm[ring])[0, :2].tolist()
    reach = float((drawn.rings.mean_radius_mm + drawn.rings.wire_mm)[ring[0]])
    window = (x - reach, y - reach, x + reach, y + reach)
    picture = Picture(
        drawing=drawn.drawing(view, window), left_mm=pages.left_mm, top_mm=pages.y_mm,
        scale=PICTURE_MM / (2 * reach), window_mm=window,
    )  # fmt: skip
    pages.sheet.pictures.append(picture)
    draw_dots(pages.sheet, picture.on_sheet(drawn.seen(view, ring)))


def _draw_post(sheet: Sheet, left: float, top: float) -> None:
    """Draw a post on its pad from the side, the join at its foot."""
    middle, foot = left + PICTURE_MM / 2, top + 17.0
    length, thick = POST_MM
    sheet.box(middle - thick / 2, foot - length, thick, length, stroke=INK, line_mm=0.4)
    sheet.box(middle - 6.0, foot, 12.0, 1.8, stroke=GREY, line_mm=0.4)
    draw_dots(sheet, np.array([[middle, foot]]))
