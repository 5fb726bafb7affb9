"""A chart of a job looked back at: what it took over what was planned."""

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
    write_chart,
)

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.workshop.record import Review

STEP_MM = 8.0
TOP_MM, FOOT_MM = 16.0, 22.0
MOST = 3.0
"""Times the planned value at which a bar ends."""


def draw_review(review: Review, path: Path) -> Path:
    """Draw actual over planned of every quantity that has both, as bars about the line 1."""
    shown = [(line, line.planned, line.actual) for line in review.lines]
    known = [(line, p, a) for line, p, a in shown if p and a is not None]
    with chart_style():
        title = f"Planned against actual: {review.job}, {review.done} of {review.joins} joins done"
        figure = new_figure(title, TOP_MM + STEP_MM * max(len(known), 1) + FOOT_MM)
        left = MARGIN_MM + NAME_MM + 2.0
        place = (left, TOP_MM, WIDTH_MM - left - MARGIN_MM - 40.0)
        axes = bar_axes(figure, [line.what for line, *_ in known], place, STEP_MM)
        axes.axvline(1.0, color=INK, linewidth=1.0)
        for row, (line, planned, actual) in enumerate(known):
            share = float(np.clip(actual / planned, 0.0, MOST))
            axes.barh(row, share, height=0.55, color=GREY)
            axes.annotate(
                f"{planned:.4g} → {actual:.4g} {line.unit}", (1.02, row),
                xycoords=axes.get_yaxis_transform(), va="center",
            )  # fmt: skip
        axes.set_xlim(0.0, max([1.2, *(min(a / p, MOST) * 1.05 for _, p, a in known)]))
        axes.set_xlabel("actual over planned, for what was done (1: as planned)")
        remark(figure, f"bars end at {MOST:g} times the planned value")
    return write_chart(figure, path)
