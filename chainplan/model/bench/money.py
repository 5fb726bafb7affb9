"""Money: rates, overhead, margin, tax."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.model.bench.setting import setting

if TYPE_CHECKING:
    from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneySettings:
    """Rates in the job's own currency; invented, so put your own."""

    currency: str = setting("money", "currency")
    labour_per_hour: Decimal = setting("money", "labour_per_hour")
    margin_percent: Decimal = setting("money", "margin_percent")
    tax_percent: Decimal = setting("money", "tax_percent")
    scrap_back_percent: Decimal = setting("money", "scrap_back_percent")
    price_age_days: int = setting("money", "price_age_days")
    decimals: int = setting("money", "decimals")
    country: str = setting("money", "country")
