"""Alternatives for a piece side by side: one panel a column, the best ones marked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.errors import InputError
from chainplan.report.charts.frame import (
    MARGIN_MM,
    SMALL_PT,
    TEXT_PT,
    Key,
    draw_bars,
    new_chart,
    quiet,
)
from chainplan.report.paper.glyphs import shorten_text, text_width_mm
from chainplan.report.paper.sheet import INK

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.estimate import Comparison, ComparisonLine
    from chainplan.report.paper.sheet import Sheet

COLUMNS = {
    "rings": "rings",
    "mass_g": "weight, g",
    "length_mm": "length, mm",
    "weld_min": "at the welder, min",
    "cost": "cost",
    "price": "price before tax",
}
"""Columns of a comparison that are drawn, one panel each."""

MOST_LINES = 40
"""More alternatives than this are not drawn: the table has them all."""

PANEL_MM = 40.0
STEP_MM = 7.0
NAMES_MM = 78.0
BEST = Key("best of those that fit", "#74c69d", "/")
FITS = Key("fits", "#c6dbef", "")
MISSES = Key("misses a target", "#f2f2f2", ".")
ENDINGS = (".png", ".svg")


def _name(line: ComparisonLine) -> str:
    metal = line.metal.replace("-", " ")
    return f"{metal}, {line.wire_mm:g} mm wire, {line.inner_mm:g} mm inside"


def comparison_chart(table: Comparison) -> Sheet:
    """Draw alternatives side by side; a star marks the best of those that meet every target.

    Alternatives that miss a target are dotted; for those that cannot be made the reason stands.
    """
    lines = table.lines[:MOST_LINES]
    panels = [name for name in COLUMNS if any(getattr(line, name) is not None for line in lines)]
    names = [shorten_text(_name(line), TEXT_PT, NAMES_MM) for line in lines]
    room = max((text_width_mm(name, TEXT_PT) for name in names), default=0.0) + 4.0
    top = MARGIN_MM + 18.0
    width = 2 * MARGIN_MM + room + PANEL_MM * max(len(panels), 1)
    height = top + STEP_MM * len(lines) + 12.0
    sheet = new_chart(f"{table.piece}: alternatives", height, width_mm=width)
    if table.targets:
        wanted = shorten_text("wanted: " + "; ".join(table.targets), TEXT_PT, width - 2 * MARGIN_MM)
        sheet.write(MARGIN_MM, MARGIN_MM + 8.0, wanted, TEXT_PT)
    for row, (line, name) in enumerate(zip(lines, names, strict=True)):
        middle = top + STEP_MM * (row + 0.5)
        sheet.write(MARGIN_MM, middle + 1.0, name, TEXT_PT)
        if not line.possible:
            reason = f"cannot be made: {line.reason}" if line.reason else "cannot be made"
            shown = shorten_text(reason, SMALL_PT, PANEL_MM * len(panels) - 4.0)
            sheet.write(MARGIN_MM + room, middle + 1.0, shown, SMALL_PT)
    for number, column in enumerate(panels):
        _draw_panel(sheet, table, lines, column, MARGIN_MM + room + PANEL_MM * number, top)
    hidden = len(table.lines) - len(lines)
    says = "★ best of those that fit; dotted: misses a target"
    if hidden:
        says += f"; {hidden} more in the table"
    quiet(sheet, MARGIN_MM, height - 5.0, says)
    return sheet


def _draw_panel(
    sheet: Sheet,
    table: Comparison,
    lines: tuple[ComparisonLine, ...],
    column: str,
    left: float,
    top: float,
) -> None:
    title = COLUMNS[column]
    if column in ("cost", "price"):
        title += f", {table.currency}"
    shown = shorten_text(title, TEXT_PT, PANEL_MM - 2.0, bold=True)
    sheet.write(left, top - 2.0, shown, TEXT_PT, bold=True)
    known = [
        (row, float(getattr(line, column)), column in line.best_at, line.fits)
        for row, line in enumerate(lines)
        if line.possible and getattr(line, column) is not None
    ]
    most = max((value for _, value, _, _ in known), default=1.0) or 1.0
    texts = [f"{value:,.4g}".replace(",", " ") + (" ★" if best else "")
             for _, value, best, _ in known]  # fmt: skip
    text_mm = max((text_width_mm(text, TEXT_PT, bold=True) for text in texts), default=0.0)
    scale = (PANEL_MM - text_mm - 5.0) / most
    for (row, value, best, fits), text in zip(known, texts, strict=True):
        y = top + STEP_MM * row + 1.0
        key = BEST if best else FITS if fits else MISSES
        draw_bars(sheet, np.array([(left, y, value * scale, STEP_MM - 2.0)]), key)
        sheet.write(left + value * scale + 1.2, y + STEP_MM / 2, text, TEXT_PT, bold=best)
    rows = np.array([row for row, _, _, _ in known], dtype=float)
    edge = top + STEP_MM * rows
    ends = np.stack([np.full_like(edge, left), edge, np.full_like(edge, left), edge + STEP_MM], 1)
    sheet.segments(ends.reshape(-1, 2, 2), width_mm=0.25, colour=INK)


def plot_comparison(table: Comparison, ax: Any = None) -> Any:
    """Show :func:`comparison_chart` on axes, or on new ones."""
    from chainplan.report.paper.axes import show_sheet

    return show_sheet(comparison_chart(table), ax=ax)


def write_comparison(table: Comparison, path: str | Path) -> Path:
    """Write the chart of a comparison as PNG or SVG, by the ending of the path.

    Raises
    ------
    InputError
        If the path ends in neither.
    """
    from pathlib import Path

    from chainplan.report.paper.png import PngPainter
    from chainplan.report.paper.svg import sheet_svg

    target = Path(path)
    ending = target.suffix.lower()
    if ending not in ENDINGS:
        message = (
            f"{target.name}: a chart is written as .png or .svg, not {ending or 'without one'}"
        )
        raise InputError(message)
    sheet = comparison_chart(table)
    if ending == ".png":
        target.write_bytes(PngPainter().png(sheet))
    else:
        target.write_text(sheet_svg(sheet, {}), encoding="utf-8", newline="\n")
    return target
