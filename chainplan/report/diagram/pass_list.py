"""The first page of a piece: what to do with it, its picture, and its passes one line each."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import OrderStatus
from chainplan.model.said import said
from chainplan.report.diagram.drawn import parts, rows
from chainplan.report.diagram.drawn.axis import draw_axis
from chainplan.report.diagram.frame.key import SMALL_PT
from chainplan.report.diagram.frame.pages import LINE_MM, TEXT_PT, TOP_MM, Pages, draw_face_tag
from chainplan.report.paper.lettering import fold_text, text_width_mm
from chainplan.report.paper.sheet import GREY, INK, PALE, Picture
from chainplan.report.text.instructions import (
    instructions,
    limit_name,
    say_joins,
    say_pass,
    setting_text,
)
from chainplan.report.wire.arcs import extent_mm, face_view
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.order import Pass, SetAside, WeldOrder
    from chainplan.reference.texts import Texts
    from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece

LIST_LINE_MM = 6.4
"""A line of the list of passes: a box to tick with a pen is 4.4 mm, and has air around it."""
END_SHARE = 0.25
"""A part within this share of the length from an end tells that end from the other."""
CLOSEST_LINE_MM = 5.2
"""Lines of the list of passes move together to this if that saves a page."""


def add_instructions(
    pages: Pages, drawn: DrawnPiece, heat: HeatSettings, *, listed: bool = False
) -> None:
    """Begin the pages of a piece: what to do with it, in passes or, ``listed``, join by join."""
    plan = drawn.plan
    order = plan.order
    closed = int(np.count_nonzero(plan.joins.pre_closed))
    welded = int(np.count_nonzero(plan.joins.closed)) - closed
    pages.turn_page(plan.piece.name)
    t = pages.t
    text = t(
        "sheet.what_listed" if listed else "sheet.what",
        rings=said("sheet.rings", n=plan.layout.rings),
        joins=said("line.joins", n=order.ring.size),
        passes=said("sheet.in_passes", n=len(order.passes)),
        time=show_duration(order.bench_time_s),
    )
    if plan.piece.quantity > 1:
        text = t("sheet.copies_each", copies=plan.piece.quantity, what=text)
    more = (("sheet.closed", closed), ("sheet.welded", welded))
    pages.write_text(" ".join([text, *(t(key, n=count) for key, count in more if count)]))
    if order.status == OrderStatus.INFEASIBLE:
        names = ", ".join(_limit_set_aside(item, t) for item in order.set_aside)
        key = "sheet.infeasible_aside" if names else "sheet.infeasible"
        pages.write_text(t(key, names=names), size_pt=11, bold=True)
        for line in say_advice(order, t):
            pages.write_text(line)
    if order.ring.size:
        pages.write_text(say_start(drawn))
    for line in instructions(plan, heat, t):
        pages.write_text(line)
    for line in order.gained[:1] if t.language == "en" else say_gain(order, t):
        pages.write_text(line, size_pt=SMALL_PT)


def _limit_set_aside(item: SetAside, t: Texts) -> str:
    """Name a limit that the order does without, as plan.json does."""
    if t.language == "en":
        return item.name
    return t.say(limit_name(item))


def say_advice(order: WeldOrder, t: Texts) -> list[str]:
    """Say what would help; what is not of limits stands in plan.xlsx alone, in English."""
    if t.language == "en":
        return [*order.advice]
    more = [t("sheet.advice")] if len(order.advice) > len(order.advised) else []
    return [*(t.say(item) for item in order.advised), *more]


def say_gain(order: WeldOrder, t: Texts) -> list[str]:
    """Say in a sentence what the order gains; the whole of it stands in plan.xlsx, in English."""
    gains = order.gains
    if gains is None or order.status == OrderStatus.INFEASIBLE:
        return []
    if gains.is_end_to_end:
        return [t("sheet.gain.ends")]
    if gains.ends_high_s is None or gains.saved_high_s is None:
        return [t("sheet.gain.only")] if gains.ends_high_s is None else []
    if gains.saved_high_s < gains.little_s:
        return []
    high, ends, own = (
        show_duration(seconds) for seconds in (gains.saved_high_s, gains.ends_high_s, gains.order_s)
    )
    return [t("sheet.gain.saves", high=high, ends=ends, own=own)]


def say_start(drawn: DrawnPiece) -> str:
    """Say which end of the piece is its start, where ring 1 lies.

    A part near an end tells the ends apart; else the person chooses one and marks it.
    """
    low, _, high, _ = extent_mm(drawn.rings, face_view("front"))
    near = END_SHARE * (high - low)
    for zone in drawn.zones():
        if zone.right_mm < low + near:
            return drawn.t("sheet.start_at", part=zone.name)
        if zone.left_mm > high - near:
            return drawn.t("sheet.start_away", part=zone.name)
    return drawn.t("sheet.start")


def add_pass_list(pages: Pages, drawn: DrawnPiece) -> None:
    """Add the list of a piece's passes, one line each."""
    order = drawn.plan.order
    pages.y_mm += 2.0
    befores = (None, *order.passes)[: len(order.passes)]
    listed = [_list_text(pages, *pair) for pair in zip(order.passes, befores, strict=True)]
    line_mm = _line_height(pages, [len(lines) for lines, _ in listed])
    for work, (lines, right) in zip(order.passes, listed, strict=True):
        _add_list_line(pages, work, lines, right, line_mm)


def _line_height(pages: Pages, lines: Sequence[int]) -> float:
    """Choose the height of the list's lines: closer if that saves a page. [mm]."""
    wide, close = (
        _pages_of(pages, [line_mm + (count - 1) * LINE_MM for count in lines])
        for line_mm in (LIST_LINE_MM, CLOSEST_LINE_MM)
    )
    return CLOSEST_LINE_MM if close < wide else LIST_LINE_MM


def _pages_of(pages: Pages, heights_mm: Sequence[float]) -> int:
    """Count the pages that things of these heights take from here on."""
    count, y_mm = 1, pages.y_mm
    for height in heights_mm:
        if y_mm + height > pages.bottom_mm:
            count, y_mm = count + 1, TOP_MM
        y_mm += height
    return count


def _list_text(pages: Pages, work: Pass, before: Pass | None) -> tuple[list[str], str]:
    """Return the lines of a pass's own words, and what stands to the right of them."""
    steps = say_joins(work.first_step + 1, work.joins, pages.t)
    setting = setting_text(work.setting, pages.t)
    if before is None or setting_text(before.setting, pages.t) != setting:
        steps = f"{steps} · {setting}"
    room = pages.width_mm - 41.0 - text_width_mm(steps, SMALL_PT)
    return fold_text(say_pass(work, pages.t), TEXT_PT, room), steps


def _add_list_line(
    pages: Pages, work: Pass, lines: Sequence[str], right: str, line_mm: float
) -> None:
    """Write one pass of the list; a long one takes a second line."""
    height = line_mm + (len(lines) - 1) * LINE_MM
    if not pages.has_room(height):
        pages.turn_page(pages.headings[-1])
    sheet, left, middle = pages.sheet, pages.left_mm, pages.y_mm + line_mm / 2
    sheet.box(left, middle - 2.2, 4.4, 4.4, stroke=INK, line_mm=0.35)
    sheet.write(left + 14.0, middle + 1.4, str(work.number), 11, bold=True, anchor="end")
    draw_face_tag(sheet, left + 17.0, middle, work.face, pages.t)
    sheet.write(pages.right_mm, middle + 1.4, right, SMALL_PT, anchor="end")
    for k, line in enumerate(lines):
        sheet.write(left + 37.0, middle + 1.4 + k * LINE_MM, line, TEXT_PT)
    pages.y_mm += height
    ends = [(left, pages.y_mm), (pages.right_mm, pages.y_mm)]
    sheet.line(ends, width_mm=0.15, colour=PALE)


def add_overview(pages: Pages, drawn: DrawnPiece) -> None:
    """Draw the whole piece across the page with its ruler and heat-sensitive parts."""
    view = face_view("front")
    extent = extent_mm(drawn.rings, view)
    room = pages.width_mm
    scale = min(room / (extent[2] - extent[0]), 70.0 / (extent[3] - extent[1]), 6.0)
    picture = Picture(
        drawing=drawn.whole_drawing(view), left_mm=pages.left_mm, top_mm=pages.y_mm + 2.0,
        scale=scale, window_mm=extent,
    )  # fmt: skip
    zones = parts.place_zones(picture, drawn.zones(), pages.left_mm)
    above = 2.0 + rows.ROW_MM * (max((row for *_, row in zones), default=-1) + 1)
    picture = replace(picture, top_mm=pages.y_mm + above)
    sheet = pages.sheet
    if picture.drawing.paths:
        sheet.pictures.append(picture)
    else:
        sheet.box(picture.left_mm, picture.top_mm, picture.width_mm, picture.height_mm, stroke=GREY)
        text = drawn.t("sheet.too_many", n=drawn.rings.count)
        sheet.write(picture.left_mm + 3, picture.top_mm + 6, text, SMALL_PT)
    bottom = picture.top_mm + picture.height_mm
    for zone, left, row in zones:
        place = (left, pages.y_mm + rows.ROW_MM * row + 4.6)
        parts.draw_zone(
            sheet, picture, zone, top_mm=picture.top_mm, bottom_mm=bottom, text_mm=place
        )
    if drawn.in_rows.any() and drawn.plan.layout.row.any() and picture.drawing.paths:
        layout, own = drawn.plan.layout, drawn.in_rows
        joins = drawn.seen(view)[own]
        rows.draw_rows(sheet, picture, joins, layout.row[own], layout.column[own], drawn.t)
        bottom += 2 * rows.COLUMN_LINE_MM
    if int(drawn.plan.layout.row.max()) == 0:
        draw_axis(sheet, picture, bottom + 1.2, start_mm=drawn.start_mm)
        bottom += 7.0
    pages.y_mm = bottom + 3.0
