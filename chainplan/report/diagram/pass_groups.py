"""Passes that are drawn together: small ones share one picture of the piece."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.frozen import frozen
from chainplan.report.diagram.drawn.strips import (
    PIN_MM,
    TIGHT_HEIGHT_MM,
    TILE_AIR_MM,
    number_width_mm,
)
from chainplan.report.diagram.drawn.windows import cut_piece
from chainplan.report.text.instructions import setting_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import FloatArray
    from chainplan.model.order import Pass
    from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
    from chainplan.report.diagram.drawn.windows import Cut
    from chainplan.report.wire.arcs import View


MOST_SHARED_JOINS = 12
"""A pass of more joins has a picture of its own: it is long enough to be followed by itself."""
MOST_TOGETHER = 6
"""Passes that share one picture at most: each has a line of its own in the title above it."""
SLACK_RINGS = 1.2
"""A pass that steps back by no more than this, in ring diameters, still goes one way: the two rings
of a pair are less than one apart, and may be welded in either order."""
MOST_NUMBERS = 16
"""Numbers in a strip, on average, up to which passes share it; two lanes hold three times as many,
so each still stands near its join. On tiles numbers stand at their joins."""


@frozen
class PassGroup:
    """Passes of one face and setting that follow one another, drawn on the same strips or tiles."""

    passes: tuple[Pass, ...]
    view: View
    cut: Cut
    points_mm: FloatArray  # (k, 2) joins of all passes in the order in which they are welded

    @property
    def first_step(self) -> int:
        """Index of the first join in the order's arrays."""
        return self.passes[0].first_step

    @property
    def joins(self) -> int:
        """Joins of all passes together."""
        return sum(work.joins for work in self.passes)

    @property
    def starts(self) -> list[int]:
        """Where each pass begins among the joins of the group."""
        return [work.first_step - self.first_step for work in self.passes]

    @property
    def way(self) -> int:
        """Which way all passes go along a strip: 1 to the right, −1 to the left, 0 to and fro."""
        if not self.cut.narrow:
            return 0
        inside = np.ones(max(self.joins - 1, 0), dtype=bool)
        inside[np.array(self.starts[1:], dtype=int) - 1] = False
        step = np.diff(self.points_mm[:, 0])[inside]
        back = SLACK_RINGS * self.cut.outer_mm
        if not step.size or not (np.all(step >= -back) or np.all(step <= back)):
            return 0
        return 1 if step.sum() >= 0 else -1


def group_passes(
    drawn: DrawnPiece, passes: Sequence[Pass], *, width_mm: float, height_mm: float
) -> list[PassGroup]:
    """Put small passes together as long as their numbers stand as clear as one pass's alone.

    Parameters
    ----------
    drawn : DrawnPiece
        The piece.
    passes : sequence of Pass
        In the order in which they are welded.
    width_mm, height_mm : float
        Room on the sheet for one strip or tile. [mm]
    """
    groups: list[PassGroup] = []
    for work in passes:
        alone = _group(drawn, (work,), width_mm, height_mm)
        if groups and _may_share(groups[-1], alone):
            both = _group(drawn, (*groups[-1].passes, work), width_mm, height_mm)
            if _as_clear(drawn, both, groups[-1], alone):
                groups[-1] = both
                continue
        groups.append(alone)
    return groups


def _group(
    drawn: DrawnPiece, passes: tuple[Pass, ...], width_mm: float, height_mm: float
) -> PassGroup:
    view = drawn.view(passes[0])
    points = np.concatenate([drawn.seen(view, drawn.rings_of(work)) for work in passes])
    cut = cut_piece(
        drawn.rings,
        view,
        points,
        int(drawn.plan.order.ring.size),
        rows=int(drawn.plan.layout.row.max(initial=0)) + 1,
        width_mm=width_mm,
        height_mm=height_mm,
    )
    return PassGroup(passes=passes, view=view, cut=cut, points_mm=points)


def _may_share(before: PassGroup, after: PassGroup) -> bool:
    """Tell whether nothing is done in between and all passes are small."""
    last, work = before.passes[-1], after.passes[0]
    return (
        len(before.passes) < MOST_TOGETHER
        and max(last.joins, work.joins) <= MOST_SHARED_JOINS
        and (
            not after.cut.narrow
            or before.joins + work.joins <= MOST_NUMBERS * len(after.cut.windows)
        )
        and last.face == work.face
        and setting_text(last.setting) == setting_text(work.setting)
        and tuple(before.view.toward) == tuple(after.view.toward)
    )


def _as_clear(drawn: DrawnPiece, both: PassGroup, *parts: PassGroup) -> bool:
    """Tell whether a shared picture is cut into no more parts, and its numbers stand apart."""
    if len(both.cut.windows) > max(len(part.cut.windows) for part in parts):
        return False
    if both.cut.narrow:
        return both.cut.true or not any(part.cut.true for part in parts)
    wide = number_width_mm(int(drawn.plan.order.ring.size), tight=True)
    box = (wide + TILE_AIR_MM[0], PIN_MM + TIGHT_HEIGHT_MM + TILE_AIR_MM[1])
    place = both.points_mm * both.cut.scale / box
    apart = np.abs(place[:, None] - place[None]).max(axis=2)
    np.fill_diagonal(apart, np.inf)
    return bool(apart.min() >= 1.0)
