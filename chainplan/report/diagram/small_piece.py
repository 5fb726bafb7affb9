"""A small piece on one page: its picture with every number, and a table with a line a join."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.reference.texts import ENGLISH
from chainplan.report.diagram.drawn.around import SHORTEST_HOLD_MM
from chainplan.report.diagram.frame.key import SMALL_PT
from chainplan.report.diagram.frame.pages import (
    ACTION_MM,
    TEXT_PT,
    Pages,
    draw_action,
    draw_face_tag,
)
from chainplan.report.diagram.insets import add_insets, list_insets
from chainplan.report.diagram.pass_groups import group_passes
from chainplan.report.diagram.strip_drawing import Strip
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import GREY, INK, PALE
from chainplan.report.text.instructions import (
    SHORTEST_WAIT_S,
    ends_in_tweezers,
    loose_rings,
    setting_text,
)
from chainplan.units import show_wait

if TYPE_CHECKING:
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.reference.texts import Texts
    from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
    from chainplan.report.diagram.pass_groups import PassGroup

MOST_LISTED = 30
"""Joins that are listed one by one: two columns of fifteen lines fit below the picture."""
COLUMNS = 2
"""Of the table below the picture."""
ROW_MM = 5.2
"""A line of `TEXT_PT` with a box to tick and a faint line below."""
MOST_BOXES = 6
"""Boxes to tick, one a copy; more copies than this are ticked on the bench sheet."""
BOX_MM = 3.6
"""As wide as a pencil ticks."""
JOIN_MM, PLACE_MM, WAIT_MM = 10.0, 18.0, 25.0
"""Columns of a join's number, its distance from the start, and a wait such as "1 min 46 s"."""
HEAD_MM = 6.0
"""The line above the picture: its face and its scale."""
GAP_MM = 3.0
"""White between two columns of the table."""


def small_group(pages: Pages, drawn: DrawnPiece) -> PassGroup | None:
    """Return all joins of a piece as one group if they are few and nothing is done in between."""
    order = drawn.plan.order
    if not 0 < order.ring.size <= MOST_LISTED or loose_rings(drawn.plan.layout)[order.ring].all():
        return None
    if len({(work.face, setting_text(work.setting)) for work in order.passes}) > 1:
        return None
    whole = replace(order.passes[0], joins=int(order.ring.size))
    (group,) = group_passes(drawn, [whole], width_mm=pages.width_mm, height_mm=pages.height_mm / 2)
    return group if group.cut.narrow and len(group.cut.windows) == 1 else None


def add_small_piece(pages: Pages, drawn: DrawnPiece, group: PassGroup, heat: HeatSettings) -> None:
    """Add the picture of a small piece and its table of joins."""
    t = pages.t
    strip = Strip(drawn, group, group.cut.windows[0], (0.0, 0.0), pages.left_mm, listed=True)
    if not pages.has_room(ACTION_MM + HEAD_MM + strip.height_mm):  # no head without its picture
        pages.turn_page(drawn.plan.piece.name)
    draw_action(pages, t("action.set", setting=setting_text(group.passes[0].setting, t)))
    draw_face_tag(pages.sheet, pages.left_mm, pages.y_mm + 3.0, group.passes[0].face, t)
    text = t("sheet.listed", scale=group.cut.said(t))
    pages.sheet.write(pages.left_mm + 20.0, pages.y_mm + 4.4, text, TEXT_PT)
    pages.y_mm += HEAD_MM
    strip.draw(pages)
    add_insets(pages, drawn, list_insets(drawn, [group]))
    _add_table(pages, drawn, heat)


def hold_text(
    at_mm: float, length_mm: float, near_mm: float, far_mm: float, *,
    loose: bool = False, both: bool = False, ends: bool = False, t: Texts = ENGLISH,
) -> str:  # fmt: skip
    """Say where a piece is held while a join is welded, in mm from its start.

    Examples
    --------
    >>> hold_text(50.0, 160.0, 15.0, 35.0), hold_text(8.0, 160.0, 15.0, 35.0)
    ('15–35 or 65–85', '23–43')
    >>> hold_text(50.0, 160.0, 15.0, 35.0, both=True)
    '15–35 and 65–85'
    >>> hold_text(8.0, 160.0, 15.0, 35.0, ends=True)  # near an end tweezers hold that end
    'cross-lock tweezers'
    """
    if loose or far_mm <= 0:
        return ""
    sides = [(max(at_mm - far_mm, 0.0), at_mm - near_mm), (at_mm + near_mm, at_mm + far_mm)]
    sides = [(low, min(high, length_mm)) for low, high in sides]
    held = [f"{low:.0f}–{high:.0f}" for low, high in sides if high - low >= SHORTEST_HOLD_MM]
    if ends and len(held) < 2:
        return t("sheet.hold_tweezers")
    if len(held) < 2:
        return "".join(held)
    return t("sheet.hold_and" if both else "sheet.hold_or", one=held[0], other=held[1])


def _add_table(pages: Pages, drawn: DrawnPiece, heat: HeatSettings) -> None:
    """Write one line a join: what to tick, where it is, how long to wait, where to hold."""
    order = drawn.plan.order
    loose = loose_rings(drawn.plan.layout)[order.ring]
    view = drawn.view(order.passes[0])
    place = drawn.seen(view, order.ring)[:, 0] - drawn.start_mm
    lines = -(-order.ring.size // COLUMNS)
    if not pages.has_room(ROW_MM * (lines + 1)):
        pages.turn_page(drawn.plan.piece.name)
    boxes = min(drawn.plan.piece.quantity, MOST_BOXES)
    wide = pages.width_mm / COLUMNS
    names = [drawn.name_ring(ring) for ring in order.ring.tolist()]
    join = boxes * (BOX_MM + 1.0) + JOIN_MM
    named = join + GAP_MM
    placed = named + max(text_width_mm(name, TEXT_PT) for name in names) + PLACE_MM
    waited = placed + GAP_MM
    holds = waited + WAIT_MM
    far_mm = heat.hold_to_mm
    if drawn.is_too_short(heat.hold_from_mm):
        far_mm = 0.0  # too short for fingers: the page says how it is held
    held = not bool(loose.all()) and far_mm > 0
    top, t = pages.y_mm, pages.t
    for column in range(-(-order.ring.size // lines)):
        left = pages.left_mm + column * wide
        for x, head, anchor in (
            (join, t("sheet.head.join"), "end"), (named, t(f"line.word.{drawn.unit}"), "start"),
            (placed, t("sheet.head.start"), "end"), (waited, t("sheet.head.wait"), "start"),
            (holds, t("sheet.head.hold") if held else "", "start"),
        ):  # fmt: skip
            pages.sheet.write(left + x, top + 3.6, head, SMALL_PT, anchor=anchor, colour=GREY)
    for k, (name, wait, at, hangs) in enumerate(
        zip(names, order.wait_s.tolist(), place.tolist(), loose.tolist(), strict=True)
    ):
        left = pages.left_mm + k // lines * wide
        y = top + ROW_MM * (k % lines + 1)
        for copy in range(boxes):
            box = (left + copy * (BOX_MM + 1.0), y + 0.8)
            pages.sheet.box(*box, BOX_MM, BOX_MM, stroke=INK, line_mm=0.35)
        base = y + 3.9
        hold = hold_text(
            at, drawn.plan.layout.length_mm, heat.hold_from_mm, far_mm,
            loose=hangs, both=heat.sides_held > 1, ends=ends_in_tweezers(heat), t=t,
        )  # fmt: skip
        wait_text = show_wait(wait) if wait >= SHORTEST_WAIT_S else "–"
        pages.sheet.write(left + join, base, str(k + 1), 11.0, bold=True, anchor="end")
        pages.sheet.write(left + named, base, name, TEXT_PT)
        pages.sheet.write(left + placed, base, f"{at:.0f} mm", TEXT_PT, anchor="end")
        pages.sheet.write(left + waited, base, wait_text, TEXT_PT, bold=wait >= SHORTEST_WAIT_S)
        pages.sheet.write(left + holds, base, hold, TEXT_PT)
        ends = [(left, y + ROW_MM), (left + wide - 4.0, y + ROW_MM)]
        pages.sheet.line(ends, width_mm=0.15, colour=PALE)
    pages.y_mm = top + ROW_MM * (lines + 1)
