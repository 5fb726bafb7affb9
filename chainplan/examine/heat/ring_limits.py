"""How warm rings may be before their welds: the user's own limit, and what their metals ask for.

A limit for even welds is reckoned anew, ``room + warm share · (solidus − room)``, for every metal
of a piece; what a metal does (darkens, softens …) is taken from its row of the limits. Each holds
for the rings of the metal that it names, the user's own for all.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

RING_KINDS = ("interpass", "metal", "even welds")
"""Kinds of limits that hold for a ring before its weld."""
PLAN = "plan.json"


@dataclass(frozen=True)
class FoundLimit:
    """One limit, and the steps whose rings it holds for."""

    kind: str
    name: str
    limit_c: float
    steps: BoolArray  # (k,)
    row: dict[str, Any] | None  # of the plan's limits; None: it is nowhere the least there


def metal_title(key: str) -> str:
    """Name of a metal in the names of its limits."""
    return key.replace("-", " ")


def list_limits(files: PlanFiles, piece: PieceFiles, teller: Teller) -> list[FoundLimit]:
    """List the limits of a piece's rings; tells rows that are missing, wrong or unknown."""
    rows = {(r["kind"], r["name"]): r for r in piece.order["limits"] if r["kind"] in RING_KINDS}
    metals, of_ring = piece.coded("metal")
    metal = of_ring[piece.welded]
    room, share = files.value("bench.heat.room_c"), files.value("bench.heat.warm_share")
    own_c, reserve = (
        files.value(f"bench.heat.{name}") for name in ("highest_interpass_c", "reserve_k")
    )
    found = []
    if own_c > 0:
        own_c -= reserve
        every = np.ones(len(metal), dtype=bool)
        row = rows.pop(("interpass", "interpass"), None)
        found.append(FoundLimit("interpass", "interpass", own_c, every, row))
    for number, key in enumerate(metals):
        own = metal == number
        if not own.any():
            continue
        title = metal_title(key)
        if share > 0:
            limit = room + share * (files.value(f"metal.{key}.solidus_c") - room) - reserve
            row = rows.pop(("even welds", f"even welds, {title}"), None)
            if row is not None:
                _check_why(files, key, row, teller)
            found.append(FoundLimit("even welds", f"even welds, {title}", limit, own, row))
        for kind, name in list(rows):
            if kind == "metal" and name.endswith(f", {title}"):
                row = rows.pop((kind, name))
                found.append(FoundLimit(kind, name, row["limit_c"], own, row))
    for _, name in rows:
        teller.tell(PLAN, f"{piece.name}, limits, {name}", "holds for no ring", "a metal of it")
    least = least_limit_c(found, len(metal))
    for item in found:
        tells = item.steps & (item.limit_c <= least + 1e-6)
        if item.row is None and tells.any():
            teller.tell(PLAN, f"{piece.name}, limits", f"no {item.name}", f"{item.limit_c:.1f} °C")
    return found


def _check_why(files: PlanFiles, metal: str, row: dict[str, Any], teller: Teller) -> None:
    """Compare both shares in the reason of a limit for even welds."""
    names = ("solidus_c", "liquidus_c", "specific_heat_j_kg_k", "latent_heat_kj_kg")
    solidus, liquidus, cold, latent = (files.value(f"metal.{metal}.{name}") for name in names)
    mean = files.value(f"metal.{metal}.mean_specific_heat_j_kg_k")
    room, share = files.value("bench.heat.room_c"), files.value("bench.heat.warm_share")
    to_melt = (cold if math.isnan(mean) else mean) * (liquidus - room) + 1000 * latent
    melt = 100 * share * (solidus - room) * cold / to_melt
    told = re.search(
        r"up to (\d+)% of the way from room to solidus, which is (\d+)% of", row["why"]
    )
    good = told is not None and abs(int(told[1]) - 100 * share) < 0.51
    good = good and told is not None and abs(int(told[2]) - melt) < 0.51
    teller.true(PLAN, f"limits, {row['name']}, why", good, row["why"], f"{share:.0%}, {melt:.1f} %")


def least_limit_c(limits: list[FoundLimit], steps: int) -> FloatArray:
    """Least limit of each step's ring; infinite where there is none. [°C]."""
    least = np.full(steps, np.inf)
    for item in limits:
        least[item.steps] = np.minimum(least[item.steps], item.limit_c)
    return least


def may_break(piece: PieceFiles, name: str) -> bool:
    """Whether a limit has been set aside by name, or the order is said to keep not all of them."""
    aside = {item["name"] for item in piece.order["set_aside"]}
    return name in aside or (not aside and piece.order["status"] == "infeasible")
