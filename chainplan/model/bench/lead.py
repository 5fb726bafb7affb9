"""The return lead: how the pulse's current goes back, and what that costs the hand."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting
from chainplan.model.kinds import ReturnLead


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadSettings:
    """How the piece is earthed; current that crosses many loose contacts sparks and marks them."""

    return_lead: str = setting("lead", "return_lead", choices=tuple(ReturnLead))
    clip_reach_mm: float = setting("lead", "clip_reach_mm")
    clip_reach_contacts: int = setting("lead", "clip_reach_contacts")
    clip_move_s: float = setting("lead", "clip_move_s")
    tweezers_s: float = setting("lead", "tweezers_s")
