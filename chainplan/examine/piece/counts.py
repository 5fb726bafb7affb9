"""Numbers of rings, joins and links: what the files say of them adds up between them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.alike import kinds_of_rows
from chainplan.examine.reading import PLAN, RINGS
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.arrays import IndexArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

_STAYS_OPEN = re.compile(
    r"; (\d+) near ones? stays? open, (being linked to a closed one|going through a fitting): "
    r"rings? (\d+(?:, \d+)*)( …)?"
)
"""Rings near a part that are not closed beforehand, as the note of a way tells them."""


def section_rows(piece: PieceFiles, number: int) -> IndexArray:
    """Rows of rings.csv that belong to a section, counted from 1."""
    return np.flatnonzero(piece.rings["section"] == number)


def connectors(piece: PieceFiles, number: int) -> int:
    """Count the connecting rings of a woven section: one where the next follows it at once."""
    sections = piece.record["sections"]
    own = [n for n, section in enumerate(sections, 1) if section["fitting"] is None]
    if len(own) == 1 or piece.is_loose or piece.connecting[number - 1]:
        return 0
    place = own.index(number) + 1
    if place == len(own):
        return int(bool(piece.record["loop"]))
    taken = f"between {place} and {place + 1}"
    between = any(item["where"] == taken for item in piece.record["fittings"])
    return int(not between and not piece.connecting[own[place] - 1])


@check("numbers of rings and joins agree")
def check_counts(files: PlanFiles, teller: Teller) -> None:
    """Rings, joins and links of pieces, sections and groups are those of the tables."""
    names = [record["name"] for record in files.plan["pieces"]]
    teller.same(PLAN, "order, pieces", [o["piece"] for o in files.plan["order"]["pieces"]], names)
    teller.same(PLAN, "estimates, counts", [c["piece"] for c in files.estimates("counts")], names)
    teller.same(PLAN, "estimates, quotes", [q["piece"] for q in files.estimates("quotes")], names)
    for piece in files.pieces:
        where, record, rings = piece.name, piece.record, piece.rings
        teller.same(PLAN, f"{where}, rings", record["rings"], piece.count)
        teller.same(RINGS, f"{where}, ring", rings["ring"].tolist(), [*range(1, piece.count + 1)])
        tied = piece.links["how"] != "touch"
        teller.same(PLAN, f"{where}, links", record["links"], int(np.count_nonzero(tied)))
        closed = np.flatnonzero(rings["closed_beforehand"] == "yes") + 1
        teller.same(PLAN, f"{where}, pre_closed", record["pre_closed"], closed.tolist())
        either = {*piece.coded("closed_beforehand")[0]} <= {"yes", "no"}
        teller.true(RINGS, f"{where}, closed_beforehand", either, "another word", "yes or no")
        teller.same(
            PLAN, f"{where}, joins", record["joins"], sum(s["joins"] for s in record["sections"])
        )
        _check_closed_set(files, piece, teller)
        _check_rows(piece, teller)
        for number, section in enumerate(record["sections"], 1):
            _check_section(piece, number, section, teller)


def _check_closed_set(files: PlanFiles, piece: PieceFiles, teller: Teller) -> None:
    """No two linked rings are both closed beforehand; the ways to close add up."""
    tied = piece.links["how"] != "touch"
    one, other = piece.links["ring"][tied] - 1, piece.links["other"][tied] - 1
    shut = piece.rings["closed_beforehand"] == "yes"
    inside = (one >= 0) & (other < piece.count)
    both = inside.copy()
    both[inside] = shut[one[inside]] & shut[other[inside]]
    for row in np.flatnonzero(both).tolist():
        place = f"{piece.name}, rings {one[row] + 1} and {other[row] + 1}"
        teller.tell(RINGS, place, "linked, both closed beforehand", "one of them open")
    ways = {way["way"]: way for way in piece.record["closing_ways"]}
    chosen = ways.get(piece.record["closing_way"])
    place = f"{piece.name}, closing_ways"
    teller.true(PLAN, place, chosen is not None, piece.record["closing_way"], f"one of {[*ways]}")
    largest = {way["largest_possible"] for way in ways.values()}
    teller.true(PLAN, place, len(largest) == 1, f"largest {sorted(largest)}", "one number")
    proved = {way["exact"] for way in ways.values()}
    teller.true(PLAN, place, len(proved) == 1, f"exact {sorted(proved)}", "proved or not")
    for name, way in ways.items():
        total = way["pre_closed"] + way["in_place"]
        teller.same(PLAN, f"{place}, {name}, pre_closed + in_place", total, piece.count)
        good = 0 <= way["pre_closed"] <= way["largest_possible"]
        teller.true(PLAN, f"{place}, {name}", good, way["pre_closed"], "at most the largest")
        near = re.search(r"nearer than ([\d.]+) mm to a part", way["note"])
        if near:
            distance = files.value("bench.electrode.beforehand_distance_mm")
            teller.near(PLAN, f"{place}, {name}, note", float(near.group(1)), distance)
        _check_note(piece, way, f"{place}, {name}, note", teller, chosen=way is chosen)
        if way["note"] == "proved largest":
            teller.same(PLAN, f"{place}, {name}", way["pre_closed"], way["largest_possible"])
            teller.same(PLAN, f"{place}, {name}, exact", way["exact"], expected=True)
    if chosen is not None:
        faces = set(piece.rings["face"][~shut].tolist())
        wires = piece.wire_mm[~shut] >= files.value("bench.electrode.two_sides_from_mm") - 1e-9
        if "edge" not in faces and not wires.any():
            turns = max(len(faces) - 1, 0)
            teller.same(PLAN, f"{place}, {chosen['way']}, turns", chosen["turns"], turns)
        teller.same(PLAN, f"{place}, pre_closed", chosen["pre_closed"], int(shut.sum()))


def _check_note(
    piece: PieceFiles, way: dict[str, Any], place: str, teller: Teller, *, chosen: bool
) -> None:
    """Compare the joins that a way's note counts and lists, with the rings if the way is taken."""
    unreached = re.match(r"(\d+) joins that nothing reaches", way["note"])
    if unreached:
        teller.same(PLAN, place, int(unreached[1]), way["pre_closed"])
    tied = piece.links["how"] != "touch"
    pairs = np.column_stack([piece.links["ring"], piece.links["other"]])[tied]
    shut = (np.flatnonzero(piece.rings["closed_beforehand"] == "yes") + 1).tolist()
    for count, why, numbers, more in _STAYS_OPEN.findall(way["note"]):
        rings = [int(text) for text in numbers.split(", ")]
        good = len(rings) < int(count) if more else len(rings) == int(count)
        good = good and rings == sorted(set(rings)) and rings[0] > 0 and rings[-1] <= piece.count
        if good and chosen:
            good = not set(rings) & set(shut)
            closed = np.isin(pairs, shut)
            held = set(pairs[closed[:, ::-1]].tolist())
            if why == "going through a fitting":
                held = {ring for ring in rings if piece.rings["fitting"][ring - 1]}
            good = good and held.issuperset(rings)
        told = f"{count} {why}: {numbers}{more}"
        teller.true(PLAN, place, good, told, "so many open rings, linked to closed ones")


def _check_rows(piece: PieceFiles, teller: Teller) -> None:
    """Within a section no two rings have the same row and position; sections come in order."""
    section = piece.rings["section"]
    teller.true(
        RINGS, f"{piece.name}, section", (np.diff(section) >= 0).all(), "out of order", "ascending"
    )
    key = (section, piece.rings["row"], piece.rings["position"])
    good = len(kinds_of_rows(*key)[0]) == len(section)
    good &= all(column.min(initial=1) >= 1 for column in key)
    place = f"{piece.name}, row, position"
    teller.true(RINGS, place, good, "twice the same place", "every place once")
    for number in np.unique(section).tolist():
        own = section == number
        for row in np.unique(piece.rings["row"][own]).tolist():
            here = np.sort(piece.rings["position"][own & (piece.rings["row"] == row)])
            # A connecting ring stands in the middle row, one beyond its section's last position.
            gaps = np.diff(here) != 1
            allowed = connectors(piece, number)
            alone = allowed and len(here) == 1
            if not alone and (here[0] != 1 or np.count_nonzero(gaps) > allowed):
                teller.tell(RINGS, f"{place} {row}", "positions left out", "1, 2, 3 …")


def _check_section(piece: PieceFiles, number: int, section: dict[str, Any], teller: Teller) -> None:
    place = f"{piece.name}, section {number}"
    rows = section_rows(piece, number)
    rings = piece.rings
    made = section["rings"] > 0 or section["mass_g"] > 0
    if made:
        teller.same(PLAN, f"{place}, rings", section["rings"], len(rows))
    teller.same(PLAN, f"{place}, joins", section["joins"], len(rows))
    other = sorted(set(rings["weave"][rows].tolist()) - {section["weave"]})
    teller.true(RINGS, f"{place}, weave", not other, other, section["weave"])
    metals, metal = piece.coded("metal")
    own_metals = zip(metals, np.bincount(metal[rows], minlength=len(metals)).tolist(), strict=True)
    _check_metals(place, {key: number for key, number in own_metals if number}, section, teller)
    tied = piece.links["how"] != "touch"
    own = len(rows) - connectors(piece, number)
    inside = np.zeros(piece.count + 1, dtype=bool)
    inside[rows[:own] + 1] = True
    one, other_ring = piece.links["ring"][tied], piece.links["other"][tied]
    kept = (one > 0) & (other_ring <= piece.count)
    both = inside[one[kept]] & inside[other_ring[kept]]
    teller.same(PLAN, f"{place}, links", section["links"], int(np.count_nonzero(both)))
    wire, inner = rings["wire_mm"][rows], rings["inner_mm"][rows]
    main = np.abs(wire - section["wire_mm"]) < 1e-3
    main &= np.abs(inner - section["inner_mm"]) < 1e-3
    text = f"{section['wire_mm']:g} and {section['inner_mm']:g}"
    teller.true(PLAN, f"{place}, wire_mm, inner_mm", main.any(), text, "rings of that size")
    kinds = len(kinds_of_rows(wire, inner)[0])
    teller.true(RINGS, f"{place}, wire_mm", kinds <= 2, f"{kinds} sizes", "at most two in a weave")
    if not piece.is_loose and not piece.connecting[number - 1]:
        teller.same(PLAN, f"{place}, rows", section["rows"], int(rings["row"][rows].max()))
        rest = own % max(section["repeats"], 1)
        teller.true(
            PLAN, f"{place}, repeats", rest == 0 and 0 < section["repeats"] <= own,
            section["repeats"], f"a divisor of {own} rings",
        )  # fmt: skip
        told, each = section["repeat_rings"], own // max(section["repeats"], 1)
        good = told == sorted({ring for ring in told if ring > 0})
        good &= len(told) == each if section["rows"] == 1 else 0 < len(told) <= each
        teller.true(PLAN, f"{place}, repeat_rings", good, told, f"rings of a repeat, up to {each}")
    else:
        teller.same(PLAN, f"{place}, repeats", section["repeats"], len(rows))
        teller.same(PLAN, f"{place}, rows", section["rows"], 1)


def _check_metals(
    place: str, found: dict[str, int], section: dict[str, Any], teller: Teller
) -> None:
    """Compare the rings of each metal, counted one by one, with what the section tells of it."""
    told: dict[str, int] = {}
    for item in section.get("metals", []):
        told[item["metal"]] = told.get(item["metal"], 0) + item["rings"]
    if not told:
        teller.same(RINGS, f"{place}, metal", sorted(found), [section["metal"]])
        return
    teller.same(PLAN, f"{place}, metals, rings", told, found)
    teller.true(PLAN, f"{place}, design", section["design"] != "", "no name", "a design's name")
