"""Wire: coils, cutting, springback, spares."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, PRACTICE, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSettings:
    """How rings are made from wire on this bench."""

    kerf_mm: float = setting(
        0.25,
        unit="mm",
        means="metal the saw takes out of each ring",
        source=PRACTICE,
        low=0,
        high=3,
    )
    mandrel_length_mm: float = setting(
        150.0,
        unit="mm",
        means="usable length of a mandrel, which limits a coil",
        source=INVENTED,
        low=5,
        high=2000,
    )
    coil_end_scrap_mm: float = setting(
        30.0,
        unit="mm",
        means="wire lost at the ends of each coil",
        source=INVENTED,
        low=0,
        high=1000,
    )
    join_yield: float = setting(
        0.97, means="share of joins good at first try", source=INVENTED, low=0.3, high=1
    )
    ring_scrap: float = setting(
        0.02, means="share of cut rings thrown away", source=INVENTED, low=0, high=0.5
    )
    replaced_share: float = setting(
        0.25,
        means="share of bad joins whose ring is replaced, not welded again",
        source=INVENTED,
        low=0,
        high=1,
    )
    rings_per_blade: int = setting(
        500, means="rings cut with one saw blade", source=INVENTED, low=1, high=1000000
    )
    short_risk: float = setting(
        0.05,
        means="accepted chance of running short of rings",
        source=INVENTED,
        low=0.0001,
        high=0.5,
    )
