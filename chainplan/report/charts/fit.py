"""Which ring gives which feel: a row a ring, with rings and mass a centimetre beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.charts.figures import (
    MARGIN_MM,
    SMALL_PT,
    TEXT_PT,
    Series,
    add_legend,
    bar_axes,
    chart_style,
    legend_height,
    new_figure,
    remark,
    settle,
    write,
    write_chart,
)
from chainplan.report.paper.lettering import shorten_text, text_width_mm

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from chainplan.model.piece.fit import Fit, FitRing

LOOKS = {
    "very tight": Series("very tight", "#d9896a", "xxx"),
    "tight": Series("tight", "#f2d0a9", "///"),
    "supple": Series("supple", "#74c69d", ""),
    "loose": Series("loose", "#c6dbef", "..."),
    "will not hold its pattern": Series("will not hold its pattern", "#f2f2f2", "---"),
}
"""Verdict → how its bars look: told apart in grey too."""
PANEL_MM, STEP_MM, BAR_SHARE = 52.0, 7.0, 0.72
"""Width of a panel; height of a row, a line of text with as much air; a bar's share of it."""
MOST_RINGS = 40
"""More rows would not fit on a page: the table has them."""
_PANELS = (("rings_per_cm", "rings per cm"), ("mass_g_per_cm", "g per cm"))


def _name(ring: FitRing) -> str:
    if ring.mandrel_mm is None:
        return f"{ring.inner_mm:.2f} mm inside" + (", rings in stock" if ring.in_stock else "")
    stock = " in stock" if ring.in_stock else ""
    return f"mandrel {ring.mandrel_mm:g} mm{stock}: {ring.inner_mm:.2f} mm inside"


@chart_style()
def fit_chart(fit: Fit) -> Figure:
    """Draw the rings of a wire in a weave by inner diameter, each bar in the look of its feel."""
    rings = sorted(fit.rings, key=lambda ring: ring.inner_mm)[:MOST_RINGS]
    names = [_name(ring) for ring in rings]
    room = max(text_width_mm(name, TEXT_PT) for name in names) + 4.0
    width = 2 * MARGIN_MM + room + PANEL_MM * len(_PANELS)
    looks = [look for verdict, look in LOOKS.items() if verdict in {r.verdict for r in rings}]
    key_mm = legend_height(looks, width - 2 * MARGIN_MM)
    top = MARGIN_MM + 14.0
    rows_mm = STEP_MM * len(rings)
    title = f"{fit.title}, {fit.wire_mm:.3g} mm wire: which ring gives which feel"
    figure = new_figure(title, top + rows_mm + key_mm + 14.0, width_mm=width)
    for row, name in enumerate(names):
        write(figure, MARGIN_MM, top + STEP_MM * (row + 0.5) + 1.0, name)
    for number, (column, head) in enumerate(_PANELS):
        left = MARGIN_MM + room + PANEL_MM * number
        shown = shorten_text(head, TEXT_PT, PANEL_MM - 2.0, bold=True)
        write(figure, left, top - 2.0, shown, fontweight="bold")
        ax = bar_axes(figure, [""] * len(rings), (left, top, PANEL_MM - 2.0), STEP_MM)
        _draw_panel(ax, rings, column)
    add_legend(figure, looks, MARGIN_MM, top + rows_mm + 2.0, width - 2 * MARGIN_MM)
    remark(
        figure,
        f"smallest aspect ratio {fit.smallest_aspect_ratio:.2f}: {fit.least_inner_mm:.3g} mm "
        "inside; words by common practice",
    )
    return figure


def _draw_panel(ax: Axes, rings: Sequence[FitRing], column: str) -> None:
    """Draw the bars of one column with their numbers."""
    values = [float(settle(getattr(ring, column))) for ring in rings]
    texts = [f"{value:.3g}" for value in values]
    text_mm = max(text_width_mm(text, TEXT_PT) for text in texts)
    ax.set_xlim(0.0, max(values) * (PANEL_MM - 2.0) / (PANEL_MM - text_mm - 5.0))
    ax.set_axis_off()
    for row, (ring, value, text) in enumerate(zip(rings, values, texts, strict=True)):
        ax.barh([row], [value], BAR_SHARE, **LOOKS[ring.verdict].bar)
        ax.annotate(
            text, (value, row), xytext=(3, 0), textcoords="offset points", va="center",
            annotation_clip=False, fontsize=SMALL_PT,
        )  # fmt: skip


def write_fit(fit: Fit, path: Path) -> Path:
    """Write the chart of a fit as PNG or SVG, by the ending of the path.

    Raises
    ------
    InputError
        If the path ends in neither.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_chart(fit_chart(fit), path)
