"""The passes on paper: their list, titles above pictures, join numbers, small tables."""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.printed.pages import PAPER, bare
from chainplan.examine.printed.places import Units, check_axes, places_mm
from chainplan.examine.printed.wording import wording_of
from chainplan.examine.said import seconds_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from chainplan.examine.findings import Teller
    from chainplan.examine.printed.pages import PrintedPage
    from chainplan.examine.printed.wording import Wording
    from chainplan.examine.reading import PieceFiles, PlanFiles

LEAST_WAIT_S = 0.5
"""Waits below are not said."""
_MOST_DRAWN = 120
"""Passes that are drawn of one piece."""


def said(teller: Teller, place: str, told: str, value_s: float) -> None:
    """Compare a time in words with its seconds."""
    low, high = seconds_of(told)
    good = low - 0.06 <= value_s <= high + 0.06
    teller.true(PAPER, place, good, told, f"{value_s:.1f} s")


def check_table(
    files: PlanFiles, piece: PieceFiles, lines: list[str], teller: Teller, *, listed: bool
) -> bool:
    """Compare the table of a small piece, a line a join; False if there is none.

    ``listed``: the piece is told without passes, which asks for a table in any language.
    """
    pattern = wording_of(piece).pattern
    heads = [k for k, line in enumerate(lines) if pattern["table"].match(line)]
    begin = heads[0] if heads else 0
    if not heads and not listed:
        return False
    rows = itertools.chain.from_iterable(map(pattern["row"].finditer, lines[begin:]))
    table = {int(row["join"]): row for row in rows}
    wanted = [*range(1, len(piece.welded) + 1)]
    teller.same(PAPER, f"{piece.name}, table, joins", sorted(table), wanted)
    place_mm = places_mm(piece)
    waits = piece.steps["wait_before_s"].tolist()
    units = Units(piece)
    for number, row in table.items():
        if not 1 <= number <= len(piece.welded):
            continue
        ring = int(piece.welded[number - 1])
        place = f"{piece.name}, table, join {number}"
        teller.same(PAPER, f"{place}, ring", int(row["ring"]), ring + 1)
        if row["unit"]:
            units.check(int(row["unit"]), ring + 1, place, teller)
        for name, column in (("row", "row"), ("column", "position")):
            if row[name]:
                known = int(piece.steps[column][number - 1])
                teller.same(PAPER, f"{place}, {name}", int(row[name]), known)
        at = float(place_mm[ring])
        teller.near(PAPER, f"{place}, from start", float(row["at"]), at, off=0.51)
        _check_wait(row["wait"].replace("–", ""), waits[number - 1], place, teller)
        _check_holds(files, piece, row["hold"] or "", at, place, teller)
    return True


def _check_holds(
    files: PlanFiles, piece: PieceFiles, told: str, at: float, place: str, teller: Teller
) -> None:
    """Each stretch to hold lies between the two distances from the join, on the piece."""
    near, far = (files.value(f"bench.heat.hold_{end}_mm") for end in ("from", "to"))
    length = piece.record["length_mm"]
    allowed = [(max(at - far, 0.0), at - near), (at + near, min(at + far, length))]
    for low, high in re.findall(r"(\d+)–(\d+)", told):
        good = any(abs(int(low) - a) < 0.6 and abs(int(high) - b) < 0.6 for a, b in allowed)
        wanted = " or ".join(f"{a:.0f}–{b:.0f}" for a, b in allowed)
        teller.true(PAPER, f"{place}, hold at", good, f"{low}–{high}", wanted)


def _check_wait(told: str, wait_s: float, place: str, teller: Teller) -> None:
    """Compare a wait in words: rounded up, and nothing at all below half a second."""
    if not told:
        teller.true(PAPER, f"{place}, wait", wait_s < LEAST_WAIT_S + 1e-9, "none", wait_s)
        return
    low, high = seconds_of(told)
    middle = (low + high) / 2
    step = 1.0 if high - low < 2 else 60.0
    good = middle - step - 0.01 <= wait_s <= middle + 0.01
    teller.true(PAPER, f"{place}, wait", good, told, f"{wait_s:.0f} s")


def check_actions(piece: PieceFiles, lines: list[str], teller: Teller) -> None:
    """Wherever the welder is to be set, it is set to what some pass of the piece is welded with."""
    w = wording_of(piece)
    settings = {_setting(item, w) for item in piece.order["passes"]}
    for line in lines:
        told = w.pattern["set"].match(line)
        if told:
            place = f"{piece.name}, set the welder"
            teller.true(PAPER, place, told.groups() in settings, line, sorted(settings))


def check_list(piece: PieceFiles, lines: list[str], teller: Teller) -> None:
    """Compare the list of passes on the first pages, a line each: words, joins and setting."""
    passes = {item["number"]: item for item in piece.order["passes"]}
    w = wording_of(piece)
    found: dict[int, str] = {}
    current, coming = 0, sorted(passes, reverse=True)
    for line in lines:
        listed = w.pattern["listed"].match(line)
        if listed and coming and int(listed.group(1)) == coming[-1]:
            current = coming.pop()
            found[current] = listed.group(2)
        elif current and (w.pattern["set"].match(line) or w.pattern["title"].match(line)):
            break
        elif current:
            found[current] += " " + line
    teller.same(PAPER, f"{piece.name}, list, passes", sorted(found), sorted(passes))
    for number, text in found.items():
        item = passes.get(number)
        if item is None:
            continue
        place = f"{piece.name}, list, pass {number}"
        steps = _steps_of(item, text, w)
        if steps is None:
            teller.tell(PAPER, place, text, "its joins")
            continue
        first = item["first_step"] + 1
        told = (int(steps.group(1)), int(steps.group(2) or steps.group(1)))
        teller.same(PAPER, f"{place}, joins", told, (first, first + item["joins"] - 1))
        if steps.group(3):
            _check_setting(item, steps.groups()[2:5], w, place, teller)
        words = _plain(text[: steps.start()] + " " + text[steps.end() :])
        cut = words.split(f" {w.large}")[0]
        known = _words(piece, item)
        teller.true(PAPER, place, bare(cut) == bare(known), cut, known)


def _steps_of(item: dict[str, Any], text: str, w: Wording) -> re.Match[str] | None:
    """Find the joins of a pass in its line; its words may name joins too, elsewhere."""
    first = item["first_step"] + 1
    found = list(w.pattern["steps"].finditer(text))
    ends = (str(first), str(first + item["joins"] - 1))
    same = (match for match in found if (match[1], match[2] or match[1]) == ends)
    return next(same, found[-1] if found else None)


def _words(piece: PieceFiles, item: dict[str, Any]) -> str:
    """Tell a pass's words: in English those of plan.json, else those of the bench sheet."""
    w = wording_of(piece)
    if w.english:
        return _plain(str(item["text"]).removeprefix(f"{item['face']}, "))
    shown = {own["number"]: str(own["text"]) for own in piece.sheet["passes"]}
    text = shown.get(item["number"], "")
    lead, _, rest = text.partition(", ")  # of a repair the face comes later, and stays
    leads = w.face_words.get(lead.upper()) == item["face"]
    return _plain(rest if leads else text)


def _plain(text: str) -> str:
    return " ".join(text.split())


def _check_setting(
    item: dict[str, Any], told: tuple[str | Any, ...], w: Wording, place: str, teller: Teller
) -> None:
    teller.same(PAPER, f"{place}, setting", tuple(told), _setting(item, w))


def _setting(item: dict[str, Any], w: Wording) -> tuple[str, str, str]:
    setting = item["setting"]
    return f"{setting['power_j']:.3g}", str(setting["hits"]), w.tips[setting["tip"]]


def check_titles(
    piece: PieceFiles, lines: list[str], teller: Teller
) -> tuple[list[int], list[int]]:
    """Compare the titles above the pictures; return the joins that these show, and may show.

    Of a large piece each pass is shown where it begins: some of its joins stand there too.
    """
    passes = {item["number"]: item for item in piece.order["passes"]}
    w = wording_of(piece)
    title_of, group_of = w.pattern["title"], w.pattern["group"]
    large = any(line.startswith(w.large) for line in lines)
    units = Units(piece)
    starts = [k for k, line in enumerate(lines) if title_of.match(line) or group_of.match(line)]
    seen: list[int] = []
    drawn: list[int] = []  # of a large piece the first join of each pass
    further: list[int] = []
    for k, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        part = lines[k:end]
        text = _plain(" ".join(part))
        title, group = title_of.match(text), group_of.match(text)
        if title:
            numbers, total = [int(title.group(1))], int(title.group(2))
            _check_title(piece, passes.get(numbers[0]), text[title.end() :], units, teller)
        elif group:
            numbers = [*range(int(group.group(1)), int(group.group(2)) + 1)]
            total = int(group.group(3))
            if not numbers:
                teller.tell(PAPER, piece.name, text[:80], "passes that go on")
                continue
            _check_group(piece, passes, numbers, text, teller)
            own = [passes[number] for number in numbers if number in passes]
            if own:
                told = (int(group.group(4)), int(group.group(5)))
                ends = (own[0]["first_step"] + 1, own[-1]["first_step"] + own[-1]["joins"])
                teller.same(PAPER, f"{piece.name}, passes {numbers[0]} on, joins", told, ends)
                setting = w.pattern["setting"].match(text[group.end() :])
                named: tuple[Any, ...] = setting.groups() if setting else ()
                _check_setting(own[0], named, w, f"{piece.name}, passes {numbers[0]} on", teller)
        else:
            continue
        seen += numbers
        teller.same(PAPER, f"{piece.name}, pass {numbers[0]}, of", total, max(passes, default=0))
        items = [passes[number] for number in numbers if number in passes]
        for item in items:
            first = item["first_step"] + 1
            drawn += range(first, first + (1 if large else item["joins"]))
            further += range(first + 1, first + item["joins"]) if large else ()
        check_axes(piece, items, part, units, teller)
        _check_continued(piece, passes, part, f"{piece.name}, pass {numbers[0]}", teller)
    shown = sorted(passes)[: len(seen)] if large or len(passes) > _MOST_DRAWN else sorted(passes)
    teller.same(PAPER, f"{piece.name}, passes drawn", seen, shown)
    return drawn, further


def check_boxes(
    piece: PieceFiles, pages: list[PrintedPage], wanted: list[int], teller: Teller,
    further: Iterable[int] = (),
) -> None:  # fmt: skip
    """Each join has its number in a box once, on a page that shows its pass, and no other has.

    ``further``: joins that may be there, but once.
    """
    drawn = Counter(itertools.chain.from_iterable(page.boxes for page in pages))
    place = f"{piece.name}, numbers drawn"
    once, may_be = Counter(wanted), Counter(further)
    missing = once - drawn
    twice = [n for n, times in drawn.items() if times > once[n] + may_be[n]]
    teller.true(PAPER, place, not missing, f"not {sorted(missing)[:5]}", "every join once")
    teller.true(PAPER, place, not twice, f"also {sorted(twice)[:5]}", "every join once")
    passes = piece.steps["pass"].astype(int)
    w = wording_of(piece)
    for page in pages:
        shown = {number for line in page.lines for number in _passes_named(line, w)}
        if not shown:
            continue
        odd = [n for n in page.boxes if 1 <= n <= len(passes) and passes[n - 1] not in shown]
        where = f"{place} on page {page.number}"
        teller.true(PAPER, where, not odd, odd[:5], f"joins of passes {sorted(shown)[:5]}")


def _passes_named(line: str, w: Wording) -> Iterator[int]:
    """Tell the passes whose pictures a line stands above."""
    for name in ("title", "group", "continued", "group_continued"):
        found = w.pattern[name].match(line)
        if found is not None:
            last = found.group(2) if name.startswith("group") else found.group(1)
            yield from range(int(found.group(1)), int(last) + 1)


def _check_title(
    piece: PieceFiles, item: dict[str, Any] | None, text: str, units: Units, teller: Teller
) -> None:
    """Compare one pass's words, its first and last join with their rings, waits and setting."""
    if item is None:
        return
    place, w = f"{piece.name}, pass {item['number']}", wording_of(piece)
    found = w.pattern["ends"].search(text)
    if found is None:
        teller.tell(PAPER, place, text[:80], "its first and last join, waits and setting")
        return
    words, known = _plain(text[: found.start()]), _words(piece, item)
    teller.true(PAPER, place, bare(words) == bare(known), words, known)
    first, last = item["first_step"], item["first_step"] + item["joins"] - 1
    told = (int(found.group(1)), int(found.group(3) or found.group(1)))
    teller.same(PAPER, f"{place}, joins", told, (first + 1, last + 1))
    named = (_ring(found.group(2), w), _ring(found.group(4) or found.group(2), w))
    rings = (int(piece.welded[first]) + 1, int(piece.welded[last]) + 1)
    teller.same(PAPER, f"{place}, rings", named, rings)
    for name in (found.group(2), found.group(4) or ""):
        unit = w.pattern["of_unit"].match(name)
        if unit:
            units.check(int(unit.group(1)), int(unit.group(2)), place, teller)
    _check_waits(piece, item, found.group(5), place, teller)
    _check_clips(piece, item, found.group(6) or "", place, teller)
    _check_setting(item, found.groups()[6:9], w, place, teller)


def _check_clips(
    piece: PieceFiles, item: dict[str, Any], told: str, place: str, teller: Teller
) -> None:
    """Compare the joins at which the clip is moved in a pass; one place alone is not told."""
    pattern = wording_of(piece).pattern
    named = [(int(r), int(n)) for r, n in pattern["clip_place"].findall(told)]
    ring = piece.clip
    first, last = item["first_step"], item["first_step"] + item["joins"]
    steps = range(first, last) if ring is not None else ()
    own = [
        (int(ring[k]) + 1, k + 1)
        for k in steps
        if ring is not None and (k == first or ring[k] != ring[k - 1])
    ]
    shown = own if len(own) > 1 else []
    most = shown[: len(named)] if not re.search(r"\d", told.rpartition(", ")[2]) else shown
    teller.same(PAPER, f"{place}, clip", named, most)


def _ring(name: str, w: Wording) -> int:
    found = w.pattern["ring"].search(name)
    return int(found.group(1)) if found else 0


def _check_waits(
    piece: PieceFiles, item: dict[str, Any], told: str, place: str, teller: Teller
) -> None:
    """Compare the waits of a pass: none, each named, one for all, or their number and sum."""
    first, pattern = item["first_step"], wording_of(piece).pattern
    waits = piece.steps["wait_before_s"][first : first + item["joins"]]
    long = {first + 1 + int(k): float(waits[k]) for k in np.flatnonzero(waits >= LEAST_WAIT_S)}
    counted, each = pattern["waits_counted"].match(told), pattern["waits_each"].match(told)
    if counted:
        teller.same(PAPER, f"{place}, waits", int(counted.group(1)), len(long))
        said(teller, f"{place}, waits", counted.group(2), math.fsum(long.values()))
    elif each:
        teller.same(PAPER, f"{place}, waits", len(long), item["joins"])
        _check_wait(each.group(1), max(long.values(), default=0.0), place, teller)
    else:
        named = {int(n): words for words, n in pattern["wait_at"].findall(told)}
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
        found = wording_of(piece).line_of_group(number, text)
        if found is None:
            teller.tell(PAPER, place, "nothing", "its line above the picture")
            continue
        words, known = _plain(found.group(1)), _words(piece, item)
        teller.true(PAPER, place, bare(words) == bare(known), words, known)
        first, last = item["first_step"], item["first_step"] + item["joins"] - 1
        told = (int(found.group(2)), int(found.group(3) or found.group(2)))
        teller.same(PAPER, f"{place}, joins", told, (first + 1, last + 1))
        named = (int(found.group(4)), int(found.group(5) or found.group(4)))
        rings = (int(piece.welded[first]) + 1, int(piece.welded[last]) + 1)
        teller.same(PAPER, f"{place}, rings", named, rings)
        _check_waits(piece, item, found.group(6) or "no waits", place, teller)


def _check_continued(
    piece: PieceFiles, passes: dict[int, dict[str, Any]], part: list[str], place: str,
    teller: Teller,
) -> None:  # fmt: skip
    """Where a pass goes on overleaf its words stand again, cut off at most."""
    pattern = wording_of(piece).pattern["continued"]
    for line in part:
        found = pattern.match(line)
        if found is None or int(found.group(1)) not in passes:
            continue
        words = _words(piece, passes[int(found.group(1))])
        told, _, cut = found.group(2).partition("…")
        # What stands to the right on the same line, such as a part's limit, follows the words.
        good = (
            bare(words).startswith(bare(told))
            if cut or "…" in line
            else (bare(told).startswith(bare(words)))
        )
        teller.true(PAPER, place, good, found.group(2), words)
