"""Charts of the estimates: cost by item, calendar, what drives the cost, cost by quantity.

As all charts: each ``…_chart`` function makes a sheet and solves nothing; each ``plot_…`` shows it
on the axes that it is given, or on new ones.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.report.charts.frame import (
    MARGIN_MM,
    SMALL_PT,
    TEXT_PT,
    TONES,
    WIDTH_MM,
    Frame,
    Key,
    draw_bars,
    draw_legend,
    key_of,
    legend_height,
    line_key,
    name_room,
    new_chart,
    quiet,
    write_name,
)
from chainplan.report.paper.glyphs import text_width_mm
from chainplan.report.paper.sheet import INK

if TYPE_CHECKING:
    from chainplan.model.estimate import CostDriver, Estimates, QuantityBreak
    from chainplan.report.paper.sheet import Sheet

MOST_PIECES = 60
BAR_MM = 5.2
STEP_MM = 8.0
_STATION_GROUPS = {
    "coil": "making rings", "cut": "making rings", "tumble": "making rings",
    "pre-close": "welding", "weave": "weaving",
    "set up": "welding", "weld": "welding", "rework": "welding",
    "clean": "finishing", "inspect": "finishing", "finish": "finishing",
}  # fmt: skip
_SUPPLY_GROUPS = {
    "argon": "gas, tips, blades, power", "electrode tip": "gas, tips, blades, power",
    "electricity": "gas, tips, blades, power", "saw blade": "gas, tips, blades, power",
    "overhead": "overhead",
}  # fmt: skip
GROUPS = (
    "metal, less scrap back", "making rings", "weaving", "welding", "finishing",
    "gas, tips, blades, power", "overhead", "clasps, packing and other",
)  # fmt: skip


def cost_group(item: str) -> str:
    """Return the group of a cost line on the chart.

    Examples
    --------
    >>> cost_group("labour: weld"), cost_group("scrap back: Sterling silver 925")
    ('welding', 'metal, less scrap back')
    """
    kind, colon, name = item.partition(": ")
    if kind == "labour":
        return _STATION_GROUPS.get(name, GROUPS[-1])
    if colon:
        return GROUPS[0]
    return _SUPPLY_GROUPS.get(item, GROUPS[-1])


def cost_chart(estimates: Estimates) -> Sheet:
    """Draw what each piece costs, all copies, in groups of items."""
    pieces = list(dict.fromkeys(line.piece for line in estimates.costs))
    amounts = np.zeros((len(GROUPS), len(pieces)))
    for line in estimates.costs:
        place = GROUPS.index(cost_group(line.item)), pieces.index(line.piece)
        amounts[place] += float(line.amount)
    hidden = max(len(pieces) - MOST_PIECES, 0)
    pieces, amounts = pieces[:MOST_PIECES], np.maximum(amounts[:, :MOST_PIECES], 0.0)
    used = [number for number in range(len(GROUPS)) if amounts[number].any()]
    keys = {number: key_of(number, GROUPS[number]) for number in used}
    sheet, frame = _bar_frame(
        "What the pieces cost, all copies", pieces, list(keys.values()),
        (0.0, float(amounts.sum(0).max(initial=0.0)) * 1.1 or 1.0),
    )  # fmt: skip
    frame.x_axis(estimates.currency)
    tops = _row_tops(sheet, frame, pieces)
    before = np.zeros(len(pieces))
    for number in used:
        left, right = frame.x_mm(before), frame.x_mm(before + amounts[number])
        boxes = np.column_stack([left, tops, right - left, np.full(len(pieces), BAR_MM)])
        draw_bars(sheet, boxes, keys[number])
        before = before + amounts[number]
    for top, total in zip(tops, before, strict=True):
        x = float(frame.x_mm(total)) + 1.5
        sheet.write(
            x, top + BAR_MM / 2 + 1.0, f"{total:,.2f}".replace(",", " "), TEXT_PT, bold=True
        )
    _say_hidden(sheet, hidden)
    return sheet


def _bar_frame(
    title: str, names: list[str], keys: list[Key], x: tuple[float, float], *, above: float = 0.0
) -> tuple[Sheet, Frame]:
    """Begin a chart of lying bars, one row a name, with its legend on top."""
    width = WIDTH_MM - 2 * MARGIN_MM
    legend = legend_height(keys, width)
    left = MARGIN_MM + name_room(names)
    top = MARGIN_MM + 9.0 + legend + above
    height = STEP_MM * max(len(names), 1)
    sheet = new_chart(title, top + height + 15.0)
    draw_legend(sheet, keys, MARGIN_MM, MARGIN_MM + 7.0, width)
    return sheet, Frame(sheet, left, top, WIDTH_MM - MARGIN_MM - left, height, x)


def _row_tops(sheet: Sheet, frame: Frame, names: list[str]) -> Any:
    """Write the names of the rows; return the upper edges of their bars."""
    tops = frame.top + STEP_MM * np.arange(len(names)) + (STEP_MM - BAR_MM) / 2
    for name, top in zip(names, tops, strict=True):
        write_name(sheet, frame.left, float(top) + BAR_MM / 2, name)
    return tops


def _say_hidden(sheet: Sheet, hidden: int) -> None:
    if hidden:
        quiet(sheet, MARGIN_MM, sheet.height_mm - 3.0, f"{hidden} more pieces are in the workbook")


def calendar_chart(estimates: Estimates) -> Sheet:
    """Draw which piece is at which station when, in working hours, with the days marked."""
    lines = estimates.calendar
    pieces = list(dict.fromkeys(line.piece for line in lines))
    hidden = max(len(pieces) - MOST_PIECES, 0)
    pieces = pieces[:MOST_PIECES]
    stations = sorted({line.station for line in lines}, key=_station_place)
    keys = {station: key_of(number, station) for number, station in enumerate(stations)}
    late = {line.piece: line.late_days for line in estimates.due if line.late_days > 0}
    names = [f"{_late(late[p])} {p}" if p in late else p for p in pieces]
    end = max((line.end_h for line in lines), default=1.0) or 1.0
    sheet, frame = _bar_frame(
        "Which piece is at which station when", names, list(keys.values()), (0.0, end), above=3.5
    )
    frame.x_axis("working hours from the start")
    _mark_days(sheet, frame, estimates)
    tops = dict(zip(pieces, _row_tops(sheet, frame, names).tolist(), strict=True))
    for station in stations:
        boxes = [
            (
                float(frame.x_mm(line.start_h)),
                tops[line.piece],
                float(frame.x_mm(line.end_h) - frame.x_mm(line.start_h)),
                BAR_MM,
            )
            for line in lines
            if line.station == station and line.piece in tops
        ]
        draw_bars(sheet, np.array(boxes), keys[station])
    _say_hidden(sheet, hidden)
    return sheet


def _station_place(station: str) -> tuple[int, str]:
    """Sort stations as work goes on, others last."""
    known = tuple(_STATION_GROUPS)
    return (known.index(station) if station in known else len(known), station)


def _late(days: int) -> str:
    return f"LATE {days} {'day' if days == 1 else 'days'}:"


def _mark_days(sheet: Sheet, frame: Frame, estimates: Estimates) -> None:
    """Mark where each working day begins, if the job has dates."""
    first: dict[Any, float] = {}
    for line in estimates.calendar:
        if line.start is not None:
            day = line.start.date()
            first[day] = min(first.get(day, line.start_h), line.start_h)
    end = -1e9
    for day, hour in sorted(first.items()):
        x = float(frame.x_mm(hour))
        sheet.line([(x, frame.top - 3.5), (x, frame.top + frame.height)], width_mm=0.3,
                   dash_mm=(1.2, 0.8))  # fmt: skip
        name = f"{day:%a} {day.day} {day:%b}"
        if x + 1.0 > end and x + text_width_mm(name, SMALL_PT) < WIDTH_MM:
            sheet.write(x + 0.8, frame.top - 1.2, name, SMALL_PT)
            end = x + 0.8 + text_width_mm(name, SMALL_PT)


def what_if_chart(estimates: Estimates, piece: str) -> Sheet:
    """Draw what drives the cost of a piece and, beside it, what more copies cost."""
    drivers, breaks = _of_piece(estimates, piece)
    height = 34.0 + max(9.0 * len(drivers), 48.0 if breaks else 0.0)
    sheet = new_chart(f"{piece}: what if", height)
    half = 0.6 * WIDTH_MM if breaks else WIDTH_MM
    _draw_drivers(sheet, estimates.currency, drivers, MARGIN_MM, half - MARGIN_MM)
    if breaks:
        _draw_breaks(sheet, estimates.currency, breaks, half + 4.0, WIDTH_MM - MARGIN_MM)
    return sheet


def drivers_chart(estimates: Estimates, piece: str) -> Sheet:
    """Draw how far each input moves the cost of one copy of a piece: a tornado chart."""
    drivers = _of_piece(estimates, piece)[0]
    sheet = new_chart(f"{piece}: what drives the cost", 34.0 + 9.0 * len(drivers))
    _draw_drivers(sheet, estimates.currency, drivers, MARGIN_MM, WIDTH_MM - MARGIN_MM)
    return sheet


def breaks_chart(estimates: Estimates, piece: str) -> Sheet:
    """Draw cost and price of one copy against how many are made in one go."""
    breaks = _of_piece(estimates, piece)[1]
    sheet = new_chart(f"{piece}: more copies in one go", 86.0, width_mm=0.6 * WIDTH_MM)
    _draw_breaks(sheet, estimates.currency, breaks, MARGIN_MM, 0.6 * WIDTH_MM - MARGIN_MM)
    return sheet


def _of_piece(estimates: Estimates, piece: str) -> tuple[list[CostDriver], list[QuantityBreak]]:
    return (
        [line for line in estimates.drivers if line.piece == piece],
        [line for line in estimates.breaks if line.piece == piece],
    )


def _draw_drivers(
    sheet: Sheet, currency: str, drivers: list[CostDriver], left: float, right: float
) -> None:
    if not drivers:
        return
    usual = float(drivers[0].cost_usual_each)
    pairs = [(float(line.cost_low_each), float(line.cost_high_each)) for line in drivers]
    low, high = min(min(p) for p in pairs), max(max(p) for p in pairs)
    labels = [(f"{d.low_input}: {a:.2f}", f"{d.high_input}: {b:.2f}")
              for d, (a, b) in zip(drivers, pairs, strict=True)]  # fmt: skip
    before, behind = (
        max(text_width_mm(pair[side], SMALL_PT) for pair in labels) + 2.0 for side in (0, 1)
    )
    start = left + name_room(line.driver for line in drivers)
    width = max(right - start - before - behind, 20.0)
    top, height = MARGIN_MM + 12.0, 9.0 * len(drivers)
    frame = Frame(sheet, start + before, top, width, height, (low, high) if high > low else
                  (low - 1, low + 1))  # fmt: skip
    sheet.write(left, top - 3.0, "One input changed, all else as planned: cost of one copy, "
                f"{currency}", TEXT_PT)  # fmt: skip
    ends = (Key("one way", TONES[1]), Key("other way", TONES[0], "/"))
    middle = float(frame.x_mm(usual))
    for row, (line, values) in enumerate(zip(drivers, pairs, strict=True)):
        y = top + 9.0 * row + 1.5
        write_name(sheet, start, y + 3.0, line.driver)
        for side, (value, key) in enumerate(zip(values, ends, strict=True)):
            x = float(frame.x_mm(value))
            draw_bars(sheet, np.array([(min(x, middle), y, abs(x - middle), 6.0)]), key)
            place = min(x, middle) - 1.0 if side == 0 else max(x, middle) + 1.0
            anchor = "end" if side == 0 else "start"
            sheet.write(place, y + 4.0, labels[row][side], SMALL_PT, anchor=anchor)
    sheet.line([(middle, top), (middle, top + height)], width_mm=0.4, colour=INK)
    sheet.write(middle, top + height + 4.5, f"as planned: {usual:.2f}", TEXT_PT, bold=True,
                anchor="middle")  # fmt: skip


def _draw_breaks(
    sheet: Sheet, currency: str, breaks: list[QuantityBreak], left: float, right: float
) -> None:
    top = MARGIN_MM + 22.0
    sheet.write(left, MARGIN_MM + 9.0, f"More copies in one go: one copy, {currency}", TEXT_PT)
    series = (
        (line_key(1, "price before tax"), [float(line.price_each) for line in breaks]),
        (line_key(0, "cost"), [float(line.cost_each) for line in breaks]),
    )
    draw_legend(sheet, [key for key, _ in series], left, MARGIN_MM + 11.5, right - left)
    if not breaks:
        return
    copies = np.array([line.quantity for line in breaks], dtype=float)
    most = max(max(values) for _, values in series)
    ends = (copies[0], max(copies[-1], copies[0] + 1))
    start = left + 8.0 + text_width_mm(f"{most:.0f}", TEXT_PT)
    height = sheet.height_mm - top - 14.0
    frame = Frame(sheet, start, top, right - start - 4.0, height, ends, (0.0, most * 1.06),
                  log_x=True)  # fmt: skip
    frame.x_axis("copies", copies.tolist(), [f"{number:.0f}" for number in copies])
    frame.y_axis("")
    for key, values in series:
        points = frame.points(copies, np.array(values))
        sheet.line(points, width_mm=0.45, colour=key.ink, dash_mm=key.dash_mm)
        sheet.discs(points, 0.8, fill=key.ink)


def plot_cost(estimates: Estimates, ax: Any = None) -> Any:
    """Show :func:`cost_chart` on axes."""
    return _show(cost_chart(estimates), ax)


def plot_calendar(estimates: Estimates, ax: Any = None) -> Any:
    """Show :func:`calendar_chart` on axes."""
    return _show(calendar_chart(estimates), ax)


def plot_drivers(estimates: Estimates, piece: str, ax: Any = None) -> Any:
    """Show :func:`drivers_chart` on axes."""
    return _show(drivers_chart(estimates, piece), ax)


def plot_breaks(estimates: Estimates, piece: str, ax: Any = None) -> Any:
    """Show :func:`breaks_chart` on axes."""
    return _show(breaks_chart(estimates, piece), ax)


def _show(sheet: Sheet, ax: Any) -> Any:
    from chainplan.report.paper.axes import show_sheet

    return show_sheet(sheet, ax=ax)
