"""How warm a ring may be before its weld, as the files say it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.examine.reading import PieceFiles

BEFORE_KINDS = ("interpass", "metal", "even welds")
"""Kinds of limits that are about rings before their welds: the user's own, and the metals'."""


def before_rows(piece: PieceFiles) -> list[dict[str, Any]]:
    """Limits on how warm a ring may be before its weld: the user's own and the metals'."""
    return [row for row in piece.order["limits"] if row["kind"] in BEFORE_KINDS]


def steps_under(piece: PieceFiles, row: dict[str, Any]) -> BoolArray:
    """Tell the steps that a limit is about: all, or those of the named ring's metal, (k,)."""
    if row["kind"] == "interpass":
        return np.ones(len(piece.welded), dtype=np.bool_)
    metal = piece.rings["metal"]
    named = int(row["ring"]) - 1
    if not 0 <= named < len(metal):
        return np.zeros(len(piece.welded), dtype=np.bool_)
    same: BoolArray = metal[piece.welded] == metal[named]
    return same


def limit_before_c(piece: PieceFiles) -> FloatArray:
    """How warm each step's ring may be before its weld, (k,), inf where it may be as it gets."""
    return np.array([float(text) if text else np.inf for text in piece.steps["limit_before_c"]])
