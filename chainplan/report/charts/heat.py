"""Charts of one piece's heat: the warmest of each ring, and temperature against time.

As all charts: each ``…_chart`` function takes finished results, solves nothing, and returns a
matplotlib figure that belongs to nobody else.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.charts.figures import (
    DOTS_AN_INCH,
    LINE_MM,
    MARGIN_MM,
    NAME_MM,
    SMALL_PT,
    WIDTH_MM,
    add_legend,
    axes_at,
    chart_style,
    legend_height,
    line_series,
    new_figure,
    remark,
    settle,
    thin_out,
    write,
)
from chainplan.report.paper.lettering import MM_A_POINT, shorten_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

    from chainplan.arrays import FloatArray
    from chainplan.model.plan import PiecePlan

MOST_DOTS = 4000
"""Dots a panel: more could not be told apart; each then stands for the warmest of some rings."""
MOST_POINTS = round((WIDTH_MM - 22.0) / 25.4 * DOTS_AN_INCH)
"""Points of a line against time: one a dot of the PNG."""
SCALE_MM = 26.0
"""Room for the scale of colours beside the panels."""
TALLEST_MM = 78.0
"""Height of a panel at most, so that both fit on half a page."""
FOLDED_SHAPE = 2.6
"""Width over height that a folded piece is to have: that of a panel."""
TRACES_MM = 72.0
"""Height of the temperatures over time: a degree in a hundred is still seen."""
HEAT_TONES = "cividis"
"""From dark blue to yellow in even steps of lightness, so that it is read in grey as well."""
SMALLEST_DOT_MM, LARGEST_DOT_MM = 0.45, 3.0
"""Radius of a ring's dot: smaller is not seen, larger says no more."""


def fold_positions(plan: PiecePlan) -> tuple[FloatArray, FloatArray, int]:
    """Fold a long piece into lines, as text is: x, y of each ring in mm, and how many lines."""
    layout = plan.layout
    centre = settle(layout.centre_mm)
    x, y = centre[:, 0] - centre[:, 0].min(), centre[:, 1] - centre[:, 1].min()
    reach = 2 * float(layout.mean_radius_mm.max())
    length, width = float(x.max()) + reach, float(y.max()) + 1.6 * reach
    lines = max(1, round(np.sqrt(length / (FOLDED_SHAPE * width))))
    line = length / lines
    number = np.minimum((x / line).astype(int), lines - 1)
    return x - number * line, y - number * width, lines


@chart_style()
def heat_chart(plan: PiecePlan) -> Figure:
    """Draw the highest temperature of each ring: chosen order above, end to end below.

    Own welds included, at the bad end of the uncertain numbers, both in one scale of colours.
    """
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    order = plan.order
    given = (
        ("In the order to follow", order.peak_c),
        ("End to end, without a wait", order.end_to_end_peak_c),
    )
    panels = [(title, settle(peak)) for title, peak in given if peak is not None]
    # From the room's temperature, so that small differences look small.
    low = min(
        [float(p.min()) for _, p in panels] + settle(order.interpass_low_c[:1]).tolist(),
        default=0.0,
    )
    high = max((float(p.max()) for _, p in panels), default=1.0)
    ends = Normalize(low, high)
    x, y, lines = fold_positions(plan)
    margin = float((plan.layout.mean_radius_mm + plan.layout.wire_mm).max())
    span_x, span_y = float(np.ptp(x)) + 2 * margin, float(np.ptp(y)) + 2 * margin
    scale = min((WIDTH_MM - 2 * MARGIN_MM - SCALE_MM) / span_x, TALLEST_MM / span_y)
    top = MARGIN_MM + 9.0
    height = top + len(panels) * (span_y * scale + 9.0) + 8.0
    figure = new_figure(f"{plan.piece.name}: highest temperature of each ring", height)
    group = -(-len(x) // MOST_DOTS)
    for title, peak in panels:
        write(figure, MARGIN_MM, top + 3.0, f"{title}: {peak.max():.0f} °C at most")
        ax = axes_at(figure, MARGIN_MM, top + 5.5, span_x * scale, span_y * scale)
        ax.set_axis_off()
        ax.set_xlim(x.min() - margin, x.max() + margin)
        ax.set_ylim(y.min() - margin, y.max() + margin)
        _draw_dots(ax, x, y, peak, ends, _dot_mm(plan, scale), group)
        top += span_y * scale + 9.0
    scale_top = MARGIN_MM + 14.0
    side = axes_at(figure, WIDTH_MM - MARGIN_MM - 18.0, scale_top, 5.0, top - 4.0 - scale_top)
    figure.colorbar(
        ScalarMappable(ends, HEAT_TONES), cax=side, format=lambda value, _: f"{value:.0f} °C"
    )
    says = "own weld included, at the bad end of the uncertain numbers"
    if lines > 1:
        says += f"; the piece runs on from line to line ({lines} lines)"
    if group > 1:
        says += f"; each dot is the warmest of {group} rings"
    remark(figure, says)
    return figure


def _dot_mm(plan: PiecePlan, scale: float) -> float:
    """Radius of a dot: that of the ring's hole, within what can be seen."""
    hole = plan.layout.mean_radius_mm - plan.layout.wire_mm / 2
    return float(np.clip(0.62 * hole.mean() * scale, SMALLEST_DOT_MM, LARGEST_DOT_MM))


def _draw_dots(
    ax: Axes, x: FloatArray, y: FloatArray, peak: FloatArray, ends: Normalize, radius: float,
    group: int,
) -> None:  # fmt: skip
    """Draw one dot a ring, or one for the warmest of several, the warmest on top."""
    if group > 1:
        kept = len(peak) // group * group
        chosen = np.arange(0, kept, group) + peak[:kept].reshape(-1, group).argmax(axis=1)
        x, y, peak = x[chosen], y[chosen], peak[chosen]
    upwards = np.argsort(peak, kind="stable")
    ax.scatter(
        x[upwards], y[upwards], (2 * radius / MM_A_POINT) ** 2, peak[upwards],
        cmap=HEAT_TONES, norm=ends,
        linewidths=0.6 if radius >= 0.8 else 0.0, edgecolors="#222222",
    )  # fmt: skip


@chart_style()
def traces_chart(plan: PiecePlan) -> Figure:
    """Draw temperature against time at the fingers and at each heat-sensitive part."""
    order = plan.order
    limits: dict[str, float] = {}
    for check in order.limits:
        limits[check.name] = min(check.limit_c, limits.get(check.name, np.inf))
    limits = {name: limits[name] for name in order.trace_c if name in limits}
    times = np.zeros(1) if order.trace_time_s is None else settle(order.trace_time_s) / 60
    traces = {name: settle(trace) for name, trace in order.trace_c.items()}
    looks = [line_series(number, name) for number, name in enumerate(traces)]
    width = WIDTH_MM - 2 * MARGIN_MM
    legend = legend_height(looks, width)
    left, top = MARGIN_MM + 10.0, MARGIN_MM + 13.0 + legend
    figure = new_figure(
        f"{plan.piece.name}: temperature while it is welded", top + TRACES_MM + 12.0
    )
    add_legend(figure, looks, MARGIN_MM, MARGIN_MM + 7.0, width)
    ax = axes_at(figure, left, top, WIDTH_MM - MARGIN_MM - left, TRACES_MM)
    values = [float(np.nanmax(trace)) for trace in traces.values()] + list(limits.values())
    lowest = min((float(np.nanmin(trace)) for trace in traces.values()), default=0.0)
    ax.set_xlim(0.0, max(float(times[-1]), 1e-9))
    ax.set_ylim(lowest, max(values, default=1.0) * 1.04)
    ax.grid(visible=True)
    ax.set_xlabel("minutes at the bench")
    write(figure, left, top - 2.0, "°C, at the bad end of the uncertain numbers")
    for look, (name, trace) in zip(looks, traces.items(), strict=True):
        ax.plot(*thin_out(times, trace, MOST_POINTS), **look.line)
        if name in limits:
            ax.axhline(limits[name], linewidth=0.7, **look.line)
    _name_limits(ax, limits)
    return figure


def _name_limits(ax: Axes, limits: dict[str, float]) -> None:
    """Name each limit at its line; names of near ones stand above each other."""
    low, high = ax.get_ylim()
    degrees_a_mm = (high - low) / TRACES_MM
    free = -np.inf
    for name, limit in sorted(limits.items(), key=lambda item: item[1]):
        y = max(limit + 0.8 * degrees_a_mm, free)
        text = f"limit, {shorten_text(name, SMALL_PT, NAME_MM)}: {limit:.0f} °C"
        ax.text(
            1.0, y, text, fontsize=SMALL_PT, ha="right", transform=ax.get_yaxis_transform(),
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
        )  # fmt: skip
        free = y + (LINE_MM - 0.8) * degrees_a_mm
