"""``week.pdf``: a page a week to hang on the wall, people as rows and days as columns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.report.paper.lettering import fold_text
from chainplan.report.paper.sheet import GREY, INK, PALE, PAPER_MM, Sheet
from chainplan.report.text.blocks import blocks_of
from chainplan.report.week.notices import DAY, notices_of

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence
    from pathlib import Path

    from chainplan.model.plan import Plan
    from chainplan.report.text.blocks import WorkBlock
    from chainplan.report.week.notices import Notice

NAME = "week.pdf"
MARGIN_MM = 12.0
"""Of the page all round."""
TOP_MM = 24.0
"""Room for the title."""
HEAD_MM = 7.0
"""Row of the days' names."""
FOOT_MM = 9.0
"""Room for the legend and the page number."""
NAME_MM = 24.0
"""Column of the people's names."""
TEXT_PT, TIME_PT, SMALL_PT, NAME_PT = 9.0, 9.0, 7.5, 10.0
"""9 pt is read from an arm's length, where a page on the wall hangs."""
LINE_MM = 4.2
"""A line of a block."""
PAD_MM = 1.4
"""Air inside a block."""
GAP_MM = 1.2
"""Air between two blocks."""


@dataclass(frozen=True)
class _DayCell:
    """Lines of one person's day, each with whether it is a time."""

    lines: tuple[tuple[str, bool], ...]

    @property
    def height_mm(self) -> float:
        times = sum(is_time for _, is_time in self.lines)
        return len(self.lines) * LINE_MM + max(times - 1, 0) * GAP_MM + 2 * PAD_MM


def write_week(plan: Plan, folder: Path, *, paper: str = "A4") -> list[Path]:
    """Write ``week.pdf``; nothing for a job without a start date."""
    from chainplan.report.paper.pdf import write_pdf

    sheets = week_sheets(plan, paper=paper)
    if not sheets:
        return []
    target = folder / NAME
    target.write_bytes(write_pdf(sheets, title=f"Weeks: {plan.job.name}"))
    return [target]


def week_sheets(plan: Plan, *, paper: str = "A4") -> list[Sheet]:
    """Draw the pages: one a week, more where a week's work does not fit on one."""
    blocks, notices = blocks_of(plan), notices_of(plan)
    if not blocks:
        return []
    days = sorted({block.start.date() for block in blocks})
    last = max(days[-1], *(notice.last for notice in notices))
    monday = days[0] - days[0].weekday() * DAY
    sheets: list[Sheet] = []
    while monday <= last:
        own = [block for block in blocks if monday <= block.start.date() < monday + 7 * DAY]
        here = [one for one in notices if one.first < monday + 7 * DAY and one.last >= monday]
        if own or here:
            sheets += _Week(plan, monday, own, here, paper).sheets()
        monday += 7 * DAY
    return sheets


class _Week:
    """The pages of one week."""

    def __init__(
        self,
        plan: Plan,
        monday: datetime.date,
        blocks: Sequence[WorkBlock],
        notices: Sequence[Notice],
        paper: str,
    ) -> None:
        self.plan, self.monday, self.blocks, self.notices = plan, monday, blocks, notices
        self.paper_mm = PAPER_MM[paper]
        worked = {block.start.date() for block in blocks}
        told = {one.first for one in notices if one.first == one.last}
        week = [day for day in self._days() if day.weekday() < 5 or day in worked | told]
        self.days = week
        self.wide_mm = (self.paper_mm[0] - 2 * MARGIN_MM - NAME_MM) / len(week)
        self.bottom_mm = self.paper_mm[1] - MARGIN_MM - FOOT_MM

    def _days(self) -> list[datetime.date]:
        return [self.monday + k * DAY for k in range(7)]

    def sheets(self) -> list[Sheet]:
        """Draw row by row, and turn the page where the next one does not fit."""
        found: list[Sheet] = []
        rows = [
            (label, [self._cell(label, day) for day in self.days])
            for label in self.plan.schedule.people
            if any(block.person == label for block in self.blocks)
        ]
        told = [_DayCell(tuple(self._told(day))) for day in self.days]
        if any(cell.lines for cell in told):
            rows.insert(0, ("on that day", told))
        room_mm = self.bottom_mm - TOP_MM - HEAD_MM
        y_mm = self.bottom_mm
        for label, cells in rows:
            for part in _parts(cells, room_mm):
                height_mm = max(cell.height_mm for cell in part)
                if y_mm + height_mm > self.bottom_mm + 0.01:
                    found.append(self._page(more=bool(found)))
                    y_mm = TOP_MM + HEAD_MM
                self._row(found[-1], label, part, y_mm, height_mm)
                y_mm += height_mm
        return found

    def _cell(self, label: str, day: datetime.date) -> _DayCell:
        lines: list[tuple[str, bool]] = []
        for block in self.blocks:
            if block.person == label and block.start.date() == day:
                lines.append((f"{block.start:%H:%M} – {block.end:%H:%M}", True))
                text = fold_text(block.text, TEXT_PT, self.wide_mm - 2 * PAD_MM)
                lines += [(line, False) for line in text]
        return _DayCell(tuple(lines))

    def _told(self, day: datetime.date) -> list[tuple[str, bool]]:
        wide_mm = self.wide_mm - 2 * PAD_MM
        texts = [one.text for one in self.notices if one.first <= day <= one.last]
        return [(line, False) for text in texts for line in fold_text(text, TEXT_PT, wide_mm)]

    def _page(self, *, more: bool) -> Sheet:
        width_mm, height_mm = self.paper_mm
        last = self.days[-1]
        title = f"Week from {_day(self.monday)} to {_day(last)} {last.year}"
        sheet = Sheet(width_mm=width_mm, height_mm=height_mm, title=title)
        sheet.write(MARGIN_MM, MARGIN_MM + 5, title, 15, bold=True)
        job = self.plan.job.name + (", continued" if more else "")
        sheet.write(width_mm - MARGIN_MM, MARGIN_MM + 5, job, 11, anchor="end")
        top = TOP_MM
        sheet.box(MARGIN_MM, top, width_mm - 2 * MARGIN_MM, HEAD_MM, fill=PALE, stroke=INK)
        for k, day in enumerate(self.days):
            x_mm = MARGIN_MM + NAME_MM + k * self.wide_mm
            sheet.write(x_mm + PAD_MM, top + HEAD_MM - 2.2, _day(day), 10, bold=True)
        foot = f"{self.plan.stamp} · quarters of an hour; minutes stand in plan.xlsx and plan.json"
        sheet.write(MARGIN_MM, height_mm - MARGIN_MM, foot, SMALL_PT, colour=GREY)
        return sheet

    def _row(
        self, sheet: Sheet, label: str, cells: Sequence[_DayCell], y_mm: float, height_mm: float
    ) -> None:
        right_mm = self.paper_mm[0] - MARGIN_MM
        sheet.box(MARGIN_MM, y_mm, right_mm - MARGIN_MM, height_mm, stroke=INK)
        bold = label in self.plan.schedule.people
        bold = label in self.plan.schedule.people
        size_pt = NAME_PT if bold else TEXT_PT
        names = fold_text(label, size_pt, NAME_MM - 2 * PAD_MM, bold=bold)
        for k, name in enumerate(names[: max(int(height_mm / LINE_MM), 1)]):
            y_name_mm = y_mm + PAD_MM + 3.6 + k * LINE_MM
            sheet.write(MARGIN_MM + PAD_MM, y_name_mm, name, size_pt, bold=bold)
        for k, cell in enumerate(cells):
            x_mm = MARGIN_MM + NAME_MM + k * self.wide_mm
            sheet.line([(x_mm, y_mm), (x_mm, y_mm + height_mm)], width_mm=0.2)
            at_mm, before = y_mm + PAD_MM + 3.1, False
            for text, is_time in cell.lines:
                at_mm += GAP_MM if is_time and before else 0.0
                size_pt = TIME_PT if is_time else TEXT_PT
                sheet.write(x_mm + PAD_MM, at_mm, text, size_pt, bold=is_time)
                at_mm, before = at_mm + LINE_MM, True


def _parts(cells: Sequence[_DayCell], room_mm: float) -> list[list[_DayCell]]:
    """Cut a row that is higher than a page at whole blocks."""
    if max(cell.height_mm for cell in cells) <= room_mm:
        return [list(cells)]
    most = int((room_mm - 2 * PAD_MM) / (LINE_MM + GAP_MM))
    cut = [_cut(cell.lines, most) for cell in cells]
    return [
        [_DayCell(tuple(own[k]) if k < len(own) else ()) for own in cut]
        for k in range(max(map(len, cut)))
    ]


def _cut(lines: Sequence[tuple[str, bool]], most: int) -> list[list[tuple[str, bool]]]:
    pages: list[list[tuple[str, bool]]] = [[]]
    for k, line in enumerate(lines):
        ahead = next((n for n in range(k + 1, len(lines)) if lines[n][1]), len(lines)) - k
        if pages[-1] and (len(pages[-1]) >= most or (line[1] and len(pages[-1]) + ahead > most)):
            pages.append([])
        pages[-1].append(line)
    return pages


def _day(day: datetime.date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
