"""Price of each piece from its cost, with margin and tax: live formulas."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.report.workbook.cells.style import Formula
from chainplan.report.workbook.cells.table import Heading

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cells.page import PlanBook
    from chainplan.report.workbook.cells.table import PlacedTable

HEADINGS = [
    Heading("number", "piece no.", "int"),
    Heading("piece", "piece"),
    Heading("copies", "copies", "int"),
    Heading("cost", "cost, all copies", "money"),
    Heading("cost_each", "cost each", "money"),
    Heading("price_each", "price each, before tax", "money"),
    Heading("tax_each", "tax each", "money"),
    Heading("price_with_tax_each", "price each, with tax", "money"),
    Heading("left_each", "left above cost, each", "money"),
    Heading("share", "of the price", "%"),
    Heading("torch_cost_each", "by torch, cost each", "money"),
]


def add_price(book: PlanBook, plan: Plan, costs: PlacedTable) -> PlacedTable:
    """Add the sheet of prices; its rows are named by the number of the piece, from 0."""
    page = book.page(
        "price",
        "Price",
        f"In {plan.estimates.currency}. Cost, price and tax follow the sheet 'inputs'; the cost by "
        "torch does not.",
    )
    quotes = plan.estimates.quotes
    table = page.lay(HEADINGS, range(len(quotes)), total=bool(quotes))
    total = {
        "piece": "all pieces",
        "copies": Formula(table.sum_of("copies"), sum(quote.quantity for quote in quotes)),
        "cost": Formula(table.sum_of("cost"), sum((q.cost for q in quotes), Decimal(0))),
    }
    rows = [_row(plan, number, table, costs) for number in range(len(quotes))]
    page.fill(table, rows, total=total if quotes else None)
    notes = [f"{quote.piece}: {note}." for quote in quotes for note in quote.notes]
    if notes:
        page.head("As the plan was made")
    for text in notes:
        page.say(text, role="quiet")
    page.close()
    return table


def _row(plan: Plan, number: int, table: PlacedTable, costs: PlacedTable) -> dict[str, object]:
    quote = plan.estimates.quotes[number]
    at = table.here(number)
    decimals = plan.job.bench.money.decimals
    price: object = Formula(
        f"=ROUND({at['cost_each']}/(1-margin_percent/100),{decimals})", quote.price_each
    )
    if plan.estimates.counts[number].list_price is not None:
        price = quote.price_each
    left = quote.price_each - quote.cost_each
    return {
        "number": number + 1,
        "piece": quote.piece,
        "copies": quote.quantity,
        "cost": Formula(
            f"=SUMIFS({costs.column('amount')},{costs.column('number')},{at['number']})",
            quote.cost,
        ),
        "cost_each": Formula(f"=ROUND({at['cost']}/{at['copies']},{decimals})", quote.cost_each),
        "price_each": price,
        "tax_each": Formula(f"=ROUND({at['price_each']}*tax_percent/100,{decimals})",
                            quote.tax_each),
        "price_with_tax_each": Formula(f"={at['price_each']}+{at['tax_each']}",
                                       quote.price_with_tax_each),
        "left_each": Formula(f"={at['price_each']}-{at['cost_each']}", left),
        "share": Formula(
            f"=IF({at['price_each']}=0,0,{at['left_each']}/{at['price_each']})",
            float(left / quote.price_each) if quote.price_each else 0,
        ),
        "torch_cost_each": quote.torch_cost_each,
    }  # fmt: skip
