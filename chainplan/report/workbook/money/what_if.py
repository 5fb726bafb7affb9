"""What if: more copies, another price or pace, the torch instead of the welder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.report.workbook.cells.page import FOLLOWS_NOT
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import ITEM, KEYWORD

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cells.page import PlanBook

MOST_QUANTITIES = 9
"""Quantities side by side: with names and words beside them, what a page is wide."""


def add_breaks(book: PlanBook, plan: Plan) -> None:
    """Add cost and price of one copy for the quantities that every piece was counted for."""
    page = book.page(
        "more copies",
        "More copies in one go",
        f"Cost and price of one copy, before tax, in {plan.estimates.currency}. {FOLLOWS_NOT}",
    )
    by_piece: dict[str, dict[int, Any]] = {}
    for line in plan.estimates.breaks:
        by_piece.setdefault(line.piece, {})[line.quantity] = line
    shared = set.intersection(*(set(found) for found in by_piece.values())) if by_piece else set()
    quantities = sorted(shared)[:MOST_QUANTITIES]
    headings = [
        Heading("piece", "piece"),
        Heading("what", "of one", words=KEYWORD),
        *(Heading(str(q), f"{q} {'copy' if q == 1 else 'copies'}", "money") for q in quantities),
    ]
    rows = []
    for piece, found in by_piece.items():
        for what, name in (("cost each", "cost_each"), ("price each", "price_each")):
            values = {str(q): getattr(found[q], name) for q in quantities}
            rows.append({"piece": piece, "what": what, **values})
    page.set_widths(headings)
    if rows:
        page.say(
            "Setting up and learning are shared out. The price is the one that leaves the wanted "
            "margin, even for a piece with a list price.",
            role="quiet",
        )
        page.row += 1
    page.repeat(page.table(headings, rows))
    page.close()


def add_drivers(book: PlanBook, plan: Plan) -> None:
    """Add the inputs that move the cost, the strongest first; the chart shows them as bars."""
    page = book.page(
        "cost drivers",
        "What drives the cost of one copy",
        f"One input changed, all else as planned; in {plan.estimates.currency}. {FOLLOWS_NOT}",
    )
    headings = [
        Heading("piece", "piece"),
        Heading("driver", "input", words=ITEM),
        Heading("low_input", "one way", "right"),
        Heading("cost_low_each", "cost each, one way", "money"),
        Heading("cost_usual_each", "cost each, as planned", "money"),
        Heading("high_input", "other way", "right"),
        Heading("cost_high_each", "cost each, other way", "money"),
        Heading("swing", "moves it by", "money"),
    ]
    rows = [
        {heading.key: getattr(line, heading.key) for heading in headings}
        for line in plan.estimates.drivers
    ]
    page.repeat(page.table(headings, rows))
    page.close()


def add_torch(book: PlanBook, plan: Plan) -> None:
    """Add the same pieces soldered by torch, and what pays the welder back."""
    page = book.page(
        "by torch",
        "The same by torch",
        "Rounds of solder, pickle and rinse; all copies; money in "
        f"{plan.estimates.currency}. {FOLLOWS_NOT}",
    )
    torch = plan.estimates.torch
    quotes = {quote.piece: quote for quote in plan.estimates.quotes}
    headings = [
        Heading("piece", "piece"),
        Heading("rounds", "rounds by torch", "int"),
        Heading("hours", "by torch, h", "0.1"),
        Heading("weld_hours", "at the welder, h", "0.1"),
        Heading("working_days", "days in all, by torch", "0.1"),
        Heading("cost_each", "cost each, by torch", "money"),
        Heading("welded_each", "cost each, welded", "money"),
        Heading("saved_each", "saved each", "money"),
        Heading("back", "copies that pay the welder", "right"),
    ]
    rows = []
    for line in torch:
        row: dict[str, Any] = {h.key: getattr(line, h.key, None) for h in headings}
        quote = quotes.get(line.piece)
        row["welded_each"] = quote.cost_each if quote else None
        back = line.copies_to_pay_back
        row["back"] = f"{back:,}".replace(",", " ") if back else "–"
        rows.append(row)
    page.set_widths(headings)
    notes = [f"{line.piece}: {line.note}." for line in torch if line.note]
    if torch and all(line.copies_to_pay_back is None for line in torch):
        notes.append("Give the job a price for 'welder' to see after how many copies it has paid.")
    for text in notes:
        page.say(text, role="quiet")
    page.row += 1 if notes else 0
    page.repeat(page.table(headings, rows))
    page.close()
