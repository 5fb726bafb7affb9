"""The other way round: how many repeats a length of wire, a mass of metal or a budget makes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.errors import InputError, Refusal
from chainplan.estimate.price.money import quote_take
from chainplan.estimate.take import take_counted
from chainplan.model.job import Job, Piece
from chainplan.model.kinds import StockKind
from chainplan.model.piece.count import MadeFrom

if TYPE_CHECKING:
    from decimal import Decimal

    from chainplan.model.bench import Bench
    from chainplan.model.job import Section
    from chainplan.model.piece.count import Count

MOST_RINGS = 5_000_000
"""As many as a job may ask for."""


def bare_job(bench: Bench) -> Job:
    """Return a job of nothing but bench settings: no prices, nothing on the shelf."""
    return Job(name="count", pieces=(), bench=bench)


def what_it_takes(job: Job, section: Section, count: Count, limit: str) -> MadeFrom:
    """Say what a counted stretch takes in all: wire and metal with spares, kerf and coil ends."""
    stock = tuple(item for item in job.stock if item.kind == StockKind.MANDREL)
    job = replace(job, stock=stock)  # finished rings would stand in for wire
    piece = Piece(name=section.weave, quantity=1, sections=(section,))
    take = take_counted(job, piece, [count])
    quote = quote_take(job, take)
    priced = not any(key in quote.missing for key in take.metals)
    return MadeFrom(
        limit=limit,
        wire_length_m=sum(need.wire_length_m for need in take.wire),
        mass_used_g=sum(need.mass_used_g for need in take.wire),
        spare_rings=sum(need.spare_rings for need in take.wire),
        price_with_tax=quote.price_with_tax_each if priced else None,
        currency=job.bench.money.currency,
    )


def scale_count(count: Count, repeats: int) -> Count:
    """Return the count of so many repeats; links at the ends are not told apart."""
    share = repeats / count.repeats
    pitch_mm = count.longer_mm - count.length_mm
    return replace(
        count,
        repeats=repeats,
        rings=count.rings // count.repeats * repeats,
        joins=count.joins // count.repeats * repeats,
        links=round(count.links * share),
        length_mm=count.length_mm + (repeats - count.repeats) * pitch_mm,
        mass_g=count.mass_g * share,
        wire_length_m=count.wire_length_m * share,
        wire_with_kerf_m=count.wire_with_kerf_m * share,
    )


def most_repeats(
    job: Job,
    section: Section,
    count: Count,
    *,
    wire_m: float | None = None,
    mass_g: float | None = None,
    budget: Decimal | None = None,
) -> int:
    """Find how many repeats can be made of what there is.

    Parameters
    ----------
    job : Job
        Bench and prices.
    section, count : Section, Count
        The weave and ring, and any counted stretch of it.
    wire_m, mass_g, budget : optional
        Wire at hand [m], or its mass [g], or the price that may be asked, tax included.

    Raises
    ------
    InputError
        If it is not enough for one repeat, or the metal has no price.
    """

    def within(repeats: int) -> bool:
        takes = what_it_takes(job, section, scale_count(count, repeats), "")
        if wire_m is not None:
            return takes.wire_length_m <= wire_m
        if mass_g is not None:
            return takes.mass_used_g <= mass_g
        if takes.price_with_tax is None:
            found = f"{section.metal.replace('-', ' ')} has no price in the job"
            raise InputError(Refusal(found, "write it on the sheet prices"))
        return budget is not None and takes.price_with_tax <= budget

    if not within(1):
        found = f"it is not enough for one repeat of {count.rings // count.repeats} rings"
        raise InputError(Refusal(found, "more is needed"))
    most = MOST_RINGS * count.repeats // count.rings
    low, high = 1, 2
    while high < most and within(high):
        low, high = high, 2 * high
    high = min(high, most + 1)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if within(middle) else (low, middle)
    return low
