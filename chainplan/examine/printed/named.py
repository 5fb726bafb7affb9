"""Rows, columns, ends and examples that the pages name, against rings.csv."""

from __future__ import annotations

import itertools
from collections import Counter
from typing import TYPE_CHECKING

from chainplan.examine.printed.pages import PAPER
from chainplan.examine.printed.wording import wording_of

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PieceFiles

_RANKS = (("",), ("1st", "1"), ("2nd", "2"), ("3rd", "3"), ("4th", "4"))


def check_named(piece: PieceFiles, text: str, teller: Teller) -> None:
    """Compare rows and columns with the table, and see that examples go on evenly."""
    pattern = wording_of(piece).pattern
    for row, column, ring in (
        map(int, found.groups()) for found in pattern["place"].finditer(text)
    ):
        place = f"{piece.name}, ring {ring}"
        k = ring - 1
        inside = 0 <= k < piece.count
        there = [int(piece.rings[name][k]) if inside else 0 for name in ("row", "position")]
        teller.same(PAPER, f"{place}, its row and column", [row, column], there)
    for start in pattern["start"].findall(text):
        teller.same(PAPER, f"{piece.name}, start", int(start), 1)
    clip = piece.order.get("earthing") or {}
    for ring in pattern["clipped"].findall(text):
        known = [int(place) for place in clip.get("clip_places", ())[:1]]
        teller.true(PAPER, f"{piece.name}, clip", int(ring) in known, f"ring {ring}", known)
    for times in pattern["clip_moved"].findall(text):
        moves = 1 if times == "once" else int(times.split()[0])
        teller.same(PAPER, f"{piece.name}, clip moved", moves, clip.get("clip_moves"))
    _check_examples(piece, text, teller)


def _check_examples(piece: PieceFiles, text: str, teller: Teller) -> None:
    """Units at one place in the repeat stand evenly, in one section all as far apart."""
    steps: list[int] = []
    w = wording_of(piece)
    for unit, numbers, rank in w.pattern["examples"].findall(text):
        named = [int(number) for number in numbers.split(", ")]
        gaps = [after - before for before, after in itertools.pairwise(named)]
        good = all(gap == gaps[0] > 0 for gap in gaps) and named[-1] <= piece.count
        good = good and any(rank in told for told in _RANKS[: w.unit_sizes[unit] + 1])
        teller.true(PAPER, f"{piece.name}, which ring", good, f"{numbers} {rank}", "even steps")
        steps += gaps[:1]
    in_place = int((piece.rings["closed_beforehand"] != "yes").sum())
    whole = len(piece.welded) == in_place  # of a rest some places are left at every other repeat
    if whole and len(piece.record["sections"]) == 1 and len(steps) > 1:
        usual, often = Counter(steps).most_common(1)[0]
        odd = [step for step in steps if step != usual]
        good = not odd or often == 1
        teller.true(PAPER, f"{piece.name}, which ring", good, f"steps of {odd[:3]}", usual)
