"""What drives the cost, how it falls with quantity, and from how many copies a price pays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from chainplan.estimate.price.money import price_of, quote_take
from chainplan.estimate.take import take_of
from chainplan.estimate.tuning import tuning
from chainplan.model.estimate import CostDriver, PieceCounts, QuantityBreak, Quote
from chainplan.model.job import Job


def quote_for(counts: PieceCounts, job: Job, *, lines: int = 1, weld_share: float = 1.0) -> Quote:
    """Cost and price of a piece, without what the torch would cost.

    ``lines`` and ``weld_share`` as in :func:`chainplan.estimate.take.take_of`.
    """
    return quote_take(job, take_of(counts, job, lines=lines, weld_share=weld_share))


def quantity_breaks(
    counts: PieceCounts, job: Job, *, lines: int = 1, weld_share: float = 1.0
) -> tuple[QuantityBreak, ...]:
    """Cost and price of one copy for several quantities: set-up and learning are shared out.

    The price is the one that leaves the bench's margin, even if the piece has a list price.
    """
    found = []
    for quantity in sorted({*tuning().breaks, counts.quantity}):
        quote = quote_for(
            replace(counts, quantity=quantity), job, lines=lines, weld_share=weld_share
        )
        found.append(
            QuantityBreak(
                piece=counts.piece,
                quantity=quantity,
                cost_each=quote.cost_each,
                price_each=price_of(quote.cost_each, job.bench.money),
            )
        )
    return tuple(found)


def break_even_quantity(
    counts: PieceCounts, job: Job, price_each: Decimal, *, lines: int = 1, weld_share: float = 1.0
) -> int | None:
    """Fewest copies whose cost each is at most a price; None if there is no such quantity.

    Notes
    -----
    The cost each falls with the quantity but for whole coils, tumbler loads and regrinds, so the
    answer is the smallest found by doubling and halving: one copy fewer costs more than the price.
    """

    def pays(quantity: int) -> bool:
        made = replace(counts, quantity=quantity)
        quote = quote_for(made, job, lines=lines, weld_share=weld_share)
        return quote.cost_each <= price_each

    if pays(1):
        return 1
    low, high = 1, 2
    while not pays(high):
        if high >= tuning().most_copies:
            return None
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        if pays(middle):
            high = middle
        else:
            low = middle
    return high


Change = Callable[[PieceCounts, Job], tuple[PieceCounts, Job]]
"""Changes one input of a job or of a piece's counts."""


@dataclass(frozen=True, slots=True)
class _Driver:
    name: str
    low: str
    high: str
    at_low: Change
    at_high: Change


def _change_bench(**groups: object) -> Change:
    """Replace settings, given as group=dict of fields."""

    def change(counts: PieceCounts, job: Job) -> tuple[PieceCounts, Job]:
        bench = job.bench
        new: dict[str, Any] = {
            name: replace(getattr(bench, name), **values)  # type: ignore[arg-type]
            for name, values in groups.items()
        }
        return counts, replace(job, bench=replace(bench, **new))

    return change


def _change_metal(share: Decimal) -> Change:
    def change(counts: PieceCounts, job: Job) -> tuple[PieceCounts, Job]:
        metals = {group.metal for group in counts.groups}
        prices = tuple(
            replace(price, price=price.price * share) if price.item in metals else price
            for price in job.prices
        )
        return counts, replace(job, prices=prices)

    return change


def _change_weld(share: float) -> Change:
    def change(counts: PieceCounts, job: Job) -> tuple[PieceCounts, Job]:
        return replace(counts, weld_s=counts.weld_s * share), job

    return change


def _drivers(job: Job) -> tuple[_Driver, ...]:
    stations, wire = job.bench.stations, job.bench.wire
    quick, slow = stations.quick_share, stations.slow_share
    few, many = Decimal("0.9"), Decimal("1.1")
    rate = job.bench.money.labour_per_hour
    worse = max(1 - 2 * (1 - wire.join_yield), 0.3)
    better = 1 - (1 - wire.join_yield) / 2

    def weave(share: float) -> Change:
        ring_s, link_s = stations.weave_ring_s * share, stations.weave_link_s * share
        return _change_bench(stations={"weave_ring_s": ring_s, "weave_link_s": link_s})

    def labour(share: Decimal) -> Change:
        return _change_bench(money={"labour_per_hour": rate * share})

    def joins(share: float) -> Change:
        return _change_bench(wire={"join_yield": share})

    def kerf(factor: float) -> Change:
        return _change_bench(wire={"kerf_mm": wire.kerf_mm * factor})

    ends = (f"{quick:.0%}", f"{slow:.0%}")
    wages = (f"{rate * few:.2f} an hour", f"{rate * many:.2f} an hour")
    kerfs = (f"{wire.kerf_mm / 2:g} mm", f"{wire.kerf_mm * 2:g} mm")
    return (
        _Driver("metal price", "−10 %", "+10 %", _change_metal(few), _change_metal(many)),
        _Driver("labour rate", *wages, labour(few), labour(many)),
        _Driver("weaving time", *ends, weave(quick), weave(slow)),
        _Driver("welding time", *ends, _change_weld(quick), _change_weld(slow)),
        _Driver("join yield", f"{better:.1%}", f"{worse:.1%}", joins(better), joins(worse)),
        _Driver("kerf", *kerfs, kerf(0.5), kerf(2.0)),
    )


def cost_drivers(
    counts: PieceCounts, job: Job, *, lines: int = 1, weld_share: float = 1.0
) -> tuple[CostDriver, ...]:
    """Change one input at a time between its ends and count the cost again, strongest first.

    The ends: times by the bench's quick and slow shares, metal and labour by a tenth either way,
    the share of bad joins and the kerf halved and doubled.
    """

    def cost_each(counts: PieceCounts, job: Job) -> Decimal:
        return quote_for(counts, job, lines=lines, weld_share=weld_share).cost_each

    usual = cost_each(counts, job)
    found = []
    for driver in _drivers(job):
        low = cost_each(*driver.at_low(counts, job))
        high = cost_each(*driver.at_high(counts, job))
        found.append(
            CostDriver(
                piece=counts.piece,
                driver=driver.name,
                low_input=driver.low,
                high_input=driver.high,
                cost_low_each=low,
                cost_usual_each=usual,
                cost_high_each=high,
            )
        )
    return tuple(sorted(found, key=lambda line: (-line.swing, line.driver)))
