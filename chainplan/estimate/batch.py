"""All estimates of a job: the entry of this stage."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.estimate.counts import count_piece, first_settings
from chainplan.estimate.figures import (
    batch_figures,
    break_even_figure,
    cost_figure,
    piece_figures,
)
from chainplan.estimate.material.wire import bad_share, risk_of_each
from chainplan.estimate.price.buying import buy_list
from chainplan.estimate.price.drivers import break_even_quantity, cost_drivers, quantity_breaks
from chainplan.estimate.price.money import cost_lines, quote_of
from chainplan.estimate.price.pricing import PriceBook, invented_rates, old_prices
from chainplan.estimate.price.torch import compare_with_torch
from chainplan.estimate.pulse.pulses import gas_of_a_join_l, read_cylinder
from chainplan.estimate.take import take_of
from chainplan.estimate.values import sources_of
from chainplan.estimate.works import with_schedule
from chainplan.model.estimate import Estimates, Figure
from chainplan.reference import cautions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.estimate.take import Take
    from chainplan.model.estimate import PieceCounts, Quote, SettingLine
    from chainplan.model.job import Job
    from chainplan.model.order import BatchOrder
    from chainplan.model.plan import PiecePlan
    from chainplan.model.workshop.schedule import Schedule


def estimate_job(
    job: Job,
    planned: Sequence[PiecePlan],
    batch: BatchOrder | None = None,
    schedule: Schedule | None = None,
) -> Estimates:
    """Estimate everything that a job takes, from its planned pieces.

    Parameters
    ----------
    job : Job
        Bench, prices, shelf, dates.
    planned : sequence of PiecePlan
        The pieces with layout, joins and weld order.
    batch : BatchOrder, optional
        The turns at the welder: where copies are welded in turns, their time is shared out over
        the pieces.
    schedule : Schedule, optional
        Who does what: wages of their own, and changes of the welder's setting, enter the cost.
    """
    settings: list[SettingLine] = []
    counts: list[PieceCounts] = []
    for plan in planned:
        lines = first_settings(job, plan.layout)
        settings += lines
        counts.append(
            count_piece(plan.piece, plan.layout, plan.joins, plan.order, lines, job.bench)
        )
    if schedule is not None:
        counts = [with_schedule(one, schedule, job.people, job.bench) for one in counts]
    one_by_one_s = sum(c.weld_s * c.quantity for c in counts)
    share = 1.0
    if batch is not None and batch.interleaved and one_by_one_s > 0:
        share = min(batch.bench_time_s / one_by_one_s, 1.0)
    estimates = estimate_counts(job, counts, weld_share=share)
    return replace(estimates, settings=tuple(settings))


def estimate_counts(
    job: Job, counts: Sequence[PieceCounts], *, weld_share: float = 1.0
) -> Estimates:
    """Estimate everything that counted pieces take; welder settings are not among it.

    Parameters
    ----------
    job : Job
        Bench, prices, shelf, dates.
    counts : sequence of PieceCounts
        The pieces.
    weld_share : float
        Welding time of the interleaved batch over that of the pieces one after another. [-]
    """
    book = PriceBook.of(job)
    lines = sum(group.rings > 0 for piece in counts for group in piece.groups)
    used: dict[int, int] = {}
    takes = [take_of(piece, job, lines=lines, weld_share=weld_share, used=used) for piece in counts]
    costs = [cost_lines(take, book) for take in takes]
    torches = [compare_with_torch(t, c, book) for t, c in zip(takes, costs, strict=True)]
    quotes = [
        quote_of(take, cost, book, torch_cost_each=torch.cost_each)
        for take, cost, torch in zip(takes, costs, torches, strict=True)
    ]
    gas_a_join_l = gas_of_a_join_l(counts, job.bench)
    cylinder = read_cylinder(sum(t.pulses.gas_l for t in takes), gas_a_join_l, job.bench)
    figures: dict[str, tuple[Figure, ...]] = {"": batch_figures(takes, job, cylinder, gas_a_join_l)}
    for take, quote, cost in zip(takes, quotes, costs, strict=True):
        own = (*piece_figures(take, job), cost_figure(quote, cost, job))
        even = _break_even(take.counts, quote, job, lines, weld_share)
        figures[take.counts.piece] = (*own, *even)
    metals = {key for take in takes for key in take.metals}
    return Estimates(
        wire=tuple(need for take in takes for need in take.wire),
        buy=buy_list(takes, job, book, cylinder),
        figures=figures,
        times=tuple(time for take in takes for time in take.times),
        costs=tuple(line for cost in costs for line in cost),
        quotes=tuple(quotes),
        cautions=tuple(caution.text for caution in cautions(sorted(metals))),
        sources=sources_of(takes, job),
        currency=job.bench.money.currency,
        warnings=(*_unpriced(quotes), *_warnings(job, takes)),
        breaks=tuple(
            line
            for piece in counts
            for line in quantity_breaks(piece, job, lines=lines, weld_share=weld_share)
        ),
        drivers=tuple(
            line
            for piece in counts
            for line in cost_drivers(piece, job, lines=lines, weld_share=weld_share)
        ),
        torch=tuple(torches),
        counts=tuple(counts),
        weld_share=weld_share,
        short_risk_each=risk_of_each(job.bench.wire.short_risk, lines),
        lost_share=bad_share(job.bench.wire),
    )


def _break_even(
    counts: PieceCounts, quote: Quote, job: Job, lines: int, weld_share: float
) -> tuple[Figure, ...]:
    """Fewest copies at which the list price pays; without a list price there is no such figure."""
    if counts.list_price is None:
        return ()
    copies = break_even_quantity(counts, job, quote.price_each, lines=lines, weld_share=weld_share)
    if copies is None:
        return ()
    return (break_even_figure(quote, copies, job.bench.money.currency),)


def _several_mandrels(take: Take) -> Iterator[str]:
    """Warn of rings of one size that need a mandrel for each of their metals."""
    sizes: dict[tuple[float, float], dict[float, list[str]]] = {}
    for need in take.wire:
        if need.rings and need.mandrel_mm:
            by_mandrel = sizes.setdefault((round(need.wire_mm, 3), round(need.inner_mm, 3)), {})
            titles = by_mandrel.setdefault(round(need.mandrel_mm, 3), [])
            if take.metals[need.metal].title not in titles:
                titles.append(take.metals[need.metal].title)
    for (wire_mm, inner_mm), by_mandrel in sizes.items():
        if len(by_mandrel) > 1:
            each = ", ".join(
                f"{mandrel_mm:g} mm for {' and '.join(titles)}"
                for mandrel_mm, titles in sorted(by_mandrel.items())
            )
            yield (
                f"{take.counts.piece}: rings of one size, {inner_mm:.3g} mm inside in "
                f"{wire_mm:.3g} mm wire, need {len(by_mandrel)} mandrels, since metals spring back "
                f"differently: {each}"
            )


def _unpriced(quotes: Sequence[Quote]) -> Iterator[str]:
    """Say of every piece what its price is without."""
    for quote in quotes:
        if quote.missing:
            yield (
                f"{quote.piece}: cost and price are without {', '.join(quote.missing)}: no price "
                "is given (sheets 'prices' and 'fittings')"
            )


def _warnings(job: Job, takes: Sequence[Take]) -> tuple[str, ...]:
    found = [*invented_rates(job.bench.money), *old_prices(job)]
    for take in takes:
        found += _several_mandrels(take)
        for need in take.wire:
            if need.rings == 0:
                continue
            ring = f"{take.counts.piece}: {need.wire_mm:g} mm {take.metals[need.metal].title}"
            if need.mandrel_mm == 0:
                found.append(f"{ring}: no mandrel can be worked out for a ring of this temper")
            elif need.temper not in take.metals[need.metal].yield_mpa:
                found.append(
                    f"{ring}: yield strength in temper {need.temper!r} is not known; the mandrel "
                    "is for the softest known temper"
                )
    return tuple(found)
