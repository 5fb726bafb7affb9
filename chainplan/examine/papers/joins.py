"""The pages of joins say what rings.csv says: close views ring by ring, maps with every number."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.printed.pages import bare, read_pages
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.examine.findings import Teller
    from chainplan.examine.printed.pages import PrintedPage
    from chainplan.examine.reading import PieceFiles, PlanFiles

JOINS = "joins.pdf"
_TITLE = re.compile(r"(?:ring (\d+) of the repeat|every ring)$")
_SECTION = re.compile(r": joins, section (\d+) \(")
_PLACE = re.compile(
    r"(front|back|edge), (upright|leaning (\d+)° to the (.+?)); join (?:(\d+)° from|at) "
    r"the ring's (?:top|side towards the end)(; closed before weaving)?$"
)
_AIR = re.compile(
    r"air ([\d.]+) mm; "
    r"(?:next wire ([\d.]+) mm off|(the next wire touches: keep it off, or they fuse)); "
)
_ARC = re.compile(r"free arc (\d+)°$")
_FACE = re.compile(
    r"(FRONT|BACK|EDGE) (\d+) joins, numbered as they are welded; .*; the wedge is the start"
    r"(?:; the first (\d+) of (\d+) parts of the piece are drawn)?$"
)
_RULE = re.compile(r"(?:\d+ mm(?: |$))+")
_TOUCHES_MM, _OFF_MM = 0.0051, 0.0052
"""Air below is told as a touch; half of the last digit, and what rings.csv rounds."""
_OFF_DEG = 0.56
"""Half a degree, and what angles and directions written with a few digits leave open."""
_SIDE = 0.38
"""A lean is to a side as well from this share of it on."""
_MOST_VIEWS, _MOST_MAPS = 24, 60
"""So many close views of a section, and maps of a larger piece, stand on paper; of the maps the
page says so itself."""


@dataclass
class _PieceOnPaper:
    """What the pages of one piece hold."""

    sections: dict[int, list[int]] = field(default_factory=dict)  # rings of each one's repeat
    faces: list[tuple[str, int]] = field(default_factory=list)
    boxes: Counter[int] = field(default_factory=Counter)
    in_part: bool = False  # of a large piece some maps alone are drawn


@check("the pages of joins are the joins")
def check_joins_on_paper(files: PlanFiles, teller: Teller) -> None:
    """Compare every close view with the rings, and the numbers on the maps with the weld order."""
    path = files.folder / JOINS
    if not path.is_file():
        teller.tell(JOINS, "the file", "is not there", "the pages of joins")
        return
    pages = read_pages(path)
    seen = [_PieceOnPaper() for _ in files.pieces]
    at = 0
    for number, page in enumerate(pages, 1):
        place = f"page {number}"
        teller.same(JOINS, f"{place}, its number", (page.number, page.of), (number, len(pages)))
        good = page.stamp.endswith(files.sheet["stamp"])
        teller.true(JOINS, f"{place}, stamp", good, page.stamp, files.sheet["stamp"])
        at = _which(files, page, at)
        if at == len(files.pieces):
            teller.tell(JOINS, place, page.foot, "a piece of the plan")
            return
        _read_page(files.pieces[at], page, seen[at], place, teller)
    for piece, found in zip(files.pieces, seen, strict=True):
        _check_maps(piece, found, teller)


def _which(files: PlanFiles, page: PrintedPage, at: int) -> int:
    """Tell the piece of a page: the last one's, or one of those that follow."""
    head = bare(page.foot)
    for k in range(at, len(files.pieces)):
        name = bare(f"{files.pieces[k].name}: joins")
        if head.startswith((name, name[:20])):
            return k
    return len(files.pieces)


def _read_page(
    piece: PieceFiles, page: PrintedPage, seen: _PieceOnPaper, place: str, teller: Teller
) -> None:
    named = _SECTION.search(page.foot)
    section = int(named[1]) if named else 1
    seen.boxes.update(page.boxes)
    lean = ""
    for line in page.lines:
        face = _FACE.match(line)
        title = _TITLE.match(line)
        if title:
            seen.sections.setdefault(section, []).append(int(title[1] or 1))
        elif _PLACE.match(line):
            lean = line
        elif _AIR.match(line):
            _check_card(piece, section, lean, line, place, teller)
        elif face is not None:
            seen.faces.append((face[1].lower(), int(face[2])))
            if face[3]:
                seen.in_part = True
                teller.same(JOINS, f"{place}, maps", int(face[3]), _MOST_MAPS)
        elif _RULE.fullmatch(line):
            marks = [int(text) for text in re.findall(r"\d+", line)]
            teller.true(JOINS, f"{place}, axis", _even(marks), line, "even steps")


def _even(marks: list[int]) -> bool:
    """Whether marks of an axis go on evenly: the end of one map and the next may be one line.

    Where a map begins, its mark may take the room of the one that follows.

    Examples
    --------
    >>> _even([1840, 1880, 1900, 1920]), _even([40, 60, 0, 20]), _even([1840, 1860, 1900])
    (True, True, False)
    """
    steps = [after - before for before, after in itertools.pairwise(marks)]
    step = min((step for step in steps if step > 0), default=0)
    begins = [True, *(before <= 0 for before in steps)]
    return all(
        far <= 0 or far == step or (begun and far == 2 * step)
        for far, begun in zip(steps, begins, strict=False)
    )


def _check_card(
    piece: PieceFiles, section: int, lean: str, air: str, place: str, teller: Teller
) -> None:
    """Look for a ring of the section whose join is as the close view says."""
    told, clear = _PLACE.match(lean), _AIR.match(air)
    if told is None or clear is None or _ARC.search(air) is None:
        teller.tell(JOINS, place, f"{lean} · {air}", "face, lean, place and air of a join")
        return
    rings = piece.rings
    good: BoolArray = (rings["section"] == section) & (rings["face"] == told[1])
    good &= np.abs(rings["clearance_mm"] - float(clear[1])) <= _OFF_MM
    gap = rings["spot_gap_mm"]
    good &= gap <= _TOUCHES_MM if clear[3] else np.abs(gap - float(clear[2] or 0.0)) <= _OFF_MM
    turned = np.abs((rings["join_angle_deg"] + 180.0) % 360.0 - 180.0)
    good &= np.abs(turned - float(told[5] or 0.0)) <= _OFF_DEG
    good &= np.abs(_leans_deg(piece) - float(told[3] or 0.0)) <= _OFF_DEG
    good &= (rings["closed_beforehand"] == "yes") == bool(told[6])
    if told[4]:
        x, y = piece.approach[:, 0], piece.approach[:, 1]
        long = np.hypot(x, y)
        for word, part in (
            ("start", -x), ("end", x), ("lower edge", -y), ("upper edge", y),
        ):  # fmt: skip
            good &= (
                part > (_SIDE - 0.01) * long if word in told[4] else part < (_SIDE + 0.01) * long
            )
    text = f"{lean}; {air}"
    teller.true(JOINS, f"{place}, {piece.name}", good.any(), text, "a join of that section")


def _leans_deg(piece: PieceFiles) -> FloatArray:
    lean: FloatArray = np.degrees(np.arccos(np.clip(np.abs(piece.approach[:, 2]), 0.0, 1.0)))
    return lean


def _check_maps(piece: PieceFiles, seen: _PieceOnPaper, teller: Teller) -> None:
    """Each section has close views, each face its map, and each join its number once."""
    place = f"{piece.name}, close views"
    sections = {k + 1 for k in range(len(piece.record["sections"]))}
    teller.same(JOINS, f"{place}, sections", sorted(seen.sections), sorted(sections))
    for number, told in seen.sections.items():
        if number in sections:
            own = piece.record["sections"][number - 1]["repeat_rings"][:_MOST_VIEWS]
            wanted_rings = own[:1] if piece.is_loose else own
            teller.same(JOINS, f"{place}, rings of the repeat", told, wanted_rings)
    wanted = Counter(piece.rings["face"][piece.welded].tolist())
    found: Counter[str] = Counter()
    for face, joins in seen.faces:
        found[face] += joins
    teller.same(JOINS, f"{piece.name}, joins by face", dict(found), dict(wanted))
    numbers = dict.fromkeys(range(1, len(piece.welded) + 1), 1)
    twice = [number for number, times in seen.boxes.items() if times > numbers.get(number, 0)]
    missing = [number for number in numbers if number not in seen.boxes]
    place = f"{piece.name}, numbers on the maps"
    teller.true(JOINS, place, not twice, f"also {sorted(twice)[:5]}", "every join once")
    if not seen.in_part:
        teller.true(JOINS, place, not missing, f"not {sorted(missing)[:5]}", "every join once")
