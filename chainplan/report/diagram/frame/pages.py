"""Pages that fill from top to bottom, with the piece's name above and the key of marks below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.reference.texts import ENGLISH
from chainplan.report.diagram.frame.key import SMALL_PT, draw_key
from chainplan.report.paper.lettering import fold_text, shorten_text, text_width_mm
from chainplan.report.paper.sheet import GREY, INK, PALE, PAPER_MM, WHITE, Sheet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.reference.texts import Texts

MARGIN_MM = 12.0
"""Room to punch and to hold the sheet; every printer leaves less white of its own."""
TOP_MM = 22.0
"""Where a page's content begins: the margin, the name in 14 pt, a line and air."""
FOOT_MM = 17.0
"""What the key of marks and the foot take at the lower edge."""
TEXT_PT = 10.0
"""Running text."""
TAG_WIDE_MM = 17.0
"""A face's tag: its longest name in capitals."""
CHECKED_MM = 50.0
"""Length of the line that a printer's scale is checked by: a short rule has it."""
CHECK_LEFT_MM = 58.0
"""Where that line begins: what stands before it is as long as this in the longest language."""
ACTION_MM = 7.0
"""A line in a grey bar: what is done before a pass must not be overlooked."""
LINE_MM = 4.9
"""From line to line of text in `TEXT_PT`: 1.4 times its size, so that an eye that comes back from
the bench finds its line."""


class Pages:
    """A document of landscape pages; knows where on the page the next thing goes."""

    def __init__(self, paper: str, title: str, stamp: str, texts: Texts = ENGLISH) -> None:
        self.paper_mm = PAPER_MM[paper]
        self.title = title
        self.stamp = stamp
        self.t = texts
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
        """Put marks into the key at the foot of this page; the names are those of `key.MARKS`."""
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

    def finish(self, before: Pages | None = None) -> list[Sheet]:
        """Write heads and feet, now that the number of pages is known, and return the pages.

        ``before``: pages that come first, such as a cover that explains what is on the others.
        """
        if before is not None:
            self.sheets = before.sheets + self.sheets
            self.headings = before.headings + self.headings
            self.keys = before.keys + self.keys
        for number, (sheet, heading, names) in enumerate(
            zip(self.sheets, self.headings, self.keys, strict=True), 1
        ):
            self._head(sheet, heading, self.t("sheet.page", number=number, pages=len(self.sheets)))
            self._foot(sheet, names)
        return self.sheets

    def _head(self, sheet: Sheet, heading: str, page: str) -> None:
        job = shorten_text(self.title, SMALL_PT, self.width_mm * 0.25)
        right = text_width_mm(f"{job} · {page}", SMALL_PT) + 6.0
        name = shorten_text(heading, 14, self.width_mm - right, bold=True)
        sheet.write(self.left_mm, MARGIN_MM + 4.0, name, 14, bold=True)
        sheet.write(self.right_mm, MARGIN_MM + 4.0, f"{job} · {page}", SMALL_PT, anchor="end")
        sheet.line(
            [(self.left_mm, MARGIN_MM + 6.5), (self.right_mm, MARGIN_MM + 6.5)], width_mm=0.4
        )

    def _foot(self, sheet: Sheet, names: set[str]) -> None:
        base = self.paper_mm[1] - MARGIN_MM + 4.0
        sheet.write(self.left_mm, base, self.t("sheet.estimates"), 8, colour=GREY)
        sheet.write(self.right_mm, base, self.stamp, 8, anchor="end", colour=GREY)
        draw_key(sheet, self.left_mm, self.paper_mm[1] - MARGIN_MM - 2.2, names, self.t)
        if "true" in names:
            _draw_check(sheet, self.left_mm + CHECK_LEFT_MM, base, self.t)


def _draw_check(sheet: Sheet, left_mm: float, base_mm: float, t: Texts) -> None:
    """Draw the line by which the printer's scale is checked."""
    right, y_mm = left_mm + CHECKED_MM, base_mm - 1.1
    sheet.line([(left_mm, y_mm), (right, y_mm)], width_mm=0.3)
    for x in (left_mm, right):
        sheet.line([(x, y_mm - 1.6), (x, y_mm + 1.6)], width_mm=0.3)
    text = t("sheet.check_scale", mm=f"{CHECKED_MM:.0f}")
    sheet.write(right + 2.0, base_mm, text, SMALL_PT)


def draw_action(pages: Pages, text: str) -> None:
    """Write in a grey bar what is done before anything is welded, and move on."""
    pages.sheet.box(pages.left_mm, pages.y_mm + 0.6, pages.width_mm, 5.8, fill=PALE)
    pages.sheet.write(pages.left_mm + 2.0, pages.y_mm + 4.8, text, TEXT_PT, bold=True)
    pages.y_mm += ACTION_MM


def draw_face_tag(
    sheet: Sheet, left_mm: float, middle_mm: float, face: str, t: Texts = ENGLISH
) -> float:
    """Draw the face as a tag (front white, back black, edge half and half); return its width."""
    width = TAG_WIDE_MM
    top = middle_mm - 2.4
    dark = face == "back"
    sheet.box(left_mm, top, width, 4.8, fill=INK if dark else WHITE, stroke=INK, line_mm=0.4)
    if face == "edge":
        sheet.box(left_mm, top + 3.9, width, 0.9, fill=INK)
        middle_mm -= 0.4
    text = t(f"face.{face.split()[0]}").upper()
    sheet.write_centred(left_mm + width / 2, middle_mm, text, 10, colour=WHITE if dark else INK)
    return width
