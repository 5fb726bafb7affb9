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
