"""What each table of the workbook should hold, from plan.json alone: a row a line, by heading."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chainplan.examine.findings import as_number

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.examine.reading import PieceFiles, PlanFiles

Expected = dict[str, Any]
"""Values by heading: a number, a text, a :class:`Said` time, or None for an empty cell."""
ALL = "all pieces"
_NONE = "none"
_ROWS_IN_SECTIONS = (
    ("smallest that weaves", "smallest_aspect_ratio"), ("how it will be", "verdict"),
    ("rows", "rows"), ("length, mm", "length_mm"), ("one repeat less, mm", "shorter_mm"),
    ("one repeat more, mm", "longer_mm"), ("rings per cm", "rings_per_cm"),
    ("width, mm", "width_mm"), ("thick, mm", "thickness_mm"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Said:
    """Seconds that stand in words; none at all as "none" where that is said."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Part:
    """A text that a cell begins with."""

    text: str


def day_number(date: str | None) -> float | None:
    """Count a date as workbooks do, in days from the end of 1899.

    Examples
    --------
    >>> day_number("1900-03-01"), day_number(None)
    (61.0, None)
    """
    if date is None:
        return None
    return float((datetime.date.fromisoformat(date) - datetime.date(1899, 12, 30)).days)


def _due_of(files: PlanFiles, name: str) -> dict[str, Any]:
    return next((row for row in files.estimates("due") if row["piece"] == name), {})


def summary(files: PlanFiles) -> list[Expected]:
    """Weight, price and date of each piece, and the sum of all."""
    rows = []
    for piece, quote in zip(files.pieces, files.estimates("quotes"), strict=True):
        mass = sum(section["mass_g"] for section in piece.record["sections"])
        price = as_number(quote["price_with_tax_each"])
        rows.append(
            {
                "piece": piece.name,
                "weight each": round(mass, 2) if mass > 0 else None,
                "copies": quote["quantity"],
                "price each, with tax": price,
                "of it tax": as_number(quote["tax_each"]),
                "all copies, with tax": quote["quantity"] * price,
                "ready by": day_number(_due_of(files, piece.name).get("done")),
            }
        )
    if len(rows) > 1:
        names = ("copies", "all copies, with tax")
        total = {name: math.fsum(row[name] for row in rows) for name in names}
        rows.append({"piece": ALL, **total})
    return rows


def workshop(files: PlanFiles) -> list[Expected]:
    """Joins, passes, time, warmth and dates of each piece."""
    rows = []
    for piece in files.pieces:
        order, due = piece.order, _due_of(files, piece.name)
        warmest = piece.steps["interpass_high_c"]
        late = due.get("late_days", 0)
        rows.append(
            {
                "piece": piece.name,
                "copies": piece.record["quantity"],
                "rings each": sum(s["rings"] for s in piece.record["sections"]),
                "joins to weld, each": len(piece.welded),
                "passes each": len(order["passes"]),
                "at the welder, each": Said(order["bench_time_s"]),
                "of it waiting": Said(float(piece.steps["wait_before_s"].sum())),
                "warmest before its weld": (
                    Near(float(warmest.max()), 0.551) if len(warmest) else None
                ),
                "wanted by": day_number(due.get("due")),
                "ready by": day_number(due.get("done")),
                "late": f"{late} {'day' if late == 1 else 'days'}" if late else "no",
            }
        )
    return rows


@dataclass(frozen=True, slots=True)
class Near:
    """A number that the other file has rounded."""

    value: float
    off: float


def pieces(files: PlanFiles) -> list[Expected]:
    """What each section counts, measures and weighs."""
    rows = []
    for piece in files.pieces:
        for number, section in enumerate(piece.record["sections"]):
            wire = [w for w in files.of_piece("wire", piece.name) if w["section"] == number]
            mandrel = wire[0]["mandrel_mm"] if wire else section["mandrel_mm"]
            row = {
                "piece": piece.name,
                "section": number + 1,
                "copies": piece.record["quantity"],
                "wire, mm": section["wire_mm"],
                "inside, mm": section["inner_mm"],
                "inside over wire": section["aspect_ratio"],
                "mandrel, mm": mandrel or None,
                "rings": section["rings"],
                "weight, g": section["mass_g"],
                "wire in the rings, m": section["wire_length_m"] if section["rings"] else None,
                "links": section["links"],
            }
            if section["weave"] != "loose-joins":
                row |= {heading: section[key] for heading, key in _ROWS_IN_SECTIONS}
            rows.append(row)
    return rows


def passes(files: PlanFiles) -> list[Expected]:
    """List the passes, with the words that the assistant follows."""
    return [
        {
            "piece": piece.name,
            "pass": item["number"],
            "what to do": item["text"].split(f", {item['joins']} join")[0],
            "joins": item["joins"],
            "power to try": item["setting"]["power_j"],
            "hits": item["setting"]["hits"],
            "tip": item["setting"]["tip"],
            "time": Said(item["seconds"]),
            "of it waiting": Said(item["wait_s"]),
        }
        for piece in files.pieces
        for item in piece.order["passes"]
    ]


def settings(files: PlanFiles) -> list[Expected]:
    """List the settings to try first."""
    rows = []
    for line in files.estimates("settings"):
        power = next((f for f in line["figures"] if f["key"] == "pulse-power"), None)
        rows.append(
            {
                "piece": line["piece"],
                "section": line["section"] + 1,
                "wire, mm": line["wire_mm"],
                "power": line["setting"]["power_j"],
                "likely between": (
                    f"{power['low']:.0f} – {power['high']:.0f} J" if power is not None else None
                ),
                "hits": line["setting"]["hits"],
                "tip": line["setting"]["tip"],
                "where from": line["setting"]["source"],
                "steps": "\n".join(line["steps"]) or None,
                "cautions": "\n".join(f"• {text}" for text in line["cautions"]) or None,
            }
        )
    return rows


def buy_list(files: PlanFiles) -> list[Expected]:
    """What to buy, and what it costs together."""
    rows, prices = [], []
    for line in files.estimates("buy"):
        price = as_number(line["price"])
        row = {
            "item": ("▸ " if line["to_buy"] > 0 else "") + line["item"],
            f"price, {files.plan['estimates']['currency']}": price if price > 0 else None,
            "left over": line["left"],
            "note": line["note"] or None,
        }
        row |= {h: line[h.replace(" ", "_")] for h in ("needed", "in stock", "to buy", "packs")}
        rows.append(row)
        prices += [price] if price > 0 else []
    if prices:
        currency = files.plan["estimates"]["currency"]
        rows.append({"item": "all that has a price", f"price, {currency}": math.fsum(prices)})
    return rows


def hours(files: PlanFiles) -> list[Expected]:
    """Hours at each station, and together."""
    figures = files.plan["estimates"]["figures"].get("", [])
    wanted = [f for f in figures if f["key"].startswith("load-") and f["high"] > 0]
    rows = [_range(ALL, f["key"].removeprefix("load-"), f, ", h", "") for f in wanted]
    total = [f for f in figures if f["key"] == "hours"]
    return rows + [_range(ALL, "all stations", f, ", h", "") for f in total] if rows else []


def minutes(files: PlanFiles) -> list[Expected]:
    """Minutes of each piece at each station."""
    return [
        {
            **_range(line["piece"], line["station"], line, ", min", "_min"),
            "what it counts": line["basis"] or None,
        }
        for line in files.estimates("times")
        if line["high_min"] > 0
    ]


def _range(piece: str, station: str, line: dict[str, Any], unit: str, key: str) -> Expected:
    ends = {f"{end}{unit}": line[f"{end}{key}"] for end in ("low", "usual", "high")}
    return {"piece": piece, "station": station, **ends}


def dates(files: PlanFiles) -> list[Expected]:
    """When each piece is ready."""
    return [
        {
            "piece": row["piece"],
            "wanted by": day_number(row["due"]),
            "work done": day_number(row["worked"]),
            "weekdays at the assay office": row["hallmark_days"],
            "ready by": day_number(row["done"]),
            "days late": row["late_days"],
            "chance to be in time": row["chance_in_time"],
        }
        for row in files.estimates("due")
    ]


def calendar(files: PlanFiles) -> list[Expected]:
    """Who works on what when."""
    rows = []
    for line in files.estimates("calendar"):
        row = {
            "who": line["person"], "piece": line["piece"], "station": line["station"],
            "hours": line["hours"],
        }  # fmt: skip
        if line["start"] is None:
            row |= {"from, h": line["start_h"], "to, h": line["end_h"]}
        else:
            start = datetime.datetime.fromisoformat(line["start"])
            end = datetime.datetime.fromisoformat(line["end"])
            same = start.date() == end.date()
            row |= {
                "day": f"{start:%a %Y-%m-%d}",
                "from": f"{start:%H:%M}",
                "to": f"{end:%H:%M}" if same else f"{end:%a %d %H:%M}",
            }
        rows.append(row)
    return rows


def price(files: PlanFiles) -> list[Expected]:
    """Cost and price of each piece."""
    rows = []
    for number, line in enumerate(files.estimates("quotes"), 1):
        cost, asked = as_number(line["cost_each"]), as_number(line["price_each"])
        rows.append(
            {
                "piece no.": number,
                "piece": line["piece"],
                "copies": line["quantity"],
                "cost, all copies": as_number(line["cost"]),
                "cost each": cost,
                "price each, before tax": asked,
                "tax each": as_number(line["tax_each"]),
                "price each, with tax": as_number(line["price_with_tax_each"]),
                "left above cost, each": asked - cost,
                "of the price": (asked - cost) / asked if asked else 0.0,
                "by torch, cost each": as_number(line["torch_cost_each"]),
            }
        )
    total = {"copies": sum(row["copies"] for row in rows)}
    total |= {"cost, all copies": math.fsum(row["cost, all copies"] for row in rows)}
    return [*rows, {"piece": ALL, **total}] if rows else []


def cost(files: PlanFiles) -> list[Expected]:
    """Cost line by line: what is bought, then labour at every station, as the stations go."""
    rows = []
    for number, piece in enumerate(files.pieces, 1):
        lines = files.of_piece("costs", piece.name)
        bought = [line for line in lines if not line["item"].startswith("labour: ")]
        labour = {line["item"]: line for line in lines if line["item"].startswith("labour: ")}
        known = {"piece no.": number, "piece": piece.name}
        rows += [known | _cost_row(line) for line in bought]
        rate = files.value("bench.money.labour_per_hour")
        for station in STATIONS:
            given = labour.get(f"labour: {station}")
            row = _cost_row(given) if given else {"amount": 0.0}
            rows.append(known | {"item": f"labour: {station}", "rate": rate} | row)
    return rows


STATIONS = (
    "coil", "cut", "tumble", "pre-close", "weave", "set up", "weld", "rework", "clean", "inspect",
    "finish",
)  # fmt: skip


def _cost_row(line: dict[str, Any]) -> Expected:
    numbers = {name: as_number(line[name]) for name in ("quantity", "rate", "amount")}
    return {"item": line["item"], **numbers, "what it counts, as planned": line["source"] or None}


def inputs(files: PlanFiles) -> list[Expected]:
    """Prices by the cost lines that they belong to, then settings of the bench, in groups."""
    seen: dict[str, float] = {}
    for line in files.estimates("costs"):
        if not line["item"].startswith(("labour: ", "scrap back: ")):
            seen.setdefault(line["item"], as_number(line["rate"]))
    rows: list[Expected] = [{"input": "Prices"}]
    rows += [{"input": item, "value": rate} for item, rate in seen.items()]
    for title, group, names in _INPUTS:
        rows.append({"input": title})
        for name in names.split():
            value = files.value(f"bench.{group}.{name}")
            rows.append({"input": name.replace("_", " "), "value": value})
    return rows


_INPUTS = (
    ("Money", "money", "labour_per_hour margin_percent tax_percent scrap_back_percent"),
    ("Rings and wire", "wire", "join_yield ring_scrap replaced_share kerf_mm mandrel_length_mm "
     "coil_end_scrap_mm rings_per_blade"),
    ("Times", "stations", "coil_min cut_s tumble_min tumble_rings weave_ring_s weave_link_s "
     "learning_percent set_up_min rework_s clean_min inspect_s finish_min"),
    ("Welder", "welder", "flow_l_min pre_flow_s pulse_s post_flow_s smoothing_hits leak_l_h "
     "pulses_per_regrind regrinds_per_tip regrind_min mains_share idle_w"),
)  # fmt: skip


def drivers(files: PlanFiles) -> list[Expected]:
    """What each input does to the cost."""
    rows = []
    for line in files.estimates("drivers"):
        low, usual, high = (as_number(line[f"cost_{e}_each"]) for e in ("low", "usual", "high"))
        rows.append(
            {
                "piece": line["piece"],
                "input": line["driver"],
                "one way": line["low_input"],
                "cost each, one way": low,
                "cost each, as planned": usual,
                "other way": line["high_input"],
                "cost each, other way": high,
                "moves it by": abs(high - low),
            }
        )
    return rows


def more_copies(files: PlanFiles) -> list[Expected]:
    """Cost and price of one copy when more are made in one go."""
    by_piece: dict[str, dict[int, dict[str, Any]]] = {}
    for line in files.estimates("breaks"):
        by_piece.setdefault(line["piece"], {})[line["quantity"]] = line
    shared = sorted(set.intersection(*map(set, by_piece.values()))) if by_piece else []
    return [
        {
            "piece": piece,
            "of one": what,
            **{
                f"{n} {'copy' if n == 1 else 'copies'}": as_number(lines[n][what.replace(" ", "_")])
                for n in shared[:9]
            },
        }
        for piece, lines in by_piece.items()
        for what in ("cost each", "price each")
    ]


def torch(files: PlanFiles) -> list[Expected]:
    """List the same pieces soldered by torch."""
    rows = []
    quotes = {quote["piece"]: quote for quote in files.estimates("quotes")}
    for line in files.estimates("torch"):
        back = line["copies_to_pay_back"]
        rows.append(
            {
                "piece": line["piece"],
                "rounds by torch": line["rounds"],
                "by torch, h": line["hours"],
                "at the welder, h": line["weld_hours"],
                "days in all, by torch": line["working_days"],
                "cost each, by torch": as_number(line["cost_each"]),
                "cost each, welded": as_number(quotes[line["piece"]]["cost_each"]),
                "saved each": as_number(line["saved_each"]),
                "copies that pay the welder": f"{back:,}".replace(",", " ") if back else "–",
            }
        )
    return rows


def figures(files: PlanFiles) -> list[Expected]:
    """What the batch and each piece take."""
    rows = []
    for piece, found in files.plan["estimates"]["figures"].items():
        for item in found:
            if item["key"].startswith("load-"):
                continue
            spread = not item["low"] == item["usual"] == item["high"]
            rows.append(
                {
                    "piece": piece or ALL,
                    "figure": item["title"],
                    "low": item["low"] if spread else None,
                    "usual": item["usual"],
                    "high": item["high"] if spread else None,
                    "how it comes about": item["basis"] or None,
                }
            )
    return rows


def wire(files: PlanFiles) -> list[Expected]:
    """Wire and metal of each size of ring."""
    rows = []
    numbers = {piece.name: k for k, piece in enumerate(files.pieces, 1)}
    metals: dict[str, int] = {}
    for k, line in enumerate(files.estimates("wire"), 1):
        metals.setdefault(line["metal"], len(metals) + 1)
        cut = line["rings"] + line["spare_rings"] - line["rings_from_stock"]
        density = files.value(f"metal.{line['metal']}.density_g_cm3")
        rows.append(
            {
                "group": k,
                "piece": line["piece"],
                "piece no.": numbers[line["piece"]],
                "metal no.": metals[line["metal"]],
                "wire, mm": line["wire_mm"],
                "inside, mm": line["inner_mm"],
                "rings": line["rings"],
                "from the shelf": line["rings_from_stock"],
                "spare rings": line["spare_rings"],
                "to cut": cut,
                "coils": line["coils"],
                "wire, g/m": math.pi / 4 * line["wire_mm"] ** 2 * density,
                "wire to coil, mm": 1000 * line["wire_length_m"],
                "in the piece, g": line["mass_in_piece_g"],
                "metal used, g": line["mass_used_g"],
                "scrap, g": Near(line["scrap_g"], 1e-5 * line["mass_used_g"]),
            }
        )
    return rows


def spares(files: PlanFiles) -> list[Expected]:
    """Spare rings of each size of ring, and the chances with them."""
    estimates = files.plan["estimates"]
    return [
        {
            "group": k,
            "piece": line["piece"],
            "wire, mm": line["wire_mm"],
            "inside, mm": line["inner_mm"],
            "rings": line["rings"],
            "share lost": estimates["lost_share"],
            "wanted chance": 1 - estimates["short_risk_each"],
            "spare rings": line["spare_rings"],
            "chance with them": 1 - line["shown_risk"],
            "with one fewer": 1 - line["fewer_risk"],
        }
        for k, line in enumerate(files.estimates("wire"), 1)
    ]


def piece_workings(files: PlanFiles) -> list[Expected]:
    """What a piece is made of and uses."""
    return [_piece_row(files, piece, k) for k, piece in enumerate(files.pieces, 1)]


def _piece_row(files: PlanFiles, piece: PieceFiles, number: int) -> Expected:
    (counts,) = files.of_piece("counts", piece.name)
    lines = files.of_piece("wire", piece.name)
    known = {item["key"]: item["usual"] for item in files.plan["estimates"]["figures"][piece.name]}
    usual = {row["station"]: row["usual_min"] for row in files.of_piece("times", piece.name)}
    groups, copies = counts["groups"], counts["quantity"]
    joins = [group["joins_in_place"] + group["joins_beforehand"] for group in groups]
    hits = [n * group["hits"] for n, group in zip(joins, groups, strict=True)]
    handle, extra = (files.value(f"bench.pace.{name}_s") for name in ("handle", "extra_hit"))
    woven = [group for group in groups if group["links"] > 0]
    cut = sum(row["rings"] + row["spare_rings"] - row["rings_from_stock"] for row in lines)
    return {
        "piece no.": number,
        "piece": piece.name,
        "copies": copies,
        "joins a copy": sum(joins),
        "pulses at first try": copies * sum(hits),
        "set energy, J": copies
        * math.fsum(n * group["power_j"] for n, group in zip(hits, groups, strict=True)),
        "weld order, s a copy": counts["weld_s"],
        "groove and fill, s a copy": math.fsum(
            n * group["filler_s"] for n, group in zip(joins, groups, strict=True)
        ),
        "closed before, s a copy": math.fsum(
            group["joins_beforehand"] * (handle + (group["hits"] - 1) * extra) for group in groups
        ),
        "rings woven, a copy": sum(group["rings"] for group in woven),
        "links woven, a copy": sum(group["links"] for group in woven),
        "clasps a copy": counts["clasps"],
        "rings cut": cut,
        "coils": sum(row["coils"] for row in lines),
        "pulses": known["pulses"],
        "argon, L": known["argon"],
        "regrinds": known["regrinds"],
        "tips": known["tips"],
        "electricity, kWh": known["electricity"],
        "bench, h": known["hours"],
        **{f"{station}, min": usual[station] for station in STATIONS if station in usual},
    }


_ABOUT = (
    "price", "money", "stations", "calendar", "wire", "welder", "electrode", "pace", "heat", "metal",
)  # fmt: skip
"""What the sheet of sources is about, in its order."""


def sources(files: PlanFiles) -> list[Expected]:
    """Values that the plan rests on; those of the heat model, which follow, stand here alone."""
    found: dict[str, list[Expected]] = {about: [] for about in _ABOUT}
    for line in files.estimates("sources"):
        group, _, rest = line["key"].partition(".")
        about = rest.partition(".")[0] if group == "bench" else group
        spread = not line["low"] == line["usual"] == line["high"]
        row = {
            "about": about,
            "low": line["low"] if spread else None,
            "usual": Near(round(line["usual"], 6), 1e-6),
            "high": line["high"] if spread else None,
            "source": Part(line["source"]),
        }
        if group == "bench":
            row["on the job's sheets"] = _place(*rest.split("."))
        found[about].append(row)
    for group, values in files.plan["bench"].items():
        for name, value in values.items():
            if isinstance(value, str) and f"bench.{group}.{name}" not in files.sources:
                place = _place(group, name)
                words = {"about": group, "usual": value or None, "on the job's sheets": place}
                found[group].append(words)
    return [row for about in _ABOUT for row in found[about]]


def _place(group: str, name: str) -> str:
    return f"bench: {group}, {name.replace('_', ' ')}"


TABLES: dict[str, tuple[Callable[[PlanFiles], list[Expected]], ...]] = {
    "summary": (summary,), "workshop": (workshop,), "pieces": (pieces,), "passes": (passes,),
    "settings to try": (settings,), "buy list": (buy_list,), "time": (hours, minutes),
    "dates": (dates,), "calendar": (calendar,), "price": (price,), "cost": (cost,),
    "inputs": (inputs,), "more copies": (more_copies,), "cost drivers": (drivers,),
    "by torch": (torch,), "what it takes": (figures,), "wire workings": (wire,),
    "piece workings": (piece_workings,), "spare rings": (spares,), "sources": (sources,),
}  # fmt: skip
"""The tables of each sheet that every workbook has."""
