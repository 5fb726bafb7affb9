"""Passes in words: which joins a pass takes, said so that nobody loses the place.

What is said here are keys of the table of texts, which has them in every language.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.said import Phrase, said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import IntArray
    from chainplan.model.said import Fill
    from chainplan.order.pattern.pattern import Pattern, Taken
    from chainplan.order.piece.grid import JoinGrid


MOST_NAMED = 4
"""Numbers named in full before "every third …" is said instead: they fill a line (judgement)."""
_MOST_LISTED = 12
"""Numbers listed where there is no rule: two lines of the bench sheet (judgement)."""
_ALL = 10**9
"""More numbers than any piece has."""


def name_all(word: str, numbers: Sequence[int] | IntArray, most: int = _ALL) -> Phrase:
    """Name numbered things, counted from 1 (given from 0): "pairs 1 and 4", "rings 1 and 7 more".

    Examples
    --------
    >>> name_all("row", [6])
    Phrase(key='line.named.one.row', fills={'number': 7})
    """
    names: list[Fill] = [int(number) + 1 for number in numbers[:most]]
    more = len(numbers) - len(names)
    if more:
        names.append(said("line.named.more", n=more))
    if len(names) == 1:
        return said(f"line.named.one.{word}", number=names[0])
    return said(f"line.named.many.{word}", numbers=tuple(names))


def say_rings(rings: Sequence[int], most: int = 4) -> Phrase:
    """Say which rings, counted from 1 (given from 0): "rings 1 and 4", "ring 7"."""
    return name_all("ring", rings, most)


def each(step: int, word: str, unit_mm: float = 0.0, metal: str = "") -> Phrase:
    """Say which of many, and how far that is if they lie ``unit_mm`` apart: "every 3rd row"."""
    if metal:
        one, many = (said(f"line.each.{k}.metal", step=step, metal=metal) for k in ("one", "step"))
    else:
        one, many = said(f"line.each.one.{word}"), said(f"line.each.step.{word}", step=step)
    return one if step == 1 else _far(many, step, unit_mm)


def _far(stem: Phrase, step: int, unit_mm: float) -> Phrase:
    """Say how far a step goes, in whole mm: a hand with a rule sees no less."""
    return said("line.far", each=stem, mm=f"{step * unit_mm:.0f}") if unit_mm > 0 else stem


def _again(
    stem: Phrase, period: int, word: str, unit_mm: float, last: Phrase | None = None
) -> Phrase:
    """Say that a run comes again: "…, then the same every 27 pairs (122 mm)"."""
    every = _far(said(f"line.period.{word}", period=period), period, unit_mm)
    if last is None:
        return said("line.again", stem=stem, every=every)
    return said("line.again_to", stem=stem, every=every, last=last)


def say_taken(grid: JoinGrid, pattern: Pattern, taken: Taken) -> Phrase:
    """Say which joins a pattern takes in one go along the piece."""
    if pattern.family != "line":
        return _say_sheet(grid, pattern, taken)
    if grid.mixed:
        return _say_stretch(grid, pattern, taken.joins)
    text = _say_units(grid, pattern, taken)
    if pattern.blocks > 1 or pattern.by_clip:
        text = said("line.until", stem=text, last=name_all(grid.unit, [taken.last - 1]))
    if pattern.home and grid.unit_mm.shape[0] == 1:
        text = _say_end(grid.column[taken.joins], grid.unit, text)
    if pattern.classes > 1:
        text = said("line.classes", stem=text, rank=taken.part + 1)
    return text


def _say_end(numbers: IntArray, word: str, stem: Phrase) -> Phrase:
    """Say where a pass ends that does not go to the end of the piece, unless that has been said."""
    first, last = int(numbers[0]), int(numbers[-1])
    keys = set(stem.keys())
    steps = any(key.startswith(("line.each.", "line.period.")) for key in keys)
    if first == last or not steps or keys & {"line.back", "line.until_back"}:
        return stem
    way = "line.until" if last > first else "line.until_back"
    return said(way, stem=stem, last=name_all(word, [last]))


def _at_ring(name: Phrase, word: str, ring: int) -> Phrase:
    """Add the ring that something begins with, where it is not a ring itself."""
    return said("line.at_ring", name=name, ring=ring + 1) if word != "ring" else name


def _say_step(
    numbers: IntArray, word: str, ring: int | None = None, unit_mm: float = 0.0
) -> Phrase | None:
    """Say evenly spaced things: "every 3rd pair from pair 2 (ring 3)"; None if they are not."""
    first = name_all(word, numbers[:1])
    if ring is not None:
        first = _at_ring(first, word, ring)
    if numbers.shape[0] == 1:
        return first
    steps = np.diff(numbers)
    if (steps != steps[0]).any():
        return None
    text = said("line.from", each=each(abs(int(steps[0])), word, unit_mm), first=first)
    if steps[0] < 0:
        text = said("line.back", stem=text, last=name_all(word, numbers[-1:]))
    return text


def _say_units(grid: JoinGrid, pattern: Pattern, taken: Taken) -> Phrase:
    stride, word = pattern.stride, grid.unit
    unit_mm = float(grid.unit_mm[grid.stretch[taken.joins[0]]])
    units = grid.column[taken.joins]
    units = units[np.concatenate([[True], units[1:] != units[:-1]])]
    ring = int(grid.ring[taken.joins[0]])
    if pattern.run:
        text = _say_runs(units, taken.first, pattern, word, ring, unit_mm=unit_mm)
        return _until(grid, pattern, units, text)
    even = _say_step(units, word, ring, unit_mm)
    if even is None and not (np.diff(units) % stride).any():
        whole = np.arange(units[0], units[-1], -stride if pattern.backward else stride)
        even = _say_step(np.append(whole, units[-1]), word, ring, unit_mm)
        even = None if even is None else said("line.gaps", stem=even)
    if even is None:
        way = "line.with_joins_back" if pattern.backward else "line.with_joins"
        first = _at_ring(name_all(word, units[:1]), word, ring)
        even = said(way, each=each(stride, word, unit_mm), first=first)
    return _until(grid, pattern, units, even)


def _until(grid: JoinGrid, pattern: Pattern, units: IntArray, stem: Phrase) -> Phrase:
    """Say where a pass over one stretch of several ends."""
    if grid.unit_mm.shape[0] == 1 or pattern.backward or np.ptp(units) == 0:
        return stem
    return said("line.until", stem=stem, last=name_all(grid.unit, units[-1:]))


def _say_runs(
    units: IntArray,
    first: int,
    pattern: Pattern,
    word: str,
    ring: int | None = None,
    *,
    unit_mm: float,
) -> Phrase:
    """Say units taken run by run: "pairs 1, 4 and 7, then the same every 27 pairs (70 mm)".

    ``first``: the unit with which the pass would begin if every unit had joins in it. Units
    without any are not left out of what is said; that there are such is said too.
    """
    last = int(units.max())
    period = pattern.run * pattern.share
    run: IntArray = first + np.arange(0, pattern.run, pattern.stride, dtype=np.int32)
    told = np.arange(first, last + 1)
    told = told[np.isin((told - first) % period, run - first)]
    run = run[run <= last]
    text = name_all(word, run)
    if run.shape[0] > 2 and pattern.stride == 1:
        text = said(f"line.range.{word}", first=run[0] + 1, last=run[-1] + 1)
    if ring is not None and word != "ring" and not pattern.backward:
        text = said("line.from_ring", stem=text, ring=ring + 1)
    if last >= first + period:
        text = _again(text, period, word, unit_mm)
    if told.shape[0] > units.shape[0]:
        text = said("line.gaps", stem=text)
    if pattern.backward and units.shape[0] > 1:
        begin = name_all(word, units[:1])
        begin = begin if ring is None else _at_ring(begin, word, ring)
        text = said("line.going_back", stem=text, first=begin)
    return text


def _say_stretch(grid: JoinGrid, pattern: Pattern, joins: IntArray) -> Phrase:
    """Say a pass over one stretch among others whose units have another size: by rings."""
    unit_mm = float(grid.unit_mm[grid.stretch[joins[0]]])
    units = grid.column[joins]
    begin = np.flatnonzero(np.concatenate([[True], units[1:] != units[:-1]]))
    units, rings = units[begin], grid.ring[joins[begin]]
    word = "ring" if grid.single[joins].all() else grid.unit
    text = _say_places(pattern, units, rings, word, unit_mm)
    if word != "ring" and pattern.classes > 1:
        text = said("line.classes", stem=text, rank=int(grid.member[joins[0]]) + 1)
    return text


def _say_places(
    pattern: Pattern, units: IntArray, rings: IntArray, word: str, unit_mm: float
) -> Phrase:
    """Say units by the rings that they begin with."""
    period = pattern.run * pattern.share if pattern.run else pattern.stride
    first = (units - units[0]) % period == units - units[0] if pattern.run else units == units[0]
    whole = np.arange(min(units[0], units[-1]), max(units[0], units[-1]) + 1)
    again = np.isin(np.abs(whole - units[0]) % period, np.abs(units[first] - units[0]))
    regular = np.count_nonzero(again) == units.shape[0]
    last = name_all("ring", rings[-1:])
    comes_again = units.shape[0] > MOST_NAMED and regular
    if comes_again and not pattern.run:
        step = each(period, word, unit_mm)
        return said("line.from_to", each=step, first=name_all("ring", rings[:1]), last=last)
    named = rings[first] if comes_again else rings
    text = name_all("ring", named, _MOST_LISTED)
    if pattern.run and pattern.stride == 1 and 2 < named.shape[0] < rings.shape[0]:
        ring = name_all("ring", named[:1])
        text = said(f"line.count_from.{word}", count=named.shape[0], first=ring)
    elif word != "ring":
        text = said(f"line.at.{'one' if named.shape[0] == 1 else 'many'}.{word}", rings=text)
    return _again(text, period, word, unit_mm, last) if comes_again else text


def _say_lines(numbers: IntArray, word: str, line_mm: float = 0.0) -> Phrase:
    """Say a few numbers in full and many by their step: "rows 1, 3 and 5", "every 3rd row …"."""
    if numbers.shape[0] < MOST_NAMED:
        return name_all(word, numbers)
    even = _say_step(numbers, word, unit_mm=line_mm)
    return even or name_all(word, numbers, _MOST_LISTED)


def _say_sheet(grid: JoinGrid, pattern: Pattern, taken: Taken) -> Phrase:
    joins = taken.joins
    lines = grid.column[joins] if pattern.family == "columns" else grid.row[joins]
    text = _say_grid(grid, pattern, taken)
    snakes = pattern.snake and np.ptp(lines) > 0
    return said("line.snake", stem=text) if snakes else text


def _say_grid(grid: JoinGrid, pattern: Pattern, taken: Taken) -> Phrase:
    joins = taken.joins
    unit_mm = float(grid.unit_mm[grid.stretch[joins[0]]])
    ring, metal = name_all("ring", grid.ring[joins[:1]]), _metal(grid, joins)
    if pattern.family == "diagonals":
        step = each(pattern.stride, "diagonal")
        if not metal:
            return said("line.from", each=step, first=ring)
        some = said("line.only_metal", stem=step, metal=metal)
        return said("line.begins", stem=some, first=ring)
    rows, columns = np.unique(grid.row[joins]), np.unique(grid.column[joins])
    if pattern.backward:
        rows, columns = rows[::-1], columns[::-1]
    if pattern.family == "columns":
        text = _say_lines(columns, "column", unit_mm)
        if pattern.run:
            text = _say_runs(columns, taken.first, pattern, "column", unit_mm=unit_mm)
        if metal:
            text = said("line.only_metal", stem=text, metal=metal)
        if pattern.home:
            text = _say_end(grid.column[joins], "column", text)
        elif pattern.by_clip:
            text = _among("row", rows, text)
        return said("line.begins", stem=text, first=ring)
    step = each(pattern.stride, "ring", unit_mm, metal)
    text = said("line.rows", lines=_say_lines(rows, "row"), each=step)
    if pattern.by_clip or pattern.home:
        text = _among("column", columns, text)
    return said("line.begins", stem=text, first=ring)


def _metal(grid: JoinGrid, joins: IntArray) -> str:
    """Name the metal whose rings a pass takes out of several; nothing of one metal."""
    return grid.metals[grid.setting[joins[0]]] if grid.metals else ""


def _among(word: str, numbers: IntArray, stem: Phrase) -> Phrase:
    """Say between which rows or columns a pass stays."""
    low, high = int(numbers.min()) + 1, int(numbers.max()) + 1
    if low == high:
        return said(f"line.among.one.{word}", stem=stem, number=low)
    return said(f"line.among.many.{word}", stem=stem, first=low, last=high)
