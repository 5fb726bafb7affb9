"""A chart of one weave: how many rings it takes at which aspect ratio, and where it ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.charts.figures import (
    MARGIN_MM,
    axes_at,
    chart_style,
    new_figure,
    settle,
    write_chart,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from matplotlib.figure import Figure

    from chainplan.model.piece.weave import Repeat

WIDTH_MM, HEIGHT_MM = 180.0, 108.0
"""Five to three: as wide as a page's text, and three of them on a page."""
LEFT_MM, TOP_MM = 18.0, 14.0
"""Room for the numbers and the name of the upright axis, and for the title."""
LINE = "#12307a"
OWN = "#8f2b00"


def rings_per_cm(repeat: Repeat, wire_mm: float) -> float:
    """Rings per cm of a chain, or per cm² of a sheet, at a wire diameter.

    Parameters
    ----------
    repeat : Repeat
        Solved, scale-free.
    wire_mm : float
        Wire diameter of ring class 0. [mm]
    """
    vectors = repeat.vectors * wire_mm / 10
    if vectors.shape[0] == 1:
        return repeat.rings / float(np.linalg.norm(vectors[0]))
    return repeat.rings / float(np.linalg.norm(np.cross(vectors[0], vectors[1])))


@chart_style()
def weave_chart(
    taut: Sequence[Repeat],
    gathered: Sequence[Repeat] = (),
    *,
    wire_mm: float,
    title: str,
    smallest_aspect_ratio: float,
    own_aspect_ratio: float | None = None,
) -> Figure:
    """Draw rings per cm against the aspect ratio.

    Parameters
    ----------
    taut, gathered : sequence of Repeat
        The weave solved at some aspect ratios, pulled taut and pushed together.
    wire_mm : float
        Wire diameter of ring class 0. [mm]
    title : str
        Name of the weave.
    smallest_aspect_ratio : float
        Below it the rings do not go together.
    own_aspect_ratio : float, optional
        The user's ring, marked on the taut line.
    """
    smallest_aspect_ratio = float(settle(smallest_aspect_ratio, 4))
    figure = new_figure(title, HEIGHT_MM, width_mm=WIDTH_MM)
    ax = axes_at(figure, LEFT_MM, TOP_MM, WIDTH_MM - MARGIN_MM - LEFT_MM, HEIGHT_MM - TOP_MM - 14.0)
    last = smallest_aspect_ratio
    for repeats, style, name in ((taut, "-", "pulled taut"), (gathered, "--", "pushed together")):
        if not repeats:
            continue
        points = sorted((repeat.aspect_ratio, rings_per_cm(repeat, wire_mm)) for repeat in repeats)
        ratio, count = settle(points, 4).T
        ax.plot(ratio, count, style, color=LINE, linewidth=2, label=name)
        last = max(last, float(ratio[-1]))
        if own_aspect_ratio is not None and style == "-":
            here = float(np.interp(own_aspect_ratio, ratio, count))
            ax.plot([own_aspect_ratio], [here], "D", color=OWN, markersize=7, label="your ring")
            ax.annotate(
                f"{own_aspect_ratio:.2f}: {here:.1f}", (own_aspect_ratio, here),
                xytext=(7, 7), textcoords="offset points", color=OWN, fontweight="bold",
            )  # fmt: skip
    low = smallest_aspect_ratio - 0.15 * (last - smallest_aspect_ratio + 1)
    ax.axvspan(low, smallest_aspect_ratio, facecolor="none", edgecolor=OWN, hatch="//", alpha=0.5)
    ax.axvline(smallest_aspect_ratio, color=OWN, linewidth=1.5)
    ax.annotate(
        f"cannot be woven below {smallest_aspect_ratio:.2f}", (smallest_aspect_ratio, 0.98),
        xycoords=("data", "axes fraction"), xytext=(5, 0), textcoords="offset points",
        va="top", color=OWN,
    )  # fmt: skip
    ax.set_xlim(low, last)
    ax.set_ylim(bottom=0)
    area = bool(taut) and taut[0].vectors.shape[0] > 1
    ax.set_xlabel("aspect ratio (inner diameter over wire)")
    ax.set_ylabel(f"rings per {'cm²' if area else 'cm'} with {wire_mm:g} mm wire")
    ax.grid(visible=True)
    ax.legend(loc="lower right", frameon=False)
    return figure


def write_weave_chart(
    taut: Sequence[Repeat],
    gathered: Sequence[Repeat],
    target: Path,
    *,
    wire_mm: float,
    title: str,
    smallest_aspect_ratio: float,
    own_aspect_ratio: float,
) -> Path:
    """Write the chart of one weave as .png or .svg; see :func:`weave_chart`.

    Raises
    ------
    InputError
        If the file has another ending.
    """
    figure = weave_chart(
        taut,
        gathered,
        wire_mm=wire_mm,
        title=title,
        smallest_aspect_ratio=smallest_aspect_ratio,
        own_aspect_ratio=own_aspect_ratio,
    )
    target.parent.mkdir(parents=True, exist_ok=True)
    return write_chart(figure, target)
