"""Drawing charts on sheets: axes with ticks, bars with hatches, lines, legends.

Charts share the sheets, and so the quick and exact writers, of the diagrams: text is measured
before it is placed, and no text is ever taken for mathematics. Tones differ in lightness, and
hatches or dashes tell the same without colour.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.paper.glyphs import shorten_text, text_width_mm
from chainplan.report.paper.sheet import GREY, INK, PALE, Sheet

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from chainplan.arrays import FloatArray


WIDTH_MM = 210.0
MARGIN_MM = 6.0
TEXT_PT = 8.0
TITLE_PT = 10.0
SMALL_PT = 7.0
LINE_MM = 4.2
NAME_MM = 48.0
"""Room for the names beside bars, at most."""

TONES = (
    "#6baed6", "#fde0a0", "#74c69d", "#d4d4d4", "#e07a7f", "#c6dbef",
    "#c9b037", "#c994c7", "#9e9ac8", "#fdae6b", "#f7f7f7",
)  # fmt: skip
HATCHES = ("", "/", ".", "x", "\\", "-", "+", "|", "", "/", "x")
DASHES_MM: tuple[tuple[float, ...], ...] = ((), (2.0, 1.0), (0.5, 0.8), (3.0, 0.8, 0.6, 0.8))
INKS = ("#1f5a8a", "#b3541e", "#2f7d4f", "#6a3d9a")
HATCH_MM = 1.7
HATCH_LINE_MM = 0.13


@dataclass(frozen=True, slots=True)
class Key:
    """How something is shown, and what it is called in the legend."""

    label: str
    tone: str = ""
    hatch: str = ""
    ink: str = ""
    dash_mm: tuple[float, ...] = ()


def key_of(number: int, label: str) -> Key:
    """Return the look of one kind of bar; looks repeat after eleven."""
    return Key(label, TONES[number % len(TONES)], HATCHES[number % len(HATCHES)])


def line_key(number: int, label: str) -> Key:
    """Return the look of one line."""
    dash = DASHES_MM[number % len(DASHES_MM)]
    return Key(label, ink=INKS[number % len(INKS)], dash_mm=dash)


def nice_ticks(low: float, high: float, most: int = 7) -> list[float]:
    """Choose round values between two ends.

    Examples
    --------
    >>> nice_ticks(0, 100, 6), nice_ticks(0.0, 0.9, 4)
    ([0.0, 20.0, 40.0, 60.0, 80.0, 100.0], [0.0, 0.5])
    """
    span = high - low
    if not math.isfinite(span) or span <= 0:
        return [low]
    rough = span / max(most - 1, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * k for k in (1, 2, 5, 10) if power * k >= rough * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(k * step, 10) for k in range(first, last + 1)]


def say_number(value: float) -> str:
    """Write a number for a tick, without needless noughts.

    Examples
    --------
    >>> say_number(20.0), say_number(0.5), say_number(1500.0)
    ('20', '0.5', '1 500')
    """
    text = f"{value:,.6g}" if abs(value) < 1e6 else f"{value:.3g}"
    return text.replace(",", " ").replace("-", "−")


@dataclass(slots=True)
class Frame:
    """A box on a sheet with a horizontal and a vertical scale, linear or logarithmic."""

    sheet: Sheet
    left: float
    top: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float] = (0.0, 1.0)
    log_x: bool = False
    _ticks: list[float] = field(default_factory=list)

    def x_mm(self, value: float | FloatArray) -> FloatArray:
        """Place of a value along the sheet."""
        low, high = self.x
        given = np.asarray(value, dtype=float)
        if self.log_x:
            low, high, given = math.log(low), math.log(high), np.log(given)
        place: FloatArray = self.left + (given - low) / ((high - low) or 1.0) * self.width
        return place

    def y_mm(self, value: float | FloatArray) -> FloatArray:
        """Place of a value down the sheet."""
        low, high = self.y
        share = (np.asarray(value, dtype=float) - low) / ((high - low) or 1.0)
        place: FloatArray = self.top + (1.0 - share) * self.height
        return place

    def points(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Places on the sheet, shape (n, 2)."""
        return np.column_stack([self.x_mm(x), self.y_mm(y)])

    def x_axis(
        self,
        label: str,
        ticks: Sequence[float] | None = None,
        names: Sequence[str] | None = None,
        *,
        grid: bool = True,
    ) -> None:
        """Draw the lower axis with ticks, faint lines up and a label."""
        bottom = self.top + self.height
        ticks = nice_ticks(*self.x) if ticks is None else ticks
        names = [say_number(tick) for tick in ticks] if names is None else names
        places = [float(self.x_mm(tick)) for tick in ticks]
        if grid and places:
            lines = np.array([[(x, self.top), (x, bottom)] for x in places])
            self.sheet.segments(lines, width_mm=0.12, colour=PALE)
        self.sheet.line([(self.left, bottom), (self.left + self.width, bottom)], width_mm=0.25)
        end = -1e9
        for x, name in zip(places, names, strict=True):
            half = text_width_mm(name, TEXT_PT) / 2
            if x - half > end + 1.0:
                self.sheet.write(x, bottom + 3.6, name, TEXT_PT, anchor="middle")
                end = x + half
        if label:
            middle = self.left + self.width / 2
            self.sheet.write(middle, bottom + 8.0, label, TEXT_PT, anchor="middle")

    def y_axis(self, label: str) -> None:
        """Draw the left axis with ticks and faint lines across; the label stands on top."""
        ticks = nice_ticks(*self.y, most=6)
        places = [float(self.y_mm(tick)) for tick in ticks]
        right = self.left + self.width
        lines = np.array([[(self.left, y), (right, y)] for y in places])
        self.sheet.segments(lines, width_mm=0.12, colour=PALE)
        for y, tick in zip(places, ticks, strict=True):
            self.sheet.write(self.left - 1.5, y + 1.0, say_number(tick), TEXT_PT, anchor="end")
        self.sheet.line([(self.left, self.top), (self.left, self.top + self.height)], width_mm=0.25)
        self.sheet.write(self.left, self.top - 2.0, label, TEXT_PT)


def new_chart(title: str, height_mm: float, *, width_mm: float = WIDTH_MM) -> Sheet:
    """Begin a chart with its title."""
    shown = shorten_text(title, TITLE_PT, width_mm - 2 * MARGIN_MM, bold=True)
    sheet = Sheet(width_mm=width_mm, height_mm=height_mm, title=shown)
    sheet.write(MARGIN_MM, MARGIN_MM + 3.0, shown, TITLE_PT, bold=True)
    return sheet


def name_room(names: Iterable[str]) -> float:
    """Width that names beside bars need, within bounds."""
    return min(max((text_width_mm(name, TEXT_PT) for name in names), default=0.0), NAME_MM) + 2.0


def write_name(sheet: Sheet, right: float, middle: float, name: str) -> None:
    """Put a name at the left of a bar, shortened if need be."""
    shown = shorten_text(name, TEXT_PT, NAME_MM)
    sheet.write(right - 2.0, middle + 1.0, shown, TEXT_PT, anchor="end")


def draw_bars(sheet: Sheet, boxes: FloatArray, key: Key) -> None:
    """Draw bars of one look: left, top, width and height each, shape (n, 4)."""
    boxes = np.asarray(boxes, dtype=float).reshape(-1, 4)
    boxes = boxes[boxes[:, 2] > 0]
    if not len(boxes):
        return
    left, top, width, height = boxes.T
    corners = np.stack(
        [
            np.column_stack([left, top]),
            np.column_stack([left + width, top]),
            np.column_stack([left + width, top + height]),
            np.column_stack([left, top + height]),
        ],
        axis=1,
    )
    sheet.areas(list(corners), fill=key.tone)
    lines = [_hatch(left, top, wide, high, key.hatch) for left, top, wide, high in boxes.tolist()]
    if key.hatch:
        sheet.segments(np.concatenate(lines), width_mm=HATCH_LINE_MM)
    sheet.areas(list(corners), stroke=INK, width_mm=0.18)


def _hatch(left: float, top: float, width: float, height: float, kind: str) -> FloatArray:
    """Lines of a hatch within a box, shape (n, 2, 2)."""
    found = []
    if kind in ("/", "x"):
        found.append(_slanted(width, height))
    if kind in ("\\", "x"):
        found.append(_slanted(width, height) * np.array([1, -1]) + np.array([0, height]))
    if kind in ("-", "+"):
        y = np.arange(HATCH_MM / 2, height, HATCH_MM)
        found.append(
            np.stack([np.column_stack([0 * y, y]), np.column_stack([0 * y + width, y])], 1)
        )
    if kind in ("|", "+"):
        x = np.arange(HATCH_MM / 2, width, HATCH_MM)
        found.append(
            np.stack([np.column_stack([x, 0 * x]), np.column_stack([x, 0 * x + height])], 1)
        )
    if kind == ".":
        y, x = np.mgrid[HATCH_MM / 2 : height : HATCH_MM, HATCH_MM / 2 : width : HATCH_MM]
        dots = np.column_stack([x.ravel(), y.ravel()])
        half = np.array([0.15, 0.0])
        found.append(np.stack([dots - half, dots + half], 1))
    lines = np.concatenate(found) if found else np.zeros((0, 2, 2))
    placed: FloatArray = lines + np.array([left, top])
    return placed


def _slanted(width: float, height: float) -> FloatArray:
    """Rising lines clipped to a box at the origin, shape (n, 2, 2)."""
    start = np.arange(-height + HATCH_MM / 2, width, HATCH_MM)
    low, high = np.maximum(0.0, -start), np.minimum(height, width - start)
    kept = high > low
    start, low, high = start[kept], low[kept], high[kept]
    lines: FloatArray = np.stack(
        [
            np.column_stack([start + low, height - low]),
            np.column_stack([start + high, height - high]),
        ],
        axis=1,
    )
    return lines


def legend_height(keys: Sequence[Key], width_mm: float) -> float:
    """Height that a legend takes, in mm."""
    return _lay_legend(None, keys, 0.0, 0.0, width_mm)


def draw_legend(sheet: Sheet, keys: Sequence[Key], left: float, top: float, width: float) -> float:
    """Draw a legend in as many lines as it needs; return its height."""
    return _lay_legend(sheet, keys, left, top, width)


def _lay_legend(
    sheet: Sheet | None, keys: Sequence[Key], left: float, top: float, width: float
) -> float:
    x, y = left, top
    for key in keys:
        label = shorten_text(key.label, TEXT_PT, NAME_MM)
        room = 8.0 + text_width_mm(label, TEXT_PT) + 4.0
        if x + room > left + width and x > left:
            x, y = left, y + LINE_MM + 0.6
        if sheet is not None:
            if key.tone:
                draw_bars(sheet, np.array([(x, y, 6.0, 3.4)]), key)
            else:
                sheet.line([(x, y + 1.7), (x + 6.5, y + 1.7)], width_mm=0.5, colour=key.ink,
                           dash_mm=key.dash_mm)  # fmt: skip
            sheet.write(x + 8.0, y + 2.8, label, TEXT_PT)
        x += room
    return y + LINE_MM + 0.6 - top if keys else 0.0


def quiet(sheet: Sheet, x: float, y: float, text: str, *, anchor: str = "start") -> None:
    """Put a small grey remark."""
    sheet.write(x, y, text, SMALL_PT, anchor=anchor, colour=GREY)
