"""The return lead: how the pulse's current goes back, and what that costs the hand."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, PRACTICE, setting
from chainplan.model.kinds import ReturnLead


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadSettings:
    """How the piece is earthed; current that crosses many loose contacts sparks and marks them."""

    return_lead: str = setting(
        "",
        means="how the current goes back: earthed tweezers on each ring, a clip near the join that "
        "is moved along, or a metal block under the whole piece; empty: tweezers or clip, "
        "whichever makes the quicker plan",
        source=PRACTICE,
        choices=tuple(ReturnLead),
    )
    clip_reach_mm: float = setting(
        30.0,
        unit="mm",
        means="farthest join from the clip: beyond, the current crosses so many contacts between "
        "rings that these spark, mark and may fuse",
        source=PRACTICE,
        low=2,
        high=1000,
    )
    clip_reach_contacts: int = setting(
        0,
        means="most contacts between rings that the current may cross from the clip to the join, "
        "beside the distance: 2 is to a ring beyond the neighbour; 0: by the distance alone",
        source=PRACTICE,
        low=0,
        high=200,
    )
    clip_move_s: float = setting(
        10.0,
        unit="s",
        means="take the clip off and put it on another ring",
        source=INVENTED,
        low=0,
        high=600,
    )
    tweezers_s: float = setting(
        1.0,
        unit="s",
        means="grip a ring with the earthed tweezers, on top of aiming at it",
        source=INVENTED,
        low=0,
        high=60,
    )
