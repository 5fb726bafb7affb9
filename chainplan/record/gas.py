"""What is left in the cylinder: the last reading less what was shot since."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from chainplan.errors import InputError
from chainplan.record.kept.joins import DONE
from chainplan.reference.gas import STANDARD_PRESSURE_BAR, contents_l, pressure_of_contents_bar

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.model.workshop.record import KnownPlan
    from chainplan.record.kept.joins import Places
    from chainplan.record.kept.store import Record
    from chainplan.record.kept.welds import Welds


class Cylinder(NamedTuple):
    """What the cylinder holds now, as far as the record tells."""

    bar: float | None  # on the gauge
    usable_l: float | None  # above the pressure at which it is changed
    joins: int | None


def puff_l(bench: Mapping[str, Any]) -> float:
    """Argon of one pulse by the plan's settings, in litres."""
    seconds = sum(float(bench[f"welder.{name}_s"]) for name in ("pre_flow", "pulse", "post_flow"))
    return seconds * float(bench["welder.flow_l_min"]) / 60


def gauge_contents_l(capacity_l: float, gauge_bar: float) -> float:
    """Argon in a cylinder whose gauge shows so much, in litres at 15 °C and 1.01325 bar."""
    return contents_l(capacity_l, gauge_bar + STANDARD_PRESSURE_BAR)


def cylinder_now(
    record: Record, plan: KnownPlan, welds: Welds, state: np.ndarray, places: Places
) -> Cylinder:
    """Say what is left: from the last reading, or from what the job says it began with."""
    bench = plan.bench
    try:
        capacity = float(bench["welder.cylinder_l"])
        began, changed = (float(bench[f"welder.cylinder_{name}_bar"]) for name in ("now", "left"))
        each_l = puff_l(bench)
    except (KeyError, TypeError, ValueError):
        return Cylinder(None, None, None)
    last = record.rows(
        "SELECT at_s, bar FROM event_now WHERE kind IN ('cylinder', 'new cylinder') "
        "ORDER BY at_s DESC, seq DESC LIMIT 1"
    )
    since_s, bar = last[0] if last else (-np.inf, began)
    pulses = int(welds.hits[welds.at_s > since_s].sum())
    try:
        held_l = max(gauge_contents_l(capacity, bar) - pulses * each_l, 0.0)
        gauge = max(pressure_of_contents_bar(capacity, held_l) - STANDARD_PRESSURE_BAR, 0.0)
        usable_l = max(held_l - gauge_contents_l(capacity, changed), 0.0)
    except InputError:  # a reading beyond the table of the gas
        return Cylinder(bar, None, None)
    hits = [
        piece.hits[state[places.rings(piece, copy)][piece.ring - 1] != DONE]
        for piece in plan.pieces
        for copy in range(1, piece.copies + 1)
    ]
    left = np.concatenate([*hits, np.zeros(0, dtype=np.int32)])
    mean_hits = float(left.mean()) if len(left) else 1.0
    return Cylinder(gauge, usable_l, int(usable_l / (each_l * mean_hits)) if each_l > 0 else None)
