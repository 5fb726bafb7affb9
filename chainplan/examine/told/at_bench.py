"""What the bench sheet shows of each ring: the electrode, where it is, what it goes through."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.printed.places import begins_mm
from chainplan.examine.reading import SHEET
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

_SHARES = (0.7, 0.4)
"""Shares of the planned time for which the sheet has waits of their own."""
_RULES = {
    "guard_ms": 600, "hold_ms": 1200, "away_s": 180, "away_times": 10, "skipped_s": 60,
    "large_from_s": 5, "faster_share": 0.9,
}  # fmt: skip
"""What the sheet's program goes by: another number would make it another program."""
_TITLES = {"pair": 2, "three": 3, "four": 4}
"""Rings of the unit that each title counts in."""


@check("the bench sheet shows the rings as they are")
def check_shown(files: PlanFiles, teller: Teller) -> None:
    """Compare electrode, places, links, sizes and settings on the sheet with the plan's tables."""
    sheet, bench = files.sheet, files.plan["bench"]
    electrode = bench["electrode"]
    for name in ("shank_mm", "stick_out_mm", "holder_mm"):
        teller.near(SHEET, f"electrode, {name}", sheet["electrode"][name], electrode[name], off=0)
    angle = math.radians(electrode["tip_half_angle_deg"])
    teller.near(SHEET, "electrode", sheet["electrode"]["half_angle_rad"], angle, off=5.1e-5)
    teller.same(SHEET, "language", sheet["language"], bench["sheet"]["language"])
    for name, known in _RULES.items():
        teller.same(SHEET, name, sheet[name], known)
    for piece in files.pieces:
        _check_settings(piece, teller)
        if "ring" in piece.sheet:
            _check_places(piece, teller)
        if "links" in piece.sheet:
            _check_links(piece, teller)


def _check_settings(piece: PieceFiles, teller: Teller) -> None:
    limits = {part["name"]: round(part["limit_c"]) for part in piece.record["parts"]}
    for zone in piece.sheet["parts"]:
        known = limits.get(zone["name"], 0)
        teller.same(SHEET, f"{piece.name}, parts, {zone['name']}, limit", zone["limit"], known)
    for shown, item in zip(piece.sheet["passes"], piece.order["passes"], strict=False):
        place, setting = f"{piece.name}, pass {item['number']}", item["setting"]
        told = (shown["power"], shown["hits"], shown["tip"])
        known_setting = (f"{setting['power_j']:.3g}", setting["hits"], setting["tip"])
        teller.same(SHEET, f"{place}, setting", told, known_setting)


def _check_places(piece: PieceFiles, teller: Teller) -> None:
    own, rings = piece.sheet, piece.rings
    if own["column"]:
        column = piece.steps["position"].astype(int).tolist()
        teller.same(SHEET, f"{piece.name}, column", own["column"], column)
    start_mm = begins_mm(piece)
    teller.near(SHEET, f"{piece.name}, start_mm", own["start_mm"], start_mm, off=0.0511)
    sizes = [
        {"metal": item["metal"], "wire": f"{item['wire_mm']:.3g}",
         "inner": f"{item['inner_mm']:.3g}"}
        for item in piece.record["sections"]
    ]  # fmt: skip
    shown = own["sizes"]
    if piece.language == "en":  # by their words, or one of the user's own by its key
        sizes, shown = (
            [size | {"metal": size["metal"].replace("-", " ")} for size in each]
            for each in (sizes, shown)
        )
    else:  # metals have names of their own in every language
        sizes, shown = (
            [{k: v for k, v in size.items() if k != "metal"} for size in each]
            for each in (sizes, shown)
        )
    teller.same(SHEET, f"{piece.name}, sizes", shown, sizes)
    section = (rings["section"].astype(int) - 1).tolist() if len(sizes) > 1 else []
    teller.same(SHEET, f"{piece.name}, size_of", own["size_of"], section)
    shares = [item["share"] for item in own["faster"]]
    teller.same(SHEET, f"{piece.name}, faster, share", shares, [*_SHARES[: len(shares)]])
    if "picture" in own:
        way = np.asarray(own["picture"]["approach"], dtype=float).reshape(-1, 3) / 1000
        wrong = np.flatnonzero(np.abs(way - piece.approach).max(axis=1) > 0.00053)
        for k in wrong.tolist():
            place = f"{piece.name}, picture, approach, {k + 1}"
            teller.tell(SHEET, place, way[k].tolist(), piece.approach[k].tolist())


def _neighbours(piece: PieceFiles) -> list[set[int]]:
    found: list[set[int]] = [set() for _ in range(piece.count)]
    links = piece.links
    for one, other, how in zip(
        links["ring"].astype(int), links["other"].astype(int), links["how"], strict=True
    ):
        if how != "touch":
            found[one - 1].add(other - 1)
            found[other - 1].add(one - 1)
    return found


def _check_links(piece: PieceFiles, teller: Teller) -> None:
    """Each ring goes through those that are listed; rings counted as one go through the same."""
    found = _neighbours(piece)
    shown: list[list[int]] = piece.sheet["links"]
    teller.same(SHEET, f"{piece.name}, links", len(shown), piece.count)
    for k, (told, known) in enumerate(zip(shown, found, strict=False), 1):
        if set(told) != known:
            teller.tell(SHEET, f"{piece.name}, links, {k}", told, sorted(known))
    unit: list[Any] | None = piece.sheet.get("of_unit")
    if unit is None:
        return
    teller.true(
        SHEET, f"{piece.name}, unit", piece.sheet["unit"] in _TITLES, piece.sheet["unit"],
        sorted(_TITLES),
    )  # fmt: skip
    steps = np.diff(np.asarray(unit))
    counted = (
        len(unit) == piece.count and unit[0] == 0 and bool(((steps == 0) | (steps == 1)).all())
    )
    teller.true(SHEET, f"{piece.name}, of_unit", counted, unit[:3], "counted on ring by ring")
    for k in np.flatnonzero(steps == 0).tolist() if counted else []:
        if found[k] != found[k + 1]:
            place = f"{piece.name}, of_unit, {k + 2}"
            teller.tell(SHEET, place, unit[k + 1], "another unit: it goes through other rings")
    for k in np.flatnonzero(steps == 1).tolist() if counted else []:
        if found[k] == found[k + 1] and found[k]:
            place = f"{piece.name}, of_unit, {k + 2}"
            teller.tell(SHEET, place, unit[k + 1], "the same unit: it goes through the same rings")
