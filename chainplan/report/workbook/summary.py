"""The first sheet: what a customer conversation needs, with prices that follow the inputs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.workbook.style import Formula, Heading, open_sheet, put_table, put_text
from chainplan.units import show_length

if TYPE_CHECKING:
    from openpyxl import Workbook

    from chainplan.model.plan import PiecePlan, Plan

_HEADINGS = [
    Heading("piece", "piece", width=28),
    Heading("copies", "copies", "int", 8),
    Heading("what", "weave and metal", width=40),
    Heading("size", "size", width=24),
    Heading("rings", "rings", "int", 9),
    Heading("mass_g", "weight each", "g", 11),
    Heading("price", "price each, before tax", "money", 13),
    Heading("tax", "price each, with tax", "money", 13),
    Heading("weld_min", "at the welder, each", "min", 12),
    Heading("done", "done by", "date", 12),
    Heading("due", "wanted by", "date", 12),
]


def add_summary(book: Workbook, plan: Plan, first_price: int) -> None:
    """Add the summary as the first sheet; ``first_price`` is the row of the first price."""
    sheet = book.create_sheet("summary", 0)
    currency = plan.estimates.currency
    open_sheet(sheet, plan.job.name, f"Prices in {currency}; they follow the sheet 'inputs'.")
    rows = [_row(plan, n, piece, first_price) for n, piece in enumerate(plan.pieces)]
    last = put_table(sheet, _HEADINGS, rows, filters=False)
    notes = [
        "Estimates: try on scrap first. The maker's manual, local rules and licensed practice "
        "come first.",
        *(f"{p.piece.name}: {text}" for p in plan.pieces for text in p.order.gained[:1]),
        *plan.warnings,
    ]
    for number, text in enumerate(notes, last + 2):
        put_text(sheet.cell(row=number, column=1), text)
    put_text(sheet.cell(row=last + 3 + len(notes), column=1), f"Made with {plan.stamp}")
    sheet.print_area = f"A1:K{last + 3 + len(notes)}"


def _row(plan: Plan, number: int, piece: PiecePlan, first_price: int) -> dict[str, object]:
    layout, estimates = piece.layout, plan.estimates
    weaves = " + ".join(dict.fromkeys(s.weave for s in layout.sections))
    metals = " + ".join(dict.fromkeys(s.metal for s in layout.sections))
    loose = all(section.form == "loose" for section in layout.sections)
    size = f"{layout.rings} joins" if loose else show_length(layout.length_mm)
    wide = max((s.width_mm for s in layout.sections if s.form != "loose"), default=0.0)
    if wide and not loose:
        size += f" × {wide:.1f} mm"
    dates = next((line for line in estimates.due if line.piece == piece.piece.name), None)
    row: dict[str, object] = {
        "piece": piece.piece.name,
        "copies": piece.piece.quantity,
        "what": f"{weaves}, {metals}",
        "size": size,
        "rings": layout.rings,
        "mass_g": round(sum(count.mass_g for count in piece.counts), 2),
        "weld_min": piece.order.bench_time_s / 60,
        "done": dates.done if dates else None,
        "due": piece.piece.due,
    }
    if estimates.quotes:
        row["price"] = Formula(f"=cost!F{first_price + number}")
        row["tax"] = Formula(f"=cost!H{first_price + number}")
    return row
