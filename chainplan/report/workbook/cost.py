"""Cost line by line in live formulas: quantity × rate, rounded once, as the estimates do it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.reference import find_metal
from chainplan.report.workbook.names import spoken_unit
from chainplan.report.workbook.page import Heading
from chainplan.report.workbook.style import Formula
from chainplan.report.workbook.workings import STATIONS

if TYPE_CHECKING:
    from chainplan.model.estimate import CostLine
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.inputs import Inputs
    from chainplan.report.workbook.page import Book
    from chainplan.report.workbook.workings import Places

SHEET = "cost"
_LABOUR = "labour: "
HEADINGS = [
    Heading("number", "piece no.", "int", 7),
    Heading("piece", "piece", width=24),
    Heading("item", "item", width=38),
    Heading("quantity", "quantity", "0.001", 11),
    Heading("unit", "unit", width=8),
    Heading("rate", "rate", "0.001", 10),
    Heading("amount", "amount", "money", 11),
    Heading("source", "what it counts", width=54),
]
FIRST_ROW = 5


@dataclass(frozen=True, slots=True)
class Lines:
    """Where the cost lines stand."""

    last_row: int

    @property
    def amounts(self) -> str:
        """The amounts of all lines."""
        return f"{SHEET}!$G${FIRST_ROW}:$G${self.last_row}"

    @property
    def numbers(self) -> str:
        """The piece that each line belongs to."""
        return f"{SHEET}!$A${FIRST_ROW}:$A${self.last_row}"


def add_cost(book: Book, plan: Plan, inputs: Inputs, places: Places) -> Lines:
    """Add the cost line by line; the prices are made from them."""
    page = book.page(
        SHEET,
        "Cost",
        f"In {plan.estimates.currency}, all copies of a piece. Every figure follows the sheet "
        "'inputs'; amounts are rounded once.",
    )
    rows = _line_rows(plan, inputs, places, FIRST_ROW)
    for row in rows:
        row["unit"] = spoken_unit(str(row["unit"]))
    page.table(HEADINGS, rows, filters=True)
    page.close()
    return Lines(last_row=FIRST_ROW + max(len(rows), 1) - 1)


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
        for station in STATIONS:
            minutes = places.piece(f"{station} min", number)
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
