"""Everything people hold, made from a finished plan: paper, screen, workbook, tables, records."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.model.plan import Plan

    OnStep = Callable[[str, int, int], None]

FILES = (
    "bench-sheet.html", "joins.pdf", "links.csv", "plan.json", "plan.xlsx", "quote.pdf",
    "record-by-hand.xlsx",
    "rings.csv", "weld-order.csv", "weld-order.pdf", "charts/", "weld-order/",
)  # fmt: skip
"""What stands at the top of an output folder; folders end in a slash."""


def write_files(
    plan: Plan,
    folder: Path,
    *,
    paper: str = "A4",
    tiles: bool = False,
    images: str | None = None,
    all_sheets: bool = False,
    on_step: OnStep,
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
    images : str, optional
        "png" or "svg" for an image of every page of the weld order.
    all_sheets : bool
        Put rings and weld order into the workbook too.
    on_step : callable
        Called with "files", how many are done and how many there are.
    """
    from chainplan.report.bench_sheet import write_bench_sheet
    from chainplan.report.charts import write_charts
    from chainplan.report.diagram.join_pictures import write_join_pictures
    from chainplan.report.diagram.weld_order import write_diagrams
    from chainplan.report.quote import write_quotes
    from chainplan.report.text.evidence import collect
    from chainplan.report.text.record import plan_record, to_json
    from chainplan.report.text.tables import write_tables
    from chainplan.report.workbook import write_workbook
    from chainplan.report.workbook.by_hand import write_by_hand

    evidence = [collect(piece) for piece in plan.pieces]
    writers: list[Callable[[], object]] = [
        lambda: write_tables(plan, folder, evidence),
        lambda: (folder / "plan.json").write_text(
            to_json(plan_record(plan, evidence)), encoding="utf-8"
        ),
        lambda: write_workbook(plan, folder / "plan.xlsx", paper=paper, all_sheets=all_sheets),
        lambda: write_quotes(plan, folder / "quote.pdf", paper=paper, logo=_logo(plan)),
        lambda: write_by_hand(plan, folder / "record-by-hand.xlsx"),
        lambda: write_bench_sheet(plan, folder / "bench-sheet.html"),
        lambda: write_join_pictures(plan, folder, paper=paper),
        lambda: write_charts(plan, folder),
        lambda: write_diagrams(plan, folder, paper=paper, tiles=tiles, images=images),
    ]
    for number, write in enumerate(writers):
        on_step("files", number, len(writers))
        write()
    on_step("files", len(writers), len(writers))


def _logo(plan: Plan) -> bytes:
    """Read the picture for the head of quotes; the reader has looked at it."""
    name = plan.job.bench.quote.logo
    if not name:
        return b""
    path = Path(plan.job.file).parent / name
    try:
        return path.read_bytes()
    except OSError as error:
        message = f"{path}: the picture for quotes cannot be read ({error.strerror})"
        raise InputError(message) from None
