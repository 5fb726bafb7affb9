"""What is told beside the limits: how long to cool, a quicker hand's waits, rings that touch."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.findings import Teller
from chainplan.examine.heat.ring_limits import list_limits, may_break
from chainplan.examine.heat.simulation import simulate
from chainplan.examine.reading import PLAN, SHEET
from chainplan.examine.welding.orders import pace_of

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.examine.heat.simulation import SimulatedPiece
    from chainplan.examine.reading import PieceFiles, PlanFiles

_OFF_K, _OFF_SHARE = 0.2, 0.01
"""What places, times and conductances written rounded may change a temperature by."""
_COLD_K = 5.0
"""Above its temperature at rest a piece counts as cold."""
_WATCHED = 60
"""Rings welded last that are looked at."""
_LATER, _LATER_S = 1.23, 1.5
"""Times told are of a row, each about a fifth after the one before it, and rounded up."""
_LONGEST_S = 7200.0
"""Longest time that is told: no piece is warm after two hours (judgement)."""


def compare_cooling(
    files: PlanFiles, piece: PieceFiles, found: SimulatedPiece, teller: Teller
) -> None:
    """Compare when any join may be welded after the last one, and when the piece is cold."""
    limits = list_limits(files, piece, Teller(""))
    least_c = min((item.limit_c for item in limits), default=math.inf)
    own = np.unique(found.patch.place[-_WATCHED:])
    after_s = np.concatenate([[0.0], np.geomspace(0.5, _LONGEST_S, 400)])
    early, late = {"rest_s": 0.0, "cold_s": 0.0}, {"rest_s": 0.0, "cold_s": 0.0}
    for corner in found.network.end("high"):
        run = found.runs[corner]
        state = np.exp(-np.outer(after_s, run.modes.rate)) * run.after[-1]
        rise: FloatArray = state @ run.modes.shape[own].T
        base = run.modes.base_c[own]
        for name, level in (("rest_s", least_c - base), ("cold_s", np.full(len(own), _COLD_K))):
            for ends, sign, one_on in ((early, -1, 0), (late, 1, 1)):
                over = (rise * (1 + sign * _OFF_SHARE) + sign * _OFF_K > level).any(axis=1)
                at = np.flatnonzero(over)
                if len(at):
                    ends[name] = max(
                        ends[name], float(after_s[min(int(at[-1]) + one_on, len(after_s) - 1)])
                    )
    for name, told in (("rest_s", piece.sheet["rest_s"]), ("cold_s", piece.sheet["cold_s"])):
        first = early[name] if early[name] > 1 else 0.0
        good = first - 0.01 <= told <= late[name] * _LATER + _LATER_S
        text = f"{first:.0f} s and up to a fifth more"
        teller.true(SHEET, f"{piece.name}, {name}", good, told, text)


def compare_hurry(
    files: PlanFiles, piece: PieceFiles, known: SimulatedPiece, teller: Teller
) -> None:
    """Look whether a quicker hand keeps the limits with the waits that the sheet has for it."""
    gap_s, network = pace_of(files, piece).gap_s, known.network
    limits = [
        item for item in list_limits(files, piece, Teller("")) if not may_break(piece, item.name)
    ]
    for item in piece.sheet["faster"]:
        place = f"{piece.name}, faster, {item['share']}"
        wait_s = np.asarray(item["wait"], dtype=float)
        if len(wait_s) != len(gap_s) or (wait_s < 0).any():
            teller.tell(SHEET, f"{place}, wait", len(wait_s), f"{len(gap_s)} waits, none below 0")
            continue
        start_s = np.cumsum(item["share"] * gap_s + wait_s)
        found = simulate(network, piece, start_s, np.arange(1), known)
        before_c = found.before_c("high")
        for limit in limits:
            warm = float(before_c[limit.steps[found.patch.weld]].max(initial=-np.inf))
            allowed = limit.limit_c + 0.05 + _OFF_K + _OFF_SHARE * max(warm - network.room_c, 0.0)
            text = f"{warm:.1f} °C before a weld"
            teller.true(SHEET, place, not warm > allowed, text, f"up to {limit.limit_c:g} °C")
        for k, part in enumerate(network.parts):
            peak = max(found.runs[c].peak_c(network.rings + k) for c in network.end("high"))
            allowed = part["limit_c"] + 0.05 + _OFF_K + _OFF_SHARE * (peak - network.room_c)
            good = peak <= allowed or may_break(piece, part["name"])
            text = f"{part['name']} at {peak:.1f} °C"
            teller.true(SHEET, place, good, text, f"up to {part['limit_c']:g} °C")


def _rings_at(piece: PieceFiles, item: dict[str, Any]) -> list[int]:
    """Rings that a part touches, closed beforehand or not; of a fitting those that it stands at."""
    bodies = [
        [ring - 1 for ring in node["rings"]]
        for node in piece.record["heat"]["parts"]
        if node["name"] == item["name"] and node["body"] is None
    ]
    if item["fitting"]:
        own = {ring - 1 for ring in item["touching"]}
        bodies = [rings for rings in bodies if own <= set(rings)][:1]
    return sorted({ring for rings in bodies for ring in rings})


def compare_touching(piece: PieceFiles, found: SimulatedPiece, teller: Teller) -> None:
    """Compare the peaks of what stands by, and of the rings that touch it, in the planned order."""
    network = found.network
    for item in piece.record["stand_by"]:
        told = item.get("planned")
        rows = [
            row
            for row in piece.order["limits"]
            if row["kind"] == "part" and row["name"] == item["name"]
        ]
        if told is None or not rows:
            continue
        place = f"{piece.name}, stand_by, {item['name']}, planned"
        usual, every = network.end("usual"), [*network.end("usual"), *network.end("high")]
        rings = _rings_at(piece, item)
        for end, corners in (("usual", usual), ("high", every)):
            body = max(row[f"{end}_c"] for row in rows)
            ring = max((found.runs[c].peak_c(k) for c in corners for k in rings), default=body)
            for what, value in (("body", body), ("ring", max(ring, body))):
                off = _OFF_K + _OFF_SHARE * abs(value - network.room_c)
                name = f"{what}_{end}_c"
                teller.near(PLAN, f"{place}, {name}", told[name], value, off=off)
