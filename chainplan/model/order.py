"""The order to weld in, said in passes, with the proof of how good it is."""

from __future__ import annotations

from dataclasses import field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.model.bench.groups import PaceSettings
    from chainplan.model.kinds import ReturnLead, Tip
    from chainplan.model.said import Phrase


class OrderStatus(StrEnum):
    """How an order stands to the limits."""

    COMPLETE = "complete"
    NO_LIMIT_BINDS = "no limit binds"  # end to end keeps them all without a wait
    INFEASIBLE = "infeasible"  # at least one limit is broken, or set aside by name


class LimitKind(StrEnum):
    """What a temperature limit is there for."""

    INTERPASS = "interpass"  # the user's own: how warm a ring may be before its weld
    METAL = "metal"  # the same, for what the metal does: it darkens, takes on colour, softens
    SAMENESS = "even welds"  # the same, so that one setting melts every join alike
    FINGERS = "fingers"
    PART = "part"


class ViolationKind(StrEnum):
    """What is wrong with a step of an order."""

    NO_SUCH_RING = "no such ring"
    WELDED_TWICE = "welded twice"
    CLOSED_BEFOREHAND = "closed beforehand"
    LEFT_OUT = "left out"
    TOO_SOON = "too soon"
    OUT_OF_REACH = "out of the clip's reach"
    INTERPASS = "interpass"
    METAL = "metal"
    SAMENESS = "even welds"
    FINGERS = "fingers"
    PART = "part"


@frozen
class WeldSetting:
    """What the welder is set to for a run of joins."""

    power_j: float
    hits: int
    tip: Tip
    source: str  # "estimate", "recorded by the user"
    note: str = ""
    spot_mm: float = 0.0  # diameter of the molten spot at that power, from the bench profile


@frozen
class Pass:
    """A run of joins welded one after another without turning the piece or changing the setting."""

    number: int  # from 1
    text: str  # "front, every 12th pair from pair 5, 29 joins, 2 min 10 s"
    face: str
    first_step: int  # index into the order's arrays
    joins: int
    seconds: float  # waits included
    wait_s: float
    setting: WeldSetting
    wait_for: Mapping[str, float] = field(default_factory=dict)  # what asks for the waits: seconds
    clip_rings: tuple[int, ...] = ()  # that the clip sits on in turn, from 1; empty: no clip
    said: Phrase | None = None  # the same as ``text``, before any language


@frozen
class LimitCheck:
    """One temperature limit and how near the order comes to it."""

    kind: LimitKind
    name: str  # "interpass", "fingers", what the ring's metal asks for, or the part's name
    where: str
    limit_c: float
    low_c: float
    usual_c: float
    high_c: float
    holds: bool
    why: str = ""  # what happens above it, and where it comes from
    ring: int = -1  # where it comes nearest, counted from 0; −1: no single ring

    @property
    def said(self) -> str:
        """Name for people: rings are meant before their welds."""
        if self.kind is LimitKind.INTERPASS:
            return "each ring before its weld"
        before = self.kind in (LimitKind.METAL, LimitKind.SAMENESS)
        return f"ring before its weld ({self.name})" if before else self.name


@frozen
class OrderComparison:
    """Another order of the same joins that obeys the same limits by waiting."""

    name: str  # "end to end", "random", "alternating ends", "free", "to follow"
    bench_time_s: float
    wait_s: float
    travel_mm: float
    warmest_interpass_c: float  # bad end, waits included
    warmest_without_waits_c: float  # bad end, the same order without any wait
    feasible: bool
    note: str = ""
    fingers_counted: bool = True  # False: timed without their limit, so it takes at least so long


@frozen
class Unpaused:
    """What one limit sees if the piece is welded end to end without a pause."""

    kind: LimitKind
    name: str
    said: str  # name for people
    limit_c: float
    ring: int  # where it comes nearest to the limit, counted from 0; −1: no single ring
    usual_c: float  # warmest at the usual values
    high_c: float  # warmest at the bad end
    usual_after_s: float | None  # when it first passes the limit; None: it never does
    high_after_s: float | None
    order_usual_c: float  # warmest in the order to follow
    order_high_c: float


@frozen
class Gains:
    """What the order gains over welding end to end, without a pause and with those it needs."""

    unpaused: tuple[Unpaused, ...]
    unpaused_s: float  # end to end, nobody waits
    ends_usual_s: float | None  # with the pauses needed at the usual values; None: none do
    ends_high_s: float | None  # with those needed at the bad end
    fingers_counted: bool  # False: the two take at least so long
    order_s: float
    order_wait_s: float
    is_end_to_end: bool  # the order to follow goes end to end itself
    to_remember: int  # passes, and words beside them, to be kept in mind
    a_thing_s: float  # what each of them counted when orders were chosen
    little_s: float  # savings below are called little
    unpaused_kept: float | None = None  # share of plausible benches on which nobody has to pause

    @property
    def asked_by(self) -> Unpaused | None:
        """The limit that end to end breaks first at the bad end: it asks for the detour."""
        broken = [item for item in self.unpaused if item.high_after_s is not None]
        return min(broken, key=lambda item: item.high_after_s or 0.0, default=None)

    @property
    def saved_usual_s(self) -> float | None:
        """Seconds saved against end to end with the pauses needed at the usual values."""
        return None if self.ends_usual_s is None else self.ends_usual_s - self.order_s

    @property
    def saved_high_s(self) -> float | None:
        """The same at the bad end, for which both are made."""
        return None if self.ends_high_s is None else self.ends_high_s - self.order_s


@frozen
class Violation:
    """A limit that an order breaks, found by the independent verifier."""

    step: int
    ring: int
    time_s: float
    temperature_c: float
    limit_c: float
    what: str  # in plain words
    kind: ViolationKind
    limit: str = ""  # name of the limit: "interpass", "fingers", a metal's, or the part's name


@frozen
class SetAside:
    """A limit that the order was made without, since it cannot be kept; all others hold."""

    kind: LimitKind
    name: str  # as in LimitCheck
    limit_c: float
    proved: bool  # no order keeps it; otherwise no order that was tried does

    @property
    def key(self) -> tuple[LimitKind, str]:
        """What the limit is known by: a part may be called "fingers" too."""
        return self.kind, self.name


@frozen
class Sway:
    """How far one uncertain number moves a temperature, the others at their usual values."""

    number: str  # "arc share", "links", "loss to the air"
    low_k: float  # with the number at its low end, over the temperature at the usual one
    high_k: float
    share: float  # of the spread of this temperature over all samples


@frozen
class LimitChance:
    """One limit over all samples."""

    name: str  # "interpass", "fingers", or the part's name
    limit_c: float
    kept: float  # share of the samples that keep it
    usual_c: float
    nine_in_ten_c: float  # nine of ten samples stay below
    sways: tuple[Sway, ...]  # largest share first


@frozen
class Chance:
    """The order over plausible benches: uncertain numbers drawn by chance, limits looked at."""

    runs: int
    keeps_all: float  # share of the samples that keep every limit that is not set aside
    by_limit: tuple[LimitChance, ...]
    decides: str  # number that moves the limit at greatest risk most
    asked: float = 0.0  # share that was asked for; 0: none


@frozen
class FasterPace:
    """The waits that the same order needs from a hand quicker than the plan's."""

    share: float  # of the planned seconds a join, waits apart
    wait_s: FloatArray  # (k,) wait before each step


@frozen
class EndToEnd:
    """End to end within the same limits as the order to follow, with the pauses it needs."""

    bench_time_s: float
    before_c: FloatArray  # (k,) of the ring that step k of the order to follow welds; bad end
    warmest_c: Mapping[str, float]  # fingers and parts by name, at the bad end


@frozen
class LeadTime:
    """What a piece takes with one way of earthing it."""

    way: ReturnLead
    bench_time_s: float
    clip_moves: int
    how: str  # "planned"; "up to": with orders that suit another way; "at least": without waits


@frozen
class Earthing:
    """How the piece is earthed in an order, and what the other ways would cost."""

    way: ReturnLead
    why: str  # "set", "quickest" or "loose": no current flows from ring to ring
    clip_ring: IntArray | None  # (k,) ring that the clip sits on at each step; None: no clip
    clip_s: float  # to move it
    tweezers_s: float  # on top of each join's handling; 0 without tweezers
    times: tuple[LeadTime, ...]  # of every way, this one first
    said: str

    @property
    def clip_moves(self) -> int:
        """How often the clip goes from ring to ring, its first place apart."""
        return len(self.clip_places) - 1 if self.clip_places else 0

    @property
    def clip_places(self) -> list[int]:
        """Rings that the clip sits on one after another, from 0."""
        return [ring for ring, _ in self.clips()]

    def clips(self, first_step: int = 0, steps: int | None = None) -> list[tuple[int, int]]:
        """List where the clip sits in so many steps: ring, and the step from which on, from 0."""
        if self.clip_ring is None:
            return []
        last = None if steps is None else first_step + steps
        rings: list[int] = self.clip_ring[first_step:last].tolist()
        return [
            (ring, first_step + k) for k, ring in enumerate(rings) if k == 0 or rings[k - 1] != ring
        ]

    def pace_of(self, pace: PaceSettings) -> PaceSettings:
        """Give the hand's pace, the grip of the tweezers counted with the handling."""
        return replace(pace, handle_s=pace.handle_s + self.tweezers_s)


@frozen
class WeldOrder:
    """The order to follow for one copy of a piece. Step k welds ``ring[k]``."""

    piece: str
    status: OrderStatus
    ring: IntArray  # (k,)
    pass_number: IntArray  # (k,) from 1
    start_s: FloatArray  # (k,) when the first pulse falls, from the start of the piece
    wait_s: FloatArray  # (k,) wait before this join
    interpass_low_c: FloatArray  # (k,)
    interpass_usual_c: FloatArray
    interpass_high_c: FloatArray
    passes: tuple[Pass, ...]
    bench_time_s: float
    lower_bound_s: float
    bound_parts: Mapping[str, float]  # handling, travel, turns, waits …: each proved
    free_time_s: float
    comparisons: tuple[OrderComparison, ...]
    limits: tuple[LimitCheck, ...]
    gained: tuple[str, ...]  # what the order gained and what it did not, in plain sentences
    gains: Gains | None = None  # the numbers behind those sentences
    advice: tuple[str, ...] = ()
    advised: tuple[Phrase, ...] = ()  # the first of ``advice``, on limits, before any language
    set_aside: tuple[SetAside, ...] = ()  # limits that cannot be kept; all others hold
    chance: Chance | None = None  # None for pieces too large for it
    earthing: Earthing | None = None  # None if the return lead was not asked about
    wait_limit: IntArray | None = None  # (k,) place in ``limits`` of what asks for the wait, or −1
    ring_limit_c: FloatArray | None = None  # (n,) least limit before a ring's weld; inf: none
    end_to_end: EndToEnd | None = None  # None: it keeps the limits with no pauses
    trace_time_s: FloatArray | None = None
    trace_c: Mapping[str, FloatArray] = field(
        default_factory=dict
    )  # hold window, parts; bad corner
    faster: tuple[FasterPace, ...] = ()  # from the slower to the quicker; none for large pieces
    rest_s: float = 0.0  # after the last weld, until any join may be welded
    cold_s: float = 0.0  # until the piece is as cold as at its start
    seed: int = 0
    row_step: IntArray | None = None  # (k,) numbers that the steps had in the first plan
    row_wait_s: FloatArray | None = None  # (k,) and their waits
    row_start_s: FloatArray | None = None  # (k,) and their starts; None: as they are

    @property
    def gap(self) -> float:
        """How far the bench time may be from the best possible, as a share of the bound."""
        return self.bench_time_s / self.lower_bound_s - 1 if self.lower_bound_s > 0 else 0.0

    @property
    def limit_before_c(self) -> FloatArray:
        """Least limit of each step's ring before its weld, (k,); infinite where there is none."""
        import numpy as np

        if self.ring_limit_c is None:
            return np.full(self.ring.shape[0], np.inf)
        return self.ring_limit_c[self.ring]


@frozen
class BatchOrder:
    """All pieces of the batch: which copy of which piece is welded when."""

    piece: tuple[str, ...]  # one entry a stint of work
    copy: IntArray
    first_step: IntArray
    steps: IntArray
    start_s: FloatArray
    bench_time_s: float
    one_after_another_s: float  # without interleaving
    interleaved: bool
    note: str = ""
