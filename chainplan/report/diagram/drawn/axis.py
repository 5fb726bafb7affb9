"""The axis under a strip: mm from the start, and the steps of a pass as a hand counts them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.diagram.drawn.marks import RULER_PT
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import GREY, INK

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import AnyIntArray, FloatArray
    from chainplan.report.paper.sheet import Picture, Sheet

ROUND_MM = tuple(digit * 10**power for power in range(5) for digit in (1, 2, 5))
"""What an axis may count in, mm of the piece."""
TICK_MM, LABEL_MM = 4.0, 24.0
"""Ticks are at least so far apart on the sheet, and their numbers: a number, its unit and air."""
AIR_MM = 2.0
"""White between two texts of an axis, so that they are not read as one."""
UNEVEN = 1.8
"""A pass goes in runs if its longest step is so many times its shortest; a run is then one step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A place along a strip where a pass goes on, as it is counted."""

    number: int  # of the unit, from 1
    at_mm: float  # on the sheet
    from_start_mm: float  # along the piece


def steps_of(
    number: AnyIntArray, at_mm: FloatArray, from_start_mm: FloatArray, *, runs: bool
) -> list[Step]:
    """Choose the places of a strip that are told: where runs begin, else every unit once.

    Parameters
    ----------
    number : array, shape (k,)
        Number of each join's unit, from 1, in the order of welding.
    at_mm, from_start_mm : array, shape (k,)
        The joins along the sheet and along the piece.
    runs : bool
        Whether they belong to one pass, which may go in runs.
    """
    _, first = np.unique(number, return_index=True)
    first = np.sort(first)
    gaps = np.abs(np.diff(at_mm[first]))
    if runs and len(gaps) > 1 and gaps.max() > UNEVEN * gaps.min():
        long = gaps > (gaps.max() + gaps.min()) / 2
        first = first[np.concatenate([[True], long])]
    return [
        Step(number=int(number[k]), at_mm=float(at_mm[k]), from_start_mm=float(from_start_mm[k]))
        for k in first.tolist()
    ]


def draw_axis(
    sheet: Sheet,
    picture: Picture,
    y_mm: float,
    *,
    start_mm: float,
    unit: str = "",
    steps: Sequence[Step] = (),
) -> None:
    """Draw the axis of a strip: ticks and numbers in mm from the start, and the steps of a pass.

    Parameters
    ----------
    sheet, picture : Sheet, Picture
        The strip.
    y_mm : float
        Where the axis lies. [mm]
    start_mm : float
        Where the piece begins, in the picture's own mm.
    unit : str
        What the steps count: "ring", "pair" ….
    steps : sequence of Step
        Told in dark figures with their distance from the start.
    """
    left, right = picture.left_mm, picture.left_mm + picture.width_mm
    sheet.line([(left, y_mm), (right, y_mm)], width_mm=0.25, colour=GREY)
    taken = _draw_steps(sheet, steps, unit, y_mm, (left, right))
    tick, label = (
        next((mm for mm in ROUND_MM if mm * picture.scale >= room), ROUND_MM[-1])
        for room in (TICK_MM, LABEL_MM)
    )
    low, high = (picture.window_mm[side] - start_mm for side in (0, 2))
    marks = np.arange(np.ceil(low / tick - 1e-6), np.floor(high / tick + 1e-6) + 1) * tick
    places = left + (marks - low) * picture.scale
    long = np.isclose(np.remainder(marks + label / 2, label), label / 2)
    ends = [[(x, y_mm), (x, y_mm + (1.5 if big else 0.8))]
            for x, big in zip(places.tolist(), long.tolist(), strict=True)]  # fmt: skip
    sheet.segments(np.array(ends), width_mm=0.25, colour=GREY)
    for mark, x in zip(marks[long].tolist(), places[long].tolist(), strict=True):
        text = f"{abs(mark):.0f} mm"  # no "-0 mm" at the start
        middle = _within(x, text_width_mm(text, RULER_PT), (left, right))
        half = text_width_mm(text, RULER_PT) / 2 + AIR_MM
        if all(middle + half <= begin or middle - half >= end for begin, end in taken):
            sheet.write(middle, y_mm + 4.6, text, RULER_PT, anchor="middle", colour=GREY)
            taken.append((middle - half + AIR_MM, middle + half - AIR_MM))


def _within(middle: float, width: float, ends: tuple[float, float]) -> float:
    """Move a text's middle so that it stays between two ends."""
    return min(max(middle, ends[0] + width / 2), ends[1] - width / 2)


def _draw_steps(
    sheet: Sheet, steps: Sequence[Step], unit: str, y_mm: float, ends: tuple[float, float]
) -> list[tuple[float, float]]:
    """Write the steps, in the longest form in which all fit; return what their texts cover."""
    spans: list[tuple[float, float]] = []
    texts: list[str] = []
    for named, measured in ((True, True), (False, True), (False, False)):
        texts = [
            (f"{unit} " if named or k == 0 else "")
            + str(step.number)
            + (f" · {step.from_start_mm:.0f} mm" if measured else "")
            for k, step in enumerate(steps)
        ]
        spans = []
        for step, text in zip(steps, texts, strict=True):
            width = text_width_mm(text, RULER_PT, bold=True)
            middle = _within(step.at_mm, width, ends)
            spans.append((middle - width / 2, middle + width / 2))
        order = sorted(spans)
        if all(a[1] + AIR_MM <= b[0] for a, b in pairwise(order)):
            break
    taken: list[tuple[float, float]] = []
    for step, text, (begin, end) in zip(steps, texts, spans, strict=True):
        if any(begin < other[1] + AIR_MM and end > other[0] - AIR_MM for other in taken):
            continue
        sheet.line([(step.at_mm, y_mm), (step.at_mm, y_mm + 1.5)], width_mm=0.5, colour=INK)
        sheet.write(begin, y_mm + 4.6, text, RULER_PT, bold=True)
        taken.append((begin, end))
    return taken
