"""The bench sheet: its data are those of the weld order, the rings and the plan."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.printed.wording import numbers_in
from chainplan.examine.reading import PLAN, SHEET
from chainplan.examine.registry import check
from chainplan.examine.said import limit_sentences

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles


@check("the bench sheet is the weld order")
def check_sheet(files: PlanFiles, teller: Teller) -> None:
    """Compare the data inside bench-sheet.html with weld-order.csv, rings.csv and plan.json."""
    sheet, plan = files.sheet, files.plan
    stamp = plan["stamp"]
    expected = (
        f"{stamp['program']} {stamp['version']} · work {stamp['work_sha256'][:12]} · "
        f"seed {stamp['seed']}"
    )
    teller.same(SHEET, "stamp", sheet["stamp"], expected)
    teller.same(SHEET, "plan", sheet["plan"], stamp["input_sha256"][:12])
    for name in ("input_sha256", "work_sha256"):
        good = re.fullmatch(r"[0-9a-f]{64}", stamp[name]) is not None
        teller.true(PLAN, f"stamp, {name}", good, stamp[name], "a hash")
    teller.same(SHEET, "job", sheet["job"], plan["job"])
    hold = [files.value(f"bench.heat.hold_{end}_mm") for end in ("from", "to")]
    teller.same(SHEET, "hold_mm", sheet["hold_mm"], hold)
    both = files.value("bench.heat.sides_held") > 1
    teller.same(SHEET, "hold_both", sheet["hold_both"], both)
    ends = not both and all(files.value(f"bench.heat.{k}") for k in ("held_bare", "end_tweezers"))
    teller.same(SHEET, "hold_end", sheet["hold_end"], ends)
    names = [piece["name"] for piece in sheet["pieces"]]
    teller.same(SHEET, "pieces", names, [piece.name for piece in files.pieces])
    _check_cautions(files, teller)
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
        ("rows", _rows_of_sheet(piece)),
        ("closed", len(record["pre_closed"])),
    ):
        teller.same(SHEET, f"{where}, {name}", own[name], expected)
    teller.near(SHEET, f"{where}, length_mm", own["length_mm"], record["length_mm"], off=0.0501)
    teller.near(SHEET, f"{where}, bench_s", own["bench_s"], order["bench_time_s"], off=0.501)
    _check_sheet_limits(piece, teller)
    held = any(row["kind"] == "fingers" for row in order["limits"])
    bare = bool(files.value("bench.heat.held_bare"))
    teller.same(SHEET, f"{where}, short", own["short"], bare and not held)
    clip = piece.clip
    told = [] if clip is None else (clip + 1).tolist()
    teller.same(SHEET, f"{where}, clip", own.get("clip", told), told)
    earthing = order["earthing"]
    if earthing is not None and piece.language != "en":
        moves = earthing["clip_moves"]
        known = [] if clip is None else [str(earthing["clip_places"][0])]
        known += [str(moves)] if clip is not None and moves > 1 else []
        teller.same(SHEET, f"{where}, earthed", numbers_in(own["earthed"]), known)
    elif earthing is not None:
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
        for name, key in (("number", "number"), ("face", "face"),
                          ("first", "first_step"), ("joins", "joins")):  # fmt: skip
            teller.same(SHEET, f"{place}, {name}", shown[name], item[key])
        _check_text(piece, shown["text"], item["text"], f"{place}, text", teller)
        teller.near(SHEET, f"{place}, seconds", shown["seconds"], item["seconds"], off=0.501)
        setting = item["setting"]
        hits = "1 hit" if setting["hits"] == 1 else f"{setting['hits']} hits"
        text = f"{setting['power_j']:.3g} J, {hits}, {setting['tip']} tip"
        _check_text(piece, shown["setting"], text, f"{place}, setting", teller)
        for name in ("up", "toward"):
            length = math.hypot(*shown[name])
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
    holding = np.isin(piece.rings["section"][welded], 1 + np.flatnonzero(piece.connecting))
    beside = holding if own["row"] else np.zeros_like(holding)
    for name, mask in (("both", heavy), ("loose", loose), ("beside", beside)):
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


def _check_cautions(files: PlanFiles, teller: Teller) -> None:
    """All cautions are there, word for word in English, else by their numbers."""
    plan = files.plan
    shown = [item["text"] for item in files.sheet["cautions"]]
    news = plan.get("replan", {}).get("news", ())
    known = [*plan["estimates"]["cautions"], *news]
    if files.sheet["language"] != "en":  # news stand in the workbook, and one sentence here
        shown = [" ".join(numbers_in(text)) for text in shown]
        known = [" ".join(numbers_in(text)) for text in plan["estimates"]["cautions"]]
        known += [""] if news else []
    teller.same(SHEET, "cautions", sorted(shown), sorted(known))


def _check_text(piece: PieceFiles, told: str, known: str, place: str, teller: Teller) -> None:
    """Compare a text of the sheet: the same words in English, else the same numbers."""
    if piece.language == "en":
        teller.same(SHEET, place, told, known)
    else:
        teller.same(SHEET, place, sorted(numbers_in(told)), sorted(numbers_in(known)))


def _shown_mm(piece: PieceFiles, part: dict[str, Any]) -> float:
    """How much of a part lies on the rings: it may reach over the clasp. [mm]."""
    low, high = (float(end(piece.centre_mm[:, 0])) for end in (np.min, np.max))
    long_mm = float(part["length_mm"])
    start = high - part["place_mm"] - long_mm if part["from_end"] else low + part["place_mm"]
    return float(max(min(start + long_mm, high) - max(start, low), 0.0))


def _rows_of_sheet(piece: PieceFiles) -> int:
    """Rows that rings are counted in: of a strip or sheet alone, with what holds fittings to it."""
    woven = 1 + np.flatnonzero(~np.asarray(piece.connecting))
    rows = int(piece.rings["row"].max(initial=1))
    return rows if len(woven) == 1 and rows > 1 else 1


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
        english = piece.language == "en"
        texts = [f"{'below ' * english}{part['limit_c']:.0f} °C" for part in parts]
        good = any(re.search(rf"(?<!\d){re.escape(text)}", zone["text"]) for text in texts)
        teller.true(SHEET, place, good, zone["text"], " or ".join(texts))
        length = min(_shown_mm(piece, part) for part in parts)
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
    known = sorted(expected)
    numbers = {tuple(numbers_in(text)) for text in known}
    for text in piece.sheet["limits"]:
        good = text in expected
        if piece.language != "en":
            good = tuple(numbers_in(text)) in numbers
        teller.true(SHEET, f"{piece.name}, limits", good, text, f"one of {known}")


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
