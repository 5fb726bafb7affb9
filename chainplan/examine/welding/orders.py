"""The weld order: every join once, at times that the pace allows, in passes as they are said."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.reading import PLAN, RINGS, STEPS
from chainplan.examine.registry import check
from chainplan.examine.welding.earthed import clip_moves, handle_s

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

TENTHS_S = 0.101
"""Times are written to a tenth of a second: two of them together are off by that much at most."""
STATUSES = ("complete", "no limit binds", "infeasible")


@dataclass(frozen=True)
class StepPace:
    """What each step of an order takes. [s]."""

    after_s: FloatArray  # (k,) extra hits after the first pulse
    move_mm: FloatArray  # (k,) from the join before
    turned: FloatArray  # (k,) 1 where the piece is turned before it
    changed: FloatArray  # (k,) 1 where the setting is changed before it
    gap_s: FloatArray  # (k,) from the first pulse of the join before to this one's, no wait


def pace_of(files: PlanFiles, piece: PieceFiles) -> StepPace:
    """Work out what the steps of a piece take at the bench's pace."""
    steps, ring = piece.steps, piece.welded
    tip = {item["number"]: item["setting"]["tip"] == "blunt" for item in piece.order["passes"]}
    blunt = np.array([tip.get(number, False) for number in steps["pass"].tolist()], dtype=bool)
    place = piece.join_mm[ring, :2]
    move = np.zeros(len(ring))
    move[1:] = np.linalg.norm(np.diff(place, axis=0), axis=1)
    face = piece.coded("face")[1][ring]
    turned, changed = np.zeros(len(ring)), np.zeros(len(ring))
    turned[1:] = np.diff(face) != 0
    setting = np.column_stack([steps["power_j"], steps["hits"], blunt])
    changed[1:] = (np.diff(setting, axis=0) != 0).any(axis=1)
    after = files.value("bench.pace.extra_hit_s") * (steps["hits"] - 1.0)
    gap = np.full(len(ring), handle_s(files, piece))
    gap[1:] += after[:-1]
    gap += move / files.value("bench.pace.move_mm_s")
    gap += files.value("bench.pace.turn_s") * turned
    gap += files.value("bench.pace.change_setting_s") * changed
    gap += files.value("bench.lead.clip_move_s") * clip_moves(piece)
    return StepPace(after, move, turned, changed, gap)


def bench_s(files: PlanFiles, piece: PieceFiles) -> float:
    """From taking up the piece to the end of the last join, by the table. [s]."""
    if not len(piece.welded):
        return 0.0
    extra = files.value("bench.pace.extra_hit_s") * (int(piece.steps["hits"][-1]) - 1)
    return float(piece.steps["start_s"][-1]) + extra


@check("every join is welded once")
def check_permutation(files: PlanFiles, teller: Teller) -> None:
    """Look for joins left out or welded twice; compare the columns with those of the rings."""
    for piece in files.pieces:
        wanted = np.flatnonzero(piece.rings["closed_beforehand"] == "no")
        ring = piece.welded
        if files.rest:  # which joins are left has a check of its own
            wanted = np.intersect1d(wanted, ring)
        if not np.array_equal(np.sort(ring), wanted):
            count = np.bincount(np.clip(ring, 0, piece.count), minlength=piece.count + 1)
            twice = np.flatnonzero(count[: piece.count] > 1) + 1
            left = np.setdiff1d(wanted, ring) + 1
            found = f"twice: {twice[:5].tolist()}; left out: {left[:5].tolist()}"
            teller.tell(STEPS, f"{piece.name}, ring", found, "every open join once")
        numbers = np.arange(1, len(ring) + 1)
        good = np.array_equal(piece.steps["step"], numbers)
        teller.true(STEPS, f"{piece.name}, step", good, "steps out of order", "1, 2, 3 …")
        listed = [number - 1 for number in piece.order["rings"]]
        teller.same(PLAN, f"{piece.name}, order, rings", listed, ring.tolist())
        teller.same(PLAN, f"{piece.name}, order, joins", piece.order["joins"], len(ring))
        inside = (ring >= 0) & (ring < piece.count)
        for name in ("section", "row", "position", "face", "join_angle_deg"):
            said, known = piece.steps[name][inside], piece.rings[name][ring[inside]]
            for step in np.flatnonzero(said != known).tolist():
                place = f"{piece.name}, step {step + 1}, {name}"
                teller.tell(STEPS, place, said[step], f"{known[step]} as in {RINGS}")


@check("times are those of the hand")
def check_times(files: PlanFiles, teller: Teller) -> None:
    """Each join starts when the hand can be there, after the wait that is said and not later."""
    for piece in files.pieces:
        if not _usable(piece):
            continue
        start, wait = piece.steps["start_s"], piece.steps["wait_before_s"]
        pace = pace_of(files, piece)
        expected = pace.gap_s + wait
        jumped = np.zeros(len(start))
        found = np.diff(start, prepend=0.0)
        if files.rest:  # where joins are left out the hand comes from another place
            jumps = np.diff(piece.steps["row_step"], prepend=0) != 1
            jumped = np.cumsum(jumps)
            expected = np.where(jumps, np.maximum(found, wait), expected)
        for step in np.flatnonzero(np.abs(found - expected) > TENTHS_S + 1e-4).tolist():
            teller.tell(
                STEPS, f"{piece.name}, step {step + 1}, start_s",
                f"{found[step]:.1f} s after the step before", f"{expected[step]:.1f} s",
            )  # fmt: skip
        odd = (wait < 0) | (np.abs(wait - np.round(wait)) > 1e-6)
        for step in np.flatnonzero(odd).tolist():
            place = f"{piece.name}, step {step + 1}, wait_before_s"
            teller.tell(STEPS, place, float(wait[step]), "whole seconds, not below 0")
        # Tenths add up: over the whole order they must not drift from the times written.
        drift = np.abs(np.cumsum(expected) - start)
        allowed = TENTHS_S + 1e-4 * start + 2e-4 * np.arange(len(start))
        allowed = allowed + 2 * TENTHS_S * jumped  # a jump's time is the tenths between two rows
        for step in np.flatnonzero(drift > allowed)[:1].tolist():
            teller.tell(
                STEPS, f"{piece.name}, step {step + 1}, start_s", float(start[step]),
                float(np.cumsum(expected)[step]),
            )  # fmt: skip


def _usable(piece: PieceFiles) -> bool:
    ring = piece.welded
    return bool(len(ring) and ring.min() >= 0 and ring.max() < piece.count)


@check("passes are those of the table")
def check_passes(files: PlanFiles, teller: Teller) -> None:
    """Compare joins, faces, settings and seconds of the passes with weld-order.csv."""
    for piece in files.pieces:
        if not _usable(piece):
            continue
        steps, passes = piece.steps, piece.order["passes"]
        numbers = [item["number"] for item in passes]
        rising = sorted(set(numbers)) if files.rest else [*range(1, len(passes) + 1)]
        teller.same(PLAN, f"{piece.name}, passes, number", numbers, rising)
        of_pass = dict(zip(*np.unique_counts(steps["pass"]), strict=True))
        settings = {
            (line["section"], line["metal"], round(line["wire_mm"], 3)): line["setting"]
            for line in files.of_piece("settings", piece.name)
        }
        first, ended = 0, 0.0
        extra = files.value("bench.pace.extra_hit_s")
        columns = {
            name: steps[name].tolist()
            for name in ("pass", "start_s", "hits", "wait_before_s", "face", "power_j")
        }
        kind_of_ring, rings = piece.materials[1].tolist(), piece.welded.tolist()
        for item in passes:
            place = f"{piece.name}, pass {item['number']}"
            count = int(of_pass.get(item["number"], 0))
            teller.same(PLAN, f"{place}, joins", item["joins"], count)
            teller.same(PLAN, f"{place}, first_step", item["first_step"], first)
            if count < 1 or first + count > len(steps["step"]):
                teller.tell(STEPS, f"{place}, pass", f"{count} joins", "its joins")
                break
            rows = slice(first, first + count)
            own = sorted(set(columns["pass"][rows]))
            teller.same(STEPS, f"{place}, pass", own, [item["number"]])
            last = rows.stop - 1
            end = columns["start_s"][last] + extra * (columns["hits"][last] - 1)
            teller.near(PLAN, f"{place}, seconds", item["seconds"], end - ended, off=TENTHS_S)
            waits = math.fsum(columns["wait_before_s"][rows])
            teller.near(PLAN, f"{place}, wait_s", item["wait_s"], waits, off=0.01)
            faces = sorted(set(columns["face"][rows]))
            teller.same(PLAN, f"{place}, face", [item["face"]], faces)
            for name in ("power_j", "hits"):
                values = sorted(set(columns[name][rows]))
                good = len(values) == 1 and abs(values[0] - item["setting"][name]) < 1e-6
                teller.true(PLAN, f"{place}, {name}", good, item["setting"][name], values)
            kinds = {kind_of_ring[ring] for ring in rings[rows]}
            _check_setting(files, piece, item, kinds, settings, teller)
            first, ended = first + count, end
        teller.same(PLAN, f"{piece.name}, passes", first, len(steps["step"]))


def _check_setting(
    files: PlanFiles, piece: PieceFiles, item: dict[str, Any], own: set[int],
    settings: dict[tuple[int, str, float], dict[str, Any]], teller: Teller,
) -> None:  # fmt: skip
    """Compare the setting of a pass with those of the sections, metals and wires of its rings."""
    wanted = {piece.materials[0][kind] for kind in own}
    lines = {kind: setting for kind, setting in settings.items() if kind in wanted}
    place = f"{piece.name}, pass {item['number']}, setting"
    for (section, metal, _), known in lines.items():
        for name in ("power_j", "hits", "tip"):
            wanted_now = known[name]
            if files.rest and name == "hits" and "with one more hit" in item["text"]:
                wanted_now += 1
            expected = f"{wanted_now} as for {metal} in section {section + 1}"
            same = item["setting"][name] == wanted_now
            teller.true(PLAN, f"{place}, {name}", same, item["setting"][name], expected)
    teller.same(PLAN, place, sorted(lines), sorted(wanted))
    _check_spot(files, item["setting"], place, teller)


def _check_spot(files: PlanFiles, setting: dict[str, Any], place: str, teller: Teller) -> None:
    """Spot between those at the lowest and the highest power; hits share out no more power."""
    lowest, highest = (files.value(f"bench.welder.{n}_power_j") for n in ("lowest", "highest"))
    low, high = (files.value(f"bench.welder.spot_at_{n}_mm") for n in ("lowest", "highest"))
    power = setting["power_j"]
    if not highest > lowest:
        return
    expected = low + (high - low) * min(max((power - lowest) / (highest - lowest), 0.0), 1.0)
    teller.near(PLAN, f"{place}, spot_mm", setting["spot_mm"], expected, off=1e-4)


@check("welder settings suit the welder")
def check_settings(files: PlanFiles, teller: Teller) -> None:
    """One line for every metal and wire of each section, within the welder's power."""
    highest = files.value("bench.welder.highest_power_j")
    for piece in files.pieces:
        lines = files.of_piece("settings", piece.name)
        told = [(line["section"], line["metal"], round(line["wire_mm"], 3)) for line in lines]
        place = f"{piece.name}, settings, section, metal, wire_mm"
        teller.same(PLAN, place, sorted(told), piece.materials[0])
        for line in lines:
            place = f"{piece.name}, settings, section {line['section'] + 1}"
            setting = line["setting"]
            recorded = setting["source"] == "recorded by the user"
            good = 0 < setting["power_j"] <= highest or recorded
            teller.true(PLAN, f"{place}, power_j", good, setting["power_j"], f"up to {highest:g} J")
            _check_spot(files, setting, place, teller)
            grooved = line["filler_g"] > 0
            teller.same(PLAN, f"{place}, too_thick", line["too_thick"], grooved)
            for text in line["steps"][:1]:
                said = f"{setting['power_j']:g} J"
                teller.true(PLAN, f"{place}, steps", said in text or line["too_thick"], text, said)


@check("bench times and the bound")
def check_bench(files: PlanFiles, teller: Teller) -> None:
    """Bench time by the table, the bound below it, and what the comparisons say of this order."""
    for piece in files.pieces:
        order = piece.order
        place = f"{piece.name}, order"
        teller.true(
            PLAN, f"{place}, status", order["status"] in STATUSES, order["status"], STATUSES
        )
        if not _usable(piece):
            continue
        pace = pace_of(files, piece)
        waits = float(piece.steps["wait_before_s"].sum())
        exact = float(pace.gap_s.sum() + waits + pace.after_s[-1])
        if files.rest:  # the hand may come from joins that are left out
            exact = float(piece.steps["start_s"][-1] + pace.after_s[-1])
        teller.near(PLAN, f"{place}, bench_time_s", order["bench_time_s"], exact, off=0.1)
        bound = order["lower_bound_s"]
        teller.true(
            PLAN, f"{place}, lower_bound_s", bound <= order["bench_time_s"] + 0.01,
            bound, "at most the bench time",
        )  # fmt: skip
        parts = sum(order["bound_parts"].values())
        teller.near(PLAN, f"{place}, bound_parts", parts, bound, off=0.01)
        handling = len(pace.gap_s) * handle_s(files, piece) + float(pace.after_s.sum())
        if not (files.rest and "handling" not in order["bound_parts"]):
            teller.near(PLAN, f"{place}, handling", order["bound_parts"]["handling"], handling)
            _check_bound_way(order, exact - waits - handling, place, teller)
        share = order["bench_time_s"] / bound - 1 if bound > 0 else 0.0
        teller.near(PLAN, f"{place}, gap", order["gap"], share, off=2e-5)
        if not (files.rest and not order["comparisons"]):
            _check_comparisons(files, piece, pace, waits, handling, teller)


def _check_bound_way(order: dict[str, Any], way_s: float, place: str, teller: Teller) -> None:
    """No part of the bound is below nothing, and its way is not more than that of the order."""
    parts = order["bound_parts"]
    ways = [parts.get(name, 0) for name in ("turning and changing", "moving", "moving the clip")]
    good = min(parts.values()) >= 0 and sum(ways) <= way_s + 0.1
    teller.true(PLAN, f"{place}, bound_parts", good, parts, f"a way of up to {way_s:.2f}")


def _check_comparisons(
    files: PlanFiles,
    piece: PieceFiles,
    pace: StepPace,
    waits: float,
    handling: float,
    teller: Teller,
) -> None:
    order = piece.order
    named = {item["name"]: item for item in order["comparisons"]}
    place = f"{piece.name}, comparisons"
    for name in ("to follow", "free", "end to end"):
        teller.true(PLAN, place, name in named, f"no {name!r}", "the orders compared")
    mine = named.get("to follow")
    if mine is not None:
        teller.near(PLAN, f"{place}, bench_time_s", mine["bench_time_s"], order["bench_time_s"])
        teller.near(PLAN, f"{place}, wait_s", mine["wait_s"], waits, off=0.01)
        travel = float(pace.move_mm.sum())
        teller.near(
            PLAN, f"{place}, travel_mm", mine["travel_mm"], travel, off=1e-3 * len(pace.move_mm)
        )
    if "free" in named:
        free = named["free"]["bench_time_s"]
        teller.near(PLAN, f"{place}, free_time_s", order["free_time_s"], free)
    for name, item in named.items():
        _check_comparison_words(piece, name, item, f"{place}, {name}", teller)
        rest = item["bench_time_s"] - item["wait_s"] - handling
        rest -= item["travel_mm"] / files.value("bench.pace.move_mm_s")
        off = _off_changes(files, rest, clips=bool(clip_moves(piece).any()))
        text = f"{rest:.2f} s beside handling, moving and waiting"
        good = off < 0.02 + 2e-5 * item["bench_time_s"]
        teller.true(PLAN, f"{place}, {name}", good, text, "whole turns, changes and moves")
        short = item["bench_time_s"] < order["lower_bound_s"] - 0.02
        good = not (short and item["feasible"])
        text = f"{item['bench_time_s']:.1f} s"
        teller.true(PLAN, f"{place}, {name}", good, text, "at least the lower bound")
        if item["wait_s"] == 0:
            teller.near(
                PLAN, f"{place}, {name}, warmest_without_waits_c", item["warmest_without_waits_c"],
                item["warmest_interpass_c"], off=0.1,
            )  # fmt: skip
        own = files.value("bench.heat.highest_interpass_c")
        own -= files.value("bench.heat.reserve_k") if own > 0 else 0.0
        kinds = ("interpass", "metal", "even welds")
        limits = [row["limit_c"] for row in order["limits"] if row["kind"] in kinds]
        highest = own if own > 0 else max(limits, default=math.inf)
        warm = item["warmest_interpass_c"] > highest + 0.06 and item["feasible"]
        place_c = f"{place}, {name}, warmest_interpass_c"
        teller.true(PLAN, place_c, not warm, item["warmest_interpass_c"], f"up to {highest:.0f} °C")


def _check_comparison_words(
    piece: PieceFiles, name: str, item: dict[str, Any], place: str, teller: Teller
) -> None:
    """Look whether a comparison that leaves the fingers out, or breaks a limit, says so."""
    broken = "cannot keep the limits" in item["note"] or "cannot be kept" in item["note"]
    teller.same(PLAN, f"{place}, feasible", item["feasible"], not broken)
    bare = "the fingers are not counted" in item["note"]
    teller.same(PLAN, f"{place}, fingers_counted", item["fingers_counted"], not bare)
    if name == "to follow":
        kept = piece.order["status"] != "infeasible"
        teller.same(PLAN, f"{place}, feasible", item["feasible"], kept)


def _off_changes(files: PlanFiles, rest_s: float, *, clips: bool) -> float:
    """How far some seconds are from whole numbers of turns, changes and moves of a clip. [s].

    Of two counts all sums of their common measure are there beyond their product over it, so that
    only shorter rests are looked for one by one.
    """
    turn_s = files.value("bench.pace.turn_s")
    change_s = files.value("bench.pace.change_setting_s")
    clip_s = files.value("bench.lead.clip_move_s") if clips else 0.0
    units = sorted(round(1000 * unit) for unit in (turn_s, change_s, clip_s) if unit > 0)
    common = math.gcd(*units) if units else 0
    if len(units) > 1 and common > 0 and 1000 * rest_s > units[0] * units[1] / common:
        pairs_s = math.gcd(*units[:2]) / 1000
        most = common and units[-1] * 1000 * pairs_s / common
        if 1000 * rest_s > units[0] * units[1] / common + most:
            return abs(rest_s - round(rest_s * 1000 / common) * common / 1000)
    changes = np.arange(_most(rest_s, change_s)) * change_s
    left = rest_s - changes[:, None] - np.arange(_most(rest_s, clip_s)) * clip_s
    turns = np.maximum(np.round(left / turn_s), 0.0) if turn_s > 0 else np.zeros(1)
    return float(np.abs(left - turns * turn_s).min())


def _most(rest_s: float, each_s: float) -> int:
    """How often something may have been done in some seconds, and once more."""
    return min(int(max(rest_s, 0.0) / each_s) + 2, 2000) if each_s > 0 else 1


@check("the batch takes every piece once")
def check_batch(files: PlanFiles, teller: Teller) -> None:
    """Each copy's steps are taken in order, at times at which its stints and rests are over."""
    batch = files.plan["order"]["batch"]
    pieces = {piece.name: piece for piece in files.pieces}
    length = len(batch["piece"])
    lists = ("copy", "first_step", "steps", "start_s")
    if any(len(batch[name]) != length for name in lists):
        teller.tell(PLAN, "order, batch", "lists of different length", "one entry a stint")
        return
    done: dict[tuple[str, int], tuple[int, float]] = {}
    free, last = 0.0, None
    change = files.value("bench.pace.change_piece_s")
    for k, name in enumerate(batch["piece"]):
        copy, first, count = batch["copy"][k], batch["first_step"][k], batch["steps"][k]
        place = f"order, batch, stint {k + 1}"
        piece = pieces.get(name)
        if piece is None or not 1 <= copy <= piece.record["quantity"]:
            teller.tell(PLAN, place, f"{name}, copy {copy}", "a copy of a piece")
            return
        before, ready = done.get((name, copy), (0, 0.0))
        if files.rest and first > before:  # steps that this copy has had already
            before = first
        teller.same(PLAN, f"{place}, first_step", first, before)
        if first != before or count < 1 or first + count > len(piece.welded):
            teller.tell(PLAN, f"{place}, steps", count, "steps of that piece")
            return
        work, rest = _stint_s(files, piece, first, count)
        earliest = max(free + (change if last not in (None, (name, copy)) else 0.0), ready)
        start = batch["start_s"][k]
        teller.near(
            PLAN, f"{place}, start_s", start, earliest, off=(0.15 if k else 0.02) + 1e-5 * start
        )
        free, last = start + work, (name, copy)
        done[name, copy] = (first + count, free + rest)
    for name, piece in pieces.items() if not files.rest else ():  # a rest has its own check
        for copy in range(1, piece.record["quantity"] + 1):
            found = done.get((name, copy), (0, 0.0))[0]
            teller.same(PLAN, f"order, batch, {name}, copy {copy}", found, len(piece.welded))
    teller.near(PLAN, "order, batch, bench_time_s", batch["bench_time_s"], free, off=0.2)
    copies = [p.order["bench_time_s"] * p.record["quantity"] for p in files.pieces if len(p.welded)]
    number = sum(p.record["quantity"] for p in files.pieces if len(p.welded))
    alone = sum(copies) + change * max(0, number - 1)
    place = "order, batch, one_after_another_s"
    if files.rest:
        alone = batch["one_after_another_s"]
    teller.near(PLAN, place, batch["one_after_another_s"], alone, off=0.1)
    more = len(batch["piece"]) > number
    good = batch["interleaved"] or not more or files.rest
    teller.true(PLAN, "order, batch, interleaved", good, batch["interleaved"], "true")
    shorter = batch["bench_time_s"] <= alone + 0.1 + 1e-5 * alone  # both in six digits
    teller.true(PLAN, place, shorter, batch["bench_time_s"], "no longer than one by one")


def _stint_s(files: PlanFiles, piece: PieceFiles, first: int, count: int) -> tuple[float, float]:
    """Seconds of work in a stint, and of the rest after it. [s]."""
    start, wait = piece.steps["start_s"], piece.steps["wait_before_s"]
    lead = float(start[0])
    begin = 0.0 if first == 0 else float(start[first]) - lead
    if first + count == len(start):
        return float(piece.order["bench_time_s"]) - begin, 0.0
    rest = float(wait[first + count])
    return float(start[first + count]) - lead - rest - begin, rest


def real_starts(piece: PieceFiles, batch: dict[str, Any], copy: int) -> FloatArray:
    """When each step of a copy falls in the batch, rests made longer included. [s]."""
    start = piece.steps["start_s"].astype(float)
    moved: FloatArray = start.copy()
    for k, name in enumerate(batch["piece"]):
        if name == piece.name and batch["copy"][k] == copy:
            rows = slice(batch["first_step"][k], batch["first_step"][k] + batch["steps"][k])
            planned = start[rows][0] - start[0] if rows.start else 0.0
            moved[rows] = start[rows] + batch["start_s"][k] - planned
    return moved
