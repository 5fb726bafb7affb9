"""Money: rates, overhead, margin, tax."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from chainplan.model.bench.setting import INVENTED, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneySettings:
    """Rates in the job's own currency; invented, so put your own."""

    currency: str = setting("EUR", means="currency shown, ISO 4217 letters", source=INVENTED)
    labour_per_hour: Decimal = setting(
        Decimal("30.00"), unit="per hour", means="labour", source=INVENTED, low=0, high=100000
    )
    margin_percent: Decimal = setting(
        Decimal(40),
        unit="%",
        means="margin on the price before tax",
        source=INVENTED,
        low=0,
        high=95,
    )
    tax_percent: Decimal = setting(
        Decimal(0), unit="%", means="sales tax put on the price", source=INVENTED, low=0, high=100
    )
    scrap_back_percent: Decimal = setting(
        Decimal(80),
        unit="%",
        means="what a refiner pays back for precious scrap, of its metal price",
        source=INVENTED,
        low=0,
        high=100,
    )
    price_age_days: int = setting(
        30,
        unit="days",
        means="a price older than this is warned of",
        source=INVENTED,
        low=0,
        high=9999,
    )
    decimals: int = setting(2, means="decimals of the currency", source=INVENTED, low=0, high=4)
    country: str = setting("UK", means="country whose hallmark rule applies", source=INVENTED)
