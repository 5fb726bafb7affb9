"""The sheets that are read first: for the customer, for the workshop, and the cautions."""

from __future__ import annotations

import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING

from chainplan.model.piece.fittings import FittingKind
from chainplan.reference import find_metal
from chainplan.report.text.instructions import limits_in_words
from chainplan.report.text.names import spoken_metal, spoken_missing, spoken_weave
from chainplan.report.workbook.cells.picture import (
    AIR_MM,
    HIGH_MM,
    WIDE_MM,
    workbook_image,
)
from chainplan.report.workbook.cells.style import Formula, literal
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import (
    DURATION,
    ITEM,
    KEYWORD,
    LABEL,
    NAME,
    PAPER_COLUMNS,
    SENTENCE,
)
from chainplan.units import show_duration, show_length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.estimate import DueLine
    from chainplan.model.job import Price
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.report.workbook.cells.page import Page, PlanBook
    from chainplan.report.workbook.cells.table import PlacedTable
    from chainplan.report.workbook.inputs import Inputs

_PICTURE_COLUMN = (WIDE_MM + 3 * AIR_MM) / 25.4 * 96 / 7
"""Width of the picture's column: a character of the body is 7 dots wide, of 96 an inch."""

_PICTURE_ROW_PT = (HIGH_MM + 2 * AIR_MM) / 25.4 * 72
"""Height of its row."""

_CUSTOMER = [
    Heading("piece", "piece"),
    Heading("customer", "for", words=LABEL),
    Heading("picture", "what it looks like", words=_PICTURE_COLUMN),
    Heading("what", "what it is", words=ITEM),
    Heading("size", "size", words=LABEL),
    Heading("mass_g", "weight each", "g"),
    Heading("copies", "copies", "int"),
    Heading("price", "price each, with tax", "price"),
    Heading("tax", "of it tax", "price"),
    Heading("all", "all copies, with tax", "price"),
    Heading("without", "not yet in the price", words=LABEL),
    Heading("done", "ready by", "date"),
]
MOST_NAMED = 5
"""Pieces whose prices lack the same that are named; of more their number is told, and each row says
what its piece lacks."""
_IF_ANY = ("customer", "without")
"""Columns that are left out where no piece has anything in them."""
_WORKSHOP = [
    Heading("piece", "piece"),
    Heading("copies", "copies", "int"),
    Heading("rings", "rings each", "int"),
    Heading("joins", "joins to weld, each", "int"),
    Heading("passes", "passes each", "int"),
    Heading("weld", "at the welder, each", words=DURATION),
    Heading("wait", "of it waiting", words=DURATION),
    Heading("warmest", "warmest before its weld", "c"),
    Heading("limits", "limits of temperature", words=SENTENCE),
    Heading("due", "wanted by", "date"),
    Heading("done", "ready by", "date"),
    Heading("late", "late", words=KEYWORD),
]

_G_PER = {"g": Decimal(1), "kg": Decimal(1000), "ozt": Decimal("31.1034768")}
"""Grams in a unit by which metal is priced."""
_WEIGHT = {"g": "gram", "kg": "kilogram", "ozt": "troy ounce"}


def add_summary(
    book: PlanBook,
    plan: Plan,
    inputs: Inputs,
    prices: PlacedTable,
    pictures: Sequence[bytes | None],
) -> None:
    """Add what a talk with the customer needs."""
    title = plan.job.name[:1].upper() + plan.job.name[1:]
    shop = plan.job.bench.quote.shop
    about = "What it is, what it weighs and costs, when it is ready"
    page = book.page("summary", title, f"{shop}: {about.lower()}" if shop else about)
    quotes = plan.estimates.quotes
    rows = [_customer_row(plan, piece) for piece in plan.pieces]
    with_total = bool(quotes) and len(rows) > 1
    headings = [h for h in _CUSTOMER if h.key not in _IF_ANY or any(row[h.key] for row in rows)]
    table = page.lay(headings, range(len(rows)), total=with_total)
    for number, (row, quote) in enumerate(zip(rows, quotes, strict=False)):
        at = table.here(number)
        each = quote.price_with_tax_each
        row["price"] = Formula(f"={prices.cell(number, 'price_with_tax_each')}", each)
        row["tax"] = Formula(f"={prices.cell(number, 'tax_each')}", quote.tax_each)
        row["all"] = Formula(f"={at['copies']}*{at['price']}", quote.quantity * each)
    total = None
    if with_total:
        worth = sum((q.quantity * q.price_with_tax_each for q in quotes), Decimal(0))
        total = {
            "piece": "all pieces",
            "copies": Formula(table.sum_of("copies"), sum(q.quantity for q in quotes)),
            "all": Formula(table.sum_of("all"), worth),
        }
    page.fill(table, rows, total=total)
    page.keep_in_sight(table, 1)
    for number, picture in enumerate(pictures):
        if picture is not None:
            _add_picture(page, picture, table, number)
    for text in _price_remarks(plan, inputs):
        page.say(text, role="quiet")
    page.close()


def _add_picture(page: Page, png: bytes, table: PlacedTable, number: int) -> None:
    cell = page.sheet[table.here(number)["picture"]]
    page.sheet.add_image(workbook_image(png, row=cell.row, column=cell.column))
    row = page.sheet.row_dimensions[cell.row]
    row.height = max(row.height or 0.0, _PICTURE_ROW_PT)


def _customer_row(plan: Plan, piece: PiecePlan) -> dict[str, object]:
    dates = _dates(plan, piece)
    mass_g = sum(count.mass_g for count in piece.counts)
    mass_g += sum(fitting.mass_g or 0.0 for fitting in piece.piece.fittings)
    quote = next((q for q in plan.estimates.quotes if q.piece == piece.piece.name), None)
    return {
        "piece": piece.piece.name,
        "customer": piece.piece.customer or plan.job.bench.quote.customer,
        "without": ", ".join(spoken_missing(quote.missing, plan.job.metals)) if quote else "",
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
    for count in piece.counts:
        if count.form == "connecting":
            continue
        keys = dict.fromkeys(item.metal for item in count.metals) or [count.metal]
        metal = " and ".join(spoken_metal(key, plan.job.metals) for key in keys)
        texts.append(f"{spoken_weave(count.weave)}, {metal}, {count.wire_mm:.3g} mm wire")
    things = [f.name for f in piece.piece.fittings]
    texts += [f"with {', '.join(dict.fromkeys(things))}"] if things else []
    return "\n".join(dict.fromkeys(texts))


def _size(piece: PiecePlan) -> str:
    layout = piece.layout
    if all(section.form == "loose" for section in layout.sections):
        rings = sum(count.rings for count in piece.counts)
        joins = sum(count.joins for count in piece.counts)
        number, noun = (rings, "ring") if rings else (joins, "join")
        return f"{number} {noun}" + ("" if number == 1 else "s")
    length = layout.length_mm + piece.piece.clasp_length_mm
    unwoven = ("loose", "connecting")
    wide = max((s.width_mm for s in layout.sections if s.form not in unwoven), default=0.0)
    clasp = " with its clasp" if piece.piece.clasp_length_mm else ""
    if piece.piece.closed:
        clasp = f", closed, {show_length(piece.inside_round_mm)} round its inside"
    if any(fitting.in_line for fitting in layout.fittings):
        clasp = " with its fittings"
    lies = ", ".join(dict.fromkeys(s.lies for s in layout.sections if s.lies))
    return f"{show_length(length)}{clasp}, {wide:.1f} mm wide" + (f", {lies}" if lies else "")


def _dates(plan: Plan, piece: PiecePlan) -> DueLine | None:
    return next((x for x in plan.estimates.due if x.piece == piece.piece.name), None)


def _price_remarks(plan: Plan, inputs: Inputs) -> list[str | Formula]:
    """Say what the prices rest on; what depends on inputs follows them."""
    tax = plan.job.bench.money.tax_percent.normalize()
    found: list[str | Formula] = [
        Formula('="Prices with "&tax_percent&" % tax."', f"Prices with {tax:f} % tax.")
    ]
    used = plan.metals
    newest: dict[str, Price] = {}
    for price in sorted(plan.job.prices, key=lambda p: p.date or datetime.date.min):
        newest[price.item] = price
    parts = []
    for metal, price in newest.items():
        item = f"metal: {find_metal(metal, plan.job.metals).title}" if metal in used else ""
        if item in inputs.price and price.per in _G_PER:
            parts.append(_metal_price(plan, price, item, inputs.price[item]))
    if parts:
        formula = '&"; "&'.join(part.text for part in parts)
        value = "; ".join(str(part.value) for part in parts)
        said = "They rest on the price of metal: "
        found.append(Formula(f'={literal(said)}&{formula}&"."', f"{said}{value}."))
    if not plan.job.start_date:
        found.append("Give the job a start date to see when the pieces are ready.")
    unweighed = [
        f"{fitting.name} ({piece.piece.name})"
        for piece in plan.pieces
        for fitting in piece.piece.fittings
        if fitting.mass_g is None and fitting.kind != FittingKind.EXTRA
    ]
    if unweighed:
        found.append(f"Not in the weights: {', '.join(dict.fromkeys(unweighed))}.")
    without: dict[str, list[str]] = {}
    for quote in plan.estimates.quotes:
        if quote.missing:
            missing = ", ".join(spoken_missing(quote.missing, plan.job.metals))
            without.setdefault(missing, []).append(quote.piece)
    for missing, pieces in without.items():
        if len(pieces) > MOST_NAMED:
            found.append(f"The prices of {len(pieces)} pieces are without {missing}.")
        else:
            found += [f"The price of {piece} is without {missing}." for piece in pieces]
    found.append("Sizes and weights are computed; handwork varies a little.")
    return found


def _metal_price(plan: Plan, price: Price, item: str, name: str) -> Formula:
    """Say one metal's price by the weight it was given for; its date, while it is that price.

    The input counts grams with six decimals, so a price by the ounce is rounded as it was given.
    """
    rate = next(line.rate for line in plan.estimates.costs if line.item == item)
    places = max(2, -int(price.price.as_tuple().exponent))
    money = (rate * _G_PER[price.per]).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    before = f"{spoken_metal(price.item, plan.job.metals)} at {plan.estimates.currency} "
    after = f" a {_WEIGHT[price.per]}"
    date = f" ({price.date.isoformat()})" if price.date else ""
    formula = f"{literal(before)}&FIXED({name}*{_G_PER[price.per]},{places},TRUE)&{literal(after)}"
    if date:
        formula += f'&IF({name}={rate},{literal(date)},"")'
    return Formula(formula, f"{before}{money}{after}{date}")


def add_workshop(book: PlanBook, plan: Plan) -> None:
    """Add what the workshop wants to know first: each piece in a line."""
    page = book.page(
        "workshop",
        "For the workshop",
        "Estimates: try on scrap first. The maker's manual, local rules and licensed practice come "
        "first.",
    )
    page.set_widths(_WORKSHOP)
    if plan.batch.note:
        page.say(f"The batch: {plan.batch.note}")
        page.row += 1
    rows = [_workshop_row(plan, piece) for piece in plan.pieces]
    page.repeat(page.table(_WORKSHOP, rows, alarm="alarm"))
    page.close()


def add_notes(book: PlanBook, plan: Plan) -> None:
    """Add warnings, and what is said of each piece's order."""
    page = book.page("notes", "What to know", "What the plan says of the batch and of each piece.")
    page.set_widths([Heading("", "", words=NAME)] * PAPER_COLUMNS)
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
        "warmest": round(float(order.interpass_high_c.max()), 1) if len(order.ring) else None,
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


def add_cautions(book: PlanBook, plan: Plan) -> None:
    """Add the cautions, once for the whole book."""
    page = book.page(
        "cautions", "Before you weld", "Read by everybody who sits down at the welder.", wide=False
    )
    page.set_widths([Heading("", "", words=NAME)] * PAPER_COLUMNS)
    for text in plan.estimates.cautions:
        page.say(f"•  {text}")
        page.sheet.row_dimensions[page.row - 1].height += 5
    page.close()
