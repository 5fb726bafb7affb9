"""Charts of the estimates: cost by item, calendar, what drives the cost, cost by quantity.

As all charts: each ``…_chart`` function takes finished results, solves nothing, and returns a
matplotlib figure that belongs to nobody else.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.kinds import CostItem, CostKind
from chainplan.report.charts.figures import (
    INK,
    LINE_MM,
    MARGIN_MM,
    SMALL_PT,
    TEXT_PT,
    TONES,
    WIDTH_MM,
    Series,
    add_legend,
    axes_at,
    bar_axes,
    bar_series,
    chart_style,
    legend_height,
    line_series,
    name_room,
    new_figure,
    remark,
    settle,
    write,
)
from chainplan.report.paper.lettering import MM_A_POINT, printable, text_width_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from chainplan.arrays import FloatArray
    from chainplan.model.estimate import CostDriver, Estimates, QuantityBreak

MOST_PIECES = 60
"""Pieces that are drawn: more rows would not fit on two A4 pages; the workbook has them all."""
STEP_MM = 8.0
"""From bar to bar: two lines of text."""
BAR_SHARE = 0.65
"""Height of a bar in its row, so that it holds a line of text with air around the row."""
DRIVER_STEP_MM = 9.0
"""From bar to bar of a tornado: its texts stand on both sides and need more air."""
SMALLEST_TORNADO_MM = 20.0
"""Room for the bars of a tornado beside their texts, however long these are."""
NAME_GAP_MM = 2.0
"""Air between the name of an input and the number at the left end of its bar."""
BREAKS_SHARE = 0.6
"""Where the right half of the what-if chart begins: bars and their texts need the wider half."""
BREAKS_MM = 86.0
"""Height of the chart of quantities."""
_STATION_GROUPS = {
    "coil": "making rings", "cut": "making rings", "tumble": "making rings",
    "pre-close": "welding", "weave": "weaving",
    "set up": "welding", "weld": "welding", "rework": "welding",
    "clean": "finishing", "inspect": "finishing", "finish": "finishing",
    "fitting": "finishing", "last fitting": "finishing",
}  # fmt: skip
_OTHER_GROUPS = {
    CostKind.METAL: "metal, less scrap back", CostKind.PREMIUM: "metal, less scrap back",
    CostKind.SCRAP: "metal, less scrap back",
    CostKind.ARGON: "gas, tips, blades, power", CostKind.TIP: "gas, tips, blades, power",
    CostKind.ELECTRICITY: "gas, tips, blades, power", CostKind.BLADE: "gas, tips, blades, power",
    CostKind.OVERHEAD: "overhead",
    CostKind.CHANGES: "welding",
}  # fmt: skip
GROUPS = (
    "metal, less scrap back", "making rings", "weaving", "welding", "finishing",
    "gas, tips, blades, power", "overhead", "fittings, packing and other",
)  # fmt: skip


def cost_group(item: CostItem) -> str:
    """Return the group of a cost line on the chart.

    Examples
    --------
    >>> from chainplan.model.kinds import CostItem
    >>> cost_group(CostItem(CostKind.LABOUR, "weld")), cost_group(CostItem(CostKind.SCRAP))
    ('welding', 'metal, less scrap back')
    """
    if item.kind == CostKind.LABOUR:
        return station_group(item.of)
    return _OTHER_GROUPS.get(item.kind, GROUPS[-1])


def station_group(station: str) -> str:
    """Return the group of a station on charts."""
    return _STATION_GROUPS.get(station, GROUPS[-1])


@chart_style()
def cost_chart(estimates: Estimates) -> Figure:
    """Draw what each piece costs, all copies, in groups of items."""
    pieces = list(dict.fromkeys(line.piece for line in estimates.costs))
    amounts = np.zeros((len(GROUPS), len(pieces)))
    for line in estimates.costs:
        place = GROUPS.index(cost_group(line.item)), pieces.index(line.piece)
        amounts[place] += float(line.amount)
    hidden = max(len(pieces) - MOST_PIECES, 0)
    pieces, amounts = pieces[:MOST_PIECES], amounts[:, :MOST_PIECES]
    totals = amounts.sum(axis=0)
    amounts = _none_below_nothing(amounts)
    used = [number for number in range(len(GROUPS)) if amounts[number].any()]
    looks = {number: bar_series(number, GROUPS[number]) for number in used}
    figure, ax = bar_figure("What the pieces cost, all copies", pieces, list(looks.values()))
    ax.set_xlim(0.0, float(amounts.sum(0).max(initial=0.0)) * 1.1 or 1.0)
    ax.set_xlabel(estimates.currency)
    rows = np.arange(len(pieces))
    before = np.zeros(len(pieces))
    for number in used:
        shown = np.flatnonzero(amounts[number])
        ax.barh(
            rows[shown], amounts[number][shown], BAR_SHARE, left=before[shown],
            **looks[number].bar,
        )  # fmt: skip
        before = before + amounts[number]
    for row, (end, total) in enumerate(zip(before.tolist(), totals.tolist(), strict=True)):
        _beside(ax, end, row, f"{total:,.2f}".replace(",", " "), fontweight="bold")
    say_hidden(figure, hidden)
    return figure


def _none_below_nothing(amounts: FloatArray) -> FloatArray:
    """Take groups below nothing off the others of a piece in proportion, shape (groups, pieces).

    Wages lower than the bench's labour are such a group: bars together are the whole cost then.
    """
    above = np.maximum(amounts, 0.0)
    whole = above.sum(axis=0)
    left = np.maximum(amounts.sum(axis=0), 0.0)
    share: FloatArray = np.divide(left, whole, out=np.ones_like(whole), where=whole > 0)
    kept: FloatArray = above * share
    return kept


def bar_figure(
    title: str,
    names: Sequence[str],
    looks: Sequence[Series],
    *,
    above: float = 0.0,
    below: float = 0.0,
) -> tuple[Figure, Axes]:
    """Begin a chart of lying bars, one row a name, with its legend on top."""
    width = WIDTH_MM - 2 * MARGIN_MM
    left = MARGIN_MM + name_room(names)
    top = MARGIN_MM + 9.0 + legend_height(looks, width) + above
    figure = new_figure(title, top + STEP_MM * max(len(names), 1) + 15.0 + below)
    add_legend(figure, looks, MARGIN_MM, MARGIN_MM + 7.0, width)
    return figure, bar_axes(figure, names, (left, top, WIDTH_MM - MARGIN_MM - left), STEP_MM)


def _beside(ax: Axes, x: float, row: float, text: str, *, side: int = 1, **looks: Any) -> None:
    """Write a text at the right (1) or left (−1) end of a bar."""
    ax.annotate(
        printable(text), (x, row), xytext=(3 * side, 0), textcoords="offset points", va="center",
        ha="left" if side > 0 else "right", annotation_clip=False, **looks,
    )  # fmt: skip


def say_hidden(figure: Figure, hidden: int, what: str = "more pieces") -> None:
    """Say how much is left out of a chart."""
    if hidden > 0:
        remark(figure, f"{hidden} {what} are in the workbook")


@chart_style()
def calendar_chart(estimates: Estimates) -> Figure:
    """Draw which piece is at which station when, in working hours, with the days marked."""
    lines = estimates.calendar
    pieces = list(dict.fromkeys(line.piece for line in lines))
    hidden = max(len(pieces) - MOST_PIECES, 0)
    row = {piece: number for number, piece in enumerate(pieces[:MOST_PIECES])}
    stations = sorted({line.station for line in lines}, key=_station_place)
    looks = [bar_series(number, station) for number, station in enumerate(stations)]
    late = {line.piece: line.late_days for line in estimates.due if line.late_days > 0}
    names = [f"{_late(late[p])} {p}" if p in late else p for p in row]
    figure, ax = bar_figure("Which piece is at which station when", names, looks, above=3.5)
    ax.set_xlim(0.0, float(settle(max((line.end_h for line in lines), default=1.0))) or 1.0)
    ax.set_xlabel("working hours from the start")
    _mark_days(ax, estimates)
    for station, look in zip(stations, looks, strict=True):
        own = [line for line in lines if line.station == station and line.piece in row]
        ax.barh(
            [row[line.piece] for line in own],
            settle([line.end_h - line.start_h for line in own]),
            BAR_SHARE,
            left=settle([line.start_h for line in own]),
            clip_on=False,
            **look.bar,
        )
    say_hidden(figure, hidden)
    return figure


def _station_place(station: str) -> tuple[int, str]:
    """Sort stations as work goes on, others last."""
    known = tuple(_STATION_GROUPS)
    return (known.index(station) if station in known else len(known), station)


def _late(days: int) -> str:
    return f"LATE {days} {'day' if days == 1 else 'days'}:"


def _mark_days(ax: Axes, estimates: Estimates) -> None:
    """Mark where each working day begins, if the job has dates; names stand where there is room."""
    first: dict[Any, float] = {}
    for line in estimates.calendar:
        if line.start is not None:
            day = line.start.date()
            first[day] = min(first.get(day, line.start_h), line.start_h)
    wide_mm = float(ax.get_position().width) * WIDTH_MM
    hours_a_mm = ax.get_xlim()[1] / wide_mm
    free = -np.inf
    for day, start_h in sorted(first.items()):
        hour = float(settle(start_h))
        ax.axvline(hour, linewidth=0.8, color=INK, linestyle=(0, (3, 2)))
        name = f"{day:%a} {day.day} {day:%b}"
        room = (text_width_mm(name, SMALL_PT) + 1.6) * hours_a_mm
        if hour >= free and hour + room <= (wide_mm + MARGIN_MM) * hours_a_mm:
            ax.annotate(
                name, (hour, 1.0), xycoords=ax.get_xaxis_transform(), xytext=(2, 2),
                textcoords="offset points", fontsize=SMALL_PT,
            )  # fmt: skip
            free = hour + room


@chart_style()
def what_if_chart(estimates: Estimates, piece: str) -> Figure:
    """Draw what drives the cost of a piece and, beside it, what more copies cost."""
    drivers = [line for line in estimates.drivers if line.piece == piece]
    breaks = [line for line in estimates.breaks if line.piece == piece]
    height = max(34.0 + DRIVER_STEP_MM * len(drivers), BREAKS_MM if breaks else 0.0)
    figure = new_figure(f"{piece}: what if", height)
    half = BREAKS_SHARE * WIDTH_MM if breaks else WIDTH_MM
    if drivers:
        _draw_drivers(figure, estimates.currency, drivers, MARGIN_MM, half - MARGIN_MM)
    if breaks:
        _draw_breaks(figure, estimates.currency, breaks, half + 4.0, WIDTH_MM - MARGIN_MM)
    return figure


def _draw_drivers(
    figure: Figure, currency: str, drivers: list[CostDriver], left: float, right: float
) -> None:
    """Draw how far each input moves the cost of one copy: a tornado chart."""
    usual = float(drivers[0].cost_usual_each)
    values = np.array([(float(d.cost_low_each), float(d.cost_high_each)) for d in drivers])
    texts = [
        (f"{d.low_input}: {low:.2f}", f"{d.high_input}: {high:.2f}")
        for d, (low, high) in zip(drivers, values.tolist(), strict=True)
    ]
    before, behind = (
        max(text_width_mm(pair[side], SMALL_PT) for pair in texts) + 2.0 for side in (0, 1)
    )
    names = [line.driver for line in drivers]
    start = left + name_room(names) + before + NAME_GAP_MM
    width = max(right - start - behind, SMALLEST_TORNADO_MM)
    top = MARGIN_MM + 12.0
    title = f"One input changed, all else as planned: cost of one copy, {currency}"
    write(figure, left, top - 3.0, title)
    ax = bar_axes(figure, names, (start, top, width), DRIVER_STEP_MM)
    ax.tick_params(axis="y", pad=(before + NAME_GAP_MM) / MM_A_POINT)
    ax.set_axisbelow(False)
    ax.grid(visible=False)
    ax.set_xticks([])
    ax.spines.bottom.set_visible(False)
    low, high = float(values.min()), float(values.max())
    ax.set_xlim((low, high) if high > low else (low - 1, low + 1))
    rows = np.arange(len(drivers))
    looks = (Series("one way", TONES[1]), Series("other way", TONES[0], "///"))
    for side, (ends, look) in enumerate(zip(values.T, looks, strict=True)):
        ax.barh(rows, ends - usual, BAR_SHARE, left=usual, clip_on=False, **look.bar)
        way = 1 if side else -1
        outer = np.maximum(ends, usual) if side else np.minimum(ends, usual)
        for row, end in enumerate(outer.tolist()):
            _beside(ax, end, row, texts[row][side], side=way, fontsize=SMALL_PT)
    ax.axvline(usual, color=INK, linewidth=1.1)
    ax.set_xlabel(f"as planned: {usual:.2f}", fontweight="bold")
    ax.xaxis.set_label_coords(
        (usual - ax.get_xlim()[0]) / (ax.get_xlim()[1] - ax.get_xlim()[0]), -1.0 / (4 * len(rows))
    )


def _draw_breaks(
    figure: Figure, currency: str, breaks: list[QuantityBreak], left: float, right: float
) -> None:
    """Draw cost and price of one copy against how many are made in one go."""
    write(figure, left, MARGIN_MM + 9.0, f"More copies in one go: one copy, {currency}")
    series = (
        (line_series(1, "price before tax"), [float(line.price_each) for line in breaks]),
        (line_series(0, "cost"), [float(line.cost_each) for line in breaks]),
    )
    add_legend(figure, [look for look, _ in series], left, MARGIN_MM + 11.5, right - left)
    copies = [line.quantity for line in breaks]
    most = max(max(values) for _, values in series)
    start = left + 4.0 + text_width_mm(f"{most:.0f}", TEXT_PT)
    top = MARGIN_MM + 12.0 + 2 * LINE_MM
    height = float(figure.get_size_inches()[1]) * 25.4 - top - 14.0
    ax = axes_at(figure, start, top, right - start - 2.0, height)
    ax.set_xscale("log")
    ax.set_xlim(copies[0], max(copies[-1], copies[0] + 1))
    ax.set_xticks(copies, [str(number) for number in copies])
    ax.set_xticks([], minor=True)
    ax.set_xlabel("copies")
    ax.set_ylim(0.0, most * 1.06)
    ax.grid(visible=True)
    for look, values in series:
        ax.plot(copies, values, marker="o", markersize=4, clip_on=False, **look.line)
