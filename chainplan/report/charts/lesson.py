"""A chart of what was learnt: each figure against the value that the job had."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError
from chainplan.report.charts.figures import (
    GREY,
    INK,
    chart_style,
    compared_axes,
    remark,
    write_beside,
    write_chart,
)

if TYPE_CHECKING:
    from chainplan.model.workshop.record import Lesson

VALUES_MM = 30.0
"""Room for both values beside an interval."""
NOT_KNOWN_REACH = 5.0
"""How far an interval without enough data is drawn, as a multiple of the old value."""


def draw_lesson(lesson: Lesson, path: str | Path) -> Path:
    """Draw every figure that has an old value: new over old, with its interval.

    A disc is a figure with enough data, a ring one without.

    Raises
    ------
    InputError
        If the path ends in neither .png nor .svg, or cannot be written.
    """
    path = Path(path)
    shown = [item for item in lesson.figures if item.old and item.key != "seconds a join"]
    with chart_style():
        title = f"What the bench taught: {lesson.events} events, intervals of {lesson.level:.0%}"
        figure, axes = compared_axes(title, [item.title for item in shown], VALUES_MM)
        for row, item in enumerate(shown):
            old = float(item.old or 1.0)
            ends = np.clip(np.array([item.low, item.high]) / old, 0.0, NOT_KNOWN_REACH)
            axes.plot(ends, [row, row], color=GREY, linewidth=2.0, solid_capstyle="butt")
            fill = INK if item.enough else "#ffffff"
            axes.plot([item.new / old], [row], marker="o", markersize=6, markerfacecolor=fill,
                      markeredgecolor=INK)  # fmt: skip
            write_beside(axes, row, f"{item.old:.3g} → {item.new:.3g} {item.unit}")
        axes.set_xlabel("measured over the value that the job had (1: as planned)")
        remark(figure, "disc: enough data; ring: not enough yet")
    try:
        return write_chart(figure, path)
    except OSError as error:
        message = f"{path}: cannot be written ({error.strerror})"
        raise InputError(message) from None
