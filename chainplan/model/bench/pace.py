"""The pace of the hand: handling, moving, turning, changing the setting."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceSettings:
    """Seconds at the welder; measure your own and put them in."""

    handle_s: float = setting("pace", "handle_s")
    extra_hit_s: float = setting("pace", "extra_hit_s")
    move_mm_s: float = setting("pace", "move_mm_s")
    turn_s: float = setting("pace", "turn_s")
    change_setting_s: float = setting("pace", "change_setting_s")
    spoilt_percent: float = setting("pace", "spoilt_percent")
    fingertip_mm: float = setting("pace", "fingertip_mm")
    interleave: bool = setting("pace", "interleave")
    turns_worth_changes: float = setting("pace", "turns_worth_changes")
    change_piece_s: float = setting("pace", "change_piece_s")
