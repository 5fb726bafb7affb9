"""Sheets of pieces, passes and dates: what each table should hold, from plan.json alone."""

from __future__ import annotations

import datetime
import math
from typing import TYPE_CHECKING, Any

from chainplan.examine.findings import as_number
from chainplan.examine.printed.values import ALL, Expected, Near, SpokenSeconds, day_number

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.examine.reading import PlanFiles

_ROWS_IN_SECTIONS = (
    ("smallest that weaves", "smallest_aspect_ratio"), ("how it will be", "verdict"),
    ("rows", "rows"), ("length, mm", "length_mm"), ("one repeat less, mm", "shorter_mm"),
    ("one repeat more, mm", "longer_mm"), ("rings per cm", "rings_per_cm"),
    ("width, mm", "width_mm"), ("thick, mm", "thickness_mm"),
)  # fmt: skip


def _due_of(files: PlanFiles, name: str) -> dict[str, Any]:
    return next((row for row in files.estimates("due") if row["piece"] == name), {})


def summary(files: PlanFiles) -> list[Expected]:
    """Weight, price and date of each piece, and the sum of all."""
    rows = []
    for piece, quote in zip(files.pieces, files.estimates("quotes"), strict=True):
        mass = sum(section["mass_g"] for section in piece.record["sections"])
        mass += sum(item["mass_g"] or 0.0 for item in piece.record["fittings"])
        price = as_number(quote["price_with_tax_each"])
        rows.append(
            {
                "piece": piece.name,
                "weight each": Near(mass, 0.00501 + 1e-5 * mass) if mass > 0 else None,
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
    """List joins, passes, time, warmth and dates of each piece."""
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
                "at the welder, each": SpokenSeconds(order["bench_time_s"]),
                "of it waiting": SpokenSeconds(float(piece.steps["wait_before_s"].sum())),
                "warmest before its weld": (
                    Near(float(warmest.max()), 0.551) if len(warmest) else None
                ),
                "wanted by": day_number(due.get("due")),
                "ready by": day_number(due.get("done")),
                "late": f"{late} {'day' if late == 1 else 'days'}" if late else "no",
            }
        )
    return rows


def pieces(files: PlanFiles) -> list[Expected]:
    """List what each section counts, measures and weighs."""
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
            if section["weave"] not in ("loose-joins", "connecting-rings"):
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
            "time": SpokenSeconds(item["seconds"]),
            "of it waiting": SpokenSeconds(item["wait_s"]),
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
    """List what to buy, and what it costs together."""
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
            "new hand from, min": line["new_least_min"],
            "to, min": line["new_most_min"],
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
    """Who works on what, by day and person; hours without dates."""
    if files.plan["start_date"] is None:
        return [
            {
                "who": line["person"], "piece": line["piece"], "station": line["station"],
                "hours": line["hours"], "from, h": line["start_h"], "to, h": line["end_h"],
            }
            for line in files.estimates("calendar")
        ]  # fmt: skip
    rows: list[Expected] = []
    for block in files.plan["schedule"]["blocks"]:
        start, end = (datetime.datetime.fromisoformat(block[key]) for key in ("start", "end"))
        rows.append(
            {
                "day": f"{start:%a %Y-%m-%d}",
                "who": block["person"],
                "from": f"{start:%H:%M}",
                "to": f"{end:%H:%M}",
                "what": told_of(block),
                "hours": (end - start).total_seconds() / 3600,
            }
        )
    return rows


def told_of(block: Mapping[str, Any]) -> str:
    """Say what is done in a block, as sheets, calendar and pages say it."""
    return "; ".join(f"{', '.join(work['stations'])}: {work['piece']}" for work in block["work"])
