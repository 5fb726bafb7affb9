"""Passes that can be said in one line, and the portfolio of patterns to choose from."""

from __future__ import annotations

from dataclasses import dataclass, replace
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One regular way through a piece.

    ``stride`` counts units of a line, rings of a row, columns or diagonals; ``classes`` deals the
    rows (or the rings of a pair) out to passes of their own; ``jump`` is how far the next pass
    starts from the last one's start; all passes run the same way, from the end if ``backward``.
    ``blocks`` finishes one stretch of the piece before the next.
    """

    family: str = "line"  # line, rows, columns, diagonals
    stride: int = 1
    classes: int = 1
    jump: int = 1
    backward: bool = False
    snake: bool = False
    blocks: int = 1


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


def _line_stem(grid: Grid, joins: IntArray, stride: int, *, backward: bool) -> str:
    units = grid.column[joins]
    keep = np.concatenate([[True], units[1:] != units[:-1]])
    units = units[keep]
    ring = int(grid.ring[joins[0]])
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


def _line_passes(grid: Grid, pattern: Pattern, joins: IntArray) -> list[tuple[IntArray, str]]:
    units = np.unique(grid.column[joins])
    rank = np.searchsorted(units, grid.column[joins])
    if units.shape[0] > 2 and np.unique(np.diff(units)).shape[0] > 1:
        rank = grid.column[joins] - units[0]  # gaps: count all units, so that strides stay true
    size = -(-(int(rank.max()) + 1) // pattern.blocks)
    classes = pattern.classes
    member = grid.member[joins] % classes
    passes = []
    for block in range(pattern.blocks):
        inside = rank // size == block
        for start in starts_of(pattern.stride, pattern.jump):
            for part in range(classes):
                take = inside & (rank % pattern.stride == start) & (member == part)
                chosen = joins[take]
                if chosen.size == 0:
                    continue
                key = np.lexsort((grid.member[chosen], grid.column[chosen]))
                chosen = chosen[key[::-1] if pattern.backward else key]
                stem = _line_stem(grid, chosen, pattern.stride, backward=pattern.backward)
                if pattern.blocks > 1:
                    last = int(grid.column[joins[inside]].max()) + 1
                    stem += f", up to {grid.unit} {last}"
                if classes > 1:
                    stem += f", {ordinal(part + 1)} ring of each"
                passes.append((chosen, stem))
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


def _sheet_passes(grid: Grid, pattern: Pattern, joins: IntArray) -> list[tuple[IntArray, str]]:
    rows, columns = np.unique(grid.row[joins]), np.unique(grid.column[joins])
    row = np.searchsorted(rows, grid.row[joins])
    column = np.searchsorted(columns, grid.column[joins])
    passes = []
    for start in starts_of(pattern.stride, pattern.jump):
        for part in starts_of(pattern.classes, middle_jump(pattern.classes)):
            if pattern.family == "diagonals":
                line = (row + column) % pattern.stride == start
                major, minor = row + column, row
            elif pattern.family == "columns":
                line = (column % pattern.stride == start) & (row % pattern.classes == part)
                major, minor = column, row
            else:
                line = (column % pattern.stride == start) & (row % pattern.classes == part)
                major, minor = row, column
            chosen = joins[line]
            if chosen.size == 0:
                continue
            outer, inner = major[line], minor[line]
            if pattern.snake:
                turn = np.searchsorted(np.unique(outer), outer) % 2 == 1
                inner = np.where(turn, -inner, inner)
            key = np.lexsort((inner, outer))
            chosen = chosen[key[::-1] if pattern.backward else key]
            passes.append((chosen, _sheet_stem(grid, pattern, chosen)))
    return passes


def _sheet_stem(grid: Grid, pattern: Pattern, joins: IntArray) -> str:
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
        within = "" if pattern.classes == 1 else f", in each {_listed(np.sort(rows), 'row')}"
        return f"{said}{within}, from {ring}{snake}"
    each = "every ring" if pattern.stride == 1 else f"every {ordinal(pattern.stride)} ring"
    return f"{_listed(rows, 'row')}: {each}, from {ring}{snake}"


def lay_out_passes(
    grid: Grid, pattern: Pattern, work: Work, alone: Sequence[int] = ()
) -> list[PlannedPass]:
    """Turn a pattern into passes, one group of face and setting after another.

    Parameters
    ----------
    grid, pattern, work
        How a person counts, the pattern, the joins.
    alone : sequence of int, optional
        Joins taken out of the passes and welded one at a time between them (near a
        heat-sensitive part).

    Returns
    -------
    list of PlannedPass
        Every join exactly once.
    """
    apart = np.zeros(work.joins, dtype=bool)
    apart[list(alone)] = True
    make = _line_passes if pattern.family == "line" else _sheet_passes
    out: list[PlannedPass] = []
    for face, setting in group_sequence(work)[0]:
        inside = (work.face == face) & (work.setting == setting)
        joins = np.flatnonzero(inside).astype(np.int32)
        found = make(grid, pattern, joins) if joins.size else []
        passes = []
        for chosen, stem in found:
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


def order_of(passes: Sequence[PlannedPass]) -> IntArray:
    """Join the passes into one order."""
    if not passes:
        return np.zeros(0, dtype=np.int32)
    return np.concatenate([planned.joins for planned in passes]).astype(np.int32)


def list_patterns(
    grid: Grid,
    joins: int,
    window_mm: tuple[float, float],
    most: int,
    *,
    backward: bool = True,
    jumps: bool = True,
) -> list[Pattern]:
    """Portfolio of patterns worth trying on a piece, the simplest first.

    Strides that would put the join just welded between the fingers (``window_mm``: from, to) are
    left out; those just beyond, which leave a cool stretch between, are put in. If there are more
    than ``most``, they are thinned evenly.
    """
    if joins == 0:
        return []
    beyond = []
    if np.isfinite(window_mm[1]) and grid.pitch_mm > 0:
        least = int(window_mm[1] // grid.pitch_mm) + 1
        beyond = [least, least + 1, least + 3]
    found = _sheet_patterns(grid, beyond) if grid.sheet else _line_patterns(grid, beyond)
    if not jumps:
        found = [pattern for pattern in found if pattern.jump == middle_jump(pattern.stride)]
    if backward:
        found += [replace(pattern, backward=True) for pattern in found]
    found.sort(key=lambda p: (p.stride * p.classes, p.backward, p.blocks))
    clear = [
        pattern
        for pattern in found
        if pattern.stride == 1 or not window_mm[0] <= pattern.stride * grid.pitch_mm <= window_mm[1]
    ]
    if len(clear) > most:
        keep = np.unique(np.round(np.linspace(0, len(clear) - 1, most)).astype(int))
        clear = [clear[k] for k in keep.tolist()]
    return clear


def _line_patterns(grid: Grid, beyond: Sequence[int]) -> list[Pattern]:
    found = []
    units = np.unique(grid.column).shape[0]
    members = int(grid.member.max(initial=0)) + 1
    for stride in sorted({*range(1, 13), 14, 16, 18, 20, *beyond}):
        if stride > 1 and units < 2 * stride:
            break
        jump = middle_jump(stride)
        found += [Pattern(stride=stride, jump=each) for each in sorted({1, jump})]
        if members > 1:
            found.append(Pattern(stride=stride, jump=jump, classes=members))
        if stride in (3, 5) and units >= 24 * stride:
            found.append(Pattern(stride=stride, jump=jump, blocks=2))
    return found


def _sheet_patterns(grid: Grid, beyond: Sequence[int]) -> list[Pattern]:
    rows = np.unique(grid.row).shape[0]
    columns = np.unique(grid.column).shape[0]
    found = [
        Pattern(family=family, stride=stride, classes=classes, jump=middle_jump(stride), snake=True)
        for classes in (1, 2, 3, 5)
        for stride in sorted({1, 2, 3, 4, 5, 7, *beyond})
        for family in ("rows", "columns")
        if classes <= max(rows, 1) and stride <= max((columns + 1) // 2, 1)
        if family == "rows" or classes < rows
    ]
    found += [
        Pattern(family="diagonals", stride=stride, jump=middle_jump(stride), snake=True)
        for stride in (2, 3, 5, 7)
        if stride <= (columns + 1) // 2
    ]
    found += [Pattern(family=family, stride=s) for family in ("rows", "columns") for s in (1, 2)]
    return found


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
