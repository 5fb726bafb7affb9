"""What a piece and a batch take: wire, gas, tips, time, money, calendar; each figure with its range."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping
    from decimal import Decimal

    from chainplan.model.order import WeldSetting


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One estimated number: low, usual, high, unit, what it was computed from, source."""

    key: str
    title: str
    usual: float
    low: float
    high: float
    unit: str
    basis: str = ""  # the formula in words, with the inputs used
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireNeed:
    """Wire for one piece (all copies) by metal, wire and temper."""

    piece: str
    metal: str
    temper: str
    wire_mm: float
    inner_mm: float
    mandrel_mm: float
    blade: str
    rings: int  # in all copies
    spare_rings: int
    coils: int
    wire_length_m: float  # bought for this piece: rings, spares, kerf, coil ends
    mass_in_piece_g: float  # all copies
    mass_used_g: float
    scrap_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyLine:
    """One line of the buy list, for the whole batch."""

    item: str
    metal: str
    temper: str
    size_mm: float
    needed: float
    in_stock: float
    to_buy: float
    unit: str  # "m", "each", "l"
    packs: int
    price: Decimal | None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingLine:
    """First welder setting to try for one section of a piece."""

    piece: str
    section: int
    metal: str
    wire_mm: float
    setting: WeldSetting
    too_thick: bool  # groove, tack, root, fill
    steps: tuple[str, ...]  # what to do, in order
    cautions: tuple[str, ...]
    figures: tuple[Figure, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StationTime:
    """Time of one piece (all copies) at one station, in minutes."""

    piece: str
    station: (
        str  # coil, cut, tumble, pre-close, weave, set up, weld, rework, clean, inspect, finish
    )
    low_min: float
    usual_min: float
    high_min: float
    basis: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """One cost of one piece (all copies)."""

    piece: str
    item: str
    quantity: Decimal
    unit: str
    rate: Decimal
    amount: Decimal
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """Cost and price of one piece."""

    piece: str
    quantity: int
    cost: Decimal  # all copies
    cost_each: Decimal
    price_each: Decimal  # before tax
    tax_each: Decimal
    price_with_tax_each: Decimal
    torch_cost_each: Decimal | None = None  # the same piece soldered by torch
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarLine:
    """One stretch of work of one piece at one station."""

    piece: str
    station: str
    start: datetime.datetime | None
    end: datetime.datetime | None
    start_h: float  # working hours from the start
    end_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DueLine:
    """Whether one piece is done by its date."""

    piece: str
    due: datetime.date | None
    done: datetime.date | None
    late_days: int
    chance_in_time: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimates:
    """All estimates of a job."""

    wire: tuple[WireNeed, ...] = ()
    buy: tuple[BuyLine, ...] = ()
    settings: tuple[SettingLine, ...] = ()
    figures: Mapping[str, tuple[Figure, ...]] = field(default_factory=dict)  # by piece; "" = batch
    times: tuple[StationTime, ...] = ()
    costs: tuple[CostLine, ...] = ()
    quotes: tuple[Quote, ...] = ()
    calendar: tuple[CalendarLine, ...] = ()
    due: tuple[DueLine, ...] = ()
    cautions: tuple[str, ...] = ()
    sources: tuple[Figure, ...] = ()  # every value used, unit, source, range
    currency: str = ""
    warnings: tuple[str, ...] = ()
