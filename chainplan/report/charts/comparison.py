"""Alternatives for a piece side by side: one panel a column, the best ones marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.charts.figures import (
    MARGIN_MM,
    SMALL_PT,
    TEXT_PT,
    Series,
    chart_style,
    remark,
    write,
    write_asked,
)
from chainplan.report.charts.panels import PanelBar, begin_panels, settled
from chainplan.report.paper.lettering import shorten_text

if TYPE_CHECKING:
    from pathlib import Path

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
NAMES_MM = 78.0
"""Room for what an alternative is called, at most."""
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
    chart = begin_panels(
        f"{table.piece}: alternatives",
        [shorten_text(_name(line), TEXT_PT, NAMES_MM) for line in lines],
        len(panels), panel_mm=PANEL_MM, head_mm=18.0, foot_mm=lambda _: 12.0,
    )  # fmt: skip
    figure = chart.figure
    if table.targets:
        wanted = shorten_text("wanted: " + "; ".join(table.targets), TEXT_PT, chart.width_mm)
        write(figure, MARGIN_MM, MARGIN_MM + 8.0, wanted)
    for row, line in enumerate(lines):
        if not line.possible:
            reason = f"cannot be made: {line.reason}" if line.reason else "cannot be made"
            shown = shorten_text(reason, SMALL_PT, PANEL_MM * len(panels) - 4.0)
            write(figure, MARGIN_MM + chart.room_mm + 1.0, chart.base_mm(row), shown, SMALL_PT)
    for number, column in enumerate(panels):
        money = f", {table.currency}" if column in ("cost", "price") else ""
        chart.draw_panel(number, COLUMNS[column] + money, _bars(lines, column))
    hidden = len(table.lines) - len(lines)
    says = "★ best of those that fit; dotted: misses a target"
    if hidden:
        says += f"; {hidden} more in the table"
    remark(figure, says)
    return figure


def _bars(lines: tuple[ComparisonLine, ...], column: str) -> list[PanelBar]:
    """Return the bars of one column; the number of the best one is bold and has a star."""
    bars = []
    for row, line in enumerate(lines):
        if not line.possible or getattr(line, column) is None:
            continue
        value, best = settled(line, column), column in line.best_at
        bars.append(
            PanelBar(
                row=row,
                value=value,
                text=f"{value:,.4g}".replace(",", " ") + (" ★" if best else ""),
                look=BEST if best else FITS if line.fits else MISSES,
                lettering={"fontweight": "bold"} if best else {},
            )
        )
    return bars


def write_comparison(table: Comparison, path: str | Path) -> Path:
    """Write the chart of a comparison as PNG or SVG, by the ending of the path.

    Raises
    ------
    InputError
        If the path ends in neither, or cannot be written.
    """
    return write_asked(comparison_chart(table), path)
