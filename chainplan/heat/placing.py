"""Which rings a heat-sensitive part touches."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError
from chainplan.frozen import frozen
from chainplan.heat.conductance.spot import conductivity_of
from chainplan.heat.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.job import HeatSensitivePart
    from chainplan.model.piece.layout import Layout


@frozen
class PlacedPart:
    """A part, or one stretch of a long one, and the rings that it touches."""

    name: str
    limit_c: float
    rings: tuple[int, ...]
    sink_w_k: float
    conductivity_w_m_k: float | None = None  # None: conducts like the rings


def place_parts(layout: Layout, parts: Sequence[HeatSensitivePart]) -> tuple[PlacedPart, ...]:
    """Find the rings that each part touches.

    A part at a place touches the rings whose centre lies within a quarter of their mean diameter
    of it along the piece (in its row, if one is given), the nearest ring at least. A part that
    covers a length is split into stretches of about two rings, each a node with the same limit. A
    fitting touches the rings that go through its eyes; an eye of metal spreads what they give.

    Raises
    ------
    InputError
        If a part lies off the piece or names a row that the piece does not have.
    """
    placed: list[PlacedPart] = []
    for part in parts:
        if part.stand is not None:
            rings = part.stand.rings
            placed.append(
                PlacedPart(
                    name=part.name,
                    limit_c=part.limit_c,
                    rings=rings,
                    sink_w_k=part.sink_w_k,
                    conductivity_w_m_k=conducts(part),
                )
            )
            continue
        placed.extend(_place_part(layout, part))
    return tuple(placed)


def conducts(part: HeatSensitivePart) -> float | None:
    """Conductivity behind the spots that rings touch; ``None``: they touch metal. [W/(m K)]."""
    if part.stand is not None and part.stand.of_metal:
        return None
    if part.conductivity_w_m_k is not None:
        return part.conductivity_w_m_k
    return conductivity_of(part.kind)


def _place_part(layout: Layout, part: HeatSensitivePart) -> list[PlacedPart]:
    x = layout.centre_mm[:, 0]
    half = float(np.median(layout.mean_radius_mm)) / 2
    start, end = float(x.min()), float(x.max())
    reach = max(layout.length_mm, end - start)
    where = f"part {part.name!r} of piece {part.piece!r}"
    if not 0 <= part.place_mm <= reach + 2 * half + part.length_mm:
        message = (
            f"{where}: place {part.place_mm:g} mm is off the piece, which is {reach:.0f} mm long"
        )
        raise InputError(message)
    candidates = np.arange(layout.rings)
    if part.row is not None:
        candidates = np.flatnonzero(layout.row == part.row - 1)
        if candidates.size == 0:
            message = f"{where}: row {part.row} is not there; rows 1 to {layout.row.max() + 1} are"
            raise InputError(message)
    from_mm = start + part.place_mm
    to_mm = from_mm + part.length_mm
    if part.from_end:
        to_mm = end - part.place_mm
        from_mm = to_mm - part.length_mm
    count = min(max(1, math.ceil(part.length_mm / (8 * half))), tuning().most_stretches)
    edges = np.linspace(from_mm, to_mm, count + 1)
    stretches = []
    for low, high in pairwise(edges.tolist()):
        distance = np.maximum(np.maximum(low - x[candidates], x[candidates] - high), 0.0)
        near = candidates[distance <= max(half, float(distance.min()) + 1e-9)]
        if part.length_mm == 0 and part.row is None:
            # a part hangs on the rings beside it, not on a whole column of a sheet
            middle = np.median(layout.centre_mm[near, 1])
            across = np.abs(layout.centre_mm[near, 1] - middle)
            near = near[across <= max(2 * half, float(across.min()) + 1e-9)]
        stretches.append(
            PlacedPart(
                name=part.name,
                limit_c=part.limit_c,
                rings=tuple(int(ring) for ring in near),
                sink_w_k=part.sink_w_k / count,
                conductivity_w_m_k=conducts(part),
            )
        )
    return stretches
