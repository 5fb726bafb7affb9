"""How a hand counts along a piece: in rings, pairs, threes or fours, in rows and columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import Form

if TYPE_CHECKING:
    from chainplan.arrays import IntArray
    from chainplan.model.piece.layout import Layout

UNIT_WORDS = {2: "pair", 3: "three", 4: "four"}
"""What makers call rings that go through the same other rings; a single one is a ring."""
USUAL_SHARE = 0.8
"""Share of the rings that must belong to such units; with fewer, every ring counts for itself."""


def count_units(layout: Layout) -> tuple[str, IntArray]:
    """Find the unit that a hand counts along a piece, and the number of each ring's unit.

    Rings that follow one another and go through exactly the same other rings are what makers call
    a pair (or a three).

    Returns
    -------
    str
        "ring", "pair", "three" or "four".
    array, shape (n,)
        Number of the unit that each ring belongs to, from 0.
    """
    rings = layout.rings
    every_ring = "ring", np.arange(rings, dtype=np.int32)
    if layout.links.shape[0] == 0 or rings < 3:
        return every_ring
    # Rings with the same links have the same sum of the tags of what they are linked to.
    tag = np.random.default_rng(1).integers(1, 2**40, rings).astype(float)
    first, second = layout.links[:, 0], layout.links[:, 1]
    seen = np.bincount(first, tag[second], rings) + np.bincount(second, tag[first], rings)
    twin = (seen[1:] == seen[:-1]) & (seen[1:] > 0)
    number = np.concatenate([[0], np.cumsum(~twin)]).astype(np.int32)
    sizes = np.bincount(np.bincount(number))
    sizes[:2] = 0
    size = int(np.argmax(sizes * np.arange(sizes.shape[0])))
    if size not in UNIT_WORDS or sizes[size] * size < USUAL_SHARE * rings:
        return every_ring
    return UNIT_WORDS[size], number


def sheet_section(layout: Layout) -> int | None:
    """Find the section whose rows and columns the piece is counted in; None for a chain.

    A strip or sheet with more than one row, alone or with rings that hold fittings to it.
    """
    found = [k for k, s in enumerate(layout.sections) if s.form != Form.CONNECTING]
    if len(found) != 1 or layout.sections[found[0]].form not in (Form.STRIP, Form.SHEET):
        return None
    return found[0] if layout.row[layout.section == found[0]].max(initial=0) > 0 else None
