"""Charts from finished results, by matplotlib's own objects; each is a figure of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.writing import file_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from matplotlib.figure import Figure

    from chainplan.model.plan import Plan


def charts_of(plan: Plan) -> Iterator[tuple[str, Figure]]:
    """Make all charts of a plan, each with the name of its file."""
    from chainplan.report.charts.doubt import doubt_chart, moved_limits
    from chainplan.report.charts.estimates import calendar_chart, cost_chart, what_if_chart
    from chainplan.report.charts.heat import heat_chart, traces_chart
    from chainplan.report.charts.people import people_chart

    estimates = plan.estimates
    names = file_names([piece.piece.name for piece in plan.pieces])
    for piece, name in zip(plan.pieces, names, strict=True):
        loose = all(section.form == "loose" for section in piece.layout.sections)
        if piece.order.ring.size and piece.order.trace_time_s is not None and not loose:
            yield f"heat-{name}", heat_chart(piece)
        if piece.order.trace_time_s is not None and piece.order.trace_c:
            yield f"temperatures-{name}", traces_chart(piece)
        if moved_limits(piece.order.chance):
            yield f"doubt-{name}", doubt_chart(piece)
        if any(line.piece == piece.piece.name for line in estimates.drivers):
            yield f"what-if-{name}", what_if_chart(estimates, piece.piece.name)
    if estimates.costs:
        yield "cost", cost_chart(estimates)
    if estimates.calendar:
        yield "calendar", calendar_chart(estimates)
    if any(line.start for line in estimates.calendar):
        yield "people", people_chart(plan)


def write_charts(plan: Plan, folder: Path) -> list[Path]:
    """Write all charts of a plan as PNG and SVG into ``charts/``; return the files written."""
    folder = folder / "charts"
    folder.mkdir(exist_ok=True)
    return write_figures(charts_of(plan), folder)


def write_figures(figures: Iterable[tuple[str, Figure]], folder: Path) -> list[Path]:
    """Write figures as PNG and SVG, with bytes that depend on their content only."""
    from chainplan.report.charts.figures import ENDINGS, write_chart

    return [
        write_chart(figure, folder / f"{name}{ending}")
        for name, figure in figures
        for ending in ENDINGS
    ]
