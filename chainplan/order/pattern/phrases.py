"""Passes in words: which joins a pass takes, said so that nobody loses the place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IntArray
    from chainplan.order.pattern.pattern import Pattern, Taken
    from chainplan.order.piece.grid import JoinGrid


MOST_NAMED = 4
"""Numbers named in full before "every third …" is said instead: they fill a line (judgement)."""
_MOST_LISTED = 12
"""Numbers listed where there is no rule: two lines of the bench sheet (judgement)."""
_ALL = 10**9
"""More numbers than any piece has."""


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


def name_all(word: str, numbers: Sequence[int] | IntArray, most: int = _ALL) -> str:
    """Name numbered things, counted from 1 (given from 0).

    Examples
    --------
    >>> name_all("pair", [0, 3]), name_all("row", [6]), name_all("ring", range(9), most=2)
    ('pairs 1 and 4', 'row 7', 'rings 1, 2 and 7 more')
    """
    names = [str(int(number) + 1) for number in numbers[:most]]
    more = len(numbers) - len(names)
    if more:
        names.append(f"{more} more")
    if len(names) == 1:
        return f"{word} {names[0]}"
    return f"{word}s {', '.join(names[:-1])} and {names[-1]}"


def say_rings(rings: Sequence[int], most: int = 4) -> str:
    """Say which rings, counted from 1 (given from 0).

    Examples
    --------
    >>> say_rings([0, 3]), say_rings([6])
    ('rings 1 and 4', 'ring 7')
    """
    return name_all("ring", rings, most)


def each(step: int, word: str, unit_mm: float = 0.0) -> str:
    """Say which of many, and how far that is if they lie ``unit_mm`` apart.

    Examples
    --------
    >>> each(1, "pair"), each(3, "row"), each(3, "pair", 4.4)
    ('every pair', 'every 3rd row', 'every 3rd pair (13 mm)')
    """
    return f"every {word}" if step == 1 else f"every {ordinal(step)} {word}{_far(step, unit_mm)}"


def _far(step: int, unit_mm: float) -> str:
    """Say how far a step goes, in whole mm: a hand with a rule sees no less."""
    return f" ({step * unit_mm:.0f} mm)" if unit_mm > 0 else ""


def say_taken(grid: JoinGrid, pattern: Pattern, taken: Taken) -> str:
    """Say which joins a pattern takes in one go along the piece."""
    if pattern.family != "line":
        return _say_sheet(grid, pattern, taken)
    if grid.mixed:
        return _say_stretch(grid, pattern, taken.joins)
    text = _say_units(grid, pattern, taken)
    if pattern.blocks > 1 or pattern.by_clip:
        text += f", up to {grid.unit} {taken.last}"
    if pattern.home and grid.unit_mm.shape[0] == 1:
        text += _say_end(grid.column[taken.joins], grid.unit, text)
    if pattern.classes > 1:
        text += f", {ordinal(taken.part + 1)} ring of each"
    return text


def _say_end(numbers: IntArray, word: str, said: str) -> str:
    """Say where a pass ends that does not go to the end of the piece, unless that has been said."""
    first, last = int(numbers[0]) + 1, int(numbers[-1]) + 1
    if first == last or "every" not in said or "back to" in said:
        return ""
    return f", up to {word} {last}" if last > first else f", back to {word} {last}"


def _beside(word: str, ring: int) -> str:
    """Add the ring that something begins with, where it is not a ring itself."""
    return f" (ring {ring + 1})" if word != "ring" else ""


def _say_step(numbers: IntArray, word: str, tail: str = "", unit_mm: float = 0.0) -> str:
    """Say evenly spaced things: "every 3rd pair from pair 2 (ring 3)"; nothing if they are not."""
    first = name_all(word, numbers[:1]) + tail
    if numbers.shape[0] == 1:
        return first
    steps = np.diff(numbers)
    if (steps != steps[0]).any():
        return ""
    text = f"{each(abs(int(steps[0])), word, unit_mm)} from {first}"
    return f"{text} back to {name_all(word, numbers[-1:])}" if steps[0] < 0 else text


def _say_units(grid: JoinGrid, pattern: Pattern, taken: Taken) -> str:
    stride, word = pattern.stride, grid.unit
    unit_mm = float(grid.unit_mm[grid.stretch[taken.joins[0]]])
    units = grid.column[taken.joins]
    units = units[np.concatenate([[True], units[1:] != units[:-1]])]
    ring = int(grid.ring[taken.joins[0]])
    if pattern.run:
        text = _say_runs(units, taken.first, pattern, word, ring, unit_mm=unit_mm)
        return text + _until(grid, pattern, units)
    tail = _beside(word, ring)
    text = _say_step(units, word, tail, unit_mm)
    if not text and not (np.diff(units) % stride).any():
        whole = np.arange(units[0], units[-1], -stride if pattern.backward else stride)
        said = _say_step(np.append(whole, units[-1]), word, tail, unit_mm)
        text = f"{said}, where there are joins here"
    if not text:
        back = " going back" if pattern.backward else ""
        first = name_all(word, units[:1])
        text = f"{each(stride, word, unit_mm)} that has joins here, from {first}{tail}{back}"
    return text + _until(grid, pattern, units)


def _until(grid: JoinGrid, pattern: Pattern, units: IntArray) -> str:
    """Say where a pass over one stretch of several ends."""
    if grid.unit_mm.shape[0] == 1 or pattern.backward or np.ptp(units) == 0:
        return ""
    return f", up to {name_all(grid.unit, units[-1:])}"


def _say_runs(
    units: IntArray,
    first: int,
    pattern: Pattern,
    word: str,
    ring: int | None = None,
    *,
    unit_mm: float,
) -> str:
    """Say units taken run by run: "pairs 1, 4 and 7, then the same every 27 pairs (70 mm)".

    ``first``: the unit with which the pass would begin if every unit had joins in it. Units
    without any are not left out of what is said; that there are such is said too.
    """
    last = int(units.max())
    period = pattern.run * pattern.share
    run: IntArray = first + np.arange(0, pattern.run, pattern.stride, dtype=np.int32)
    said = np.arange(first, last + 1)
    said = said[np.isin((said - first) % period, run - first)]
    run = run[run <= last]
    text = name_all(word, run)
    if run.shape[0] > 2 and pattern.stride == 1:
        text = f"{word}s {run[0] + 1} to {run[-1] + 1}"
    named = ring is not None and word != "ring" and not pattern.backward
    tail = f" (from ring {ring + 1})" if named and ring is not None else ""
    again = ""
    if last >= first + period:
        again = f", then the same every {period} {word}s{_far(period, unit_mm)}"
    gaps = ", where there are joins here" if said.shape[0] > units.shape[0] else ""
    back = ""
    if pattern.backward and units.shape[0] > 1:
        back = f", going back from {name_all(word, units[:1])}"
        back += "" if ring is None else _beside(word, ring)
    return f"{text}{tail}{again}{gaps}{back}"


def _say_stretch(grid: JoinGrid, pattern: Pattern, joins: IntArray) -> str:
    """Say a pass over one stretch among others whose units have another size: by rings."""
    unit_mm = float(grid.unit_mm[grid.stretch[joins[0]]])
    units = grid.column[joins]
    begin = np.flatnonzero(np.concatenate([[True], units[1:] != units[:-1]]))
    units, rings = units[begin], grid.ring[joins[begin]]
    word = "ring" if grid.single[joins].all() else grid.unit
    member = ""
    if word != "ring" and pattern.classes > 1:
        member = f", {ordinal(int(grid.member[joins[0]]) + 1)} ring of each"
    period = pattern.run * pattern.share if pattern.run else pattern.stride
    first = (units - units[0]) % period == units - units[0] if pattern.run else units == units[0]
    whole = np.arange(min(units[0], units[-1]), max(units[0], units[-1]) + 1)
    again = np.isin(np.abs(whole - units[0]) % period, np.abs(units[first] - units[0]))
    regular = np.count_nonzero(again) == units.shape[0]
    last = name_all("ring", rings[-1:])
    named, then = rings, ""
    if units.shape[0] > MOST_NAMED and regular:
        if not pattern.run:
            step = each(period, word, unit_mm)
            return f"{step} from {name_all('ring', rings[:1])} to {last}{member}"
        far = _far(period, unit_mm)
        named, then = rings[first], f", then the same every {period} {word}s{far} to {last}"
    said = name_all("ring", named, _MOST_LISTED)
    if pattern.run and pattern.stride == 1 and 2 < named.shape[0] < rings.shape[0]:
        said = f"{named.shape[0]} {word}s from {name_all('ring', named[:1])}"
    elif word != "ring":
        said = f"{word if named.shape[0] == 1 else word + 's'} at {said}"
    return f"{said}{then}{member}"


def _say_lines(numbers: IntArray, word: str, line_mm: float = 0.0) -> str:
    """Say a few numbers in full and many by their step: "rows 1, 3 and 5", "every 3rd row …"."""
    if numbers.shape[0] < MOST_NAMED:
        return name_all(word, numbers)
    said = _say_step(numbers, word, unit_mm=line_mm)
    return said or name_all(word, numbers, _MOST_LISTED)


def _say_sheet(grid: JoinGrid, pattern: Pattern, taken: Taken) -> str:
    joins = taken.joins
    unit_mm = float(grid.unit_mm[grid.stretch[joins[0]]])
    ring = f"ring {int(grid.ring[joins[0]]) + 1}"
    lines = grid.column[joins] if pattern.family == "columns" else grid.row[joins]
    snake = ", back and forth" if pattern.snake and np.ptp(lines) > 0 else ""
    if pattern.family == "diagonals":
        metal = _metal(grid, joins)
        kind = f": every {metal}ring," if metal else ""
        return f"{each(pattern.stride, 'diagonal')}{kind} from {ring}{snake}"
    rows, columns = np.unique(grid.row[joins]), np.unique(grid.column[joins])
    if pattern.backward:
        rows, columns = rows[::-1], columns[::-1]
    if pattern.family == "columns":
        said = _say_lines(columns, "column", unit_mm)
        if pattern.run:
            said = _say_runs(columns, taken.first, pattern, "column", unit_mm=unit_mm)
        within = _among("row", rows) if pattern.by_clip else ""
        if pattern.home:
            within = _say_end(grid.column[joins], "column", said)
        metal = _metal(grid, joins)
        kind = f": every {metal}ring" if metal else ""
        return f"{said}{kind}{within}, from {ring}{snake}"
    step = each(pattern.stride, f"{_metal(grid, joins)}ring", unit_mm)
    within = _among("column", columns) if pattern.by_clip or pattern.home else ""
    return f"{_say_lines(rows, 'row')}: {step}{within}, from {ring}{snake}"


def _metal(grid: JoinGrid, joins: IntArray) -> str:
    """Name the metal whose rings a pass takes out of several: "copper "; nothing of one metal."""
    return f"{grid.metals[grid.setting[joins[0]]]} " if grid.metals else ""


def _among(word: str, numbers: IntArray) -> str:
    """Say between which rows or columns a pass stays."""
    low, high = int(numbers.min()) + 1, int(numbers.max()) + 1
    return f", {word} {low} alone" if low == high else f", {word}s {low} to {high}"
