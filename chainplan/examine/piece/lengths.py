"""Lengths and widths: what is told of sections and pieces is what the poses say."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.piece.counts import connectors, section_rows
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check
from chainplan.examine.space.geometry import turn_about_x

if TYPE_CHECKING:
    from chainplan.arrays import IndexArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

ROUNDING_WORDS = ("nearest", "at least", "at most")


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
    own = sum(row["fitting"] is None for row in piece.record["sections"])
    closed = bool(piece.record["loop"]) and own == 1
    expected = repeats * pitch + (0.0 if closed else float(span[0]) - repeats * computed)
    teller.near(PLAN, f"{place}, length_mm", length, expected, off=0.005 + 1e-5 * length)
    ends = length - repeats * pitch
    for name, count in (("shorter_mm", repeats - 1), ("longer_mm", repeats + 1)):
        expected = count * pitch + (ends if count > 0 else 0.0)
        teller.near(PLAN, f"{place}, {name}", section[name], expected, off=0.005 + 1e-5 * length)
    _check_cross_section(piece, number, section, teller)
    rounding = _rounding(piece, section)
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
            count = _repeats_for(wanted, scaled, ends, rounding)
        close = abs(tolerance["rings"] - count * each) < 0.5
        if wanted is not None and not close:  # the last digit may tip a rounding
            near = {_repeats_for(wanted + off, scaled, ends, rounding) for off in (-0.01, 0.01)}
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
        short, over = whole < asked - 0.02, whole > asked + 0.02
        wrong = {"at least": short, "at most": over and min(s["repeats"] for s in steps) > 1}
        kept = not wrong.get(record["rounding"], False)
        text = f"{record['rounding']} {asked:g} mm"
        teller.true(PLAN, f"{piece.name}, length_mm", kept, whole, text)
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
        rounding = _rounding(piece, section)
        low, high = section["shorter_mm"], section["longer_mm"]
        middle, wish = section["length_mm"], section["wanted_mm"]
        spans = {
            "nearest": ((low + middle) / 2, (middle + high) / 2),
            "at least": (low, middle),
            "at most": (middle, high),
        }
        least, most = spans.get(rounding, (low, high))
        good = (wish <= most + 0.01) and (wish >= least - 0.01 or section["repeats"] == 1)
        good |= section["repeats"] == 1 and wish < middle
        place = f"{piece.name}, section {number}, length_mm"
        teller.true(PLAN, place, good, middle, f"{rounding} to {wish:g} mm")


def _rounding(piece: PieceFiles, section: dict[str, Any]) -> str:
    """How a section is rounded: a step of a graduated stretch to the nearest, the whole as told."""
    return "nearest" if section.get("graded") else str(piece.record["rounding"])


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
