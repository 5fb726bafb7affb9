"""What a quote says beside the piece: who makes it, for whom, terms, care."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteSettings:
    """The workshop's own words; each may be empty."""

    shop: str = setting("quote", "shop")
    logo: str = setting("quote", "logo")
    contact: str = setting("quote", "contact")
    customer: str = setting("quote", "customer")
    valid_days: int = setting("quote", "valid_days")
    terms: str = setting("quote", "terms")
    care: str = setting("quote", "care")
