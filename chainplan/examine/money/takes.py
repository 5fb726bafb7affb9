"""What a piece takes: counts, wire, time and costs, reckoned anew and added up."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.examine.money.costing import (
    STATIONS,
    Values,
    bad_share,
    risk_each,
    rounded,
)
from chainplan.examine.money.reckoned import SMALL, costings, known_of
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.money.costing import Costing
    from chainplan.examine.reading import PlanFiles


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


@check("times add up")
def check_times(files: PlanFiles, teller: Teller) -> None:
    """Minutes at each station, reckoned anew; quick and slow ends; the shared welding time."""
    ends = {
        end: files.value(f"bench.stations.{name}_share")
        for end, name in (
            ("low_min", "quick"),
            ("high_min", "slow"),
            ("new_least_min", "new_least"),
            ("new_most_min", "new_most"),
        )
    }
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
            for end, factor in ends.items():
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
    number = schedule["changes"] + schedule["further_set_ups"]
    good = every_s >= schedule["changes"] * least_s - 1e-3 and (number or not every_s)
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
