"""Reads the sheets that are plain lists: prices, stock, recorded settings and measured rings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.errors import did_you_mean
from chainplan.job.rows import need_one, read_row
from chainplan.model.job import Price, RecordedSetting, StockItem
from chainplan.model.metal import MeasuredRing
from chainplan.model.prices import METAL_UNITS, PRICE_ITEMS, WIRE_PREMIUM
from chainplan.model.weave_names import plain

if TYPE_CHECKING:
    from chainplan.job.table import Findings, Row
    from chainplan.job.words import Words


def read_prices(rows: list[Row], words: Words, findings: Findings) -> tuple[Price, ...]:
    """Read the prices; an item twice is a fault."""
    prices: dict[tuple[str, str], Price] = {}
    for row in rows:
        values = read_row("prices", row, findings)
        text, per = values["item"], values["per"]
        if text is None or per is None or values["price"] is None:
            continue
        found = _find_item(text, row, words, findings)
        if found is None:
            continue
        item, units = found
        if per not in units:
            allowed = f"allowed for it: {', '.join(units)}"
            findings.fault(row.place("per"), f"{item} is priced per {per}", allowed)
            continue
        if (item, per) in prices:
            said = f"a second price of {item} per {per}"
            findings.fault(row.place("item"), said, "keep one of them")
            continue
        prices[item, per] = Price(
            item=item, price=values["price"], per=per, date=values["date"],
            note=values["note"] or "",
        )  # fmt: skip
    return tuple(prices.values())


def _find_item(
    text: str, row: Row, words: Words, findings: Findings
) -> tuple[str, tuple[str, ...]] | None:
    """Find what a price is of, and per what it may be."""
    from chainplan.errors import InputError
    from chainplan.reference import find_metal, metal_keys

    wanted = plain(text)
    for known in PRICE_ITEMS:
        if plain(known.item) == wanted:
            return known.item, known.per
    premium = wanted.startswith(f"{WIRE_PREMIUM} ")
    metal = wanted.removeprefix(f"{WIRE_PREMIUM} ")
    try:
        key = find_metal(metal, words.metals).key
    except InputError:
        items = [*(known.item for known in PRICE_ITEMS), *words.metals, *metal_keys()]
        hint = did_you_mean(metal, [*items, *(f"{WIRE_PREMIUM} {key}" for key in metal_keys())])
        findings.fault(row.place("item"), f"there is no price item {text!r}", hint)
        return None
    return (f"{WIRE_PREMIUM} {key}", (*METAL_UNITS, "m")) if premium else (key, METAL_UNITS)


def read_stock(rows: list[Row], words: Words, findings: Findings) -> tuple[StockItem, ...]:
    """Read what is on the shelf."""
    stock = []
    for row in rows:
        values = read_row("stock", row, findings)
        kind = values["kind"]
        key = ""
        if values["metal"]:
            metal = words.metal(values["metal"], row.place("metal"), findings)
            key = metal.key if metal else ""
        elif kind in {"wire", "rings"}:
            findings.fault(row.where, f"{kind} without a metal", "write it in the column 'metal'")
        if kind == "rings" and row.get("inner") is None:
            findings.fault(row.where, "rings without a size", "write it in the column 'inner'")
        if kind is None or values["size"] is None:
            continue
        stock.append(
            StockItem(
                kind=kind,
                metal=key,
                temper=_temper(values["temper"], row, findings),
                size_mm=values["size"],
                inner_mm=values["inner"] or 0.0,
                amount=values["amount"] or 0.0,
                pack=values["pack"] or 0.0,
                note=values["note"] or "",
            )
        )
    return tuple(stock)


def _temper(text: str | None, row: Row, findings: Findings) -> str:
    """Read a temper that is known of any metal; "" if blank."""
    from chainplan.reference import TEMPERS

    wanted = plain(text or "").replace(" ", "-")
    if wanted and wanted not in TEMPERS:
        said = f"temper {text!r} is not known"
        findings.fault(row.place("temper"), said, f"known: {', '.join(TEMPERS)}")
        return ""
    return wanted


def read_recorded(
    rows: list[Row], words: Words, findings: Findings
) -> tuple[tuple[RecordedSetting, ...], tuple[MeasuredRing, ...]]:
    """Read welder settings that were good, and rings that were wound and measured."""
    settings: list[RecordedSetting] = []
    rings: list[MeasuredRing] = []
    for row in rows:
        values = read_row("recorded", row, findings)
        need_one(("power", "mandrel"), row, findings)
        if values["metal"] is None or values["wire"] is None:
            continue
        metal = words.metal(values["metal"], row.place("metal"), findings)
        if metal is None:
            continue
        note = values["note"] or ""
        temper = _temper(values["temper"], row, findings) or "annealed"
        if values["mandrel"] is not None:
            if row.get("inner") is None:
                said = "a measured ring without its inner diameter"
                findings.fault(row.where, said, "write it in the column 'inner'")
            elif any((metal.key, temper) == (ring.metal, ring.temper) for ring in rings):
                said = f"a second measured ring of {metal.key}, {temper}"
                findings.fault(row.where, said, "keep the one nearest to what you make")
            elif values["inner"] is not None:
                rings.append(
                    MeasuredRing(
                        metal=metal.key, wire_mm=values["wire"], mandrel_mm=values["mandrel"],
                        inner_mm=values["inner"], temper=temper, note=note,
                    )
                )  # fmt: skip
        elif values["power"] is not None:
            settings.append(
                RecordedSetting(
                    metal=metal.key, wire_mm=values["wire"], power_j=values["power"],
                    hits=values["hits"] or 1, tip=values["tip"] or "sharp", note=note,
                )
            )  # fmt: skip
    return tuple(settings), tuple(rings)
