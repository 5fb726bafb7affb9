"""Cost line by line in live formulas: quantity × rate, rounded once, as the estimates do it."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.model.kinds import CostItem, CostKind
from chainplan.model.workshop.bench_log import STATIONS
from chainplan.reference import find_metal
from chainplan.report.text.names import spoken_unit
from chainplan.report.workbook.cells.style import Formula
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import ITEM, SENTENCE, SHORT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.model.estimate import CostLine, PieceCounts
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cells.page import PlanBook
    from chainplan.report.workbook.cells.table import PlacedTable
    from chainplan.report.workbook.inputs import Inputs
    from chainplan.report.workbook.money.workings import Workings

HEADINGS = [
    Heading("number", "piece no.", "int"),
    Heading("piece", "piece"),
    Heading("item", "item", words=ITEM),
    Heading("quantity", "quantity", "0.001"),
    Heading("unit", "unit", words=SHORT),
    Heading("rate", "rate", "0.001"),
    Heading("amount", "amount", "money"),
    Heading("source", "what it counts, as planned", words=SENTENCE),
]


def add_cost(book: PlanBook, plan: Plan, inputs: Inputs, workings: Workings) -> PlacedTable:
    """Add the cost line by line; the prices are made from them."""
    page = book.page(
        "cost",
        "Cost",
        f"In {plan.estimates.currency}, all copies of a piece. Every figure follows the sheet "
        "'inputs'; amounts are rounded once.",
    )
    rows = [
        {"number": number + 1, "piece": counts.piece, **row}
        for number, counts in enumerate(plan.estimates.counts)
        for row in (
            *_bought(plan, inputs, workings, number, counts),
            *_labour(plan, workings, number, counts),
        )
    ]
    table = page.lay(HEADINGS, range(len(rows)))
    decimals = plan.job.bench.money.decimals
    for key, row in enumerate(rows):
        at = table.here(key)
        amount = f"=ROUND({at['quantity']}*{at['rate']},{decimals})"
        row["amount"] = Formula(amount, row["amount"])  # type: ignore[arg-type]
        row["unit"] = spoken_unit(str(row["unit"]))
    page.fill(table, rows)
    page.repeat(table, filters=True)
    page.close()
    return table


def _labour(
    plan: Plan, workings: Workings, number: int, counts: PieceCounts
) -> Iterator[dict[str, object]]:
    """Give the labour at every station a line, also where there is none yet."""
    given = {
        x.item.of: x
        for x in plan.estimates.costs
        if x.piece == counts.piece and x.item.kind == CostKind.LABOUR
    }
    usual = {x.station: x.usual_min for x in plan.estimates.times if x.piece == counts.piece}
    for station in STATIONS:
        line = given.get(station)
        minutes = workings.pieces.cell(number, f"{station} min")
        hours = line.quantity if line else round(usual.get(station, 0.0) / 60, 4)
        yield {
            "item": CostItem(CostKind.LABOUR, station),
            "quantity": Formula(f"=ROUND({minutes}/60,4)", hours),
            "unit": "h",
            "rate": Formula("=labour_per_hour", plan.job.bench.money.labour_per_hour),
            "amount": line.amount if line else Decimal(0),
            "source": line.source if line else "none",
        }


def _bought(
    plan: Plan, inputs: Inputs, workings: Workings, number: int, counts: PieceCounts
) -> Iterator[dict[str, object]]:
    """Give what is bought or given back the formulas of its quantity and rate."""
    titles = {find_metal(g.metal, plan.job.metals).title: g.metal for g in counts.groups}
    given = [line for line in plan.estimates.costs if line.piece == counts.piece]
    premiums = _groups_with_premium(plan, number, titles, {line.item for line in given})
    fixed = {
        CostKind.ARGON: workings.pieces.cell(number, "gas_l"),
        CostKind.TIP: workings.pieces.cell(number, "tips"),
        CostKind.ELECTRICITY: workings.pieces.cell(number, "kwh"),
        CostKind.BLADE: f"{workings.pieces.cell(number, 'cut')}/rings_per_blade",
        CostKind.OVERHEAD: workings.pieces.cell(number, "hours"),
        CostKind.WAGES: workings.pieces.cell(number, "hours"),
    }
    for line in given:
        kind, name = line.item.kind, line.item.of
        if kind == CostKind.LABOUR:
            continue
        rate = f"={inputs.price[line.item]}" if line.item in inputs.price else ""
        if kind == CostKind.METAL:
            quantity = workings.metal_of_piece("used_g", number, titles[name])
        elif kind == CostKind.SCRAP:
            quantity = workings.metal_of_piece("scrap_g", number, titles[name])
            price = inputs.price[CostItem(CostKind.METAL, name)]
            rate = f"=-ROUND({price}*scrap_back_percent/100,6)"
        elif kind == CostKind.PREMIUM:
            group = next(premiums)
            length_mm = workings.groups.cell(group, "length_mm")
            quantity = f"{length_mm}/1000*{workings.groups.cell(group, 'g_per_m')}"
        elif kind == CostKind.CHANGES:
            quantity, rate = str(line.quantity), "=labour_per_hour"
        elif kind == CostKind.WAGES:
            quantity, rate = fixed[kind], f"={line.rate}"
        else:  # otherwise a number of copies: fittings, packing, cleaning, hallmarks
            quantity = fixed.get(kind, str(line.quantity))
        yield _line(line, f"=ROUND({quantity},4)", rate)


def _line(line: CostLine, quantity: str, rate: str) -> dict[str, object]:
    return {
        "item": line.item,
        "quantity": Formula(quantity, line.quantity),
        "unit": line.unit,
        "rate": Formula(rate, line.rate),
        "amount": line.amount,
        "source": line.source,
    }


def _groups_with_premium(
    plan: Plan, number: int, titles: dict[str, str], items: set[str]
) -> Iterator[int]:
    """Go through the groups whose wire has a premium, in the order of the cost lines: by metal."""
    first = sum(len(counts.groups) for counts in plan.estimates.counts[:number])
    groups = plan.estimates.counts[number].groups
    for title, metal in titles.items():
        for k, group in enumerate(groups, first):
            name = CostItem(CostKind.PREMIUM, f"{title} {group.wire_mm:g} mm")
            if group.metal == metal and name in items:
                yield k
