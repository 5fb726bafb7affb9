"""Cost and price of a piece in decimal arithmetic, each amount rounded once.

The sums, as the workbook repeats them with live formulas:

    amount            = round(quantity × rate)                      each cost line
    cost              = sum of the amounts of the piece             all copies
    cost each         = round(cost / copies)
    price each        = the list price, or round(cost each / (1 − margin/100))
    tax each          = round(price each × tax/100)
    price with tax    = price each + tax each

Quantities are cut to four decimals and rates to six before they are multiplied, so what is printed
is what was counted. Scrap that comes back has a negative rate.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.estimate.material.rings import wire_area_mm2
from chainplan.estimate.price.hallmark import check_hallmark
from chainplan.estimate.price.pricing import RATE, exact, to_money
from chainplan.estimate.stations import hours_of
from chainplan.model.estimate import CostLine, Quote
from chainplan.model.kinds import CostItem, CostKind
from chainplan.model.piece.fittings import FittingKind
from chainplan.model.workshop.bench_log import STATIONS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.estimate.price.pricing import PriceBook
    from chainplan.estimate.take import Take
    from chainplan.model.bench.groups import MoneySettings
    from chainplan.model.job import Job

HUNDRED = Decimal(100)

LABOUR = {station: CostItem(CostKind.LABOUR, station) for station in STATIONS}
"""Station → how its labour is called on the cost line."""


def cost_lines(take: Take, book: PriceBook) -> tuple[CostLine, ...]:
    """Cost of one piece, all copies, line by line; only what has a price and a quantity.

    Parameters
    ----------
    take : Take
        What the piece takes.
    book : PriceBook
        The job's prices.
    """
    decimals = book.bench.money.decimals
    return tuple(
        CostLine(
            piece=take.counts.piece,
            item=item,
            quantity=quantity,
            unit=unit,
            rate=rate,
            amount=to_money(quantity * rate, decimals),
            source=source,
        )
        for item, quantity, unit, rate, source in _lines(take, book)
        if quantity > 0 and rate != 0
    )


_Line = tuple[CostItem, Decimal, str, Decimal, str]


def _lines(take: Take, book: PriceBook) -> Iterator[_Line]:
    yield from _metal_lines(take, book)
    money = book.bench.money
    for time in take.times:
        hours = exact(time.usual_min / 60)
        yield (LABOUR[time.station], hours, "h", money.labour_per_hour, time.basis)
    change_h = exact(take.counts.change_h)
    changed = "setting the welder anew before it, and rings that this spoils, counted as hours"
    yield (CostItem(CostKind.CHANGES), change_h, "h", money.labour_per_hour, changed)
    hours, above = exact(hours_of(take.times)), take.counts.wage_above_per_hour
    yield (CostItem(CostKind.WAGES), hours, "h", above, "who works on it, above the bench's labour")
    yield from _supply_lines(take, book)


def _metal_lines(take: Take, book: PriceBook) -> Iterator[_Line]:
    """Metal by kind, then the premium of each wire, then precious scrap that comes back."""
    for key, metal in take.metals.items():
        needs = [need for need in take.wire if need.metal == key]
        price = book.per_g(key)
        if price is not None:
            used = exact(sum(need.mass_used_g for need in needs))
            yield (
                CostItem(CostKind.METAL, metal.title),
                used,
                "g",
                price,
                "bought, scrap included",
            )
        for need in needs:
            g_per_m = wire_area_mm2(need.wire_mm) * metal.density_g_cm3.usual
            premium = book.premium_per_g(key, g_per_m)
            if premium is not None:
                drawn = exact(need.wire_length_m * g_per_m)
                name = CostItem(CostKind.PREMIUM, f"{metal.title} {need.wire_mm:g} mm")
                yield (name, drawn, "g", premium, "above the metal's own price")
        if price is not None and metal.precious:
            scrap = exact(sum(need.scrap_g for need in needs))
            share = book.bench.money.scrap_back_percent / HUNDRED
            back = -(price * share).quantize(RATE)
            name = CostItem(CostKind.SCRAP, metal.title)
            yield (
                name,
                scrap,
                "g",
                back,
                "kerf, coil ends, spare rings; refiner's share",
            )


def _supply_lines(take: Take, book: PriceBook) -> Iterator[_Line]:
    copies = Decimal(take.counts.quantity)
    pulses = take.pulses
    cut = sum(need.rings + need.spare_rings - need.rings_from_stock for need in take.wire)
    argon = book.argon_per_l()
    if argon is not None:
        yield (CostItem(CostKind.ARGON), exact(pulses.gas_l), "l", argon, "puffs and leak")
    hours = exact(hours_of(take.times))
    finding = check_hallmark(take, book.bench.money.country)
    supplies = (
        (CostKind.TIP, exact(pulses.tips), "each", "share of a tip ground away"),
        (CostKind.ELECTRICITY, exact(pulses.electricity_kwh), "kWh", "pulses and idling"),
        (CostKind.BLADE, exact(cut / book.bench.wire.rings_per_blade), "each", "rings cut"),
        (CostKind.CLASP, copies * take.counts.clasps, "each", "one a piece with a clasp"),
        (CostKind.CLEANING, copies, "each", "one a copy"),
        (CostKind.PACKING, copies, "each", "one a copy"),
        (CostKind.HALLMARK, copies if finding.needed else Decimal(0), "each", finding.text),
        (CostKind.OVERHEAD, hours, "h", "all bench hours"),
    )
    for item, quantity, unit, source in supplies:
        price = book.each(item)
        if price is not None:
            yield (CostItem(item), quantity, unit, price, source)
        if item == CostKind.CLASP:
            yield from _fitting_lines(take, book)
    for name, price, source in book.extras():
        yield (CostItem(CostKind.EXTRA, name), copies, "each", price, source)


def _fitting_lines(take: Take, book: PriceBook) -> Iterator[_Line]:
    """Fittings and extras of a piece, those of one name together."""
    number: dict[CostItem, int] = {}
    prices: dict[CostItem, Decimal] = {}
    for fitting in take.counts.fittings:
        price = book.of_fitting(fitting)
        if price is not None:
            extra = fitting.kind == FittingKind.EXTRA
            item = CostItem(CostKind.EXTRA if extra else CostKind.FITTING, fitting.name)
            number[item] = number.get(item, 0) + 1
            prices[item] = price
    for item, count in number.items():
        quantity = Decimal(take.counts.quantity * count)
        yield (item, quantity, "each", prices[item], f"{count} a copy")


def missing_prices(take: Take, book: PriceBook) -> tuple[str, ...]:
    """Name what the cost leaves out because the job gives no price for it."""
    missing = [key for key in take.metals if book.per_g(key) is None]
    if book.argon_per_l() is None:
        missing.append("argon")
    if check_hallmark(take, book.bench.money.country).needed and book.each("hallmark") is None:
        missing.append("hallmark")
    if take.counts.clasps and book.each("clasp") is None:
        missing.append("clasp")
    unpriced = [one.name for one in take.counts.fittings if book.of_fitting(one) is None]
    missing += dict.fromkeys(unpriced)
    if book.bench.money.labour_per_hour == 0:
        missing.append("labour")
    return tuple(missing)


def price_of(cost_each: Decimal, money: MoneySettings) -> Decimal:
    """Price before tax that leaves the margin: ``cost / (1 − margin)``, rounded.

    Examples
    --------
    >>> from chainplan.model.bench.groups import MoneySettings
    >>> price_of(Decimal("60.00"), MoneySettings(margin_percent=Decimal(40)))
    Decimal('100.00')
    """
    return to_money(cost_each / (1 - money.margin_percent / HUNDRED), money.decimals)


def quote_of(
    take: Take,
    lines: Sequence[CostLine],
    book: PriceBook,
    *,
    torch_cost_each: Decimal | None = None,
) -> Quote:
    """Cost and price of one piece from its cost lines.

    Parameters
    ----------
    take : Take
        The piece.
    lines : sequence of CostLine
        Its cost lines.
    book : PriceBook
        Gives margin, tax and decimals.
    torch_cost_each : Decimal, optional
        What the same piece costs by torch.
    """
    money = book.bench.money
    copies = take.counts.quantity
    cost = to_money(sum((line.amount for line in lines), Decimal(0)), money.decimals)
    cost_each = to_money(cost / copies, money.decimals)
    listed = take.counts.list_price
    price = price_of(cost_each, money) if listed is None else to_money(listed, money.decimals)
    tax = to_money(price * money.tax_percent / HUNDRED, money.decimals)
    notes = []
    if listed is not None:
        earned = (1 - cost_each / price) * HUNDRED if price else Decimal(0)
        notes.append(f"list price: leaves {earned:.0f} % of it above cost")
        if price < cost_each:
            notes.append("the list price is below cost")
    finding = check_hallmark(take, money.country)
    if finding.text:
        notes.append(finding.text)
    missing = missing_prices(take, book)
    if missing:
        notes.append(f"no price given, so not in the cost: {', '.join(missing)}")
    return Quote(
        piece=take.counts.piece,
        quantity=copies,
        cost=cost,
        cost_each=cost_each,
        price_each=price,
        tax_each=tax,
        price_with_tax_each=price + tax,
        torch_cost_each=torch_cost_each,
        missing=missing,
        notes=tuple(notes),
    )


def quote_take(job: Job, take: Take) -> Quote:
    """Cost and price of what a piece takes, by the job's own prices, without the torch's."""
    from chainplan.estimate.price.pricing import PriceBook

    book = PriceBook.of(job)
    return quote_of(take, cost_lines(take, book), book)
