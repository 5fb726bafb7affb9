"""What the bench sheet knows of the weaving: bags of rings, and every line of a piece from them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.kinds import Form
from chainplan.reference import find_metal
from chainplan.reference.colours import tint_of_metal
from chainplan.report.text.weaving import cut_into_lines, fill_bags, say_runs

if TYPE_CHECKING:
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.reference.texts import Texts

MOST_WOVEN = 40_000
"""Rings up to which a piece's lines are put into the sheet: as many as it can show in a picture."""


def metal_title(plan: Plan, metal: str, t: Texts) -> str:
    """Call a metal by its title; in other languages than English as their texts do."""
    title = find_metal(metal, own=plan.job.metals).title
    if t.language == "en" or metal in plan.job.metals:
        return title
    return t.metal(metal)


def weaving_content(plan: Plan, piece: PiecePlan, t: Texts) -> dict[str, Any]:
    """Return a piece's bags and lines as plain values, as ``weaving``; ``t``: what bags are called.

    Loose joins and huge pieces have none. A line is ``[section, row, ring, runs, text]``: its
    section from 0, its row from 1 or 0 in a chain, its first ring from 0, rings of a bag one after
    another as ``[count, bag, …]``, and the same in words. Where the rings of a line do not follow
    each other, ``line_of`` has the line of each ring.
    """
    layout = piece.layout
    if layout.rings > MOST_WOVEN or all(section.form == Form.LOOSE for section in layout.sections):
        return {}
    bags, bag = fill_bags(layout)
    cuts = list(cut_into_lines(layout))
    line_of = np.zeros(layout.rings, dtype=np.int32)
    lines: list[list[Any]] = []
    for number, cut in enumerate(cuts):
        own = bag[cut.ring]
        line_of[cut.ring] = number
        starts = np.flatnonzero(np.diff(own, prepend=-1))
        counts = np.diff(np.append(starts, len(own)))
        runs = np.column_stack([counts, own[starts]]).ravel().tolist()
        lines.append([cut.section, cut.row, int(cut.ring[0]), runs, say_runs(own)])
    content: dict[str, Any] = {
        "bags": [
            {
                "letter": item.letter,
                "metal": item.metal,
                "title": metal_title(plan, item.metal, t),
                "temper": item.temper,
                "temper_said": t(f"temper.{item.temper}"),
                "wire": f"{item.wire_mm:.3g}",
                "inner": f"{item.inner_mm:.3g}",
                "rings": item.rings,
                "tint": tint_of_metal(item.metal),
            }
            for item in bags
        ],
        "lines": lines,
    }
    if (np.diff(line_of) < 0).any():
        content["line_of"] = line_of.tolist()
    return {"weaving": content}
