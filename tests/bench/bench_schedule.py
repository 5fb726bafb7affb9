"""How long a schedule takes, and how far it may be from the best: jobs of more and more pieces.

Run as ``python tests/bench/bench_schedule.py``; three people, invented pieces, fixed seed.
"""

from __future__ import annotations

import datetime
import random
import time

import numpy as np

from chainplan.model.bench.calendar import CalendarSettings
from chainplan.model.bench.pace import PaceSettings
from chainplan.model.bench.stations import StationSettings
from chainplan.model.workshop.schedule import Person, PieceWork, Stints
from chainplan.schedule import Shop, make_schedule

START = datetime.date(2027, 3, 4)


def invent(number: int, draw: random.Random) -> PieceWork:
    """Invent a piece of half an hour to eight hours of weaving, in up to three copies."""
    copies = draw.randint(1, 3)
    parts = draw.choice((1, 1, 3))
    usual = {
        "coil": 600, "cut": 900, "tumble": 300, "weave": draw.randint(1800, 28800) * copies,
        "set up": 600, "rework": 200 * copies, "clean": 240 * copies, "inspect": 600 * copies,
        "finish": 360 * copies,
    }  # fmt: skip
    return PieceWork(
        piece=f"piece {number}",
        copies=copies,
        station_s={name: float(value) for name, value in usual.items()},
        stints=Stints(
            first_step=np.arange(parts, dtype=np.int32) * 50,
            steps=np.full(parts, 50, dtype=np.int32),
            seconds=np.full(parts, 600.0),
            rest_s=np.array([0.0, *[300.0] * (parts - 1)]),
        ),
        tumbling_s=3600.0,
        settings=(draw.choice(("8 J", "12 J", "18 J", "21 J")),),
        bought_for=draw.choice((frozenset(), frozenset({"coil"}))),
        due=START + datetime.timedelta(days=draw.randint(5, 5 + number)),
    )


def main() -> None:
    """Print the table."""
    people = [Person(label="A"), Person(label="B", pace=1.2), Person(label="C", hours_per_day=4)]
    print("pieces  tasks  seconds  late days  at least  end over bound  changes")
    for pieces in (10, 30, 100, 300):
        draw = random.Random(15)
        works = [invent(number, draw) for number in range(pieces)]
        shop = Shop.of(START, CalendarSettings(), PaceSettings(), people)
        begun = time.perf_counter()
        found = make_schedule(works, shop, stations=StationSettings(), trials=1000, seed=0)
        took = time.perf_counter() - begun
        late = sum(each.late_days for each in found.late)
        print(
            f"{pieces:6} {len(found.tasks):6} {took:8.1f} {late:10} {found.bound.late_days:9} "
            f"{found.gap.end_share:15.1%} {found.changes:8}"
        )


if __name__ == "__main__":
    main()
