"""Everything people hold, made from a finished plan: paper, screen, workbook, tables, records."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.frozen import frozen
from chainplan.report.work import keep_pages, keep_pictures, pages_key, work_of
from chainplan.store.packing import digest
from chainplan.threads import one_thread
from chainplan.workers import ALONE, Workers, side_by_side

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.model.plan import Plan
    from chainplan.store import ResultShelf

    OnStep = Callable[[str, int, int], None]

FILES = (
    "bench-sheet.html", "calendar.ics", "joins.pdf", "links.csv", "plan.json", "plan.xlsx",
    "quote.pdf", "record-by-hand.xlsx", "rings.csv", "weaving.pdf", "week.pdf",
    "weld-order.csv", "weld-order.pdf", "charts/", "weld-order/",
)  # fmt: skip
"""What stands at the top of an output folder; folders end in a slash."""


@frozen
class _Paper:
    """What is to be written, and how; whoever writes a part of it gets all of this."""

    plan: Plan
    work: Plan  # what is woven and welded of it
    work_digest: str  # of all of that; "" if nothing is kept
    folder: Path
    paper: str
    tiles: bool
    images: str | None
    all_sheets: bool
    all_charts: bool
    shelf: ResultShelf | None


def write_files(
    plan: Plan,
    folder: Path,
    *,
    paper: str = "A4",
    tiles: bool = False,
    images: str | None = None,
    all_sheets: bool = False,
    all_charts: bool = False,
    workers: Workers = ALONE,
    shelf: ResultShelf | None = None,
    on_step: OnStep,
) -> bool:
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
        "png" or "svg" for an image of every page of the weld order; with "png" charts too.
    all_sheets : bool
        Put rings and weld order into the workbook too.
    all_charts : bool
        Draw the charts of single pieces in jobs of many pieces too.
    workers : Workers
        How many files are written side by side, in processes of this machine.
    shelf : ResultShelf, optional
        Where charts that were drawn before are taken from, and new ones are kept.
    on_step : callable
        Called with "files", how many are done and how many there are.

    Returns
    -------
    bool
        Whether the same work was drawn before, so that its pages were on the shelf: what is left
        then takes less than to start a second process, and is done in this one.
    """
    work = work_of(plan)
    plan = replace(plan, stamp=replace(plan.stamp, work_sha256=work.stamp.work_sha256))
    drawn_from = "" if shelf is None else digest(work)
    options = _Paper(
        plan=plan,
        work=work,
        work_digest=drawn_from,
        folder=folder,
        paper=paper,
        tiles=tiles,
        images=images,
        all_sheets=all_sheets,
        all_charts=all_charts,
        shelf=shelf,
    )
    known = shelf is not None and shelf.holds(pages_key(_what("weld order", options), drawn_from))
    on_step("files", 0, len(_WRITERS))
    side_by_side(
        partial(_write, options),
        [*_WRITERS],
        Workers(count=1 if known else workers.count),
        own_from_end=True,
        on_done=lambda done, total: on_step("files", done, total),
    )
    if shelf is not None:
        shelf.tidy()
    return known


@one_thread
def _write(options: _Paper, name: str) -> None:
    _WRITERS[name](options)


def _write_charts(share: int, options: _Paper) -> None:
    from chainplan.report.charts import write_charts

    png = options.images == "png"
    write_charts(
        options.plan,
        options.folder,
        options.shelf,
        share=(share, SHARES),
        png=png,
        all_charts=options.all_charts,
    )


def _write_diagrams(options: _Paper) -> None:
    from chainplan.report.diagram.weld_order import write_diagrams

    if options.images is None:
        _keep(options, "weld order", partial(write_diagrams, tiles=options.tiles))
    else:
        write_diagrams(
            options.work,
            options.folder,
            paper=options.paper,
            tiles=options.tiles,
            images=options.images,
        )


def _what(pages: str, options: _Paper) -> str:
    """Name pages by all that they are drawn by beside the work."""
    return f"{pages}, {options.paper}, {'tiles' if options.tiles else 'no tiles'}"


def _keep(options: _Paper, what: str, write: Callable[..., list[Path]]) -> None:
    """Write pages of the bench, or take them from the shelf."""
    keep_pages(
        partial(write, options.work, options.folder, paper=options.paper),
        _what(what, options),
        options.work_digest,
        options.folder,
        options.shelf,
    )


def _write_workbook(options: _Paper) -> None:
    from chainplan.report.workbook import draw_pieces, write_workbook

    target = options.folder / "plan.xlsx"
    draw = partial(draw_pieces, [piece.layout for piece in options.work.pieces])
    pictures = keep_pictures(draw, options.work_digest, options.shelf)
    write_workbook(
        options.plan, target, paper=options.paper, all_sheets=options.all_sheets, pictures=pictures
    )


def _write_joins(options: _Paper) -> None:
    from chainplan.report.diagram.join_pictures import write_join_pictures

    _keep(options, "joins", write_join_pictures)


def _write_tables(options: _Paper) -> None:
    from chainplan.report.text.evidence import collect
    from chainplan.report.text.record import plan_record, write_json
    from chainplan.report.text.tables import write_tables

    evidence = [collect(piece) for piece in options.plan.pieces]
    write_tables(options.plan, options.folder, evidence)
    write_json(options.folder / "plan.json", plan_record(options.plan, evidence))


def _write_bench_sheet(options: _Paper) -> None:
    from chainplan.report.bench_sheet import write_bench_sheet

    write_bench_sheet(options.plan, options.folder / "bench-sheet.html")


def _write_by_hand(options: _Paper) -> None:
    from chainplan.report.workbook.by_hand import write_by_hand

    write_by_hand(options.plan, options.folder / "record-by-hand.xlsx")


def _write_quotes(options: _Paper) -> None:
    from chainplan.report.quote import Drawn, write_quotes

    target = options.folder / "quote.pdf"
    drawn = Drawn(work=options.work, shelf=options.shelf, drawn_from=options.work_digest)
    write_quotes(options.plan, target, paper=options.paper, logo=_logo(options.plan), drawn=drawn)


def _write_week(options: _Paper) -> None:
    from chainplan.report.week.ics import write_ics
    from chainplan.report.week.pages import write_week

    write_ics(options.plan, options.folder)
    write_week(options.plan, options.folder, paper=options.paper)


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


def _write_weaving(options: _Paper) -> None:
    from chainplan.report.diagram.weaving_pages import write_weaving

    _keep(options, "weaving", write_weaving)


SHARES = 4
"""Parts that the charts are dealt out in: so many as take no longer each than the longest of the
other files. Judgement."""
_WRITERS: dict[str, Callable[[_Paper], None]] = {
    **{f"charts {share + 1}": partial(_write_charts, share) for share in range(SHARES)},
    "week": _write_week,
    "bench sheet": _write_bench_sheet,
    "record by hand": _write_by_hand,
    "tables": _write_tables,
    "weaving": _write_weaving,
    "joins": _write_joins,
    "workbook": _write_workbook,
    "weld order": _write_diagrams,
    "quotes": _write_quotes,
}
"""Who writes what. Workers begin with the charts, whose library takes long to load, and the
caller's own process at the other end; what takes least lies between, where they meet."""
