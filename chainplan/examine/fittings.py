"""Fittings as they are told: where they stand, what they touch, what they cost and weigh."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.money.costing import Values, price_of_fitting
from chainplan.examine.reading import PLAN, RINGS
from chainplan.examine.registry import check
from chainplan.examine.space.geometry import point_to_circle_mm

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

OFF_MM = 0.01
"""Places are written to six digits, rings to a ten-thousandth of a millimetre."""


@check("fittings stand where rings hold them")
def check_places(files: PlanFiles, teller: Teller) -> None:
    """Each is as long as it is said, pulled at the inside of its rings, and named beside them."""
    for piece in files.pieces:
        told: list[list[str]] = [[] for _ in range(piece.count)]
        rows = [s["fitting"] for s, row in _sections(piece) if row]
        for number, item in enumerate(piece.record["fittings"], 1):
            place = f"{piece.name}, fittings, {item['name']}"
            extra = item["kind"] == "extra"
            teller.same(PLAN, f"{place}, where", bool(item["where"]), not extra)
            if extra:
                teller.same(PLAN, f"{place}, rings", item["rings"], [])
                continue
            good = bool(item["rings"]) and all(0 < n <= piece.count for n in item["rings"])
            teller.true(PLAN, f"{place}, rings", good, item["rings"], "its rings")
            if not good:
                continue
            for ring in item["rings"]:
                told[ring - 1].append(item["name"])
            _check_body(piece, item, place, teller)
            wanted = sum(
                int(np.count_nonzero(piece.rings["section"] == n))
                for n, (section, row) in enumerate(_sections(piece), 1)
                if row and section["fitting"] == number
            )
            teller.same(PLAN, f"{place}, connecting_rings", item["connecting_rings"], wanted)
            has = rows.count(number)
            teller.same(PLAN, f"{place}, sections", has, int(item["connecting_rings"] > 0))
        found = piece.rings["fitting"].tolist()
        for row, names in enumerate(told):
            if found[row] != ", ".join(names):
                place = f"{piece.name}, ring {row + 1}, fitting"
                teller.tell(RINGS, place, found[row], ", ".join(names) or "nothing")
        _check_parts(piece, teller)


def _sections(piece: PieceFiles) -> list[tuple[dict[str, Any], bool]]:
    return list(zip(piece.record["sections"], piece.connecting, strict=True))


def _check_body(piece: PieceFiles, item: dict[str, Any], place: str, teller: Teller) -> None:
    """Compare a fitting's length with its ends, and where its rings pull."""
    ends = np.array([item["from_mm"], item["to_mm"]], dtype=float)
    long = float(np.linalg.norm(ends[1] - ends[0]))
    teller.near(PLAN, f"{place}, length_mm", item["length_mm"], long, off=OFF_MM)
    sections = piece.rings["section"]
    for ring in item["rings"]:
        row = ring - 1
        if not piece.connecting[int(sections[row]) - 1]:
            continue  # the weave's own rings of an end, of which the outermost pulls
        away = point_to_circle_mm(
            ends, piece.centre_mm[row], piece.normal[row], piece.radius_mm[row]
        )
        off = abs(float(away.min()) - float(piece.wire_mm[row]) / 2)
        text = f"{off:.3f} mm off the inside of ring {ring}"
        teller.true(PLAN, f"{place}, from_mm, to_mm", off < OFF_MM, text, "pulled there")


def _check_parts(piece: PieceFiles, teller: Teller) -> None:
    """Look for a part, touched by its rings, where a fitting has a limit and is there in time."""
    wanted = {
        (item["name"], item["limit_c"], tuple(item["rings"]))
        for item in piece.record["fittings"]
        if item["limit_c"] is not None and item["fitted"] == "before welding"
    }
    parts = [part for part in piece.record["parts"] if part["stand"] is not None]
    found = {(part["name"], part["limit_c"], tuple(part["stand"]["rings"])) for part in parts}
    teller.same(PLAN, f"{piece.name}, parts", sorted(found), sorted(wanted))
    nodes = piece.record["heat"]["parts"]
    for name, limit_c, rings in sorted(found):
        touched = [tuple(sorted(n["rings"])) for n in nodes if n["name"] == name]
        place = f"{piece.name}, heat, parts, {name} ({limit_c:g} °C)"
        teller.true(PLAN, place, tuple(sorted(rings)) in touched, touched, list(rings))


@check("fittings are counted, bought and priced")
def check_counts(files: PlanFiles, teller: Teller) -> None:
    """Compare counts, buy list and what has no price with the fittings of the pieces."""
    values = Values(files)
    needed: dict[str, int] = {}
    for piece, counts in zip(files.pieces, files.estimates("counts"), strict=False):
        place = f"estimates, counts, {piece.name}, fittings"
        keys = ("name", "kind", "price", "mass_g", "delivery_days")
        told = [[item[key] for key in keys] for item in piece.record["fittings"]]
        teller.same(PLAN, place, [[f[key] for key in keys] for f in counts["fittings"]], told)
        for fitting in counts["fittings"]:
            if fitting["kind"] != "extra":
                needed[fitting["name"]] = needed.get(fitting["name"], 0) + counts["quantity"]
    lines = [row for row in files.estimates("buy") if row["item"].startswith("fitting: ")]
    bought = {row["item"].removeprefix("fitting: "): row["needed"] for row in lines}
    teller.same(PLAN, "estimates, buy, fittings", bought, {k: float(n) for k, n in needed.items()})
    for quote, counts in zip(files.estimates("quotes"), files.estimates("counts"), strict=False):
        _check_missing(files, values, quote, counts, teller)


def _check_missing(
    files: PlanFiles, values: Values, quote: dict[str, Any], counts: dict[str, Any], teller: Teller
) -> None:
    """Name what cost and price are without, and nothing else."""
    wanted = {g["metal"] for g in counts["groups"] if values.per_g(g["metal"]) is None}
    if values.price("argon") is None:
        wanted.add("argon")
    if counts["clasps"] and values.each("clasp") is None:
        wanted.add("clasp")
    wanted |= {f["name"] for f in counts["fittings"] if price_of_fitting(values, f) is None}
    if values.bench("money", "labour_per_hour") == 0:
        wanted.add("labour")
    place = f"estimates, quotes, {quote['piece']}, missing"
    found = set(quote["missing"]) - {"hallmark"}  # whether the law asks for one is looked at there
    teller.same(PLAN, place, sorted(found), sorted(wanted))
    paid = {c["item"] for c in files.of_piece("costs", quote["piece"])}
    for name in quote["missing"]:
        twice = {name, f"fitting: {name}", f"extra: {name}"} & paid
        teller.true(PLAN, place, not twice, f"{name}, with a line of cost", "without one")
    good = math.isfinite(float(quote["price_each"]))
    teller.true(PLAN, place, good, quote["price_each"], "a price")
