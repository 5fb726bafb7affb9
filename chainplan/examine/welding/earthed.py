"""The return lead: does the clip reach every join, how often is it moved, what do others cost."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.reading import PLAN, STEPS
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

WAYS = ("tweezers", "clip", "block")
HOWS = ("planned", "up to", "at least", "none")
EDGE_MM = 0.001
"""Places are written rounded: a join may lie just on the edge of the clip's reach."""


def handle_s(files: PlanFiles, piece: PieceFiles) -> float:
    """Seconds to aim at a join and weld it, the grip of earthed tweezers with them. [s]."""
    earthing = piece.order["earthing"]
    gripped = earthing is not None and earthing["way"] == "tweezers"
    more = files.value("bench.lead.tweezers_s") if gripped else 0.0
    return files.value("bench.pace.handle_s") + more


def clip_moves(piece: PieceFiles) -> FloatArray:
    """Tell with a 1 before which steps the clip is moved, shape (k,)."""
    moved = np.zeros(len(piece.welded))
    clip = piece.clip
    if clip is not None:
        moved[1:] = np.diff(clip) != 0
    return moved


@check("the return lead reaches every join")
def check_earthing(files: PlanFiles, teller: Teller) -> None:
    """Look at the way of earthing, the clip's reach and moves, and the times of the other ways."""
    wanted = files.plan["bench"]["lead"]["return_lead"]
    for piece in files.pieces:
        earthing, place = piece.order["earthing"], f"{piece.name}, earthing"
        if not len(piece.welded) or piece.welded.max() >= piece.count:
            continue
        if earthing is None:
            teller.tell(PLAN, place, "nothing", "a way of earthing the piece")
            continue
        loose = piece.rings["weave"] == "loose-joins"
        way = earthing["way"]
        teller.true(PLAN, f"{place}, way", way in WAYS, way, WAYS)
        if wanted:
            teller.same(PLAN, f"{place}, way", way, wanted)
        why = "set" if wanted else "loose" if loose[piece.welded].all() else "quickest"
        teller.same(PLAN, f"{place}, why", earthing["why"], why)
        told = piece.steps["clip_on_ring"]
        clip = piece.clip
        filled = clip is not None if way == "clip" else not any(told.tolist())
        first = told[:3].tolist()
        teller.true(STEPS, f"{piece.name}, clip_on_ring", filled, first, f"as for {way}")
        if clip is not None:
            _check_reach(files, piece, clip, loose.astype(bool), teller)
        _check_told(files, piece, clip, teller)


def _check_reach(
    files: PlanFiles, piece: PieceFiles, clip: IndexArray, loose: IndexArray, teller: Teller
) -> None:
    """Each join lies within reach of the clip, or the clip is on its own ring."""
    welded, reach = piece.welded, files.value("bench.lead.clip_reach_mm")
    away = np.linalg.norm(piece.join_mm[welded, :2] - piece.centre_mm[clip, :2], axis=1)
    apart = loose[welded] | loose[clip]
    wrong = ((away > reach + EDGE_MM) | apart) & (clip != welded)
    for step in np.flatnonzero(wrong).tolist():
        # A ring out of reach of every other is welded with the clip as near as there is a ring.
        nearest = np.linalg.norm(piece.join_mm[welded[step], :2] - piece.centre_mm[:, :2], axis=1)
        if away[step] > nearest.min() + EDGE_MM or apart[step]:
            place = f"{piece.name}, step {step + 1}, clip_on_ring"
            teller.tell(STEPS, place, f"{away[step]:.2f} mm away", f"up to {reach:g} mm")
    most = int(files.value("bench.lead.clip_reach_contacts"))
    if most:
        _check_contacts(piece, clip, most, teller)


def _check_contacts(piece: PieceFiles, clip: IndexArray, most: int, teller: Teller) -> None:
    """Count the links that the current crosses from each place of the clip, ring after ring."""
    tied = piece.links["how"] != "touch"
    beside: dict[int, list[int]] = {}
    for one, other in zip(
        (piece.links["ring"][tied] - 1).tolist(),
        (piece.links["other"][tied] - 1).tolist(),
        strict=True,
    ):
        beside.setdefault(one, []).append(other)
        beside.setdefault(other, []).append(one)
    steps_of: dict[int, list[int]] = {}
    for step, clip_on in enumerate(clip.tolist()):
        steps_of.setdefault(clip_on, []).append(step)
    for clip_on, steps in sorted(steps_of.items()):
        near, edge = {clip_on}, {clip_on}
        for _ in range(most):
            edge = {other for ring in edge for other in beside.get(ring, ())} - near
            near |= edge
        for step in steps:
            if int(piece.welded[step]) not in near:
                place = f"{piece.name}, step {step + 1}, clip_on_ring"
                teller.tell(STEPS, place, "more contacts between rings", f"up to {most}")


def _check_told(
    files: PlanFiles, piece: PieceFiles, clip: IndexArray | None, teller: Teller
) -> None:
    """Compare places, moves, times and the sentence with the table and the bench settings."""
    earthing, place = piece.order["earthing"], f"{piece.name}, earthing"
    rings = _turns(np.zeros(0, dtype=int) if clip is None else clip)
    teller.same(PLAN, f"{place}, clip_places", earthing["clip_places"], rings)
    moves = max(len(rings) - 1, 0)
    teller.same(PLAN, f"{place}, clip_moves", earthing["clip_moves"], moves)
    for name, key, of_way in (
        ("clip_s", "clip_move_s", "clip"), ("tweezers_s", "tweezers_s", "tweezers"),
    ):  # fmt: skip
        value = files.value(f"bench.lead.{key}") if earthing["way"] == of_way else 0.0
        teller.near(PLAN, f"{place}, {name}", earthing[name], value)
    of_step = [] if clip is None else (clip + 1).tolist()
    for item in piece.order["passes"] if files.plan.get("replan") is None else ():
        own = of_step[item["first_step"] : item["first_step"] + item["joins"]]
        turns = [ring for ring, _ in itertools.groupby(own)]
        where = f"{piece.name}, pass {item['number']}, clip_rings"
        teller.same(PLAN, where, item["clip_rings"], turns)
    times = earthing["times"]
    if not times and files.plan.get("replan") is not None:
        return
    teller.same(PLAN, f"{place}, times", sorted(row["way"] for row in times), sorted(WAYS))
    for row in times:
        _check_time(files, piece, row, teller)
    if files.plan.get("replan") is None:
        own = next((row for row in times if row["way"] == earthing["way"]), None)
        if own is not None:
            teller.near(PLAN, f"{place}, times", own["bench_time_s"], piece.order["bench_time_s"])
            teller.same(PLAN, f"{place}, times, clip_moves", own["clip_moves"], moves)
        said = earthing["said"]
        there = said in piece.order["gained"]
        teller.true(PLAN, f"{place}, said", there, said, "one of the sentences told")


def _turns(clip: IndexArray) -> list[int]:
    """Rings that the clip sits on one after another, from 1."""
    rings: list[int] = (clip[np.flatnonzero(np.diff(clip, prepend=-1))] + 1).tolist()
    return rings


def _check_time(files: PlanFiles, piece: PieceFiles, row: dict[str, Any], teller: Teller) -> None:
    """No way takes less than its handling and moving the clip; what is said is said rightly."""
    place = f"{piece.name}, earthing, times, {row['way']}"
    teller.true(PLAN, place, row["how"] in HOWS, row["how"], HOWS)
    handle = files.value("bench.pace.handle_s")
    handle += files.value("bench.lead.tweezers_s") if row["way"] == "tweezers" else 0.0
    after = files.value("bench.pace.extra_hit_s") * (piece.steps["hits"] - 1.0)
    moves = int(row["clip_moves"])
    least = len(piece.welded) * handle + float(after.sum())
    least += moves * files.value("bench.lead.clip_move_s")
    good = row["way"] == "clip" or moves == 0
    teller.true(PLAN, f"{place}, clip_moves", good, moves, 0)
    enough = math.isfinite(least) and float(row["bench_time_s"]) >= least - 0.02 - 1e-5 * least
    text = f"{row['bench_time_s']} s"
    teller.true(PLAN, f"{place}, bench_time_s", enough, text, f"at least {least:.0f} s")
