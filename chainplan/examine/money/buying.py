"""The buy list: what is bought covers what is needed, at the job's own prices."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.money.costing import (
    Values,
    price_of_fitting,
)
from chainplan.examine.money.reckoned import SMALL, costings
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles


@check("what is bought covers what is needed")
def check_buying(files: PlanFiles, teller: Teller) -> None:
    """Needed, in stock, bought, left over; wire by metal and size; price = amount × rate."""
    values, lines = Values(files), files.estimates("buy")
    decimals = int(values.bench("money", "decimals"))
    wanted: dict[tuple[str, str, float], float] = {}
    for need in files.estimates("wire"):
        if need["rings"]:
            key = (need["metal"], need["temper"], round(need["wire_mm"], 3))
            wanted[key] = wanted.get(key, 0.0) + need["wire_length_m"]
    for line in lines:
        place = f"estimates, buy, {line['item']}"
        left = line["in_stock"] + line["to_buy"] - line["needed"]
        off = 2e-5 * max(line["needed"], line["to_buy"], 1e-3)
        teller.near(PLAN, f"{place}, left", line["left"], left, off=off)
        covered = left > -off and 0 <= line["in_stock"] <= line["needed"] + off
        text = f"{line['in_stock']:g} + {line['to_buy']:g}"
        teller.true(PLAN, f"{place}, to_buy", covered, text, f"at least {line['needed']:g}")
        pack = line["to_buy"] / line["packs"] if line["packs"] else 1.0
        if line["unit"] == "each":
            whole = abs(pack - round(pack)) < 1e-6 and pack >= 1
            teller.true(PLAN, f"{place}, packs", whole, line["packs"], "packs of whole pieces")
        tight = line["to_buy"] - pack < line["needed"] - line["in_stock"] + off
        tight &= (line["packs"] > 0) == (line["to_buy"] > 0)
        teller.true(PLAN, f"{place}, packs", tight, line["packs"], "no pack more than is needed")
        if line["item"].startswith("wire "):
            key = (line["metal"], line["temper"], round(line["size_mm"], 3))
            teller.near(PLAN, f"{place}, needed", line["needed"], wanted.pop(key, 0.0), off=off)
        if not line["metal"] and not line["item"].startswith("mandrel"):
            teller.same(PLAN, f"{place}, size_mm", line["size_mm"], 0)
        if line["item"].startswith("filler wire "):
            fed = sum(
                group["filler_g"]
                * (group["joins_in_place"] + group["joins_beforehand"])
                * counts["quantity"]
                for counts in files.estimates("counts")
                for group in counts["groups"]
                if group["metal"] == line["metal"]
            )
            size = values.bench("welder", "filler_wire_mm")
            per_m = math.pi / 4 * size**2 * values(f"metal.{line['metal']}.density_g_cm3")
            teller.near(PLAN, f"{place}, size_mm", line["size_mm"], size)
            teller.near(PLAN, f"{place}, needed", line["needed"], fed / per_m, off=off)
        if line["item"].startswith(("wire ", "filler wire ")):
            _check_named_size(line, place, teller)
        _check_buy_price(files, values, line, decimals, place, teller)
    for (metal, _, wire_mm), metres in wanted.items():
        teller.tell(PLAN, "estimates, buy", f"no wire {metal} {wire_mm:g} mm", f"{metres:.2f} m")
    _check_supplies(files, lines, teller)


def _check_named_size(line: dict[str, Any], place: str, teller: Teller) -> None:
    """Compare a size that is named in words with that of the line."""
    said = re.search(r"([\d.]+) mm", line["item"])
    if said:
        good = abs(float(said.group(1)) - line["size_mm"]) < 0.006 * max(line["size_mm"], 0.5)
        teller.true(PLAN, f"{place}, size_mm", good, line["size_mm"], said.group(0))


def _check_buy_price(
    files: PlanFiles,
    values: Values,
    line: dict[str, Any],
    decimals: int,
    place: str,
    teller: Teller,
) -> None:
    """Price of a line of the buy list from the job's own prices."""
    if line["metal"]:
        density = values(f"metal.{line['metal']}.density_g_cm3")
        per_m = math.pi / 4 * line["size_mm"] ** 2 * density
        price = values.per_g(line["metal"])
        premium = values.price(f"wire premium {line['metal']}")
        more = 0.0
        if line["item"].startswith("wire ") and premium is not None:
            per_g = values.per_g(f"wire premium {line['metal']}") or 0.0
            more = premium[0] / per_m if premium[1] == "m" else per_g
        rate = None if price is None else (price + more) * per_m
        told = re.match(r"([\d.e+-]+) g a metre", line["note"])
        if told:
            off = 0.006 * per_m
            teller.near(PLAN, f"{place}, note", float(told.group(1)), per_m, off=off)
    elif line["item"].startswith("argon"):
        rates = [float(c["rate"]) for c in files.estimates("costs") if c["item"] == "argon"]
        rate = rates[0] if rates else None
    elif line["item"].startswith("fitting: "):
        name = line["item"].removeprefix("fitting: ")
        rate = next(
            price_of_fitting(values, fitting)
            for counts in files.estimates("counts")
            for fitting in counts["fittings"]
            if fitting["name"] == name
        )
    else:
        words = ("electrode tip", "saw blade", "mandrel", "clasp")
        item = next((word for word in words if line["item"].startswith(word)), "")
        rate = values.each(item)
    if line["price"] is None:
        argon = line["item"].startswith("argon") and values.each("argon") is None
        free = rate is None or argon
        teller.true(PLAN, f"{place}, price", free, "none", f"{rate or 0:g} a {line['unit']}")
    elif rate is not None:
        amount = line["to_buy"] * rate
        off = 10.0**-decimals + 2e-4 * amount
        teller.near(PLAN, f"{place}, price", line["price"], amount, off=off)


def _check_supplies(files: PlanFiles, lines: list[dict[str, Any]], teller: Teller) -> None:
    """Argon, tips, blades, clasps and mandrels of the buy list, from what the pieces take."""
    taken = costings(files).values()
    cut = sum(need["cut"] for costing in taken for need in costing.wire)
    clasps = sum(row["clasps"] * row["quantity"] for row in files.estimates("counts"))
    expected = {
        "argon": sum(costing.pulses["gas"] for costing in taken),
        "electrode tip": math.ceil(sum(costing.pulses["tips"] for costing in taken) - 1e-9),
        "saw blade": math.ceil(cut / files.value("bench.wire.rings_per_blade")),
        "clasp": clasps,
        "mandrel": 1.0,
    }
    for line in lines:
        word = next((word for word in expected if line["item"].startswith(word)), None)
        place = f"estimates, buy, {line['item']}"
        if word is not None:
            amount = float(expected[word])
            teller.near(PLAN, f"{place}, needed", line["needed"], amount, off=SMALL * amount)
        if word == "saw blade":
            blades = {need["blade"] for need in files.estimates("wire")}
            teller.same(PLAN, f"{place}, item", blades, {line["item"].partition("blade ")[2]})
        if word == "mandrel":
            told = re.findall(r"wanted ([\d.]+)", line["note"])
            inner = [need["inner_mm"] for need in files.estimates("wire")]
            good = all(any(abs(float(t) - mm) < 0.00501 for mm in inner) for t in told)
            teller.true(PLAN, f"{place}, note", good, line["note"], "the rings that are wanted")
            sizes = {round(need["mandrel_mm"], 3) for need in files.estimates("wire")}
            good = round(line["size_mm"], 3) in sizes and f"{line['size_mm']:g} mm" in line["item"]
            teller.true(PLAN, f"{place}, size_mm", good, line["size_mm"], sorted(sizes))
    there = {word for word in expected for line in lines if line["item"].startswith(word)}
    sizes = {
        round(n["mandrel_mm"], 3)
        for n in files.estimates("wire")
        if n["mandrel_mm"] > 0 and n["rings"]
    }
    listed = {round(line["size_mm"], 3) for line in lines if line["item"].startswith("mandrel")}
    teller.same(PLAN, "estimates, buy, mandrel, size_mm", sorted(listed), sorted(sizes))
    for word in ("argon", "electrode tip", *(["clasp"] if clasps else [])):
        missing = word not in there and expected[word] > 0
        teller.true(PLAN, "estimates, buy", not missing, f"no {word}", "a line of it")
