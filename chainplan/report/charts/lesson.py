"""A picture of what was learnt: each figure against the value that the job had."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError

if TYPE_CHECKING:
    from chainplan.model.record import Lesson

ENDINGS = (".png", ".svg", ".pdf")
_ROW_IN = 0.34
_NOT_KNOWN_REACH = 5.0
"""How far an interval without enough data is drawn, as a multiple of the old value."""


def draw_lesson(lesson: Lesson, path: str | Path) -> Path:
    """Draw every figure that has an old value: new over old, with its interval.

    A disc is a figure with enough data, a ring one without.

    Raises
    ------
    InputError
        If the file's ending is none of .png, .svg, .pdf, or it cannot be written.
    """
    from matplotlib import rc_context
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    path = Path(path)
    if path.suffix.casefold() not in ENDINGS:
        message = f"{path.name}: ends in {path.suffix!r}; a picture is one of {', '.join(ENDINGS)}"
        raise InputError(message)
    shown = [item for item in lesson.figures if item.old and item.key != "seconds a join"]
    height = 1.5 + _ROW_IN * max(len(shown), 1)
    with rc_context({"svg.hashsalt": "chainplan", "svg.fonttype": "none", "font.size": 9}):
        picture = Figure(figsize=(8.0, height), layout="constrained")
        FigureCanvasAgg(picture)
        axes = picture.add_subplot()
        axes.axvline(1.0, color="#14181d", linewidth=1.0)
        for row, item in enumerate(shown):
            old = float(item.old or 1.0)
            ends = np.clip(np.array([item.low, item.high]) / old, 0.0, _NOT_KNOWN_REACH)
            axes.plot(ends, [row, row], color="#6b7178", linewidth=2.0, solid_capstyle="butt")
            fill = "#14181d" if item.enough else "#ffffff"
            axes.plot([item.new / old], [row], marker="o", markersize=7, markerfacecolor=fill,
                      markeredgecolor="#14181d")  # fmt: skip
        names = [f"{item.title}\n{item.old:.3g} → {item.new:.3g} {item.unit}" for item in shown]
        axes.set_yticks(range(len(shown)), names)
        axes.set_ylim(len(shown) - 0.4, -0.6)
        axes.set_xlabel("measured over the value that the job had (1 = as planned)")
        axes.set_title(
            f"What the bench taught, {lesson.events} events, intervals {lesson.level:.0%}\n"
            "disc: enough data; ring: not enough yet", fontsize=10,
        )  # fmt: skip
        axes.grid(axis="x", color="#d9dcdf")
        axes.set_axisbelow(True)
        kind = path.suffix.casefold().removeprefix(".")
        metadata = {"Software": None} if kind == "png" else {"Date": None}
        if kind == "pdf":
            metadata = {"CreationDate": None}
        try:
            picture.savefig(path, format=kind, dpi=150, metadata=metadata)
        except OSError as error:
            message = f"{path}: cannot be written ({error.strerror})"
            raise InputError(message) from None
    return path
