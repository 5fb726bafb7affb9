"""The pages for whoever weaves: bags, and every line, are the rings of rings.csv in their order."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.alike import kinds_of_rows
from chainplan.examine.printed.pages import bare, read_pages
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.arrays import IndexArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles, PlanFiles

WEAVING = "weaving.pdf"
_BAG = re.compile(
    r"^([A-Z]+) .*?, ([\d.]+) mm wire, ([\d.]+) mm inside: (\d+) rings"
    r"(?: a piece, (\d+) in all)?$"
)
_TOTAL = re.compile(r"^(\d+) rings a piece in all; put some spare ones into each bag\.$")
_COUNTS = r"\d+ [A-Z]+(?:, \d+ [A-Z]+)*"
_LINE = re.compile(
    r"(?:section (\d+), )?(row|rings) (\d+)(?: to (\d+))? (?P<text>(?:(?!here \d).)*?) ?"
    rf"here (?P<here>{_COUNTS}) so far (?P<total>{_COUNTS})"
)
_ALIKE = re.compile(r"(\d+) lines, each: ")
_RUN = re.compile(r"(\d+) (?:times|×) \(([^)]*)\)|(\d+) ([A-Z]+)")
_MORE = re.compile(r"(\d+) more lines are not written; rings\.csv has every ring\.")
_Kind = tuple[str, float, float]
"""Metal, wire and inside of rings that are alike."""


@check("the weaving pages are the rings")
def check_weaving(files: PlanFiles, teller: Teller) -> None:
    """Pieces of several metals or sizes have pages; compare their bags and lines, ring by ring."""
    path = files.folder / WEAVING
    wanted = [piece for piece in files.pieces if len(_kinds(piece)[0]) > 1]
    if not path.is_file():
        teller.true(WEAVING, "the file", not wanted, "is not there", "pages for whoever weaves")
        return
    pages = read_pages(path)
    texts: list[list[str]] = []
    for number, page in enumerate(pages, 1):
        place = f"page {number}"
        teller.same(WEAVING, f"{place}, its number", (page.number, page.of), (number, len(pages)))
        good = page.stamp.endswith(files.sheet["stamp"])
        teller.true(WEAVING, f"{place}, stamp", good, page.stamp, files.sheet["stamp"])
        if page.lines and page.lines[0].startswith("Put the rings ready"):
            texts.append([page.foot])
        if texts:
            texts[-1].extend(page.lines)
    # Rings of one metal and size may still differ in temper, which rings.csv does not tell.
    teller.true(WEAVING, "pieces", len(texts) >= len(wanted), len(texts), f"{len(wanted)} at least")
    for lines in texts:
        piece = _piece_of(files, lines[0])
        if piece is None:
            teller.tell(WEAVING, "heading", lines[0], "a piece of the plan")
        else:
            _check_piece(piece, lines[1:], teller)


def _piece_of(files: PlanFiles, heading: str) -> PieceFiles | None:
    """Find the piece that a heading names, the one of the longest name that fits."""
    head = bare(heading)
    found = [
        piece
        for piece in files.pieces
        if head.startswith((bare(f"{piece.name}, weaving"), bare(f"{piece.name}, weaving")[:20]))
    ]
    return max(found, key=lambda piece: len(piece.name), default=None)


def _kinds(piece: PieceFiles) -> tuple[list[_Kind], IndexArray]:
    """Metal and size of rings that are alike, and which of them each ring is, shape (n,)."""
    rings = piece.rings
    metals, metal = piece.coded("metal")
    first, place = kinds_of_rows(metal, rings["wire_mm"], rings["inner_mm"])
    told = [
        (metals[metal[k]], _told(float(rings["wire_mm"][k])), _told(float(rings["inner_mm"][k])))
        for k in first.tolist()
    ]
    kinds = list(dict.fromkeys(told))
    return kinds, np.array([kinds.index(kind) for kind in told], dtype=np.intp)[place]


def _told(size_mm: float) -> float:
    """Round as the pages tell sizes: to three digits."""
    return float(f"{size_mm:.3g}")


def _check_piece(piece: PieceFiles, lines: list[str], teller: Teller) -> None:
    copies = piece.record["quantity"]
    bags: dict[str, tuple[float, float, int]] = {}
    for line in lines:
        bag, total = _BAG.match(line), _TOTAL.match(line)
        if bag is not None:
            bags[bag[1]] = (float(bag[2]), float(bag[3]), int(bag[4]))
            in_all = int(bag[5]) if bag[5] else int(bag[4])
            place = f"{piece.name}, bag {bag[1]}"
            teller.same(WEAVING, f"{place}, in all", in_all, int(bag[4]) * copies)
        elif total is not None:
            teller.same(WEAVING, f"{piece.name}, rings", int(total[1]), piece.count)
    told: Counter[tuple[float, float]] = Counter()
    for wire, inner, rings in bags.values():
        told[wire, inner] += rings
    known: Counter[tuple[float, float]] = Counter()
    kinds, kind = _kinds(piece)
    for (_, wire, inner), rings in zip(kinds, np.bincount(kind).tolist(), strict=True):
        known[wire, inner] += rings
    teller.same(WEAVING, f"{piece.name}, bags", dict(told), dict(known))
    begins = [k for k, line in enumerate(lines) if line.startswith("In weaving order, ")]
    teller.same(WEAVING, f"{piece.name}, lists of lines", len(begins), 1)
    if bags and begins:
        _check_lines(piece, " ".join(lines[begins[0] + 1 :]), bags, teller)


def _check_lines(
    piece: PieceFiles, text: str, bags: dict[str, tuple[float, float, int]], teller: Teller
) -> None:
    """Go through the lines: each ring comes from the bag of its metal and size."""
    kinds, kind = _kinds(piece)
    holds: dict[str, _Kind] = {}
    so_far: Counter[str] = Counter()
    done = np.zeros(piece.count, dtype=int)
    for found in _LINE.finditer(text):
        place = f"{piece.name}, {found[2]} {found[3]}"
        own = _rings_of(piece, found)
        if found[2] == "rings":
            teller.true(WEAVING, place, int(found[4] or found[3]) <= piece.count, found[4],
                        f"{piece.count} at most")  # fmt: skip
        letters = _letters(found["text"])
        here = Counter(letters[: _each(found["text"], len(letters))])
        so_far += Counter(letters)
        teller.same(WEAVING, f"{place}, here", _counted(found["here"]), dict(here))
        teller.same(WEAVING, f"{place}, so far", _counted(found["total"]), dict(so_far))
        teller.same(WEAVING, f"{place}, rings", len(letters), len(own))
        for letter, ring in zip(letters, own, strict=False):
            done[ring] += 1
            size = bags.get(letter, (0.0, 0.0, 0))[:2]
            known = kinds[kind[ring]]
            if holds.setdefault(letter, known) != known or size != known[1:]:
                teller.tell(WEAVING, f"{place}, ring {ring + 1}", f"bag {letter}", known)
    for letter, (_, _, number) in bags.items():
        if not _MORE.search(text):
            teller.same(WEAVING, f"{piece.name}, bag {letter}, rings", number, so_far[letter])
    once = (done <= 1).all() if _MORE.search(text) else (done == 1).all()
    teller.true(WEAVING, f"{piece.name}, rings", once, "some not once", "each ring once")


def _rings_of(piece: PieceFiles, found: re.Match[str]) -> list[int]:
    """List rings of a line, or of several alike, from 0, in weaving order."""
    first, last = int(found[3]), int(found[4] or found[3])
    if found[2] == "rings":
        return [*range(max(first, 1) - 1, min(last, piece.count))]
    rows = piece.rings["row"].astype(int)
    inside = (rows >= first) & (rows <= last)
    if found[1]:
        inside &= piece.rings["section"] == int(found[1])
    own = np.flatnonzero(inside)
    return [*map(int, own[np.argsort(rows[own], kind="stable")])]


def _words(text: str) -> str:
    """Leave out the letters in the boxes before the words of a line."""
    found = re.search(r"\d", text)
    return text[found.start() :] if found else ""


def _letters(text: str) -> list[str]:
    """Write out what a line says: "2 times (2 A, 1 B), 1 A" is AABAABA.

    Examples
    --------
    >>> "".join(_letters("A A B A 2 lines, each: 2 times (2 A, 1 B), 1 A"))
    'AABAABAAABAABA'
    """
    words = _words(text)
    alike = _ALIKE.match(words)
    own = [*_runs(words[alike.end() :] if alike else words)]
    return own * int(alike[1]) if alike else own


def _each(text: str, letters: int) -> int:
    """Letters of one of the lines that are said as one."""
    alike = _ALIKE.match(_words(text))
    return letters // int(alike[1]) if alike else letters


def _runs(words: str) -> Iterator[str]:
    for times, inner, number, letter in _RUN.findall(words):
        if times:
            yield from [*_runs(inner)] * int(times)
        else:
            yield from [letter] * int(number)


def _counted(text: str) -> dict[str, int]:
    return {letter: int(number) for number, letter in re.findall(r"(\d+) ([A-Z]+)", text)}
