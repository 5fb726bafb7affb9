"""What if: more copies, another price or pace, the torch instead of the welder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.report.workbook.page import Heading

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.page import Book, Page

MOST_QUANTITIES = 9


def add_what_if(book: Book, plan: Plan) -> None:
    """Add quantity breaks, what drives the cost, and the same pieces by torch."""
    currency = plan.estimates.currency
    page = book.page(
        "what if",
        "What if",
        f"In {currency}, as the plan was made: these figures do not follow the sheet 'inputs'.",
    )
    page.set_widths(
        [Heading("", "", width=28), Heading("", "", width=16), *[Heading("", "", width=13)] * 8]
    )
    _add_breaks(page, plan)
    _add_drivers(page, plan)
    _add_torch(page, plan)
    page.close()


def _add_breaks(page: Page, plan: Plan) -> None:
    """Add cost and price of one copy for the quantities that every piece was counted for."""
    breaks = plan.estimates.breaks
    if not breaks:
        return
    by_piece: dict[str, dict[int, Any]] = {}
    for line in breaks:
        by_piece.setdefault(line.piece, {})[line.quantity] = line
    shared = set.intersection(*(set(found) for found in by_piece.values()))
    quantities = sorted(shared)[:MOST_QUANTITIES]
    headings = [
        Heading("piece", "piece"),
        Heading("what", ""),
        *(Heading(str(q), f"{q} {'copy' if q == 1 else 'copies'}", "money") for q in quantities),
    ]
    rows = []
    for piece, found in by_piece.items():
        for what, name in (("cost each", "cost_each"), ("price each", "price_each")):
            values = {str(q): getattr(found[q], name) for q in quantities}
            rows.append({"piece": piece if what == "cost each" else "", "what": what, **values})
    page.head("More copies in one go: cost and price of one, before tax")
    page.table(headings, rows)
    page.say(
        "Setting up and learning are shared out. The price is the one that leaves the wanted "
        "margin, even for a piece with a list price.",
        role="quiet",
    )
    page.row += 1


def _add_drivers(page: Page, plan: Plan) -> None:
    """Add the inputs that move the cost, the strongest first; the chart shows them as bars."""
    drivers = plan.estimates.drivers
    if not drivers:
        return
    headings = [
        Heading("piece", "piece"),
        Heading("driver", "input"),
        Heading("low_input", "one way", "right"),
        Heading("cost_low_each", "cost each", "money"),
        Heading("cost_usual_each", "as planned", "money"),
        Heading("high_input", "other way", "right"),
        Heading("cost_high_each", "cost each", "money"),
        Heading("swing", "moves it by", "money"),
    ]
    before = ""
    rows = []
    for line in drivers:
        row = {h.key: getattr(line, h.key) for h in headings}
        row["piece"] = line.piece if line.piece != before else ""
        before = line.piece
        rows.append(row)
    page.head("What drives the cost of one copy: one input changed, all else as planned")
    page.table(headings, rows)
    page.row += 1


def _add_torch(page: Page, plan: Plan) -> None:
    """Add the same pieces soldered by torch, and what pays the welder back."""
    torch = plan.estimates.torch
    if not torch:
        return
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
    page.head("The same by torch: rounds of solder, pickle and rinse; all copies")
    page.table(headings, rows)
    if all(line.copies_to_pay_back is None for line in torch):
        page.say("Give the job a price for 'welder' to see after how many copies it has paid.",
                 role="quiet")  # fmt: skip
    for line in torch:
        if line.note:
            page.say(f"{line.piece}: {line.note}.", role="quiet")
    page.row += 1
