"""An invented workshop with known truth: its events, made by seed, for tests and benchmarks."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

import numpy as np

from chainplan.model.bench import Bench
from chainplan.model.workshop.record import Event, KnownPiece, KnownPlan, KnownSection, Turn
from chainplan.report.text.record import plain

DAY_S = 86_400.0
START_S = 1_799_650_800.0
"""A Monday morning of 2027."""
TRAVEL_S = 0.2
EIGHT_J = 8.0


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What the simulated hands and machines really do."""

    handle_s: float = 7.0
    spread: float = 0.35  # of the logarithm of one join's time
    day_spread: float = 0.08  # of the logarithm of a stint's pace
    join_yield: float = 0.95
    rework_s: float = 14.0
    weave_factor: float = 1.3
    station_spread: float = 0.1
    learning_percent: float = 88.0
    puff_l: float = 0.12
    pulses_per_regrind: float = 120.0
    pause_chance: float = 0.002


def invented_plan(
    copies: int = 6, rings: int = 100, *, key: str = "0123456789abcdef", handle_s: float = 5.0,
    weave_ring_s: float = 10.0, learning: float = 95.0, metal: str = "copper",
) -> KnownPlan:  # fmt: skip
    """Make a plan of one chain, as the record keeps it."""
    bench = {
        f"{group}.{name}": value
        for group, settings in plain(Bench()).items()
        for name, value in settings.items()
    }
    bench |= {"pace.handle_s": handle_s, "stations.weave_ring_s": weave_ring_s,
              "stations.learning_percent": learning, "stations.clean_min": 4.0,
              "job.start_date": None}  # fmt: skip
    pace = np.full(rings, handle_s + TRAVEL_S)
    mean_share = copies ** np.log2(learning / 100)
    piece = KnownPiece(
        name="Chain", copies=copies, rings=rings,
        sections=(KnownSection(weave="single-link", metal=metal, wire_mm=1.0, inner_mm=4.0,
                               mandrel_mm=None, rings=rings, links=rings - 1),),
        ring=np.arange(1, rings + 1, dtype=np.int32),
        pass_number=np.ones(rings, dtype=np.int32), section=np.ones(rings, dtype=np.int32),
        power_j=np.full(rings, EIGHT_J), hits=np.ones(rings, dtype=np.int32),
        tip=("sharp",) * rings, pace_s=pace, wait_s=np.zeros(rings),
        station_min={"weave": copies * rings * weave_ring_s / 60 * mean_share,
                     "clean": copies * 4.0},
    )  # fmt: skip
    turns = tuple(Turn("Chain", copy, 0, rings) for copy in range(1, copies + 1))
    return KnownPlan(key=key, mark=key[:12], stamp=f"invented {key}", job="invented",
                     pieces=(piece,), turns=turns, bench=bench, root=key)  # fmt: skip


def simulate(
    plan: KnownPlan, truth: Truth, random: np.random.Generator, *, start_s: float = START_S
) -> list[Event]:
    """Weave and weld every copy of a plan, one copy a day, and tell what happened."""
    (piece,) = plan.pieces
    events: list[Event] = []
    day_min = piece.rings * 10.0 / 60 * truth.weave_factor
    power = 1 + np.log2(truth.learning_percent / 100)
    held_bar, pulses, ground = 150.0, 0, 0

    def tell(kind: str, at_s: float, **more: object) -> None:
        identity = str(uuid.UUID(bytes=random.bytes(16)))
        events.append(
            Event(id=identity, kind=kind, at="", at_s=at_s, plan=plan.key, **more)  # type: ignore[arg-type]
        )

    tell("cylinder", start_s, bar=held_bar)
    for copy in range(1, piece.copies + 1):
        now = start_s + copy * DAY_S
        unit = copy**power - (copy - 1) ** power
        noise = float(np.exp(random.normal(0, truth.station_spread)))
        tell("finished", now, piece="Chain", copy=copy, station="weave",
             minutes=day_min * unit * noise)  # fmt: skip
        noise = float(np.exp(random.normal(0, truth.station_spread)))
        tell("finished", now, piece="Chain", copy=copy, station="clean", minutes=5.0 * noise)
        stint = float(np.exp(random.normal(-(truth.day_spread**2) / 2, truth.day_spread)))
        for ring in piece.ring.tolist():
            work_s = TRAVEL_S + truth.handle_s * stint * float(
                np.exp(random.normal(-(truth.spread**2) / 2, truth.spread))
            )
            bad = random.random() > truth.join_yield
            now += work_s
            pulses, ground = pulses + 1, ground + 1
            shown = work_s + 4000.0 if random.random() < truth.pause_chance else work_s
            where = {"piece": "Chain", "copy": copy, "ring": ring, "person": "Ann"}
            tell("again" if bad else "done", now, work_s=shown, **where)
            if bad:
                again_s = truth.rework_s * float(np.exp(random.normal(-0.02, 0.2)))
                now, pulses, ground = now + again_s, pulses + 1, ground + 1
                tell("done", now, work_s=again_s, **where)
            if ground >= truth.pulses_per_regrind * np.exp(random.normal(0, 0.05)):
                tell("reground", now)
                ground = 0
        held_bar -= pulses * truth.puff_l / 10.6 * float(np.exp(random.normal(0, 0.05)))
        pulses = 0
        tell("cylinder", now + 60, bar=held_bar)
    return events
