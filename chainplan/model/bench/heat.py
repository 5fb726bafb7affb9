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
    warm_share: float = setting(
        0.12,
        means="a join is not welded while its ring is further than this share of the way from "
        "room to solidus, so that one setting melts all joins alike; 0: no such limit",
        source="judgement: 0.10 to 0.15 is 80 to 115 K in silver, about when makers let it cool",
        low=0,
        high=0.9,
    )
    highest_interpass_c: float = setting(
        0.0,
        unit="°C",
        means="your own limit: no join is welded while its ring is warmer; 0: none. A low one "
        "costs hours of waiting on a dense piece",
        source="none by default: your own experience",
        low=0,
        high=500,
    )
    finger_limit_c: float = setting(
        48.0,
        unit="°C",
        means="warmest that bare metal between the fingers may be: 48 held for minutes, 51 for "
        "10 s to 1 min, 65 for a second; 43 to 45 already hurts",
        source="burn thresholds of bare metal, IEC 62368-1 table 42 after ISO 13732-1, as quoted "
        "elsewhere; pain from a review of skin studies, Health Physics 121 (2021) 234",
        low=30,
        high=80,
    )
    contact_s: float = setting(
        0.0,
        unit="s",
        means="how long fingers stay in one place: the limit for them is then the burn threshold "
        "of bare metal for so long a contact; 0: as above",
        source="ISO 13732-1 and others, with their values in the program's table skin",
        low=0,
        high=100000,
    )
    reserve_k: float = setting(
        0.0,
        unit="K",
        means="kept below every limit on top of the bad end of all uncertain numbers; a limit that "
        "one weld alone comes nearer to is then set aside by name",
        source="none by default: the bad end is a reserve already",
        low=0,
        high=100,
    )
    reserve_percent: float = setting(
        0.0,
        unit="%",
        means="plausible benches of a hundred, drawn by chance, that are to keep every limit: "
        "where the bad end alone leaves fewer, an order that keeps more back is looked for; 0: as "
        "many as the bad end leaves, some 97 to 99",
        source="none by default: the bad end is a reserve already",
        low=0,
        high=99.9,
    )
    finger_c: float = setting(33.0, unit="°C", means="skin of the fingers", low=20, high=40)
    exposure: float = setting(
        0.0,
        means="share of a lone ring's loss to air that a ring of this piece keeps; 0: by weave",
        source="judgement by weave, or your own cooling curve",
        low=0,
        high=2,
    )
    link_load_low_mn: float = setting(
        0.1,
        unit="mN",
        means="force that presses linked rings together, low (0.1 mN = 10 mg)",
        source="judgement",
        low=0,
        high=1000,
    )
    link_load_usual_mn: float = setting(
        6.0,
        unit="mN",
        means="the same, usual: the weight of some rings",
        source="judgement",
        low=0,
        high=1000,
    )
    link_load_high_mn: float = setting(
        300.0,
        unit="mN",
        means="the same, high: a single chain drawn straight (30 g); wide pieces share the pull",
        source="judgement: 10 g straightens a chain, 30 g keeps it so; a tug of 100 g is put down",
        low=0,
        high=10000,
    )
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
        means="… to this distance",
        source=INVENTED,
        low=0,
        high=1000,
    )
    held_bare: bool = setting(True, means="yes: fingers hold the piece; no: tweezers or a clamp do")
    sides_held: int = setting(
        1,
        means="sides of the join on which fingers hold: 1, the cooler one, while the other hand "
        "has tweezers or the electrode; 2, one hand on each side",
        source="judgement: one hand holds, ahead of the welds",
        low=1,
        high=2,
    )
    end_tweezers: bool = setting(
        True,
        means="near an end, where the piece leaves no place to hold on one side of the join: yes: "
        "tweezers hold the end itself; no: fingers hold on the side that is left, however warm "
        "(counts where one side is held)",
        source="judgement: nobody holds the end just welded while tweezers lie beside it",
    )

    @property
    def kept_finger_c(self) -> float:
        """Warmest that a plan lets the metal between the fingers be. [°C]."""
        return self.finger_limit_c - self.reserve_k

    @property
    def kept_interpass_c(self) -> float:
        """Warmest that a plan lets a ring be before its weld by the user's own limit; 0: none."""
        own_c = self.highest_interpass_c
        return own_c - self.reserve_k if own_c > 0 else 0.0
