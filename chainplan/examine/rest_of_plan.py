"""The rest of a plan that was made again: nothing welded is asked for, nothing open left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.findings import as_number
from chainplan.examine.reading import PLAN, STEPS
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles


_ALL = "all stations"
ROUNDED_S = 0.11
"""Starts are written to a tenth of a second."""


@check("the rest asks for every open join once")
def check_rest(files: PlanFiles, teller: Teller) -> None:
    """Compare the turns of each copy with what the plan says is welded; whole plans pass."""
    if "replan" not in files.plan:
        return
    batch, welded = files.plan["order"]["batch"], files.plan["replan"]["welded"]
    rows = list(
        zip(batch["piece"], batch["copy"], batch["first_step"], batch["steps"], strict=True)
    )
    for piece in files.pieces:
        open_joins = int((piece.rings["closed_beforehand"] == "no").sum())
        ring = piece.welded
        twice = len(ring) != len(np.unique(ring))
        teller.true(STEPS, f"{piece.name}, ring", not twice, "a ring twice", "each ring once")
        steps, rows_s = piece.steps["row_step"], piece.steps["row_start_s"]
        follows = np.diff(steps) == 1
        off_s = np.abs(np.diff(rows_s) - np.diff(piece.steps["start_s"]))[follows]
        teller.true(
            STEPS,
            f"{piece.name}, start_s",
            not (off_s > ROUNDED_S).any(),
            "another time between rows that follow each other",
            "that of their pace",
        )
        teller.true(STEPS, f"{piece.name}, step", bool((np.diff(steps) > 0).all()),
                    "steps out of order", "rising numbers")  # fmt: skip
        done = welded.get(piece.name, [])
        for copy in range(1, int(piece.record["quantity"]) + 1):
            asked = [
                ring[first : first + count]
                for name, number, first, count in rows
                if (name, number) == (piece.name, copy)
            ]
            rings = np.concatenate(asked) if asked else ring[:0]
            where = f"batch, {piece.name}, copy {copy}"
            alone = len(np.unique(rings)) == len(rings)
            teller.true(PLAN, where, alone, "a join asked for twice", "each join once")
            left = open_joins - (done[copy - 1] if copy <= len(done) else 0)
            teller.same(PLAN, f"{where}, joins left", len(rings), left)


@check("spent and to come add up")
def check_costs(files: PlanFiles, teller: Teller) -> None:
    """Stations add up to their sum, labour follows from it, and all of it to the cost."""
    if "replan" not in files.plan:
        return
    replan = files.plan["replan"]
    rows = {row["what"]: row for row in replan["costs"]}
    stations = [row for name, row in rows.items() if row["unit"] == "min" and name != _ALL]
    rate = as_number(files.plan["bench"]["money"]["labour_per_hour"])
    rates = {"first": as_number(replan["first"]["labour_per_hour"]), "spent": rate, "to_come": rate}
    for name, row in rows.items():
        whole = as_number(row["spent"]) + as_number(row["to_come"])
        teller.near(PLAN, f"replan, costs, {name}", as_number(row["together"]), whole, off=0.0101)
        for column in ("first", "spent"):
            value = as_number(row[column])
            teller.true(PLAN, f"replan, costs, {name}", value >= 0, value, "no less than nothing")
    for column, each in rates.items():
        place = f"replan, costs, {column}"
        minutes = sum(as_number(row[column]) for row in stations)
        told = as_number(rows[_ALL][column])
        teller.near(PLAN, f"{place}, {_ALL}", told, minutes, off=0.0051 * (len(stations) + 1))
        labour = as_number(rows["labour"][column])
        lines = len(files.estimates("times")) if column == "first" else 1  # each rounded
        off = 0.0051 * lines + each * 0.0051 / 60
        teller.near(PLAN, f"{place}, labour", labour, told / 60 * each, off=off)
        cost = labour + as_number(rows["all other costs"][column])
        job = as_number(rows["cost of the job"][column])
        teller.near(PLAN, f"{place}, cost of the job", job, cost, off=0.0101)
    for row in stations:
        first = as_number(replan["first"]["minutes"].get(row["what"], 0.0))
        place = f"replan, costs, {row['what']}, first"
        teller.near(PLAN, place, as_number(row["first"]), first, off=0.0051)
    job = as_number(rows["cost of the job"]["first"])
    teller.near(PLAN, "replan, first, cost", as_number(replan["first"]["cost"]), job, off=0.0051)


@check("metal spent and to come is the wire, metal by metal")
def check_metals(files: PlanFiles, teller: Teller) -> None:
    """Each metal's grams and money are those of all its wire; of a copy begun all is spent."""
    if "replan" not in files.plan:
        return
    replan = files.plan["replan"]
    rows = {row["what"]: row for row in replan["costs"]}
    used: dict[str, list[float]] = {}
    for need in files.estimates("wire"):
        done = replan["welded"].get(need["piece"], [])
        begun = sum(count > 0 for count in done) / max(len(done), 1)
        mass_g = as_number(need["mass_used_g"])
        whole = used.setdefault(need["metal"], [0.0, 0.0])
        whole[0] += mass_g
        whole[1] += mass_g * begun
    grams = [row for row in rows.values() if row["unit"] == "g"]
    teller.same(PLAN, "replan, costs, metals", len(grams), len(used))
    for row, (whole_g, begun_g) in zip(grams, used.values(), strict=False):
        place = f"replan, costs, {row['what']}"
        teller.near(PLAN, place, as_number(row["together"]), whole_g, off=0.0151)
        spent_g = as_number(row["spent"])
        enough = begun_g - 0.0051 <= spent_g <= whole_g + 0.0051
        teller.true(PLAN, f"{place}, spent", enough, spent_g, f"{begun_g:.2f} to {whole_g:.2f}")
    money: dict[str, float] = {}
    for line in files.estimates("costs"):
        kind, _, of = line["item"].partition(": ")
        name = of.rsplit(" ", 2)[0] if kind == "wire premium" else of
        if kind in {"metal", "wire premium", "scrap back"}:
            money[f"of these {name}"] = money.get(f"of these {name}", 0.0) + as_number(
                line["amount"]
            )
    told = {name: row for name, row in rows.items() if name.startswith("of these ")}
    teller.same(PLAN, "replan, costs, metals with a price", sorted(told), sorted(money))
    for name in told.keys() & money.keys():
        amount = as_number(told[name]["together"])
        teller.near(PLAN, f"replan, costs, {name}", amount, money[name], off=0.0101)
