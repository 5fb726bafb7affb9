"""A chart of a job looked back at: what it took over what was planned."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.charts.figures import (
    GREY,
    chart_style,
    compared_axes,
    remark,
    write_beside,
    write_chart,
)

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.workshop.record import Review

VALUES_MM = 40.0
"""Room for both values beside a bar."""
MOST = 3.0
"""Times the planned value at which a bar ends."""


def draw_review(review: Review, path: Path) -> Path:
    """Draw actual over planned of every quantity that has both, as bars about the line 1."""
    shown = [(line, line.planned, line.actual) for line in review.lines]
    known = [(line, p, a) for line, p, a in shown if p and a is not None]
    with chart_style():
        title = f"Planned against actual: {review.job}, {review.done} of {review.joins} joins done"
        figure, axes = compared_axes(title, [line.what for line, *_ in known], VALUES_MM)
        for row, (line, planned, actual) in enumerate(known):
            share = float(np.clip(actual / planned, 0.0, MOST))
            axes.barh(row, share, height=0.55, color=GREY)
            write_beside(axes, row, f"{planned:.4g} → {actual:.4g} {line.unit}")
        axes.set_xlim(0.0, max([1.2, *(min(a / p, MOST) * 1.05 for _, p, a in known)]))
        axes.set_xlabel("actual over planned, for what was done (1: as planned)")
        remark(figure, f"bars end at {MOST:g} times the planned value")
    return write_chart(figure, path)
