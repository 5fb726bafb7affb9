"""What a job may give a price for, and per what; the reader refuses every other item."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.piece.fittings import FittingKind

METAL_UNITS = ("g", "kg", "ozt")
"""What a metal's price may be per; the item is then the metal's key."""

WIRE_PREMIUM = "wire premium"
"""Followed by a metal's key: what wire costs above the metal in it, per g, kg, ozt or m."""

EXTRA = "extra"
"""Followed by words of the user's own: what every copy costs besides, or the job once."""

EXTRA_UNITS = ("each", "job")
"""Per copy, or once for the job, shared by all copies alike."""


@dataclass(frozen=True, slots=True)
class PriceItem:
    """Something with a price that is not a metal."""

    item: str
    per: tuple[str, ...]
    means: str


PRICE_ITEMS = (
    PriceItem("argon", ("l", "cylinder"), "welding argon, per litre or per full cylinder"),
    PriceItem("electrode tip", ("each",), "one electrode, before it is ground away"),
    PriceItem("electricity", ("kWh",), "mains electricity"),
    PriceItem("saw blade", ("each",), "one blade"),
    PriceItem("mandrel", ("each",), "one mandrel"),
    PriceItem("clasp", ("each",), "one clasp"),
    *(
        PriceItem(str(kind), ("each",), f"one {kind} of the fittings without a price of its own")
        for kind in FittingKind
        if kind not in {FittingKind.CLASP, FittingKind.EXTRA}
    ),
    PriceItem("hallmark", ("each",), "assay fee for one piece"),
    PriceItem("packing", ("each",), "box and card for one piece"),
    PriceItem("cleaning", ("each",), "cleaning supplies for one piece"),
    PriceItem("solder", METAL_UNITS, "solder, for the comparison with the torch"),
    PriceItem("torch gas", ("hour", "l", "kg"), "fuel gas, for the comparison with the torch"),
    PriceItem("flux and pickle", ("each",), "supplies for one piece soldered by torch"),
    PriceItem("welder", ("each",), "the welder, for its payback"),
    PriceItem("overhead", ("hour",), "rent, light, insurance … per bench hour"),
)
