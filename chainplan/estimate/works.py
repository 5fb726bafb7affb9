"""What the schedule needs to know of each piece: times, deliveries, dates, price of a ring."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.estimate.counts import count_piece, first_settings
from chainplan.estimate.material.rings import ring_mass_g
from chainplan.estimate.material.wire import mandrel_for
from chainplan.estimate.price.buying import wire_on_shelf_m
from chainplan.estimate.price.hallmark import check_hallmark
from chainplan.estimate.price.pricing import RATE, PriceBook
from chainplan.estimate.take import take_of
from chainplan.model.workshop.schedule import PieceWork

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.estimate.take import Take
    from chainplan.model.bench import Bench
    from chainplan.model.bench.groups import StationSettings
    from chainplan.model.estimate import PieceCounts
    from chainplan.model.job import Job
    from chainplan.model.order import WeldOrder
    from chainplan.model.plan import PiecePlan
    from chainplan.model.workshop.schedule import Person, Schedule, Stints


def works_of(
    job: Job, planned: Sequence[PiecePlan], stints: Sequence[Stints]
) -> tuple[PieceWork, ...]:
    """Work out what the schedule of a job is made from.

    Parameters
    ----------
    job : Job
        Bench, shelf, dates.
    planned : sequence of PiecePlan
        The pieces with layout, joins and weld order.
    stints : sequence of Stints
        The order of one copy of each piece, cut where it may be put down.
    """
    counts = [
        count_piece(
            plan.piece,
            plan.layout,
            plan.joins,
            plan.order,
            first_settings(job, plan.layout),
            job.bench,
        )
        for plan in planned
    ]
    lines = sum(group.rings > 0 for piece in counts for group in piece.groups)
    used: dict[int, int] = {}
    takes = [take_of(piece, job, lines=lines, used=used) for piece in counts]
    bought = dict(_bought(takes, job))
    return tuple(
        _work(take, job, plan, cut, bought.get(take.counts.piece, frozenset()))
        for take, plan, cut in zip(takes, planned, stints, strict=True)
    )


def _work(
    take: Take, job: Job, plan: PiecePlan, stints: Stints, bought: frozenset[str]
) -> PieceWork:
    counts, order = take.counts, plan.order
    usual_s = {time.station: time.usual_min * 60 for time in take.times if time.usual_min > 0}
    weld_s = usual_s.pop("weld", 0.0)
    cut = sum(n.rings + n.spare_rings - n.rings_from_stock for n in take.wire)
    loads = -(-cut // job.bench.stations.tumble_rings)
    needed = check_hallmark(take, job.bench.money.country).needed
    return PieceWork(
        piece=counts.piece,
        copies=counts.quantity,
        station_s=usual_s,
        stints=stints,
        weld_extra_s=max(weld_s / counts.quantity - counts.weld_s, 0.0),
        tumbling_s=60.0 * loads * job.bench.stations.tumbling_min,
        settings=_settings(counts, order),
        spoilt_s=_spoilt_s(take, job),
        bought_for=bought,
        fittings_days=_fittings_days(take, job),
        due=counts.due,
        late_weight=plan.piece.late_weight,
        weave_shares=_weave_shares(counts, job.bench.stations),
        hallmark_days=job.bench.calendar.hallmark_days if needed else 0,
    )


def _settings(counts: PieceCounts, order: WeldOrder) -> tuple[str, ...]:
    """Name what the welder is set to, pass by pass: power, pulses, tip; and the piece's metals."""
    metals = "+".join(sorted({group.metal for group in counts.groups}))
    every = [
        f"{work.setting.power_j:g} J, {work.setting.hits} x, {work.setting.tip}, {metals}"
        for work in order.passes
    ]
    return tuple(name for k, name in enumerate(every) if k == 0 or every[k - 1] != name)


def with_schedule(
    counts: PieceCounts, schedule: Schedule, people: Sequence[Person], bench: Bench
) -> PieceCounts:
    """Add to a piece's counts what the schedule makes it cost: changes of setting, and wages.

    The wages of those who work on it, above the bench's labour, are shared out over its hours.
    """
    labour = bench.money.labour_per_hour
    above = {p.label: p.wage_per_hour - labour for p in people if p.wage_per_hour is not None}
    more, work_s = Decimal(0), 0
    for task in schedule.tasks:
        if task.person and task.piece == counts.piece:
            more += task.work_s * above.get(task.person, Decimal(0))
            work_s += task.work_s
    return replace(
        counts,
        change_h=schedule.change_costs_s.get(counts.piece, 0.0) / 3600,
        wage_above_per_hour=(more / work_s).quantize(RATE) if work_s else Decimal(0),
    )


def _weave_shares(counts: PieceCounts, stations: StationSettings) -> tuple[float, ...]:
    """Share of the weaving of each section of a copy, and of joining them; none for one section.

    Two sections are joined by passing one ring through both, which is closed then.
    """
    by_section: dict[int, float] = {}
    for group in counts.groups:
        if group.links > 0:
            seconds = group.rings * stations.weave_ring_s + group.links * stations.weave_link_s
            by_section[group.section] = by_section.get(group.section, 0.0) + seconds
    total_s = sum(by_section.values())
    seams = len(by_section) - 1
    join_s = seams * (stations.weave_ring_s + 2 * stations.weave_link_s)
    if seams < 1 or join_s >= total_s:
        return ()
    rest = 1 - join_s / total_s
    return (*(rest * own / total_s for own in by_section.values()), join_s / total_s)


def _spoilt_s(take: Take, job: Job) -> float:
    """Seconds of the bench that a ring spoilt at the welder is worth: its metal and its making."""
    groups = [group for group in take.counts.groups if group.rings > 0]
    if not groups:
        return 0.0
    group = max(groups, key=lambda one: one.rings)
    stations, money = job.bench.stations, job.bench.money
    made_s = stations.cut_s + stations.weave_ring_s + stations.rework_s
    made_s += stations.weave_link_s * group.links / group.rings
    price = PriceBook.of(job).per_g(group.metal)
    if price is None or money.labour_per_hour <= 0:
        return made_s
    density_g_cm3 = take.metals[group.metal].density_g_cm3.usual
    mass_g = ring_mass_g(group.wire_mm, group.inner_mm, density_g_cm3)
    return made_s + 3600 * mass_g * float(price / money.labour_per_hour)


def _fittings_days(take: Take, job: Job) -> dict[str, int]:
    """Weekdays until the fittings of each station have come; what is at hand does not wait."""
    days: dict[str, int] = {}
    for fitting in take.counts.fittings:
        own = fitting.delivery_days
        wait = job.bench.calendar.delivery_days if own is None else own
        if fitting.station and wait > 0:
            days[fitting.station] = max(days.get(fitting.station, 0), wait)
    return days


def _bought(takes: Sequence[Take], job: Job) -> Iterator[tuple[str, frozenset[str]]]:
    """For each piece the stations that wait for wire, mandrel or clasp to be delivered.

    What is on the shelf goes to the piece that is due first.
    """
    far = max((take.counts.due.toordinal() for take in takes if take.counts.due), default=0) + 1
    spent: dict[int, float] = {}

    def due(take: Take) -> int:
        return take.counts.due.toordinal() if take.counts.due else far

    for take in sorted(takes, key=due):
        stations = set()
        for need in take.wire:
            short = need.rings > 0 and wire_on_shelf_m(need, job, spent) < need.wire_length_m - 1e-9
            stations |= {"coil"} if short else set()
        for group in take.counts.groups:
            if group.rings and need_of_coils(take):
                size_mm, on_shelf = mandrel_for(group, take.metals[group.metal], job)
                stations |= {"coil"} if size_mm > 0 and not on_shelf else set()
        if take.counts.clasps:
            stations.add("finish")
        yield take.counts.piece, frozenset(stations)


def need_of_coils(take: Take) -> bool:
    """Whether any coil is wound for a piece; rings from the shelf need none."""
    return any(need.coils for need in take.wire)
