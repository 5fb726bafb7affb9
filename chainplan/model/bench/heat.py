"""Heat: what is uncertain, with its range, and the temperature limits."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSettings:
    """Uncertain numbers as low, usual, high; limits at the bench."""

    room_c: float = setting(
        21.0, unit="°C", means="room temperature", source=INVENTED, low=-10, high=50
    )
    arc_share_low: float = setting(
        0.4,
        means="share of the set energy that stays in the ring, low",
        source="judgement",
        low=0.05,
        high=1,
    )
    arc_share_usual: float = setting(
        0.6,
        means="the same, usual",
        source="judgement: published arc efficiency less losses",
        low=0.05,
        high=1,
    )
    arc_share_high: float = setting(
        0.8, means="the same, high", source="judgement", low=0.05, high=1
    )
    highest_interpass_c: float = setting(
        60.0,
        unit="°C",
        means="a join is not welded while its ring is warmer than this",
        source=INVENTED,
        low=20,
        high=500,
    )
    finger_limit_c: float = setting(
        48.0,
        unit="°C",
        means="warmest that a ring between the fingers may be",
        source="burn threshold for 10 min on any material, ISO 13732-1, from memory",
        low=30,
        high=80,
    )
    finger_c: float = setting(33.0, unit="°C", means="skin of the fingers", low=20, high=40)
    hold_from_mm: float = setting(
        15.0,
        unit="mm",
        means="fingers hold the piece from this distance off the join",
        source=INVENTED,
        low=0,
        high=500,
    )
    hold_to_mm: float = setting(
        35.0,
        unit="mm",
        means="… to this distance, on both sides",
        source=INVENTED,
        low=0,
        high=1000,
    )
    held_bare: bool = setting(True, means="yes: fingers hold the piece; no: tweezers or a clamp do")
