"""What a piece and a batch take: wire, gas, tips, time, money; each figure with its range."""

from __future__ import annotations

from dataclasses import field
from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping

    from chainplan.model.kinds import CostItem
    from chainplan.model.order import WeldSetting


@frozen
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


@frozen
class RingGroup:
    """Rings of one size, metal and temper in one section of a piece; one copy."""

    section: int
    weave: str
    metal: str
    temper: str
    wire_mm: float
    inner_mm: float
    rings: int
    joins_in_place: int
    joins_beforehand: int  # pre-closed
    links: int  # links to weave, counted once each
    power_j: float
    hits: int
    mandrel_mm: float | None = None  # as the user gave it
    filler_g: float = 0.0  # filler wire a join, where the wire is too thick to penetrate
    filler_s: float = 0.0  # grooving and filling a join by hand


@frozen
class FittingCount:
    """One fitting, or extra, of one copy of a piece."""

    name: str
    kind: str
    price: Decimal | None  # as the fittings say; None: the price item of its kind, if there is one
    mass_g: float | None
    delivery_days: int | None
    station: str  # that waits for it; "" for an extra


@frozen
class PieceCounts:
    """What the estimates need to know of a piece: counts and the time its welding takes."""

    piece: str
    quantity: int
    groups: tuple[RingGroup, ...]
    weld_s: float  # one copy, waits included
    length_mm: float = 0.0
    clasps: int = 0
    fittings: tuple[FittingCount, ...] = ()
    minutes: tuple[tuple[str, float], ...] = ()  # of one copy at stations, as the job says
    passes: int = 1
    due: datetime.date | None = None
    list_price: Decimal | None = None
    change_h: float = 0.0  # turning the welder to this piece's setting, spoilt rings as time
    wage_above_per_hour: Decimal = Decimal(0)  # of an hour of it, above the bench's labour

    @property
    def rings(self) -> int:
        """Rings in one copy."""
        return sum(group.rings for group in self.groups)

    @property
    def joins(self) -> int:
        """Joins in one copy."""
        return sum(group.joins_in_place + group.joins_beforehand for group in self.groups)


@frozen
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
    section: int = 0
    rings_from_stock: int = 0  # finished rings on the shelf that are used first
    shown_risk: float = 0.0  # chance of running short of these rings
    fewer_risk: float = 1.0  # the same with one spare ring fewer; 1 if there is none


@frozen
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
    price: Decimal | None  # of the whole line
    note: str = ""
    left: float = 0.0  # on the shelf afterwards: in stock + bought − needed


@frozen
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
    filler_g: float = 0.0  # filler wire a join, all losses in
    filler_s: float = 0.0  # grooving, tacking and feeding a join beyond the hits themselves


@frozen
class StationTime:
    """Time of one piece (all copies) at one station, in minutes."""

    piece: str
    station: (
        str  # coil, cut, tumble, pre-close, weave, set up, weld, rework, clean, inspect, finish
    )
    low_min: float
    usual_min: float
    high_min: float
    new_least_min: float = 0.0  # somebody new to the work
    new_most_min: float = 0.0
    basis: str = ""


@frozen
class CostLine:
    """One cost of one piece (all copies)."""

    piece: str
    item: CostItem
    quantity: Decimal
    unit: str
    rate: Decimal
    amount: Decimal
    source: str = ""


@frozen
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
    missing: tuple[str, ...] = ()  # what has no price, so that cost and price are without it
    notes: tuple[str, ...] = ()


@frozen
class QuantityBreak:
    """Cost and price of one copy if so many are made in one go."""

    piece: str
    quantity: int
    cost_each: Decimal
    price_each: Decimal


@frozen
class CostDriver:
    """What one copy costs if one input is at its low or its high end, all else as usual."""

    piece: str
    driver: str
    low_input: str
    high_input: str
    cost_low_each: Decimal
    cost_usual_each: Decimal
    cost_high_each: Decimal

    @property
    def swing(self) -> Decimal:
        """How far the cost moves from end to end."""
        return abs(self.cost_high_each - self.cost_low_each)


@frozen
class TorchComparison:
    """The same piece soldered by torch, all copies."""

    piece: str
    rounds: int  # solder, pickle, rinse
    hours: float
    working_days: float
    cost: Decimal
    cost_each: Decimal
    weld_hours: float  # set up, weld, rework: what the torch would replace
    weld_cost: Decimal
    saved_each: Decimal  # positive: welding is cheaper
    copies_to_pay_back: int | None  # of the welder; None: no price, or never
    note: str = ""


@frozen
class ComparisonLine:
    """One alternative ring or metal for a piece; one copy."""

    weave: str
    metal: str
    wire_mm: float
    inner_mm: float
    aspect_ratio: float
    rings: int = 0
    length_mm: float = 0.0
    mass_g: float = 0.0
    weld_min: float = 0.0
    bench_h: float = 0.0
    cost: Decimal | None = None
    price: Decimal | None = None
    working_days: float = 0.0
    verdict: str = ""
    fits: bool = True  # meets every target
    best_at: tuple[str, ...] = ()  # columns in which no alternative that fits is better
    reason: str = ""  # why it cannot be made or misses a target
    possible: bool = True


@frozen
class Comparison:
    """Alternatives for one piece side by side."""

    piece: str
    currency: str
    lines: tuple[ComparisonLine, ...]
    targets: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()  # how to read the figures


@frozen
class PriceLine:
    """One piece in one finished length, one copy."""

    piece: str
    asked_mm: float
    length_mm: float = 0.0  # of whole repeats, all that belongs to the piece in
    rings: int = 0
    mass_g: float = 0.0  # fittings in, as far as their mass is known
    cost: Decimal | None = None
    price: Decimal | None = None  # with tax
    missing: tuple[str, ...] = ()  # what has no price
    reason: str = ""  # why it cannot be made


@frozen
class PriceList:
    """Pieces priced over a row of lengths."""

    currency: str
    tax: str  # whether it is in, in words
    lines: tuple[PriceLine, ...]


@frozen
class WhatIfLine:
    """Cost and price of one copy of a piece before and after a change."""

    piece: str
    quantity: int
    cost_before: Decimal
    cost_after: Decimal
    price_before: Decimal  # without tax
    price_after: Decimal
    with_tax_before: Decimal  # what the customer pays
    with_tax_after: Decimal
    notes: tuple[str, ...] = ()


@frozen
class WhatIf:
    """What changes of prices and rates do to every piece."""

    changes: tuple[str, ...]  # each with what it was before
    currency: str
    lines: tuple[WhatIfLine, ...]
    total_cost_before: Decimal  # of all copies
    total_cost_after: Decimal
    total_price_before: Decimal
    total_price_after: Decimal
    total_with_tax_before: Decimal
    total_with_tax_after: Decimal
    tax: str  # what stands between them, before and after, in words
    basis: str  # where counts and welding times come from


@frozen
class CalendarLine:
    """One person's work on one piece at one station, within one day."""

    piece: str
    station: str
    person: str
    start: datetime.datetime | None
    end: datetime.datetime | None
    start_h: float  # hours from the start in which the workshop is open or anybody works
    end_h: float
    hours: float  # that the person works on it
    machine: str = ""  # at which, where the workshop has several for the station


@frozen
class DueLine:
    """Whether one piece is done by its date."""

    piece: str
    due: datetime.date | None
    done: datetime.date | None
    late_days: int  # the days at the assay office are in
    late_weight: float = 1.0  # what each of them counts (no unit)
    chance_in_time: float | None = None
    due_h: float | None = None  # working hours from the start until the work must be over
    done_h: float = 0.0
    hallmark_days: int = 0  # weekdays at the assay office between the last work and ``done``
    worked: datetime.date | None = None  # day of the last work


@frozen
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
    breaks: tuple[QuantityBreak, ...] = ()
    drivers: tuple[CostDriver, ...] = ()  # by piece, the strongest first
    torch: tuple[TorchComparison, ...] = ()
    counts: tuple[PieceCounts, ...] = ()  # what all of it was worked out from
    weld_share: float = 1.0  # welding time of the interleaved batch over that of its pieces
    short_risk_each: float = 0.05  # risk of running short, of each line of wire
    lost_share: float = 0.0  # of the rings that are cut, by the yields of the bench
