"""The families of patterns to choose from: strides, runs, rows, columns and diagonals."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import gcd
from typing import TYPE_CHECKING

import numpy as np

from chainplan.order.pattern.pattern import Pattern, middle_jump
from chainplan.order.pattern.phrases import MOST_NAMED
from chainplan.order.tuning import USUAL

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from chainplan.order.piece.grid import JoinGrid
    from chainplan.order.tuning import PatternTuning


def list_patterns(
    grid: JoinGrid,
    joins: int,
    window_mm: tuple[float, float],
    most: int,
    *,
    rich: bool = True,
    clip_units: int = 0,
    tuning: PatternTuning = USUAL.pattern,
) -> list[Pattern]:
    """List the patterns worth trying on a piece, the simplest first.

    Strides that would put the join just welded between the fingers (``window_mm``: from, to) are
    left out; those just beyond, which leave a cool stretch between, are put in. If there are more
    than ``most``, they are thinned evenly; so are the patterns that skip from run to run. ``rich``:
    the same ways from the other end too, and with their passes one after another in other orders.
    ``clip_units``: units (or columns) within reach of one place of the return lead's clip, if it
    has to be moved; whatever fits into them is also tried from place to place, unless the rows of a
    sheet have different numbers of rings: what is within reach then cannot be said by columns.
    """
    if joins == 0:
        return []
    beyond = []
    if np.isfinite(window_mm[1]) and grid.pitch_mm > 0:
        least = int(window_mm[1] // grid.pitch_mm) + 1
        beyond = [least, least + 1, least + 3]
    found = (
        _sheet_patterns(grid, beyond, tuning)
        if grid.sheet
        else _line_patterns(grid, beyond, tuning)
    )
    runs = list_runs(grid, window_mm[1], tuning)
    plain = found + [pattern for pattern in runs if pattern.share == 2]
    if rich:
        found, runs = _vary(grid, found), _vary(grid, runs)

    def clear(patterns: list[Pattern]) -> list[Pattern]:
        low, high = window_mm
        return [p for p in patterns if p.stride == 1 or not low <= p.stride * grid.pitch_mm <= high]

    even = bool((grid.spans == 1).all())
    by_clip = [
        replace(pattern, by_clip=True)
        for pattern in (clear(found) + clear(runs) if even else [])
        if pattern.blocks == 1 and pattern.share * max(pattern.run, pattern.stride) <= clip_units
    ]
    kept = _thin_out(clear(found), most) + _thin_out(clear(runs), tuning.runs_for_each * most)
    kept += _thin_out(by_clip, most)
    if rich and np.isfinite(window_mm[1]) and grid.pitch_mm > 0:
        kept += _thin_out(_list_home(grid, clear(plain), window_mm, tuning), most)
    return kept


def _list_home(
    grid: JoinGrid,
    patterns: Iterable[Pattern],
    window_mm: tuple[float, float],
    tuning: PatternTuning,
) -> list[Pattern]:
    """Patterns whose passes end beside units welded long before: the fingers hold there at last."""
    units = int(np.unique(grid.column).shape[0])
    low, high = window_mm
    homes = {round((low + share * (high - low)) / grid.pitch_mm) for share in tuning.home_shares}
    return [
        replace(pattern, home=home, home_each=each, backward=backward, jump=jump)
        for pattern in patterns
        if pattern.blocks == 1 and pattern.family in ("line", "columns", "rows")
        if pattern.stride * pattern.classes * pattern.share <= tuning.home_passes
        for home in sorted(homes)
        if 0 < home <= units // 2
        for each in ((False, True) if pattern.passes > 1 else (False,))
        for backward in ((False, True) if not (pattern.run and grid.mixed) else (False,))
        for jump in sorted({1, pattern.jump})
    ]


def _vary(grid: JoinGrid, patterns: Iterable[Pattern]) -> list[Pattern]:
    """Add the same ways backwards, without turning at the ends, and with passes in other orders.

    Backward runs of stretches with units of different sizes cannot be said in one line.
    """
    out: dict[Pattern, None] = {}
    for pattern in patterns:
        backward = (False, True) if not (pattern.run and grid.mixed) else (False,)
        turns = (0, pattern.share - 1) if pattern.share > 2 else (0,)
        first = (False, True) if pattern.share > 1 and pattern.stride > 1 else (False,)
        for back, jump, snake, turn_jump, turn_first in product(
            backward,
            _jumps(pattern.stride),
            {pattern.snake, False},
            turns,
            first,
        ):
            varied = replace(
                pattern,
                backward=back,
                jump=jump,
                snake=snake,
                turn_jump=turn_jump,
                turn_first=turn_first,
            )
            out[varied] = None
    return list(out)


def _jumps(stride: int) -> list[int]:
    """List steps from pass to pass: to the neighbour on either side, or as far as may be."""
    jumps = {1, middle_jump(stride), max(1, stride - 1)}
    return sorted(jump for jump in jumps if gcd(jump, stride) == 1)


def _thin_out(patterns: list[Pattern], most: int) -> list[Pattern]:
    """Keep so many patterns, evenly from those with few passes to those with many."""
    patterns.sort(key=lambda p: (p.passes, p.backward, p.blocks))
    if len(patterns) <= most:
        return patterns
    keep = np.unique(np.round(np.linspace(0, len(patterns) - 1, most)).astype(int))
    return [patterns[k] for k in keep.tolist()]


def list_runs(
    grid: JoinGrid, reach_mm: float, tuning: PatternTuning = USUAL.pattern
) -> list[Pattern]:
    """Patterns that work through a run and skip to the next, beyond the fingers if any hold.

    ``reach_mm``: how far off the join the fingers hold at most; inf if none do.
    """
    units = int(np.unique(grid.column).shape[0])
    if grid.pitch_mm <= 0:
        return []
    held = bool(np.isfinite(reach_mm))
    classes = {1, int(grid.member.max(initial=0)) + 1}
    if grid.sheet:
        classes = {1}  # rows dealt out within columns would be a second step to keep in mind
    found = []
    for stride, count in product(tuning.run_strides, tuning.run_counts):
        run = stride * count
        if stride > 1 and count > MOST_NAMED:
            continue
        if held and run * grid.pitch_mm > reach_mm:
            continue
        beyond = int(reach_mm // (run * grid.pitch_mm)) + 2 if held else 0
        shares = {beyond - 1, beyond, beyond + 1} if held else set(tuning.shares_unheld)
        found += [
            Pattern(
                family="columns" if grid.sheet else "line",
                stride=stride,
                classes=part,
                jump=jump,
                snake=grid.sheet,
                run=run,
                share=share,
            )
            for share in sorted(shares)
            if share >= 2 and units >= 2 * run * share - run
            for part in sorted(classes)
            for jump in sorted({1, middle_jump(stride)})
        ]
    return found


def _line_patterns(grid: JoinGrid, beyond: Sequence[int], tuning: PatternTuning) -> list[Pattern]:
    found = []
    units = np.unique(grid.column).shape[0]
    members = int(grid.member.max(initial=0)) + 1
    for stride in sorted({*tuning.line_strides, *beyond}):
        if stride > 1 and units < 2 * stride:
            break
        jump = middle_jump(stride)
        found.append(Pattern(stride=stride, jump=jump))
        if members > 1:
            found.append(Pattern(stride=stride, jump=jump, classes=members))
        whole = grid.unit_mm.shape[0] == 1
        if whole and stride in tuning.blocks_strides and units >= tuning.blocks_units * stride:
            found.append(Pattern(stride=stride, jump=jump, blocks=2))
    return found


def _sheet_patterns(grid: JoinGrid, beyond: Sequence[int], tuning: PatternTuning) -> list[Pattern]:
    rows = np.unique(grid.row).shape[0]
    columns = np.unique(grid.column).shape[0]
    found = [
        Pattern(family=family, stride=stride, classes=classes, jump=middle_jump(stride), snake=True)
        for classes in tuning.sheet_classes
        for stride in sorted({*tuning.sheet_strides, *beyond})
        for family in ("rows", "columns")
        if classes <= max(rows, 1) and stride < max(columns, 2)
        if classes == 1 or (family == "rows" and stride == 1)  # one step is kept in mind, not two
    ]
    found += [
        Pattern(family="diagonals", stride=stride, jump=middle_jump(stride), snake=True)
        for stride in tuning.diagonals
        if stride <= (columns + 1) // 2
    ]
    found += [Pattern(family=family, stride=s) for family in ("rows", "columns") for s in (1, 2)]
    return found
