"""How long a schedule takes, and how far it may be from the best: jobs of more and more pieces.

Run as ``python tests/bench/bench_schedule.py``, or with numbers of pieces; one person and three,
invented pieces, fixed seed; seconds are the processor's, with chances and advice.
"""

from __future__ import annotations

import datetime
import random
import sys
import time

import numpy as np

from chainplan.model.bench.groups import CalendarSettings, PaceSettings, StationSettings
from chainplan.model.workshop.schedule import Person, PieceWork, Stints
from chainplan.schedule import Shop, make_schedule
from chainplan.schedule.advice import advise
from chainplan.schedule.search import LIMIT

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
    """Print the table: the dispatch rule alone, and with the solver at two limits."""
    people = [Person(label="A"), Person(label="B", pace=1.2), Person(label="C", hours_per_day=4)]
    print("pieces people limit  tasks  seconds  late days  at least  end over bound  changes  way")
    for pieces in map(int, sys.argv[1:] or ("5", "10", "20", "100", "300")):
        draw = random.Random(15)
        works = [invent(number, draw) for number in range(pieces)]
        for some in (people[:1], people):
            shop = Shop.of(START, CalendarSettings(), PaceSettings(), some)
            for limit in (0.0, LIMIT, 5 * LIMIT) if pieces <= 30 else (LIMIT,):
                begun = time.process_time()
                found = make_schedule(
                    works, shop, stations=StationSettings(), trials=1000, seed=0, limit=limit
                )
                advise(found, works, shop, StationSettings(), 0)
                took = time.process_time() - begun
                late = sum(each.late_days for each in found.late)
                print(
                    f"{pieces:6} {len(some):6} {limit:5.1f} {len(found.tasks):6} {took:8.1f} "
                    f"{late:10} {found.bound.late_days:9.0f} {found.gap.end_share:15.1%} "
                    f"{found.changes:8}  {found.way}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
