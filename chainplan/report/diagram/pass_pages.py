"""The pages of one piece: its first page, then every pass on strips or tiles."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.diagram.drawn.marks import draw_direction
from chainplan.report.diagram.frame.key import SMALL_PT
from chainplan.report.diagram.frame.pages import (
    ACTION_MM,
    LINE_MM,
    TAG_WIDE_MM,
    TEXT_PT,
    Pages,
    draw_action,
    draw_face_tag,
)
from chainplan.report.diagram.insets import add_insets, list_insets
from chainplan.report.diagram.loose_piece import add_loose_piece, is_loose
from chainplan.report.diagram.pass_groups import group_passes
from chainplan.report.diagram.pass_list import add_instructions, add_overview, add_pass_list
from chainplan.report.diagram.small_piece import add_small_piece, small_group
from chainplan.report.diagram.strip_drawing import Strip
from chainplan.report.paper.lettering import fold_text, shorten_text
from chainplan.report.text.instructions import (
    SHORTEST_WAIT_S,
    ends_in_tweezers,
    say_joins,
    say_pass,
    say_waits,
    setting_text,
)

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.order import Pass
    from chainplan.reference.texts import Texts
    from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
    from chainplan.report.diagram.drawn.windows import Window
    from chainplan.report.diagram.pass_groups import PassGroup


MOST_WINDOWS = 400
"""More strips or tiles, some 130 pages, are drawn on request only; else each pass shows its
start."""
MOST_PASSES = 120
"""Passes that are drawn at all, unless tiles are asked for: nobody keeps more on paper."""
TITLE_PT = 11.5
"""A pass's title stands out of the text, and most still fit on one line."""
TAG_MM = 19.5
"""Room for the face's tag before a pass's title."""
MOST_CLIPS = 4
"""Places of the clip that are told in words; marks show the others (judgement)."""
AROUND_MM = 52.0
"""What a pass's title, two things to do first and the marks around a tile need."""


def add_piece(pages: Pages, drawn: DrawnPiece, heat: HeatSettings, *, tiles: bool) -> None:
    """Add all pages of one piece."""
    plan = drawn.plan
    small = small_group(pages, drawn)
    if is_loose(drawn):
        add_loose_piece(pages, drawn)
        return
    add_instructions(pages, drawn, heat, listed=small is not None)
    if small is not None:
        add_small_piece(pages, drawn, small, heat)
        return
    passes = plan.order.passes if tiles else plan.order.passes[:MOST_PASSES]
    groups = group_passes(
        drawn, passes, width_mm=pages.width_mm, height_mm=pages.height_mm - AROUND_MM
    )
    add_overview(pages, drawn)
    add_insets(pages, drawn, list_insets(drawn, groups))
    add_pass_list(pages, drawn)
    starts_only = sum(len(group.cut.windows) for group in groups) > MOST_WINDOWS and not tiles
    if starts_only:
        pages.write_text(
            pages.t("sheet.large"),
            size_pt=SMALL_PT,
        )
    pages.y_mm += 4.0
    before = None
    for group in groups:
        hold = (heat.hold_from_mm, heat.hold_to_mm)
        if drawn.is_too_short(heat.hold_from_mm):
            hold = (0.0, 0.0)  # too short for fingers: the page says how it is held
        ends = ends_in_tweezers(heat)
        _add_group(pages, drawn, group, before, starts_only=starts_only, hold_mm=hold, ends=ends)
        before = group.passes[-1]


def _windows(group: PassGroup, *, starts_only: bool) -> list[Window]:
    """Return the strips or tiles that hold joins, in the order in which they are come to."""
    points = group.points_mm[group.starts] if starts_only else group.points_mm
    held = ((window, window.holds(points)) for window in group.cut.windows)
    found = [(int(np.argmax(inside)), window) for window, inside in held if inside.any()]
    return [window for _, window in sorted(found, key=_first)]


def _first(pair: tuple[int, Window]) -> int:
    return pair[0]


def _add_group(
    pages: Pages,
    drawn: DrawnPiece,
    group: PassGroup,
    before: Pass | None,
    *,
    starts_only: bool,
    hold_mm: tuple[float, float],
    ends: bool,
) -> None:
    title = PassesTitle(pages, drawn, group, before)
    for k, window in enumerate(_windows(group, starts_only=starts_only)):
        strip = Strip(drawn, group, window, hold_mm, pages.left_mm, ends=ends)
        if not pages.has_room(strip.height_mm + (0.0 if k else title.height_mm)):
            pages.turn_page(drawn.plan.piece.name)
            if k:
                title.draw_again(pages)
        if k == 0:
            title.draw(pages)
        strip.draw(pages)


def _actions(work: Pass, before: Pass | None, t: Texts) -> list[str]:
    """Say what is done before a pass: turning the piece, setting the welder."""
    actions = []
    if before is not None and before.face != work.face:
        actions.append(t(f"action.turn.{work.face}"))
    if before is None or setting_text(before.setting) != setting_text(work.setting):
        actions.append(t("action.set", setting=setting_text(work.setting, t)))
    return actions


class PassesTitle:
    """The title of a group of passes: what to do first, each pass in words, its end rings."""

    def __init__(
        self, pages: Pages, drawn: DrawnPiece, group: PassGroup, before: Pass | None
    ) -> None:
        works = group.passes
        many = len(works) > 1
        t = pages.t
        self.face = works[0].face
        self.actions = _actions(works[0], before, t)
        total = max(work.number for work in drawn.plan.order.passes)
        room = pages.width_mm - TAG_MM
        setting, scale = setting_text(works[0].setting, t), group.cut.said(t)
        if many:
            ends = {"first": works[0].number, "last": works[-1].number}
            name = t("sheet.passes", **ends)
            joins = say_joins(group.first_step + 1, group.joins, t)
            head = f"{t('sheet.passes_of', **ends, passes=total)} · {joins} · {setting} · {scale}"
            self.head = [head]
            rest = [
                f"{t('pass.number', number=work.number)}: {say_pass(work, t)}{_range(drawn, work)}"
                for work in works
            ]
            self.lines = [line for text in rest for line in fold_text(text, TEXT_PT, room)]
        else:
            name = t("pass.number", number=works[0].number)
            of = t("pass.of", number=works[0].number, passes=total)
            text = f"{of}: {say_pass(works[0], t)}"
            self.head = fold_text(text, TITLE_PT, room, bold=True)
            text = f"{_ends(drawn, works[0])} · {setting} · {scale}"
            self.lines = fold_text(text, TEXT_PT, room)
        self.again = t("sheet.continued", what=name)
        if not many:
            self.again += f": {say_pass(works[0], t)}"
        self.way = group.way

    @property
    def height_mm(self) -> float:
        """Height of all lines."""
        lines = 5.0 * len(self.head) + LINE_MM * len(self.lines)
        return ACTION_MM * len(self.actions) + lines + 1.8

    def draw(self, pages: Pages) -> None:
        """Write it at its place on the page and move this on."""
        sheet, left = pages.sheet, pages.left_mm
        for action in self.actions:
            draw_action(pages, action)
        draw_face_tag(sheet, left, pages.y_mm + 3.0, self.face, pages.t)
        self._draw_way(pages, pages.y_mm + 8.0)
        for text in self.head:
            sheet.write(left + TAG_MM, pages.y_mm + 4.5, text, TITLE_PT, bold=True)
            pages.y_mm += 5.0
        for text in self.lines:
            sheet.write(left + TAG_MM, pages.y_mm + 4.4, text, TEXT_PT)
            pages.y_mm += LINE_MM
        pages.y_mm += 1.8

    def draw_again(self, pages: Pages) -> None:
        """Name the passes on a further page, with their direction."""
        self._draw_way(pages, pages.y_mm + 2.4)
        room = pages.width_mm - TAG_MM
        pages.write_lines(
            [shorten_text(self.again, SMALL_PT, room)], size_pt=SMALL_PT, indent_mm=TAG_MM
        )

    def _draw_way(self, pages: Pages, y_mm: float) -> None:
        """Draw one long arrow: the way that all passes go along the strips."""
        if self.way:
            ends = (pages.left_mm, pages.left_mm + TAG_WIDE_MM)
            draw_direction(pages.sheet, *ends, y_mm, forward=self.way > 0)
            pages.explain("way")


def _ends(drawn: DrawnPiece, work: Pass) -> str:
    """Say where a pass begins and ends, and where to wait."""
    ring = drawn.rings_of(work)
    first = work.first_step + 1
    t, last = drawn.t, first + work.joins - 1
    names = {"ring": drawn.name_ring(int(ring[0])), "other": drawn.name_ring(int(ring[-1]))}
    text = t("sheet.ends" if work.joins > 1 else "sheet.end", first=first, last=last, **names)
    return f"{text} · {say_waits(_waits(drawn, work), first, t)}{_clips(drawn, work)}"


def _clips(drawn: DrawnPiece, work: Pass) -> str:
    """Say at which joins of a pass the clip is moved."""
    places = drawn.clips_of(work)
    if len(places) < 2:
        return ""
    t = drawn.t
    each = (t("sheet.clip_place", ring=r + 1, join=step + 1) for r, step in places[:MOST_CLIPS])
    key = "sheet.clip_more" if len(places) > MOST_CLIPS else "sheet.clip"
    return f" · {t(key, places=', '.join(each))}"


def _range(drawn: DrawnPiece, work: Pass) -> str:
    """Say the joins of a pass among others, its end rings, and where to wait if anywhere."""
    ring, waits = drawn.rings_of(work), _waits(drawn, work)
    first = work.first_step + 1
    t = drawn.t
    which = t("title.ring", ring=int(ring[0]) + 1)
    if work.joins > 1:
        which = t("sheet.ring_to", first=int(ring[0]) + 1, last=int(ring[-1]) + 1)
    text = f" · {say_joins(first, work.joins, t)}, {which}"
    return text if waits.max() < SHORTEST_WAIT_S else f"{text} · {say_waits(waits, first, t)}"


def _waits(drawn: DrawnPiece, work: Pass) -> FloatArray:
    return drawn.plan.order.wait_s[work.first_step : work.first_step + work.joins]
