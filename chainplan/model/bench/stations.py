"""Time at each station of the workshop, the welder apart."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSettings:
    """Minutes and seconds at the stations; invented, so measure your own."""

    coil_min: float = setting(
        3.0, unit="min", means="wind one coil", source=INVENTED, low=0, high=600
    )
    cut_s: float = setting(
        2.0, unit="s", means="cut one ring off a coil", source=INVENTED, low=0, high=600
    )
    tumble_min: float = setting(
        5.0,
        unit="min",
        means="hands-on time to tumble a batch of rings",
        source=INVENTED,
        low=0,
        high=600,
    )
    inspect_s: float = setting(
        2.0, unit="s", means="look at one join under the loupe", source=INVENTED, low=0, high=600
    )
