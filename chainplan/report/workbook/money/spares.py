"""How many spare rings each group of rings needs, in live formulas."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.text.names import spoken_metal
from chainplan.report.workbook.cells.style import Formula
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import LABEL

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cells.page import Page, PlanBook
    from chainplan.report.workbook.cells.table import PlacedTable

LEAST_SPARES = 400
"""Spare rings that the sheet can follow for one group of rings, at least: enough for some thousands
of rings, and a table of so many chances is still calculated at once."""

TIMES_PLANNED, AND_MORE = 4, 50
"""It follows four times the spares that were planned and fifty more, so that yields can be made a
good deal worse: chances for more spares are not tried, and the least number would be missed."""

_BAD = "(1-(1-ring_scrap)*(1-(1-join_yield)*replaced_share))"

HEADINGS = [
    Heading("number", "group", "int"),
    Heading("piece", "piece"),
    Heading("metal", "metal", words=LABEL),
    Heading("wire_mm", "wire, mm", "0.01"),
    Heading("inner_mm", "inside, mm", "0.01"),
    Heading("rings", "rings", "int"),
    Heading("bad", "share lost", "%"),
    Heading("wanted", "wanted chance", "0.01 %"),
    Heading("spares", "spare rings", "int"),
    Heading("chance", "chance with them", "chance"),
    Heading("fewer", "with one fewer", "0.01 %"),
]


def lay_spares(book: PlanBook, plan: Plan) -> tuple[Page, PlacedTable]:
    """Keep the place of the table; its rows are named by the number of the group, from 0."""
    page = book.page(
        "spare rings",
        "Spare rings",
        "The fewest spares that are enough with the wanted chance, all groups together; they "
        "follow the yields on 'inputs'.",
    )
    return page, page.lay(HEADINGS, range(len(plan.estimates.wire)))


def fill_spares(page: Page, table: PlacedTable, plan: Plan, groups: PlacedTable) -> None:
    """Write how many spare rings each group needs: the fewest that are enough with wanted chance.

    With ``s`` spares the good ones are enough if at most ``s`` of ``rings + s`` are bad, a binomial
    chance that grows with ``s``; so the fewest is the count of all ``s`` whose chance is too small.
    """
    needs = plan.estimates.wire
    planned = max((need.spare_rings for need in needs), default=0)
    most = max(LEAST_SPARES, TIMES_PLANNED * planned + AND_MORE)
    wanted = 1 - plan.estimates.short_risk_each
    rows = []
    for number, need in enumerate(needs):
        at = table.here(number)

        def chance(spares: str, at: dict[str, str] = at) -> str:
            return f"BINOMDIST({spares},{at['rings']}+{spares},{at['bad']},TRUE)"

        too_few = f"SUMPRODUCT(--({chance(f'(ROW($1:${most})-1)')}<{at['wanted']}))"
        none = f"OR({at['rings']}=0,{at['bad']}=0)"
        rows.append(
            {
                "number": number + 1,
                "piece": need.piece,
                "metal": spoken_metal(need.metal, plan.job.metals),
                "wire_mm": need.wire_mm,
                "inner_mm": need.inner_mm,
                "rings": Formula(f"={groups.cell(number, 'rings')}", need.rings),
                "bad": Formula(f"={_BAD}", plan.estimates.lost_share),
                "wanted": wanted,
                "spares": Formula(f"=IF({none},0,{too_few})", need.spare_rings),
                "chance": Formula(
                    f"=IF({at['rings']}=0,1,{chance(at['spares'])})", 1 - need.shown_risk
                ),
                "fewer": Formula(
                    f"=IF({at['spares']}=0,0,{chance('(' + at['spares'] + '-1)')})",
                    1 - need.fewer_risk,
                ),
            }
        )
    page.fill(table, rows)
    page.repeat(table)
    page.close()
