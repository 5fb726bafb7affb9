"""The electrode, and what a join must leave free around it."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class ElectrodeSettings:
    """Shape of the electrode and rules for where a join may lie."""

    tip_half_angle_deg: float = setting(
        12.0, unit="°", means="half the angle of the ground cone, sharp tip", low=3.0, high=60.0
    )
    blunt_tip_half_angle_deg: float = setting(
        30.0, unit="°", means="half the angle of the ground cone, blunt tip", low=5.0, high=80.0
    )
    shank_mm: float = setting(
        1.0,
        unit="mm",
        means="electrode diameter behind the cone",
        source=INVENTED,
        low=0.2,
        high=5.0,
    )
    stick_out_mm: float = setting(
        6.0,
        unit="mm",
        means="electrode length out of its holder",
        source=INVENTED,
        low=1.0,
        high=40.0,
    )
    holder_mm: float = setting(
        6.0, unit="mm", means="diameter of the holder's nose", source=INVENTED, low=1.0, high=40.0
    )
    clearance_mm: float = setting(
        0.1, unit="mm", means="air to leave between electrode and any other ring", low=0.0, high=5.0
    )
    spot_margin_mm: float = setting(
        0.1, unit="mm", means="extra room around the molten spot", low=0.0, high=2.0
    )
    two_sides_from_mm: float = setting(
        1.3,
        unit="mm",
        means="wire from which pulses come from two sides",
        source="trade article: silver and gold heavier than about 1.3 mm (16 AWG)",
        low=0.3,
        high=10.0,
    )
    held_in_air: bool = setting(
        True,
        means="yes: the piece can be held so that an edge faces the electrode; no: lies on a block",
    )
    beforehand_distance_mm: float = setting(
        10.0,
        unit="mm",
        means="rings nearer than this to a heat-sensitive part are closed beforehand where wanted",
        source=INVENTED,
        low=0.0,
        high=200.0,
    )
