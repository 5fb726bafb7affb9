"""The pages of one piece: the list of its passes, then every pass on strips or tiles."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.report import diagram_marks as marks
from chainplan.report.arcs import extent_mm, face_view
from chainplan.report.figure import setting_text
from chainplan.report.glyphs import fold_text, shorten_text, text_width_mm
from chainplan.report.pages import LINE_MM, SMALL_PT, TEXT_PT, Book, draw_face_tag
from chainplan.report.sheet import GREY, INK, PALE, Stamp
from chainplan.report.strip_drawing import Strip
from chainplan.report.strips import cut_piece
from chainplan.units import show_duration

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.model.order import Pass
    from chainplan.report.figure import Figure

    FloatArray = npt.NDArray[np.float64]

MOST_WINDOWS = 400
"""More strips or tiles than this are drawn on request only; else each pass shows its start."""
MOST_PASSES = 120
"""Passes that are drawn at all, unless tiles are asked for."""
TITLE_PT = 11.5
TAG_MM = 19.5
"""Room for the face's tag before a pass's title."""
LIST_LINE_MM = 6.4
CLOSEST_LINE_MM = 5.2
"""Lines of the list of passes move together down to this if they then fit on the page."""
AROUND_MM = 52.0
"""What a pass's title, two things to do first and the marks around a tile need."""


def add_piece(book: Book, figure: Figure, *, tiles: bool, hold_mm: tuple[float, float]) -> None:
    """Add all pages of one piece."""
    plan = figure.plan
    _add_list(book, figure)
    passes = plan.order.passes if tiles else plan.order.passes[:MOST_PASSES]
    largest = int(plan.order.ring.size)
    windows = 0
    for work in passes:
        view = figure.view(work)
        figure.cuts[work.number] = cut_piece(
            figure.rings,
            view,
            figure.seen(view, figure.rings_of(work)),
            largest,
            rows=int(plan.layout.row.max(initial=0)) + 1,
            width_mm=book.width_mm,
            height_mm=book.height_mm - AROUND_MM,
        )
        windows += len(figure.cuts[work.number].windows)
    starts_only = windows > MOST_WINDOWS and not tiles
    if passes:
        book.turn_page(plan.piece.name)
    if starts_only:
        book.write_text(
            "This piece is large: each pass is shown where it begins. Ask for tiles to have all of "
            "it drawn.",
            size_pt=SMALL_PT,
        )
    before = None
    for work in passes:
        _add_pass(book, figure, work, before, starts_only=starts_only, hold_mm=hold_mm)
        before = work


def _add_list(book: Book, figure: Figure) -> None:
    """Add the overview of a piece and the list of its passes, one line each."""
    plan = figure.plan
    order = plan.order
    copies = f"{plan.piece.quantity} copies, each " if plan.piece.quantity > 1 else ""
    closed = int(np.count_nonzero(plan.joins.pre_closed))
    book.turn_page(plan.piece.name, key=False)
    book.write_text(
        f"{copies}{plan.layout.rings} rings, {order.ring.size} joins to weld in "
        f"{len(order.passes)} {'pass' if len(order.passes) == 1 else 'passes'}, about "
        f"{show_duration(order.bench_time_s)} at the bench."
        + (f" {closed} rings are closed before weaving." if closed else "")
    )
    _add_overview(book, figure)
    if order.status == "infeasible":
        text = "No order keeps all limits: what follows breaks some of them."
        book.write_text(text, size_pt=11, bold=True)
    for line in (*order.advice, *order.gained):
        book.write_text(line, size_pt=SMALL_PT)
    book.y_mm += 2.0
    before: Pass | None = None
    tight = (book.bottom_mm - book.y_mm) / max(1, len(order.passes))
    line_mm = min(LIST_LINE_MM, tight) if tight > CLOSEST_LINE_MM else LIST_LINE_MM
    for work in order.passes:
        _add_list_line(book, work, before, line_mm)
        before = work


def _list_text(book: Book, work: Pass, before: Pass | None) -> tuple[list[str], str]:
    """Return the lines of a pass's own words, and what stands to the right of them."""
    steps = f"joins {work.first_step + 1}–{work.first_step + work.joins}"
    setting = setting_text(work.setting)
    if before is None or setting_text(before.setting) != setting:
        steps = f"{steps} · {setting}"
    room = book.width_mm - 41.0 - text_width_mm(steps, SMALL_PT)
    return fold_text(work.text, TEXT_PT, room), steps


def _add_list_line(book: Book, work: Pass, before: Pass | None, line_mm: float) -> None:
    """Write one pass of the list; a long one takes a second line."""
    lines, right = _list_text(book, work, before)
    height = line_mm + (len(lines) - 1) * LINE_MM
    if not book.has_room(height):
        book.turn_page(book.headings[-1], key=False)
    sheet, left, middle = book.sheet, book.left_mm, book.y_mm + line_mm / 2
    sheet.box(left, middle - 2.2, 4.4, 4.4, stroke=INK, line_mm=0.35)
    sheet.write(left + 14.0, middle + 1.4, str(work.number), 11, bold=True, anchor="end")
    draw_face_tag(sheet, left + 17.0, middle, work.face)
    sheet.write(book.right_mm, middle + 1.4, right, SMALL_PT, anchor="end")
    for k, line in enumerate(lines):
        sheet.write(left + 37.0, middle + 1.4 + k * LINE_MM, line, TEXT_PT)
    book.y_mm += height
    ends = [(left, book.y_mm), (book.right_mm, book.y_mm)]
    sheet.line(ends, width_mm=0.15, colour=PALE)


def _add_overview(book: Book, figure: Figure) -> None:
    """Draw the whole piece across the page with its ruler and heat-sensitive parts."""
    view = face_view("front")
    extent = extent_mm(figure.rings, view)
    room = book.width_mm
    scale = min(room / (extent[2] - extent[0]), 70.0 / (extent[3] - extent[1]), 6.0)
    zones = figure.zones()
    book.y_mm += 6.0 if zones else 2.0
    stamp = Stamp(
        drawing=figure.whole_drawing(view), left_mm=book.left_mm, top_mm=book.y_mm,
        scale=scale, window_mm=extent,
    )  # fmt: skip
    sheet = book.sheet
    if stamp.drawing.layers:
        sheet.stamps.append(stamp)
    else:
        sheet.box(stamp.left_mm, stamp.top_mm, stamp.width_mm, stamp.height_mm, stroke=GREY)
        text = f"{figure.rings.count} rings, too many to draw in one picture"
        sheet.write(stamp.left_mm + 3, stamp.top_mm + 6, text, SMALL_PT)
    bottom = stamp.top_mm + stamp.height_mm
    for zone in zones:
        marks.draw_zone(sheet, stamp, zone, stamp.top_mm, bottom, stamp.top_mm - 2.6)
    shown = (stamp.left_mm, stamp.left_mm + stamp.width_mm)
    if int(figure.plan.layout.row.max()) == 0:
        marks.draw_ruler(sheet, stamp, bottom + 1.2, figure.rings.centre_mm[:, 0], shown)
        bottom += 7.0
    book.y_mm = bottom + 3.0


def _add_pass(
    book: Book,
    figure: Figure,
    work: Pass,
    before: Pass | None,
    *,
    starts_only: bool,
    hold_mm: tuple[float, float],
) -> None:
    cut, view = figure.cuts[work.number], figure.view(work)
    points = figure.seen(view, figure.rings_of(work))
    windows = [w for w in cut.windows if w.holds(points).any()]
    if starts_only:
        windows = [w for w in windows if w.holds(points[:1]).any()]
    windows.sort(key=lambda window: int(np.argmax(window.holds(points))))
    for k, window in enumerate(windows):
        strip = Strip(figure, work, cut, window, view, points, hold_mm)
        need = strip.height_mm + (_title_height(book, figure, work, before) if k == 0 else 0.0)
        if not book.has_room(need):
            book.turn_page(figure.plan.piece.name)
            if k:
                title = f"pass {work.number}, continued: {work.text}"
                book.write_lines([shorten_text(title, SMALL_PT, book.width_mm)], size_pt=SMALL_PT)
        if k == 0:
            _add_title(book, figure, work, before)
        strip.draw(book)


def _actions(work: Pass, before: Pass | None) -> list[str]:
    """Say what is done before a pass: turning the piece, setting the welder."""
    actions = []
    if before is not None and before.face != work.face:
        actions.append(
            f"Turn the piece to its {work.face}, about its length: its start stays on the left."
        )
    if before is None or setting_text(before.setting) != setting_text(work.setting):
        actions.append(f"Set the welder: {setting_text(work.setting)}. Try it on scrap.")
    return actions


def _title_lines(book: Book, figure: Figure, work: Pass) -> list[str]:
    """Return the pass in words, folded: an instruction is never cut short."""
    text = f"pass {work.number} of {len(figure.plan.order.passes)}: {work.text}"
    return fold_text(text, TITLE_PT, book.width_mm - TAG_MM, bold=True)


def _title_height(book: Book, figure: Figure, work: Pass, before: Pass | None) -> float:
    lines = len(_title_lines(book, figure, work))
    return 8.5 + 5.0 * lines + 7.0 * len(_actions(work, before))


def _add_title(book: Book, figure: Figure, work: Pass, before: Pass | None) -> None:
    """Write the title of a pass: what to do first, the pass in one line, its end rings."""
    sheet, left = book.sheet, book.left_mm
    for action in _actions(work, before):
        sheet.box(left, book.y_mm + 0.6, book.width_mm, 5.8, fill=PALE)
        sheet.write(left + 2.0, book.y_mm + 4.8, action, 10, bold=True)
        book.y_mm += 7.0
    middle = book.y_mm + 4.0
    draw_face_tag(sheet, left, middle, work.face)
    x = left + TAG_MM
    lines = _title_lines(book, figure, work)
    for k, text in enumerate(lines):
        sheet.write(x, middle + 1.5 + 5.0 * k, text, TITLE_PT, bold=True)
    middle += 5.0 * (len(lines) - 1)
    ring = figure.rings_of(work)
    waits = figure.plan.order.wait_s[work.first_step : work.first_step + work.joins]
    parts = [
        f"join {work.first_step + 1} on ring {ring[0] + 1} to join "
        f"{work.first_step + work.joins} on ring {ring[-1] + 1}",
        setting_text(work.setting),
        _wait_text(waits, work.first_step),
    ]
    line = " · ".join(part for part in parts if part)
    sheet.write(x, middle + 6.6, shorten_text(line, SMALL_PT, book.right_mm - x), SMALL_PT)
    book.y_mm += 8.5 + 5.0 * len(lines)


def _wait_text(waits: FloatArray, first_step: int) -> str:
    """Say the waits of a pass in words."""
    long = np.flatnonzero(waits >= 0.5)
    if not len(long):
        return "no waits"
    if len(long) == len(waits) and np.ptp(waits) < 1.0:
        return f"wait {show_duration(float(waits.mean()))} before each join"
    if len(long) > 4:
        return f"{len(long)} waits, {show_duration(float(waits.sum()))} in all: see the bench sheet"
    said = (f"{show_duration(float(waits[k]))} before join {first_step + k + 1}" for k in long)
    return "wait " + ", ".join(said)
