"""Wire, time and money: reckoned anew, and added up between the tables."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.examine.money.costing import (
    STATIONS,
    Known,
    Values,
    bad_share,
    price_of_fitting,
    reckon,
    risk_each,
    rounded,
)
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.money.costing import Costing
    from chainplan.examine.reading import PlanFiles

SMALL = 2e-4
"""Of a figure: what sizes and times written to six digits leave open."""
LAST_DIGIT = 1.05
"""Of a cost reckoned anew: a last digit of the currency, of some of its lines."""


def known_of(files: PlanFiles) -> Known:
    """Read from the plan what its sums share."""
    rates = [line["rate"] for line in files.estimates("costs") if line["item"] == "argon"]
    argon = float(rates[0]) if rates else None
    counts = {row["piece"]: row for row in files.estimates("counts")}
    precious = set()
    for piece, row in counts.items():
        metals = list(dict.fromkeys(group["metal"] for group in row["groups"]))
        lines = files.of_piece("costs", piece)
        titles = [line["item"][7:] for line in lines if line["item"].startswith("metal: ")]
        back = {line["item"][12:] for line in lines if line["item"].startswith("scrap back: ")}
        priced = [metal for metal in metals if Values(files).per_g(metal) is not None]
        precious |= {metal for metal, title in zip(priced, titles, strict=False) if title in back}
    hallmarked = {line["piece"] for line in files.estimates("costs") if line["item"] == "hallmark"}
    lines_ = sum(group["rings"] > 0 for row in counts.values() for group in row["groups"])
    return Known(
        lines_, float(files.plan["estimates"]["weld_share"]), argon,
        sum(row["quantity"] for row in counts.values()), frozenset(precious),
        frozenset(hallmarked),
    )  # fmt: skip


def costings(files: PlanFiles) -> dict[str, Costing]:
    """Reckon every piece anew, by its name; kept with the files."""
    kept: dict[str, Costing] | None = files._values.get("costings")
    if kept is None:
        values, known = Values(files), known_of(files)
        kept = files._values["costings"] = {
            counts["piece"]: reckon(
                values, counts, known, from_stock=taken_from_shelf(files, counts)
            )
            for counts in files.estimates("counts")
        }
    return kept


def taken_from_shelf(files: PlanFiles, counts: dict[str, Any]) -> tuple[int, ...]:
    """Finished rings that each group of a piece takes from the shelf; empty if it does not say."""
    needs = files.of_piece("wire", counts["piece"])
    taken = tuple(int(need["rings_from_stock"]) for need in needs)
    return taken if len(taken) == len(counts["groups"]) else ()


@check("what the estimates count is what was laid out")
def check_counts(files: PlanFiles, teller: Teller) -> None:
    """Compare the counts of the estimates with rings.csv, the order and the settings."""
    for piece, counts in zip(files.pieces, files.estimates("counts"), strict=False):
        place = f"estimates, counts, {piece.name}"
        record = piece.record
        teller.same(PLAN, f"{place}, quantity", counts["quantity"], record["quantity"])
        weld_s = piece.order["bench_time_s"]
        if not files.rest:  # the estimates are of the whole job
            teller.near(PLAN, f"{place}, weld_s", counts["weld_s"], weld_s, off=1e-3)
        teller.near(PLAN, f"{place}, length_mm", counts["length_mm"], record["length_mm"])
        teller.same(PLAN, f"{place}, clasps", counts["clasps"], int(record["clasp_length_mm"] > 0))
        if not files.rest:
            teller.same(PLAN, f"{place}, passes", counts["passes"], len(piece.order["passes"]))
        rings = piece.rings
        closed = rings["closed_beforehand"] == "yes"
        settings = {
            (s["section"], s["metal"], round(s["wire_mm"], 3)): s
            for s in files.of_piece("settings", piece.name)
        }
        total = 0
        for group in counts["groups"]:
            number = group["section"] + 1
            here = f"{place}, section {number}"
            own = rings["section"] == number
            size = abs(rings["wire_mm"] - group["wire_mm"]) < 1e-3
            size &= abs(rings["inner_mm"] - group["inner_mm"]) < 1e-3
            size &= rings["metal"] == group["metal"]
            count, shut = int((own & size).sum()), int((own & size & closed).sum())
            total += count
            section = record["sections"][group["section"]]
            made = count if section["rings"] else 0
            teller.same(PLAN, f"{here}, rings", group["rings"], made)
            teller.same(PLAN, f"{here}, joins_in_place", group["joins_in_place"], count - shut)
            teller.same(PLAN, f"{here}, joins_beforehand", group["joins_beforehand"], shut)
            links = section["links"] * count / max(int(own.sum()), 1)
            teller.near(PLAN, f"{here}, links", group["links"], links, off=0.51)
            teller.same(PLAN, f"{here}, weave", group["weave"], section["weave"])
            if group["mandrel_mm"] is not None:
                teller.same(PLAN, f"{here}, mandrel_mm", group["mandrel_mm"], section["mandrel_mm"])
            kind = (group["section"], group["metal"], round(group["wire_mm"], 3))
            setting = settings.get(kind)
            if setting is not None:
                for name in ("power_j", "hits"):
                    teller.same(PLAN, f"{here}, {name}", group[name], setting["setting"][name])
                for name in ("filler_g", "filler_s"):
                    teller.same(PLAN, f"{here}, {name}", group[name], setting[name])
        teller.same(PLAN, f"{place}, groups, rings", total, piece.count)


@check("wire covers the rings")
def check_wire(files: PlanFiles, teller: Teller) -> None:
    """Rings, spares, coils, metres and grams of each size of ring, reckoned anew."""
    known = known_of(files)
    each = risk_each(Values(files), known.lines)
    risk = files.plan["estimates"]["short_risk_each"]
    teller.near(PLAN, "estimates, short_risk_each", risk, each)
    lost = files.plan["estimates"]["lost_share"]
    teller.near(PLAN, "estimates, lost_share", lost, bad_share(Values(files)))
    for counts in files.estimates("counts"):
        needs = files.of_piece("wire", counts["piece"])
        place = f"estimates, wire, {counts['piece']}"
        teller.same(PLAN, f"{place}, lines", len(needs), len(counts["groups"]))
        mine = costings(files)[counts["piece"]].wire
        for need, group, own in zip(needs, counts["groups"], mine, strict=False):
            here = f"{place}, section {group['section'] + 1}"
            for name in ("section", "metal", "temper", "wire_mm", "inner_mm"):
                teller.same(PLAN, f"{here}, {name}", need[name], group[name])
            for name in ("rings", "spare_rings", "coils", "rings_from_stock"):
                teller.same(PLAN, f"{here}, {name}", need[name], int(own[name]))
            for name in ("wire_length_m", "mass_in_piece_g", "mass_used_g"):
                teller.near(PLAN, f"{here}, {name}", need[name], own[name], off=SMALL * own[name])
            scrap = need["mass_used_g"] - need["mass_in_piece_g"]
            off = 2e-5 * need["mass_used_g"]
            teller.near(PLAN, f"{here}, scrap_g", need["scrap_g"], scrap, off=off)
            for name in ("shown_risk", "fewer_risk"):
                teller.near(PLAN, f"{here}, {name}", need[name], own[name], off=1e-3 * own[name])
            given = group["mandrel_mm"]
            good = (
                need["mandrel_mm"] == given
                if given
                else 0 <= need["mandrel_mm"] < need["inner_mm"] * 1.2
            )
            teller.true(PLAN, f"{here}, mandrel_mm", good, need["mandrel_mm"], given or "a mandrel")
    _check_section_masses(files, teller)


def _check_section_masses(files: PlanFiles, teller: Teller) -> None:
    """Mass of the sections × copies = mass in the estimates, filler apart."""
    for piece in files.pieces:
        needs = files.of_piece("wire", piece.name)
        if any(group["filler_g"] for group in _groups(files, piece.name)):
            continue
        inside = sum(need["mass_in_piece_g"] for need in needs)
        mass = piece.record["quantity"] * sum(s["mass_g"] for s in piece.record["sections"])
        place = f"estimates, wire, {piece.name}, mass_in_piece_g"
        teller.near(PLAN, place, inside, mass, off=SMALL * mass)


def _groups(files: PlanFiles, name: str) -> list[dict[str, Any]]:
    found = next(row for row in files.estimates("counts") if row["piece"] == name)
    groups: list[dict[str, Any]] = found["groups"]
    return groups


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


@check("times add up")
def check_times(files: PlanFiles, teller: Teller) -> None:
    """Minutes at each station, reckoned anew; quick and slow ends; the shared welding time."""
    quick, slow = (files.value(f"bench.stations.{n}_share") for n in ("quick", "slow"))
    one_by_one = sum(row["weld_s"] * row["quantity"] for row in files.estimates("counts"))
    batch = files.plan["order"]["batch"]
    share = 1.0
    if batch["interleaved"] and one_by_one > 0:
        share = min(batch["bench_time_s"] / one_by_one, 1.0)
    if not files.rest:  # the estimates are of the whole job
        teller.near(PLAN, "estimates, weld_share", files.plan["estimates"]["weld_share"], share)
    for name, costing in costings(files).items():
        rows = files.of_piece("times", name)
        place = f"estimates, times, {name}"
        teller.same(PLAN, f"{place}, station", [row["station"] for row in rows], [*STATIONS])
        for row in rows:
            if row["station"] not in STATIONS:
                continue
            here, usual = f"{place}, {row['station']}", costing.minutes[row["station"]]
            off = SMALL * usual
            teller.near(PLAN, f"{here}, usual_min", row["usual_min"], usual, off=off)
            for end, factor in (("low_min", quick), ("high_min", slow)):
                expected = row["usual_min"] * factor
                teller.near(PLAN, f"{here}, {end}", row[end], expected, off=2e-5 * expected)
        _check_bases(files, name, costing, rows, teller)


def _check_bases(
    files: PlanFiles, name: str, costing: Costing, rows: list[dict[str, Any]], teller: Teller
) -> None:
    """Compare the sentences beside the times with the numbers that the times come from."""
    counts = next(row for row in files.estimates("counts") if row["piece"] == name)
    copies = counts["quantity"]
    cut = sum(need["cut"] for need in costing.wire)
    joins = copies * sum(g["joins_in_place"] + g["joins_beforehand"] for g in counts["groups"])
    begins = {
        "coil": int(sum(need["coils"] for need in costing.wire)),
        "cut": int(cut),
        "clean": copies,
        "inspect": joins,
        "finish": copies,
        **{
            station: copies * sum(one["station"] == station for one in counts["fittings"])
            for station in ("fitting", "last fitting")
        },
    }
    for row in rows:
        place = f"estimates, times, {name}, {row['station']}, basis"
        number = re.match(r"(\d+) ", row["basis"])
        if row["station"] in begins and number:
            teller.same(PLAN, place, int(number.group(1)), begins[row["station"]])
        weld = re.match(r"weld order ([\d.]+) min a copy, (\d+) regrind", row["basis"])
        if weld:
            minutes = counts["weld_s"] / 60
            teller.near(PLAN, place, float(weld.group(1)), minutes, off=0.0501)
            teller.same(PLAN, place, int(weld.group(2)), int(costing.pulses["regrinds"]))
        again = re.match(r"([\d.]+) second tries", row["basis"])
        if again:
            tries = joins * (1 / files.value("bench.wire.join_yield") - 1)
            teller.near(PLAN, place, float(again.group(1)), tries, off=0.0501)


@check("cost lines add up")
def check_costs(files: PlanFiles, teller: Teller) -> None:
    """Each line = quantity × rate, its quantity and rate reckoned anew; their sum is the cost."""
    values = Values(files)
    decimals = int(values.bench("money", "decimals"))
    rates = {line["rate"] for line in files.estimates("costs") if line["item"] == "argon"}
    teller.true(PLAN, "estimates, costs, argon", len(rates) <= 1, sorted(rates), "one rate")
    _check_argon_rate(files, values, rates, teller)
    for quote in files.estimates("quotes"):
        name = quote["piece"]
        lines = files.of_piece("costs", name)
        place = f"estimates, costs, {name}"
        mine = costings(files)[name].lines
        total = Decimal(0)
        for line in lines:
            here = f"{place}, {line['item']}"
            amount = rounded(Decimal(line["quantity"]) * Decimal(line["rate"]), decimals)
            teller.same(PLAN, f"{here}, amount", Decimal(line["amount"]), amount)
            total += Decimal(line["amount"])
        found = [
            f"{kind}:" if kind in ("metal", "wire premium", "scrap back") else line["item"]
            for line in lines
            for kind in (line["item"].partition(":")[0],)
        ]
        teller.same(PLAN, f"{place}, item", found, [item for item, _, _ in mine])
        for line, (_, quantity, rate) in zip(lines, mine, strict=False):
            here = f"{place}, {line['item']}"
            off = 1e-4 + SMALL * abs(quantity)
            teller.near(PLAN, f"{here}, quantity", line["quantity"], quantity, off=off)
            teller.near(PLAN, f"{here}, rate", line["rate"], rate, off=2e-6 + SMALL * abs(rate))
        teller.same(PLAN, f"estimates, quotes, {name}, cost", Decimal(quote["cost"]), total)
    _check_scheduled(files, values, teller)


def _check_scheduled(files: PlanFiles, values: Values, teller: Teller) -> None:
    """Compare changes of setting and wages in the counts with the schedule."""
    schedule, labour = files.plan["schedule"], values.bench("money", "labour_per_hour")
    wages = {
        person["label"]: float(person["wage_per_hour"])
        for person in schedule["hours"]
        if person["wage_per_hour"] is not None
    }
    least_s = values.bench("pace", "change_setting_s")
    every_s = sum(schedule["change_costs_s"].values())
    good = every_s >= schedule["changes"] * least_s - 1e-3 and (schedule["changes"] or not every_s)
    teller.true(PLAN, "schedule, change_costs_s", bool(good), every_s, schedule["changes"])
    for counts in files.estimates("counts"):
        place = f"estimates, counts, {counts['piece']}"
        own_h = schedule["change_costs_s"].get(counts["piece"], 0.0) / 3600
        teller.near(PLAN, f"{place}, change_h", counts["change_h"], own_h, off=1e-5 * own_h)
        own = [t for t in schedule["tasks"] if t["person"] and t["piece"] == counts["piece"]]
        work_s = sum(task["work_s"] for task in own)
        more = sum(task["work_s"] * (wages.get(task["person"], labour) - labour) for task in own)
        above = more / work_s if work_s else 0.0
        told = float(counts["wage_above_per_hour"])
        teller.near(PLAN, f"{place}, wage_above_per_hour", told, above, off=2e-6)


def _check_argon_rate(files: PlanFiles, values: Values, rates: set[str], teller: Teller) -> None:
    """Argon by the litre is the price given, or that of a cylinder over what it holds."""
    price = values.price("argon")
    if price is None or not rates:
        return
    rate = float(next(iter(rates)))
    if price[1] != "cylinder":
        teller.near(PLAN, "estimates, costs, argon, rate", rate, price[0])
        return
    figures = {row["key"]: row for row in files.plan["estimates"]["figures"][""]}
    share = figures["cylinder-share"]["usual"]
    if share > 0:
        litres = figures["argon"]["usual"] / share
        expected = price[0] / litres
        teller.near(PLAN, "estimates, costs, argon, rate", rate, expected, off=0.02 * expected)
