"""How a design is woven, in words: bags of rings, and line by line which ring comes from which."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.units import tell_letters

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.model.piece.layout import Layout

LINE_RINGS = 30
"""Rings of a chain in a line: as many as are told apart at a glance in boxes of 3.5 mm."""
LONGEST_PERIOD = 12
"""Changes of bag after which a pattern is looked for to begin anew."""
ALIKE = 3
"""So many lines of one text, and more, are said as one."""


@frozen
class Bag:
    """Rings of one metal and size, put ready in a bag of their own."""

    letter: str
    metal: str
    temper: str
    wire_mm: float
    inner_mm: float
    rings: int  # one copy


@frozen
class WeavingLine:
    """A line of the weaving pages: a row of a sheet, or some rings of a chain."""

    name: str
    bag: IndexArray  # (n,) of each of its rings, in weaving order
    text: str
    counts: tuple[int, ...]  # of each bag
    totals: tuple[int, ...]  # so far, this line counted
    lines: int = 1  # so many alike follow each other


@frozen
class LineOfRings:
    """The rings that are woven as one line."""

    section: int  # from 0
    row: int  # of a sheet, from 1; 0: some rings of a chain
    ring: IndexArray  # (n,) their numbers from 0, in weaving order


def fill_bags(layout: Layout) -> tuple[tuple[Bag, ...], IndexArray]:
    """Sort the rings of a piece into bags by metal and size as it is told, the fullest first.

    Returns
    -------
    tuple of Bag, array of int
        The bags, and which of them each ring comes from, shape (n,).
    """
    materials = layout.materials
    alloys = list(dict.fromkeys((item.metal, item.temper) for item in materials))
    alloy = np.array([alloys.index((item.metal, item.temper)) for item in materials])
    inner_mm = 2 * layout.mean_radius_mm - layout.wire_mm
    sizes = np.column_stack([_as_told(layout.wire_mm), _as_told(inner_mm)])
    rows = np.column_stack([alloy[layout.material], sizes])
    kinds, of_ring, many = np.unique(rows, axis=0, return_inverse=True, return_counts=True)
    order = np.argsort(-many, kind="stable")
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    bags = tuple(
        Bag(
            letter=tell_letters(number),
            metal=alloys[int(kinds[k, 0])][0],
            temper=alloys[int(kinds[k, 0])][1],
            wire_mm=float(kinds[k, 1]),
            inner_mm=float(kinds[k, 2]),
            rings=int(many[k]),
        )
        for number, k in enumerate(order.tolist())
    )
    return bags, place[of_ring.ravel()]


def _as_told(sizes_mm: FloatArray) -> FloatArray:
    """Round sizes to the three digits that a bag's label has: no two bags have one label."""
    exact, place = np.unique(sizes_mm.round(6), return_inverse=True)
    told: FloatArray = np.array([float(f"{size:.3g}") for size in exact.tolist()])[place.ravel()]
    return told


def weaving_lines(layout: Layout, bag: IndexArray, bags: int) -> Iterator[WeavingLine]:
    """Go through a piece in weaving order; lines alike of a section in a row come as one."""
    totals = np.zeros(bags, dtype=np.int64)
    held: list[WeavingLine] = []
    of = (0, False)
    several = len(layout.sections) > 1
    for cut in cut_into_lines(layout):
        name = f"rings {cut.ring[0] + 1} to {cut.ring[-1] + 1}"
        if cut.row:
            name = (f"section {cut.section + 1}, " if several else "") + f"row {cut.row}"
        own = bag[cut.ring]
        counts = np.bincount(own, minlength=bags)
        totals = totals + counts
        line = WeavingLine(
            name=name, bag=own, text=say_runs(own), counts=tuple(counts.tolist()),
            totals=tuple(totals.tolist()),
        )  # fmt: skip
        within = (cut.section, cut.row > 0)
        if held and (held[-1].text != line.text or within != of):
            yield from _gather(held)
            held = []
        of = within
        held.append(line)
    yield from _gather(held)


def _gather(lines: list[WeavingLine]) -> Iterator[WeavingLine]:
    if len(lines) < ALIKE:
        yield from lines
        return
    first, last = lines[0], lines[-1]
    begin, end = first.name.split(" to ")[0], last.name.split(" to ")[-1]
    end = end.split(" ")[-1]
    yield WeavingLine(
        name=f"{begin} to {end}", bag=first.bag, text=f"{len(lines)} lines, each: {first.text}",
        counts=first.counts, totals=last.totals, lines=len(lines),
    )  # fmt: skip


def cut_into_lines(layout: Layout) -> Iterator[LineOfRings]:
    """Cut a piece into lines: rows of a sheet, whole repeats of a chain, sections in turn."""
    for number, section in enumerate(layout.sections):
        rings = np.arange(section.first_ring, section.first_ring + section.rings)
        if section.rows > 1:
            row = layout.row[rings]
            order = np.argsort(row, kind="stable")
            edges = np.flatnonzero(np.diff(row[order])) + 1
            for part in np.split(rings[order], edges):
                yield LineOfRings(section=number, row=int(layout.row[part[0]]) + 1, ring=part)
            continue
        each = section.repeat.rings if section.repeat is not None else 1
        wide = max(LINE_RINGS // each, 1) * each
        for begin in range(0, len(rings), wide):
            yield LineOfRings(section=number, row=0, ring=rings[begin : begin + wide])


def say_runs(bag: IndexArray) -> str:
    """Say rings one after another by their bags: how many of which, and what comes again.

    Examples
    --------
    >>> import numpy as np
    >>> say_runs(np.array([0, 0, 0, 1, 0]))
    '3 A, 1 B, 1 A'
    >>> say_runs(np.array([0, 0, 1] * 4 + [0]))
    '4 × (2 A, 1 B), 1 A'
    """
    edges = np.flatnonzero(np.diff(bag)) + 1
    starts = np.concatenate([[0], edges])
    long = np.diff(np.append(starts, len(bag)))
    words = [
        f"{count} {tell_letters(which)}"
        for count, which in zip(long.tolist(), bag[starts].tolist(), strict=True)
    ]
    for period in range(2, LONGEST_PERIOD + 1):
        times = 1
        while words[period * times : period * (times + 1)] == words[:period]:
            times += 1
        if times > 2 or (times == 2 and len(words) <= 2 * period + 1):
            rest = words[period * times :]
            return ", ".join([f"{times} × ({', '.join(words[:period])})", *rest])
    return ", ".join(words)


def has_design(layout: Layout) -> bool:
    """Whether a piece has rings of several metals or sizes, so that weaving it needs a plan."""
    return len(fill_bags(layout)[0]) > 1
