"""The same piece soldered by torch, in rounds of solder, pickle and rinse, and the payback."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.estimate.price.pricing import exact, to_money
from chainplan.estimate.pulse.pulses import extra_tries
from chainplan.estimate.stations import AT_THE_WELDER, hours_of
from chainplan.model.estimate import TorchComparison
from chainplan.model.kinds import CostKind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.estimate.price.pricing import PriceBook
    from chainplan.estimate.take import Take
    from chainplan.model.estimate import CostLine

WELDING_ONLY = (CostKind.ARGON, CostKind.TIP, CostKind.ELECTRICITY, CostKind.CHANGES)


def _is_of_welding(line: CostLine) -> bool:
    """Whether a cost would not arise if the piece were soldered by torch."""
    item = line.item
    return item.kind in WELDING_ONLY or (item.kind == CostKind.LABOUR and item.of in AT_THE_WELDER)


def torch_rounds(joins: int, joins_a_round: int) -> int:
    """Count rounds of solder, pickle and rinse for so many joins of one copy."""
    return math.ceil(joins / joins_a_round)


def compare_with_torch(take: Take, lines: Sequence[CostLine], book: PriceBook) -> TorchComparison:
    """Compare welding with the torch: what each needs beyond the work that both share.

    Parameters
    ----------
    take : Take
        The piece.
    lines : sequence of CostLine
        Its cost lines when welded.
    book : PriceBook
        Prices; those of solder, torch gas and flux count only here.

    Notes
    -----
    Both ways share metal, coiling, cutting, weaving, cleaning and finishing. Welding adds set-up,
    welding, rework, argon, tips and electricity; the torch adds rounds, solder, fuel and flux, with
    the same share of bad joins. Prices that the job does not give are left out on either side.
    """
    bench, counts = book.bench, take.counts
    settings, money = bench.stations, bench.money
    copies = counts.quantity
    tries = counts.joins * (1 + extra_tries(bench.wire.join_yield))
    rounds = torch_rounds(math.ceil(tries - 1e-9), settings.torch_joins_a_round) * copies
    hours = rounds * settings.torch_round_min / 60
    weld_cost = sum((line.amount for line in lines if _is_of_welding(line)), Decimal(0))
    shared = sum((line.amount for line in lines if not _is_of_welding(line)), Decimal(0))
    weld_h = hours_of(take.times, AT_THE_WELDER)
    extra = [exact(hours) * money.labour_per_hour]
    overhead = book.each("overhead")
    if overhead is not None:
        extra.append((exact(hours) - exact(weld_h)) * overhead)
    solder = book.per_g("solder")
    if solder is not None:
        extra.append(exact(tries * copies * settings.torch_solder_mg / 1000) * solder)
    fuel = book.prices.get("torch gas")
    if fuel is not None and fuel.per == "hour":
        extra.append(exact(hours) * fuel.price)
    flux = book.each("flux and pickle")
    if flux is not None:
        extra.append(flux * copies)
    cost = to_money(shared + sum(extra, Decimal(0)), money.decimals)
    cost_each = to_money(cost / copies, money.decimals)
    welded_each = to_money((shared + weld_cost) / copies, money.decimals)
    saved = cost_each - welded_each
    price = book.each("welder")
    back = math.ceil(price / saved) if price is not None and saved > 0 else None
    notes = []
    if any(key == "copper" for key in take.metals):
        notes.append("copper has no solder of its own colour: the joins would show")
    if fuel is not None and fuel.per != "hour":
        notes.append("torch gas counts only with a price per hour")
    if price is not None and saved <= 0:
        notes.append("the torch is not dearer here: the welder does not pay itself back by cost")
    days = (hours_of(take.times) - weld_h + hours) / bench.calendar.hours_per_day
    return TorchComparison(
        piece=counts.piece,
        rounds=rounds,
        hours=hours,
        working_days=days,
        cost=cost,
        cost_each=cost_each,
        weld_hours=weld_h,
        weld_cost=weld_cost,
        saved_each=saved,
        copies_to_pay_back=back,
        note="; ".join(notes),
    )
