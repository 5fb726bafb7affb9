"""Alternatives for a piece side by side: one panel a column, the best ones marked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.report.charts.figures import (
    MARGIN_MM,
    SMALL_PT,
    TEXT_PT,
    Series,
    bar_axes,
    chart_style,
    new_figure,
    remark,
    settle,
    write,
    write_chart,
)
from chainplan.report.paper.lettering import shorten_text, text_width_mm

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from chainplan.model.estimate import Comparison, ComparisonLine

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
"""More alternatives than this are not drawn, they would not fit on a page: the table has them."""
PANEL_MM = 40.0
"""Width of a panel: a bar, and beside it its number with a star."""
STEP_MM = 7.0
"""Height of a row: a line of text with as much air."""
NAMES_MM = 78.0
"""Room for what an alternative is called, at most."""
BAR_SHARE = 0.72
"""Height of a bar in its row, with air between the rows."""
BEST = Series("best of those that fit", "#74c69d", "///")
FITS = Series("fits", "#c6dbef", "")
MISSES = Series("misses a target", "#f2f2f2", "...")


def _name(line: ComparisonLine) -> str:
    metal = line.metal.replace("-", " ")
    return f"{metal}, {line.wire_mm:g} mm wire, {line.inner_mm:g} mm inside"


@chart_style()
def comparison_chart(table: Comparison) -> Figure:
    """Draw alternatives side by side; a star marks the best of those that meet every target.

    Alternatives that miss a target are dotted; for those that cannot be made the reason stands.
    """
    lines = table.lines[:MOST_LINES]
    panels = [name for name in COLUMNS if any(getattr(line, name) is not None for line in lines)]
    names = [shorten_text(_name(line), TEXT_PT, NAMES_MM) for line in lines]
    room = max((text_width_mm(name, TEXT_PT) for name in names), default=0.0) + 4.0
    top = MARGIN_MM + 18.0
    width = 2 * MARGIN_MM + room + PANEL_MM * max(len(panels), 1)
    figure = new_figure(
        f"{table.piece}: alternatives", top + STEP_MM * len(lines) + 12.0, width_mm=width
    )
    if table.targets:
        wanted = shorten_text("wanted: " + "; ".join(table.targets), TEXT_PT, width - 2 * MARGIN_MM)
        write(figure, MARGIN_MM, MARGIN_MM + 8.0, wanted)
    for row, (line, name) in enumerate(zip(lines, names, strict=True)):
        base = top + STEP_MM * (row + 0.5) + 1.0
        write(figure, MARGIN_MM, base, name)
        if not line.possible:
            reason = f"cannot be made: {line.reason}" if line.reason else "cannot be made"
            shown = shorten_text(reason, SMALL_PT, PANEL_MM * len(panels) - 4.0)
            write(figure, MARGIN_MM + room + 1.0, base, shown, SMALL_PT)
    for number, column in enumerate(panels):
        left = MARGIN_MM + room + PANEL_MM * number
        title = COLUMNS[column]
        if column in ("cost", "price"):
            title += f", {table.currency}"
        shown = shorten_text(title, TEXT_PT, PANEL_MM - 2.0, bold=True)
        write(figure, left, top - 2.0, shown, fontweight="bold")
        ax = bar_axes(figure, [""] * len(lines), (left, top, PANEL_MM - 2.0), STEP_MM)
        _draw_panel(ax, lines, column)
    hidden = len(table.lines) - len(lines)
    says = "★ best of those that fit; dotted: misses a target"
    if hidden:
        says += f"; {hidden} more in the table"
    remark(figure, says)
    return figure


def _draw_panel(ax: Axes, lines: tuple[ComparisonLine, ...], column: str) -> None:
    """Draw the bars of one column with their numbers; the best one stands bold with a star."""
    known = [
        (row, float(settle(getattr(line, column))), column in line.best_at, line.fits)
        for row, line in enumerate(lines)
        if line.possible and getattr(line, column) is not None
    ]
    most = max((value for _, value, _, _ in known), default=1.0) or 1.0
    texts = [
        f"{value:,.4g}".replace(",", " ") + (" ★" if best else "") for _, value, best, _ in known
    ]
    text_mm = max((text_width_mm(text, TEXT_PT, bold=True) for text in texts), default=0.0)
    ax.set_xlim(0.0, most * (PANEL_MM - 2.0) / (PANEL_MM - text_mm - 5.0))
    ax.set_axis_off()
    for (row, value, best, fits), text in zip(known, texts, strict=True):
        look = BEST if best else FITS if fits else MISSES
        (bar,) = ax.barh([row], [value], BAR_SHARE, **look.bar)
        ax.annotate(
            text, (bar.get_width(), row), xytext=(3, 0), textcoords="offset points", va="center",
            fontweight="bold" if best else "normal", annotation_clip=False,
        )  # fmt: skip


def write_comparison(table: Comparison, path: str | Path) -> Path:
    """Write the chart of a comparison as PNG or SVG, by the ending of the path.

    Raises
    ------
    InputError
        If the path ends in neither.
    """
    return write_chart(comparison_chart(table), Path(path))
