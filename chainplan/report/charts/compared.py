"""Charts of values over what was planned, about the line 1: a lesson, a job looked back at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.charts.figures import (
    GREY,
    INK,
    MARGIN_MM,
    NAME_MM,
    WIDTH_MM,
    bar_axes,
    chart_style,
    new_figure,
    remark,
    write_asked,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from chainplan.model.workshop.record import Lesson, Review

TOP_MM, FOOT_MM = 16.0, 22.0
"""Title, and the axis with its words."""
ROW_MM = 8.0
"""Height of a bar with the air to the next, in which its name is legible."""
LESSON_VALUES_MM = 30.0
"""Room for both values beside an interval."""
NOT_KNOWN_REACH = 5.0
"""How far an interval without enough data is drawn, as a multiple of the old value."""
REVIEW_VALUES_MM = 40.0
"""Room for both values beside a bar."""
MOST_TIMES = 3.0
"""Times the planned value at which a bar ends."""


def draw_lesson(lesson: Lesson, path: str | Path) -> Path:
    """Draw every figure that has an old value: new over old, with its interval.

    A disc is a figure with enough data, a ring one without.

    Raises
    ------
    InputError
        If the path ends in neither .png nor .svg, or cannot be written.
    """
    shown = [item for item in lesson.figures if item.old and item.key != "seconds a join"]
    with chart_style():
        title = f"What the bench taught: {lesson.events} events, intervals of {lesson.level:.0%}"
        figure, axes = _begin(title, [item.title for item in shown], LESSON_VALUES_MM)
        for row, item in enumerate(shown):
            old = float(item.old or 1.0)
            ends = np.clip(np.array([item.low, item.high]) / old, 0.0, NOT_KNOWN_REACH)
            axes.plot(ends, [row, row], color=GREY, linewidth=2.0, solid_capstyle="butt")
            fill = INK if item.enough else "#ffffff"
            axes.plot([item.new / old], [row], marker="o", markersize=6, markerfacecolor=fill,
                      markeredgecolor=INK)  # fmt: skip
            _write_beside(axes, row, f"{item.old:.3g} → {item.new:.3g} {item.unit}")
        axes.set_xlabel("measured over the value that the job had (1: as planned)")
        remark(figure, "disc: enough data; ring: not enough yet")
    return write_asked(figure, path)


def draw_review(review: Review, path: str | Path) -> Path:
    """Draw actual over planned of every quantity that has both, as bars about the line 1.

    Raises
    ------
    InputError
        If the path ends in neither .png nor .svg, or cannot be written.
    """
    shown = [(line, line.planned, line.actual) for line in review.lines]
    known = [(line, p, a) for line, p, a in shown if p and a is not None]
    with chart_style():
        title = f"Planned against actual: {review.job}, {review.done} of {review.joins} joins done"
        figure, axes = _begin(title, [line.what for line, *_ in known], REVIEW_VALUES_MM)
        for row, (line, planned, actual) in enumerate(known):
            share = float(np.clip(actual / planned, 0.0, MOST_TIMES))
            axes.barh(row, share, height=0.55, color=GREY)
            _write_beside(axes, row, f"{planned:.4g} → {actual:.4g} {line.unit}")
        axes.set_xlim(0.0, max([1.2, *(min(a / p, MOST_TIMES) * 1.05 for _, p, a in known)]))
        axes.set_xlabel("actual over planned, for what was done (1: as planned)")
        remark(figure, f"bars end at {MOST_TIMES:g} times the planned value")
    return write_asked(figure, path)


def _begin(title: str, names: Sequence[str], values_mm: float) -> tuple[Figure, Axes]:
    """Begin a chart, one row a name; ``values_mm``: room on the right for `_write_beside`."""
    figure = new_figure(title, TOP_MM + ROW_MM * max(len(names), 1) + FOOT_MM)
    left = MARGIN_MM + NAME_MM + 2.0
    place = (left, TOP_MM, WIDTH_MM - left - MARGIN_MM - values_mm)
    axes = bar_axes(figure, names, place, ROW_MM)
    axes.axvline(1.0, color=INK, linewidth=1.0)
    return figure, axes


def _write_beside(axes: Axes, row: int, text: str) -> None:
    """Write a row's values to the right of its axes."""
    axes.annotate(text, (1.02, row), xycoords=axes.get_yaxis_transform(), va="center")
