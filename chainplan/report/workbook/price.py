"""Price of each piece from its cost, with margin and tax: live formulas."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.workbook.page import Heading
from chainplan.report.workbook.style import Formula

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cost import Lines
    from chainplan.report.workbook.page import Book

SHEET = "price"
HEADINGS = [
    Heading("number", "piece no.", "int", 7),
    Heading("piece", "piece", width=28),
    Heading("copies", "copies", "int", 8),
    Heading("cost", "cost, all copies", "money", 12),
    Heading("cost_each", "cost each", "money", 12),
    Heading("price_each", "price each, before tax", "money", 13),
    Heading("tax_each", "tax each", "money", 11),
    Heading("price_with_tax_each", "price each, with tax", "money", 13),
    Heading("left_each", "left above cost, each", "money", 13),
    Heading("share", "of the price", "%", 9),
    Heading("torch_cost_each", "by torch, cost each", "money", 13),
]
FIRST_ROW = 5


def add_price(book: Book, plan: Plan, lines: Lines) -> int:
    """Add the sheet of prices; return the row of the first piece's price."""
    page = book.page(
        SHEET,
        "Price",
        f"In {plan.estimates.currency}. Cost, price and tax follow the sheet 'inputs'; the cost by "
        "torch does not.",
    )
    quotes = plan.estimates.quotes
    rows = [_row(plan, number, lines) for number in range(len(quotes))]
    last = FIRST_ROW + len(rows) - 1
    total = {
        "piece": "all pieces",
        "copies": Formula(f"=SUM(C{FIRST_ROW}:C{last})"),
        "cost": Formula(f"=SUM(D{FIRST_ROW}:D{last})"),
    }
    page.table(HEADINGS, rows, total=total if quotes else None)
    for quote in quotes:
        for note in quote.notes:
            page.say(f"{quote.piece}: {note}.", role="quiet")
    page.row += 1
    page.close()
    return FIRST_ROW


def _row(plan: Plan, number: int, lines: Lines) -> dict[str, object]:
    quote = plan.estimates.quotes[number]
    row = FIRST_ROW + number
    decimals = plan.job.bench.money.decimals
    listed = plan.estimates.counts[number].list_price
    price: object = Formula(f"=ROUND(E{row}/(1-margin_percent/100),{decimals})")
    if listed is not None:
        price = listed
    return {
        "number": number + 1,
        "piece": quote.piece,
        "copies": quote.quantity,
        "cost": Formula(f"=SUMIFS({lines.amounts},{lines.numbers},A{row})"),
        "cost_each": Formula(f"=ROUND(D{row}/C{row},{decimals})"),
        "price_each": price,
        "tax_each": Formula(f"=ROUND(F{row}*tax_percent/100,{decimals})"),
        "price_with_tax_each": Formula(f"=F{row}+G{row}"),
        "left_each": Formula(f"=F{row}-E{row}"),
        "share": Formula(f"=IF(F{row}=0,0,I{row}/F{row})"),
        "torch_cost_each": quote.torch_cost_each,
    }
