"""Time at each station of the workshop, the welder apart."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSettings:
    """Minutes and seconds at the stations of a practised hand; measure your own.

    They lean to the slow side of practice. Somebody new to the work takes two to three times as
    long, which is told beside them.
    """

    coil_min: float = setting("stations", "coil_min")
    cut_s: float = setting("stations", "cut_s")
    tumble_min: float = setting("stations", "tumble_min")
    tumble_rings: int = setting("stations", "tumble_rings")
    tumbling_min: float = setting("stations", "tumbling_min")
    weave_ring_s: float = setting("stations", "weave_ring_s")
    weave_link_s: float = setting("stations", "weave_link_s")
    learning_percent: float = setting("stations", "learning_percent")
    set_up_min: float = setting("stations", "set_up_min")
    fitting_min: float = setting("stations", "fitting_min")
    groove_s: float = setting("stations", "groove_s")
    rework_s: float = setting("stations", "rework_s")
    clean_min: float = setting("stations", "clean_min")
    finish_min: float = setting("stations", "finish_min")
    quick_share: float = setting("stations", "quick_share")
    slow_share: float = setting("stations", "slow_share")
    new_least_share: float = setting("stations", "new_least_share")
    new_most_share: float = setting("stations", "new_most_share")
    torch_joins_a_round: int = setting("stations", "torch_joins_a_round")
    torch_round_min: float = setting("stations", "torch_round_min")
    torch_solder_mg: float = setting("stations", "torch_solder_mg")
    inspect_s: float = setting("stations", "inspect_s")
