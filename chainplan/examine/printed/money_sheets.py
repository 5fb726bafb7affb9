"""Sheets of money, metal and sources: what each table should hold, from plan.json alone."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from chainplan.examine.findings import as_number
from chainplan.examine.printed.values import ALL, STATIONS, Expected, Near, TextPart

if TYPE_CHECKING:
    from chainplan.examine.reading import PieceFiles, PlanFiles


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
        usual = files.of_piece("times", piece.name)
        hours = {row["station"]: round(row["usual_min"] / 60, 4) for row in usual}
        for station in STATIONS:
            given = labour.get(f"labour: {station}")
            row = (
                _cost_row(given) if given else {"quantity": hours.get(station, 0.0), "amount": 0.0}
            )
            rows.append(known | {"item": f"labour: {station}", "rate": rate} | row)
    return rows


def _cost_row(line: dict[str, Any]) -> Expected:
    numbers = {name: as_number(line[name]) for name in ("quantity", "rate", "amount")}
    return {"item": line["item"], **numbers, "what it counts, as planned": line["source"] or None}


_WORKED_OUT = ("labour: ", "scrap back: ", "changes of setting", "wages beside labour")
"""Cost lines whose rate is worked out, not typed in."""


def inputs(files: PlanFiles) -> list[Expected]:
    """Prices by the cost lines that they belong to, then settings of the bench, in groups."""
    seen: dict[str, float] = {}
    for line in files.estimates("costs"):
        if not line["item"].startswith(_WORKED_OUT):
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
     "learning_percent set_up_min rework_s clean_min inspect_s finish_min fitting_min"),
    ("Welder", "welder", "flow_l_min pre_flow_s pulse_s post_flow_s smoothing_hits leak_l_h "
     "pulses_per_regrind regrinds_per_tip regrind_min mains_share idle_w"),
)  # fmt: skip


def drivers(files: PlanFiles) -> list[Expected]:
    """List what each input does to the cost."""
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
    """List what the batch and each piece take."""
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
    groups = [(c, group) for c in files.estimates("counts") for group in c["groups"]]
    for k, line in enumerate(files.estimates("wire"), 1):
        counts, group = groups[k - 1]
        joins = (group["joins_in_place"] + group["joins_beforehand"]) * counts["quantity"]
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
                "filler, g": group["filler_g"] * joins,
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
    """List what a piece is made of and uses."""
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
        "fittings before welding, a copy": _fitted(counts, "fitting"),
        "fittings after welding, a copy": _fitted(counts, "last fitting"),
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


def _fitted(counts: dict[str, Any], station: str) -> int:
    return sum(one["station"] == station for one in counts["fittings"])


_ABOUT = (
    "price", "money", "stations", "calendar", "wire", "welder", "electrode", "pace", "lead", "heat",
    "metal", "quote", "sheet",
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
            "value": _title(group, line["title"]),
            "low": line["low"] if spread else None,
            "usual": Near(round(line["usual"], 6), 1e-6),
            "high": line["high"] if spread else None,
            "source": TextPart(line["source"]),
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


def _title(group: str, title: str) -> TextPart:
    """Begin a value's name as the sheet does: metals go on in other words, prices by their key."""
    return TextPart("" if group == "price" else title.partition(": ")[0])


def _place(group: str, name: str) -> str:
    return f"bench: {group}, {name.replace('_', ' ')}"


def spent(files: PlanFiles) -> list[Expected]:
    """List what a begun job has taken and will take, beside its first plan."""
    rows = []
    for line in files.plan["replan"]["costs"]:
        first, taken, come = (as_number(line[name]) for name in ("first", "spent", "to_come"))
        rows.append(
            {
                "what": line["what"],
                "in": line["unit"],
                "first plan": first,
                "spent": taken,
                "to come": come,
                "together": as_number(line["together"]),
                "more than first planned": Near(taken + come - first, 0.0051),
            }
        )
    return rows
