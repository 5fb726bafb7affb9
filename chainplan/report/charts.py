"""Charts from finished results: heat over the piece, temperature against time, cost, calendar.

Each ``plot_`` function draws into the axes it is given (or into a new figure of its own), returns
the axes and solves nothing. Colours are safe for the colour-blind, and hatches or line styles tell
the same without colour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.folder import file_names

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from chainplan.model.estimate import Estimates
    from chainplan.model.plan import PiecePlan, Plan

DPI = 110
MOST_DOTS = 20_000
HATCHES = ("", "///", "...", "xxx", "\\\\\\", "++", "ooo", "---", "**", "||")
TONES = ("#31688e", "#fde0a0", "#35b779", "#b8b8b8", "#cc6677", "#88ccee", "#ddcc77", "#aa4499")
LINES = ("-", "--", "-.", ":")


def new_axes(width_in: float = 8.0, height_in: float = 4.0, *, rows: int = 1) -> Any:
    """Make axes in a figure that belongs to no window."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_in, height_in), layout="constrained")
    FigureCanvasAgg(figure)
    return figure.subplots(rows, 1, squeeze=False)[:, 0]


def save_chart(figure: Figure, folder: Path, name: str) -> list[Path]:
    """Write a figure as PNG and SVG with bytes that depend on its content only."""
    import matplotlib as mpl

    paths = []
    with mpl.rc_context({"svg.hashsalt": "chainplan", "svg.fonttype": "none"}):
        for ending, metadata in (("png", {"Software": None}), ("svg", {"Date": None})):
            path = folder / f"{name}.{ending}"
            figure.savefig(path, dpi=DPI, metadata=metadata)
            paths.append(path)
    return paths


def fold_positions(plan: PiecePlan, *, shape: float = 3.0) -> tuple[Any, Any, float]:
    """Fold a long piece into lines, as text is: x, y of each ring and the line pitch, in mm."""
    layout = plan.layout
    x = layout.centre_mm[:, 0] - layout.centre_mm[:, 0].min()
    y = layout.centre_mm[:, 1] - layout.centre_mm[:, 1].min()
    length, width = float(x.max()) + 1.0, float(y.max()) + 4.0 * float(layout.wire_mm.max())
    lines = max(1, round(np.sqrt(length / (shape * width))))
    line = length / lines
    number = np.minimum((x / line).astype(int), lines - 1)
    return x - number * line, y - number * width, width


def plot_heat(plan: PiecePlan, axes: Any = None) -> Any:
    """Draw the highest temperature of each ring, chosen order above, end to end below.

    Own welds included, at the bad end of the uncertain numbers, in one colour scale.
    """
    order = plan.order
    if axes is None:
        axes = new_axes(8.0, 6.5, rows=2)
    x, y, _ = fold_positions(plan)
    shown = (
        slice(None, None, max(1, len(x) // MOST_DOTS + 1)) if len(x) > MOST_DOTS else slice(None)
    )
    panels = [("the order to follow", order.peak_c), ("end to end", order.end_to_end_peak_c)]
    known = [peak for _, peak in panels if peak is not None]
    low, high = min(p.min() for p in known), max(p.max() for p in known)
    span = float(np.ptp(x)) + float(np.ptp(y)) + 1.0
    dots = None
    for axis, (title, peak) in zip(axes, panels, strict=True):
        if peak is None:
            axis.set_visible(False)
            continue
        size = float(np.clip(3.0e5 / span**2 * plan.layout.mean_radius_mm.mean(), 2.0, 120.0))
        dots = axis.scatter(
            x[shown], y[shown], c=peak[shown], s=size, cmap="cividis", vmin=low, vmax=high,
            edgecolors="#222222", linewidths=0.3, rasterized=len(x) > 2000,
        )  # fmt: skip
        axis.set_aspect("equal")
        axis.set_axis_off()
        axis.set_title(f"{title}: warmest ring {peak.max():.0f} °C", loc="left", fontsize=10)
    if dots is not None:
        bar = axes[0].figure.colorbar(dots, ax=list(axes), shrink=0.8, format="%.0f °C")
        bar.ax.set_title("highest", fontsize=8)
    return axes


def plot_traces(plan: PiecePlan, ax: Axes | None = None) -> Axes:
    """Draw temperature against time at the hold window and at each heat-sensitive part."""
    order = plan.order
    axis: Axes = new_axes()[0] if ax is None else ax
    if order.trace_time_s is not None:
        minutes = order.trace_time_s / 60
        limits = {check.name: check.limit_c for check in order.limits}
        for number, (name, trace) in enumerate(order.trace_c.items()):
            tone, line = TONES[number % len(TONES)], LINES[number % len(LINES)]
            axis.plot(minutes, trace, line, color=tone, linewidth=1.4, label=_plain(name))
            if name in limits:
                axis.axhline(limits[name], color=tone, linestyle=line, linewidth=0.8)
                axis.annotate(
                    f"limit of {_plain(name)}: {limits[name]:.0f} °C", (0, limits[name]),
                    xytext=(2, 2), textcoords="offset points", fontsize=7,
                )  # fmt: skip
        axis.legend(fontsize=8, frameon=False)
    axis.set_xlabel("minutes at the bench")
    axis.set_ylabel("°C, bad end of the range")
    axis.spines[["top", "right"]].set_visible(False)
    return axis


def plot_cost(estimates: Estimates, ax: Axes | None = None) -> Axes:
    """Draw what each piece costs, by item, as stacked bars."""
    pieces = list(dict.fromkeys(line.piece for line in estimates.costs))
    items = list(dict.fromkeys(line.item for line in estimates.costs))
    axis: Axes = new_axes(8.0, 1.8 + 0.5 * len(pieces))[0] if ax is None else ax
    left = np.zeros(len(pieces))
    for number, item in enumerate(items):
        amounts = np.array(
            [
                sum(float(c.amount) for c in estimates.costs if c.piece == piece and c.item == item)
                for piece in pieces
            ]
        )
        axis.barh(
            range(len(pieces)), amounts, left=left, height=0.62, label=_plain(item),
            color=TONES[number % len(TONES)], hatch=HATCHES[number % len(HATCHES)],
            edgecolor="#222222", linewidth=0.5,
        )  # fmt: skip
        left += amounts
    for place, total in enumerate(left):
        axis.annotate(f" {total:,.2f}", (total, place), va="center", fontsize=8)
    axis.set_yticks(range(len(pieces)), [_plain(piece) for piece in pieces])
    axis.invert_yaxis()
    axis.set_xlabel(f"cost of all copies, {estimates.currency}")
    axis.margins(x=0.12)
    axis.spines[["top", "right"]].set_visible(False)
    axis.legend(fontsize=7, ncols=4, loc="lower left", bbox_to_anchor=(0, 1.0), frameon=False)
    return axis


def plot_calendar(estimates: Estimates, ax: Axes | None = None) -> Axes:
    """Draw which piece is at which station when, in working hours, with due dates."""
    lines = estimates.calendar
    pieces = list(dict.fromkeys(line.piece for line in lines))
    stations = list(dict.fromkeys(line.station for line in lines))
    axis: Axes = new_axes(8.5, 1.8 + 0.42 * len(pieces))[0] if ax is None else ax
    for number, station in enumerate(stations):
        bars = [line for line in lines if line.station == station]
        axis.barh(
            [pieces.index(line.piece) for line in bars],
            [line.end_h - line.start_h for line in bars],
            left=[line.start_h for line in bars],
            height=0.62, label=_plain(station), color=TONES[number % len(TONES)],
            hatch=HATCHES[number % len(HATCHES)], edgecolor="#222222", linewidth=0.5,
        )  # fmt: skip
    late = {line.piece: line.late_days for line in estimates.due if line.late_days > 0}
    names = [f"{_plain(p)}{f' (late: {late[p]} d)' if p in late else ''}" for p in pieces]
    axis.set_yticks(range(len(pieces)), names)
    axis.invert_yaxis()
    axis.set_xlabel("working hours from the start")
    axis.spines[["top", "right"]].set_visible(False)
    axis.legend(fontsize=7, ncols=5, loc="lower left", bbox_to_anchor=(0, 1.0), frameon=False)
    return axis


def write_charts(plan: Plan, folder: Path) -> list[Path]:
    """Write all charts of a plan as PNG and SVG into ``charts/``; return the files written."""
    folder = folder / "charts"
    folder.mkdir(exist_ok=True)
    names = file_names([piece.piece.name for piece in plan.pieces])
    paths = []
    for piece, name in zip(plan.pieces, names, strict=True):
        if piece.order.peak_c is not None:
            axes = plot_heat(piece)
            paths += save_chart(axes[0].figure, folder, f"heat-{name}")
        if piece.order.trace_time_s is not None and piece.order.trace_c:
            paths += save_chart(_figure(plot_traces(piece)), folder, f"temperatures-{name}")
    if plan.estimates.costs:
        paths += save_chart(_figure(plot_cost(plan.estimates)), folder, "cost")
    if plan.estimates.calendar:
        paths += save_chart(_figure(plot_calendar(plan.estimates)), folder, "calendar")
    return paths


def _figure(axis: Axes) -> Figure:
    figure: Figure = axis.figure  # type: ignore[assignment]
    return figure


def _plain(text: str) -> str:
    """Keep a text from being taken for mathematics, and short enough for a chart."""
    short = text if len(text) <= 28 else text[:27] + "…"
    return short.replace("$", r"\$").lstrip("_") or " "
