"""Who works on what when: people as rows, working days side by side without nights."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

from chainplan.report.charts.estimates import BAR_SHARE, bar_figure, say_hidden, station_group
from chainplan.report.charts.figures import (
    INK,
    LINE_MM,
    MARGIN_MM,
    SMALL_PT,
    WIDTH_MM,
    bar_series,
    chart_style,
    settle,
)
from chainplan.report.paper.lettering import fold_text, printable, text_width_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from chainplan.model.estimate import CalendarLine

MOST_DAYS = 20
"""Days that are drawn: more would be too narrow to tell pieces apart."""
MOST_KEYS = 8
"""Lines of the key of pieces: sixty names or so."""
_GROUPS = ("making rings", "weaving", "welding", "finishing")


@chart_style()
def people_chart(
    calendar: Sequence[CalendarLine], everybody: Sequence[str], pieces: Sequence[str]
) -> Figure:
    """Draw each person's work, with the pieces' numbers in the bars; dates are needed."""
    lines = [line for line in calendar if line.start and line.end]
    days = sorted({line.start.date() for line in lines if line.start})
    shown, left = days[:MOST_DAYS], _hours_a_day(lines)
    places = {day: k * (left[1] - left[0]) for k, day in enumerate(shown)}
    people = [label for label in everybody if any(x.person == label for x in lines)]
    number = {name: k for k, name in enumerate(pieces, 1)}
    looks = {name: bar_series(k, name) for k, name in enumerate(_GROUPS)}
    key = fold_text(
        "; ".join(f"{k} {name}" for name, k in number.items()), SMALL_PT, WIDTH_MM - 4 * MARGIN_MM
    )[:MOST_KEYS]
    figure, ax = bar_figure(
        "Who works on what when", people, list(looks.values()), above=3.5,
        below=LINE_MM * (len(key) - 1),
    )  # fmt: skip
    wide_h = (left[1] - left[0]) * max(len(shown), 1)
    ax.set_xlim(0.0, wide_h)
    ax.set_xticks([])
    a_mm = wide_h / (float(ax.get_position().width) * WIDTH_MM)
    for name, look in looks.items():
        own = [x for x in lines if _group(x) == name and _day(x) in places]
        starts = [places[_day(x)] + _hour(x.start) - left[0] for x in own]
        lasts = [_hour(x.end, of=_day(x)) - _hour(x.start) for x in own]
        rows = [people.index(x.person) for x in own]
        ax.barh(rows, settle(lasts), BAR_SHARE, left=settle(starts), clip_on=False, **look.bar)
        _write_numbers(ax, [number[x.piece] for x in own], rows, starts, lasts, a_mm)
    _mark_days(ax, places, a_mm)
    left_mm = float(ax.get_position().x0) * WIDTH_MM
    ax.set_xlabel("\n".join(map(printable, key)), fontsize=SMALL_PT, loc="left")
    ax.xaxis.set_label_coords((MARGIN_MM - left_mm) * a_mm / wide_h, -0.12 / max(len(people), 1))
    say_hidden(figure, len(days) - len(shown), "more days")
    return figure


def _hours_a_day(lines: Sequence[CalendarLine]) -> tuple[float, float]:
    """Earliest and latest hour at which anybody works."""
    return (
        min((_hour(x.start) for x in lines), default=0.0),
        max((_hour(x.end, of=_day(x)) for x in lines), default=24.0),
    )


def _day(line: CalendarLine) -> datetime.date:
    if line.start is None:
        message = "a chart of people needs dates"
        raise ValueError(message)
    return line.start.date()


def _hour(moment: datetime.datetime | None, *, of: datetime.date | None = None) -> float:
    """Hour of the day, of a day before for what ends at midnight."""
    if moment is None:
        return 0.0
    midnight = datetime.datetime.combine(of or moment.date(), datetime.time())
    return (moment - midnight).total_seconds() / 3600


def _group(line: CalendarLine) -> str:
    return station_group(line.station)


def _write_numbers(
    ax: Axes,
    numbers: Sequence[int],
    rows: Sequence[int],
    starts: Sequence[float],
    lasts: Sequence[float],
    a_mm: float,
) -> None:
    """Write the piece's number on each bar that is wide enough, on white."""
    for number, row, start, last in zip(numbers, rows, starts, lasts, strict=True):
        if text_width_mm(f"{number}", SMALL_PT) + 1.2 <= last / a_mm:
            look: dict[str, Any] = {"pad": 0.6, "facecolor": "white", "edgecolor": "none"}
            ax.annotate(
                f"{number}", (float(settle(start + last / 2)), row), ha="center", va="center",
                fontsize=SMALL_PT, bbox=look,
            )  # fmt: skip


def _mark_days(ax: Axes, places: dict[datetime.date, float], a_mm: float) -> None:
    free = -1.0
    for day, at in places.items():
        ax.axvline(float(settle(at)), linewidth=0.8, color=INK, linestyle=(0, (3, 2)))
        name = f"{day:%a} {day.day} {day:%b}"
        room = (text_width_mm(name, SMALL_PT) + 1.6) * a_mm
        if at >= free and at + room <= ax.get_xlim()[1] + MARGIN_MM * a_mm:
            ax.annotate(
                name, (float(settle(at)), 1.0), xycoords=ax.get_xaxis_transform(), xytext=(2, 2),
                textcoords="offset points", fontsize=SMALL_PT,
            )  # fmt: skip
            free = at + room
