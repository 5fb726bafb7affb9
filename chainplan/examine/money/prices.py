"""Prices, tax, the torch, quantity breaks and cost drivers: they follow from the costs."""

from __future__ import annotations

import itertools
import math
import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.examine.findings import as_number
from chainplan.examine.money.costing import AT_THE_WELDER, Values, reckon, rounded
from chainplan.examine.money.reckoned import LAST_DIGIT, SMALL, costings, known_of, taken_from_shelf
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.money.costing import Known
    from chainplan.examine.reading import PlanFiles

_WELDING_ONLY = {"argon", "electrode tip", "electricity", "changes of setting"}


_LAST_PLACE = 5e-5
"""Hours and grams are rounded to four places before they are multiplied by a rate."""
_BREAKS = (1, 2, 5, 10, 20, 50, 100)
"""Copies whose price is told, beside those that are made."""


@check("prices follow from costs")
def check_quotes(files: PlanFiles, teller: Teller) -> None:
    """Cost each, price = cost / (1 − margin) or the list price, tax, torch, breaks and drivers."""
    values = Values(files)
    decimals = int(values.bench("money", "decimals"))
    margin = Decimal(str(values.bench("money", "margin_percent"))) / 100
    tax = Decimal(str(values.bench("money", "tax_percent"))) / 100
    counts = {row["piece"]: row for row in files.estimates("counts")}
    known = known_of(files)
    for quote in files.estimates("quotes"):
        name, own = quote["piece"], counts[quote["piece"]]
        place = f"estimates, quotes, {name}"
        teller.same(PLAN, f"{place}, quantity", quote["quantity"], own["quantity"])
        each = rounded(Decimal(quote["cost"]) / own["quantity"], decimals)
        teller.same(PLAN, f"{place}, cost_each", Decimal(quote["cost_each"]), each)
        listed = own["list_price"]
        price = rounded(each / (1 - margin), decimals)
        if listed is not None:
            price = rounded(Decimal(listed), decimals)
        teller.same(PLAN, f"{place}, price_each", Decimal(quote["price_each"]), price)
        taxed = rounded(price * tax, decimals)
        teller.same(PLAN, f"{place}, tax_each", Decimal(quote["tax_each"]), taxed)
        total = Decimal(quote["price_each"]) + Decimal(quote["tax_each"])
        teller.same(
            PLAN, f"{place}, price_with_tax_each", Decimal(quote["price_with_tax_each"]), total
        )
        _check_quote_notes(quote, each, price, place, teller)
        _check_torch(files, values, quote, own, decimals, teller)
        _check_breaks(files, values, known, quote, own, (decimals, margin), teller)
        _check_drivers(files, values, known, quote, own, decimals, teller)


def _check_quote_notes(
    quote: dict[str, Any], each: Decimal, price: Decimal, place: str, teller: Teller
) -> None:
    for text in quote["notes"]:
        left = re.match(r"list price: leaves (-?\d+) % of it above cost", text)
        if left and price:
            percent = float((1 - each / price) * 100)
            teller.near(PLAN, f"{place}, notes", float(left.group(1)), percent, off=0.51)


def _check_torch(
    files: PlanFiles, values: Values, quote: dict[str, Any], counts: dict[str, Any], decimals: int,
    teller: Teller,
) -> None:  # fmt: skip
    """Reckon the same piece soldered by torch: rounds, hours, cost, what welding saves."""
    name, copies = quote["piece"], counts["quantity"]
    rows = files.of_piece("torch", name)
    place = f"estimates, torch, {name}"
    teller.same(PLAN, f"{place}, lines", len(rows), 1)
    costing = costings(files)[name]
    joins = sum(g["joins_in_place"] + g["joins_beforehand"] for g in counts["groups"])
    tries = joins / values.bench("wire", "join_yield")
    a_round = values.bench("stations", "torch_joins_a_round")
    rounds = math.ceil(math.ceil(tries - 1e-9) / a_round) * copies
    hours = rounds * values.bench("stations", "torch_round_min") / 60
    welder = {f"labour: {station}" for station in AT_THE_WELDER} | _WELDING_ONLY
    lines = files.of_piece("costs", name)
    weld = sum((Decimal(line["amount"]) for line in lines if line["item"] in welder), Decimal(0))
    shared = sum(
        (Decimal(line["amount"]) for line in lines if line["item"] not in welder), Decimal(0)
    )
    weld_h = costing.hours(AT_THE_WELDER)
    extra = hours * values.bench("money", "labour_per_hour")
    overhead = values.each("overhead") or 0.0
    extra += (hours - weld_h) * overhead
    solder = values.per_g("solder") or 0.0
    extra += tries * copies * values.bench("stations", "torch_solder_mg") / 1000 * solder
    fuel = values.price("torch gas")
    an_hour = fuel[0] if fuel is not None and fuel[1] == "hour" else 0.0
    extra += hours * an_hour
    extra += (values.each("flux and pickle") or 0.0) * copies
    rates = values.bench("money", "labour_per_hour") + 2 * overhead + an_hour + solder
    off = 2 * LAST_DIGIT * 10.0**-decimals + SMALL * weld_h * overhead + _LAST_PLACE * rates
    for row in rows:
        teller.same(PLAN, f"{place}, rounds", row["rounds"], rounds)
        teller.near(PLAN, f"{place}, hours", row["hours"], hours)
        days = (costing.hours() - weld_h + hours) / values.bench("calendar", "hours_per_day")
        teller.near(PLAN, f"{place}, working_days", row["working_days"], days, off=SMALL * days)
        teller.near(PLAN, f"{place}, weld_hours", row["weld_hours"], weld_h, off=SMALL * weld_h)
        teller.same(PLAN, f"{place}, weld_cost", Decimal(row["weld_cost"]), weld)
        teller.near(
            PLAN,
            f"{place}, cost",
            row["cost"],
            float(shared) + extra,
            off=off,
        )
        each = rounded(Decimal(row["cost"]) / copies, decimals)
        teller.same(PLAN, f"{place}, cost_each", Decimal(row["cost_each"]), each)
        teller.same(PLAN, f"{place}, torch_cost_each", quote["torch_cost_each"], row["cost_each"])
        saved = Decimal(row["cost_each"]) - rounded((shared + weld) / copies, decimals)
        teller.same(PLAN, f"{place}, saved_each", Decimal(row["saved_each"]), saved)
        price = values.each("welder")
        back = math.ceil(price / float(saved)) if price is not None and saved > 0 else None
        teller.same(PLAN, f"{place}, copies_to_pay_back", row["copies_to_pay_back"], back)


def _check_breaks(
    files: PlanFiles, values: Values, known: Known, quote: dict[str, Any], counts: dict[str, Any],
    rule: tuple[int, Decimal], teller: Teller,
) -> None:  # fmt: skip
    """Cost and price of one copy at other quantities, reckoned anew."""
    decimals, margin = rule
    shelf = any(taken_from_shelf(files, counts))
    quantities = []
    for row in files.of_piece("breaks", quote["piece"]):
        place = f"estimates, breaks, {quote['piece']}, {row['quantity']}"
        quantities.append(row["quantity"])
        price = rounded(Decimal(row["cost_each"]) / (1 - margin), decimals)
        teller.same(PLAN, f"{place}, price_each", Decimal(row["price_each"]), price)
        if shelf:
            continue
        cost = reckon(values, counts, known, quantity=row["quantity"]).cost(decimals)
        each = float(cost) / row["quantity"]
        teller.near(
            PLAN,
            f"{place}, cost_each",
            row["cost_each"],
            each,
            off=LAST_DIGIT * 10.0**-decimals + 1e-4 * each,
        )
    place = f"estimates, breaks, {quote['piece']}, quantity"
    teller.same(PLAN, place, quantities, sorted({*_BREAKS, counts["quantity"]}))


def _check_drivers(
    files: PlanFiles, plain: Values, known: Known, quote: dict[str, Any], counts: dict[str, Any],
    decimals: int, teller: Teller,
) -> None:  # fmt: skip
    """Reckon what drives the cost anew, one value changed at a time."""
    rows = files.of_piece("drivers", quote["piece"])
    swings = []
    for row in rows:
        place = f"estimates, drivers, {quote['piece']}, {row['driver']}"
        if not any(taken_from_shelf(files, counts)):
            usual = Decimal(quote["cost_each"])
            teller.same(PLAN, f"{place}, cost_usual_each", Decimal(row["cost_usual_each"]), usual)
            ends = _driver_ends(plain, row["driver"], counts)
            teller.true(PLAN, place, ends is not None, row["driver"], "a driver that is known")
            for name, (changed, factor) in zip(
                ("cost_low_each", "cost_high_each"), ends or (), strict=False
            ):
                values = plain.changed(changed)
                weld_s = counts["weld_s"] * factor
                cost = reckon(values, counts, known, weld_s=weld_s).cost(decimals)
                each = float(cost) / counts["quantity"]
                off = LAST_DIGIT * 10.0**-decimals + 1e-4 * each
                teller.near(PLAN, f"{place}, {name}", row[name], each, off=off)
        swings.append(abs(as_number(row["cost_high_each"]) - as_number(row["cost_low_each"])))
    falling = all(a >= b - 1e-9 for a, b in itertools.pairwise(swings))
    teller.true(
        PLAN, f"estimates, drivers, {quote['piece']}", falling, swings, "the strongest first"
    )


def _driver_ends(
    values: Values, driver: str, counts: dict[str, Any]
) -> tuple[tuple[dict[str, float], float], tuple[dict[str, float], float]] | None:
    """Values that a driver changes at its low and its high end, and the factor on welding."""
    quick, slow = (values.bench("stations", f"{name}_share") for name in ("quick", "slow"))
    good = values.bench("wire", "join_yield")

    def scaled(keys: tuple[str, ...], factor: float) -> tuple[dict[str, float], float]:
        return {key: values(key) * factor for key in keys}, 1.0

    weave = ("bench.stations.weave_ring_s", "bench.stations.weave_link_s")
    metals = {group["metal"] for group in counts["groups"]}
    ends = {
        "labour rate": tuple(scaled(("bench.money.labour_per_hour",), f) for f in (0.9, 1.1)),
        "weaving time": tuple(scaled(weave, f) for f in (quick, slow)),
        "welding time": (({}, quick), ({}, slow)),
        "metal price": tuple(({f"price.{metal}": f for metal in metals}, 1.0) for f in (0.9, 1.1)),
        "kerf": tuple(scaled(("bench.wire.kerf_mm",), f) for f in (0.5, 2.0)),
        "join yield": tuple(
            ({"bench.wire.join_yield": share}, 1.0)
            for share in (1 - (1 - good) / 2, max(1 - 2 * (1 - good), 0.3))
        ),
    }
    found = ends.get(driver)
    return None if found is None else (found[0], found[1])
