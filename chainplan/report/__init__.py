"""Everything people hold, made from a finished plan: paper, screen, workbook, tables, records."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from chainplan.model.plan import Plan

    OnStep = Callable[[str, int, int], None]


def write_files(
    plan: Plan, folder: Path, *, paper: str = "A4", tiles: bool = False, on_step: OnStep
) -> None:
    """Write every file of a plan into a folder that is ours alone.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    folder : Path
        An empty folder; putting it in its place whole is the caller's work.
    paper : str
        "A4" or "Letter", for the diagrams.
    tiles : bool
        Draw every tile of very large pieces too.
    on_step : callable
        Called with "files", how many are done and how many there are.
    """
    from chainplan.report.bench_sheet import write_bench_sheet
    from chainplan.report.charts.heat import write_charts
    from chainplan.report.diagram.join_pictures import write_join_pictures
    from chainplan.report.diagram.weld_order import write_diagrams
    from chainplan.report.second_core import beside
    from chainplan.report.text.evidence import collect
    from chainplan.report.text.record import plan_record, to_json
    from chainplan.report.text.tables import write_tables
    from chainplan.report.workbook import write_workbook

    evidence = [collect(piece) for piece in plan.pieces]
    writers: list[Callable[[], object]] = [
        lambda: write_tables(plan, folder, evidence),
        lambda: (folder / "plan.json").write_text(
            to_json(plan_record(plan, evidence)), encoding="utf-8"
        ),
        lambda: write_workbook(plan, folder / "plan.xlsx", paper=paper),
        lambda: write_bench_sheet(plan, folder / "bench-sheet.html"),
        lambda: write_join_pictures(plan, folder),
        lambda: write_charts(plan, folder),
    ]
    with beside(lambda: write_diagrams(plan, folder, paper=paper, tiles=tiles)):
        for number, write in enumerate(writers):
            on_step("files", number, len(writers) + 1)
            write()
        on_step("files", len(writers), len(writers) + 1)
