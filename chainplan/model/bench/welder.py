"""The welder: what it can be set to, what a pulse is, what gas it takes."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class WelderSettings:
    """An invented bench profile: put in your own welder's figures from its manual."""

    lowest_power_j: float = setting(
        2.0, unit="J", means="lowest power", source=INVENTED, low=0.1, high=500.0
    )
    highest_power_j: float = setting(
        40.0, unit="J", means="highest power", source=INVENTED, low=0.5, high=1000.0
    )
    power_step_j: float = setting(
        1.0, unit="J", means="step of the power setting", source=INVENTED, low=0.01, high=50.0
    )
    spot_at_lowest_mm: float = setting(
        0.7,
        unit="mm",
        means="spot diameter at the lowest power",
        source=INVENTED,
        low=0.05,
        high=5.0,
    )
    spot_at_highest_mm: float = setting(
        1.7,
        unit="mm",
        means="spot diameter at the highest power",
        source=INVENTED,
        low=0.1,
        high=10.0,
    )
    pulse_s: float = setting(
        0.01, unit="s", means="length of one pulse", source=INVENTED, low=0.0005, high=1.0
    )
    pre_flow_s: float = setting(
        0.5, unit="s", means="argon before a pulse", source=INVENTED, low=0.0, high=10.0
    )
    post_flow_s: float = setting(
        1.0, unit="s", means="argon after a pulse", source=INVENTED, low=0.0, high=20.0
    )
    flow_l_min: float = setting(
        4.0, unit="L/min", means="argon flow, at 15 °C and 1.01325 bar", low=0.5, high=25.0
    )
    smoothing_hits: int = setting(
        0, means="pulses with the blunt tip after each join is closed", low=0, high=20
    )
    filler_wire_mm: float = setting(
        0.4, unit="mm", means="filler wire of the same metal", source=INVENTED, low=0.1, high=2.0
    )
    groove_angle_deg: float = setting(
        60.0, unit="°", means="V-groove in wire too thick to penetrate", low=20.0, high=120.0
    )
    cylinder_l: float = setting(
        10.0, unit="L", means="water capacity of the cylinder", source=INVENTED, low=0.1, high=100
    )
    cylinder_full_bar: float = setting(
        200.0, unit="bar", means="gauge pressure of a full cylinder", low=5, high=298
    )
    cylinder_now_bar: float = setting(
        150.0, unit="bar", means="what the gauge shows now", source=INVENTED, low=0, high=298
    )
    cylinder_left_bar: float = setting(
        5.0, unit="bar", means="gauge pressure at which a cylinder is changed", low=0, high=100
    )
    leak_l_h: float = setting(
        0.5, unit="L/h", means="leak while the cylinder is open", source=INVENTED, low=0, high=200
    )
    pulses_per_regrind: int = setting(
        150,
        means="pulses until the tip is ground again; copper and brass, which spatter onto it, may "
        "leave 40 to 100 (judgement)",
        source=INVENTED,
        low=1,
        high=100000,
    )
    regrinds_per_tip: int = setting(
        30, means="times one electrode can be ground", source=INVENTED, low=1, high=10000
    )
    regrind_min: float = setting(
        1.0, unit="min", means="grind the tip once", source=INVENTED, low=0, high=60
    )
    mains_share: float = setting(
        0.5,
        means="share of the mains energy that is in the pulse",
        source=INVENTED,
        low=0.05,
        high=1,
    )
    idle_w: float = setting(
        40.0, unit="W", means="power the welder draws when idle", source=INVENTED, low=0, high=5000
    )
