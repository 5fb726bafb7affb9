"""Cost and price with live formulas: quantity × rate, rounded once, as the estimates do it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.reference import find_metal
from chainplan.report.workbook.style import (
    STRONG,
    TOTAL_LINE,
    Formula,
    Heading,
    open_sheet,
    put_table,
)

if TYPE_CHECKING:
    from openpyxl import Workbook

    from chainplan.model.estimate import CostLine
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.inputs import Inputs
    from chainplan.report.workbook.workings import Places

SHEET = "cost"
_LABOUR = "labour: "
_STATIONS = (
    "coil", "cut", "tumble", "pre-close", "weave", "set up",
    "weld", "rework", "clean", "inspect", "finish",
)  # fmt: skip
PRICE_HEADINGS = [
    Heading("number", "piece no.", "int", 8),
    Heading("piece", "piece", width=28),
    Heading("copies", "copies", "int", 8),
    Heading("cost", "cost, all copies", "money", 12),
    Heading("cost_each", "cost each", "money", 12),
    Heading("price_each", "price each, before tax", "money", 12),
    Heading("tax_each", "tax each", "money", 12),
    Heading("price_with_tax_each", "price each, with tax", "money", 12),
    Heading("torch_cost_each", "by torch, cost each", "money", 12),
    Heading("notes", "notes", width=60),
]
LINE_HEADINGS = [
    Heading("number", "piece no.", "int", 8),
    Heading("piece", "piece", width=28),
    Heading("item", "item", width=38),
    Heading("quantity", "quantity", "0.001", 12),
    Heading("unit", "unit", width=12),
    Heading("rate", "rate", "0.001", 12),
    Heading("amount", "amount", "money", 12),
    Heading("source", "what it counts", width=52),
]


def add_cost(book: Workbook, plan: Plan, inputs: Inputs, places: Places) -> int:
    """Add the sheet of cost and price; return the row of the first piece's price."""
    sheet = book.create_sheet(SHEET)
    currency = plan.estimates.currency
    open_sheet(
        sheet,
        "Cost and price",
        f"In {currency}. Every figure follows the sheet 'inputs'; amounts are rounded once.",
    )
    quotes = plan.estimates.quotes
    first_line = 4 + len(quotes) + 5
    lines = _line_rows(plan, inputs, places, first_line)
    last_line = first_line + max(len(lines), 1) - 1
    rows = [_price_row(plan, n, first_line, last_line) for n in range(len(quotes))]
    last = put_table(sheet, PRICE_HEADINGS, rows, filters=False)
    if quotes:
        total = {
            "piece": "all pieces",
            "cost": Formula(f"=SUM(D5:D{last})"),
            "copies": Formula(f"=SUM(C5:C{last})"),
            "notes": "the sum of what all copies cost",
        }
        for number, heading in enumerate(PRICE_HEADINGS, 1):
            cell = sheet.cell(row=last + 1, column=number)
            value = total.get(heading.key)
            cell.value = value.text if isinstance(value, Formula) else value
            cell.font, cell.border = STRONG, TOTAL_LINE
            cell.number_format = "#,##0.00" if heading.key == "cost" else "General"
    put_table(sheet, LINE_HEADINGS, lines, top=first_line - 1, filters=False)
    for column, width in zip("ABCDEFGHIJ", (8, 28, 38, 13, 12, 12, 12, 13, 12, 60), strict=True):
        sheet.column_dimensions[column].width = width
    sheet.print_title_rows = None
    sheet.print_area = f"A1:J{last_line}"
    return 5


def _price_row(plan: Plan, number: int, first: int, last: int) -> dict[str, object]:
    quote = plan.estimates.quotes[number]
    row = 5 + number
    decimals = plan.job.bench.money.decimals
    listed = plan.estimates.counts[number].list_price
    price: object = Formula(f"=ROUND(E{row}/(1-margin_percent/100),{decimals})")
    if listed is not None:
        price = listed
    return {
        "number": number + 1,
        "piece": quote.piece,
        "copies": quote.quantity,
        "cost": Formula(f"=SUMIFS(G{first}:G{last},A{first}:A{last},A{row})"),
        "cost_each": Formula(f"=ROUND(D{row}/C{row},{decimals})"),
        "price_each": price,
        "tax_each": Formula(f"=ROUND(F{row}*tax_percent/100,{decimals})"),
        "price_with_tax_each": Formula(f"=F{row}+G{row}"),
        "torch_cost_each": quote.torch_cost_each,
        "notes": "; ".join(quote.notes),
    }


def _line_rows(plan: Plan, inputs: Inputs, places: Places, first: int) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    groups_before = 0
    decimals = plan.job.bench.money.decimals
    for number, counts in enumerate(plan.estimates.counts):
        given = [line for line in plan.estimates.costs if line.piece == counts.piece]
        titles = {find_metal(g.metal, plan.job.metals).title: g.metal for g in counts.groups}
        names = {line.item for line in given}
        premiums = [
            groups_before + k
            for k, group in enumerate(counts.groups)
            if _premium_name(group.metal, group.wire_mm, titles) in names
        ]
        premiums.sort(
            key=lambda k: list(titles.values()).index(counts.groups[k - groups_before].metal)
        )
        for line in given:
            if line.item.startswith(_LABOUR):
                continue
            rows.append(_line(plan, inputs, places, number, line, titles, premiums))
        for station in _STATIONS:
            minutes = places.piece("cut_min" if station == "cut" else station, number)
            source = next((x.source for x in given if x.item == _LABOUR + station), "none")
            rows.append(
                {
                    "item": _LABOUR + station,
                    "quantity": Formula(f"=ROUND({minutes}/60,4)"),
                    "unit": "h",
                    "rate": Formula("=labour_per_hour"),
                    "source": source,
                }
            )
            rows[-1] |= {"number": number + 1, "piece": counts.piece}
        groups_before += len(counts.groups)
    for row_number, row in enumerate(rows, first):
        row["amount"] = Formula(f"=ROUND(D{row_number}*F{row_number},{decimals})")
    return rows


def _premium_name(metal: str, wire_mm: float, titles: dict[str, str]) -> str:
    title = next(title for title, key in titles.items() if key == metal)
    return f"wire premium: {title} {wire_mm:g} mm"


def _line(
    plan: Plan,
    inputs: Inputs,
    places: Places,
    number: int,
    line: CostLine,
    titles: dict[str, str],
    premiums: list[int],
) -> dict[str, object]:
    """Give one cost line the formula of its quantity and rate."""
    rate = f"={inputs.price[line.item]}" if line.item in inputs.price else ""
    kind, _, name = line.item.partition(": ")
    fixed = {
        "argon": places.piece("gas_l", number),
        "electrode tip": places.piece("tips", number),
        "electricity": places.piece("kwh", number),
        "saw blade": f"{places.piece('cut', number)}/rings_per_blade",
        "overhead": places.piece("hours", number),
    }
    if kind == "metal":
        quantity = places.metal_of_piece("used_g", number, titles[name])
    elif kind == "scrap back":
        quantity = places.metal_of_piece("scrap_g", number, titles[name])
        rate = f"=-ROUND({inputs.price[f'metal: {name}']}*scrap_back_percent/100,6)"
    elif kind == "wire premium":
        group = premiums.pop(0)
        quantity = f"{places.group('length_mm', group)}/1000*{places.group('g_per_m', group)}"
    elif line.item in fixed:
        quantity = fixed[line.item]
    else:  # a number of copies: clasps, packing, cleaning, hallmarks
        quantity = str(line.quantity)
    return {
        "number": number + 1,
        "piece": line.piece,
        "item": line.item,
        "quantity": Formula(f"=ROUND({quantity},4)"),
        "unit": line.unit,
        "rate": Formula(rate),
        "source": line.source,
    }
