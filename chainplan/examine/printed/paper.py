"""The pages of the weld order say what the plan says, and every join has its number on them."""

from __future__ import annotations

import math
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.printed.pages import by_piece, numbers_alone, read_pages
from chainplan.examine.registry import check
from chainplan.examine.sheets import DURATION, limit_sentences, seconds_of

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

PAPER = "weld-order.pdf"
_D = DURATION
_FACES = "FRONT|BACK|EDGE"
_SETTING = r"([\d.e+]+) J, (\d+) hits?, (\w+) tip"
_WHAT = (
    r"(?:(\d+) copies, each )?(\d+) rings, (\d+) joins to weld in (\d+) pass(?:es)?, about "
    rf"({_D}) at the bench\.(?: (\d+) rings are closed before weaving\.)?"
    r"(?: (\d+) joins are welded already\.)?"
)
_WAITS_IN_ALL = rf"(\d+) waits?, ({_D}) in all, where two bars stand\.|No waits: weld on without"
_LISTED = rf"^(\d+) (?:{_FACES}) (.*)$"
_STEPS = rf"\bjoins? (\d+)(?:–(\d+))?(?: · {_SETTING})?(?= |$)"
_ENDS = (
    r"join (\d+) on (.*?)(?: to join (\d+) on (.*?))? · "
    rf"(no waits|wait [^·]*?|\d+ waits, {_D} in all: see the bench sheet) · {_SETTING}"
)
_TITLE = re.compile(rf"^(?:(?:{_FACES}) )?pass (\d+) of (\d+): ")
_GROUP = re.compile(rf"^(?:(?:{_FACES}) )?passes (\d+)–(\d+) of (\d+) · joins (\d+)–(\d+) · ")
_ROW = re.compile(
    rf"^(\d+) (?:\w+ \d+ \()?ring (\d+)\)? (-?\d+) mm (–|{_D}) ?(?:\d+–\d+.*)?$"
)  # a line of a small piece's table
_LEAST_WAIT_S = 0.5


@check("the paper is the weld order")
def check_paper(files: PlanFiles, teller: Teller) -> None:
    """Compare the sentences, lists and join numbers of the PDF with weld-order.csv."""
    path = files.folder / PAPER
    if not path.is_file():
        teller.tell(PAPER, "the file", "is not there", "the pages of the weld order")
        return
    pages = read_pages(path)
    stamp = files.sheet["stamp"]
    for number, page in enumerate(pages, 1):
        place = f"page {number}"
        teller.same(PAPER, f"{place}, its number", (page.number, page.of), (number, len(pages)))
        good = page.stamp.endswith(stamp)
        teller.true(PAPER, f"{place}, stamp", good, page.stamp, stamp)
    cover, pieces = by_piece(pages)
    _check_cover(files, " ".join(cover), teller)
    teller.same(PAPER, "pieces", len(pieces), len(files.pieces))
    for piece, lines in zip(files.pieces, pieces, strict=False):
        _check_piece(files, piece, lines, teller)


def _said(teller: Teller, place: str, told: str, value_s: float) -> None:
    low, high = seconds_of(told)
    good = low - 0.06 <= value_s <= high + 0.06
    teller.true(PAPER, place, good, told, f"{value_s:.1f} s")


def _check_cover(files: PlanFiles, text: str, teller: Teller) -> None:
    """Each piece with its numbers, and the turns of the batch."""
    pattern = rf"(?:(\d+) × )?(\d+) rings, (\d+) joins, (\d+) pass(?:es)?, ({_D})"
    found = re.findall(pattern, text)
    teller.same(PAPER, "cover, pieces", len(found), len(files.pieces))
    for piece, (copies, rings, joins, passes, long) in zip(files.pieces, found, strict=False):
        place = f"cover, {piece.name}"
        known = (piece.record["quantity"], piece.count, len(piece.welded))
        known = (*known, len(piece.order["passes"]))
        told = (int(copies or 1), int(rings), int(joins), int(passes))
        teller.same(PAPER, place, told, known)
        _said(teller, place, long, piece.order["bench_time_s"])
    batch = files.plan["order"]["batch"]
    turns: list[list[int]] = []
    before: tuple[str, int] | None = None
    for name, copy, first, steps in zip(
        batch["piece"], batch["copy"], batch["first_step"], batch["steps"], strict=True
    ):
        if before == (name, copy) and turns[-1][1] == first:
            turns[-1][1] = first + steps
        else:
            turns.append([first, first + steps, copy])
        before = (name, copy)
    if len({*zip(batch["piece"], batch["copy"], strict=True)}) < 2:
        return
    listed = re.findall(r"(?<![\d.])(\d+)\. ([^:]*?)(?:, copy (\d+))?: joins? (\d+)(?:–(\d+))?", text)
    more = re.search(r"… and (\d+) more turns", text)
    count = len(listed) + (int(more.group(1)) if more else 0)
    teller.same(PAPER, "cover, turns", count, len(turns))
    for (number, _, copy, first, last), turn in zip(listed, turns, strict=False):
        told = [int(first) - 1, int(last or first), int(copy or 1)]
        teller.same(PAPER, f"cover, turn {number}", told, turn)
    saved = re.search(rf"welded while one cools, which saves ({_D})\.", text)
    if saved:
        value = batch["one_after_another_s"] - batch["bench_time_s"]
        _said(teller, "cover, what turns save", saved.group(1), value)


def _check_piece(files: PlanFiles, piece: PieceFiles, lines: list[str], teller: Teller) -> None:
    text = " ".join(lines)
    order, name = piece.order, piece.name
    what = re.match(_WHAT, text)
    if what is None:
        teller.tell(PAPER, name, text[:80], "what is to weld, with its numbers")
        return
    copies, rings, joins, passes, long, closed, _ = what.groups()
    told = (int(copies or 1), int(rings), int(joins), int(passes), int(closed or 0))
    known = (
        piece.record["quantity"], piece.count, len(piece.welded), len(order["passes"]),
        len(piece.record["pre_closed"]),
    )  # fmt: skip
    teller.same(PAPER, f"{name}, what is to weld", told, known)
    _said(teller, f"{name}, time at the bench", long, order["bench_time_s"])
    if not len(piece.welded):
        return
    _check_instructions(files, piece, text, teller)
    table = {int(row.group(1)): row for line in lines if (row := _ROW.match(line))}
    if any("join ring" in line or "join pair" in line for line in lines) and table:
        _check_table(piece, table, teller)
        drawn = Counter(numbers_alone(lines))
        missing = [n for n in range(1, len(piece.welded) + 1) if not drawn[n]]
        if len(drawn) > 1:
            teller.true(PAPER, f"{name}, numbers drawn", not missing, f"not {missing[:5]}", "all")
        return
    _check_list(piece, lines, teller)
    _check_titles(piece, lines, teller)


def _check_instructions(files: PlanFiles, piece: PieceFiles, text: str, teller: Teller) -> None:
    """Waits, where to hold and the limits, as they stand on a piece's first page."""
    wait = piece.steps["wait_before_s"]
    long = wait[wait >= _LEAST_WAIT_S - 1e-9]
    found = re.search(_WAITS_IN_ALL, text)
    number = int(found.group(1) or 0) if found else -1
    teller.same(PAPER, f"{piece.name}, waits", number, len(long))
    if found and found.group(2):
        _said(teller, f"{piece.name}, waits in all", found.group(2), float(long.sum()))
    held = re.search(r"([\d.]+) to ([\d.]+) mm away from the join", text)
    if held:
        near, far = (files.value(f"bench.heat.hold_{end}_mm") for end in ("from", "to"))
        told = (float(held.group(1)), float(held.group(2)))
        teller.same(PAPER, f"{piece.name}, where to hold", told, (near, far))
    for sentence in limit_sentences(piece):
        # Some limit may be told once for several parts of one name: the warmest of them.
        upper = sentence[:1].upper() + sentence[1:]
        good = sentence in text or upper in text
        shown = any(words in text for words in _openings(sentence))
        if not good and not _told_warmer(piece, sentence):
            other = "another number" if shown else "nothing"
            teller.tell(PAPER, f"{piece.name}, limits", other, sentence)


def _openings(sentence: str) -> tuple[str, str]:
    words = sentence.split(": ")[0] + ": "
    return words, words[:1].upper() + words[1:]


def _told_warmer(piece: PieceFiles, sentence: str) -> bool:
    """Whether another part of that name is nearer to its limit, so that this one is not told."""
    words = sentence.split(": ")[0] + ": "
    return sum(other.startswith(words) for other in limit_sentences(piece)) > 1


def _check_table(piece: PieceFiles, table: dict[int, re.Match[str]], teller: Teller) -> None:
    """Compare the table of a small piece, a line a join."""
    wanted = [*range(1, len(piece.welded) + 1)]
    teller.same(PAPER, f"{piece.name}, table, joins", sorted(table), wanted)
    edge = _edge_mm(piece)
    surface = piece.join_mm[:, 0] + piece.approach[:, 0] * piece.wire_mm / 2
    waits = piece.steps["wait_before_s"].tolist()
    for number, row in table.items():
        if not 1 <= number <= len(piece.welded):
            continue
        ring = int(piece.welded[number - 1])
        place = f"{piece.name}, table, join {number}"
        teller.same(PAPER, f"{place}, ring", int(row.group(2)), ring + 1)
        at = float(surface[ring]) - edge
        mirrored = abs(float(row.group(3)) + at) < 0.6  # seen from the back
        teller.true(
            PAPER, f"{place}, from start", abs(float(row.group(3)) - at) < 0.6 or mirrored,
            row.group(3), f"{at:.1f} mm",
        )  # fmt: skip
        _check_wait(row.group(4).replace("–", ""), waits[number - 1], place, teller)


def _edge_mm(piece: PieceFiles) -> float:
    lean = np.sqrt(np.maximum(1 - piece.normal[:, 0] ** 2, 0.0))
    return float((piece.centre_mm[:, 0] - piece.radius_mm * lean - piece.wire_mm / 2).min())


def _check_wait(told: str, wait_s: float, place: str, teller: Teller) -> None:
    """Compare a wait in words: rounded up, and nothing at all below half a second."""
    if not told:
        teller.true(PAPER, f"{place}, wait", wait_s < _LEAST_WAIT_S + 1e-9, "none", wait_s)
        return
    low, high = seconds_of(told)
    good = low - 0.5 <= wait_s <= high + 0.01 or high - 60.0 <= wait_s <= high - 29.9 > 300
    teller.true(PAPER, f"{place}, wait", good, told, f"{wait_s:.0f} s")


def _check_list(piece: PieceFiles, lines: list[str], teller: Teller) -> None:
    """Compare the list of passes on the first pages, a line each: words, joins and setting."""
    passes = {item["number"]: item for item in piece.order["passes"]}
    found: dict[int, str] = {}
    current = 0
    for line in lines:
        listed = re.match(_LISTED, line)
        if listed and int(listed.group(1)) == current + 1:
            current = int(listed.group(1))
            found[current] = listed.group(2)
        elif current and (line.startswith("Set the welder:") or _TITLE.match(line)):
            break
        elif current:
            found[current] += " " + line
    teller.same(PAPER, f"{piece.name}, list, passes", sorted(found), sorted(passes))
    for number, text in found.items():
        item = passes.get(number)
        if item is None:
            continue
        place = f"{piece.name}, list, pass {number}"
        steps = re.search(_STEPS, text)
        if steps is None:
            teller.tell(PAPER, place, text, "its joins")
            continue
        first = item["first_step"] + 1
        told = (int(steps.group(1)), int(steps.group(2) or steps.group(1)))
        teller.same(PAPER, f"{place}, joins", told, (first, first + item["joins"] - 1))
        if steps.group(3):
            _check_setting(item, steps.groups()[2:5], place, teller)
        words = _plain(text[: steps.start()] + " " + text[steps.end() :])
        cut = words.split(" This piece is large:")[0]
        teller.true(PAPER, place, cut == _words(item), cut, _words(item))


def _words(item: dict[str, Any]) -> str:
    return _plain(str(item["text"]).removeprefix(f"{item['face']}, "))


def _plain(text: str) -> str:
    return " ".join(text.split())


def _check_setting(
    item: dict[str, Any], told: tuple[str | Any, ...], place: str, teller: Teller
) -> None:
    setting = item["setting"]
    known = (f"{setting['power_j']:.3g}", str(setting["hits"]), setting["tip"])
    teller.same(PAPER, f"{place}, setting", tuple(told), known)


def _check_titles(piece: PieceFiles, lines: list[str], teller: Teller) -> None:
    """Compare the titles above the pictures, and the join numbers between one and the next."""
    passes = {item["number"]: item for item in piece.order["passes"]}
    large = any(line.startswith("This piece is large: each pass") for line in lines)
    starts = [k for k, line in enumerate(lines) if _TITLE.match(line) or _GROUP.match(line)]
    seen: list[int] = []
    for k, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        part = lines[k:end]
        text = _plain(" ".join(part))
        title = _TITLE.match(text)
        if title:
            numbers = [int(title.group(1))]
            total = int(title.group(2))
            _check_title(piece, passes.get(numbers[0]), text[title.end() :], teller)
        else:
            group = _GROUP.match(text)
            assert group is not None
            numbers = [*range(int(group.group(1)), int(group.group(2)) + 1)]
            total = int(group.group(3))
            _check_group(piece, passes, numbers, text, teller)
        seen += numbers
        teller.same(PAPER, f"{piece.name}, pass {numbers[0]}, of", total, len(passes))
        items = [passes[number] for number in numbers if number in passes]
        _check_drawn(piece, items, part, teller, starts_only=large)
    shown = sorted(passes)[: len(seen)] if large or len(passes) > 120 else sorted(passes)
    teller.same(PAPER, f"{piece.name}, passes drawn", seen, shown)


def _check_drawn(
    piece: PieceFiles, items: list[dict[str, Any]], part: list[str], teller: Teller,
    *, starts_only: bool,
) -> None:  # fmt: skip
    """Every join of these passes has its number in their pictures; of a large piece, the first."""
    drawn = Counter(numbers_alone(part))
    for item in items:
        first, count = item["first_step"] + 1, item["joins"]
        wanted = range(first, first + (1 if starts_only else count))
        missing = [number for number in wanted if not drawn[number]]
        place = f"{piece.name}, pass {item['number']}, numbers drawn"
        teller.true(PAPER, place, not missing, f"not {missing[:5]}", "every join of the pass")


def _check_title(
    piece: PieceFiles, item: dict[str, Any] | None, text: str, teller: Teller
) -> None:
    """Compare one pass's words, its first and last join with their rings, waits and setting."""
    if item is None:
        return
    place = f"{piece.name}, pass {item['number']}"
    found = re.search(_ENDS, text)
    if found is None:
        teller.tell(PAPER, place, text[:80], "its first and last join, waits and setting")
        return
    words = _plain(text[: found.start()])
    teller.true(PAPER, place, words == _words(item), words, _words(item))
    first, last = item["first_step"], item["first_step"] + item["joins"] - 1
    told = (int(found.group(1)), int(found.group(3) or found.group(1)))
    teller.same(PAPER, f"{place}, joins", told, (first + 1, last + 1))
    named = (_ring(found.group(2)), _ring(found.group(4) or found.group(2)))
    rings = (int(piece.welded[first]) + 1, int(piece.welded[last]) + 1)
    teller.same(PAPER, f"{place}, rings", named, rings)
    _check_waits(piece, item, found.group(5), place, teller)
    _check_setting(item, found.groups()[5:8], place, teller)


def _ring(name: str) -> int:
    found = re.search(r"ring (\d+)", name)
    return int(found.group(1)) if found else 0


def _check_waits(
    piece: PieceFiles, item: dict[str, Any], told: str, place: str, teller: Teller
) -> None:
    """Compare the waits of a pass: none, each named, one for all, or their number and sum."""
    first = item["first_step"]
    waits = piece.steps["wait_before_s"][first : first + item["joins"]]
    long = {first + 1 + int(k): float(waits[k]) for k in np.flatnonzero(waits >= _LEAST_WAIT_S)}
    counted = re.match(rf"(\d+) waits, ({_D}) in all", told)
    each = re.match(rf"wait ({_D}) before each join", told)
    if counted:
        teller.same(PAPER, f"{place}, waits", int(counted.group(1)), len(long))
        _said(teller, f"{place}, waits", counted.group(2), math.fsum(long.values()))
    elif each:
        teller.same(PAPER, f"{place}, waits", len(long), item["joins"])
        _check_wait(each.group(1), max(long.values(), default=0.0), place, teller)
    else:
        named = {int(n): words for words, n in re.findall(rf"({_D}) before join (\d+)", told)}
        teller.same(PAPER, f"{place}, waits", sorted(named), sorted(long))
        for number, words in named.items():
            _check_wait(words, long.get(number, 0.0), f"{place}, join {number}", teller)


def _check_group(
    piece: PieceFiles, passes: dict[int, dict[str, Any]], numbers: list[int], text: str,
    teller: Teller,
) -> None:  # fmt: skip
    """Compare passes that share a picture: each has its line."""
    for number in numbers:
        item = passes.get(number)
        if item is None:
            continue
        place = f"{piece.name}, pass {number}"
        found = re.search(
            rf"(?:^| )pass {number}: (.*?) · joins? (\d+)(?:–(\d+))?, ring (\d+)(?: to (\d+))?"
            rf"(?: · (wait .*? before (?:join \d+|each join)(?:, {_D} before join \d+)*"
            rf"|\d+ waits, {_D} in all: see the bench sheet))?(?= |$)",
            text,
        )
        if found is None:
            teller.tell(PAPER, place, "nothing", "its line above the picture")
            continue
        words = _plain(found.group(1))
        teller.true(PAPER, place, words == _words(item), words, _words(item))
        first, last = item["first_step"], item["first_step"] + item["joins"] - 1
        told = (int(found.group(2)), int(found.group(3) or found.group(2)))
        teller.same(PAPER, f"{place}, joins", told, (first + 1, last + 1))
        named = (int(found.group(4)), int(found.group(5) or found.group(4)))
        rings = (int(piece.welded[first]) + 1, int(piece.welded[last]) + 1)
        teller.same(PAPER, f"{place}, rings", named, rings)
        _check_waits(piece, item, found.group(6) or "no waits", place, teller)
