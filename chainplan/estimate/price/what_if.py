"""Prices and rates changed one by one, and what that does to every piece."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError, Refusal, quote, tell_known, unknown
from chainplan.estimate.price.money import quote_take
from chainplan.estimate.price.pricing import PriceBook
from chainplan.estimate.take import take_of
from chainplan.model.bench.setting import settings_of
from chainplan.model.estimate import WhatIf, WhatIfLine
from chainplan.model.prices import PRICE_ITEMS, WIRE_PREMIUM
from chainplan.reference import find_metal
from chainplan.units import read_number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.bench.setting import SettingInfo
    from chainplan.model.estimate import PieceCounts, Quote
    from chainplan.model.job import Job

GROUPS = ("money", "wire", "stations")
"""Groups of settings on which no weld order rests."""
SHORT = {
    "wage": ("money", "labour_per_hour"),
    "margin": ("money", "margin_percent"),
    "tax": ("money", "tax_percent"),
    "yield": ("wire", "join_yield"),
}
"""Settings by the word that people use."""
MOST_PRICE = 100_000_000
"""As on the sheet of prices."""
_CHANGE = re.compile(r"\s*([^=+%]+?)\s*(?:=\s*(.+?)|([+\-−]\s*[0-9.,]+)\s*%)\s*")


def change_job(job: Job, changes: Sequence[str]) -> tuple[Job, tuple[str, ...]]:
    """Change prices and rates of a job; say each with what it was.

    Parameters
    ----------
    job : Job
        As it stands.
    changes : sequence of str
        NAME=VALUE, NAME+10% or NAME-10%; a name is ``metal:KEY``, a price item, one of the short
        words, or a setting of the groups money, wire and stations.

    Raises
    ------
    InputError
        If a change cannot be read, or what it names has no price or rests on the weld order.
    """
    if not changes:
        message = "say what changes, such as metal:sterling-silver+10%, wage=35 or yield=0.95"
        raise InputError(message)
    said = []
    for text in changes:
        match = _CHANGE.fullmatch(text) if len(text) <= BOUNDS.word_letters else None
        if match is None:
            allowed = "write NAME=VALUE, NAME+10% or NAME-10%"
            raise InputError(Refusal("cannot be read", allowed, quote(text), "change"))
        name, value, percent = match.groups()
        share = None
        if percent is not None:
            share = 1 + read_number(re.sub("[ ]", "", percent.replace("−", "-"))) / 100
            if share < 0:
                raise InputError(Refusal("takes off more than all", "-100% at most", quote(text)))
        item = _price_item(job, name)
        job, line = (
            _change_setting(job, name, value, share)
            if item is None
            else _change_price(job, item, value, share)
        )
        said.append(line)
    return job, tuple(said)


def _price_item(job: Job, name: str) -> str | None:
    """Find the price item that a name means; None if it is none."""
    kind, _, rest = name.partition(":")
    if rest and kind.strip().casefold() in ("metal", WIRE_PREMIUM):
        key = find_metal(rest.strip(), own=job.metals).key
        return key if kind.strip().casefold() == "metal" else f"{WIRE_PREMIUM} {key}"
    plain = " ".join(name.casefold().replace("-", " ").replace("_", " ").split())
    return plain if plain in {item.item for item in PRICE_ITEMS} else None


def _change_price(job: Job, item: str, value: str | None, share: float | None) -> tuple[Job, str]:
    price = PriceBook.of(job).prices.get(item)
    if price is None:
        known = sorted({known.item for known in job.prices})
        found = Refusal("has no price in the job", tell_known(known), quote(item))
        raise InputError(found)
    new = price.price * Decimal(str(share)) if share is not None else _number(item, value)
    if new < 0:
        raise InputError(Refusal("is below nothing", "a price is 0 or more", quote(value), item))
    if new > MOST_PRICE:
        allowed = f"{MOST_PRICE} at most"
        raise InputError(Refusal("is beyond all prices", allowed, f"{new:g}", item))
    new = new.quantize(Decimal("0.000001")).normalize()
    new = new.quantize(Decimal(1)) if new == new.to_integral() else new
    prices = tuple(replace(p, price=new) if p is price else p for p in job.prices)
    money = job.bench.money.currency
    line = f"{item.replace('-', ' ')}: {money} {price.price} to {money} {new} per {price.per}"
    return replace(job, prices=prices), line


def _number(name: str, value: str | None) -> Decimal:
    try:
        return Decimal(str(read_number(value or "")))
    except InputError as error:
        raise InputError(error.at(name)) from None


def _change_setting(job: Job, name: str, value: str | None, share: float | None) -> tuple[Job, str]:
    info = _find_setting(job, name)
    group = getattr(job.bench, info.group)
    old = getattr(group, info.name)
    if isinstance(old, bool) or not isinstance(old, (int, float, Decimal)):
        raise InputError(Refusal("is no number", "change it in the job", info.words))
    if share is not None:
        new = Decimal(str(old)) * Decimal(str(share))
    else:
        text = (value or "").strip()
        of_hundred = text.endswith("%") and info.unit != "%"
        new = _number(info.words, text.rstrip("% ")) / (100 if of_hundred else 1)
    low, high = info.low, info.high
    if (low is not None and new < Decimal(str(low))) or (
        high is not None and new > Decimal(str(high))
    ):
        allowed = f"{low:g} to {high:g} is allowed"
        raise InputError(Refusal("is out of bounds", allowed, f"{new:g}", info.words))
    kept: Any = new if isinstance(old, Decimal) else type(old)(new)
    bench = replace(job.bench, **{info.group: replace(group, **{info.name: kept})})
    unit = f" {info.unit}" if info.unit else ""
    return replace(job, bench=bench), f"{info.words}: {old:g} to {float(kept):g}{unit}"


def _find_setting(job: Job, name: str) -> SettingInfo:
    """Find the setting that a name means.

    Raises
    ------
    InputError
        If there is none, or a weld order rests on it.
    """
    wanted = name.strip().casefold().replace(" ", "_").replace("-", "_")
    group, _, own = wanted.rpartition(".")
    if wanted in SHORT:
        group, own = SHORT[wanted]
    known = list(_settings(job))
    found = [info for info in known if info.name == own and group in ("", info.group)]
    for info in found:
        if info.group in GROUPS:
            return info
    if found:
        said = Refusal(
            "cannot be asked so: the weld order rests on it",
            "change it in the job and plan anew",
            f"{found[0].group}: {found[0].words}",
        )
        raise InputError(said)
    words = [*SHORT, *(item.item for item in PRICE_ITEMS)]
    words += [info.name for info in known if info.group in GROUPS]
    raise InputError(unknown(name, words, what="price or rate"))


def _settings(job: Job) -> Iterator[SettingInfo]:
    for item in fields(job.bench):
        group = getattr(job.bench, item.name)
        if is_dataclass(group):
            yield from settings_of(item.name, type(group))


def weigh_changes(
    before: Job,
    after: Job,
    counts: Sequence[PieceCounts],
    *,
    weld_share: float,
    changes: tuple[str, ...],
    basis: str,
) -> WhatIf:
    """Set cost and price of every counted piece side by side for two states of a job.

    Parameters
    ----------
    before, after : Job
        The job as it stands, and with the changes.
    counts : sequence of PieceCounts
        The pieces, with their welding times.
    weld_share : float
        Welding time of the interleaved batch over that of the pieces one after another. [-]
    changes : tuple of str
        What was changed, as :func:`change_job` says it.
    basis : str
        Where the welding times come from.
    """
    old, new = (_quotes(job, counts, weld_share) for job in (before, after))
    lines = tuple(
        WhatIfLine(
            piece=first.piece,
            quantity=first.quantity,
            cost_before=first.cost_each,
            cost_after=second.cost_each,
            price_before=first.price_each,
            price_after=second.price_each,
            with_tax_before=first.price_with_tax_each,
            with_tax_after=second.price_with_tax_each,
            notes=notes,
        )
        for (first, notes), (second, _) in zip(old, new, strict=True)
    )
    return WhatIf(
        changes=changes,
        currency=before.bench.money.currency,
        lines=lines,
        total_cost_before=sum((quote.cost for quote, _ in old), Decimal(0)),
        total_cost_after=sum((quote.cost for quote, _ in new), Decimal(0)),
        total_price_before=sum((q.price_each * q.quantity for q, _ in old), Decimal(0)),
        total_price_after=sum((q.price_each * q.quantity for q, _ in new), Decimal(0)),
        total_with_tax_before=sum((q.price_with_tax_each * q.quantity for q, _ in old), Decimal(0)),
        total_with_tax_after=sum((q.price_with_tax_each * q.quantity for q, _ in new), Decimal(0)),
        tax=_say_tax(before.bench.money.tax_percent, after.bench.money.tax_percent),
        basis=basis,
    )


def _say_tax(before: Decimal, after: Decimal) -> str:
    """Say what stands between the prices before tax and those that the customer pays."""
    old, new = before.normalize(), after.normalize()
    if old != new:
        return f"prices before tax, and with tax: {old:f} % before, {new:f} % after"
    if not old:
        return "prices have no tax on them: the bench's tax is 0 %"
    return f"prices before tax, and with {old:f} % tax as the customer pays them"


def _quotes(
    job: Job, counts: Sequence[PieceCounts], weld_share: float
) -> list[tuple[Quote, tuple[str, ...]]]:
    """Quote every piece as a plan does, with what is to be known of it."""
    lines = sum(group.rings > 0 for piece in counts for group in piece.groups)
    used: dict[int, int] = {}
    found = []
    for piece in counts:
        take = take_of(piece, job, lines=lines, weld_share=weld_share, used=used)
        notes = []
        if piece.list_price is not None:
            notes.append("list price: the price stays, what is left of it changes")
        quote = quote_take(job, take)
        if quote.missing:
            notes.append(f"no price given, so not in the cost: {', '.join(quote.missing)}")
        found.append((quote, tuple(notes)))
    return found
