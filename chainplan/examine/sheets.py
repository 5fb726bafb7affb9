"""What is not a number, the bench sheet, and sentences: they say what the tables say."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.earthed import clip_of, handle_s
from chainplan.examine.reading import PLAN, SHEET
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

MAY_BE_EMPTY = {
    "usual_after_s", "high_after_s", "ends_usual_s", "ends_high_s", "saved_usual_s",
    "saved_high_s", "mandrel_mm", "asked_mm", "wanted_mm", "due_h", "due_s", "day_starts_h",
}  # fmt: skip
"""Keys of plan.json with a unit that may hold null all the same: what there is none of."""
NOT_KNOWN = {"mass_g", "limit_c"}
"""Keys of a fitting that may hold null: what nobody told."""
_UNITS = (
    "_mm", "_c", "_s", "_g", "_k", "_j", "_m", "_min", "_h", "_deg", "_per_cm", "_share", "_ratio",
)  # fmt: skip
"""Endings of keys that hold a number, where null would stand for one that is none."""
_UNDRAWABLE = (b"nan", b"inf", b"9223372036854775808")
_DRAWN = re.compile(
    rb'\s(?:points|d|x\d?|y\d?|cx|cy|r|width|height|transform|viewBox|stroke-width)="'
    rb'[^"]*?(?<![A-Za-z])(?:nan|inf|9223372036854775808)'
)
_ELSEWHERE = ("going back", "back to", "leaving out", "; then", "where there are joins")
"""Words of passes whose first ring may be named though it is not among theirs."""
DURATION = r"(?:\d+ h(?: \d+ min)?|\d+ min(?: \d+ s)?|\d+ s)"


@check("every number is one")
def check_finite(files: PlanFiles, teller: Teller) -> None:
    """No null where a number belongs, nothing beyond reason, nothing undrawable in a picture."""
    for place, key, value in _walk(files.plan, "", ""):
        untold = key in NOT_KNOWN and ", fittings, " in place
        if value is None and key.endswith(_UNITS) and key not in MAY_BE_EMPTY and not untold:
            teller.tell(PLAN, place, "nothing", "a value")
        elif isinstance(value, (int, float)) and abs(value) > 1e12:
            teller.tell(PLAN, place, value, "a number within reason")
    for place, _, value in _walk(files.sheet, "", ""):
        if value is None or (isinstance(value, (int, float)) and abs(value) > 1e12):
            teller.tell(SHEET, place, value, "a number within reason")
    for path in sorted(files.folder.rglob("*.svg")):
        text = path.read_bytes()
        found = _DRAWN.search(text) if any(word in text for word in _UNDRAWABLE) else None
        if found is not None:
            name = path.relative_to(files.folder).as_posix()
            teller.tell(name, "a mark", found.group(0)[:60], "a place on the page")


def _walk(value: Any, place: str, key: str) -> Iterator[tuple[str, str, Any]]:
    if isinstance(value, dict):
        for name, item in value.items():
            yield from _walk(item, f"{place}, {name}" if place else str(name), str(name))
    elif isinstance(value, list):
        if value and isinstance(value[0], (int, float)):
            if None in value:
                yield f"{place}, {value.index(None) + 1}", key, None
            largest = max((item for item in value if isinstance(item, (int, float))), key=abs)
            yield place, key, largest
        else:
            for k, item in enumerate(value, 1):
                yield from _walk(item, f"{place}, {k}", key)
    else:
        yield place, key, value


_TO_THE_MINUTE_S = 300
"""From here on sentences tell times to the minute."""


def seconds_of(text: str) -> tuple[float, float]:
    """Seconds that a duration in words may stand for, lowest and highest.

    Examples
    --------
    >>> seconds_of("2 min 10 s"), seconds_of("1 h 7 min")
    ((129.5, 130.5), (3990.0, 4050.0))
    >>> seconds_of("4 min"), seconds_of("5 min"), seconds_of("42 min")
    ((239.5, 240.5), (299.5, 330.0), (2490.0, 2550.0))
    """
    units = {"h": 3600, "min": 60, "s": 1}
    parts = [(int(n), unit) for n, unit in re.findall(r"(\d+) (h|min|s)", text)]
    total = sum(number * units[unit] for number, unit in parts)
    if total < _TO_THE_MINUTE_S:
        return total - 0.5, total + 0.5
    return max(total - 30.0, _TO_THE_MINUTE_S - 0.5), total + 30.0


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
            told = re.search(
                rf"(\d+) joins?, ({DURATION})(?: \(of which ({DURATION}) waiting"
                r"(?: for (.+))?\))?$",
                item["text"],
            )
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
                asked = " and ".join(item["wait_for"])
                teller.true(PLAN, place, told.group(4) == asked, item["text"], f"for {asked}")
                waits_s = sum(item["wait_for"].values())
                teller.near(PLAN, place, waits_s, item["wait_s"], off=0.01)
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
    first = re.search(r"\(from ring (\d+)\)|from ring (\d+)\b|\(ring (\d+)\)", item["text"])
    listed = re.match(r"\w+, rings ((?:\d+, )*\d+ and \d+) in this order", item["text"])
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
        (rf".*Order pays at the bad end only\. With pauses that are enough at the bad end too, end "
         rf"to end takes ({d})", [high]),
        (rf"(?:.*\. )?Order gains (?:little|no time) here: {paused} takes ({d}).* at the bad end, "
         rf"this order ({d})\.", [high, own]),
    ]  # fmt: skip
    if usual is not None:
        found += [
            (rf".*Against {paused} you save ({d}) at the usual values and ({d}).* at the bad end "
             rf"\(({d}) and ({d}) against ({d})\)", [usual - own, high - own, usual, high, own]),
            (rf"(?:.*\. )?Order pays at the bad end only\. At the usual values end to end takes "
             rf"({d}) .*, this order ({d}); with pauses that are enough at the bad end too, end to "
             rf"end takes ({d})", [usual, own, high]),
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
    teller.near(PLAN, f"{place}, ends_high_s", gains["ends_high_s"], ends["bench_time_s"], off=0.1)
    for end in ("usual", "high"):
        if gains[f"ends_{end}_s"] is not None:
            saved = gains[f"ends_{end}_s"] - gains["order_s"]
            teller.near(PLAN, f"{place}, saved_{end}_s", gains[f"saved_{end}_s"], saved, off=0.2)


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


@check("the bench sheet is the weld order")
def check_sheet(files: PlanFiles, teller: Teller) -> None:
    """Compare the data inside bench-sheet.html with weld-order.csv, rings.csv and plan.json."""
    sheet, plan = files.sheet, files.plan
    stamp = plan["stamp"]
    expected = (
        f"{stamp['program']} {stamp['version']} · input {stamp['input_sha256'][:12]} · "
        f"seed {stamp['seed']}"
    )
    teller.same(SHEET, "stamp", sheet["stamp"], expected)
    teller.same(SHEET, "plan", sheet["plan"], stamp["input_sha256"][:12])
    good = re.fullmatch(r"[0-9a-f]{64}", stamp["input_sha256"]) is not None
    teller.true(PLAN, "stamp, input_sha256", good, stamp["input_sha256"], "a hash")
    teller.same(SHEET, "job", sheet["job"], plan["job"])
    hold = [files.value(f"bench.heat.hold_{end}_mm") for end in ("from", "to")]
    teller.same(SHEET, "hold_mm", sheet["hold_mm"], hold)
    both = files.value("bench.heat.sides_held") > 1
    teller.same(SHEET, "hold_both", sheet["hold_both"], both)
    ends = not both and all(files.value(f"bench.heat.{k}") for k in ("held_bare", "end_tweezers"))
    teller.same(SHEET, "hold_end", sheet["hold_end"], ends)
    names = [piece["name"] for piece in sheet["pieces"]]
    teller.same(SHEET, "pieces", names, [piece.name for piece in files.pieces])
    teller.same(
        SHEET, "cautions", sorted(item["text"] for item in sheet["cautions"]),
        sorted([*plan["estimates"]["cautions"], *plan.get("replan", {}).get("news", ())]),
    )  # fmt: skip
    teller.same(
        SHEET, "one_by_one", sheet["one_by_one"], all("ring" in item for item in sheet["pieces"])
    )
    if sheet["one_by_one"]:
        batch = plan["order"]["batch"]
        rows = zip(batch["piece"], batch["copy"], batch["first_step"], batch["steps"], strict=False)
        turns = [[names.index(n) if n in names else -1, c - 1, f, s] for n, c, f, s in rows]
        teller.same(SHEET, "turns", sheet["turns"], turns)
    for piece in files.pieces:
        _check_sheet_piece(files, piece, teller)


def _check_sheet_piece(files: PlanFiles, piece: PieceFiles, teller: Teller) -> None:
    own, record, order, steps = piece.sheet, piece.record, piece.order, piece.steps
    where = piece.name
    for name, expected in (
        ("quantity", record["quantity"]),
        ("rings", piece.count),
        ("rows", int(piece.rings["row"].max(initial=1))),
        ("closed", len(record["pre_closed"])),
    ):
        teller.same(SHEET, f"{where}, {name}", own[name], expected)
    teller.near(SHEET, f"{where}, length_mm", own["length_mm"], record["length_mm"], off=0.0501)
    teller.near(SHEET, f"{where}, bench_s", own["bench_s"], order["bench_time_s"], off=0.501)
    _check_sheet_limits(piece, teller)
    held = any(row["kind"] == "fingers" for row in order["limits"])
    bare = bool(files.value("bench.heat.held_bare"))
    teller.same(SHEET, f"{where}, short", own["short"], bare and not held)
    clip = clip_of(piece)
    told = [] if clip is None else (clip + 1).tolist()
    teller.same(SHEET, f"{where}, clip", own.get("clip", told), told)
    earthing = order["earthing"]
    if earthing is not None:
        moves = earthing["clip_moves"]
        words = [earthing["way"]]
        if clip is not None:
            words.append(f"ring {earthing['clip_places'][0]}")
            words.append({0: "leave it", 1: "moved once"}.get(moves, f"moved {moves} times"))
        good = all(word in own["earthed"].lower() for word in words)
        teller.true(SHEET, f"{where}, earthed", good, own["earthed"], words)
    teller.same(SHEET, f"{where}, passes", len(own["passes"]), len(order["passes"]))
    for shown, item in zip(own["passes"], order["passes"], strict=False):
        place = f"{where}, pass {item['number']}"
        for name, key in (("number", "number"), ("text", "text"), ("face", "face"),
                          ("first", "first_step"), ("joins", "joins")):  # fmt: skip
            teller.same(SHEET, f"{place}, {name}", shown[name], item[key])
        teller.near(SHEET, f"{place}, seconds", shown["seconds"], item["seconds"], off=0.501)
        setting = item["setting"]
        hits = "1 hit" if setting["hits"] == 1 else f"{setting['hits']} hits"
        text = f"{setting['power_j']:.3g} J, {hits}, {setting['tip']} tip"
        teller.same(SHEET, f"{place}, setting", shown["setting"], text)
        for name in ("up", "toward"):
            length = float(np.linalg.norm(shown[name]))
            teller.near(SHEET, f"{place}, {name}", length, 1.0, off=0.01)
    if "ring" not in own:
        return
    for name, values, off in (
        ("ring", piece.welded, 0),
        ("wait", steps["wait_before_s"], 0.5),
        ("warm", steps["interpass_high_c"], 0),
    ):
        _compare_list(f"{where}, {name}", own[name], values, off, teller)
    welded = piece.welded
    heavy = piece.wire_mm[welded] >= files.value("bench.electrode.two_sides_from_mm") - 1e-9
    loose = piece.rings["weave"][welded] == "loose-joins"
    for name, mask in (("both", heavy), ("loose", loose)):
        teller.same(SHEET, f"{where}, {name}", own[name], np.flatnonzero(mask).tolist())
    _check_sheet_parts(piece, teller)
    if own["row"]:
        _compare_list(f"{where}, row", own["row"], piece.steps["row"], 0, teller)
    if len(steps["start_s"]):
        worked = steps["start_s"] - np.cumsum(steps["wait_before_s"])
        worked[-1] = order["bench_time_s"] - steps["wait_before_s"].sum()
        shown = np.cumsum(own["pace"]) / 10
        _compare_list(f"{where}, pace", shown, worked, 0.101, teller)
        place, last = f"{where}, pace, together", float(worked[-1])
        teller.near(SHEET, place, float(shown[-1]), last, off=0.0501 + 1e-5 * last)
    _check_picture(piece, teller, rest=files.rest)


def _check_sheet_parts(piece: PieceFiles, teller: Teller) -> None:
    """Each part is shown with its limit, as long as it is or longer, on the piece."""
    known: dict[str, list[dict[str, Any]]] = {}
    for part in piece.record["parts"]:
        known.setdefault(part["name"], []).append(part)
    named = {item["name"] for item in piece.record["fittings"]}
    for zone in piece.sheet["parts"]:
        place = f"{piece.name}, parts, {zone['name']}"
        teller.same(SHEET, f"{place}, warm", zone["warm"], zone["name"] in known)
        if not zone["warm"] and zone["name"] in named:
            continue
        if zone["name"] not in known:
            teller.tell(SHEET, place, zone["name"], sorted(known))
            continue
        parts = known[zone["name"]]  # several may have one name
        texts = [f"below {part['limit_c']:.0f} °C" for part in parts]
        good = any(text in zone["text"] for text in texts)
        teller.true(SHEET, place, good, zone["text"], " or ".join(texts))
        length = min(part["length_mm"] for part in parts)
        long = zone["right"] - zone["left"] >= length - 0.11
        teller.true(SHEET, place, long, f"{zone['left']} to {zone['right']}", "its length at least")


def _compare_list(place: str, found: Any, expected: Any, off: float, teller: Teller) -> None:
    found, expected = np.asarray(found, dtype=float), np.asarray(expected, dtype=float)
    if len(found) != len(expected):
        teller.tell(SHEET, place, f"{len(found)} entries", len(expected))
        return
    for k in np.flatnonzero(np.abs(found - expected) > off + 1e-9).tolist():
        teller.tell(SHEET, f"{place}, {k + 1}", float(found[k]), float(expected[k]))


def _check_sheet_limits(piece: PieceFiles, teller: Teller) -> None:
    """Each limit in words carries the degrees of plan.json; a broken one is rounded up."""
    expected = limit_sentences(piece)
    names = {row["name"] for row in piece.order["limits"]}
    teller.same(SHEET, f"{piece.name}, limits", len(piece.sheet["limits"]), len(names))
    for text in piece.sheet["limits"]:
        known = sorted(expected)
        teller.true(SHEET, f"{piece.name}, limits", text in expected, text, f"one of {known}")


def limit_sentences(piece: PieceFiles) -> set[str]:
    """Say each limit as bench sheet and paper do."""
    expected = set()
    for row in piece.order["limits"]:
        name = said_limit(row)
        warm = round(row["high_c"]) if row["holds"] else math.ceil(row["high_c"])
        broken = "" if row["holds"] else "TOO WARM, "
        expected.add(f"{name}: {broken}warmest {warm} °C, limit {row['limit_c']:.0f} °C")
    return expected


def said_limit(row: dict[str, Any]) -> str:
    """Name a limit as the bench sheet does."""
    if row["kind"] == "interpass":
        return "each ring before its weld"
    before = row["kind"] in ("metal", "even welds")
    return f"ring before its weld ({row['name']})" if before else str(row["name"])


def _check_picture(piece: PieceFiles, teller: Teller, *, rest: bool) -> None:
    picture = piece.sheet.get("picture")
    if picture is None:
        return
    where = f"{piece.name}, picture"
    centre = np.asarray(picture["centre"], dtype=float).reshape(-1, 3) / 100
    normal = np.asarray(picture["normal"], dtype=float).reshape(-1, 3) / 1000
    surface = piece.join_mm + piece.approach * piece.wire_mm[:, None] / 2
    join = np.asarray(picture["join"], dtype=float).reshape(-1, 3) / 100
    for name, found, known, off in (
        ("centre", centre, piece.centre_mm, 0.0053),
        ("normal", normal, piece.normal, 0.00053),
        ("join", join, surface, 0.0054),
    ):
        _compare_list(f"{where}, {name}", found.ravel(), known.ravel(), off, teller)
    for name, known in (("radius", piece.radius_mm), ("wire", piece.wire_mm)):
        found = np.asarray(picture[name], dtype=float) / 100
        found = np.broadcast_to(found, known.shape) if len(found) == 1 else found
        _compare_list(f"{where}, {name}", found, known, 0.0053, teller)
    closed = np.flatnonzero(piece.rings["closed_beforehand"] == "yes").tolist()
    if rest:
        closed = np.setdiff1d(np.arange(piece.count), piece.welded).tolist()
    teller.same(SHEET, f"{where}, closed", picture["closed"], closed)
