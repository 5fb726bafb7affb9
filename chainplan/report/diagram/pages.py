"""Pages that fill from top to bottom, with the piece's name above and the key of marks below."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.diagram.drawn.marks import DOT_MM, MARK, SHADE, TINT, WARM
from chainplan.report.paper.lettering import fold_text, shorten_text, text_width_mm
from chainplan.report.paper.sheet import GREY, INK, PALE, PAPER_MM, WHITE, Sheet

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

MARGIN_MM = 12.0
"""Room to punch and to hold the sheet; every printer leaves less white of its own."""
TOP_MM = 22.0
"""Where a page's content begins: the margin, the name in 14 pt, a line and air."""
FOOT_MM = 17.0
"""What the key of marks and the foot take at the lower edge."""
SMALL_PT, TEXT_PT = 9.0, 10.0
"""9 pt is the least that reads at arm's length, where the sheet lies while one welds."""
ACTION_MM = 7.0
"""A line in a grey bar: what is done before a pass must not be overlooked."""
LINE_MM = 4.9
"""From line to line of text in `TEXT_PT`: 1.4 times its size, so that an eye that comes back from
the bench finds its line."""


class Pages:
    """A document of landscape pages; knows where on the page the next thing goes."""

    def __init__(self, paper: str, title: str, stamp: str) -> None:
        self.paper_mm = PAPER_MM[paper]
        self.title = title
        self.stamp = stamp
        self.sheets: list[Sheet] = []
        self.headings: list[str] = []
        self.keys: list[set[str]] = []
        self.y_mm = 0.0

    @property
    def left_mm(self) -> float:
        """Left edge of the text."""
        return MARGIN_MM

    @property
    def right_mm(self) -> float:
        """Right edge of the text."""
        return self.paper_mm[0] - MARGIN_MM

    @property
    def width_mm(self) -> float:
        """Width of the text."""
        return self.right_mm - self.left_mm

    @property
    def bottom_mm(self) -> float:
        """Lower edge of what a page holds above its foot."""
        return self.paper_mm[1] - FOOT_MM

    @property
    def height_mm(self) -> float:
        """Height of what a page holds."""
        return self.bottom_mm - TOP_MM

    @property
    def sheet(self) -> Sheet:
        """The page being filled."""
        return self.sheets[-1]

    def turn_page(self, heading: str) -> None:
        """Begin a new page."""
        width, height = self.paper_mm
        self.sheets.append(
            Sheet(width_mm=width, height_mm=height, title=f"{self.title}: {heading}")
        )
        self.headings.append(heading)
        self.keys.append(set())
        self.y_mm = TOP_MM

    def explain(self, *names: str) -> None:
        """Put marks into the key at the foot of this page; for the names see ``draw_key``."""
        self.keys[-1].update(names)

    def has_room(self, height_mm: float) -> bool:
        """Tell whether something of this height still fits on the page."""
        return self.y_mm + height_mm <= self.bottom_mm + 0.01

    def write_lines(
        self,
        lines: Sequence[str],
        *,
        size_pt: float = TEXT_PT,
        bold: bool = False,
        indent_mm: float = 0.0,
        line_mm: float = LINE_MM,
        colour: str = INK,
    ) -> None:
        """Write lines one below another, turning the page when it is full."""
        for line in lines:
            if not self.has_room(line_mm):
                self.turn_page(self.headings[-1])
            self.y_mm += line_mm
            self.sheet.write(
                self.left_mm + indent_mm, self.y_mm - 1.1, line, size_pt, bold=bold, colour=colour
            )

    def write_text(
        self, text: str, *, size_pt: float = TEXT_PT, bold: bool = False, indent_mm: float = 0.0
    ) -> None:
        """Write a paragraph over the whole width."""
        lines = fold_text(text, size_pt, self.width_mm - indent_mm, bold=bold)
        self.write_lines(lines, size_pt=size_pt, bold=bold, indent_mm=indent_mm)

    def finish(self) -> list[Sheet]:
        """Write heads and feet, now that the number of pages is known, and return the pages."""
        for number, (sheet, heading, names) in enumerate(
            zip(self.sheets, self.headings, self.keys, strict=True), 1
        ):
            self._head(sheet, heading, f"page {number} of {len(self.sheets)}")
            self._foot(sheet, names)
        return self.sheets

    def _head(self, sheet: Sheet, heading: str, page: str) -> None:
        name = shorten_text(heading, 14, self.width_mm * 0.6, bold=True)
        job = shorten_text(self.title, SMALL_PT, self.width_mm * 0.25)
        sheet.write(self.left_mm, MARGIN_MM + 4.0, name, 14, bold=True)
        sheet.write(self.right_mm, MARGIN_MM + 4.0, f"{job} · {page}", SMALL_PT, anchor="end")
        sheet.line(
            [(self.left_mm, MARGIN_MM + 6.5), (self.right_mm, MARGIN_MM + 6.5)], width_mm=0.4
        )

    def _foot(self, sheet: Sheet, names: set[str]) -> None:
        base = self.paper_mm[1] - MARGIN_MM + 4.0
        sheet.write(self.left_mm, base, "Estimates: try on scrap first.", 8, colour=GREY)
        sheet.write(self.right_mm, base, self.stamp, 8, anchor="end", colour=GREY)
        draw_key(sheet, self.left_mm, self.paper_mm[1] - MARGIN_MM - 2.2, names)


def draw_action(pages: Pages, text: str) -> None:
    """Write in a grey bar what is done before anything is welded, and move on."""
    pages.sheet.box(pages.left_mm, pages.y_mm + 0.6, pages.width_mm, 5.8, fill=PALE)
    pages.sheet.write(pages.left_mm + 2.0, pages.y_mm + 4.8, text, TEXT_PT, bold=True)
    pages.y_mm += ACTION_MM


def draw_key(sheet: Sheet, left_mm: float, y_mm: float, names: Collection[str]) -> None:
    """Draw the key of the named marks in one line.

    Known are "join", "ring", "start", "end", "shaded", "wait", "before", "closed", "cool" and
    "hold".
    """
    x = left_mm
    for name, (draw, width, text) in _KEY.items():
        if name in names:
            draw(sheet, x, y_mm - 1.2)
            sheet.write(x + width, y_mm, text, SMALL_PT)
            x += width + text_width_mm(text, SMALL_PT) + 3.6


def _key_join(sheet: Sheet, x: float, middle: float) -> None:
    sheet.discs(np.array([[x + 1.2, middle]]), DOT_MM, fill=MARK)
    sheet.box(x + 3.2, middle - 2.1, 6.0, 4.2, fill=WHITE, stroke=MARK)
    sheet.write_centred(x + 6.2, middle, "2", SMALL_PT)


def _key_ring(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x, middle - 1.1, 6.0, 2.2, fill=TINT, stroke=GREY)


def _key_start(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x, middle - 2.1, 6.0, 4.2, fill=INK)
    sheet.write_centred(x + 3.0, middle, "1", SMALL_PT, colour=WHITE)


def _key_end(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x + 0.6, middle - 1.5, 4.8, 3.0, stroke=MARK)
    sheet.box(x, middle - 2.1, 6.0, 4.2, stroke=INK, line_mm=0.45)
    sheet.write_centred(x + 3.0, middle, "9", SMALL_PT)


def _key_shaded(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x, middle - 2.1, 6.0, 4.2, fill=SHADE, stroke=MARK)


def _key_wait(sheet: Sheet, x: float, middle: float) -> None:
    for bar in (0.0, 0.9):
        sheet.box(x + bar, middle - 1.9, 0.5, 3.8, fill=INK)


def _key_before(sheet: Sheet, x: float, middle: float) -> None:
    sheet.discs(np.array([[x + 1.0, middle]]), 0.6, fill=GREY)


def _key_closed(sheet: Sheet, x: float, middle: float) -> None:
    sheet.discs(np.array([[x + 1.0, middle]]), 0.8, fill=WHITE, stroke=INK)


def _key_cool(sheet: Sheet, x: float, middle: float) -> None:
    ends = [[(x + k, middle + 2.0), (x + k + 2.4, middle - 2.0)] for k in (0.0, 2.0, 4.0)]
    sheet.segments(np.array(ends), width_mm=0.3, colour=WARM)


def _key_hold(sheet: Sheet, x: float, middle: float) -> None:
    sheet.box(x, middle - 0.9, 6.0, 1.7, fill=PALE, stroke=INK)


# How each mark is drawn, its width in mm with the gap to its words, and the words.
_KEY = {
    "join": (_key_join, 10.4, "join, its number"),
    "ring": (_key_ring, 7.2, "its ring"),
    "start": (_key_start, 7.2, "first of a pass"),
    "end": (_key_end, 7.2, "last"),
    "shaded": (_key_shaded, 7.2, "every other pass"),
    "wait": (_key_wait, 2.8, "wait first"),
    "before": (_key_before, 2.8, "welded before"),
    "closed": (_key_closed, 3.0, "closed before weaving"),
    "cool": (_key_cool, 7.4, "keep cool"),
    "hold": (_key_hold, 7.2, "hold here at the start"),
}


def draw_face_tag(sheet: Sheet, left_mm: float, middle_mm: float, face: str) -> float:
    """Draw the face as a tag (front white, back black, edge half and half); return its width."""
    width = 17.0
    top = middle_mm - 2.4
    dark = face == "back"
    sheet.box(left_mm, top, width, 4.8, fill=INK if dark else WHITE, stroke=INK, line_mm=0.4)
    if face == "edge":
        sheet.box(left_mm, top + 3.9, width, 0.9, fill=INK)
        middle_mm -= 0.4
    text = face.upper()
    sheet.write_centred(left_mm + width / 2, middle_mm, text, 10, colour=WHITE if dark else INK)
    return width
