"""Rows of the starter's example, and whether a job still has them: nobody's prices or stock."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.job import Price, StockItem

STARTER: dict[str, list[dict[str, Any]]] = {
    "pieces": [
        {
            "name": "Example necklace", "quantity": 1, "weave": "byzantine", "wire": 1.0,
            "inner": 3.5, "metal": "sterling-silver", "temper": "annealed", "length": 450,
            "clasp length": 12, "rounding": "nearest", "closing way": "all in place",
            "due": datetime.date(2027, 3, 1), "notes": "invented example: write over it",
        },
        {
            "name": "Example bracelet", "quantity": 2, "weave": "single-link", "wire": "18AWG",
            "mandrel": 4.0, "metal": "copper", "length": "7.5 in", "closed loop": False,
            "notes": "invented example: a gauge, a mandrel and inches",
        },
    ],
    "prices": [
        {"item": "sterling-silver", "price": Decimal("1.05"), "per": "g",
         "date": datetime.date(2027, 1, 11), "note": "invented: put today's price"},
        {"item": "copper", "price": Decimal("12.00"), "per": "kg",
         "date": datetime.date(2027, 1, 11), "note": "invented"},
        {"item": "argon", "price": Decimal("95.00"), "per": "cylinder",
         "date": datetime.date(2027, 1, 11), "note": "invented"},
        {"item": "electrode tip", "price": Decimal("2.40"), "per": "each",
         "date": datetime.date(2027, 1, 11), "note": "invented"},
    ],
    "stock": [
        {"kind": "wire", "metal": "sterling-silver", "temper": "annealed", "size": 1.0,
         "amount": 3, "pack": 1, "note": "invented: sold by the metre"},
        {"kind": "mandrel", "size": 4.0, "amount": 1, "note": "invented"},
    ],
    "parts": [
        {"piece": "Example necklace", "part": "spring clasp", "kind": "spring", "place": 0,
         "from": "end", "covers": 12},
    ],
}  # fmt: skip
"""The starter's invented rows."""
EXAMPLE_PARTS = frozenset((row["piece"], row["part"]) for row in STARTER["parts"])
"""Pieces and parts of the starter's rows, which stay behind where its pieces were renamed."""


def tell_examples(prices: Sequence[Price], stock: Sequence[StockItem]) -> Iterator[str]:
    """Say once which rows are the starter's and where to change them."""
    known = [(r["item"], r["price"], r["per"], r["date"], r["note"]) for r in STARTER["prices"]]
    listed = [
        price.item
        for price in prices
        if (price.item, price.price, price.per, price.date, price.note) in known
    ]
    if listed:
        yield (
            f"prices of the starter's example, invented: {', '.join(listed)} (sheet 'prices'): "
            "write today's over them"
        )
    shelf = [
        (r["kind"], r.get("metal", ""), r["size"], r["amount"], r["note"]) for r in STARTER["stock"]
    ]
    there = [
        _say(item)
        for item in stock
        if (item.kind, item.metal, item.size_mm, item.amount, item.note) in shelf
    ]
    if there:
        yield (
            "stock of the starter's example, counted as though it lay on your shelf: "
            f"{', '.join(there)} (sheet 'stock'): delete what you do not have"
        )


def _say(item: StockItem) -> str:
    metal = f"{item.metal.replace('-', ' ')} " if item.metal else ""
    amount = f", {item.amount:g} m" if item.kind == "wire" else ""
    return f"{metal}{item.kind} {item.size_mm:g} mm{amount}"
