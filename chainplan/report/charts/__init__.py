"""Charts from finished results, by matplotlib's own objects; each is a figure of its own."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING

from chainplan.model.estimate import Estimates
from chainplan.report.charts.kept import Chart, ChartShelf
from chainplan.writing import file_names

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from chainplan.model.plan import Plan
    from chainplan.store import ResultShelf


MOST_BY_PIECE = 100
"""Pieces up to which each has charts of its own without being asked for. Judgement: nobody looks
through hundreds, and they take a quarter of the time in which a catalogue is planned."""


def charts_of(plan: Plan, *, by_piece: bool = True) -> Iterator[Chart]:
    """List all charts of a plan, with or without those of single pieces."""
    from chainplan.report.charts.doubt import doubt_chart, moved_limits
    from chainplan.report.charts.estimates import calendar_chart, cost_chart, what_if_chart
    from chainplan.report.charts.heat import heat_chart, traces_chart
    from chainplan.report.charts.people import people_chart

    estimates = plan.estimates
    names = file_names([piece.piece.name for piece in plan.pieces])
    for piece, name in zip(plan.pieces, names, strict=True) if by_piece else ():
        loose = all(section.form == "loose" for section in piece.layout.sections)
        alone = replace(piece, counts=(), heat=piece.heat.unsolved())
        if piece.order.ring.size and piece.order.trace_time_s is not None and not loose:
            yield Chart(f"heat-{name}", heat_chart, (alone,))
        if piece.order.trace_time_s is not None and piece.order.trace_c:
            yield Chart(f"temperatures-{name}", traces_chart, (alone,))
        if moved_limits(piece.order.chance):
            yield Chart(f"doubt-{name}", doubt_chart, (alone,))
        own = _what_if(estimates, piece.piece.name)
        if own.drivers:
            yield Chart(f"what-if-{name}", what_if_chart, (own, piece.piece.name))
    if estimates.costs:
        costs = Estimates(currency=estimates.currency, costs=estimates.costs)
        yield Chart("cost", cost_chart, (costs,))
    lines = estimates.calendar
    if lines:
        yield Chart("calendar", calendar_chart, (Estimates(calendar=lines, due=estimates.due),))
    if any(line.start for line in lines):
        told = tuple(piece.piece.name for piece in plan.pieces)
        yield Chart("people", people_chart, (lines, plan.schedule.people, told))


def _what_if(estimates: Estimates, piece: str) -> Estimates:
    """Take what the chart of one piece's drivers shows."""
    return Estimates(
        currency=estimates.currency,
        drivers=tuple(line for line in estimates.drivers if line.piece == piece),
        breaks=tuple(line for line in estimates.breaks if line.piece == piece),
    )


def write_charts(
    plan: Plan,
    folder: Path,
    shelf: ResultShelf | None = None,
    *,
    share: tuple[int, int] = (0, 1),
    png: bool = False,
    all_charts: bool = False,
) -> list[Path]:
    """Write charts of a plan as SVG into ``charts/``; return the files written.

    ``shelf``: where charts that were drawn from the same are taken from, and kept. ``share``: with
    (k, n) every n-th of them, from the k-th, so that several can work side by side. ``png``: write
    each as PNG too. ``all_charts``: those of single pieces too, however many there are.
    """
    from chainplan.report.charts.figures import ENDINGS, SVG, chart_style, write_figure

    folder = folder / "charts"
    folder.mkdir(exist_ok=True)
    kept = None if shelf is None else ChartShelf(shelf)
    endings = ENDINGS if png else (SVG,)
    written: list[Path] = []
    with ExitStack() as stack:
        style: list[None] = []  # entered for the first chart that has to be drawn
        by_piece = all_charts or len(plan.pieces) <= MOST_BY_PIECE
        for chart in islice(charts_of(plan, by_piece=by_piece), share[0], None, share[1]):
            paths = [folder / f"{chart.name}{ending}" for ending in endings]
            written += paths
            if kept is not None and kept.take(chart, paths):
                continue
            if not style:
                style.append(stack.enter_context(chart_style()))
            write_figure(chart.draw(*chart.shows), paths)
            if kept is not None:
                kept.keep(chart, paths)
    return written
