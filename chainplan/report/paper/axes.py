"""Sheets on matplotlib axes, for people who draw in a notebook or a program of their own."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.report.paper.sheet import Path
from chainplan.report.wire.axes import draw_wire

if TYPE_CHECKING:
    from chainplan.report.paper.sheet import Sheet, Stamp, Text


def show_sheet(sheet: Sheet, *, ax: Any = None) -> Any:
    """Draw a sheet onto axes, its mm being the axes' unit, and return the axes.

    Parameters
    ----------
    sheet : Sheet
        What to show.
    ax : matplotlib axes, optional
        Where; new axes in the sheet's own size if not given.
    """
    if ax is None:
        import matplotlib.pyplot as plt

        size = (sheet.width_mm / 25.4, sheet.height_mm / 25.4)
        ax = plt.subplots(figsize=size, layout="constrained")[1]
    ax.set_xlim(0, sheet.width_mm)
    ax.set_ylim(sheet.height_mm, 0)
    ax.set_aspect("equal")
    ax.set_axis_off()
    for number, stamp in enumerate(sheet.stamps):
        _show_stamp(stamp, ax, zorder=2.0 * number / max(len(sheet.stamps), 1))
    for number, mark in enumerate(sheet.marks):
        zorder = 4.0 + number / (len(sheet.marks) + 1)
        if isinstance(mark, Path):
            _show_path(mark, ax, zorder)
        else:
            _show_text(mark, ax, zorder)
    return ax


def _show_stamp(stamp: Stamp, ax: Any, *, zorder: float) -> None:
    """Draw wire, clipped to the stamp's window."""
    from matplotlib.patches import Rectangle

    layers = [
        replace(
            layer,
            points_mm=stamp.on_sheet(layer.points_mm),
            wire_mm=layer.wire_mm * stamp.scale,
        )
        for layer in stamp.drawing.layers
    ]
    before = set(ax.artists) | set(ax.patches)
    draw_wire(ax, layers, stamp.drawing.look, zorder=zorder)
    corner = (stamp.left_mm, stamp.top_mm)
    window = Rectangle(corner, stamp.width_mm, stamp.height_mm, transform=ax.transData)
    for artist in [*ax.artists, *ax.patches]:
        if artist not in before:
            artist.set_clip_path(window)


def _show_path(mark: Path, ax: Any, zorder: float) -> None:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline

    codes = np.where(mark.first, Outline.MOVETO, Outline.LINETO).astype(np.uint8)
    points = mark.points_mm
    if mark.closed:
        end = np.append(np.flatnonzero(mark.first)[1:], len(points))
        points = np.insert(points, end, points[end - 1], axis=0)
        codes = np.insert(codes, end, Outline.CLOSEPOLY)
    style: dict[str, Any] = {"facecolor": mark.fill or "none", "edgecolor": mark.stroke or "none"}
    if mark.dash_mm:
        share = 72 / 25.4
        style["linestyle"] = (0, tuple(part * share for part in mark.dash_mm))
    ax.add_patch(
        PathPatch(
            Outline(points, codes),
            fill=bool(mark.fill),
            linewidth=mark.width_mm * 72 / 25.4,
            zorder=zorder,
            **style,
        )
    )


def _show_text(mark: Text, ax: Any, zorder: float) -> None:
    ax.text(
        mark.x_mm,
        mark.y_mm,
        mark.text.replace("$", r"\$"),
        fontsize=mark.size_pt,
        fontweight="bold" if mark.bold else "normal",
        ha={"start": "left", "middle": "center", "end": "right"}[mark.anchor],
        va="baseline",
        color=mark.colour,
        zorder=zorder,
    )
