"""The figures of pieces and batch, reckoned anew from the tables."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.findings import as_number
from chainplan.examine.money.costing import AT_THE_WELDER, STATIONS, Values, bad_share
from chainplan.examine.money.reckoned import LAST_DIGIT, SMALL, costings
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.money.costing import Costing
    from chainplan.examine.reading import PlanFiles

Range = tuple[float, float, float]


def _hours(files: PlanFiles, names: tuple[str, ...], piece: str | None = None) -> Range:
    rows = [
        row
        for row in files.estimates("times")
        if row["station"] in names and piece in (None, row["piece"])
    ]
    low, usual, high = (
        sum(row[f"{end}_min"] for row in rows) / 60 for end in ("low", "usual", "high")
    )
    return low, usual, high


def _hours_new(files: PlanFiles, piece: str) -> Range:
    """Hours of somebody new to the work."""
    usual = _hours(files, STATIONS, piece)[1]
    least, most = (files.value(f"bench.stations.new_{end}_share") for end in ("least", "most"))
    return usual * least, usual * (least + most) / 2, usual * max(least, most)


def _one(value: float) -> Range:
    return value, value, value


def _piece_figures(files: PlanFiles, counts: dict[str, Any], costing: Costing) -> dict[str, Range]:
    """Low, usual and high of a piece's figures, all copies."""
    copies, wire, pulses = counts["quantity"], costing.wire, costing.pulses
    joins = sum(g["joins_in_place"] + g["joins_beforehand"] for g in counts["groups"])
    mass = [0.0, 0.0, 0.0]
    for need, group in zip(wire, counts["groups"], strict=True):
        row = files.sources[f"metal.{group['metal']}.density_g_cm3"]
        for k, end in enumerate(("low", "usual", "high")):
            mass[k] += need["mass_in_piece_g"] * row[end] / row["usual"]
    quote = next(row for row in files.estimates("quotes") if row["piece"] == counts["piece"])
    by_hours = sum(
        float(line["amount"])
        for line in files.of_piece("costs", counts["piece"])
        if line["item"].startswith("labour") or line["item"] in ("overhead", "wages beside labour")
    )
    fixed = float(quote["cost"]) - by_hours
    quick, slow = (files.value(f"bench.stations.{n}_share") for n in ("quick", "slow"))
    cost = [(fixed + by_hours * share) / copies for share in (quick, 1.0, slow)]
    return {
        "rings": _one(copies * sum(group["rings"] for group in counts["groups"])),
        "joins": _one(copies * joins),
        "spare-rings": _one(sum(need["spare_rings"] for need in wire)),
        "wire": _one(sum(need["wire_length_m"] for need in wire)),
        "mass": (mass[0], mass[1], mass[2]),
        "metal-used": _one(sum(need["mass_used_g"] for need in wire)),
        "scrap": _one(sum(need["scrap_g"] for need in wire)),
        "pulses": (pulses["low"], pulses["usual"], pulses["high"]),
        "argon": (pulses["gas_low"], pulses["gas"], pulses["gas_high"]),
        "tips": _one(pulses["tips"]),
        "regrinds": _one(pulses["regrinds"]),
        "regrind-time": _one(pulses["regrind_min"]),
        "electricity": _one(pulses["kwh"]),
        "welder-hours": _hours(files, AT_THE_WELDER, counts["piece"]),
        "hours": _hours(files, STATIONS, counts["piece"]),
        "hours-new": _hours_new(files, counts["piece"]),
        "cost-each": (cost[0], cost[1], cost[2]),
    }


@check("figures are those of the tables")
def check_figures(files: PlanFiles, teller: Teller) -> None:
    """Every figure of every piece and of the batch, its range, and the numbers in its sentence."""
    figures = files.plan["estimates"]["figures"]
    cent = 0.6 * 10.0 ** -files.value("bench.money.decimals")
    counts = {row["piece"]: row for row in files.estimates("counts")}
    teller.same(PLAN, "estimates, figures", sorted(figures), sorted(["", *counts]))
    for name, own in counts.items():
        expected = _piece_figures(files, own, costings(files)[name])
        rows = {row["key"]: row for row in figures.get(name, [])}
        place = f"estimates, figures, {name}"
        missing = sorted(expected.keys() - rows.keys())
        teller.true(PLAN, place, not missing, f"no {missing}", "every figure")
        for key, row in rows.items():
            if key in expected:
                _compare_figure(row, expected[key], f"{place}, {key}", teller, cent)
        _check_words(files, own, rows, place, teller)
        _check_even(files, name, rows, place, teller)
    _check_batch(files, {row["key"]: row for row in figures[""]}, teller)


def _compare_figure(
    row: dict[str, Any], expected: Range, place: str, teller: Teller, cent: float = 0.0
) -> None:
    teller.true(PLAN, f"{place}, unit", "." not in row["unit"], row["unit"], "a unit")
    for end, value in zip(("low", "usual", "high"), expected, strict=True):
        off = SMALL * abs(value) + (cent if row["key"] == "cost-each" else 0.0)
        if row["key"] == "scrap":  # a small difference of two large numbers
            off = 0.004 * abs(value)
        teller.near(PLAN, f"{place}, {end}", row[end], value, off=off)


def _check_words(
    files: PlanFiles, counts: dict[str, Any], rows: dict[str, dict[str, Any]], place: str,
    teller: Teller,
) -> None:  # fmt: skip
    """Numbers in the words beside the figures."""
    copies = counts["quantity"]
    for key in ("rings", "joins"):
        told = re.match(r"(\d+) × (\d+)$", rows.get(key, {}).get("basis", ""))
        if told:
            each, times = (int(text) for text in told.groups())
            good = times == copies and each * times == round(rows[key]["usual"])
            teller.true(PLAN, f"{place}, {key}, basis", good, told.group(0), rows[key]["usual"])
    spare = re.match(r"([\d.]+)% of rings lost", rows.get("spare-rings", {}).get("basis", ""))
    if spare:
        lost = 100 * bad_share(Values(files))
        teller.near(PLAN, f"{place}, spare-rings, basis", float(spare.group(1)), lost, off=0.0501)
    puff = re.match(r"([\d.]+) L a pulse", rows.get("argon", {}).get("basis", ""))
    if puff:
        litres = costings(files)[counts["piece"]].pulses["puff_l"]
        teller.near(PLAN, f"{place}, argon, basis", float(puff.group(1)), litres, off=0.000501)


def _check_even(
    files: PlanFiles, name: str, rows: dict[str, dict[str, Any]], place: str, teller: Teller
) -> None:
    """Compare the copies from which a list price pays with the breaks; hallmarks, one a copy."""
    quote = next(row for row in files.estimates("quotes") if row["piece"] == name)
    even = rows.get("break-even")
    last = LAST_DIGIT * 10.0 ** -files.value("bench.money.decimals")
    if even is not None:
        same = even["low"] == even["usual"] == even["high"]
        teller.true(PLAN, f"{place}, break-even", same, even["low"], even["usual"])
        for row in files.of_piece("breaks", name):
            pays = as_number(row["cost_each"]) <= as_number(quote["price_each"]) + last
            if row["quantity"] == even["usual"]:
                teller.true(PLAN, f"{place}, break-even", pays, even["usual"], "a cost below price")
            early = row["quantity"] < even["usual"] and as_number(row["cost_each"]) < as_number(
                quote["price_each"]
            )
            teller.true(PLAN, f"{place}, break-even", not early, even["usual"], row["quantity"])
        told = re.match(r"list price ([\d.]+) ", even["basis"])
        if told:
            teller.same(PLAN, f"{place}, break-even, basis", told.group(1), quote["price_each"])
    mark = rows.get("hallmark")
    if mark is not None:
        values = {mark["low"], mark["usual"], mark["high"]}
        good = len(values) == 1 and values <= {0, quote["quantity"]}
        teller.true(PLAN, f"{place}, hallmark", good, sorted(values), "one a copy, or none")
        mass = re.match(r"hallmark needed: ([\d.]+) g", mark["basis"])
        if mass:
            teller.same(PLAN, f"{place}, hallmark", mark["usual"], quote["quantity"])


def _check_batch(files: PlanFiles, rows: dict[str, dict[str, Any]], teller: Teller) -> None:
    place = "estimates, figures, batch"
    costed = costings(files).values()
    gas = [sum(c.pulses[name] for c in costed) for name in ("gas_low", "gas", "gas_high")]
    expected: dict[str, Range] = {
        "hours": _hours(files, STATIONS),
        "argon": (gas[0], gas[1], gas[2]),
        **{f"load-{name}": _hours(files, (name,)) for name in STATIONS},
    }
    missing = sorted(expected.keys() - rows.keys())
    teller.true(PLAN, place, not missing, f"no {missing}", "every figure")
    for key, row in rows.items():
        if key in expected:
            _compare_figure(row, expected[key], f"{place}, {key}", teller)
            continue
        teller.true(PLAN, f"{place}, {key}, unit", "." not in row["unit"], row["unit"], "a unit")
        if not row["low"] == row["usual"] == row["high"]:
            teller.tell(PLAN, f"{place}, {key}", row["low"], row["usual"])
    _check_cylinder(files, rows, gas[1], place, teller)


def _check_cylinder(
    files: PlanFiles, rows: dict[str, dict[str, Any]], gas_l: float, place: str, teller: Teller
) -> None:
    """Argon in the cylinder: near the ideal gas, and consistent between the figures."""
    volume = files.value("bench.welder.cylinder_l")
    room_k = files.value("bench.heat.room_c") + 273.15

    def ideal_l(gauge_bar: float, kelvin: float) -> float:
        return volume * (gauge_bar + 1.01325) / 1.01325 * 288.15 / kelvin

    now, usable = rows["cylinder-now"]["usual"], rows["cylinder-usable"]["usual"]
    bar_now, bar_left, bar_full = (
        files.value(f"bench.welder.cylinder_{name}_bar") for name in ("now", "left", "full")
    )
    # Argon up to 300 bar packs up to a tenth denser than an ideal gas.
    for name, value, least in (
        ("cylinder-now", now, ideal_l(bar_now, room_k)),
        ("cylinder-usable", usable, ideal_l(bar_now, room_k) - ideal_l(bar_left, room_k)),
    ):
        good = 0.9 * least - 1 <= value <= 1.13 * max(least, 0.0) + 1
        teller.true(PLAN, f"{place}, {name}", good, value, f"about {least:.0f} l")
    left = now - usable
    expected = ideal_l(bar_left, room_k)
    if bar_left < 30 and usable > 0:
        teller.near(PLAN, f"{place}, cylinder-usable", left, expected, off=0.03 * expected)
    share = rows["cylinder-share"]["usual"]
    fresh = ideal_l(bar_full, 288.15) - expected
    good = gas_l / (1.13 * fresh) - 1e-6 <= share <= gas_l / (0.9 * fresh) + 1e-6
    teller.true(PLAN, f"{place}, cylinder-share", good, share, gas_l / fresh)
    full = gas_l / share + left if share > 0 else fresh
    if "smallest-room" in rows:
        # A full cylinder let out leaves 19.5 % of oxygen in the room: V·(1 − 19.5/20.95) = litres.
        room = rows["smallest-room"]["usual"]
        expected = full / 1000 / (1 - 19.5 / 20.946)
        teller.near(PLAN, f"{place}, smallest-room", room, expected, off=0.1 * expected)
    drop = rows["pressure-drop"]["usual"]
    if usable > gas_l > 0:
        near = (bar_now - bar_left) * gas_l / usable
        teller.near(PLAN, f"{place}, pressure-drop", drop, near, off=0.1 * near)
    joins = sum(
        row["quantity"] * sum(g["joins_in_place"] + g["joins_beforehand"] for g in row["groups"])
        for row in files.estimates("counts")
    )
    costed = costings(files).values()
    pulses = sum(c.pulses["usual"] for c in costed)
    puff = next(iter(costed)).pulses["puff_l"]
    a_join = pulses / joins * puff if joins else puff
    row = rows["joins-left"]
    good = abs(row["usual"] - usable / a_join) <= 1 + 1e-5 * row["usual"]
    teller.true(PLAN, f"{place}, joins-left", good, row["usual"], math.floor(usable / a_join))
    told = re.match(r"([\d.]+) L a join", row["basis"])
    if told:
        teller.near(PLAN, f"{place}, joins-left, basis", float(told.group(1)), a_join, off=0.000501)


@check("values have ranges in order")
def check_sources(files: PlanFiles, teller: Teller) -> None:
    """Low ≤ usual ≤ high of every value; bench settings and prices are single values."""
    for row in files.estimates("sources"):
        place = f"estimates, sources, {row['key']}"
        rising = row["low"] <= row["usual"] <= row["high"]
        teller.true(PLAN, place, rising, f"{row['low']}, {row['usual']}, {row['high']}", "rising")
        if row["key"].startswith(("bench.", "price.")):
            single = row["low"] == row["usual"] == row["high"]
            teller.true(PLAN, place, single, row["low"], row["usual"])
    for group, settings in files.plan.get("bench", {}).items():
        for name, value in settings.items():
            known = files.sources.get(f"bench.{group}.{name}")
            if known is not None:
                place = f"bench, {group}, {name}"
                teller.near(PLAN, place, float(value), known["usual"])
    for group in files.estimates("settings"):
        for row in group["figures"]:
            place = f"estimates, settings, {group['piece']}, {row['key']}"
            rising = row["low"] <= row["usual"] <= row["high"]
            text = f"{row['low']}, {row['usual']}, {row['high']}"
            teller.true(PLAN, place, rising, text, "rising")
