"""The inputs of the live formulas: named cells to change, each with unit and meaning."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING

from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation

from chainplan.model.bench.setting import settings_of
from chainplan.report.workbook.names import spoken_unit
from chainplan.report.workbook.page import Heading
from chainplan.report.workbook.style import Look

if TYPE_CHECKING:
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.page import Book, Page

SHEET = "inputs"
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
)  # fmt: skip
_ONE = {"each": "piece", "g": "gram", "l": "litre", "h": "hour"}
NOT_BOUGHT = ("labour: ", "scrap back: ")
"""Cost lines whose rate is worked out, not typed in."""


@dataclass(slots=True)
class Inputs:
    """Names of the input cells: settings by field, prices by the item of the cost line."""

    price: dict[str, str] = field(default_factory=dict)


def add_inputs(book: Book, plan: Plan) -> Inputs:
    """Add the sheet of inputs and a name for each of its cells."""
    page = book.page(
        SHEET,
        "Inputs",
        "Change a cell with a dashed frame: cost, price, time and spare rings follow. "
        "The weld order does not: plan again for that.",
    )
    headings = [
        Heading("title", "input", width=42),
        Heading("value", "value", "general", 13),
        Heading("unit", "unit", width=13),
        Heading("means", "what it means", width=54),
        Heading("source", "where from", width=34),
    ]
    page.set_widths(headings)
    inputs = Inputs()
    groups = [("Prices", _price_rows(plan, inputs)), *_setting_groups(plan)]
    for group, rows in groups:
        page.head(group)
        page.table(headings, rows)
        first = page.row - 1 - max(len(rows), 1)
        for number, row in enumerate(rows, first):
            _add_input(book, page, number, row)
    page.close()
    return inputs


def _add_input(book: Book, page: Page, number: int, row: dict[str, object]) -> None:
    """Give an input cell its frame, its name and the values that it takes."""
    kind = "money" if row.get("money") else "general"
    cell = page.put(number, 2, row["value"], Look(kind=kind, role="input"))
    name = str(row["name"])
    book.book.defined_names[name] = DefinedName(name, attr_text=f"'{SHEET}'!$B${number}")
    check = DataValidation(
        type="decimal",
        operator="between",
        formula1=repr(float(row["low"])),  # type: ignore[arg-type]
        formula2=repr(float(row["high"])),  # type: ignore[arg-type]
        showErrorMessage=True,
        errorTitle="Not a usable value",
        error=f"Write a number from {row['low']:g} to {row['high']:g}.",
    )
    check.add(cell)
    page.sheet.add_data_validation(check)


def _price_rows(plan: Plan, inputs: Inputs) -> list[dict[str, object]]:
    rows = []
    for line in plan.estimates.costs:
        if line.item.startswith(NOT_BOUGHT) or line.item in inputs.price:
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
                "source": "the job's prices",
                "low": 0.0,
                "high": 1e9,
            }
        )
    return rows


def _setting_groups(plan: Plan) -> list[tuple[str, list[dict[str, object]]]]:
    bench = plan.job.bench
    groups = (
        ("Money", "money", bench.money, _MONEY),
        ("Rings and wire", "wire", bench.wire, _WIRE),
        ("Times", "stations", bench.stations, _STATIONS),
        ("Welder", "welder", bench.welder, _WELDER),
    )
    found = []
    for title, group, settings, wanted in groups:
        rows: list[dict[str, object]] = []
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
                    "title": _spoken(name),
                    "value": value if isinstance(value, Decimal) else float(value),
                    "unit": unit,
                    "means": info.means,
                    "source": "the job's bench" if own else info.source,
                    "low": 0.0 if info.low is None else info.low,
                    "high": 1e9 if info.high is None else info.high,
                }
            )
        found.append((title, rows))
    return found


def _spoken(name: str) -> str:
    for ending in ("_percent", "_l_min", "_l_h", "_per_hour", "_mm", "_min", "_s", "_w"):
        if name.endswith(ending):
            name = name.removesuffix(ending)
            break
    return name.replace("_", " ")
