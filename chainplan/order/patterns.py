"""Passes that can be said in one line."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import gcd
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.joins import FACES
from chainplan.order.grid import Grid, group_sequence

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from chainplan.order.work import Work

    IntArray = npt.NDArray[np.int32]

_MOST_NAMED = 4
_MOST_LISTED = 12
_TINY = 2
LISTED_TOGETHER = 6
"""Rings named one by one in one pass, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One regular way through a piece.

    ``stride`` counts units of a line, rings of a row, columns or diagonals; ``classes`` deals the
    rows (or the rings of a pair) out to passes of their own; ``jump`` is how far the next pass
    starts from the last one's start; all passes run the same way, from the end if ``backward``.
    ``blocks`` finishes one stretch of the piece before the next. With a ``run`` the hand works
    through so many units (or columns) and then skips to the next run of its pass, one in ``share``:
    what it has just warmed then lies beyond the fingers, and the way there is spread over several
    joins.
    """

    family: str = "line"  # line, rows, columns, diagonals
    stride: int = 1
    classes: int = 1
    jump: int = 1
    backward: bool = False
    snake: bool = False
    blocks: int = 1
    run: int = 0  # 0: nothing is skipped
    share: int = 1

    @property
    def passes(self) -> int:
        """Times that the hand goes along the piece, for one face and setting."""
        return self.stride * self.classes * self.share


@dataclass(frozen=True, slots=True, kw_only=True)
class _Taken:
    """Joins that a pattern takes in one go along the piece, and what is needed to say so."""

    joins: IntArray
    first: int  # unit or column to begin with, were there joins in all
    part: int = 0  # which of the pattern's classes
    last: int = 0  # last unit of the block


@dataclass(frozen=True, kw_only=True)
class PlannedPass:
    """Joins of one pass in order, with what to say about it but for count and time."""

    joins: IntArray
    stem: str
    face: int
    setting: int


def ordinal(number: int) -> str:
    """Write a number as a rank.

    Examples
    --------
    >>> [ordinal(n) for n in (1, 2, 3, 4, 11, 12, 21, 103, 112)]
    ['1st', '2nd', '3rd', '4th', '11th', '12th', '21st', '103rd', '112th']
    """
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


def say_rings(rings: Sequence[int], most: int = 4) -> str:
    """Say which rings, counted from 1 (given from 0).

    Examples
    --------
    >>> say_rings([0, 3]), say_rings([6])
    ('rings 1 and 4', 'ring 7')
    """
    names = [str(ring + 1) for ring in rings[:most]]
    more = len(rings) - len(names)
    if len(names) == 1 and not more:
        return f"ring {names[0]}"
    if more:
        return f"rings {', '.join(names)} and {more} more"
    return f"rings {', '.join(names[:-1])} and {names[-1]}"


def middle_jump(stride: int) -> int:
    """Find a step through the residues of a stride that keeps successive starts far apart.

    Examples
    --------
    >>> [middle_jump(s) for s in (1, 2, 3, 4, 5, 7, 12)]
    [1, 1, 1, 1, 2, 3, 5]
    """
    for jump in range(stride // 2, 1, -1):
        if gcd(jump, stride) == 1:
            return jump
    return 1


def starts_of(stride: int, jump: int) -> list[int]:
    """Start places of a stride's passes, in the order in which they are welded.

    Examples
    --------
    >>> starts_of(5, 2)
    [0, 2, 4, 1, 3]
    """
    return [(k * jump) % stride for k in range(stride)]


def _every(numbers: IntArray, word: str, ring: int) -> str:
    """Say which units a pass takes: "every 3rd pair from pair 2 (ring 3)"."""
    first = int(numbers[0]) + 1
    tail = f" (ring {ring + 1})" if word != "ring" else ""
    if numbers.shape[0] == 1:
        return f"{word} {first}{tail}"
    steps = np.diff(numbers)
    if (steps == steps[0]).all():
        back = int(steps[0]) < 0
        step = abs(int(steps[0]))
        each = f"every {word}" if step == 1 else f"every {ordinal(step)} {word}"
        way = f"from {word} {first}{tail}"
        return f"{each} {way} back to {word} {int(numbers[-1]) + 1}" if back else f"{each} {way}"
    return ""


def _in_run(
    number: npt.NDArray[np.signedinteger], pattern: Pattern, turn: int
) -> npt.NDArray[np.bool_]:
    """Tell which units, counted from 0, lie in a run that belongs to a turn."""
    if not pattern.run:
        return np.ones(number.shape[0], dtype=bool)
    inside: npt.NDArray[np.bool_] = (number // pattern.run) % pattern.share == turn
    return inside


def _say_runs(
    units: IntArray, first: int, pattern: Pattern, word: str, ring: int | None = None
) -> str:
    """Say units taken run by run: "pairs 1, 4 and 7, then the same every 27 pairs".

    ``first``: the unit with which the pass would begin if every unit had joins in it. Units
    without any are not left out of what is said; that there are such is said too.
    """
    period = pattern.run * pattern.share
    named = first + np.arange(0, pattern.run, pattern.stride)
    said = np.arange(first, units[-1] + 1)
    said = said[np.isin((said - first) % period, named - first)]
    names = [str(number + 1) for number in named[named <= units[-1]].tolist()]
    if len(names) == 1:
        text = f"{word} {names[0]}"
    elif len(names) <= _MOST_NAMED:
        text = f"{word}s {', '.join(names[:-1])} and {names[-1]}"
    else:
        step = pattern.stride
        each = f"every {word}" if step == 1 else f"every {ordinal(step)} {word}"
        text = f"{each} from {word} {names[0]} to {word} {names[-1]}"
    tail = f" (from ring {ring + 1})" if ring is not None and word != "ring" else ""
    again = f", then the same every {period} {word}s" if units[-1] >= first + period else ""
    gaps = ", where there are joins here" if said.shape[0] > units.shape[0] else ""
    return f"{text}{tail}{again}{gaps}"


def _mixed_stem(grid: Grid, pattern: Pattern, joins: IntArray) -> str:
    """Say a pass over sections with units of different sizes, section by section, by rings."""
    ends = np.flatnonzero(np.diff(grid.section[joins])) + 1
    texts = [_section_stem(grid, pattern, part) for part in np.split(joins, ends)]
    return "; then ".join(texts)


def _section_stem(grid: Grid, pattern: Pattern, joins: IntArray) -> str:
    units = grid.column[joins]
    begin = np.flatnonzero(np.concatenate([[True], units[1:] != units[:-1]]))
    units, rings = units[begin], grid.ring[joins[begin]]
    word = "ring" if grid.single[joins].all() else grid.unit
    of_each = (
        "" if word == "ring" or pattern.classes == 1 else f" ({ordinal(_nth(grid, joins))} ring)"
    )
    period = pattern.run * pattern.share if pattern.run else pattern.stride
    first = (units - units[0]) % period == units - units[0] if pattern.run else units == units[0]
    whole = np.arange(min(units[0], units[-1]), max(units[0], units[-1]) + 1)
    again = np.isin(np.abs(whole - units[0]) % period, np.abs(units[first] - units[0]))
    regular = np.count_nonzero(again) == units.shape[0]
    if units.shape[0] <= _MOST_NAMED or not regular:
        named, then = rings, ""
    elif pattern.run:
        named, then = (
            rings[first],
            f", then the same every {period} {word}s to ring {rings[-1] + 1}",
        )
    else:
        each = f"every {word}" if period == 1 else f"every {ordinal(period)} {word}"
        return f"{each}{of_each} from ring {rings[0] + 1} to ring {rings[-1] + 1}"
    said = say_rings(named.tolist(), _MOST_LISTED)
    return f"{said}{then}" if word == "ring" else f"the {word}s{of_each} from {said}{then}"


def _nth(grid: Grid, joins: IntArray) -> int:
    return int(grid.member[joins[0]]) + 1


def _line_stem(grid: Grid, pattern: Pattern, taken: _Taken) -> str:
    if grid.mixed:
        return _mixed_stem(grid, pattern, taken.joins)
    stem = _line_units(grid, pattern, taken)
    if pattern.blocks > 1:
        stem += f", up to {grid.unit} {taken.last}"
    if pattern.classes > 1:
        stem += f", {ordinal(taken.part + 1)} ring of each"
    return stem


def _line_units(grid: Grid, pattern: Pattern, taken: _Taken) -> str:
    stride, backward = pattern.stride, pattern.backward
    units = grid.column[taken.joins]
    keep = np.concatenate([[True], units[1:] != units[:-1]])
    units = units[keep]
    ring = int(grid.ring[taken.joins[0]])
    if pattern.run:
        return _say_runs(units, taken.first, pattern, grid.unit, ring)
    stem = _every(units, grid.unit, ring)
    if not stem and not (np.diff(units) % stride).any():
        whole = np.arange(units[0], units[-1], -stride if backward else stride)
        stem = f"{_every(np.append(whole, units[-1]), grid.unit, ring)}, where there are joins here"
    if not stem:
        back = " going back" if backward else ""
        tail = f" (ring {ring + 1})" if grid.unit != "ring" else ""
        each = "every" if stride == 1 else f"every {ordinal(stride)}"
        stem = (
            f"{each} {grid.unit} that has joins here, from {grid.unit} {int(units[0]) + 1}{tail}"
            f"{back}"
        )
    return stem


def _line_passes(grid: Grid, pattern: Pattern, joins: IntArray) -> list[_Taken]:
    units = np.unique(grid.column[joins])
    rank = np.searchsorted(units, grid.column[joins])
    if pattern.run or (units.shape[0] > 2 and np.unique(np.diff(units)).shape[0] > 1):
        rank = grid.column[joins] - units[0]  # gaps: count all units, so that strides stay true
    if grid.mixed:  # every section from its own first unit
        origin = np.full(int(grid.section.max()) + 1, np.iinfo(np.int32).max)
        np.minimum.at(origin, grid.section, grid.column)
        rank = grid.column[joins] - origin[grid.section[joins]]
    size = -(-(int(rank.max()) + 1) // pattern.blocks)
    classes = pattern.classes
    member = grid.member[joins] % classes
    passes = []
    for block in range(pattern.blocks):
        inside = rank // size == block
        for start, turn, part in product(
            starts_of(pattern.stride, pattern.jump),
            starts_of(pattern.share, middle_jump(pattern.share)),
            range(classes),
        ):
            take = inside & (rank % pattern.stride == start) & (member == part)
            chosen = joins[take & _in_run(rank, pattern, turn)]
            if chosen.size == 0:
                continue
            key = np.lexsort((grid.member[chosen], grid.column[chosen]))
            chosen = chosen[key[::-1] if pattern.backward else key]
            first = int(units[0]) + turn * pattern.run + start
            last = int(grid.column[joins[inside]].max()) + 1
            passes.append(_Taken(joins=chosen, first=first, part=part, last=last))
    return passes


def _listed(numbers: IntArray, word: str) -> str:
    """Say a few numbers in full and many by their step: "rows 1, 3 and 5", "every 3rd row …"."""
    if numbers.shape[0] == 1:
        return f"{word} {int(numbers[0]) + 1}"
    if numbers.shape[0] <= 3:
        names = [str(int(n) + 1) for n in numbers]
        return f"{word}s {', '.join(names[:-1])} and {names[-1]}"
    said = _every(numbers, word, 0).replace(" (ring 1)", "")
    return said or f"{numbers.shape[0]} {word}s from {word} {int(numbers[0]) + 1}"


def _sheet_passes(grid: Grid, pattern: Pattern, joins: IntArray) -> list[_Taken]:
    rows, columns = np.unique(grid.row[joins]), np.unique(grid.column[joins])
    row = np.searchsorted(rows, grid.row[joins])
    column = np.searchsorted(columns, grid.column[joins])
    if pattern.run:
        column = grid.column[joins] - columns[0]  # so that what is skipped is always as long
    passes = []
    for start, turn, part in product(
        starts_of(pattern.stride, pattern.jump),
        starts_of(pattern.share, middle_jump(pattern.share)),
        starts_of(pattern.classes, middle_jump(pattern.classes)),
    ):
        if pattern.family == "diagonals":
            line = (row + column) % pattern.stride == start
            major, minor = row + column, row
        elif pattern.family == "columns":
            line = (column % pattern.stride == start) & (row % pattern.classes == part)
            major, minor = column, row
        else:
            line = (column % pattern.stride == start) & (row % pattern.classes == part)
            major, minor = row, column
        line &= _in_run(column, pattern, turn)
        chosen = joins[line]
        if chosen.size == 0:
            continue
        outer, inner = major[line], minor[line]
        if pattern.snake:
            back = np.searchsorted(np.unique(outer), outer) % 2 == 1
            inner = np.where(back, -inner, inner)
        key = np.lexsort((inner, outer))
        chosen = chosen[key[::-1] if pattern.backward else key]
        first = int(columns[0]) + turn * pattern.run + start
        passes.append(_Taken(joins=chosen, first=first))
    return passes


def _sheet_stem(grid: Grid, pattern: Pattern, taken: _Taken) -> str:
    joins = taken.joins
    ring = f"ring {int(grid.ring[joins[0]]) + 1}"
    lines = grid.column[joins] if pattern.family == "columns" else grid.row[joins]
    snake = ", back and forth" if pattern.snake and np.ptp(lines) > 0 else ""
    if pattern.family == "diagonals":
        return f"every {ordinal(pattern.stride)} diagonal from {ring}{snake}"
    rows, columns = np.unique(grid.row[joins]), np.unique(grid.column[joins])
    if pattern.backward:
        rows, columns = rows[::-1], columns[::-1]
    if pattern.family == "columns":
        said = _listed(columns, "column")
        if pattern.run:
            said = _say_runs(columns, taken.first, pattern, "column")
        within = "" if pattern.classes == 1 else f", in each {_listed(np.sort(rows), 'row')}"
        return f"{said}{within}, from {ring}{snake}"
    each = "every ring" if pattern.stride == 1 else f"every {ordinal(pattern.stride)} ring"
    return f"{_listed(rows, 'row')}: {each}, from {ring}{snake}"


def lay_out_passes(
    grid: Grid, pattern: Pattern, work: Work, alone: Sequence[int] = (), *, say: bool = True
) -> list[PlannedPass]:
    """Turn a pattern into passes, one group of face and setting after another.

    Parameters
    ----------
    grid, pattern, work
        How a person counts, the pattern, the joins.
    alone : sequence of int, optional
        Joins taken out of the passes and welded one at a time between them (near a
        heat-sensitive part).
    say : bool, optional
        Whether the passes are put into words; not needed while patterns are only compared.

    Returns
    -------
    list of PlannedPass
        Every join exactly once.
    """
    apart = np.zeros(work.joins, dtype=bool)
    apart[list(alone)] = True
    line = pattern.family == "line"
    make, put = (_line_passes, _line_stem) if line else (_sheet_passes, _sheet_stem)
    out: list[PlannedPass] = []
    for face, setting in group_sequence(work)[0]:
        inside = (work.face == face) & (work.setting == setting)
        joins = np.flatnonzero(inside).astype(np.int32)
        found = make(grid, pattern, joins) if joins.size else []
        passes = []
        for taken in found:
            chosen, stem = taken.joins, put(grid, pattern, taken) if say else ""
            out_of = [int(grid.ring[join]) for join in chosen[apart[chosen]]]
            kept = chosen[~apart[chosen]]
            said = f"{stem}, leaving out {say_rings(out_of, 9)}" if out_of else stem
            if kept.size:
                passes.append(PlannedPass(joins=kept, stem=said, face=face, setting=setting))
        single = np.flatnonzero(inside & apart).astype(np.int32)
        out += _with_singles(grid, passes, single, face, setting)
    return out


def _with_singles(
    grid: Grid, passes: list[PlannedPass], single: IntArray, face: int, setting: int
) -> list[PlannedPass]:
    """Spread single joins evenly between the passes of their group."""
    out: list[PlannedPass] = []
    done = 0
    for index, planned in enumerate(passes, 1):
        out.append(planned)
        until = -(-single.shape[0] * index // len(passes))
        for join in single[done:until]:
            stem = f"ring {int(grid.ring[join]) + 1} on its own"
            alone = np.asarray([join], dtype=np.int32)
            out.append(PlannedPass(joins=alone, stem=stem, face=face, setting=setting))
        done = max(done, until)
    for join in single[done:]:
        stem = f"ring {int(grid.ring[join]) + 1} on its own"
        alone = np.asarray([join], dtype=np.int32)
        out.append(PlannedPass(joins=alone, stem=stem, face=face, setting=setting))
    return out


def list_rings(grid: Grid, joins: IntArray, face: int, setting: int) -> list[PlannedPass]:
    """Say joins ring by ring, a few to a pass."""
    passes = []
    for first in range(0, joins.shape[0], LISTED_TOGETHER):
        some = joins[first : first + LISTED_TOGETHER]
        rings = say_rings(grid.ring[some].tolist(), LISTED_TOGETHER)
        stem = f"{rings} in this order" if some.shape[0] > 1 else rings
        passes.append(PlannedPass(joins=some, stem=stem, face=face, setting=setting))
    return passes


def join_tiny_passes(passes: Sequence[PlannedPass], grid: Grid) -> list[PlannedPass]:
    """Say passes of a join or two that follow one another as lists of rings; the order stays."""
    out: list[PlannedPass] = []
    row: list[PlannedPass] = []

    def flush() -> None:
        while row:
            some: list[PlannedPass] = []
            while row and sum(p.joins.shape[0] for p in [*some, row[0]]) <= LISTED_TOGETHER:
                some.append(row.pop(0))
            joins = np.concatenate([item.joins for item in some])
            listed = list_rings(grid, joins, some[0].face, some[0].setting)
            out.extend(some if len(some) == 1 else listed)

    for item in passes:
        alike = not row or (row[0].face, row[0].setting) == (item.face, item.setting)
        if item.joins.shape[0] > _TINY or not alike:
            flush()
        if item.joins.shape[0] > _TINY:
            out.append(item)
        else:
            row.append(item)
    flush()
    return out


def order_of(passes: Sequence[PlannedPass]) -> IntArray:
    """Join the passes into one order."""
    if not passes:
        return np.zeros(0, dtype=np.int32)
    return np.concatenate([planned.joins for planned in passes]).astype(np.int32)


def face_name(code: int) -> str:
    """Name a face, as the bench sheet does."""
    return FACES[code] if 0 <= code < len(FACES) else "any face"


def end_to_end(grid: Grid, work: Work) -> IntArray:
    """Order that people weld in when nobody tells them another: along the piece, row by row."""
    family = "rows" if grid.sheet else "line"
    return order_of(lay_out_passes(grid, Pattern(family=family, snake=grid.sheet), work))


def alternating_ends(grid: Grid, work: Work) -> IntArray:
    """One join from the start, one from the end, and so on, face by face."""
    out = []
    for face, setting in group_sequence(work)[0]:
        joins = np.flatnonzero((work.face == face) & (work.setting == setting))
        turn = np.empty(joins.shape[0], dtype=np.int32)
        half = (joins.shape[0] + 1) // 2
        turn[0::2] = joins[:half]
        turn[1::2] = joins[half:][::-1]
        out.append(turn)
    return np.concatenate(out).astype(np.int32) if out else np.zeros(0, dtype=np.int32)


def random_order(work: Work, seed: int) -> IntArray:
    """Random order within each face and setting."""
    rng = np.random.default_rng(seed)
    out = []
    for face, setting in group_sequence(work)[0]:
        joins = np.flatnonzero((work.face == face) & (work.setting == setting))
        out.append(rng.permutation(joins))
    return np.concatenate(out).astype(np.int32) if out else np.zeros(0, dtype=np.int32)
