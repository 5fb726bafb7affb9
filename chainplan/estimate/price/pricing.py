"""Prices of the job, each turned once into the unit that the estimates count in."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING

from chainplan.model.bench.setting import settings_of
from chainplan.model.prices import EXTRA, WIRE_PREMIUM
from chainplan.reference.gas import STANDARD_PRESSURE_BAR, contents_l

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.model.bench import Bench
    from chainplan.model.bench.groups import MoneySettings
    from chainplan.model.estimate import FittingCount
    from chainplan.model.job import Job, Price

RATE = Decimal("0.000001")
"""Rates are kept to six decimals: enough for a price per gram made from one per troy ounce."""

G_PER = {"g": Decimal(1), "kg": Decimal(1000), "ozt": Decimal("31.1034768")}
"""Grams in each unit that metal is priced by; the troy ounce is 480 grains of 64.79891 mg."""


def exact(number: float, places: str = "0.0001") -> Decimal:
    """Turn a measured quantity into a decimal with a fixed number of places.

    Examples
    --------
    >>> exact(1.23456)
    Decimal('1.2346')
    """
    return Decimal(repr(float(number))).quantize(Decimal(places), ROUND_HALF_UP)


def to_money(amount: Decimal, decimals: int) -> Decimal:
    """Round an amount to the currency's decimals, a half away from zero.

    Examples
    --------
    >>> to_money(Decimal("2.345"), 2), to_money(Decimal("-2.345"), 2)
    (Decimal('2.35'), Decimal('-2.35'))
    """
    return amount.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)


@dataclass(frozen=True, slots=True)
class PriceBook:
    """The job's prices by item; of two prices for one item the later dated one counts."""

    prices: dict[str, Price]
    bench: Bench
    copies: int = 1  # of all pieces of the job

    @classmethod
    def of(cls, job: Job) -> PriceBook:
        """Take the prices of a job."""
        best: dict[str, Price] = {}
        for price in job.prices:
            known = best.get(price.item)
            newer = known is None or (price.date or _NEVER) >= (known.date or _NEVER)
            if newer:
                best[price.item] = price
        return cls(best, job.bench, sum(piece.quantity for piece in job.pieces) or 1)

    def each(self, item: str) -> Decimal | None:
        """Price of an item as it is given, or None."""
        price = self.prices.get(item)
        return None if price is None else price.price

    def of_fitting(self, fitting: FittingCount) -> Decimal | None:
        """Price of a fitting or extra: its own, or that of its kind."""
        return self.each(fitting.kind) if fitting.price is None else fitting.price

    def extras(self) -> Iterator[tuple[str, Decimal, str]]:
        """Yield what every copy costs besides: what for, price of a copy, how it was given."""
        for item, price in self.prices.items():
            if not item.startswith(f"{EXTRA} "):
                continue
            name = item.removeprefix(f"{EXTRA} ")
            if price.per == "job":
                share = (price.price / self.copies).quantize(RATE, ROUND_HALF_UP)
                yield name, share, f"{price.price} for the job, over {self.copies} copies"
            else:
                yield name, price.price, "every copy"

    def per_g(self, item: str) -> Decimal | None:
        """Price of a metal, or of solder, per gram."""
        price = self.prices.get(item)
        if price is None or price.per not in G_PER:
            return None
        return (price.price / G_PER[price.per]).quantize(RATE, ROUND_HALF_UP)

    def premium_per_g(self, metal: str, g_per_m: float) -> Decimal | None:
        """Say what wire costs above its metal, per gram, from a price per gram or per metre."""
        item = f"{WIRE_PREMIUM} {metal}"
        price = self.prices.get(item)
        if price is not None and price.per == "m":
            return (price.price / exact(g_per_m, "0.000001")).quantize(RATE, ROUND_HALF_UP)
        return self.per_g(item)

    def argon_per_l(self) -> Decimal | None:
        """Price of argon per litre; one per cylinder is spread over what can be taken out of it."""
        price = self.prices.get("argon")
        if price is None or price.per != "cylinder":
            return None if price is None else price.price
        welder = self.bench.welder
        usable_l = contents_l(
            welder.cylinder_l, welder.cylinder_full_bar + STANDARD_PRESSURE_BAR
        ) - contents_l(welder.cylinder_l, welder.cylinder_left_bar + STANDARD_PRESSURE_BAR)
        return (price.price / exact(max(usable_l, 1e-3), "0.001")).quantize(RATE, ROUND_HALF_UP)


_NEVER = datetime.date.min


RATES = ("labour_per_hour", "margin_percent")
"""Settings that every price follows."""


def invented_rates(money: MoneySettings) -> tuple[str, ...]:
    """Name once the rates that still stand as they were invented, and where to change them."""
    rates = [
        f"'{info.words}' {info.default}"
        for info in settings_of("money", type(money))
        if info.name in RATES and getattr(money, info.name) == info.default
    ]
    if not rates:
        return ()
    return (
        f"Still invented, and every price follows it: {' and '.join(rates)}. Change it on the "
        "sheet 'bench' of the job (group money).",
    )


def old_prices(job: Job) -> tuple[str, ...]:
    """Warn of prices older than the bench allows, dated after the job begins, and without a date.

    Age is counted to the job's first working day; without one, to the job's newest price, so that
    the same job gives the same plan on every day.
    """
    dates = [price.date for price in job.prices if price.date is not None]
    if not job.prices:
        return ()
    today = job.start_date or max(dates, default=None)
    found = []
    if today is not None:
        limit = job.bench.money.price_age_days
        old = [
            f"{price.item} ({price.date.isoformat()}, {(today - price.date).days} days)"
            for price in job.prices
            if price.date is not None and (today - price.date).days > limit
        ]
        if old:
            found.append(f"prices older than {limit} days: {', '.join(old)}")
        later = [
            f"{price.item} ({price.date.isoformat()})"
            for price in job.prices
            if price.date is not None and price.date > today
        ]
        if later:
            found.append(
                f"prices dated after the job's first working day, {today.isoformat()}: "
                f"{', '.join(later)}; is one of the dates mistyped?"
            )
    undated = [price.item for price in job.prices if price.date is None]
    if undated:
        found.append(f"prices without a date: {', '.join(undated)}")
    return tuple(found)
