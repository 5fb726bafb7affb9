"""The sheet of a plan made again: time and cost as spent and to come, beside the first quote."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.workbook.cells.style import Formula
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import ITEM, KEYWORD

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cells.page import PlanBook

NAME = "spent and to come"
_HEADINGS = [
    Heading("what", "what", words=ITEM),
    Heading("unit", "in", words=KEYWORD),
    Heading("first", "first plan", "0.01"),
    Heading("spent", "spent", "0.01"),
    Heading("to_come", "to come", "0.01"),
    Heading("together", "together", "0.01"),
    Heading("more", "more than first planned", "0.01"),
]


def add_spent(book: PlanBook, plan: Plan) -> None:
    """Add what a begun job has taken and will take; nothing for a plan of a whole job."""
    if plan.replan is None:
        return
    told = plan.replan
    page = book.page(
        NAME,
        "Spent and to come",
        "Minutes as told, else as planned where a copy has passed the station; what is left at the "
        "pace so far. Metal and fittings count as spent once a piece is begun, all other costs by "
        "the share of its joins that is welded.",
    )
    rows = [dict(row) for row in told["costs"]]
    table = page.lay(_HEADINGS, range(len(rows)))
    for number, row in enumerate(rows):
        at = table.here(number)
        first, spent, come = (float(row[name]) for name in ("first", "spent", "to_come"))
        row["together"] = Formula(f"={at['spent']}+{at['to_come']}", round(spent + come, 2))
        row["more"] = Formula(f"={at['together']}-{at['first']}", round(spent + come - first, 2))
    page.fill(table, rows)
    if told["ready"]:
        first_day = told["first"]["ready"]
        beside = f"; first plan {first_day}" if first_day else ""
        page.say(f"All ready on {told['ready']}{beside}.")
    page.head("What changed since the last plan")
    for text in plan.news:
        page.say(f"•  {text}")
    page.close()
