"""Temperature limits: simulated anew from the written network and the written times."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.findings import Teller
from chainplan.examine.heat.beside import compare_cooling, compare_hurry, compare_touching
from chainplan.examine.heat.grips import Grip, touched_c
from chainplan.examine.heat.networks import ENDS
from chainplan.examine.heat.ring_limits import least_limit_c, list_limits, may_break
from chainplan.examine.heat.simulation import LARGEST, simulate, slopes_k_s, warmth_before
from chainplan.examine.heat.unpaused import compare_unpaused
from chainplan.examine.heat.written import read_network
from chainplan.examine.reading import PLAN, STEPS
from chainplan.examine.registry import check
from chainplan.examine.space.poses import pick
from chainplan.examine.welding.orders import pace_of, real_starts

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.examine.heat.simulation import SimulatedPiece
    from chainplan.examine.heat.written import Network
    from chainplan.examine.reading import PieceFiles, PlanFiles

OFF_K = 0.2
"""What places and times written rounded may change a peak by, …"""
OFF_SHARE = 0.01
"""… and what they and rounded conductances may, of the rise."""
BEFORE_OFF_K = 0.06
"""The same before each weld, where the slope at that moment is known."""
BEFORE_OFF_SHARE = 0.003
"""Of a rise before a weld: two ways of solving one network stay within it on every sample."""
PATCH_OFF_K = 1.5
"""What a patch's rim may change at its middle."""
TENTHS_S = 0.12
"""Times are written to tenths of a second; this and those before may be off together by that."""
_PATCHES = 3
_COPIES = 2
"""Joins and copies that are followed again: a sample, for each
costs a solution of its own (judgement: a tenth of the plan; the warmest join always is)."""


@check("limits hold at the peaks", apart=True)
def check_limits(files: PlanFiles, teller: Teller) -> None:
    """Simulate every weld: interpass temperatures, parts at their peaks, fingers."""
    for piece in files.pieces:
        ring = piece.welded
        if not len(ring) or ring.min() < 0 or ring.max() >= piece.count:
            continue
        try:
            network = read_network(piece)
        except (ValueError, IndexError):
            continue  # told by the check of the network
        if network.end("low") and network.end("usual") and network.end("high"):
            _check_piece(files, piece, network, teller)


def _check_piece(files: PlanFiles, piece: PieceFiles, network: Network, teller: Teller) -> None:
    start = piece.steps["start_s"].astype(float)
    if len(network.capacity) <= LARGEST:
        found = simulate(network, piece, start, np.arange(1))
        files.simulated[piece.name] = found
        for end in ENDS:
            every = found.patch.weld, found.before_c(end), slopes_k_s(found, end)
            _compare_before(piece, end, *every, teller, BEFORE_OFF_K, rest=files.rest)
        _compare_limits(files, piece, found, teller)
        _check_batch_times(files, piece, found, teller)
        compare_touching(piece, found, teller)
        compare_unpaused(files, piece, found, teller)
        if not files.rest and "ring" in piece.sheet:  # a rest begins with other rings warm
            compare_cooling(files, piece, found, teller)
            compare_hurry(files, piece, found, teller)
        return
    teller.note(
        f"{piece.name}: heat was simulated anew in patches around the warmest joins, the parts and "
        f"{_PATCHES} joins of a seeded sample"
    )
    warmest = np.argsort(-piece.steps["interpass_high_c"], kind="stable")[:1]
    some = np.random.default_rng(2).choice(len(start), min(_PATCHES, len(start)), replace=False)
    for step in np.concatenate([warmest, some]).tolist():
        for end, (warm_c, slope_k_s) in warmth_before(network, piece, start, step).items():
            one = np.array([step]), np.array([warm_c]), np.array([slope_k_s])
            _compare_before(piece, end, *one, teller, PATCH_OFF_K, rest=files.rest)
    for node in pick(len(network.parts), 3).tolist():
        found = simulate(network, piece, start, np.array([network.rings + node]))
        _compare_parts(files, piece, found, teller, PATCH_OFF_K)
    _compare_interpass(files, piece, teller)


def _compare_before(
    piece: PieceFiles, end: str, step: IndexArray, simulated: FloatArray, slope_k_s: FloatArray,
    teller: Teller, off_k: float, *, rest: bool,
) -> None:  # fmt: skip
    """Interpass temperatures of the table, whole degrees, against the simulated ones.

    Rows that stay of an order whose beginning is welded tell what the whole order had: warmer.
    """
    column = f"interpass_{end}_c"
    said, room_c = piece.steps[column][step], float(piece.record["heat"]["room_c"])
    allowed = 0.5 + off_k + BEFORE_OFF_SHARE * np.abs(simulated - room_c)
    allowed = allowed + TENTHS_S * slope_k_s
    off = simulated - said if rest else np.abs(said - simulated)
    for k in np.flatnonzero(off > allowed).tolist():
        place = f"{piece.name}, step {step[k] + 1}, {column}"
        teller.tell(STEPS, place, int(said[k]), float(simulated[k]))


def _limit_rows(piece: PieceFiles, name: str) -> list[dict[str, Any]]:
    return [row for row in piece.order["limits"] if row["name"] == name]


def _rows_of_kind(piece: PieceFiles, kind: str) -> list[dict[str, Any]]:
    return [row for row in piece.order["limits"] if row["kind"] == kind]


def _compare_limits(
    files: PlanFiles, piece: PieceFiles, found: SimulatedPiece, teller: Teller
) -> None:
    peaks = {end: float(found.before_c(end).max()) for end in ENDS}
    steep_k = OFF_K + TENTHS_S * float(slopes_k_s(found, "high").max())
    _compare_rings(files, piece, found, steep_k, teller)
    mine = next((c for c in piece.order["comparisons"] if c["name"] == "to follow"), None)
    if mine is not None:
        off = steep_k + OFF_SHARE * abs(peaks["high"] - found.network.room_c)
        place = f"{piece.name}, comparisons, warmest_interpass_c"
        teller.near(PLAN, place, mine["warmest_interpass_c"], peaks["high"], off=off)
        _compare_without_waits(files, piece, found, mine, teller)
    _compare_interpass(files, piece, teller)
    _compare_parts(files, piece, found, teller, OFF_K)
    _compare_fingers(files, piece, found, teller)


def _compare_without_waits(
    files: PlanFiles, piece: PieceFiles, known: SimulatedPiece, mine: dict[str, Any], teller: Teller
) -> None:
    network, warm = known.network, float(known.before_c("high").max())
    if piece.steps["wait_before_s"].any():
        start = np.cumsum(pace_of(files, piece).gap_s)
        found = simulate(network, piece, start, np.arange(1), known)
        warm, known = float(found.before_c("high").max()), found
    place = f"{piece.name}, comparisons, to follow, warmest_without_waits_c"
    off = OFF_K + TENTHS_S * float(slopes_k_s(known, "high").max())
    off += OFF_SHARE * abs(warm - network.room_c)
    teller.near(PLAN, place, mine["warmest_without_waits_c"], warm, off=off)


def _compare_row(
    piece: PieceFiles, row: dict[str, Any], limit: float, peaks: dict[str, float], place: str,
    teller: Teller, off_k: float = OFF_K,
) -> None:  # fmt: skip
    teller.near(PLAN, f"{place}, limit_c", row["limit_c"], limit)
    room = float(piece.record["heat"]["room_c"])
    for end in ENDS:
        off = off_k + OFF_SHARE * abs(peaks[end] - room)
        teller.near(PLAN, f"{place}, {end}_c", row[f"{end}_c"], peaks[end], off=off)
    above = peaks["high"] - off_k - OFF_SHARE * abs(peaks["high"] - room) > limit + 0.05
    if above and not may_break(piece, row["name"]):
        teller.tell(PLAN, place, f"{peaks['high']:.2f} °C", f"up to {limit:g} °C")
    holds = row["high_c"] <= row["limit_c"] + 0.05
    teller.same(PLAN, f"{place}, holds", row["holds"], holds)
    kept = holds or may_break(piece, row["name"])
    teller.true(PLAN, f"{place}, holds", kept, row["high_c"], "kept, or set aside by name")
    for item in piece.order["set_aside"]:
        if item["name"] == row["name"]:
            known = [r["limit_c"] for r in _limit_rows(piece, row["name"])]
            good = item["limit_c"] in known
            teller.true(PLAN, f"{piece.name}, set_aside", good, item["limit_c"], known)


def _compare_where(
    piece: PieceFiles, row: dict[str, Any], step_of: IndexArray, warm: FloatArray, place: str,
    off_k: float, teller: Teller,
) -> None:  # fmt: skip
    """Look whether the ring and the step that are named are as warm as any."""
    named = re.match(r"ring (\d+), step (\d+)$", row["where"])
    if named is None:
        teller.tell(PLAN, f"{place}, where", row["where"], "a ring and a step")
        return
    ring, step = (int(text) for text in named.groups())
    good = 1 <= step <= len(piece.welded) and piece.welded[step - 1] == ring - 1
    teller.true(PLAN, f"{place}, where", good, row["where"], "a step and its ring")
    teller.same(PLAN, f"{place}, ring", row["ring"], ring)
    if good:
        here = float(warm[np.flatnonzero(step_of == step - 1)].max(initial=-np.inf))
        near = here > float(warm.max()) - 2 * off_k
        teller.true(PLAN, f"{place}, where", near, f"{here:.1f} °C there", "the warmest join")


def _compare_rings(
    files: PlanFiles, piece: PieceFiles, found: SimulatedPiece, off_k: float, teller: Teller
) -> None:
    """Compare the rings before their welds with every limit that holds for them."""
    step = found.patch.weld
    warm = {end: found.before_c(end) for end in ENDS}
    for item in list_limits(files, piece, Teller("")):
        own = item.steps[step]
        if item.row is None or not own.any():
            continue
        peaks = {end: float(warm[end][own].max()) for end in ENDS}
        place = f"{piece.name}, limits, {item.name}"
        _compare_row(piece, item.row, item.limit_c, peaks, place, teller, off_k)
        high = np.where(own, warm["high"], -np.inf)
        _compare_where(piece, item.row, step, high, place, off_k, teller)


def _compare_interpass(files: PlanFiles, piece: PieceFiles, teller: Teller) -> None:
    """Look for rows of the table above their limits; the highest is that of the limits."""
    limits = list_limits(files, piece, teller)
    high = piece.steps["interpass_high_c"]
    kept = [item for item in limits if not may_break(piece, item.name)]
    least = least_limit_c(kept, len(high))
    told = [float(text) if text else np.inf for text in piece.steps["limit_before_c"]]
    for step in np.flatnonzero(np.abs(np.nan_to_num(told - least)) > 0.006).tolist():
        place = f"{piece.name}, step {step + 1}, limit_before_c"
        teller.tell(STEPS, place, told[step], float(least[step]))
    ordered = (piece.steps["interpass_low_c"] <= piece.steps["interpass_usual_c"]) & (
        piece.steps["interpass_usual_c"] <= high
    )
    for step in np.flatnonzero(~ordered).tolist():
        place = f"{piece.name}, step {step + 1}, interpass_usual_c"
        teller.tell(STEPS, place, "low, usual and high out of order", "rising")
    for item in limits:
        if not may_break(piece, item.name):
            for step in np.flatnonzero(item.steps & (high > item.limit_c + 0.55)).tolist():
                place = f"{piece.name}, step {step + 1}, interpass_high_c"
                teller.tell(STEPS, place, int(high[step]), f"up to {item.limit_c:g} °C")
        if item.row is not None and item.steps.any():
            for end in ENDS:
                top = int(piece.steps[f"interpass_{end}_c"][item.steps].max())
                place = f"{piece.name}, limits, {item.name}, {end}_c"
                row_c = item.row[f"{end}_c"]
                if not (files.rest and row_c <= top):  # rows may tell the warmer whole order
                    teller.near(PLAN, place, row_c, top, off=0.51)


def _compare_parts(
    files: PlanFiles, piece: PieceFiles, found: SimulatedPiece, teller: Teller, off_k: float
) -> None:
    del files
    network = found.network
    listed = [row["name"] for row in _rows_of_kind(piece, "part")]
    told = [part["name"] for part in network.parts]
    teller.same(PLAN, f"{piece.name}, limits, parts", listed, told)
    rows = _rows_of_kind(piece, "part")
    for k, (part, row) in enumerate(zip(network.parts, rows, strict=False)):
        place = np.flatnonzero(found.patch.node == network.rings + k)
        if not len(place):
            continue
        node = int(place[0])
        peaks = {
            end: max(found.runs[corner].peak_c(node) for corner in network.end(end)) for end in ENDS
        }
        where = f"{piece.name}, limits, {part['name']}"
        _compare_row(piece, row, part["limit_c"], peaks, where, teller, off_k)
        near = re.match(r"next to rings? ([\d, ]+)$", row["where"])
        if near is not None:
            numbers = [int(text) for text in near.group(1).split(",")]
            teller.same(PLAN, f"{where}, where", numbers, sorted(part["rings"]))
            teller.same(PLAN, f"{where}, ring", row["ring"], min(part["rings"]))


def _compare_fingers(
    files: PlanFiles, piece: PieceFiles, found: SimulatedPiece, teller: Teller
) -> None:
    """Compare the coolest place in reach, on the worse side, as the fingers close and after."""
    rows = _rows_of_kind(piece, "fingers")
    grips = [Grip.of(files, piece, cool=cool) for cool in (True, False)]
    place = f"{piece.name}, limits, fingers"
    if not any(grip is not None and grip.reach.any() for grip in grips):
        teller.same(PLAN, place, len(rows), 0)
        return
    warm = _warm_at_fingers(files, piece, found, [grip for grip in grips if grip is not None])
    if all(grip is not None and (grip.sure & ~grip.coolest).any() for grip in grips):
        teller.same(PLAN, place, len(rows), 1)
    for row in rows:
        room = found.network.room_c
        limit = files.value("bench.heat.finger_limit_c") - files.value("bench.heat.reserve_k")
        peaks = {}
        for end in ENDS:  # what is said, if it lies between the two readings
            low, high = sorted(reading[end] for reading in warm)
            # Where every hold lies on an edge, the cooler reading may be that of no hold at all.
            peaks[end] = min(max(row[f"{end}_c"], low, room), high)
        _compare_row(piece, row, limit, peaks, place, teller, 2 * OFF_K)


def _warm_at_fingers(
    files: PlanFiles, piece: PieceFiles, found: SimulatedPiece, grips: list[Grip]
) -> list[dict[str, float]]:
    """Warmest that the fingers have it at each end, from closing to the pulse, by grip. [°C]."""
    readings: list[dict[str, float]] = [{} for _ in grips]
    for end, run in zip(found.network.ends, found.runs, strict=True):
        warm = touched_c(files, piece, run, found.network.rings)
        for grip, reading in zip(grips, readings, strict=True):
            reading[end] = max(reading.get(end, -math.inf), grip.warmest_c(warm))
    return readings


def _check_batch_times(
    files: PlanFiles, piece: PieceFiles, known: SimulatedPiece, teller: Teller
) -> None:
    """Limits at the times of the interleaved batch, of the first copies of each piece."""
    batch, network = files.plan["order"]["batch"], known.network
    if not batch["interleaved"]:
        return
    limits = [
        item for item in list_limits(files, piece, Teller("")) if not may_break(piece, item.name)
    ]
    for copy in range(1, min(piece.record["quantity"], _COPIES) + 1):
        stints = [
            k
            for k, name in enumerate(batch["piece"])
            if name == piece.name and batch["copy"][k] == copy
        ]
        if len(stints) < 2:
            continue
        start = real_starts(piece, batch, copy)
        if (np.diff(start) < 0).any():
            continue  # told by the check of the batch
        found = simulate(network, piece, start, np.arange(1), known)
        place = f"order, batch, {piece.name}, copy {copy}"
        for item in limits:
            own = item.steps[found.patch.weld]
            warm = float(found.before_c("high")[own].max(initial=-np.inf))
            allowed = item.limit_c + 0.05 + OFF_K + OFF_SHARE * abs(warm - network.room_c)
            text = f"{warm:.1f} °C before a weld"
            teller.true(PLAN, place, not warm > allowed, text, f"up to {item.limit_c:g} °C")
        for k, part in enumerate(network.parts):
            peak = max(found.runs[c].peak_c(network.rings + k) for c in network.end("high"))
            allowed = part["limit_c"] + 0.05 + OFF_K + OFF_SHARE * (peak - network.room_c)
            text = f"{part['name']} at {peak:.1f} °C"
            kept = peak <= allowed or may_break(piece, part["name"])
            teller.true(PLAN, place, kept, text, f"{part['limit_c']:g} °C")
