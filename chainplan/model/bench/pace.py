"""The pace of the hand: handling, moving, turning, changing the setting."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, SLOW, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceSettings:
    """Seconds at the welder; measure your own and put them in."""

    handle_s: float = setting(
        6.0,
        unit="s",
        means="aim and weld one join, all hits but extra ones; copper, and wire below 0.6 mm, may "
        "take 8 to 12 (judgement)",
        source=SLOW,
        low=0.5,
        high=600,
    )
    extra_hit_s: float = setting(
        2.0, unit="s", means="each hit after the first", source=INVENTED, low=0.1, high=60
    )
    move_mm_s: float = setting(
        30.0,
        unit="mm/s",
        means="how fast the hand moves along the piece",
        source=INVENTED,
        low=1,
        high=1000,
    )
    turn_s: float = setting(
        20.0, unit="s", means="turn the piece over", source=INVENTED, low=0, high=600
    )
    change_setting_s: float = setting(
        30.0, unit="s", means="change power or tip", source=INVENTED, low=0, high=3600
    )
    spoilt_percent: float = setting(
        5.0,
        unit="%",
        means="chance that the first weld after a change of setting spoils its ring",
        source=INVENTED,
        low=0,
        high=100,
    )
    fingertip_mm: float = setting(
        10.0,
        unit="mm",
        means="stretch of the piece that one fingertip covers",
        source=INVENTED,
        low=2,
        high=50,
    )
    interleave: bool = setting(
        True, means="yes: weld another piece of the batch while one cools; no: one piece at a time"
    )
    turns_worth_changes: float = setting(
        3.0,
        means="pieces of different settings are welded in turns only if that saves more than so "
        "many times what the changes of setting cost, spoilt rings counted",
        low=1,
        high=1000,
    )
    change_piece_s: float = setting(
        20.0,
        unit="s",
        means="put one piece down and take up another",
        source=INVENTED,
        low=0,
        high=3600,
    )
