"""What would raise a low chance of being in time, each with the chance that it buys.

Each thing is tried: the job is laid again with it by the dispatch rule, the pieces ranked as the
schedule finishes them, and what comes of it is played with the same draws.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.model.workshop.schedule import Advice, Way
from chainplan.schedule.chance import chances_in_time
from chainplan.schedule.hours import Hours
from chainplan.schedule.rule.dispatch import Dispatch
from chainplan.schedule.rule.stations import tasks_of
from chainplan.schedule.search import ready_of
from chainplan.schedule.shop import Worker

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.bench.groups import StationSettings
    from chainplan.model.workshop.schedule import PieceReady, PieceWork, Schedule
    from chainplan.schedule.shop import Shop

LOW = 0.9
"""Chances below are worth a thought. Judgement: one promise in ten broken is too many."""
GAIN = 0.02
"""What a way has to buy to be told: less is within what a thousand trials tell."""
OVERTIME_H = (1, 2, 3)
"""Hours a day that are tried on top: nobody works more (judgement)."""
MOST_PIECES, MOST_MOVED = 3, 3
"""Pieces with a low chance that advice is given for, and pieces that are tried to be moved."""
TRIALS = 500
"""Simulated weeks of one way to be in time: a chance of one half is then told to 4 in 100."""
HELP = "help"


def advise(
    schedule: Schedule, works: Sequence[PieceWork], shop: Shop, stations: StationSettings, seed: int
) -> tuple[Advice, ...]:
    """Find ways to raise the lowest chances of a schedule, those below 90 %."""
    low = [p for p in schedule.pieces if p.chance_in_time is not None and p.chance_in_time < LOW]
    low = sorted(low, key=lambda each: (each.chance_in_time or 0.0, each.due_s))[:MOST_PIECES]
    if not low:
        return ()
    trial = _Trial(schedule, works, stations, seed)
    general = [
        *((f"{_hours(more)} of overtime a day", trial.chances(_longer(shop, more)))
          for more in OVERTIME_H if _fits(shop, more)),
        ("one more person, at the workshop's hours", trial.chances(_helped(shop))),
    ]  # fmt: skip
    return tuple(_advice(each, general, trial, schedule, shop) for each in low)


class _Trial:
    """Schedules the job again with something changed, and tells each piece's chance."""

    def __init__(
        self,
        schedule: Schedule,
        works: Sequence[PieceWork],
        stations: StationSettings,
        seed: int,
    ) -> None:
        done_s = [each.worked_s for each in schedule.pieces]
        self.ranking = sorted(range(len(works)), key=lambda k: (done_s[k], k))
        self.works, self.stations, self.seed = works, stations, seed

    def chances(self, shop: Shop, last: int | None = None) -> dict[str, float]:
        """Chance of each piece, with one of them left for last if asked."""
        ranking = self.ranking
        if last is not None:
            ranking = [*(k for k in ranking if k != last), last]
        laid = Dispatch(self.works, shop, ranking).run()
        ready = ready_of(laid, self.works, shop)
        tasks = tasks_of(laid, self.works, shop)
        found = chances_in_time(
            tasks, ready, shop, self.works, low=self.stations.quick_share,
            high=self.stations.slow_share, trials=TRIALS, seed=self.seed,
        )  # fmt: skip
        return {each.piece: chance for each, chance in zip(ready, found, strict=True)}


def _advice(
    low: PieceReady,
    general: Sequence[tuple[str, dict[str, float]]],
    trial: _Trial,
    schedule: Schedule,
    shop: Shop,
) -> Advice:
    now = low.chance_in_time or 0.0
    ways: list[Way] = []
    for text, chances in general:
        chance = chances[low.piece]
        enough = any(way.chance >= 1 - GAIN for way in ways if "overtime" in way.text)
        if chance >= now + GAIN and not ("overtime" in text and enough):
            ways.append(Way(text=text, chance=chance))
    for name, chances in _moved(low, trial, schedule, shop):
        if chances[low.piece] >= now + GAIN:
            dated = next(p for p in schedule.pieces if p.piece == name).due is not None
            other = chances[name] if dated else None
            way = Way(
                text=f"{name} left for last",
                chance=chances[low.piece],
                moved=name,
                moved_chance=other,
            )
            ways.append(way)
    return Advice(piece=low.piece, chance=now, ways=tuple(ways))


def _moved(
    low: PieceReady, trial: _Trial, schedule: Schedule, shop: Shop
) -> Iterator[tuple[str, dict[str, float]]]:
    """Try to leave for last what most work goes into before the piece is done."""
    before: dict[str, int] = {}
    for task in schedule.tasks:
        if task.person and task.piece != low.piece and task.start_s < low.worked_s:
            before[task.piece] = before.get(task.piece, 0) + task.work_s
    names = sorted(before, key=lambda name: (-before[name], name))[:MOST_MOVED]
    number = {work.piece: k for k, work in enumerate(trial.works)}
    for name in names:
        yield name, trial.chances(shop, last=number[name])


def _fits(shop: Shop, more: int) -> bool:
    """Whether everybody's day is long enough for more hours."""
    return all(
        worker.hours.days is None
        or worker.hours.days.day_starts_h + worker.hours.days.hours_per_day + more <= 24
        for worker in shop.workers
    )


def _longer(shop: Shop, more: int) -> Shop:
    def own(hours: Hours) -> Hours:
        days = hours.days
        if days is None:
            return hours
        return Hours(replace(days, hours_per_day=days.hours_per_day + more))

    workers = tuple(replace(worker, hours=own(worker.hours)) for worker in shop.workers)
    return replace(shop, workers=workers, hours=own(shop.hours))


def _helped(shop: Shop) -> Shop:
    label, known = HELP, {worker.label for worker in shop.workers}
    while label in known:
        label += " 2"
    helper = Worker(label=label, hours=shop.hours, stations=frozenset(), pace=1.0)
    return replace(shop, workers=(*shop.workers, helper))


def _hours(number: int) -> str:
    return "an hour" if number == 1 else f"{number} hours"
