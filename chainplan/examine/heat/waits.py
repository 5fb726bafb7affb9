"""What asks for the waits, and what the order gains: told several times, each time the same."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.findings import Teller
from chainplan.examine.heat.networks import TOUCHED
from chainplan.examine.heat.ring_limits import least_limit_c, list_limits, may_break
from chainplan.examine.reading import PLAN, SHEET, STEPS
from chainplan.examine.registry import check
from chainplan.examine.said import said_limit

if TYPE_CHECKING:
    from chainplan.examine.reading import PieceFiles, PlanFiles


_LITTLE_S, _LITTLE_SHARE, _LITTLE_MOST, _A_THING_S = 60.0, 0.05, 0.2, 15.0
"""Below which savings are called little, of a short piece at most that share; and what each thing
to keep in mind has to save."""


@check("waits are for limits")
def check_waits(files: PlanFiles, teller: Teller) -> None:
    """Compare the table's waits and what asks for them with limits, passes, sums and the sheet."""
    for piece in files.pieces:
        _check_table(piece, teller)
        _check_sums(piece, teller)
        _check_sheet(files, piece, teller)


def _check_table(piece: PieceFiles, teller: Teller) -> None:
    """Look for waits for a limit that is not there; passes add up by what is waited for."""
    reason, wait = piece.steps["wait_for"], piece.steps["wait_before_s"]
    names = {row["name"] for row in piece.order["limits"]}
    for step in np.flatnonzero(~np.isin(reason, [*names, ""])).tolist():
        place = f"{piece.name}, step {step + 1}, wait_for"
        teller.tell(STEPS, place, reason[step], f"one of {sorted(names)}")
    for step in np.flatnonzero((reason != "") & (wait <= 0)).tolist():
        place = f"{piece.name}, step {step + 1}, wait_for"
        teller.tell(STEPS, place, reason[step], "nothing without a wait")
    # Waits for even welds are told as one, whichever of several metals asks for them.
    said = {
        row["name"]: row["kind"] if row["kind"] == "even welds" else said_limit(row)
        for row in piece.order["limits"]
    }
    asked = set(np.flatnonzero(reason != "").tolist())
    for item in piece.order["passes"]:
        rows = slice(item["first_step"], item["first_step"] + item["joins"])
        if not item["wait_for"] and asked.isdisjoint(range(rows.start, rows.stop)):
            continue  # nothing is waited for, and nothing is told
        place = f"{piece.name}, pass {item['number']}, wait_for"
        total = sum(item["wait_for"].values())
        good = total <= item["wait_s"] + 0.01
        teller.true(PLAN, place, good, total, f"up to {item['wait_s']:g} s")
        sums: dict[str, float] = {}
        for name in sorted(set(reason[rows].tolist()) & set(said)):
            own = float(wait[rows][reason[rows] == name].sum())
            sums[said[name]] = sums.get(said[name], 0.0) + own
        expected = sorted(round(value, 3) for value in sums.values() if value > 0)
        found = sorted(round(value, 3) for value in item["wait_for"].values())
        close = len(found) == len(expected) and all(
            math.isclose(a, b, rel_tol=1e-5, abs_tol=0.02)
            for a, b in zip(found, expected, strict=True)
        )
        teller.true(PLAN, place, close, item["wait_for"], sums)


def _check_sums(piece: PieceFiles, teller: Teller) -> None:
    """Compare seconds, number and longest of the waits for each limit with the table."""
    reason, wait = piece.steps["wait_for"], piece.steps["wait_before_s"]
    rows = piece.order["limits"]
    told = [item["name"] for item in piece.order["waits"]]
    asked = sorted(set(reason.tolist()) - {""})
    teller.same(PLAN, f"{piece.name}, waits", sorted(set(told)), asked)
    for item in piece.order["waits"]:
        place = f"{piece.name}, waits, {item['name']}"
        limits = [(row["kind"], row["name"], row["limit_c"]) for row in rows]
        known = (item["kind"], item["name"], item["limit_c"])
        teller.true(PLAN, place, known in limits, known, "a row of the limits")
        step = item["longest_at_step"] - 1
        good = 0 <= step < len(wait) and piece.welded[step] == item["longest_at_ring"] - 1
        good = good and reason[step] == item["name"]
        teller.true(PLAN, f"{place}, longest_at_step", good, step + 1, "a step that waits for it")
        if good:
            longest = float(wait[step])
            teller.near(PLAN, f"{place}, longest_s", item["longest_s"], longest, off=0.01)
        if told.count(item["name"]) == 1:
            own = wait[reason == item["name"]]
            teller.same(PLAN, f"{place}, waits", item["waits"], len(own))
            teller.near(PLAN, f"{place}, seconds", item["seconds"], float(own.sum()), off=0.01)
            top = float(own.max(initial=0.0))
            teller.near(PLAN, f"{place}, longest_s", item["longest_s"], top, off=0.01)


def _check_sheet(files: PlanFiles, piece: PieceFiles, teller: Teller) -> None:
    """Compare the sheet's reasons, and its limit of each join, with the plan."""
    own = piece.sheet
    if "ring" not in own:
        return
    reasons = [said_limit(row) for row in piece.order["limits"]]
    told = own["reasons"]
    if piece.language != "en" and len(told) == len(reasons):  # parts alone are named alike
        kinds = [row["kind"] == "part" for row in piece.order["limits"]]
        told, reasons = (list(itertools.compress(each, kinds)) for each in (told, reasons))
        named = [reason.removesuffix(TOUCHED) for reason in reasons]  # the spot begins alike
        told = [
            words if part == reason or not words.startswith(f"{part},") else reason
            for words, part, reason in zip(told, named, reasons, strict=True)
        ]
    teller.same(SHEET, f"{piece.name}, reasons", told, reasons)
    names = [row["name"] for row in piece.order["limits"]]
    if own["why"]:
        for step, (number, name) in enumerate(
            zip(own["why"], piece.steps["wait_for"].tolist(), strict=False)
        ):
            shown = names[number] if 0 <= number < len(names) else ""
            teller.same(SHEET, f"{piece.name}, why, {step + 1}", shown, name)
    limits = [
        item
        for item in list_limits(files, piece, Teller(""))
        if not may_break(piece, item.name) or piece.order["status"] != "infeasible"
    ]
    least = least_limit_c(limits, len(piece.welded))
    for step, value in enumerate(own["below"]):
        expected = float(least[step]) if math.isfinite(least[step]) else 0.0
        if abs(value - expected) > 0.506 and piece.order["status"] != "infeasible":
            teller.tell(SHEET, f"{piece.name}, below, {step + 1}", value, expected)


@check("gains are differences of times")
def check_gains(files: PlanFiles, teller: Teller) -> None:
    """Compare the numbers behind the sentences with bench times, waits and limits."""
    for piece in files.pieces:
        gains = piece.order["gains"]
        if gains is None:
            continue
        order, place = piece.order, f"{piece.name}, gains"
        named = {item["name"]: item for item in order["comparisons"]}
        mine, ends = named["to follow"], named["end to end"]
        teller.near(PLAN, f"{place}, order_s", gains["order_s"], order["bench_time_s"])
        teller.near(PLAN, f"{place}, order_wait_s", gains["order_wait_s"], mine["wait_s"])
        counted = ends["fingers_counted"]
        teller.same(PLAN, f"{place}, fingers_counted", gains["fingers_counted"], counted)
        bench_s = order["bench_time_s"]
        little = max(_LITTLE_SHARE * bench_s, min(_LITTLE_S, _LITTLE_MOST * bench_s))
        teller.near(PLAN, f"{place}, little_s", gains["little_s"], little)
        teller.same(PLAN, f"{place}, a_thing_s", gains["a_thing_s"], _A_THING_S)
        bare = ends["bench_time_s"] - ends["wait_s"]
        off = 0.02 + 1e-5 * ends["bench_time_s"]  # numbers are written with six digits
        teller.near(PLAN, f"{place}, unpaused_s", gains["unpaused_s"], bare, off=off)
        if gains["ends_high_s"] is not None:
            high = ends["bench_time_s"]
            teller.near(PLAN, f"{place}, ends_high_s", gains["ends_high_s"], high, off=0.02)
        for end in ("usual", "high"):
            whole, saved = gains[f"ends_{end}_s"], gains[f"saved_{end}_s"]
            if whole is None:
                teller.same(PLAN, f"{place}, saved_{end}_s", saved, None)
                continue
            less = whole - gains["order_s"]
            off = 1e-5 * (whole + gains["order_s"])
            teller.near(PLAN, f"{place}, saved_{end}_s", saved, less, off=off)
            good = whole >= gains["unpaused_s"] - 0.02
            teller.true(PLAN, f"{place}, ends_{end}_s", good, whole, "at least without a pause")
        _check_unpaused(piece, gains, place, teller)


def _check_unpaused(piece: PieceFiles, gains: dict[str, Any], place: str, teller: Teller) -> None:
    rows: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in piece.order["limits"]:
        rows.setdefault((row["kind"], row["name"]), []).append(row)
    for item in gains["unpaused"]:
        where = f"{place}, unpaused, {item['name']}"
        known = rows.get((item["kind"], item["name"]), [])
        teller.true(PLAN, where, bool(known), item["name"], "a row of the limits")
        for key, name in (
            ("limit_c", "limit_c"), ("order_usual_c", "usual_c"), ("order_high_c", "high_c"),
        ):  # fmt: skip
            values = [row[name] for row in known]
            teller.true(PLAN, f"{where}, {key}", item[key] in values, item[key], values)
        texts = {said_limit(row) for row in known}
        teller.true(PLAN, f"{where}, said", item["said"] in texts, item["said"], sorted(texts))
        for end in ("usual", "high"):
            after = item[f"{end}_after_s"]
            passed = after is not None
            # When it first passes: only where it gets above, and never after the last weld cooled.
            above = item[f"{end}_c"] > item["limit_c"]
            if passed:
                good = above and 0 <= after <= gains["unpaused_s"] + 3600
                teller.true(
                    PLAN, f"{where}, {end}_after_s", good, after, "when it passes the limit"
                )
        rising = item["usual_c"] <= item["high_c"] + 1e-6
        teller.true(PLAN, f"{where}, high_c", rising, item["high_c"], "at least the usual one")
    broken = [item for item in gains["unpaused"] if item["high_after_s"] is not None]
    asked = min(broken, key=lambda item: item["high_after_s"], default=None)
    detour = gains["detour_for"]
    ends = any(
        (text.startswith("End to end keeps") and ": weld one after another." in text)
        or ": weld end to end" in text
        for text in piece.order["gained"]
    )
    teller.same(PLAN, f"{place}, is_end_to_end", gains["is_end_to_end"], ends)
    if asked is None or gains["is_end_to_end"]:
        teller.same(PLAN, f"{place}, detour_for", detour, None)
    elif detour is None:
        teller.tell(PLAN, f"{place}, detour_for", "nothing", asked["name"])
    else:
        for key, value in detour.items():
            teller.same(PLAN, f"{place}, detour_for, {key}", value, asked[key])
