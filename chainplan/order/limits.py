"""How near an order comes to every limit, and what fingers and parts go through."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import LimitCheck
from chainplan.order.field import highest_after_k
from chainplan.order.verify import ALLOWANCE_K

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.heat import HeatSettings
    from chainplan.model.heat import HeatModel, HeatRun
    from chainplan.order.grip import Grips
    from chainplan.order.situation import Settled, Situation


_MOST_TRACED = 300
_DIGITS = 6  # what lies below depends on how a sum was split


def usual_corner(heat: HeatModel) -> str:
    """Name of the corner with the usual values."""
    bad = set(heat.bad_corners)
    return next((corner for corner in heat.corners[1:] if corner not in bad), heat.corners[0])


def check_limits(
    heat: HeatModel,
    limits: HeatSettings,
    ring: IntArray,
    grips: Grips | None,
    runs: Mapping[str, HeatRun],
    held_c: Mapping[str, FloatArray],
) -> tuple[LimitCheck, ...]:
    """Compare simulated runs with every limit: low, usual and bad end.

    Parameters
    ----------
    heat, limits
        The model and the limits.
    ring : array, shape (k,)
        Ring of each step.
    grips : Grips or None
        Where the fingers were looked at.
    runs : mapping
        One run a corner.
    held_c : mapping
        How warm it is at the fingers at the steps of ``grips``, in each corner. [°C]

    Returns
    -------
    tuple of LimitCheck
        Interpass first, then the fingers (if anything is held), then the parts.
    """
    groups = {"low": (heat.corners[0],), "usual": (usual_corner(heat),), "high": heat.bad_corners}

    def check(name: str, where: str, limit_c: float, values: Mapping[str, float]) -> LimitCheck:
        low, usual, high = (max(values[c] for c in group) for group in groups.values())
        return LimitCheck(
            name=name,
            where=where,
            limit_c=limit_c,
            low_c=low,
            usual_c=usual,
            high_c=high,
            holds=high <= limit_c + ALLOWANCE_K,
        )

    before = {corner: float(run.before_c.max()) for corner, run in runs.items()}
    hot = max(heat.bad_corners, key=lambda corner: before[corner])
    worst = int(np.argmax(runs[hot].before_c))
    where = f"ring {int(ring[worst]) + 1}, step {worst + 1}"
    out = [check("interpass", where, limits.highest_interpass_c, before)]
    if grips is not None:
        held = {corner: float(warm.max()) for corner, warm in held_c.items()}
        if np.isfinite(list(held.values())).all():
            where = "coolest place in reach, on the worse side of the join"
            if grips.steps.shape[0] < ring.shape[0]:
                where += f", looked at in {grips.steps.shape[0]} of {ring.shape[0]} steps"
            out.append(check("fingers", where, limits.finger_limit_c, held))
    for part in heat.parts:
        peaks = {corner: float(run.peak_c[part.node]) for corner, run in runs.items()}
        near = ", ".join(str(number + 1) for number in sorted(part.near_rings)[:4])
        where = f"next to ring {near}" if near else "on the piece"
        out.append(check(part.name, where, part.limit_c, peaks))
    return tuple(out)


def trace(
    situation: Situation,
    settled: Settled,
    grips: Grips | None,
    held_c: Mapping[str, FloatArray],
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Temperatures against time at the fingers and at every part, at the bad end.

    Returns
    -------
    array, dict of arrays
        Times, and for "fingers" and each part's name the temperatures: the fingers' then (NaN where
        nothing is held, left out if nothing ever is), a part's highest from then to the next time.
        [s], [°C]
    """
    start_s, parts = settled.start_s, situation.heat.parts
    steps = np.arange(start_s.shape[0]) if grips is None else grips.steps
    shown = steps[:: max(1, steps.shape[0] // _MOST_TRACED)]
    nodes = np.asarray([part.node for part in parts], dtype=np.int32)
    traces: dict[str, FloatArray] = {}
    for field in situation.fields:
        if grips is not None and grips.row.size:
            warm = held_c[field.corner][np.isin(steps, shown)]
            warm[~np.isfinite(warm)] = np.nan
            traces["fingers"] = np.fmax(traces.get("fingers", warm), warm)
        if parts:
            highest = highest_after_k(field, settled.order, start_s, nodes) + field.base_c[nodes]
            for column, part in enumerate(parts):
                here = np.maximum.reduceat(highest[:, column], shown)
                traces[part.name] = np.maximum(traces.get(part.name, here), here)
    return start_s[shown], {name: np.round(warm, _DIGITS) for name, warm in traces.items()}
