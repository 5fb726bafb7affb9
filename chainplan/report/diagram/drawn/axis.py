"""The axis under a strip: mm from the start, and the steps of a pass as a hand counts them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.report.diagram.drawn.marks import RULER_PT
from chainplan.report.diagram.drawn.windows import TRUE_WITHIN
from chainplan.report.paper.lettering import text_width_mm
from chainplan.report.paper.sheet import GREY, INK

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import AnyIntArray, FloatArray
    from chainplan.report.paper.sheet import Picture, Sheet

ROUND_MM = tuple(digit * 10**power for power in range(5) for digit in (1, 2, 5))
"""What an axis may count in, mm of the piece."""
TICK_MM, LABEL_MM = 4.0, 19.0
"""Ticks are at least so far apart on the sheet, and their numbers: a number, its unit and air."""
AIR_MM = 2.0
"""White between two texts of an axis, so that they are not read as one."""
UNEVEN = 1.8
"""A pass goes in runs if its longest step is so many times its shortest; a run is then one step."""


@frozen
class AxisStep:
    """A place along a strip where a pass goes on, as it is counted."""

    number: int  # of the unit, from 1
    at_mm: float  # on the sheet
    from_start_mm: float  # along the piece


def steps_of(
    number: AnyIntArray, at_mm: FloatArray, from_start_mm: FloatArray, *, runs: bool
) -> list[AxisStep]:
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
    gaps = np.abs(np.diff(number[first]))
    if runs and len(gaps) > 1 and gaps.max() > UNEVEN * gaps.min():
        long = gaps > (gaps.max() + gaps.min()) / 2
        first = first[np.concatenate([[True], long])]
    return [
        AxisStep(
            number=int(number[k]), at_mm=float(at_mm[k]), from_start_mm=float(from_start_mm[k])
        )
        for k in first.tolist()
    ]


def draw_axis(
    sheet: Sheet,
    picture: Picture,
    y_mm: float,
    *,
    start_mm: float,
    unit: str = "",
    steps: Sequence[AxisStep] = (),
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
    steps : sequence of AxisStep
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
    if abs(picture.scale - 1.0) < TRUE_WITHIN:
        _draw_rule(sheet, (left, right), low, high, y_mm)
    ends = [[(x, y_mm), (x, y_mm + (2.0 if big else 1.4))]
            for x, big in zip(places.tolist(), long.tolist(), strict=True)]  # fmt: skip
    sheet.segments(np.array(ends), width_mm=0.25, colour=GREY)
    for mark, x in zip(marks[long].tolist(), places[long].tolist(), strict=True):
        text = f"{abs(mark):.0f} mm"  # no "-0 mm" at the start
        middle = _within(x, text_width_mm(text, RULER_PT), (left, right))
        half = text_width_mm(text, RULER_PT) / 2 + AIR_MM
        if all(middle + half <= begin or middle - half >= end for begin, end in taken):
            sheet.write(middle, y_mm + 4.6, text, RULER_PT, anchor="middle", colour=GREY)
            taken.append((middle - half + AIR_MM, middle + half - AIR_MM))


def draw_start(sheet: Sheet, left_mm: float, middle_mm: float) -> None:
    """Mark the start of a piece: a dark wedge in the margin that points at it."""
    tip = left_mm - 0.6
    corners = [(tip, middle_mm), (tip - 3.2, middle_mm - 2.0), (tip - 3.2, middle_mm + 2.0)]
    sheet.areas([np.array(corners)], fill=INK)


def _draw_rule(
    sheet: Sheet, ends: tuple[float, float], low: float, high: float, y_mm: float
) -> None:
    """Draw a tick a mm: at true size the axis is a rule."""
    x = ends[0] + np.arange(np.ceil(low), np.floor(high) + 1) - low
    x = x[x <= ends[1]]
    top = np.column_stack([x, np.full(x.size, y_mm)])
    sheet.segments(np.stack([top, top + np.array([0.0, 0.8])], axis=1), width_mm=0.15, colour=GREY)


def _span(at_mm: float, text: str, ends: tuple[float, float]) -> tuple[float, float]:
    """Return what a step's text covers."""
    width = text_width_mm(text, RULER_PT, bold=True)
    middle = _within(at_mm, width, ends)
    return middle - width / 2, middle + width / 2


def _meet(one: tuple[float, float], other: tuple[float, float]) -> bool:
    """Tell whether two texts come too near to each other."""
    return one[0] < other[1] + AIR_MM and one[1] > other[0] - AIR_MM


def _within(middle: float, width: float, ends: tuple[float, float]) -> float:
    """Move a text's middle so that it stays between two ends."""
    return min(max(middle, ends[0] + width / 2), ends[1] - width / 2)


def _thinned(steps: Sequence[AxisStep], unit: str) -> Sequence[AxisStep]:
    """Leave every so many of steps that go on evenly, so that each has room for its mm."""
    if len(steps) < 3:
        return steps
    gap = np.diff([step.at_mm for step in steps])
    count = np.diff([step.number for step in steps])
    needed = text_width_mm(f"{steps[-1].number} · 888 mm", RULER_PT, bold=True) + AIR_MM
    usual = float(np.median(np.abs(gap)))
    if (count != count[0]).any() or usual <= 0 or usual >= needed:
        return steps
    first = text_width_mm(f"{unit} {steps[0].number} · 888 mm", RULER_PT, bold=True) + AIR_MM
    return steps[:: int(np.ceil(max(needed, (first + needed) / 2) / usual))]


def _draw_steps(
    sheet: Sheet, steps: Sequence[AxisStep], unit: str, y_mm: float, ends: tuple[float, float]
) -> list[tuple[float, float]]:
    """Write each step in the longest form that leaves the others room; return what is covered.

    Of many close to each other only every so many are written, evenly, so that each has its mm.
    """
    dark = [[(step.at_mm, y_mm), (step.at_mm, y_mm + 1.5)] for step in steps]
    sheet.segments(np.array(dark).reshape(-1, 2, 2), width_mm=0.5, colour=INK)
    steps = _thinned(steps, unit)
    forms = [
        (
            f"{unit} {step.number} · {step.from_start_mm:.0f} mm",
            f"{unit} {step.number}" if k == 0 else f"{step.number} · {step.from_start_mm:.0f} mm",
            f"{unit} {step.number}" if k == 0 else str(step.number),
        )
        for k, step in enumerate(steps)
    ]
    spans = [
        [_span(step.at_mm, text, ends) for text in form]
        for step, form in zip(steps, forms, strict=True)
    ]
    taken: list[tuple[float, float]] = []
    for k in range(len(steps)):
        others = taken + [row[-1] for row in spans[k + 1 :]]
        free = (
            (text, span)
            for text, span in zip(forms[k], spans[k], strict=True)
            if not any(_meet(span, other) for other in (others if text != forms[k][-1] else taken))
        )
        text, (begin, end) = next(free, ("", (0.0, 0.0)))
        if not text:
            continue
        sheet.write(begin, y_mm + 4.6, text, RULER_PT, bold=True)
        taken.append((begin, end))
    return taken
