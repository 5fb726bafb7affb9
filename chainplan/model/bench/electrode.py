"""The electrode, and what a join must leave free around it."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting


@dataclass(frozen=True, slots=True, kw_only=True)
class ElectrodeSettings:
    """Shape of the electrode and rules for where a join may lie."""

    tip_half_angle_deg: float = setting("electrode", "tip_half_angle_deg")
    blunt_tip_half_angle_deg: float = setting("electrode", "blunt_tip_half_angle_deg")
    shank_mm: float = setting("electrode", "shank_mm")
    stick_out_mm: float = setting("electrode", "stick_out_mm")
    holder_mm: float = setting("electrode", "holder_mm")
    clearance_mm: float = setting("electrode", "clearance_mm")
    spot_margin_mm: float = setting("electrode", "spot_margin_mm")
    two_sides_from_mm: float = setting("electrode", "two_sides_from_mm")
    held_in_air: bool = setting("electrode", "held_in_air")
    beforehand_distance_mm: float = setting("electrode", "beforehand_distance_mm")
