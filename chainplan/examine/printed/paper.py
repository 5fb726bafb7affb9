"""The pages of the weld order say what the plan says, and every join has its number on them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from chainplan.examine.printed.drawn import (
    LEAST_WAIT_S,
    check_actions,
    check_boxes,
    check_list,
    check_table,
    check_titles,
    said,
)
from chainplan.examine.printed.named import check_named
from chainplan.examine.printed.pages import (
    PAPER,
    bare,
    by_piece,
    numbers_alone,
    read_pages,
    without_note,
)
from chainplan.examine.printed.wording import numbers_in, wording, wording_of
from chainplan.examine.registry import check
from chainplan.examine.said import DURATION, limit_sentences

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.printed.pages import PiecePages, PrintedPage
    from chainplan.examine.reading import PieceFiles, PlanFiles

_D = DURATION


@check("the paper is the weld order")
def check_paper(files: PlanFiles, teller: Teller) -> None:
    """Compare the sentences, lists and join numbers of the PDF with weld-order.csv."""
    path = files.folder / PAPER
    if not path.is_file():
        teller.tell(PAPER, "the file", "is not there", "the pages of the weld order")
        return
    language = files.sheet["language"]
    pages = read_pages(path, language)
    stamp = files.sheet["stamp"]
    for number, page in enumerate(pages, 1):
        place = f"page {number}"
        teller.same(PAPER, f"{place}, its number", (page.number, page.of), (number, len(pages)))
        good = page.stamp.endswith(stamp)
        teller.true(PAPER, f"{place}, stamp", good, page.stamp, stamp)
    cover, pieces = by_piece(pages, language)
    _check_cover(files, cover, teller)
    _check_page_numbers(files, cover, pages, teller)
    teller.same(PAPER, "pieces", len(pieces), len(files.pieces))
    for piece, own in zip(files.pieces, pieces, strict=False):
        _check_piece(files, piece, own, teller)


def _check_cover(files: PlanFiles, lines: list[str], teller: Teller) -> None:
    """Cautions, each piece with its numbers, and the turns of the batch."""
    text = " ".join(lines)
    shown = bare(text)
    w = wording(files.sheet["language"])
    warned = [c["text"] for c in files.sheet["cautions"]]  # held against plan.json elsewhere
    if w.english:
        warned += files.plan["estimates"]["cautions"]
    missing = [text for text in warned if bare(text) not in shown]
    missing += [c["source"] for c in files.sheet["cautions"] if bare(c["source"]) not in shown]
    teller.true(PAPER, "cover, cautions", not missing, f"not {missing[:1]}", "every caution")
    found = w.pattern["cover_piece"].findall(text)
    teller.same(PAPER, "cover, pieces", len(found), len(files.pieces))
    for piece, (copies, rings, joins, long) in zip(files.pieces, found, strict=False):
        place = f"cover, {piece.name}"
        known = (piece.record["quantity"], piece.count, len(piece.welded))
        teller.same(PAPER, place, (int(copies or 1), int(rings), int(joins)), known)
        said(teller, place, long, piece.order["bench_time_s"])
    _check_turns(files, lines, teller)


def _check_page_numbers(
    files: PlanFiles, cover: list[str], pages: list[PrintedPage], teller: Teller
) -> None:
    """Each piece begins on the page that the cover names."""
    found = wording(files.sheet["language"]).pattern["cover_page"].findall(" ".join(cover))
    teller.same(PAPER, "cover, pages", len(found), len(files.pieces))
    for piece, number in zip(files.pieces, map(int, found), strict=False):
        good = 0 < number <= len(pages)
        text = bare(" ".join((*pages[number - 1].lines, pages[number - 1].foot))) if good else ""
        good = good and bare(piece.name)[:20] in text
        teller.true(PAPER, f"cover, {piece.name}", good, f"page {number}", "where it begins")


def _check_turns(files: PlanFiles, lines: list[str], teller: Teller) -> None:
    """Compare the turns of the batch; stints of one copy that follow one another are one turn."""
    batch = files.plan["order"]["batch"]
    if len({*zip(batch["piece"], batch["copy"], strict=True)}) < 2:
        return
    turns: list[tuple[str, int, int, int]] = []
    rows = zip(batch["piece"], batch["copy"], batch["first_step"], batch["steps"], strict=True)
    for name, copy, first, steps in rows:
        goes_on = bool(turns) and turns[-1][:2] == (name, copy) and turns[-1][3] == first
        begin = turns.pop()[2] if goes_on else first
        turns.append((name, copy, begin, first + steps))
    copies = {piece.name: piece.record["quantity"] for piece in files.pieces}
    text, w = " ".join(lines), wording(files.sheet["language"])
    more = w.pattern["more_turns"].search(text)
    told = turns[: len(turns) - int(more.group(1))] if more else turns
    shown = bare(text.replace("…", "~"))
    for number, (name, copy, first, end) in enumerate(told, 1):
        which = f"{name}, copy {copy}" if copies[name] > 1 else name
        joins = f"join {end}" if end - first == 1 else f"joins {first + 1}–{end}"
        line = bare(f"{number}. {which}: {joins}")
        there = line in shown
        if not w.english:
            line = bare(f"{number}. {name}")
            form = re.escape(line) + (rf",[^\d,:]*{copy}" if copies[name] > 1 else "")
            ends = f"{end}" if end - first == 1 else f"{first + 1}{end}"  # bare: no dash between
            there = re.search(rf"{form}:[^\d:]+{ends}(?!\d{{3}})", shown) is not None
        # A long name is cut off, with its joins.
        cut = any(line[:length] + "~" in shown for length in range(4, len(line) + 1))
        teller.true(PAPER, f"cover, turn {number}", there or cut, "another turn", line)
    saved = w.pattern["saved"].search(text)
    teller.same(PAPER, "cover, what turns save", saved is not None, batch["interleaved"])
    if saved:
        value = batch["one_after_another_s"] - batch["bench_time_s"]
        said(teller, "cover, what turns save", saved.group(1), value)


def _check_piece(files: PlanFiles, piece: PieceFiles, own: PiecePages, teller: Teller) -> None:
    lines = own.lines
    if piece.sheet["notes"].strip():
        lines = without_note(lines, piece.sheet["notes"], piece.language)
    pattern = wording_of(piece).pattern
    if len(lines) > 1 and pattern["loose_begins"].match(lines[1]):
        _check_loose(piece, lines, teller)
        check_boxes(piece, own.pages, [*range(1, len(piece.welded) + 1)], teller)
        return
    text = " ".join(lines)
    order, name = piece.order, piece.name
    what = pattern["what"].match(text)
    if what is None:
        teller.tell(PAPER, name, text[:80], "what is to weld, with its numbers")
        return
    copies, rings, joins, passes, long, closed, welded = what.groups()
    if not wording_of(piece).english and not piece.record["pre_closed"] and not welded:
        closed = None  # the one number told is that of joins welded already
    told = (int(copies or 1), int(rings), int(joins), int(closed or 0))
    known = (
        piece.record["quantity"], piece.count, len(piece.welded), len(piece.record["pre_closed"]),
    )  # fmt: skip
    if passes:  # a small piece is one picture and one table, not passes
        teller.same(PAPER, f"{name}, passes", int(passes), len(order["passes"]))
    teller.same(PAPER, f"{name}, what is to weld", told, known)
    said(teller, f"{name}, time at the bench", long, order["bench_time_s"])
    if not len(piece.welded):
        return
    _check_instructions(files, piece, text, teller)
    check_named(piece, text, teller)
    check_actions(piece, lines, teller)
    if check_table(files, piece, lines, teller, listed=passes is None):
        check_boxes(piece, own.pages, [*range(1, len(piece.welded) + 1)], teller)
        return
    check_list(piece, lines, teller)
    drawn, further = check_titles(piece, lines, teller)
    check_boxes(piece, own.pages, drawn, teller, further)


def _check_loose(piece: PieceFiles, lines: list[str], teller: Teller) -> None:
    """Compare a piece of loose joins: its name, its one line, its limits, and its boxes."""
    text, order, name = " ".join(lines[1:]), piece.order, piece.name
    w = wording_of(piece)
    what = w.pattern["loose"].match(text)
    if what is None:
        teller.tell(PAPER, name, text[:80], "what is to weld, with its numbers")
        return
    teller.same(PAPER, f"{name}, its name", bare(lines[0]), bare(name))
    face, copies, joins, hits, power, tip, long = what.groups()
    told = (w.face_words[face], int(copies or 1), int(joins), int(hits), power, tip)
    for item in order["passes"]:
        setting = item["setting"]
        known = (
            item["face"], piece.record["quantity"], len(piece.welded), setting["hits"],
            f"{setting['power_j']:.3g}", w.tips[setting["tip"]],
        )  # fmt: skip
        teller.same(PAPER, f"{name}, what is to weld", told, known)
    said(teller, f"{name}, time at the bench", long, order["bench_time_s"])
    shown = bare(text).casefold()
    for sentence in _limits_told(piece):
        good = bare(sentence).casefold() in shown
        teller.true(PAPER, f"{name}, limits", good, "another text", sentence)
    numbers = sorted(numbers_alone(lines, w))
    teller.same(PAPER, f"{name}, numbers", numbers, [*range(1, len(piece.welded) + 1)])


def _check_instructions(files: PlanFiles, piece: PieceFiles, text: str, teller: Teller) -> None:
    """Compare waits, where to hold and the limits, as they stand on a piece's first page."""
    wait = piece.steps["wait_before_s"]
    long = wait[wait >= LEAST_WAIT_S - 1e-9]
    w = wording_of(piece)
    found = w.pattern["waits_in_all"].search(text)
    number = int(found.group(1) or 0) if found else -1 if w.english else 0
    teller.same(PAPER, f"{piece.name}, waits", number, len(long))
    if found and found.group(2):
        said(teller, f"{piece.name}, waits in all", found.group(2), float(long.sum()))
    held = w.pattern["held"].search(text)
    if held:
        near, far = (files.value(f"bench.heat.hold_{end}_mm") for end in ("from", "to"))
        told = (float(held.group(1)), float(held.group(2)))
        teller.same(PAPER, f"{piece.name}, where to hold", told, (near, far))
    limits: dict[str, set[str]] = {}
    for part in piece.record["parts"]:
        limits.setdefault(part["name"], set()).add(f"{part['limit_c']:.0f}")
    for name, known in limits.items():
        for told in re.findall(re.escape(name) + rf": {w.pattern['below'].pattern}", text):
            teller.true(PAPER, f"{piece.name}, limit of {name}", told in known, told, known)
    if not w.english:
        _check_gain(piece, text, teller)
    for words in piece.order["gained"][:1] if w.english else ():
        good = bare(words) in bare(text)
        teller.true(PAPER, f"{piece.name}, what the order gains", good, "other words", words)
    if piece.order["status"] == "infeasible":
        _check_advice(piece, text, teller)
    shown = bare(text).casefold()
    if not w.english:
        earthed = piece.sheet["earthed"]
        good = bare(earthed).casefold() in shown
        teller.true(PAPER, f"{piece.name}, return lead", good, "another text", earthed)
    sentences = _limits_told(piece)
    for sentence in sentences:
        # Of several parts of one name only the one that comes nearest to its limit is told.
        name = sentence.split(": ")[0] + ": "
        alike = [other for other in sentences if other.startswith(name)]
        good = any(bare(other).casefold() in shown for other in alike)
        teller.true(PAPER, f"{piece.name}, limits", good, "another text", sentence)


def _limits_told(piece: PieceFiles) -> list[str]:
    """Limits as the pages tell them: in English by plan.json, else as on the bench sheet."""
    known = limit_sentences(piece) if wording_of(piece).english else piece.sheet["limits"]
    return sorted(known)


def _check_advice(piece: PieceFiles, text: str, teller: Teller) -> None:
    """Look for all advice in English, and for that on limits by its numbers in other languages."""
    place, advice = f"{piece.name}, advice", piece.order["advice"]
    if wording_of(piece).english:
        for words in advice:
            teller.true(PAPER, place, bare(words) in bare(text), "other words", words)
        return
    shown = numbers_in(text)
    for words in advice[: len(piece.order["advised"])]:
        known = sorted(numbers_in(words))
        runs = (shown[k : k + len(known)] for k in range(len(shown) - len(known) + 1))
        good = any(sorted(run) == known for run in runs)
        teller.true(PAPER, place, good, "other numbers", words)


def _check_gain(piece: PieceFiles, text: str, teller: Teller) -> None:
    """Compare what the order saves, where it is told in another language, with plan.json."""
    gains = piece.order.get("gains")
    if not gains or gains["ends_high_s"] is None:
        return
    told = re.search(rf"({_D})[^\d.(]*\(({_D}) [^\d.()]+ ({_D})\)\.", text)
    saves = gains["saved_high_s"] >= gains["little_s"] and not gains["is_end_to_end"]
    feasible = piece.order["status"] != "infeasible"
    place = f"{piece.name}, what the order gains"
    teller.same(PAPER, place, told is not None, saves and feasible)
    if told:
        values = (gains["saved_high_s"], gains["ends_high_s"], gains["order_s"])
        for words, value in zip(told.groups(), values, strict=True):
            said(teller, place, words, value)
