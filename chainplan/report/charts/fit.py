"""Which ring gives which feel: a row a ring, with rings and mass a centimetre beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.charts.figures import (
    MARGIN_MM,
    SMALL_PT,
    Series,
    add_legend,
    chart_style,
    legend_height,
    remark,
    write_asked,
)
from chainplan.report.charts.panels import PanelBar, begin_panels, settled

if TYPE_CHECKING:
    from pathlib import Path

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
PANEL_MM = 52.0
"""Width of a panel."""
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
    looks = [look for verdict, look in LOOKS.items() if verdict in {r.verdict for r in rings}]
    chart = begin_panels(
        f"{fit.title}, {fit.wire_mm:.3g} mm wire: which ring gives which feel",
        [_name(ring) for ring in rings],
        len(_PANELS), panel_mm=PANEL_MM, head_mm=14.0,
        foot_mm=lambda width: legend_height(looks, width) + 14.0,
    )  # fmt: skip
    for number, (column, head) in enumerate(_PANELS):
        bars = []
        for row, ring in enumerate(rings):
            value = settled(ring, column)
            bars.append(
                PanelBar(
                    row=row, value=value, text=f"{value:.3g}", look=LOOKS[ring.verdict],
                    lettering={"fontsize": SMALL_PT},
                )
            )  # fmt: skip
        chart.draw_panel(number, head, bars)
    add_legend(chart.figure, looks, MARGIN_MM, chart.foot_mm + 2.0, chart.width_mm)
    remark(
        chart.figure,
        f"smallest aspect ratio {fit.smallest_aspect_ratio:.2f}: {fit.least_inner_mm:.3g} mm "
        "inside; words by common practice",
    )
    return chart.figure


def write_fit(fit: Fit, path: str | Path) -> Path:
    """Write the chart of a fit as PNG or SVG, by the ending of the path.

    Raises
    ------
    InputError
        If the path ends in neither, or cannot be written.
    """
    return write_asked(fit_chart(fit), path)
