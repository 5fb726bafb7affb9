"""The workbook of a plan: what was planned, with cost and price in live formulas."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from chainplan.model.piece.layout import Layout
    from chainplan.model.plan import Plan

ORDER = (
    "summary", "workshop", "notes", "cautions", "pieces", "passes", "settings to try", "buy list",
    "time", "dates", "calendar", "price", "cost", "inputs", "more copies", "cost drivers",
    "by torch", "what it takes", "wire workings", "piece workings", "spare rings", "rings",
    "weld order", "sources",
)  # fmt: skip
"""The sheets: first what is talked about, then what is worked with, then what it rests on."""

ASKED = ("rings", "weld order")
"""Sheets for whoever asks: long lists that nobody reads on paper, and that stand in CSV as well."""


def draw_pieces(layouts: Sequence[Layout]) -> list[bytes | None]:
    """Draw the pictures of the summary, a PNG each; None for what has no rings to be seen."""
    from chainplan.report.workbook.cells.picture import draw_pieces as draw

    return draw(layouts)


def write_workbook(
    plan: Plan,
    path: Path,
    *,
    paper: str = "A4",
    all_sheets: bool = False,
    pictures: Sequence[bytes | None] | None = None,
) -> None:
    """Write ``plan.xlsx``; the same plan gives the same bytes.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    path : Path
        Where to write.
    paper : str
        "A4" or "Letter", for printing.
    all_sheets : bool
        Add the rings and the weld order, join by join.
    pictures : sequence of bytes or None, optional
        Pictures of the pieces as :func:`draw_pieces` draws them, if they are drawn already.
    """
    import datetime

    from openpyxl import Workbook

    from chainplan.report.workbook.calendar import add_calendar, add_dates, add_time
    from chainplan.report.workbook.cells.archive import save_workbook
    from chainplan.report.workbook.cells.page import PlanBook
    from chainplan.report.workbook.cells.style import Looks
    from chainplan.report.workbook.inputs import add_inputs
    from chainplan.report.workbook.money.cost import add_cost
    from chainplan.report.workbook.money.price import add_price
    from chainplan.report.workbook.money.what_if import add_breaks, add_drivers, add_torch
    from chainplan.report.workbook.money.workings import add_workings
    from chainplan.report.workbook.sheets import (
        add_buy_list,
        add_passes,
        add_pieces,
        add_rings,
        add_settings,
        add_weld_order,
    )
    from chainplan.report.workbook.sources import add_figures, add_sources
    from chainplan.report.workbook.spent import NAME, add_spent
    from chainplan.report.workbook.summary import (
        add_cautions,
        add_notes,
        add_summary,
        add_workshop,
    )

    book = Workbook()
    book.remove(book.worksheets[0])
    looks = Looks(book, plan.estimates.currency, plan.job.bench.money.decimals)
    pages = PlanBook(book, looks, paper)
    inputs = add_inputs(pages, plan)
    workings = add_workings(pages, plan)
    costs = add_cost(pages, plan, inputs, workings)
    prices = add_price(pages, plan, costs)
    if pictures is None:
        pictures = draw_pieces([piece.layout for piece in plan.pieces])
    add_summary(pages, plan, inputs, prices, pictures)
    for add in (
        add_workshop,
        add_notes,
        add_cautions,
        add_pieces,
        add_passes,
        add_settings,
        add_buy_list,
        add_time,
        add_dates,
        add_calendar,
        add_breaks,
        add_drivers,
        add_torch,
        add_figures,
        *((add_rings, add_weld_order) if all_sheets else ()),
        add_sources,
        add_spent,
    ):
        add(pages, plan)
    looks.finish()
    order = [name for name in ORDER if all_sheets or name not in ASKED]
    if NAME in book.sheetnames:  # of a plan made again, which is asked for it first
        order.insert(1, NAME)
    for place, name in enumerate(order):
        book.move_sheet(name, place - book.sheetnames.index(name))
    book.active = 0
    for sheet in book.worksheets:
        sheet.sheet_view.tabSelected = sheet is book.worksheets[0]
    book.properties.creator = "chainplan"
    epoch = datetime.datetime(2000, 1, 1)
    book.properties.created = book.properties.modified = epoch
    save_workbook(book, path, long_rows=pages.long_rows, values=pages.values)
