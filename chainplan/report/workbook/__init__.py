"""The workbook of a plan: what was planned, with cost and price in live formulas."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan


def write_workbook(plan: Plan, path: Path) -> None:
    """Write ``plan.xlsx``; the same plan gives the same cells."""
    import datetime

    from openpyxl import Workbook

    from chainplan.report.workbook.cost import add_cost
    from chainplan.report.workbook.inputs import add_inputs
    from chainplan.report.workbook.sheets import (
        add_buy_list,
        add_calendar,
        add_cautions,
        add_passes,
        add_pieces,
        add_rings,
        add_settings,
        add_sources,
        add_time,
        add_weld_order,
    )
    from chainplan.report.workbook.summary import add_summary
    from chainplan.report.workbook.workings import add_workings

    book = Workbook()
    book.remove(book.worksheets[0])
    for add in (add_pieces, add_passes, add_settings, add_buy_list, add_time):
        add(book, plan)
    inputs = add_inputs(book, plan)
    places = add_workings(book, plan)
    first_price = add_cost(book, plan, inputs, places)
    for add in (add_calendar, add_rings, add_weld_order, add_sources):
        add(book, plan)
    add_cautions(book, plan.estimates.cautions)
    add_summary(book, plan, first_price)
    book.move_sheet("cautions", offset=-len(book.worksheets) + 2)
    book.move_sheet("cost", offset=-3)
    book.active = 0
    book.properties.creator = "chainplan"
    # No clock in what we write: the same plan gives the same workbook.
    epoch = datetime.datetime(2000, 1, 1)
    book.properties.created = book.properties.modified = epoch
    book.save(path)
