"""Charts of a table: what a row is called on the left, a panel of bars with numbers a column."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.report.charts.figures import (
    MARGIN_MM,
    MM_AN_INCH,
    TEXT_PT,
    Series,
    bar_axes,
    new_figure,
    settle,
    write,
)
from chainplan.report.paper.lettering import shorten_text, text_width_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from typing import Any

    from matplotlib.figure import Figure

STEP_MM = 7.0
"""Height of a row: a line of text with as much air."""
BAR_SHARE = 0.72
"""Height of a bar in its row, with air between the rows."""


@frozen
class PanelBar:
    """One bar of a panel, with the number beside it."""

    row: int
    value: float
    text: str
    look: Series
    lettering: dict[str, Any] = field(default_factory=dict)
    """What matplotlib is told of the number besides its place."""


@frozen
class PanelChart:
    """A chart whose rows are named and whose panels are still to be drawn; lengths in mm."""

    figure: Figure
    room_mm: float
    top_mm: float
    panel_mm: float
    rows: int

    @property
    def width_mm(self) -> float:
        """Width between the margins."""
        wide = float(self.figure.get_size_inches()[0])
        return wide * MM_AN_INCH - 2 * MARGIN_MM

    @property
    def foot_mm(self) -> float:
        """Where the panels end."""
        return self.top_mm + STEP_MM * self.rows

    def base_mm(self, row: int) -> float:
        """Return the base line of a row's name."""
        return self.top_mm + STEP_MM * (row + 0.5) + 1.0

    def draw_panel(self, number: int, title: str, bars: Sequence[PanelBar]) -> None:
        """Draw one panel: its title, and its bars with their numbers."""
        left = MARGIN_MM + self.room_mm + self.panel_mm * number
        width = self.panel_mm - 2.0
        shown = shorten_text(title, TEXT_PT, width, bold=True)
        write(self.figure, left, self.top_mm - 2.0, shown, fontweight="bold")
        ax = bar_axes(self.figure, [""] * self.rows, (left, self.top_mm, width), STEP_MM)
        most = max((bar.value for bar in bars), default=1.0) or 1.0
        text_mm = max((text_width_mm(bar.text, TEXT_PT, bold=True) for bar in bars), default=0.0)
        ax.set_xlim(0.0, most * width / (self.panel_mm - text_mm - 5.0))
        ax.set_axis_off()
        for bar in bars:
            ax.barh([bar.row], [bar.value], BAR_SHARE, **bar.look.bar)
            ax.annotate(
                bar.text, (bar.value, bar.row), xytext=(3, 0), textcoords="offset points",
                va="center", annotation_clip=False, **bar.lettering,
            )  # fmt: skip


def begin_panels(
    title: str,
    names: Sequence[str],
    panels: int,
    *,
    panel_mm: float,
    head_mm: float,
    foot_mm: Callable[[float], float],
) -> PanelChart:
    """Begin a chart of ``panels`` panels beside each other and write what its rows are called.

    ``head_mm``: room above the panels, the margin apart; ``foot_mm``: room below them, by the width
    between the margins.
    """
    room = max((text_width_mm(name, TEXT_PT) for name in names), default=0.0) + 4.0
    top = MARGIN_MM + head_mm
    width = 2 * MARGIN_MM + room + panel_mm * max(panels, 1)
    height = top + STEP_MM * len(names) + foot_mm(width - 2 * MARGIN_MM)
    figure = new_figure(title, height, width_mm=width)
    chart = PanelChart(figure=figure, room_mm=room, top_mm=top, panel_mm=panel_mm, rows=len(names))
    for row, name in enumerate(names):
        write(figure, MARGIN_MM, chart.base_mm(row), name)
    return chart


def settled(item: object, column: str) -> float:
    """Return a number of a row, rounded as charts round."""
    return float(settle(getattr(item, column)))
