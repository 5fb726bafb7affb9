"""The inputs of the live formulas: named cells to change, each with unit, meaning and place."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation

from chainplan.model.bench.setting import settings_of
from chainplan.model.kinds import CostKind
from chainplan.report.text.names import spoken_unit
from chainplan.report.workbook.cells.style import Look
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import ITEM, LABEL, SENTENCE

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cells.page import Page, PlanBook
    from chainplan.report.workbook.cells.table import PlacedTable

_MONEY = ("labour_per_hour", "margin_percent", "tax_percent", "scrap_back_percent")
_WELDER = (
    "flow_l_min", "pre_flow_s", "pulse_s", "post_flow_s", "smoothing_hits", "leak_l_h",
    "pulses_per_regrind", "regrinds_per_tip", "regrind_min", "mains_share", "idle_w",
)  # fmt: skip
_WIRE = (
    "join_yield", "ring_scrap", "replaced_share", "kerf_mm", "mandrel_length_mm",
    "coil_end_scrap_mm", "rings_per_blade",
)  # fmt: skip
_STATIONS = (
    "coil_min", "cut_s", "tumble_min", "tumble_rings", "weave_ring_s", "weave_link_s",
    "learning_percent", "set_up_min", "rework_s", "clean_min", "inspect_s", "finish_min",
    "fitting_min",
)  # fmt: skip
_ONE = {"each": "piece", "g": "gram", "l": "litre", "h": "hour"}
NOT_BOUGHT = (CostKind.LABOUR, CostKind.SCRAP, CostKind.CHANGES, CostKind.WAGES)
"""Cost lines whose rate is worked out, not typed in."""

MOST = 1e9
"""The largest number that an input without a limit of its own takes; any larger one is a slip."""

HEADINGS = [
    Heading("title", "input", words=ITEM),
    Heading("value", "value", "general"),
    Heading("unit", "unit", words=LABEL - 6),
    Heading("means", "what it means", words=SENTENCE),
    Heading("place", "on the job's sheets", words=LABEL),
    Heading("source", "where from", words=ITEM),
]
"""Columns of the sheet."""


@dataclass(slots=True)
class Inputs:
    """Names of the input cells of prices, by the item of the cost line; settings have their own."""

    price: dict[str, str] = field(default_factory=dict)


def add_inputs(book: PlanBook, plan: Plan) -> Inputs:
    """Add the sheet of inputs and a name for each of its cells."""
    page = book.page(
        "inputs",
        "Inputs",
        "Change a cell with a dashed frame: cost, price and spare rings follow. The weld order, "
        "times, dates and the buy list do not: change it on the job's own sheets and plan again "
        "for these.",
    )
    inputs = Inputs()
    rows: list[dict[str, Any]] = []
    for group, found in (("Prices", _price_rows(plan, inputs)), *_setting_groups(plan)):
        rows.append({"name": f"head: {group}", "title": group, "role": "head"})
        rows += found
    table = page.lay(HEADINGS, [row["name"] for row in rows])
    page.fill(table, rows)
    for row in rows:
        if "value" in row:
            _add_input(book, page, table, row)
    page.repeat(table)
    page.close()
    return inputs


def _add_input(book: PlanBook, page: Page, table: PlacedTable, row: dict[str, Any]) -> None:
    """Give an input cell its frame, its name and the values that it takes."""
    name, at = row["name"], table.here(row["name"])
    cell = page.sheet[at["value"]]
    page.put(cell.row, cell.column, row["value"], Look(kind="general", role="input"))
    book.book.defined_names[name] = DefinedName(name, attr_text=table.cell(name, "value"))
    check = DataValidation(
        type="decimal",
        operator="between",
        formula1=repr(float(row["low"])),
        formula2=repr(float(row["high"])),
        showErrorMessage=True,
        errorTitle="Not a usable value",
        error=f"Write a number from {row['low']:g} to {row['high']:g}.",
    )
    check.add(cell)
    page.sheet.add_data_validation(check)


def _price_rows(plan: Plan, inputs: Inputs) -> list[dict[str, Any]]:
    rows = []
    for line in plan.estimates.costs:
        if line.item.kind in NOT_BOUGHT or line.item in inputs.price:
            continue
        base = "price_" + re.sub(r"[^A-Za-z0-9]+", "_", line.item).strip("_").lower()
        name, number = base, 1
        while name in inputs.price.values():
            number += 1
            name = f"{base}_{number}"
        inputs.price[line.item] = name
        rows.append(
            {
                "name": name,
                "title": line.item,
                "value": line.rate,
                "unit": f"{plan.estimates.currency} / {spoken_unit(line.unit)}",
                "means": f"what one {_ONE.get(line.unit, line.unit)} costs",
                "place": "prices",
                "source": "the job's prices",
                "low": 0.0,
                "high": MOST,
            }
        )
    return rows


def _setting_groups(plan: Plan) -> list[tuple[str, list[dict[str, Any]]]]:
    bench = plan.job.bench
    groups = (
        ("Money", "money", bench.money, _MONEY),
        ("Rings and wire", "wire", bench.wire, _WIRE),
        ("Times", "stations", bench.stations, _STATIONS),
        ("Welder", "welder", bench.welder, _WELDER),
    )
    found = []
    for title, group, settings, wanted in groups:
        rows: list[dict[str, Any]] = []
        known = {info.name: info for info in settings_of(group, type(settings))}
        for name in wanted:
            info = known[name]
            value = getattr(settings, name)
            own = value != info.default
            unit = info.unit
            if unit == "per hour":
                unit = f"{plan.estimates.currency} / h"
            rows.append(
                {
                    "name": name,
                    "title": info.words,
                    "value": value if isinstance(value, Decimal) else float(value),
                    "unit": unit,
                    "means": info.means,
                    "place": f"bench, group {group}",
                    "source": "the job's bench" if own else info.source,
                    "low": 0.0 if info.low is None else info.low,
                    "high": MOST if info.high is None else info.high,
                }
            )
        found.append((title, rows))
    return found
