"""What to buy for the whole batch, against what is on the shelf, in whole packs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.estimate.material.rings import wire_area_mm2
from chainplan.estimate.material.wire import mandrel_for, ring_on_mandrel_mm
from chainplan.estimate.price.pricing import exact, to_money
from chainplan.estimate.pulse.pulses import read_cylinder
from chainplan.estimate.tuning import tuning
from chainplan.model.estimate import BuyLine
from chainplan.model.kinds import StockKind
from chainplan.model.piece.fittings import FittingKind
from chainplan.units import show_wire

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.estimate.price.pricing import PriceBook
    from chainplan.estimate.pulse.pulses import CylinderState
    from chainplan.estimate.take import Take
    from chainplan.model.estimate import FittingCount, WireNeed
    from chainplan.model.job import Job, StockItem


@dataclass(frozen=True, slots=True)
class _Wire:
    metal: str
    temper: str
    wire_mm: float


def buy_list(
    takes: Sequence[Take], job: Job, book: PriceBook, cylinder: CylinderState
) -> tuple[BuyLine, ...]:
    """List what to buy: wire, filler, argon, tips, blades, mandrels, clasps, fittings."""
    return (
        *_wire_lines(takes, job, book),
        *_filler_lines(takes, job, book),
        *_argon_line(takes, job, book, cylinder),
        *_tip_and_blade_lines(takes, job, book),
        *_mandrel_lines(takes, job, book),
        *_clasp_line(takes, book),
        *_fitting_lines(takes, book),
    )


def to_packs(wanted: float, pack: float) -> tuple[float, int]:
    """Round an amount up to whole packs, or to whole units where there is no pack.

    Returns
    -------
    tuple of float and int
        Amount to buy, and packs.

    Examples
    --------
    >>> to_packs(7.2, 5.0), to_packs(7.2, 0.0), to_packs(0.0, 5.0)
    ((10.0, 2), (8.0, 8), (0.0, 0))
    """
    size = pack if pack > 0 else 1.0
    packs = math.ceil(wanted / size - 1e-9) if wanted > 0 else 0
    return packs * size, packs


def _line(
    item: str,
    *,
    needed: float,
    in_stock: float,
    unit: str,
    rate: Decimal | None,
    decimals: int,
    metal: str = "",
    temper: str = "",
    size_mm: float = 0.0,
    pack: float = 0.0,
    note: str = "",
) -> BuyLine:
    """Make a line whose price is ``round(to_buy × rate)``."""
    to_buy, packs = to_packs(needed - in_stock, pack)
    return BuyLine(
        item=item,
        metal=metal,
        temper=temper,
        size_mm=size_mm,
        needed=needed,
        in_stock=in_stock,
        to_buy=to_buy,
        unit=unit,
        packs=packs,
        price=None if rate is None else to_money(exact(to_buy) * rate, decimals),
        note=note,
        left=in_stock + to_buy - needed,
    )


def _on_shelf(job: Job, wire: _Wire) -> list[StockItem]:
    return [
        item
        for item in job.stock
        if item.kind == StockKind.WIRE
        and item.metal == wire.metal
        and item.temper in ("", wire.temper)
        and abs(item.size_mm - wire.wire_mm) <= tuning().same_wire * wire.wire_mm
    ]


def _wire_lines(takes: Sequence[Take], job: Job, book: PriceBook) -> Iterator[BuyLine]:
    """Wire; stock without a temper serves the first line that it fits, and only once."""
    wanted: dict[_Wire, float] = {}
    metals = {key: metal for take in takes for key, metal in take.metals.items()}
    for take in takes:
        for need in take.wire:
            if need.rings == 0:
                continue
            wire = _Wire(need.metal, need.temper, round(need.wire_mm, 4))
            wanted[wire] = wanted.get(wire, 0.0) + need.wire_length_m
    spent: dict[int, float] = {}
    for wire, metres in sorted(
        wanted.items(), key=lambda pair: (pair[0].metal, pair[0].wire_mm, pair[0].temper)
    ):
        shelf = _on_shelf(job, wire)
        have = _take_off(shelf, metres, job, spent)
        metal = metals[wire.metal]
        g_per_m = wire_area_mm2(wire.wire_mm) * metal.density_g_cm3.usual
        price = book.per_g(wire.metal)
        premium = book.premium_per_g(wire.metal, g_per_m) or Decimal(0)
        rate = None if price is None else (price + premium) * exact(g_per_m, "0.000001")
        yield _line(
            f"wire {metal.title}, {wire.temper}, {show_wire(wire.wire_mm)}",
            metal=wire.metal,
            temper=wire.temper,
            size_mm=wire.wire_mm,
            needed=metres,
            in_stock=have,
            unit="m",
            rate=rate,
            decimals=book.bench.money.decimals,
            pack=max((item.pack for item in shelf), default=0.0),
            note=f"{g_per_m:.3g} g a metre",
        )


def _take_off(
    shelf: Sequence[StockItem], metres: float, job: Job, spent: dict[int, float]
) -> float:
    """Take so much wire off the shelf, as far as it goes, and return how much that is."""
    have = 0.0
    for item in shelf:
        place = next(k for k, other in enumerate(job.stock) if other is item)
        part = min(max(item.amount - spent.get(place, 0.0), 0.0), max(metres - have, 0.0))
        spent[place] = spent.get(place, 0.0) + part
        have += part
    return have


def wire_on_shelf_m(need: WireNeed, job: Job, spent: dict[int, float]) -> float:
    """Take the wire of one need off the shelf; return how much of it there is.

    Parameters
    ----------
    need : WireNeed
        Metal, temper, diameter and length.
    job : Job
        Its stock.
    spent : dict
        Metres already taken of each item of the stock; kept up to date.
    """
    wire = _Wire(need.metal, need.temper, round(need.wire_mm, 4))
    return _take_off(_on_shelf(job, wire), need.wire_length_m, job, spent)


def _filler_lines(takes: Sequence[Take], job: Job, book: PriceBook) -> Iterator[BuyLine]:
    grams: dict[str, float] = {}
    for take in takes:
        for group in take.counts.groups:
            joins = (group.joins_in_place + group.joins_beforehand) * take.counts.quantity
            if group.filler_g > 0:
                grams[group.metal] = grams.get(group.metal, 0.0) + group.filler_g * joins
    metals = {key: metal for take in takes for key, metal in take.metals.items()}
    size_mm = job.bench.welder.filler_wire_mm
    for key, mass_g in sorted(grams.items()):
        g_per_m = wire_area_mm2(size_mm) * metals[key].density_g_cm3.usual
        price = book.per_g(key)
        yield _line(
            f"filler wire {metals[key].title}, {size_mm:g} mm",
            metal=key,
            size_mm=size_mm,
            needed=mass_g / g_per_m,
            in_stock=0.0,
            unit="m",
            rate=None if price is None else price * exact(g_per_m, "0.000001"),
            decimals=book.bench.money.decimals,
            note="fed into the groove of wire too thick to penetrate",
        )


def _argon_line(
    takes: Sequence[Take], job: Job, book: PriceBook, cylinder: CylinderState
) -> Iterator[BuyLine]:
    needed_l = sum(take.pulses.gas_l for take in takes)
    if needed_l <= 0:
        return
    rate = book.argon_per_l()
    welder = job.bench.welder
    empty = read_cylinder(needed_l, 1.0, book.bench)
    pack_l = needed_l / empty.share_of_full if empty.share_of_full > 0 else 0.0
    yield _line(
        f"argon, {welder.cylinder_l:g} L cylinder",
        needed=needed_l,
        in_stock=min(cylinder.usable_l, needed_l),
        unit="l",
        rate=rate,
        decimals=book.bench.money.decimals,
        pack=pack_l,
        note="litres at 15 °C and 1.01325 bar; the cylinder in use is on the shelf",
    )


def _tip_and_blade_lines(takes: Sequence[Take], job: Job, book: PriceBook) -> Iterator[BuyLine]:
    decimals = book.bench.money.decimals
    tips = math.ceil(sum(take.pulses.tips for take in takes) - 1e-9)
    yield _line(
        "electrode tip",
        needed=float(tips),
        in_stock=min(1.0, float(tips)),
        unit="each",
        rate=book.each("electrode tip"),
        decimals=decimals,
        note="the one in use is on the shelf; keep one sharp and one blunt",
    )
    cut = sum(n.rings + n.spare_rings - n.rings_from_stock for take in takes for n in take.wire)
    blade = takes[0].wire[0].blade if takes and takes[0].wire else ""
    blades = math.ceil(cut / job.bench.wire.rings_per_blade)
    have = sum(item.amount for item in job.stock if item.kind == StockKind.BLADE)
    yield _line(
        f"saw blade {blade}".strip(),
        needed=float(blades),
        in_stock=min(have, float(blades)),
        unit="each",
        rate=book.each("saw blade"),
        decimals=decimals,
        note=f"kerf {job.bench.wire.kerf_mm:g} mm",
    )


def _mandrel_lines(takes: Sequence[Take], job: Job, book: PriceBook) -> Iterator[BuyLine]:
    sizes: dict[float, bool] = {}
    notes: dict[float, list[str]] = {}
    for take in takes:
        for group in take.counts.groups:
            if group.rings == 0:
                continue
            metal = take.metals[group.metal]
            size_mm, on_shelf = mandrel_for(group, metal, job)
            if size_mm > 0:
                size_mm = round(size_mm, 4)
                sizes[size_mm] = on_shelf
                own = notes.setdefault(size_mm, [])
                inner_mm = ring_on_mandrel_mm(group, size_mm, metal, job)
                note = "springback is not known"
                if inner_mm is not None:
                    note = f"gives a ring of {inner_mm:.2f} mm; wanted {group.inner_mm:.2f}"
                if note not in own:
                    own.append(note)
    for size_mm, on_shelf in sorted(sizes.items()):
        yield _line(
            f"mandrel {size_mm:g} mm",
            size_mm=size_mm,
            needed=1.0,
            in_stock=1.0 if on_shelf else 0.0,
            unit="each",
            rate=book.each("mandrel"),
            decimals=book.bench.money.decimals,
            note=" / ".join(notes[size_mm]),
        )


def _fitting_lines(takes: Sequence[Take], book: PriceBook) -> Iterator[BuyLine]:
    """Fittings by their names; what is at hand is on the shelf."""
    wanted: dict[str, list[FittingCount]] = {}
    for take in takes:
        for fitting in take.counts.fittings:
            if fitting.kind != FittingKind.EXTRA:
                wanted.setdefault(fitting.name, []).extend([fitting] * take.counts.quantity)
    usual = book.bench.calendar.delivery_days
    for name, fittings in wanted.items():
        days = [usual if one.delivery_days is None else one.delivery_days for one in fittings]
        there = sum(number == 0 for number in days)
        slowest = max(days)
        yield _line(
            f"fitting: {name}",
            needed=float(len(fittings)),
            in_stock=float(there),
            unit="each",
            rate=book.of_fitting(fittings[0]),
            decimals=book.bench.money.decimals,
            note=f"{fittings[0].kind}, delivered in {slowest} weekdays" if slowest else "at hand",
        )


def _clasp_line(takes: Sequence[Take], book: PriceBook) -> Iterator[BuyLine]:
    clasps = sum(take.counts.clasps * take.counts.quantity for take in takes)
    if clasps:
        yield _line(
            "clasp",
            needed=float(clasps),
            in_stock=0.0,
            unit="each",
            rate=book.each("clasp"),
            decimals=book.bench.money.decimals,
            note="one a copy of each piece with a clasp",
        )
