"""What stands by while joins are welded: how near they are, and how hot it gets where touched.

A part is one node of the network, which tells the mean of something as heavy as a ring; each spot
that a ring touches is one more (``conductance/spot.py``), with the same limit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.heat.conductance.spot import RADIUS_PER_WIRE, touching_share
from chainplan.heat.placing import conducts
from chainplan.model.thermal.touching import SpotTemperature, StandBy

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.job import HeatSensitivePart
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.heat import HeatModel, HeatNetwork, PartNode

NOT_SET = ("gold-plate", "rhodium-plate", "patina", "skin")
"""Kinds that are no thing to be set: a surface of the piece, and its wearer."""
FROM_COLD_S = 1800.0
"""Rest between the welds of rings that are closed last: the piece is cold again."""


def stand_by(
    layout: Layout,
    heat: HeatModel,
    parts: Sequence[HeatSensitivePart],
    *,
    joins_mm: FloatArray,
    in_place: BoolArray,
    ring: IntArray,
    start_s: FloatArray,
    near_mm: float,
) -> tuple[StandBy, ...]:
    """Judge what is there while a piece is welded: distances, and touching spots.

    Parameters
    ----------
    layout : Layout
        The piece.
    heat : HeatModel
        Its heat.
    parts : sequence of HeatSensitivePart
        What must not get hot; fittings that any heat may reach are told by their distance alone.
    joins_mm : array, shape (n, 3)
        Where the join of each ring lies. [mm]
    in_place : array, shape (n,)
        Which joins are welded in place.
    ring, start_s : array, shape (m,)
        The planned order: rings and the times of their first pulses.
    near_mm : float
        Within which distance joins are counted. [mm]
    """
    nodes: dict[str, list[PartNode]] = {}
    for node in heat.parts:
        if node.body is None:
            nodes.setdefault(node.name, []).append(node)
    found = []
    told = set()
    for part in parts:
        own = nodes.get(part.name, [])
        rings = sorted({r for node in own for r in node.near_rings})
        if part.stand is not None:
            own = [n for n in own if set(n.near_rings) == set(part.stand.rings)][:1]
            rings = sorted(part.stand.rings)
            told.add((part.name, part.stand.from_mm))
        away = _distances_mm(part, layout, joins_mm, rings)
        touching = [r for r in rings if in_place[r]]
        conductivity = conducts(part)
        planned = _spot(layout, heat, own, rings, conductivity, ring, start_s)
        alone = None
        if touching and part.kind not in NOT_SET:
            last = np.array(touching, dtype=np.int32)
            times: FloatArray = FROM_COLD_S * np.arange(1, len(last) + 1, dtype=np.float64)
            alone = _spot(layout, heat, own, rings, conductivity, last, times)
        found.append(
            StandBy(
                name=part.name,
                kind=part.kind,
                limit_c=part.limit_c,
                conductivity_w_m_k=conductivity,
                fitting=part.stand is not None,
                touching=tuple(touching),
                planned=planned[0],
                set_last=None if alone is None else alone[0],
                largest_share=planned[1],
                **_nearest(away, in_place, near_mm),
            )
        )
    for laid in layout.fittings:
        if laid.before and (laid.name, laid.from_mm) not in told:
            away = _along_mm(joins_mm, np.array(laid.from_mm), np.array(laid.to_mm))
            found.append(
                StandBy(
                    name=laid.name,
                    kind="",
                    limit_c=None,
                    conductivity_w_m_k=None,
                    fitting=True,
                    touching=tuple(r for r in laid.rings if in_place[r]),
                    **_nearest(away, in_place, near_mm),
                )
            )
    return tuple(found)


def _nearest(away: FloatArray, in_place: BoolArray, near_mm: float) -> dict[str, Any]:
    """Nearest join and how many are near, of those welded in place."""
    far = np.where(in_place, away, np.inf)
    ring = int(np.argmin(far)) if in_place.any() else -1
    return {
        "nearest_ring": ring,
        "nearest_mm": float(far[ring]) if ring >= 0 else 0.0,
        "joins_near": int(np.count_nonzero(far < near_mm)),
    }


def _along_mm(points: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Distance of points from a line between two ends, shape (n,). [mm]."""
    way = end - start
    long = float(way @ way)
    share = np.clip((points - start) @ way / long, 0.0, 1.0) if long > 0 else np.zeros(len(points))
    away: FloatArray = np.linalg.norm(points - start - share[:, None] * way, axis=1)
    return away


def _distances_mm(
    part: HeatSensitivePart, layout: Layout, joins_mm: FloatArray, rings: list[int]
) -> FloatArray:
    """Distance of every join from a part, shape (n,). [mm].

    A part on the chain is where the rings are that it touches: along the piece.
    """
    if part.stand is not None:
        ends = np.array(part.stand.from_mm), np.array(part.stand.to_mm)
        return _along_mm(joins_mm, *ends)
    x = layout.centre_mm[rings, 0] if rings else layout.centre_mm[:1, 0]
    away: FloatArray = np.maximum(
        np.maximum(x.min() - joins_mm[:, 0], joins_mm[:, 0] - x.max()), 0.0
    )
    return away


def _spot(
    layout: Layout,
    heat: HeatModel,
    nodes: Sequence[PartNode],
    touching: Sequence[int],
    conductivity_w_m_k: float | None,
    ring: IntArray,
    start_s: FloatArray,
) -> tuple[SpotTemperature | None, float]:
    """Temperatures of a part and its touching spot in a run; and the largest share."""
    if not nodes or len(ring) == 0:
        return None, 0.0
    peaks: dict[bool, list[tuple[float, float, float]]] = {False: [], True: []}
    largest = 0.0
    bodies = {node.node for node in nodes}
    spots = [node for node in heat.parts if node.body in bodies]
    seen = sorted({*touching, *bodies, *(node.node for node in spots)})
    for corner in ("usual", *heat.bad_corners):
        run = heat.simulate(corner, ring, start_s, peaks_of=seen)
        network = heat.networks[corner]
        body = max(float(run.peak_c[node]) for node in bodies)
        hottest = max([body, *(float(run.peak_c[own]) for own in touching)])
        spot = max([body, *(float(run.peak_c[node.node]) for node in spots)])
        for node in spots:
            share = touching_share(
                _joint_w_k(network, node),
                conductivity_w_m_k or 0.0,
                RADIUS_PER_WIRE * float(layout.wire_mm[node.near_rings[0]]),
            )
            largest = max(largest, share)
        peaks[corner != "usual"].append((body, spot, hottest))
    usual = peaks[False][0]
    high = [max(values) for values in zip(*peaks[True], usual, strict=False)]
    return (
        SpotTemperature(
            body_usual_c=usual[0],
            body_high_c=high[0],
            spot_usual_c=usual[1],
            spot_high_c=high[1],
            ring_usual_c=usual[2],
            ring_high_c=high[2],
        ),
        largest,
    )


def _joint_w_k(network: HeatNetwork, node: PartNode) -> float:
    """Conductance between a spot and the ring that touches it. [W/K]."""
    rows = (network.pairs == node.node).any(axis=1)
    rows &= (network.pairs == node.near_rings[0]).any(axis=1)
    return float(network.pair_w_k[rows][0])
