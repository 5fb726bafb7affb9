"""Counts, lengths, masses and wire: what the files say of them adds up between them."""

from __future__ import annotations

import itertools
import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.findings import as_number
from chainplan.examine.reading import PLAN, RINGS
from chainplan.examine.registry import check
from chainplan.examine.space.geometry import turn_about_x

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

ROUNDING_WORDS = ("nearest", "at least", "at most")


def ring_mass_g(wire_mm: float, inner_mm: float, density_g_cm3: float) -> float:
    """Mass of a torus of wire, ``ρ·π²·d²·(ID + d)/4``. [g]."""
    return density_g_cm3 * math.pi**2 * wire_mm**2 * (inner_mm + wire_mm) / 4000


def ring_masses_g(
    files: PlanFiles, metal: Any, wire_mm: FloatArray, inner_mm: FloatArray
) -> FloatArray:
    """Mass of each ring by its own metal. [g]."""
    mass = np.zeros(len(metal))
    for key in np.unique(metal).tolist():
        own = metal == key
        density = files.value(f"metal.{key}.density_g_cm3")
        volume = math.pi**2 * wire_mm[own] ** 2 * (inner_mm[own] + wire_mm[own]) / 4000
        mass[own] = density * volume
    return mass


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
        either = np.isin(rings["closed_beforehand"], ["yes", "no"])
        teller.true(RINGS, f"{where}, closed_beforehand", either.all(), "another word", "yes or no")
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


def _check_rows(piece: PieceFiles, teller: Teller) -> None:
    """Within a section no two rings have the same row and position; sections come in order."""
    section = piece.rings["section"]
    teller.true(
        RINGS, f"{piece.name}, section", (np.diff(section) >= 0).all(), "out of order", "ascending"
    )
    key = np.column_stack([section, piece.rings["row"], piece.rings["position"]])
    good = len(np.unique(key, axis=0)) == len(key) and key.min(initial=1) >= 1
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
    _check_metals(place, rings["metal"][rows].astype(str), section, teller)
    tied = piece.links["how"] != "touch"
    own = len(rows) - connectors(piece, number)
    inside = np.zeros(piece.count + 1, dtype=bool)
    inside[rows[:own] + 1] = True
    one, other_ring = piece.links["ring"][tied], piece.links["other"][tied]
    kept = (one > 0) & (other_ring <= piece.count)
    both = inside[one[kept]] & inside[other_ring[kept]]
    teller.same(PLAN, f"{place}, links", section["links"], int(np.count_nonzero(both)))
    sizes = np.column_stack([rings["wire_mm"][rows], rings["inner_mm"][rows]])
    main = (np.abs(sizes - [section["wire_mm"], section["inner_mm"]]) < 1e-3).all(axis=1)
    text = f"{section['wire_mm']:g} and {section['inner_mm']:g}"
    teller.true(PLAN, f"{place}, wire_mm, inner_mm", main.any(), text, "rings of that size")
    kinds = len(np.unique(sizes, axis=0))
    teller.true(RINGS, f"{place}, wire_mm", kinds <= 2, f"{kinds} sizes", "at most two in a weave")
    if not piece.is_loose and not piece.connecting[number - 1]:
        teller.same(PLAN, f"{place}, rows", section["rows"], int(rings["row"][rows].max()))
        rest = own % max(section["repeats"], 1)
        teller.true(
            PLAN, f"{place}, repeats", rest == 0 and 0 < section["repeats"] <= own,
            section["repeats"], f"a divisor of {own} rings",
        )  # fmt: skip
    else:
        teller.same(PLAN, f"{place}, repeats", section["repeats"], len(rows))
        teller.same(PLAN, f"{place}, rows", section["rows"], 1)


def _check_metals(place: str, metal: Any, section: dict[str, Any], teller: Teller) -> None:
    """Compare the rings of each metal, counted one by one, with what the section tells of it."""
    found = {key: int(np.count_nonzero(metal == key)) for key in np.unique(metal).tolist()}
    told: dict[str, int] = {}
    for item in section.get("metals", []):
        told[item["metal"]] = told.get(item["metal"], 0) + item["rings"]
    if not told:
        teller.same(RINGS, f"{place}, metal", sorted(found), [section["metal"]])
        return
    teller.same(PLAN, f"{place}, metals, rings", told, found)
    teller.true(PLAN, f"{place}, design", section["design"] != "", "no name", "a design's name")


@check("lengths agree with the poses")
def check_lengths(files: PlanFiles, teller: Teller) -> None:
    """Length, width, rings per cm of every section, and the length of the piece."""
    for piece in files.pieces:
        total = 0.0
        ends: list[tuple[float, float]] = []
        for number, section in enumerate(piece.record["sections"], 1):
            rows = section_rows(piece, number)
            if piece.connecting[number - 1]:
                _check_row_length(f"{piece.name}, section {number}", section, teller)
                continue
            low, high = _edges(piece, rows[: len(rows) - connectors(piece, number)])
            ends.append((float(low[0]), float(high[0])))
            _check_section_length(piece, number, section, (low, high), teller)
            total += section["length_mm"]
        for (_, end), (start, _) in itertools.pairwise(ends):
            total += start - end
        loop = piece.record["loop"]
        if loop and len(ends) > 1:
            total += ends[0][0] + loop["shift_mm"][0] - ends[-1][1]
        if piece.is_loose:
            total = max(end for _, end in ends)
        else:
            low, high = _outer_edges(piece)
            total += ends[0][0] - min(low, ends[0][0]) + max(high, ends[-1][1]) - ends[-1][1]
        teller.near(PLAN, f"{piece.name}, length_mm", piece.record["length_mm"], total, off=0.01)
        _check_asked(piece, teller)


def _outer_edges(piece: PieceFiles) -> tuple[float, float]:
    """Lowest and highest x of rings in a row and fittings that stand in line. [mm]."""
    hanging = {
        k
        for k, item in enumerate(piece.record["fittings"], 1)
        if item["to_mm"] and not item["in_line"]
    }
    low, high = math.inf, -math.inf
    for number, section in enumerate(piece.record["sections"], 1):
        rows = section_rows(piece, number)
        if piece.connecting[number - 1] and section["fitting"] not in hanging and len(rows):
            lower, upper = _edges(piece, rows)
            low, high = min(low, float(lower[0])), max(high, float(upper[0]))
    for item in piece.record["fittings"]:
        if item["in_line"]:
            low = min(low, item["from_mm"][0], item["to_mm"][0])
            high = max(high, item["from_mm"][0], item["to_mm"][0])
    return low, high


def _check_row_length(place: str, section: dict[str, Any], teller: Teller) -> None:
    """Rings in a row: each is as long as it is inside, and the ends add two wires."""
    inner, wire, count = section["inner_mm"], section["wire_mm"], section["joins"]
    for name, rings in (("length_mm", count), ("shorter_mm", count - 1), ("longer_mm", count + 1)):
        long = rings * inner + 2 * wire if rings > 0 else 0.0
        teller.near(PLAN, f"{place}, {name}", section[name], long, off=1e-3 + 1e-5 * long)
    outer = inner + 2 * wire
    teller.near(PLAN, f"{place}, width_mm", section["width_mm"], outer, off=1e-3)
    thick = outer if count > 1 else wire
    teller.near(PLAN, f"{place}, thickness_mm", section["thickness_mm"], thick, off=1e-3)
    for name in ("rings_per_cm", "computed_rings_per_cm"):
        teller.near(PLAN, f"{place}, {name}", section[name], 10 / inner)


def _edges(piece: PieceFiles, rows: IndexArray, turn_deg: float = 0.0) -> tuple[Any, Any]:
    """Lowest and highest x, y and z of the wire of some rings, turned about x. [mm]."""
    lean = np.sqrt(np.maximum(1 - turn_about_x(piece.normal[rows], turn_deg) ** 2, 0.0))
    half = piece.radius_mm[rows][:, None] * lean + piece.wire_mm[rows][:, None] / 2
    centre = turn_about_x(piece.centre_mm[rows], turn_deg)
    return (centre - half).min(axis=0), (centre + half).max(axis=0)


def _check_cross_section(
    piece: PieceFiles, number: int, section: dict[str, Any], teller: Teller
) -> None:
    """Width and thickness, as the section lies or, after another section, rolled about its axis."""
    rows = section_rows(piece, number)
    rows = rows[: len(rows) - connectors(piece, number)]
    said = (section["width_mm"], section["thickness_mm"])
    turns, spans = _turns(piece, number), []
    for angle in range(0, 180 if number > 1 else 15, 15):
        low, high = _edges(piece, rows, angle)
        spans.append(high[1:] - low[1:])
        good = (np.abs(said - spans[-1]) < 0.01 + 1e-5 * max(said)).all()
        if turns:  # such a chain may be wider further along than this short one is
            good = (said > spans[-1] - 0.01).all() and max(said) <= _round_mm(piece, number) + 0.01
        if good:
            return
    text = f"{said[0]:g} and {said[1]:g}"
    place = f"{piece.name}, section {number}, width_mm, thickness_mm"
    teller.tell(PLAN, place, text, f"{spans[0][0]:.3f} and {spans[0][1]:.3f}")


def _check_section_length(
    piece: PieceFiles, number: int, section: dict[str, Any], edges: tuple[Any, Any], teller: Teller
) -> None:
    place = f"{piece.name}, section {number}"
    span = edges[1] - edges[0]
    repeats, length = section["repeats"], section["length_mm"]
    own = len(section_rows(piece, number)) - connectors(piece, number)
    if piece.is_loose:
        _check_loose_length(place, section, teller)
        return
    each = own / repeats
    pitch = 10 * each / section["rings_per_cm"]
    computed = 10 * each / section["computed_rings_per_cm"]
    moved = _pitch_mm(piece, number, repeats)
    if moved is not None:
        teller.near(
            PLAN, f"{place}, computed_rings_per_cm", section["computed_rings_per_cm"],
            10 * each / moved, off=1e-3 * 10 * each / moved,
        )  # fmt: skip
    closed = bool(piece.record["loop"]) and len(piece.record["sections"]) == 1
    expected = repeats * pitch + (0.0 if closed else float(span[0]) - repeats * computed)
    teller.near(PLAN, f"{place}, length_mm", length, expected, off=0.005 + 1e-5 * length)
    ends = length - repeats * pitch
    for name, count in (("shorter_mm", repeats - 1), ("longer_mm", repeats + 1)):
        expected = count * pitch + (ends if count > 0 else 0.0)
        teller.near(PLAN, f"{place}, {name}", section[name], expected, off=0.005 + 1e-5 * length)
    _check_cross_section(piece, number, section, teller)
    for tolerance in section["tolerance"]:
        change = tolerance["inner_diameter_change"]
        scaled = 10 * each / tolerance["rings_per_cm"]
        where = f"{place}, tolerance {change:+.0%}"
        teller.near(
            PLAN, f"{where}, length_mm", tolerance["length_mm"], repeats * scaled + ends,
            off=0.01 + 2e-5 * length,
        )  # fmt: skip
        larger = (tolerance["rings_per_cm"] < section["rings_per_cm"]) == (change > 0)
        teller.true(PLAN, where, abs(change) == 0.01, change, "one per cent")
        teller.true(PLAN, where, larger, tolerance["rings_per_cm"], "fewer rings a cm if larger")
        wanted = section["wanted_mm"]
        count = repeats
        if wanted is not None:
            count = _repeats_for(wanted, scaled, ends, piece.record["rounding"])
        close = abs(tolerance["rings"] - count * each) < 0.5
        if wanted is not None and not close:  # the last digit may tip a rounding
            near = {
                _repeats_for(wanted + off, scaled, ends, piece.record["rounding"])
                for off in (-0.01, 0.01)
            }
            close = tolerance["rings"] in {round(n * each) for n in near}
        teller.true(PLAN, f"{where}, rings", close, tolerance["rings"], round(count * each))


def _check_loose_length(place: str, section: dict[str, Any], teller: Teller) -> None:
    """Loose joins lie side by side, a wire apart."""
    outer = section["inner_mm"] + 2 * section["wire_mm"]
    step = outer + section["wire_mm"]
    count = section["joins"]
    length = count * step - section["wire_mm"]
    teller.near(PLAN, f"{place}, length_mm", section["length_mm"], length, off=1e-3)
    teller.near(
        PLAN, f"{place}, shorter_mm", section["shorter_mm"], max(length - step, 0), off=1e-3
    )
    teller.near(PLAN, f"{place}, longer_mm", section["longer_mm"], length + step, off=1e-3)
    teller.near(PLAN, f"{place}, width_mm", section["width_mm"], outer, off=1e-3)
    teller.near(PLAN, f"{place}, thickness_mm", section["thickness_mm"], section["wire_mm"])
    for name in ("rings_per_cm", "computed_rings_per_cm"):
        teller.near(PLAN, f"{place}, {name}", section[name], 10 / step)


def _pitch_mm(piece: PieceFiles, number: int, repeats: int) -> float | None:
    """How far the rings of the first row move along from repeat to repeat. [mm]."""
    rows = section_rows(piece, number)
    rows = rows[: len(rows) - connectors(piece, number)]
    first = rows[piece.rings["row"][rows] == piece.rings["row"][rows].min()]
    each = len(first) // repeats
    if repeats < 2 or each * repeats != len(first):
        return None
    x = piece.centre_mm[first, 0].reshape(repeats, each)
    return float((x[-1] - x[0]).mean() / (repeats - 1))


def _turns(piece: PieceFiles, number: int) -> bool:
    """Whether the weave turns about its axis: its repeats lean otherwise from one to the next."""
    section = piece.record["sections"][number - 1]
    rows = section_rows(piece, number)
    rows = rows[: len(rows) - connectors(piece, number)]
    each = len(rows) // max(section["repeats"], 1)
    if section["rows"] > 1 or section["repeats"] < 2:
        return bool(section["rows"] == 1)
    return bool(
        np.abs(piece.normal[rows[:each]] - piece.normal[rows[each : 2 * each]]).max() > 1e-4
    )


def _round_mm(piece: PieceFiles, number: int) -> float:
    """Diameter of a tube about the axis that holds every ring of a section. [mm]."""
    rows = section_rows(piece, number)
    rows = rows[: len(rows) - connectors(piece, number)]
    across = piece.centre_mm[rows, 1:]
    away = np.linalg.norm(across - (across.min(axis=0) + across.max(axis=0)) / 2, axis=1)
    return 2 * float((away + piece.radius_mm[rows] + piece.wire_mm[rows] / 2).max())


def _repeats_for(wanted: float, pitch: float, ends: float, rounding: str) -> int:
    exact = (wanted - ends) / pitch
    if abs(exact - round(exact)) < 1e-6 * max(1.0, abs(exact)):
        return max(round(exact), 1)
    counts = {"nearest": math.floor(exact + 0.5), "at least": math.ceil(exact)}
    return max(counts.get(rounding, math.floor(exact)), 1)


def _check_asked(piece: PieceFiles, teller: Teller) -> None:
    """Compare the length asked for, less clasp and joints, with what the sections want and get."""
    record = piece.record
    asked, clasp = record["asked_mm"], record["clasp_length_mm"]
    woven = [
        section["length_mm"]
        for section, row in zip(record["sections"], piece.connecting, strict=True)
        if not row and not piece.is_loose
    ]
    joints = record["length_mm"] - sum(woven) if woven else 0.0
    teller.near(PLAN, f"{piece.name}, joints_mm", record["joints_mm"], joints, off=0.02)
    wanted = [s["wanted_mm"] for s in record["sections"] if s["wanted_mm"] is not None]
    teller.true(
        PLAN, f"{piece.name}, rounding", record["rounding"] in ROUNDING_WORDS,
        record["rounding"], ROUNDING_WORDS,
    )  # fmt: skip
    steps = [s for s in record["sections"] if s.get("graded")]
    if asked is not None and steps:
        # The steps share what is missing: the whole is as long as was asked for, to a repeat.
        repeat = max(s["longer_mm"] - s["length_mm"] for s in steps)
        whole = record["length_mm"] + clasp
        teller.near(PLAN, f"{piece.name}, asked_mm", asked, whole, off=1.01 * repeat)
    elif asked is not None and wanted:
        teller.near(
            PLAN,
            f"{piece.name}, asked_mm",
            asked,
            sum(wanted) + clasp + record["joints_mm"],
            off=0.02,
        )
    for number, section in enumerate(record["sections"], 1):
        _check_asked_rings(piece, number, section, teller)
        if section["wanted_mm"] is None:
            continue
        low, high = section["shorter_mm"], section["longer_mm"]
        middle, wish = section["length_mm"], section["wanted_mm"]
        spans = {
            "nearest": ((low + middle) / 2, (middle + high) / 2),
            "at least": (low, middle),
            "at most": (middle, high),
        }
        least, most = spans.get(record["rounding"], (low, high))
        good = (wish <= most + 0.01) and (wish >= least - 0.01 or section["repeats"] == 1)
        good |= section["repeats"] == 1 and wish < middle
        place = f"{piece.name}, section {number}, length_mm"
        teller.true(PLAN, place, good, middle, f"{record['rounding']} to {wish:g} mm")


def _check_asked_rings(
    piece: PieceFiles, number: int, section: dict[str, Any], teller: Teller
) -> None:
    """Compare a number of rings that was asked for with the whole repeats that it got."""
    asked = section.get("wanted_rings")
    place = f"{piece.name}, section {number}, wanted_rings"
    if asked is None:
        return
    if piece.is_loose or piece.connecting[number - 1]:
        teller.same(PLAN, place, asked, section["joins"])
        return
    each = (len(section_rows(piece, number)) - connectors(piece, number)) / section["repeats"]
    repeats = _repeats_for(asked, each, 0.0, piece.record["rounding"])
    teller.true(PLAN, place, repeats == section["repeats"], asked, f"{section['repeats']} repeats")


@check("masses and wire add up")
def check_masses(files: PlanFiles, teller: Teller) -> None:
    """Rings by size × mass of one = mass of the section = mass in the estimates, and wire too."""
    kerf = files.value("bench.wire.kerf_mm")
    for piece in files.pieces:
        for number, section in enumerate(piece.record["sections"], 1):
            place = f"{piece.name}, section {number}"
            density = files.value(f"metal.{section['metal']}.density_g_cm3")
            rows = section_rows(piece, number)
            wire, inner = piece.wire_mm[rows], piece.rings["inner_mm"][rows]
            metal = piece.rings["metal"][rows].astype(str)
            each = ring_masses_g(files, metal, wire, inner)
            mass, length = float(each.sum()), float((math.pi * (inner + wire)).sum()) / 1000
            _check_metal_masses(place, metal, each, math.pi * (inner + wire), section, teller)
            if section["rings"] == 0:
                mass = length = 0.0
            ring = ring_mass_g(section["wire_mm"], section["inner_mm"], density)
            off = 2e-4  # sizes are written to a ten-thousandth
            teller.near(PLAN, f"{place}, mass_g", section["mass_g"], mass, off=off * mass)
            teller.near(PLAN, f"{place}, ring_mass_g", section["ring_mass_g"], ring)
            teller.near(
                PLAN, f"{place}, wire_length_m", section["wire_length_m"], length, off=off * length
            )
            teller.near(
                PLAN, f"{place}, wire_with_kerf_m", section["wire_with_kerf_m"],
                length + section["rings"] * kerf / 1000, off=off * length,
            )  # fmt: skip
            ratio = section["inner_mm"] / section["wire_mm"]
            teller.near(PLAN, f"{place}, aspect_ratio", section["aspect_ratio"], ratio)
            good = 0 <= section["smallest_aspect_ratio"] <= ratio + 1e-5
            unwoven = piece.is_loose or piece.connecting[number - 1]
            good &= (section["smallest_aspect_ratio"] == 0) == unwoven
            smallest = section["smallest_aspect_ratio"]
            teller.true(PLAN, f"{place}, smallest_aspect_ratio", good, smallest, f"up to {ratio:g}")
            _check_reasons(place, section, teller)


def _check_metal_masses(
    place: str,
    metal: Any,
    mass_g: FloatArray,
    wire_mm: FloatArray,
    section: dict[str, Any],
    teller: Teller,
) -> None:
    """Mass and wire of each metal of a design, ring by ring."""
    told: dict[str, list[float]] = {}
    for item in section.get("metals", []):
        sums = told.setdefault(item["metal"], [0.0, 0.0])
        sums[0] += item["mass_g"]
        sums[1] += item["wire_length_m"]
    for key, (mass, length) in told.items():
        own = metal == key
        expected = float(mass_g[own].sum())
        teller.near(PLAN, f"{place}, {key}, mass_g", mass, expected, off=2e-4 * expected)
        expected = float(wire_mm[own].sum()) / 1000
        teller.near(PLAN, f"{place}, {key}, wire_length_m", length, expected, off=2e-4 * expected)


def _check_reasons(place: str, section: dict[str, Any], teller: Teller) -> None:
    """Compare the sentences about a ring's fit with the numbers beside them."""
    smallest, ratio = section["smallest_aspect_ratio"], section["aspect_ratio"]
    for text in section["reasons"]:
        fit = re.match(
            r"aspect ratio ([\d.]+) is (\d+) % above the smallest computed one, ([\d.]+)", text
        )
        if fit:
            told, percent, least = (float(part) for part in fit.groups())
            good = abs(told - ratio) < 0.0051 * max(ratio, 1) and abs(least - smallest) < 0.00501
            good &= abs(percent - 100 * (ratio / smallest - 1)) < 0.51
            teller.true(PLAN, f"{place}, reasons", good, text, f"{ratio:.3g} and {smallest:.3g}")
        loose = re.match(r"gathered, it gives up at least (\d+) %", text)
        if loose:
            good = abs(float(loose.group(1)) - 100 * section["looseness"]) < 0.51
            teller.true(PLAN, f"{place}, looseness", good, text, section["looseness"])
    good = 0 <= as_number(section["looseness"]) < 1
    good &= smallest > 0 or section["looseness"] == 0
    teller.true(PLAN, f"{place}, looseness", good, section["looseness"], "a share from 0 to 1")
    for inner in section["suitable_inner_mm"]:
        fits = smallest * section["wire_mm"] <= inner < 60 * section["wire_mm"]
        teller.true(PLAN, f"{place}, suitable_inner_mm", fits, inner, "a ring that weaves")
