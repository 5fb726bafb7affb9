"""Fittings that are there while the piece is welded, as bodies in the electrode's way.

Of a fitting only its length and its eyes are known. What lies between the eyes is taken as a rod
with round ends, a quarter of the length to either side of its line: a clasp of 12 mm is 6 mm thick,
an oval stone of 18 mm 8 mm. The eyes are thin, and the electrode passes them as it does wire.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.join.reaching.clearance import make_circles, point_gaps_mm

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray
    from chainplan.model.piece.layout import LaidFitting, Layout

HALF_PER_LENGTH = 0.25
"""Half of a body's thickness over its length. Judgement: clasps and stones are slimmer, bails and
rings hardly thicker."""
MOST_HALF_MM = 4.0
"""Half of the thickness at most. Judgement: what is longer than 16 mm is long, not thick."""
EYE_WIRES = 1.5
"""So many wires of the ring that pulls at an eye lie before the body. Judgement: the ring's own
wire, and half of it for the eye."""


def fitting_bodies(layout: Layout) -> tuple[FloatArray, FloatArray]:
    """Find the balls of which the bodies consist: centres, shape (k, 3), and radii, (k,). [mm].

    The rod's balls stand half a radius apart, so between them it is 3 % thinner than it should be.
    """
    centres, radii = [np.zeros((0, 3))], [np.zeros(0)]
    for fitting in layout.fittings:
        if fitting.before:
            centre, radius_mm = _body(layout, fitting)
            centres.append(centre)
            radii.append(np.full(len(centre), radius_mm))
    return np.concatenate(centres), np.concatenate(radii)


def _body(layout: Layout, fitting: LaidFitting) -> tuple[FloatArray, float]:
    ends = np.array([fitting.from_mm, fitting.to_mm], dtype=float)
    long_mm = float(np.linalg.norm(ends[1] - ends[0]))
    rings = list(fitting.rings)
    if long_mm <= 0 or not rings:
        return np.zeros((0, 3)), 0.0
    wire = layout.wire_mm[rings]
    gaps, _ = point_gaps_mm(
        ends,
        make_circles(
            layout.centre_mm[rings], layout.normal[rings], layout.mean_radius_mm[rings], wire
        ),
    )
    room_mm = EYE_WIRES * float(wire.max())
    before = [room_mm if gap <= room_mm else 0.0 for gap in gaps.min(axis=1).tolist()]
    free_mm = long_mm - sum(before)
    if free_mm <= 0:
        return np.zeros((0, 3)), 0.0
    half_mm = min(HALF_PER_LENGTH * long_mm, MOST_HALF_MM, free_mm / 2)
    span_mm = free_mm - 2 * half_mm
    count = 1 + math.ceil(span_mm / (half_mm / 2) - 1e-9)
    at = before[0] + half_mm + np.linspace(0.0, span_mm, count)
    way = (ends[1] - ends[0]) / long_mm
    centre: FloatArray = ends[0] + at[:, None] * way
    return centre, half_mm
