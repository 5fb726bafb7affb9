"""Fittings as they are told: where they stand, what they touch, what they cost and weigh."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.heat.networks import TOUCHED
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
        told: dict[int, list[str]] = {}
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
                told.setdefault(ring - 1, []).append(item["name"])
            _check_body(piece, item, place, teller)
            wanted = sum(
                int(np.count_nonzero(piece.rings["section"] == n))
                for n, (section, row) in enumerate(_sections(piece), 1)
                if row and section["fitting"] == number
            )
            teller.same(PLAN, f"{place}, connecting_rings", item["connecting_rings"], wanted)
            has = rows.count(number)
            teller.same(PLAN, f"{place}, sections", has, int(item["connecting_rings"] > 0))
        found = piece.rings["fitting"]
        for row in sorted({*told, *np.flatnonzero(found != "").tolist()}):
            names = ", ".join(told.get(row, ()))
            if found[row] != names:
                place = f"{piece.name}, ring {row + 1}, fitting"
                teller.tell(RINGS, place, found[row], names or "nothing")
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
        if not piece.connecting[int(sections[row]) - 1] and item["in_line"]:
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


@check("what stands by is judged where it is touched")
def check_stand_by(files: PlanFiles, teller: Teller) -> None:
    """Compare distances of joins, and the touching spot by its closed form."""
    near_mm = files.value("bench.electrode.beforehand_distance_mm")
    for piece in files.pieces:
        stands = {
            (item["name"], tuple(sorted(item["rings"]))): item for item in piece.record["fittings"]
        }
        shut = piece.rings["closed_beforehand"] == "yes"
        for item in piece.record["stand_by"]:
            place = f"{piece.name}, stand_by, {item['name']}"
            if item["fitting"]:
                own = [f for (name, _), f in stands.items() if name == item["name"]]
                away = [_away_mm(piece, f) for f in own]
                found = [np.where(shut, np.inf, one) for one in away]
                good = any(
                    abs(float(one.min()) - item["nearest_mm"]) < OFF_MM
                    and int(np.argmin(one)) + 1 == item["nearest_ring"]
                    and abs(int((one < near_mm).sum()) - item["joins_near"]) <= 0
                    for one in found
                )
                told = (item["nearest_mm"], item["nearest_ring"], item["joins_near"])
                teller.true(PLAN, f"{place}, nearest_mm", good, told, "the join that is nearest")
            else:
                _check_on_chain(piece, item, shut, near_mm, place, teller)
            _check_spots(piece, item, place, teller)


def _check_on_chain(
    piece: PieceFiles, item: dict[str, Any], shut: Any, near_mm: float, place: str, teller: Teller
) -> None:
    """Compare a part that sits on the chain: joins along it, its kind and limit."""
    nodes = [n for n in piece.record["heat"]["parts"] if n["name"] == item["name"]]
    rows = np.array(sorted({ring - 1 for node in nodes for ring in node["rings"]}), dtype=int)
    known = [(p["kind"], p["limit_c"]) for p in piece.record["parts"] if p["name"] == item["name"]]
    told = (item["kind"], item["limit_c"])
    teller.true(PLAN, f"{place}, kind, limit_c", told in known, told, known)
    if not len(rows) or len(known) > 1:
        return
    x, join = piece.centre_mm[rows, 0], piece.join_mm[:, 0]
    away = np.where(shut, np.inf, np.maximum(np.maximum(x.min() - join, join - x.max()), 0.0))
    teller.near(PLAN, f"{place}, nearest_mm", item["nearest_mm"], float(away.min()), off=OFF_MM)
    own = float(away[item["nearest_ring"] - 1]) if 0 < item["nearest_ring"] <= len(away) else 1e9
    good = own <= float(away.min()) + OFF_MM
    teller.true(PLAN, f"{place}, nearest_ring", good, item["nearest_ring"], "the nearest")
    low, high = (int((away < near_mm + off).sum()) for off in (-OFF_MM, OFF_MM))
    teller.true(
        PLAN, f"{place}, joins_near", low <= item["joins_near"] <= high, item["joins_near"], low
    )
    open_too = [int(ring) + 1 for ring in rows if not shut[ring]]
    teller.same(PLAN, f"{place}, touching", item["touching"], open_too)


def _away_mm(piece: PieceFiles, item: dict[str, Any]) -> Any:
    """Distance of every join from a fitting, along which it runs straight. [mm]."""
    start, end = np.array(item["from_mm"]), np.array(item["to_mm"])
    long = float(np.dot(end - start, end - start))
    off = piece.join_mm - start
    share = np.clip(off @ (end - start) / long, 0, 1) if long > 0 else np.zeros(len(off))
    return np.linalg.norm(off - np.outer(share, end - start), axis=1)


def _check_spots(piece: PieceFiles, item: dict[str, Any], place: str, teller: Teller) -> None:
    """Compare the spot with body and ring, and its share with what conduction gives."""
    shut = piece.rings["closed_beforehand"] == "yes"
    open_too = all(not shut[ring - 1] for ring in item["touching"])
    teller.true(PLAN, f"{place}, touching", open_too, item["touching"], "rings welded in place")
    conducts = item.get("conductivity_w_m_k")
    wide = max((float(piece.wire_mm[ring - 1]) for ring in item["touching"]), default=0.0)
    thin = min((float(piece.wire_mm[ring - 1]) for ring in item["touching"]), default=0.0)
    if conducts is not None and item["touching"]:
        joints = [
            value
            for node in piece.record["heat"]["parts"]
            if node["name"] == item["name"] + TOUCHED
            for row in node["joint_w_k"]
            for value in row
        ]
        most, least = (
            g / (g + 8 / 3 * conducts * 0.2e-3 * wire)
            for g, wire in ((max(joints), thin), (max(joints), wide))
        )
        share = item["largest_share"]
        good = least - 1e-4 <= share <= most + 1e-4
        teller.true(PLAN, f"{place}, largest_share", good, share, f"{least:.4g} to {most:.4g}")
    elif conducts is None:  # what is warmed at once has no spot that is warmer
        teller.same(PLAN, f"{place}, largest_share", item["largest_share"], 0.0)
    for run in ("planned", "set_last"):
        told = item.get(run)
        if told is None:
            continue
        for end in ("usual", "high"):
            body, spot, ring = (told[f"{what}_{end}_c"] for what in ("body", "spot", "ring"))
            top = body + item["largest_share"] * max(ring - body, 0.0)
            good = body - 0.01 <= spot <= top + 0.01
            teller.true(PLAN, f"{place}, {run}", good, spot, f"{body:.4g} to {top:.4g} °C")
        for what in ("body", "spot", "ring"):
            good = told[f"{what}_usual_c"] <= told[f"{what}_high_c"] + 1e-6
            teller.true(PLAN, f"{place}, {run}, {what}", good, told, "the bad end above")
    if "planned" in item and item.get("limit_c") is not None:
        rows = [
            r for r in piece.order["limits"] if r["kind"] == "part" and r["name"] == item["name"]
        ]
        warmest = max((r["high_c"] for r in rows), default=item["planned"]["body_high_c"])
        good = item["planned"]["body_high_c"] <= warmest + 0.05 * abs(warmest)
        teller.true(PLAN, f"{place}, planned", good, item["planned"]["body_high_c"], warmest)
        spots = [r for r in piece.order["limits"] if r["name"] == item["name"] + TOUCHED]
        alone = sum(o["name"] == item["name"] for o in piece.record["stand_by"]) == 1
        if spots and alone:
            for end in ("usual", "high"):
                told = max(item["planned"][f"body_{end}_c"], *(r[f"{end}_c"] for r in spots))
                teller.near(
                    PLAN, f"{place}, planned, spot_{end}_c", item["planned"][f"spot_{end}_c"],
                    told, off=0.01 * abs(told),
                )  # fmt: skip
