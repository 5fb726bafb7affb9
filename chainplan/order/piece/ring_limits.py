"""Every limit on how warm a ring may be before its weld: the metals' and the user's own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.order import LimitKind
from chainplan.model.thermal.heat import RingLimit

if TYPE_CHECKING:
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.thermal.heat import HeatModel


def list_ring_limits(heat: HeatModel, limits: HeatSettings) -> tuple[RingLimit, ...]:
    """List the user's own limit, if there is one, and those of the metals."""
    own_c = limits.kept_interpass_c
    if limits.highest_interpass_c <= 0:
        return heat.ring_limits
    rings = heat.networks[heat.corners[0]].join_heat_j.shape[0]
    own = RingLimit(
        kind=LimitKind.INTERPASS,
        name=str(LimitKind.INTERPASS),
        limit_c=np.full(rings, own_c),
        why="bench setting highest interpass c",
    )
    return (own, *heat.ring_limits)
