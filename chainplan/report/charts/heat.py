"""Charts of one piece's heat: each ring before its weld, and temperature against time.

As all charts: each ``…_chart`` function takes finished results, solves nothing, and returns a
matplotlib figure that belongs to nobody else.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import LimitKind
from chainplan.report.charts.figures import (
    DOTS_AN_INCH,
    LINE_MM,
    MARGIN_MM,
    NAME_MM,
    SMALL_PT,
    TEXT_PT,
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
from chainplan.report.paper.lettering import MM_A_POINT, fold_text, shorten_text
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Mapping

    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

    from chainplan.arrays import FloatArray
    from chainplan.model.plan import PiecePlan

MOST_DOTS = 4000
"""Dots a panel: more could not be told apart; each then stands for the warmest of some rings."""
MOST_RINGS = 1500
"""Up to so many rings each is drawn as it lies; more are too small to be seen but as dots."""
MOST_LINES = 150
"""Up to so many they are lines in SVG too; more are a picture in it, a quarter as large a file."""
ROUND_POINTS = 33
"""Points of a ring's line: at 5 mm a chord is half a mm long."""
FILL_SHARE = 0.7
"""Of a wire's width that is coloured, between its dark edges."""
LEAST_RANGE_K = 5.0
"""Temperatures that differ by less look alike."""
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
    """Draw each ring's temperature before its own weld: chosen order above, end to end below.

    Both keep the same limits, at the bad end of the uncertain numbers, and share one scale of
    colours; each panel tells its time and the warmest of fingers and parts.
    """
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    order = plan.order
    mine = {
        check.name: check.high_c
        for check in sorted(order.limits, key=lambda check: check.high_c)
        if check.kind in (LimitKind.FINGERS, LimitKind.PART)
    }
    given = [_panel("In the order to follow", order.interpass_high_c, order.bench_time_s, mine)]
    if order.end_to_end is not None:
        ends = order.end_to_end
        title = "End to end within the same limits"
        given.append(_panel(title, ends.before_c, ends.bench_time_s, ends.warmest_c))
    panels = [(title, settle(before)) for title, before in given]
    low = min((float(p.min()) for _, p in panels), default=0.0)
    high = max((float(p.max()) for _, p in panels), default=1.0)
    shades = Normalize(low, max(high, low + LEAST_RANGE_K))
    x, y, lines = fold_positions(plan)
    margin = float((plan.layout.mean_radius_mm + plan.layout.wire_mm).max())
    span_x, span_y = float(np.ptp(x)) + 2 * margin, float(np.ptp(y)) + 2 * margin
    scale = min((WIDTH_MM - 2 * MARGIN_MM - SCALE_MM) / span_x, TALLEST_MM / span_y)
    top = MARGIN_MM + 9.0
    room = WIDTH_MM - 2 * MARGIN_MM - SCALE_MM
    heads = [fold_text(title, TEXT_PT, room) for title, _ in panels]
    heights = [span_y * scale + 5.0 + LINE_MM * len(head) for head in heads]
    height = top + sum(heights) + 8.0
    figure = new_figure(f"{plan.piece.name}: each ring before its own weld", height)
    group = -(-len(x) // MOST_DOTS)
    for head, (_, before), high_mm in zip(heads, panels, heights, strict=True):
        for number, line in enumerate(head):
            write(figure, MARGIN_MM, top + 3.0 + LINE_MM * number, line)
        below = top + 1.5 + LINE_MM * len(head)
        ax = axes_at(figure, MARGIN_MM, below, span_x * scale, span_y * scale)
        ax.set_axis_off()
        ax.set_xlim(x.min() - margin, x.max() + margin)
        ax.set_ylim(y.min() - margin, y.max() + margin)
        if len(x) <= MOST_RINGS:
            _draw_rings(ax, plan, (x, y), before, shades, scale)
        else:
            there = x[order.ring], y[order.ring]
            _draw_dots(ax, *there, before, shades, _dot_mm(plan, scale), group)
        top += high_mm
    scale_top = MARGIN_MM + 14.0
    side = axes_at(figure, WIDTH_MM - MARGIN_MM - 18.0, scale_top, 5.0, top - 4.0 - scale_top)
    figure.colorbar(
        ScalarMappable(shades, HEAT_TONES), cax=side, format=lambda value, _: f"{value:.0f} °C"
    )
    says = "at the bad end of the uncertain numbers"
    if order.end_to_end is None:
        says += "; end to end keeps the limits with no pauses"
    elif any(item.name == "end to end" and not item.fingers_counted for item in order.comparisons):
        says += "; of end to end the pauses for the fingers are not counted"
    if lines > 1:
        says += f"; the piece runs on from line to line ({lines} lines)"
    if group > 1:
        says += f"; each dot is the warmest of {group} rings"
    remark(figure, says)
    return figure


def _panel(
    title: str, before_c: FloatArray, bench_s: float, warmest_c: Mapping[str, float]
) -> tuple[str, FloatArray]:
    """Say above a panel how long it takes and how warm it gets where it matters."""
    parts = [f"{shorten_text(name, SMALL_PT, NAME_MM)} {warm:.0f} °C"
             for name, warm in warmest_c.items()]  # fmt: skip
    warmest = f"rings before their weld {before_c.max(initial=-np.inf):.0f} °C"
    return f"{title}: {show_duration(bench_s)}; at most {', '.join([warmest, *parts])}", before_c


def _draw_rings(
    ax: Axes,
    plan: PiecePlan,
    place_mm: tuple[FloatArray, FloatArray],
    before_c: FloatArray,
    shades: Normalize,
    scale: float,
) -> None:
    """Draw the rings as they lie: their far halves, then their near ones, dark edges around all.

    ``place_mm``: where the middle of each ring is drawn. Rings that are not welded stay white.
    """
    from matplotlib import colormaps
    from matplotlib.collections import LineCollection

    layout = plan.layout
    warm = np.full(layout.rings, np.nan)
    warm[plan.order.ring] = before_c
    colour = colormaps[HEAT_TONES](shades(np.nan_to_num(warm, nan=shades.vmin or 0.0)))
    colour[np.isnan(warm)] = 1.0
    angle = np.linspace(0, 2 * np.pi, ROUND_POINTS)
    ring = np.repeat(np.arange(layout.rings, dtype=np.int32), ROUND_POINTS)
    points = layout.point_mm(np.tile(angle, layout.rings), ring).reshape(layout.rings, -1, 3)
    flat = points[:, :, :2] - layout.centre_mm[:, None, :2] + np.column_stack(place_mm)[:, None]
    flat = np.round(flat, 3)
    rise = points[:, :, 2] - layout.centre_mm[:, None, 2]
    for near in (False, True):
        upper = (rise > 1e-9) == near
        halves = np.where(upper[:, :, None], flat, np.nan)
        wide = layout.wire_mm * scale / MM_A_POINT
        for share, tone in ((1.0, np.tile([0.13, 0.13, 0.13, 1.0], (layout.rings, 1))),
                            (FILL_SHARE, colour)):  # fmt: skip
            lines = LineCollection(list(halves), linewidths=wide * share, colors=tone)
            lines.set_capstyle("round")
            lines.set_rasterized(layout.rings > MOST_LINES)
            ax.add_collection(lines)


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
