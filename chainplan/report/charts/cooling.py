"""A chart of a cooling curve: the readings and the heat model's curve through them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.charts.figures import (
    GREY,
    INK,
    INKS,
    MARGIN_MM,
    TEXT_PT,
    WIDTH_MM,
    axes_at,
    chart_style,
    new_figure,
    remark,
    settle,
    write,
    write_asked,
)

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.thermal.calibration import Calibration

HEIGHT_MM, TOP_MM, FOOT_MM, LEFT_MM = 110.0, 16.0, 20.0, 20.0
"""Height of the chart, and its margins: above, below, left."""
STEP_MM = 4.8
"""A line of text above the chart."""


def draw_cooling(found: Calibration, path: str | Path) -> Path:
    """Draw the readings, the fitted curve and what it says.

    A disc is a reading that counts, a ring one that was left out.

    Raises
    ------
    InputError
        If the path ends in neither .png nor .svg, or cannot be written.
    """
    with chart_style():
        top = TOP_MM + STEP_MM * len(found.figures)
        figure = new_figure(f"Cooling curve: {found.piece}, {found.readings.file}", HEIGHT_MM + top)
        for row, item in enumerate(found.figures):
            text = f"{item.title}: {item.new:.3g} {item.unit} ({item.low:.3g} to {item.high:.3g})"
            write(figure, MARGIN_MM, TOP_MM + STEP_MM * row, text, TEXT_PT)
        axes = axes_at(figure, LEFT_MM, top, WIDTH_MM - LEFT_MM - MARGIN_MM, HEIGHT_MM - FOOT_MM)
        time_s, warm_c = found.readings.time_s, settle(found.readings.temperature_c, 2)
        used = found.fit.used
        axes.plot(time_s[used], warm_c[used], "o", markersize=3, color=INK, linestyle="none")
        axes.plot(time_s[~used], warm_c[~used], "o", markersize=3, markerfacecolor="#ffffff",
                  markeredgecolor=GREY, linestyle="none")  # fmt: skip
        axes.plot(time_s, settle(found.fit.fitted_c, 2), color=INKS[0], linewidth=1.5)
        axes.axhline(found.room_c, color=GREY, linewidth=0.8, linestyle=(0, (5, 2)))
        axes.grid(visible=True)
        axes.set_xlabel("time [s]")
        axes.set_ylabel("temperature [°C]")
        remark(figure, "disc: reading; ring: left out; line: the heat model fitted; dashed: room")
    return write_asked(figure, path)
