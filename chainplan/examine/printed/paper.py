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
    LOOSE_BEGINS,
    PAPER,
    bare,
    by_piece,
    numbers_alone,
    read_pages,
    without_note,
)
from chainplan.examine.registry import check
from chainplan.examine.said import DURATION, limit_sentences

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.printed.pages import PiecePages, PrintedPage
    from chainplan.examine.reading import PieceFiles, PlanFiles

_D = DURATION
_WHAT = (
    r"(?:(\d+) copies, each )?(\d+) rings?, (\d+) joins? to weld(?: in (\d+) pass(?:es)?)?, about "
    rf"({_D}) at the bench\.(?: (\d+) rings are closed before weaving\.)?"
    r"(?: (\d+) joins are welded already\.)?"
)
_LOOSE = (
    r"(FRONT|BACK|EDGE) (?:(\d+) copies, each )?(\d+) (?:rings?|posts?), (\d+) hits? each, "
    rf"([\d.]+) J, (\w+) tip: one after another, no waits, about ({_D}) at the bench\."
)
_WAITS_IN_ALL = (
    rf"(\d+) waits?, ({_D}) in all, where two strokes stand before a number\.|"
    "No waits: weld on without"
)


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
    _check_cover(files, cover, teller)
    _check_page_numbers(files, cover, pages, teller)
    teller.same(PAPER, "pieces", len(pieces), len(files.pieces))
    for piece, own in zip(files.pieces, pieces, strict=False):
        _check_piece(files, piece, own, teller)


def _check_cover(files: PlanFiles, lines: list[str], teller: Teller) -> None:
    """Cautions, each piece with its numbers, and the turns of the batch."""
    text = " ".join(lines)
    shown = bare(text)
    missing = [w for w in files.plan["estimates"]["cautions"] if bare(w) not in shown]
    missing += [c["source"] for c in files.sheet["cautions"] if bare(c["source"]) not in shown]
    teller.true(PAPER, "cover, cautions", not missing, f"not {missing[:1]}", "every caution")
    pattern = rf"(?:(\d+) × )?(\d+) rings?, (\d+) joins?, ({_D})"
    found = re.findall(pattern, text)
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
    found = re.findall(rf"joins?, {_D} · page (\d+)", " ".join(cover))
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
    text = " ".join(lines)
    more = re.search(r"… and (\d+) more turns", text)
    told = turns[: len(turns) - int(more.group(1))] if more else turns
    shown = bare(text.replace("…", "~"))
    for number, (name, copy, first, end) in enumerate(told, 1):
        which = f"{name}, copy {copy}" if copies[name] > 1 else name
        joins = f"join {end}" if end - first == 1 else f"joins {first + 1}–{end}"
        line = bare(f"{number}. {which}: {joins}")
        # A long name is cut off, with its joins.
        cut = any(line[:length] + "~" in shown for length in range(4, len(line)))
        teller.true(PAPER, f"cover, turn {number}", line in shown or cut, "another turn", line)
    saved = re.search(rf"welded while one cools, which saves ({_D})\.", text)
    if saved:
        value = batch["one_after_another_s"] - batch["bench_time_s"]
        said(teller, "cover, what turns save", saved.group(1), value)


def _check_piece(files: PlanFiles, piece: PieceFiles, own: PiecePages, teller: Teller) -> None:
    lines = own.lines
    if piece.sheet["notes"].strip():
        lines = without_note(lines, piece.sheet["notes"])
    if len(lines) > 1 and LOOSE_BEGINS.match(lines[1]):
        _check_loose(piece, lines, teller)
        check_boxes(piece, own.pages, [*range(1, len(piece.welded) + 1)], teller)
        return
    text = " ".join(lines)
    order, name = piece.order, piece.name
    what = re.match(_WHAT, text)
    if what is None:
        teller.tell(PAPER, name, text[:80], "what is to weld, with its numbers")
        return
    copies, rings, joins, passes, long, closed, _ = what.groups()
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
    if check_table(files, piece, lines, teller):
        check_boxes(piece, own.pages, [*range(1, len(piece.welded) + 1)], teller)
        return
    check_list(piece, lines, teller)
    drawn, further = check_titles(piece, lines, teller)
    check_boxes(piece, own.pages, drawn, teller, further)


def _check_loose(piece: PieceFiles, lines: list[str], teller: Teller) -> None:
    """Compare a piece of loose joins: its name, its one line, its limits, and its boxes."""
    text, order, name = " ".join(lines[1:]), piece.order, piece.name
    what = re.match(_LOOSE, text)
    if what is None:
        teller.tell(PAPER, name, text[:80], "what is to weld, with its numbers")
        return
    teller.same(PAPER, f"{name}, its name", bare(lines[0]), bare(name))
    face, copies, joins, hits, power, tip, long = what.groups()
    told = (face.lower(), int(copies or 1), int(joins), int(hits), power, tip)
    for item in order["passes"]:
        setting = item["setting"]
        known = (
            item["face"], piece.record["quantity"], len(piece.welded), setting["hits"],
            f"{setting['power_j']:.3g}", setting["tip"],
        )  # fmt: skip
        teller.same(PAPER, f"{name}, what is to weld", told, known)
    said(teller, f"{name}, time at the bench", long, order["bench_time_s"])
    shown = bare(text).casefold()
    for sentence in sorted(limit_sentences(piece)):
        good = bare(sentence).casefold() in shown
        teller.true(PAPER, f"{name}, limits", good, "another text", sentence)
    numbers = sorted(numbers_alone(lines))
    teller.same(PAPER, f"{name}, numbers", numbers, [*range(1, len(piece.welded) + 1)])


def _check_instructions(files: PlanFiles, piece: PieceFiles, text: str, teller: Teller) -> None:
    """Compare waits, where to hold and the limits, as they stand on a piece's first page."""
    wait = piece.steps["wait_before_s"]
    long = wait[wait >= LEAST_WAIT_S - 1e-9]
    found = re.search(_WAITS_IN_ALL, text)
    number = int(found.group(1) or 0) if found else -1
    teller.same(PAPER, f"{piece.name}, waits", number, len(long))
    if found and found.group(2):
        said(teller, f"{piece.name}, waits in all", found.group(2), float(long.sum()))
    held = re.search(r"([\d.]+) to ([\d.]+) mm away from the join", text)
    if held:
        near, far = (files.value(f"bench.heat.hold_{end}_mm") for end in ("from", "to"))
        told = (float(held.group(1)), float(held.group(2)))
        teller.same(PAPER, f"{piece.name}, where to hold", told, (near, far))
    limits: dict[str, set[str]] = {}
    for part in piece.record["parts"]:
        limits.setdefault(part["name"], set()).add(f"{part['limit_c']:.0f}")
    for name, known in limits.items():
        for told in re.findall(re.escape(name) + r": below (\d+) °C", text):
            teller.true(PAPER, f"{piece.name}, limit of {name}", told in known, told, known)
    for words in piece.order["gained"][:1]:
        good = bare(words) in bare(text)
        teller.true(PAPER, f"{piece.name}, what the order gains", good, "other words", words)
    shown = bare(text).casefold()
    sentences = sorted(limit_sentences(piece))
    for sentence in sentences:
        # Of several parts of one name only the one that comes nearest to its limit is told.
        name = sentence.split(": ")[0] + ": "
        alike = [other for other in sentences if other.startswith(name)]
        good = any(bare(other).casefold() in shown for other in alike)
        teller.true(PAPER, f"{piece.name}, limits", good, "another text", sentence)
