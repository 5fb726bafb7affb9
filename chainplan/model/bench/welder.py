"""The welder: what it can be set to, what a pulse is, what gas it takes."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting


@dataclass(frozen=True, slots=True, kw_only=True)
class WelderSettings:
    """An invented bench profile: put in your own welder's figures from its manual."""

    lowest_power_j: float = setting("welder", "lowest_power_j")
    highest_power_j: float = setting("welder", "highest_power_j")
    power_step_j: float = setting("welder", "power_step_j")
    spot_at_lowest_mm: float = setting("welder", "spot_at_lowest_mm")
    spot_at_highest_mm: float = setting("welder", "spot_at_highest_mm")
    pulse_s: float = setting("welder", "pulse_s")
    pre_flow_s: float = setting("welder", "pre_flow_s")
    post_flow_s: float = setting("welder", "post_flow_s")
    flow_l_min: float = setting("welder", "flow_l_min")
    smoothing_hits: int = setting("welder", "smoothing_hits")
    filler_wire_mm: float = setting("welder", "filler_wire_mm")
    groove_angle_deg: float = setting("welder", "groove_angle_deg")
    cylinder_l: float = setting("welder", "cylinder_l")
    cylinder_full_bar: float = setting("welder", "cylinder_full_bar")
    cylinder_now_bar: float = setting("welder", "cylinder_now_bar")
    cylinder_left_bar: float = setting("welder", "cylinder_left_bar")
    leak_l_h: float = setting("welder", "leak_l_h")
    pulses_per_regrind: int = setting("welder", "pulses_per_regrind")
    regrinds_per_tip: int = setting("welder", "regrinds_per_tip")
    regrind_min: float = setting("welder", "regrind_min")
    mains_share: float = setting("welder", "mains_share")
    idle_w: float = setting("welder", "idle_w")
