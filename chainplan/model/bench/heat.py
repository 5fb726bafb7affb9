"""Heat: what is uncertain, with its range, and the temperature limits."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSettings:
    """Uncertain numbers as low, usual, high; limits at the bench."""

    room_c: float = setting("heat", "room_c")
    arc_share_low: float = setting("heat", "arc_share_low")
    arc_share_usual: float = setting("heat", "arc_share_usual")
    arc_share_high: float = setting("heat", "arc_share_high")
    warm_share: float = setting("heat", "warm_share")
    highest_interpass_c: float = setting("heat", "highest_interpass_c")
    finger_limit_c: float = setting("heat", "finger_limit_c")
    contact_s: float = setting("heat", "contact_s")
    reserve_k: float = setting("heat", "reserve_k")
    reserve_percent: float = setting("heat", "reserve_percent")
    finger_c: float = setting("heat", "finger_c")
    exposure: float = setting("heat", "exposure")
    link_load_low_mn: float = setting("heat", "link_load_low_mn")
    link_load_usual_mn: float = setting("heat", "link_load_usual_mn")
    link_load_high_mn: float = setting("heat", "link_load_high_mn")
    hold_from_mm: float = setting("heat", "hold_from_mm")
    hold_to_mm: float = setting("heat", "hold_to_mm")
    held_bare: bool = setting("heat", "held_bare")
    sides_held: int = setting("heat", "sides_held")
    end_tweezers: bool = setting("heat", "end_tweezers")

    @property
    def kept_finger_c(self) -> float:
        """Warmest that a plan lets the metal between the fingers be. [°C]."""
        return self.finger_limit_c - self.reserve_k

    @property
    def kept_interpass_c(self) -> float:
        """Warmest that a plan lets a ring be before its weld by the user's own limit; 0: none."""
        own_c = self.highest_interpass_c
        return own_c - self.reserve_k if own_c > 0 else 0.0
