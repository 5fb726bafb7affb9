"""Minutes at the stations other than the welder, and how fast weaving is learnt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.workshop.record import Learned
from chainplan.record.learning.curve import fit_curve, unit_share
from chainplan.record.learning.intervals import LEAST_GROUPS, Estimate, ratio

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.workshop.record import KnownPlan
    from chainplan.record.kept.store import Record
    from chainplan.record.learning.curve import Curve

SETTINGS = {
    "coil": (("stations.coil_min", "wind one coil", "min"),),
    "cut": (("stations.cut_s", "cut one ring off a coil", "s"),),
    "tumble": (("stations.tumble_min", "tumble a batch of rings", "min"),),
    "weave": (
        ("stations.weave_ring_s", "pick up, open and close one ring", "s"),
        ("stations.weave_link_s", "pass a ring through one neighbour", "s"),
    ),
    "fitting": (("stations.fitting_min", "put one fitting on", "min"),),
    "set up": (("stations.set_up_min", "set up the welder for a piece", "min"),),
    "clean": (("stations.clean_min", "clean one copy", "min"),),
    "inspect": (("stations.inspect_s", "look at one join under the loupe", "s"),),
    "finish": (("stations.finish_min", "finish one copy", "min"),),
}
"""Which settings the minutes of a station scale with: key, meaning, unit."""
ALIKE = {"last fitting": "fitting"}
"""Stations whose minutes scale with the setting of another."""
REACH = 0.25
"""Share of a time that its interval may reach to either side to be used (judgement: coarser than
for welds, as stations are timed a few times only)."""
WIDEST_RATE = 10.0
"""Per cent that the interval of a learning rate may be wide to be used."""
LEARNING = "stations.learning_percent"


@dataclass(frozen=True)
class _Done:
    """One copy finished at one station."""

    work: str  # plan and piece
    minutes: float
    planned_min: float  # by the settings of the latest plan, without learning
    number: int  # which of its piece it was, from 1


def learn_stations(record: Record, plans: Sequence[KnownPlan]) -> Iterator[Learned]:
    """Compare the minutes told at each station with the planned ones."""
    bench = plans[-1].bench
    done = _finished(record, plans)
    curve = _curve(done.get("weave", []))
    planned_rate = float(bench[LEARNING])
    if curve is not None:
        rate = curve.rate
        yield Learned(
            key=LEARNING, title="mean weaving time when the copies double", unit="%",
            old=planned_rate, new=rate.value, low=rate.low, high=rate.high, n=rate.n,
            groups=rate.groups, enough=rate.high - rate.low <= WIDEST_RATE,
            basis="minutes of copy after copy",
        )  # fmt: skip
    for station, settings in SETTINGS.items():
        rows = [row for row in done.get(station, []) if row.planned_min > 0]
        if not rows:
            continue
        minutes = np.array([row.minutes for row in rows])
        planned = np.array([row.planned_min for row in rows])
        if station == "weave" and curve is not None:
            found = curve.factor
        else:
            if station == "weave":
                number = np.array([float(row.number) for row in rows])
                planned = planned * unit_share(number, planned_rate)
            found = ratio(minutes, planned, np.arange(len(rows)))
        reach = found.high - found.low
        enough = found.groups >= LEAST_GROUPS and reach <= 2 * REACH * found.value
        for key, title, unit in settings:
            old = float(bench[key])
            scaled = Estimate(found.value * old, found.low * old, found.high * old, *found[3:])
            yield Learned(
                key=key, title=title, unit=unit, old=old, new=scaled.value, low=scaled.low,
                high=scaled.high, n=found.n, groups=found.groups, enough=enough,
                basis=f"{found.n} copies finished at the station {station}",
            )  # fmt: skip


def _finished(record: Record, plans: Sequence[KnownPlan]) -> dict[str, list[_Done]]:
    """Every copy finished at a station with its minutes, in the order of time."""
    bench = plans[-1].bench
    by_key = {plan.key: plan for plan in plans}
    rows = record.rows(
        "SELECT plan, piece, copy, station, minutes FROM event_now "
        "WHERE kind = 'finished' AND minutes > 0 AND plan IS NOT NULL ORDER BY at_s, seq"
    )
    found: dict[str, list[_Done]] = {}
    numbers: dict[tuple[str, str, str], int] = {}
    for key, name, _, station, minutes in rows:
        plan = by_key[key]
        piece = plan.piece(name)
        if piece is None or ALIKE.get(station, station) not in SETTINGS:
            continue
        number = numbers[plan.root, name, station] = numbers.get((plan.root, name, station), 0) + 1
        like = ALIKE.get(station, station)
        setting = SETTINGS[like][0][0]
        planned = piece.station_min.get(station, 0.0) / piece.copies
        if float(plan.bench[setting]) > 0:
            planned *= float(bench[setting]) / float(plan.bench[setting])
        if station == "weave":
            planned /= _mean_share(piece.copies, float(plan.bench[LEARNING]))
        found.setdefault(like, []).append(_Done(f"{plan.root} {name}", minutes, planned, number))
    return found


def _mean_share(copies: int, percent: float) -> float:
    every: Any = unit_share(np.arange(1.0, copies + 1), percent)
    return float(every.mean())


def _curve(rows: Sequence[_Done]) -> Curve | None:
    rows = [row for row in rows if row.planned_min > 0]
    works = {work: k for k, work in enumerate(dict.fromkeys(row.work for row in rows))}
    if not rows:
        return None
    return fit_curve(
        np.array([row.minutes for row in rows]),
        np.array([row.planned_min for row in rows]),
        np.array([float(row.number) for row in rows]),
        np.array([works[row.work] for row in rows], dtype=np.intp),
    )
