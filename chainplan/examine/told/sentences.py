"""Sentences of a plan: they say what its tables say."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check
from chainplan.examine.said import DURATION, listed, seconds_of
from chainplan.examine.welding.earthed import handle_s

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

_ELSEWHERE = ("going back", "back to", "leaving out", "; then", "where there are joins")
"""Words of passes whose first ring may be named though it is not among theirs."""

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_FILLS = re.compile(rf"[\d.]+|{DURATION}")
_AT_ITS_END = re.compile(
    rf"(\d+) joins?, ({DURATION})(?: \(of which ({DURATION}) waiting(?: for (.+))?\))?$"
)
"""Numbers, texts that are one, and how a pass's line ends."""
_HOT = r"This order pays only where the bench runs hot \(the bad end\)\."
"""How the sentence on gains begins where they are little at the usual values."""


def _says(teller: Teller, place: str, text: str, told: str, value_s: float) -> None:
    low, high = seconds_of(told)
    good = low - 0.06 <= value_s <= high + 0.06
    teller.true(PLAN, place, good, f"{told} in {text!r}", f"{value_s:.1f} s")


@check("sentences say what the numbers are")
def check_sentences(files: PlanFiles, teller: Teller) -> None:
    """Durations, counts and degrees in the sentences of orders, passes and batch."""
    for piece in files.pieces:
        order = piece.order
        for item in order["passes"]:
            place = f"{piece.name}, pass {item['number']}, text"
            told = _AT_ITS_END.search(item["text"])
            if told is None and files.rest and _check_left(piece, item, place, teller):
                continue
            if told is None:
                teller.tell(PLAN, place, item["text"], "joins and time at its end")
                continue
            teller.same(PLAN, place, int(told.group(1)), item["joins"])
            _says(teller, place, item["text"], told.group(2), item["seconds"])
            waiting = told.group(3)
            teller.same(PLAN, place, waiting is not None, item["wait_s"] > 0)
            if waiting:
                _says(teller, place, item["text"], waiting, item["wait_s"])
            if item["wait_for"]:
                asked = listed(item["wait_for"])
                teller.true(PLAN, place, told.group(4) == asked, item["text"], f"for {asked}")
                waits_s = sum(item["wait_for"].values())
                teller.near(PLAN, place, waits_s, item["wait_s"], off=0.01)
            _check_parts(item, place, teller)
            named = re.match(r"(\w+), ", item["text"])
            teller.same(PLAN, place, named and named.group(1), item["face"])
            _check_named_rings(piece, item, place, teller)
        _check_gained(files, piece, teller)
        _check_earthed_said(piece, teller)
    batch = files.plan["order"]["batch"]
    saved = re.search(rf"saves ({DURATION})\.$", batch["note"])
    teller.same(PLAN, "order, batch, note", saved is not None, batch["interleaved"])
    if saved:
        value = batch["one_after_another_s"] - batch["bench_time_s"]
        _says(teller, "order, batch, note", batch["note"], saved.group(1), value)


def _check_parts(item: dict[str, Any], place: str, teller: Teller) -> None:
    """Look whether each number that a line is put together from stands in it."""
    left, odd = _NUMBER.findall(item["text"]), []
    for number in _numbers_in(item["said"], []):
        if number in left:
            left.remove(number)
        elif number != "1":  # one of something may be told without a number
            odd.append(number)
    if odd:
        teller.tell(PLAN, f"{place}, said", sorted(odd)[:5], item["text"])


def _numbers_in(said: Any, found: list[str]) -> list[str]:
    """Add the numbers that fill a line; names may hold others."""
    if isinstance(said, dict):
        for value in said.get("fills", {}).values():
            _numbers_in(value, found)
    elif isinstance(said, list):
        for value in said:
            _numbers_in(value, found)
    elif isinstance(said, int) or _FILLS.fullmatch(str(said)):
        found += _NUMBER.findall(str(said))
    return found


_FIRST_RING = re.compile(r"\(from ring (\d+)\)|from ring (\d+)\b|\(ring (\d+)\)")
_IN_THIS_ORDER = re.compile(r"\w+, rings ((?:\d+, )*\d+ and \d+) in this order")
_LEFT = r"; (\d+) of them are left, next is ring (\d+)$"
_REPAIR = r"repair, (\w+), [^:]+: [^:]+: rings? (\d+(?:, \d+)*)(?: …)?, (\d+) joins?$"


def _check_left(piece: PieceFiles, item: dict[str, Any], place: str, teller: Teller) -> bool:
    """Compare a pass that is begun, or one of repairs, with its joins; False if it is neither."""
    rows = slice(item["first_step"], item["first_step"] + item["joins"])
    rings = (piece.welded[rows] + 1).tolist()
    left, repair = re.search(_LEFT, item["text"]), re.match(_REPAIR, item["text"])
    if left:
        shown = (int(left.group(1)), int(left.group(2)))
        teller.same(PLAN, place, shown, (len(rings), rings[0] if rings else 0))
    elif repair:
        named = [int(text) for text in re.findall(r"\d+", repair.group(2))]
        told = (repair.group(1), named, int(repair.group(3)))
        teller.same(PLAN, place, told, (item["face"], rings[: len(named)], len(rings)))
    return bool(left or repair)


def _check_named_rings(piece: PieceFiles, item: dict[str, Any], place: str, teller: Teller) -> None:
    """Where a pass names the ring that it begins with, it begins there."""
    rows = slice(item["first_step"], item["first_step"] + item["joins"])
    rings = (piece.welded[rows] + 1).tolist()
    first, listed = _FIRST_RING.search(item["text"]), _IN_THIS_ORDER.match(item["text"])
    if listed:
        numbers = [int(text) for text in re.findall(r"\d+", listed.group(1))]
        teller.same(PLAN, place, numbers, rings)
    elif first and not any(word in item["text"] for word in _ELSEWHERE):
        number = int(next(text for text in first.groups() if text))
        teller.true(PLAN, place, number in rings, f"ring {number}", f"one of {rings[:6]} …")


def _check_earthed_said(piece: PieceFiles, teller: Teller) -> None:
    """Names, moves and durations of the sentence on the return lead, way by way."""
    earthing = piece.order["earthing"]
    if earthing is None or not earthing["times"]:
        return
    place, text = f"{piece.name}, earthing, said", earthing["said"]
    mine, *others = earthing["times"]
    teller.same(PLAN, f"{place}, times", mine["way"], earthing["way"])
    teller.same(PLAN, f"{place}, times", mine["how"], "planned")
    reasons = {"set": "your setting", "quickest": "quicker here than", "loose": "no current flows"}
    teller.true(PLAN, place, reasons[earthing["why"]] in text, text, reasons[earthing["why"]])
    for row in earthing["times"]:
        name = _earthed_name(row)
        if row["how"] == "none":
            continue
        told = re.search(rf"{re.escape(name)}(?: (up to|at least))? ?({DURATION})?", text)
        teller.true(PLAN, place, told is not None, text, name)
        if told is not None and row is not mine:
            how = "" if row["how"] == "planned" else row["how"]
            teller.same(PLAN, place, told.group(1) or "", how)
            _says(teller, place, text, told.group(2) or "", row["bench_time_s"])
    teller.same(PLAN, place, len(others), 2)


def _earthed_name(row: dict[str, Any]) -> str:
    moves = row["clip_moves"]
    times = {0: "that stays where it is", 1: "moved once", 2: "moved twice"}
    return {
        "tweezers": "earthed tweezers on each ring",
        "clip": f"a clip {times.get(moves, f'moved {moves} times')}",
        "block": "a metal block under the whole piece",
    }[row["way"]]


def _check_gained(files: PlanFiles, piece: PieceFiles, teller: Teller) -> None:
    order = piece.order
    named = {item["name"]: item for item in order["comparisons"]}
    mine, ends, free = (named.get(name) for name in ("to follow", "end to end", "free"))
    if mine is None or ends is None or free is None:
        return
    place, d = f"{piece.name}, gained", DURATION
    patterns: list[tuple[str, list[float]]] = [
        (rf"Proved: no order takes less than ({d})", [order["lower_bound_s"]]),
        (rf"Being easy to follow costs ({d}) against",
         [mine["bench_time_s"] - free["bench_time_s"]]),
        (rf"({d}) of this plan is waiting", [mine["wait_s"]]),
        *_gains_said(order.get("gains")),
    ]  # fmt: skip
    if order.get("gains"):
        _check_gains(order["gains"], mine, ends, place, teller)
    for text in (*order["gained"], *order["advice"]):
        for pattern, values in patterns:
            told = re.match(pattern, text)
            if told:
                for words, value in zip(told.groups(), values, strict=True):
                    _says(teller, place, text, words, value)
        held = re.match(
            rf"The limit for the fingers costs ({d}): held with tweezers the quickest pattern "
            rf"takes ({d})",
            text,
        )
        if held:
            low, high = seconds_of(held.group(2))
            costs = mine["bench_time_s"] - (low + high) / 2
            slack = (high - low) / 2
            least, most = seconds_of(held.group(1))
            good = least - slack - 0.1 <= costs <= most + slack + 0.1
            teller.true(PLAN, place, good, text, f"{mine['bench_time_s']:.0f} s together")
        gap = re.search(r"this one is (less than 1|\d+) % above that", text)
        if gap:
            percent = 100 * order["gap"]
            good = percent < 1 if gap.group(1) == "less than 1" else (
                percent - 1e-3 <= float(gap.group(1)) < percent + 1.001
            )  # fmt: skip
            teller.true(PLAN, place, good, text, f"{percent:.2f} %")
        slower = re.match(
            rf"Slower pace: at [\d.]+ s a join instead of ([\d.]+) s .* instead of ({d})\.", text
        )
        if slower:
            handle = handle_s(files, piece)
            teller.near(PLAN, place, float(slower.group(1)), handle, off=0.51)
            _says(teller, place, text, slower.group(2), mine["bench_time_s"])


def _gains_said(gains: dict[str, Any] | None) -> list[tuple[str, list[float]]]:
    """Sentences on the gain, and the numbers that belong into them."""
    if gains is None or gains["ends_high_s"] is None:
        return []
    d, paused = DURATION, "end to end with the pauses that it needs"
    usual, high, own = gains["ends_usual_s"], gains["ends_high_s"], gains["order_s"]
    found = [
        (rf".*{_HOT} With pauses that are enough at the bad end too, end to end takes "
         rf"({d})", [high]),
        (rf"(?:.*\. )?Order gains (?:little|no time) here: {paused} takes ({d}).* at the bad end, "
         rf"this order ({d})\.", [high, own]),
    ]  # fmt: skip
    if usual is not None:
        found += [
            (rf".*Against {paused} you save ({d}) at the usual values and ({d}).* at the bad end "
             rf"\(({d}) and ({d}) against ({d})\)", [usual - own, high - own, usual, high, own]),
            (rf"(?:.*\. )?{_HOT} At the usual values end to end takes ({d}) "
             rf".*, this order ({d}); with pauses that are enough at the bad end too, end to "
             rf"end takes ({d})", [usual, own, high]),
            (rf"(?:.*\. )?{_HOT} At the usual values end to end takes ({d}) [^,;]*, about as long "
             rf"as this order; with pauses that are enough at the bad end too, end to end takes "
             rf"({d})", [usual, high]),
        ]  # fmt: skip
    return found


def _check_gains(
    gains: dict[str, Any], mine: dict[str, Any], ends: dict[str, Any], place: str, teller: Teller
) -> None:
    """Hold what the gains say of both orders against the comparisons."""
    teller.near(PLAN, f"{place}, order_s", gains["order_s"], mine["bench_time_s"], off=0.01)
    teller.near(PLAN, f"{place}, order_wait_s", gains["order_wait_s"], mine["wait_s"], off=0.01)
    if gains["ends_high_s"] is None:
        return
    rounding = 1e-6 * (ends["bench_time_s"] + gains["order_s"])  # written with six digits
    high, off = ends["bench_time_s"], 0.1 + rounding
    teller.near(PLAN, f"{place}, ends_high_s", gains["ends_high_s"], high, off=off)
    for end in ("usual", "high"):
        if gains[f"ends_{end}_s"] is not None:
            saved, off = gains[f"ends_{end}_s"] - gains["order_s"], 0.2 + rounding
            teller.near(PLAN, f"{place}, saved_{end}_s", gains[f"saved_{end}_s"], saved, off=off)


@check("warnings name what is so")
def check_warnings(files: PlanFiles, teller: Teller) -> None:
    """Late pieces are warned of with their days; rings that suit are those of the section."""
    warnings = files.plan["warnings"]
    late = {row["piece"]: row["late_days"] for row in files.estimates("due") if row["late_days"]}
    told = {}
    for text in warnings:
        found = re.match(r"(.*): late by (\d+) days? ", text)
        if found:
            told[found.group(1)] = int(found.group(2))
    teller.same(PLAN, "warnings, late", told, late)
    missing = set(files.plan["estimates"]["warnings"]) - set(warnings)
    teller.true(PLAN, "warnings", not missing, f"left out: {sorted(missing)}", "all of them")
