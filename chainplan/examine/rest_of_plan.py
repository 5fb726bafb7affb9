"""The rest of a plan that was made again: nothing welded is asked for, nothing open left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.reading import PLAN, STEPS
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles


ROUNDED_S = 0.11
"""Starts are written to a tenth of a second."""


@check("the rest asks for every open join once")
def check_rest(files: PlanFiles, teller: Teller) -> None:
    """Compare the turns of each copy with what the plan says is welded; whole plans pass."""
    if "replan" not in files.plan:
        return
    batch, welded = files.plan["order"]["batch"], files.plan["replan"]["welded"]
    rows = list(
        zip(batch["piece"], batch["copy"], batch["first_step"], batch["steps"], strict=True)
    )
    for piece in files.pieces:
        open_joins = int((piece.rings["closed_beforehand"] == "no").sum())
        ring = piece.welded
        twice = len(ring) != len(np.unique(ring))
        teller.true(STEPS, f"{piece.name}, ring", not twice, "a ring twice", "each ring once")
        steps, rows_s = piece.steps["row_step"], piece.steps["row_start_s"]
        follows = np.diff(steps) == 1
        off_s = np.abs(np.diff(rows_s) - np.diff(piece.steps["start_s"]))[follows]
        teller.true(
            STEPS,
            f"{piece.name}, start_s",
            not (off_s > ROUNDED_S).any(),
            "another time between rows that follow each other",
            "that of their pace",
        )
        teller.true(STEPS, f"{piece.name}, step", bool((np.diff(steps) > 0).all()),
                    "steps out of order", "rising numbers")  # fmt: skip
        done = welded.get(piece.name, [])
        for copy in range(1, int(piece.record["quantity"]) + 1):
            asked = [
                ring[first : first + count]
                for name, number, first, count in rows
                if (name, number) == (piece.name, copy)
            ]
            rings = np.concatenate(asked) if asked else ring[:0]
            where = f"batch, {piece.name}, copy {copy}"
            alone = len(np.unique(rings)) == len(rings)
            teller.true(PLAN, where, alone, "a join asked for twice", "each join once")
            left = open_joins - (done[copy - 1] if copy <= len(done) else 0)
            teller.same(PLAN, f"{where}, joins left", len(rings), left)
