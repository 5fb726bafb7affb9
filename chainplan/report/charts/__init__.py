"""Charts from finished results, by matplotlib's own objects; each is a figure of its own."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import islice
from typing import TYPE_CHECKING

from chainplan.writing import file_names

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from matplotlib.figure import Figure

    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.store import ResultShelf


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart to be drawn: the name of its file, and of what."""

    name: str
    draw: Callable[[], Figure]
    shows: PiecePlan | None = None  # nothing but this piece; None: prices and dates too


def charts_of(plan: Plan) -> Iterator[Chart]:
    """List all charts of a plan."""
    from chainplan.report.charts.doubt import doubt_chart, moved_limits
    from chainplan.report.charts.estimates import calendar_chart, cost_chart, what_if_chart
    from chainplan.report.charts.heat import heat_chart, traces_chart
    from chainplan.report.charts.people import people_chart

    estimates = plan.estimates
    names = file_names([piece.piece.name for piece in plan.pieces])
    for piece, name in zip(plan.pieces, names, strict=True):
        loose = all(section.form == "loose" for section in piece.layout.sections)
        if piece.order.ring.size and piece.order.trace_time_s is not None and not loose:
            yield Chart(f"heat-{name}", partial(heat_chart, piece), piece)
        if piece.order.trace_time_s is not None and piece.order.trace_c:
            yield Chart(f"temperatures-{name}", partial(traces_chart, piece), piece)
        if moved_limits(piece.order.chance):
            yield Chart(f"doubt-{name}", partial(doubt_chart, piece), piece)
        if any(line.piece == piece.piece.name for line in estimates.drivers):
            yield Chart(f"what-if-{name}", partial(what_if_chart, estimates, piece.piece.name))
    if estimates.costs:
        yield Chart("cost", partial(cost_chart, estimates))
    if estimates.calendar:
        yield Chart("calendar", partial(calendar_chart, estimates))
    if any(line.start for line in estimates.calendar):
        yield Chart("people", partial(people_chart, plan))


def write_charts(
    plan: Plan, folder: Path, shelf: ResultShelf | None = None, *, share: tuple[int, int] = (0, 1)
) -> list[Path]:
    """Write charts of a plan as PNG and SVG into ``charts/``; return the files written.

    ``shelf``: where charts that show nothing but a piece are taken from, and kept. ``share``: with
    (k, n) every n-th of them, from the k-th, so that several can work side by side.
    """
    from chainplan.report.charts.figures import chart_style
    from chainplan.report.charts.kept import ChartShelf

    folder = folder / "charts"
    folder.mkdir(exist_ok=True)
    kept = None if shelf is None else ChartShelf(shelf)
    written: list[Path] = []
    with chart_style():
        for chart in islice(charts_of(plan), share[0], None, share[1]):
            if kept is None or chart.shows is None:
                written += write_figures([(chart.name, chart.draw())], folder)
            else:
                written += kept.write(chart.name, chart.shows, chart.draw, folder)
    return written


def write_figures(figures: Iterable[tuple[str, Figure]], folder: Path) -> list[Path]:
    """Write figures as PNG and SVG, with bytes that depend on their content only."""
    from chainplan.report.charts.figures import ENDINGS, chart_style, write_chart

    with chart_style():
        return [
            write_chart(figure, folder / f"{name}{ending}")
            for name, figure in figures
            for ending in ENDINGS
        ]
