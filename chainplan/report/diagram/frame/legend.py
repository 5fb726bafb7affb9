"""Every mark on the pages explained, in columns on the cover."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from chainplan.report.diagram.frame.key import MARKS, SMALL_PT
from chainplan.report.paper.lettering import fold_text
from chainplan.report.paper.sheet import GREY

if TYPE_CHECKING:
    from collections.abc import Collection

    from chainplan.report.diagram.frame.pages import Pages

COLUMNS = 3
"""Columns of the legend, which with the cautions then fills the cover of one piece."""
LINE_MM = 4.0
"""From line to line of the legend."""
MARK_MM = 13.0
"""Room for a mark in the legend."""


def add_legend(pages: Pages, names: Collection[str]) -> None:
    """Explain the named marks, in columns that are read from top to bottom."""
    wide = pages.width_mm / COLUMNS
    marks = [(mark, pages.t(f"sheet.mark.{name}")) for name, mark in MARKS.items() if name in names]
    if not marks:
        return
    rows = [(mark, fold_text(text, SMALL_PT, wide - MARK_MM - 4.0)) for mark, text in marks]
    heights = [len(lines) * LINE_MM + 0.9 for _, lines in rows]
    high = max(sum(heights) / COLUMNS, *heights)
    while len(_deal(heights, high)) > COLUMNS:
        high += LINE_MM / 4
    ends = _deal(heights, high)
    columns = [rows[first:end] for first, end in pairwise([0, *ends])]
    if not pages.has_room(high + 8.0):
        pages.turn_page(pages.headings[-1])
    pages.y_mm += 2.0
    pages.write_lines([pages.t("sheet.marks")], size_pt=12, bold=True, line_mm=6.5)
    top = pages.y_mm
    for number, column in enumerate(columns):
        left, y = pages.left_mm + number * wide, top
        for mark, lines in column:
            if mark.label:
                label = f"{pages.t(mark.label)} 1"
                pages.sheet.write(left, y + LINE_MM - 1.1, label, SMALL_PT, colour=GREY)
            else:
                mark.draw(pages.sheet, left, y + LINE_MM - 2.3)
            for line in lines:
                y += LINE_MM
                pages.sheet.write(left + MARK_MM, y - 1.1, line, SMALL_PT)
            y += 0.9
    pages.y_mm = top + high


def _deal(heights: list[float], high: float) -> list[int]:
    """Deal lines out to columns of a height: where each of them ends."""
    ends, used = [], 0.0
    for k, height in enumerate(heights):
        if used + height > high + 1e-9:
            ends.append(k)
            used = 0.0
        used += height
    return [*ends, len(heights)]
