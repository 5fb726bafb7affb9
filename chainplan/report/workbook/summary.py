"""The sheets that are read first: for the customer, for the workshop, and the cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.text.instructions import limits_in_words
from chainplan.report.workbook.names import spoken_metal, spoken_weave
from chainplan.report.workbook.page import Heading
from chainplan.report.workbook.style import Formula
from chainplan.units import show_duration, show_length

if TYPE_CHECKING:
    from chainplan.model.estimate import DueLine
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.report.workbook.page import Book, Page

_CUSTOMER = [
    Heading("piece", "piece", width=26),
    Heading("what", "what it is", width=38),
    Heading("size", "size", width=22),
    Heading("mass_g", "weight each", "g", 10),
    Heading("copies", "copies", "int", 8),
    Heading("price", "price each, with tax", "price", 14),
    Heading("tax", "of it tax", "price", 13),
    Heading("all", "all copies, with tax", "price", 15),
    Heading("done", "ready by", "date", 12),
]
_WORKSHOP = [
    Heading("piece", "piece", width=26),
    Heading("copies", "copies", "int", 8),
    Heading("rings", "rings each", "int", 8),
    Heading("joins", "joins to weld, each", "int", 9),
    Heading("passes", "passes each", "int", 8),
    Heading("weld", "at the welder, each", width=16),
    Heading("wait", "of it waiting", width=14),
    Heading("warmest", "warmest before its weld", "c", 11),
    Heading("limits", "limits of temperature", width=50),
    Heading("due", "wanted by", "date", 12),
    Heading("done", "ready by", "date", 12),
    Heading("late", "late", width=10),
]


def add_summary(book: Book, plan: Plan, first_price: int) -> None:
    """Add what a talk with the customer needs; ``first_price`` is the row of the first price."""
    title = plan.job.name[:1].upper() + plan.job.name[1:]
    page = book.page("summary", title, "What it is, what it weighs and costs, when it is ready")
    priced = bool(plan.estimates.quotes)
    rows = []
    for number, piece in enumerate(plan.pieces):
        row = _customer_row(plan, piece)
        if priced:
            here, there = 5 + number, first_price + number
            row |= {
                "price": Formula(f"=price!H{there}"),
                "tax": Formula(f"=price!G{there}"),
                "all": Formula(f"=E{here}*F{here}"),
            }
        rows.append(row)
    last = 4 + len(rows)
    total = None
    if priced and len(rows) > 1:
        total = {
            "piece": "all pieces",
            "copies": Formula(f"=SUM(E5:E{last})"),
            "all": Formula(f"=SUM(H5:H{last})"),
        }
    page.table(_CUSTOMER, rows, total=total)
    for text in _price_remarks(plan):
        page.say(text, role="quiet")
    page.close()


def _customer_row(plan: Plan, piece: PiecePlan) -> dict[str, object]:
    dates = _dates(plan, piece)
    mass_g = sum(count.mass_g for count in piece.counts)
    return {
        "piece": piece.piece.name,
        "copies": piece.piece.quantity,
        "what": _what(plan, piece),
        "size": _size(piece),
        "mass_g": round(mass_g, 2) if mass_g > 0 else None,
        "rings": sum(count.rings for count in piece.counts),
        "done": dates.done if dates else None,
    }


def _what(plan: Plan, piece: PiecePlan) -> str:
    """Say what a piece is: its weaves, each with its metal and wire."""
    texts = []
    for section in piece.piece.sections:
        metal = spoken_metal(section.metal, plan.job.metals)
        texts.append(f"{spoken_weave(section.weave)}, {metal}, {section.wire_mm:.3g} mm wire")
    return "\n".join(dict.fromkeys(texts))


def _size(piece: PiecePlan) -> str:
    layout = piece.layout
    if all(section.form == "loose" for section in layout.sections):
        rings = sum(count.rings for count in piece.counts)
        joins = sum(count.joins for count in piece.counts)
        number, noun = (rings, "ring") if rings else (joins, "join")
        return f"{number} {noun}" + ("" if number == 1 else "s")
    length = layout.length_mm + piece.piece.clasp_length_mm
    wide = max((s.width_mm for s in layout.sections if s.form != "loose"), default=0.0)
    clasp = " with its clasp" if piece.piece.clasp_length_mm else ""
    return f"{show_length(length)}{clasp}, {wide:.1f} mm wide"


def _dates(plan: Plan, piece: PiecePlan) -> DueLine | None:
    return next((x for x in plan.estimates.due if x.piece == piece.piece.name), None)


def _price_remarks(plan: Plan) -> list[str]:
    money, metals = plan.job.bench.money, plan.job.metals
    used = {section.metal for piece in plan.pieces for section in piece.layout.sections}
    dated = [
        f"{spoken_metal(price.item, metals)} at {plan.estimates.currency} {price.price} a "
        f"{price.per}" + (f" ({price.date.isoformat()})" if price.date else "")
        for price in plan.job.prices
        if price.item in used
    ]
    found = [f"Prices with {money.tax_percent.normalize():f} % tax."]
    if dated:
        found.append(f"They rest on the price of metal: {'; '.join(dated)}.")
    if not plan.job.start_date:
        found.append("Give the job a start date to see when the pieces are ready.")
    found.append("Sizes and weights are computed; handwork varies a little.")
    return found


def add_workshop(book: Book, plan: Plan) -> None:
    """Add what the workshop wants to know first, with remarks and warnings."""
    page = book.page(
        "workshop",
        "For the workshop",
        "Estimates: try on scrap first. The maker's manual, local rules and licensed practice come "
        "first.",
    )
    page.table(_WORKSHOP, [_workshop_row(plan, piece) for piece in plan.pieces], alarm="alarm")
    if plan.batch.note:
        page.head("The batch")
        page.say(plan.batch.note)
        page.row += 1
    remarks = list(plan.warnings)
    if remarks:
        page.head("Look into this")
        for text in remarks:
            page.say(f"•  {text}")
        page.row += 1
    shared = _said_of_all(plan)
    if shared:
        page.head("Every piece")
        for text in shared:
            page.say(f"•  {text}")
        page.row += 1
    for piece in plan.pieces:
        _say_piece(page, piece, shared)
    page.say(f"Made with {plan.stamp}", role="quiet")
    page.close()


def _workshop_row(plan: Plan, piece: PiecePlan) -> dict[str, object]:
    order = piece.order
    dates = _dates(plan, piece)
    late = dates.late_days if dates else 0
    warm = next((check for check in order.limits if check.name == "interpass"), None)
    broken = any(not check.holds for check in order.limits)
    waiting = float(order.wait_s.sum()) if len(order.wait_s) else 0.0
    return {
        "piece": piece.piece.name,
        "copies": piece.piece.quantity,
        "rings": sum(count.rings for count in piece.counts),
        "joins": len(order.ring),
        "passes": len(order.passes),
        "weld": show_duration(order.bench_time_s),
        "wait": show_duration(waiting) if waiting >= 0.5 else "none",
        "warmest": round(warm.high_c, 1) if warm else None,
        "limits": "\n".join(limits_in_words(order.limits)),
        "due": piece.piece.due,
        "done": dates.done if dates else None,
        "late": f"{late} {'day' if late == 1 else 'days'}" if late > 0 else "no",
        "alarm": broken or late > 0,
    }


def _said_of_all(plan: Plan) -> list[str]:
    """Return remarks that would be repeated for every piece of several."""
    if len(plan.pieces) < 2:
        return []
    first = plan.pieces[0].order
    others = [{*p.order.gained, *p.order.advice} for p in plan.pieces[1:]]
    return [t for t in (*first.gained, *first.advice) if all(t in other for other in others)]


def _say_piece(page: Page, piece: PiecePlan, shared: list[str]) -> None:
    texts = [t for t in (*piece.order.gained, *piece.order.advice) if t not in shared]
    if piece.piece.notes:
        texts.insert(0, f"Note: {piece.piece.notes}")
    if texts:
        page.head(piece.piece.name)
        for text in texts:
            page.say(f"•  {text}")
        page.row += 1


def add_cautions(book: Book, plan: Plan) -> None:
    """Add the cautions, once for the whole book."""
    page = book.page(
        "cautions", "Before you weld", "Read by everybody who sits down at the welder.", wide=False
    )
    page.set_widths([Heading("", "", width=23)] * 4)
    for text in plan.estimates.cautions:
        page.say(f"•  {text}")
        page.sheet.row_dimensions[page.row - 1].height += 5
    page.close()
