"""Charts from finished results: heat over the piece, temperature against time; and the writers.

Each ``…_chart`` function makes a sheet and solves nothing; each ``plot_…`` shows it on the axes
that it is given, or on new ones.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.folder import file_names
from chainplan.report.charts.frame import (
    LINE_MM,
    MARGIN_MM,
    NAME_MM,
    SMALL_PT,
    TEXT_PT,
    WIDTH_MM,
    Frame,
    draw_legend,
    legend_height,
    line_key,
    new_chart,
    nice_ticks,
    quiet,
    say_number,
)
from chainplan.report.paper.glyphs import shorten_text, text_width_mm
from chainplan.report.paper.sheet import WHITE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from chainplan.arrays import FloatArray
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.report.paper.sheet import Sheet


MOST_DOTS = 4000
MOST_POINTS = 700
LEVELS = 32
BAR_MM = 26.0
"""Room for the scale of colours beside the panels."""

# From dark blue to yellow in even steps of lightness, so that it is read in grey as well (cividis,
# Nuñez, Anderton & Renslow 2018, as matplotlib ships it; every eighth part).
_SCALE = (
    (0, 34, 78), (18, 53, 112), (59, 73, 108), (87, 93, 109), (112, 113, 115),
    (138, 134, 120), (165, 156, 116), (195, 179, 105), (254, 232, 56),
)  # fmt: skip


def tone_of(share: float) -> str:
    """Colour of a place on the scale, 0 to 1.

    Examples
    --------
    >>> tone_of(0.0), tone_of(1.0)
    ('#00224e', '#fee838')
    """
    place = min(max(share, 0.0), 1.0) * (len(_SCALE) - 1)
    first = min(int(place), len(_SCALE) - 2)
    rest = place - first
    mixed = (a + (b - a) * rest for a, b in zip(_SCALE[first], _SCALE[first + 1], strict=True))
    return "#" + "".join(f"{round(part):02x}" for part in mixed)


def fold_positions(plan: PiecePlan, *, shape: float = 2.6) -> tuple[FloatArray, FloatArray, int]:
    """Fold a long piece into lines, as text is: x, y of each ring in mm, and how many lines."""
    layout = plan.layout
    x = layout.centre_mm[:, 0] - layout.centre_mm[:, 0].min()
    y = layout.centre_mm[:, 1] - layout.centre_mm[:, 1].min()
    reach = 2 * float(layout.mean_radius_mm.max())
    length, width = float(x.max()) + reach, float(y.max()) + 1.6 * reach
    lines = max(1, round(np.sqrt(length / (shape * width))))
    line = length / lines
    number = np.minimum((x / line).astype(int), lines - 1)
    return x - number * line, -y - number * width, lines


def heat_chart(plan: PiecePlan) -> Sheet:
    """Draw the highest temperature of each ring: chosen order above, end to end below.

    Own welds included, at the bad end of the uncertain numbers, both in one scale of colours.
    """
    order = plan.order
    given = (
        ("In the order to follow", order.peak_c),
        ("End to end, without a wait", order.end_to_end_peak_c),
    )
    panels = [(title, np.asarray(peak)) for title, peak in given if peak is not None]
    # From the room's temperature, so that small differences look small.
    low = min([float(p.min()) for _, p in panels] + order.interpass_low_c[:1].tolist(), default=0.0)
    high = max((float(p.max()) for _, p in panels), default=1.0)
    x, y, lines = fold_positions(plan)
    room = WIDTH_MM - 2 * MARGIN_MM - BAR_MM
    margin = float((plan.layout.mean_radius_mm + plan.layout.wire_mm).max())
    span_x, span_y = float(np.ptp(x)) + 2 * margin, float(np.ptp(y)) + 2 * margin
    scale = min(room / span_x, 78.0 / span_y)
    tall = span_y * scale
    top = MARGIN_MM + 9.0
    height = top + len(panels) * (tall + 9.0) + 8.0
    sheet = new_chart(f"{plan.piece.name}: highest temperature of each ring", height)
    group = -(-len(x) // MOST_DOTS)
    for title, peak in panels:
        sheet.write(MARGIN_MM, top + 3.0, f"{title}: {peak.max():.0f} °C at most", TEXT_PT)
        places = np.column_stack(
            [MARGIN_MM + (x - x.min() + margin) * scale, top + 5.5 + (y.max() - y + margin) * scale]
        )
        _draw_dots(sheet, places, peak, (low, high), _dot_mm(plan, scale), group)
        top += tall + 9.0
    _draw_scale(sheet, (low, high), MARGIN_MM + 14.0, top - 4.0)
    says = "own weld included, at the bad end of the uncertain numbers"
    if lines > 1:
        says += f"; the piece runs on from line to line ({lines} lines)"
    if group > 1:
        says += f"; each dot is the warmest of {group} rings"
    quiet(sheet, MARGIN_MM, height - 4.0, says)
    return sheet


def _dot_mm(plan: PiecePlan, scale: float) -> float:
    """Radius of a dot: that of the ring's hole, within what can be seen."""
    hole = plan.layout.mean_radius_mm - plan.layout.wire_mm / 2
    return float(np.clip(0.62 * hole.mean() * scale, 0.45, 3.0))


def _draw_dots(
    sheet: Sheet,
    places: FloatArray,
    peak: FloatArray,
    ends: tuple[float, float],
    radius: float,
    group: int,
) -> None:
    """Draw one dot a ring, or one for the warmest of several, the warmest on top."""
    if group > 1:
        kept = len(peak) // group * group
        chosen = np.arange(0, kept, group) + peak[:kept].reshape(-1, group).argmax(axis=1)
        places, peak = places[chosen], peak[chosen]
    low, high = ends
    share = (peak - low) / ((high - low) or 1.0)
    level = np.minimum((share * LEVELS).astype(int), LEVELS - 1)
    for number in range(LEVELS):
        here = places[level == number]
        if len(here):
            tone = tone_of((number + 0.5) / LEVELS)
            sheet.discs(here, radius, fill=tone, stroke="" if radius < 0.8 else "#222222")


def _draw_scale(sheet: Sheet, ends: tuple[float, float], top: float, bottom: float) -> None:
    left, width = WIDTH_MM - MARGIN_MM - 18.0, 5.0
    low, high = ends
    frame = Frame(sheet, left, top, width, bottom - top, (0, 1), (low, high))
    step = (bottom - top) / LEVELS
    for number in range(LEVELS):
        y = bottom - (number + 1) * step
        sheet.box(
            left, y, width, step + (0.2 if number else 0.0), fill=tone_of((number + 0.5) / LEVELS)
        )
    sheet.box(left, top, width, bottom - top, stroke="#222222", line_mm=0.2)
    for tick in nice_ticks(low, high, 6):
        y = float(frame.y_mm(tick))
        sheet.line([(left + width, y), (left + width + 1.2, y)], width_mm=0.2)
        sheet.write(left + width + 2.0, y + 1.0, f"{say_number(tick)} °C", SMALL_PT)


def traces_chart(plan: PiecePlan) -> Sheet:
    """Draw temperature against time at the fingers and at each heat-sensitive part."""
    order = plan.order
    limits: dict[str, float] = {}
    for check in order.limits:
        limits[check.name] = min(check.limit_c, limits.get(check.name, np.inf))
    times = np.zeros(1) if order.trace_time_s is None else np.asarray(order.trace_time_s) / 60
    keys = [line_key(number, name) for number, name in enumerate(order.trace_c)]
    width = WIDTH_MM - 2 * MARGIN_MM
    legend = legend_height(keys, width)
    left, top = MARGIN_MM + 10.0, MARGIN_MM + 13.0 + legend
    sheet = new_chart(f"{plan.piece.name}: temperature while it is welded", top + 72.0 + 12.0)
    draw_legend(sheet, keys, MARGIN_MM, MARGIN_MM + 7.0, width)
    # Where the fingers hold nothing there is no number, and no line is drawn.
    values = [float(np.nanmax(trace)) for trace in order.trace_c.values()]
    values += [limits[name] for name in order.trace_c if name in limits]
    lowest = min((float(np.nanmin(trace)) for trace in order.trace_c.values()), default=0.0)
    ends = (lowest, max(values, default=1.0) * 1.04)
    last = max(float(times[-1]), 1e-9)
    frame = Frame(sheet, left, top, WIDTH_MM - MARGIN_MM - left, 72.0, (0.0, last), ends)
    frame.x_axis("minutes at the bench")
    frame.y_axis("°C, at the bad end of the uncertain numbers")
    for key, (name, trace) in zip(keys, order.trace_c.items(), strict=True):
        minutes, shown = _thin_out(times, np.asarray(trace))
        for run in _runs(shown):
            points = frame.points(minutes[run], shown[run])
            sheet.line(points, width_mm=0.45, colour=key.ink, dash_mm=key.dash_mm)
        if name in limits:
            y = float(frame.y_mm(limits[name]))
            right = left + frame.width
            sheet.line([(left, y), (right, y)], width_mm=0.25, colour=key.ink, dash_mm=key.dash_mm)
    _name_limits(sheet, frame, {n: limits[n] for n in order.trace_c if n in limits})
    return sheet


def _runs(trace: FloatArray) -> list[slice]:
    """Stretches of a trace without a gap; a single moment counts as one."""
    known = np.concatenate([[False], np.isfinite(trace), [False]])
    edges = np.flatnonzero(known[1:] != known[:-1])
    return [slice(a, b) for a, b in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)]


def _thin_out(times: FloatArray, trace: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Keep the highest and the lowest of each stretch, so that no peak is lost."""
    group = len(times) // MOST_POINTS
    if group < 2:
        return times, trace
    kept = len(times) // (2 * group) * 2 * group
    parts = trace[:kept].reshape(-1, 2 * group)
    first = np.arange(0, kept, 2 * group)
    high, low = np.where(np.isnan(parts), -np.inf, parts), np.where(np.isnan(parts), np.inf, parts)
    both = np.sort(np.stack([first + high.argmax(1), first + low.argmin(1)], axis=1), axis=1)
    gaps = np.flatnonzero(~np.isfinite(trace))
    chosen = np.unique(np.concatenate([both.ravel(), gaps, [len(times) - 1]]))
    return times[chosen], trace[chosen]


def _name_limits(sheet: Sheet, frame: Frame, limits: dict[str, float]) -> None:
    """Name each limit at its line; names of near ones stand above each other."""
    lowest = np.inf
    right = frame.left + frame.width
    for name, limit in sorted(limits.items(), key=lambda item: item[1]):
        y = min(float(frame.y_mm(limit)) - 0.8, lowest - LINE_MM + 0.8)
        text = f"limit, {shorten_text(name, SMALL_PT, NAME_MM)}: {limit:.0f} °C"
        wide = text_width_mm(text, SMALL_PT)
        sheet.box(right - wide - 0.6, y - 2.3, wide + 0.6, 2.8, fill=WHITE)
        sheet.write(right, y, text, SMALL_PT, anchor="end")
        lowest = y


def plot_heat(plan: PiecePlan, ax: Any = None) -> Any:
    """Show :func:`heat_chart` on axes."""
    return _show(heat_chart(plan), ax)


def plot_traces(plan: PiecePlan, ax: Any = None) -> Any:
    """Show :func:`traces_chart` on axes."""
    return _show(traces_chart(plan), ax)


def _show(sheet: Sheet, ax: Any) -> Any:
    from chainplan.report.paper.axes import show_sheet

    return show_sheet(sheet, ax=ax)


def charts_of(plan: Plan) -> Iterator[tuple[str, Sheet]]:
    """Make all charts of a plan, each with the name of its file."""
    from chainplan.report.charts.estimates import calendar_chart, cost_chart, what_if_chart

    estimates = plan.estimates
    names = file_names([piece.piece.name for piece in plan.pieces])
    for piece, name in zip(plan.pieces, names, strict=True):
        loose = all(section.form == "loose" for section in piece.layout.sections)
        if piece.order.peak_c is not None and not loose:
            yield f"heat-{name}", heat_chart(piece)
        if piece.order.trace_time_s is not None and piece.order.trace_c:
            yield f"temperatures-{name}", traces_chart(piece)
        if any(line.piece == piece.piece.name for line in estimates.drivers):
            yield f"what-if-{name}", what_if_chart(estimates, piece.piece.name)
    if estimates.costs:
        yield "cost", cost_chart(estimates)
    if estimates.calendar:
        yield "calendar", calendar_chart(estimates)


def write_charts(plan: Plan, folder: Path) -> list[Path]:
    """Write all charts of a plan as PNG and SVG into ``charts/``; return the files written."""
    folder = folder / "charts"
    folder.mkdir(exist_ok=True)
    return write_sheets(charts_of(plan), folder)


def write_sheets(sheets: Iterable[tuple[str, Sheet]], folder: Path) -> list[Path]:
    """Write sheets as PNG and SVG, with bytes that depend on their content only."""
    from chainplan.report.paper.png import PngPainter
    from chainplan.report.paper.svg import sheet_svg

    painter = PngPainter()
    paths = []
    for name, sheet in sheets:
        png, svg = folder / f"{name}.png", folder / f"{name}.svg"
        png.write_bytes(painter.png(sheet))
        svg.write_text(sheet_svg(sheet, {}), encoding="utf-8", newline="\n")
        paths += [png, svg]
    return paths
