"""Charts of the estimates: what drives the cost, cost by quantity, alternatives side by side.

As all charts: each ``plot_`` function draws into the axes it is given (or into a new figure of its
own), returns the axes and solves nothing; hatches and marks tell the same as the colours.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.charts import DPI, TONES, new_axes

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from chainplan.model.estimate import Comparison, ComparisonLine, Estimates

COLUMNS = {
    "mass_g": "mass, g",
    "weld_min": "time at the welder, min",
    "bench_h": "bench time, h",
    "price": "price",
}
"""Columns of a comparison that are drawn, one panel each."""

MOST_LINES = 24
"""More alternatives than this are not drawn: the table has them all."""


def _plain(text: str) -> str:
    return text.replace("$", r"\$")


def plot_drivers(estimates: Estimates, piece: str, ax: Axes | None = None) -> Axes:
    """Draw how far each input moves the cost of one copy of a piece: a tornado chart."""
    drivers = [line for line in estimates.drivers if line.piece == piece]
    axis: Axes = new_axes(7.5, 1.4 + 0.45 * len(drivers))[0] if ax is None else ax
    for place, line in enumerate(drivers):
        usual = float(line.cost_usual_each)
        ends = (
            (float(line.cost_low_each), line.low_input, TONES[1], "", "right", -4),
            (float(line.cost_high_each), line.high_input, TONES[0], "///", "left", 4),
        )
        for value, text, tone, hatch, side, shift in ends:
            axis.barh(
                place, value - usual, left=usual, height=0.6,
                color=tone, hatch=hatch, edgecolor="#222222", linewidth=0.6,
            )  # fmt: skip
            axis.annotate(
                f"{text}: {value:.2f}", (value, place), xytext=(shift, 0),
                textcoords="offset points", va="center", ha=side, fontsize=8,
            )  # fmt: skip
    if drivers:
        axis.axvline(float(drivers[0].cost_usual_each), color="#222222", linewidth=1.0)
    axis.set_yticks(range(len(drivers)), [line.driver for line in drivers])
    axis.invert_yaxis()
    axis.margins(x=0.45)
    axis.set_xlabel(f"cost of one copy, {estimates.currency}")
    axis.set_title(f"{_plain(piece)}: what drives the cost", loc="left", fontsize=10)
    axis.spines[["top", "right"]].set_visible(False)
    return axis


def plot_breaks(estimates: Estimates, piece: str, ax: Axes | None = None) -> Axes:
    """Draw cost and price of one copy against how many are made in one go."""
    breaks = [line for line in estimates.breaks if line.piece == piece]
    axis: Axes = new_axes(6.5, 3.6)[0] if ax is None else ax
    copies = [line.quantity for line in breaks]
    series = (
        ("price each", [float(line.price_each) for line in breaks], "s--", TONES[4]),
        ("cost each", [float(line.cost_each) for line in breaks], "o-", TONES[0]),
    )
    for name, values, style, tone in series:
        axis.plot(copies, values, style, color=tone, label=name, markersize=5)
    axis.set_xscale("log")
    axis.set_xticks(copies, [str(number) for number in copies])
    axis.minorticks_off()
    axis.set_ylim(bottom=0)
    axis.set_xlabel("copies made in one go")
    axis.set_ylabel(estimates.currency)
    axis.set_title(_plain(piece), loc="left", fontsize=10)
    axis.spines[["top", "right"]].set_visible(False)
    axis.legend(fontsize=8, frameon=False)
    return axis


def _name(line: ComparisonLine) -> str:
    return f"{line.metal}, {line.wire_mm:g} mm, inside {line.inner_mm:g} mm"


def plot_comparison(table: Comparison) -> Figure:
    """Draw alternatives side by side in a figure, one panel a column; a star marks the best.

    Alternatives that miss a target are pale and hatched; those that cannot be made have no bar.
    """
    lines = table.lines[:MOST_LINES]
    panels = [name for name in COLUMNS if any(getattr(line, name) is not None for line in lines)]
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure as PlainFigure

    size = (3.0 + 2.4 * len(panels), 1.5 + 0.36 * len(lines))
    figure = PlainFigure(figsize=size, layout="constrained")
    FigureCanvasAgg(figure)
    axes: list[Axes] = list(figure.subplots(1, len(panels), sharey=True, squeeze=False)[0])
    for axis, column in zip(axes, panels, strict=True):
        for place, line in enumerate(lines):
            value = getattr(line, column)
            if value is None or not line.possible:
                continue
            best = column in line.best_at
            axis.barh(
                place, float(value), height=0.64, hatch="" if line.fits else "...",
                color=TONES[2] if best else TONES[0] if line.fits else "#e8e8e8",
                edgecolor="#222222", linewidth=0.6,
            )  # fmt: skip
            axis.annotate(
                f" {float(value):,.4g}{' ★' if best else ''}",
                (float(value), place), va="center", fontsize=8,
            )  # fmt: skip
        title = COLUMNS[column]
        axis.set_title(f"{title}, {table.currency}" if column == "price" else title, fontsize=9)
        axis.margins(x=0.3)
        axis.spines[["top", "right"]].set_visible(False)
    names = [_name(line) if line.possible else f"{_name(line)} (cannot be made)" for line in lines]
    axes[0].set_yticks(range(len(lines)), names, fontsize=8)
    axes[0].invert_yaxis()
    hidden = len(table.lines) - len(lines)
    more = f"; {hidden} more in the table" if hidden else ""
    targets = f", wanted: {'; '.join(table.targets)}" if table.targets else ""
    figure.suptitle(_plain(f"{table.piece}{targets}{more}"), x=0.01, ha="left", fontsize=10)
    return figure


def write_comparison(table: Comparison, path: Path) -> Path:
    """Write the chart of a comparison as PNG or SVG, by the ending of the path."""
    import matplotlib as mpl

    metadata: dict[str, str | None] = (
        {"Date": None} if path.suffix.lower() == ".svg" else {"Software": None}
    )
    with mpl.rc_context({"svg.hashsalt": "chainplan", "svg.fonttype": "none"}):
        plot_comparison(table).savefig(path, dpi=DPI, metadata=metadata)
    return path
