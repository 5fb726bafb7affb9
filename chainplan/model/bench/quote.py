"""What a quote says beside the piece: who makes it, for whom, terms, care."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteSettings:
    """The workshop's own words; each may be empty."""

    shop: str = setting("", means="name of the workshop on quotes", source="yours")
    logo: str = setting("", means="picture at the head of quotes, beside the job", source="yours")
    contact: str = setting("", means="address, telephone or mail on quotes", source="yours")
    customer: str = setting(
        "", means="for whom the job is; pieces may name their own", source="yours"
    )
    valid_days: int = setting(
        30, unit="days", means="days for which a quote holds", source=INVENTED, low=1, high=3650
    )
    terms: str = setting("", means="terms on quotes: deposit, payment, returns", source="yours")
    care: str = setting("", means="care on quotes; as the metals want it if empty", source="yours")
