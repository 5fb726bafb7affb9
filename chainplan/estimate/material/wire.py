"""Wire for rings: length, coils, spares, mandrel and blade, metal in the piece and scrap."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.estimate.material.rings import ring_mass_g, ring_wire_mm, wire_area_mm2
from chainplan.estimate.material.spares import chance_of_running_short, spare_rings
from chainplan.estimate.tuning import tuning
from chainplan.model.estimate import WireNeed
from chainplan.model.kinds import StockKind
from chainplan.reference import inner_from_mandrel_mm, mandrel_from_inner_mm
from chainplan.reference.blades import blade_for

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.bench.groups import WireSettings
    from chainplan.model.estimate import RingGroup
    from chainplan.model.job import Job
    from chainplan.model.metal import MeasuredRing, Metal


def bad_share(settings: WireSettings) -> float:
    """Share of cut rings that do not end up in the piece (no unit).

    A ring is lost when it is thrown away after cutting, or when its join turns out bad and the ring
    is replaced instead of welded again.
    """
    lost_at_weld = (1 - settings.join_yield) * settings.replaced_share
    return 1 - (1 - settings.ring_scrap) * (1 - lost_at_weld)


def risk_of_each(risk: float, lines: int) -> float:
    """Risk allowed to each of several independent lines so that all together keep the stated one.

    Examples
    --------
    >>> round(1 - (1 - risk_of_each(0.05, 4)) ** 4, 12)
    0.05
    """
    return 1 - (1 - risk) ** (1 / lines) if lines > 1 else risk


def turns_of_coil(wire_mm: float, settings: WireSettings) -> int:
    """Rings that one close-wound coil gives on the usable length of a mandrel."""
    return max(1, math.floor(settings.mandrel_length_mm / wire_mm + 1e-9))


def measured_ring(job: Job, metal: str, temper: str, wire_mm: float) -> MeasuredRing | None:
    """Find the user's measured ring of the same metal and temper, nearest in wire; None without."""
    rings = [r for r in job.measured_rings if r.metal == metal and r.temper == temper]
    if not rings:
        return None
    return min(rings, key=lambda r: (abs(r.wire_mm - wire_mm), r.wire_mm, r.mandrel_mm))


def _spring_of(group: RingGroup, metal: Metal, job: Job) -> tuple[str, MeasuredRing | None]:
    """Temper and measured ring that a group's springback is worked out from."""
    calibration = measured_ring(job, metal.key, group.temper, group.wire_mm)
    temper = group.temper
    if calibration is None and temper not in metal.yield_mpa:
        temper = next(iter(metal.yield_mpa), temper)  # the softest known: said on the line
    return temper, calibration


def ring_on_mandrel_mm(group: RingGroup, size_mm: float, metal: Metal, job: Job) -> float | None:
    """Inner diameter of a group's ring wound on a mandrel; None if its springback is not known."""
    temper, calibration = _spring_of(group, metal, job)
    try:
        return inner_from_mandrel_mm(group.wire_mm, size_mm, metal, temper, calibration=calibration)
    except InputError:
        return None


def mandrel_for(group: RingGroup, metal: Metal, job: Job) -> tuple[float, bool]:
    """Mandrel for a ring, and whether it is in stock: the user's, a fitting one, or the computed.

    Returns
    -------
    tuple of float and bool
        Diameter [mm] and whether it is on the shelf; 0 if no mandrel gives that ring, or if nothing
        is known of the wire's springback.
    """
    shelf = sorted(item.size_mm for item in job.stock if item.kind == StockKind.MANDREL)
    if group.mandrel_mm is not None:
        return group.mandrel_mm, any(math.isclose(group.mandrel_mm, m) for m in shelf)
    fitting = []
    for size_mm in shelf:
        inner_mm = ring_on_mandrel_mm(group, size_mm, metal, job)
        if inner_mm is None:
            continue
        miss = abs(inner_mm / group.inner_mm - 1)
        if miss <= tuning().mandrel_tolerance:
            fitting.append((miss, size_mm))
    if fitting:
        return min(fitting)[1], True
    temper, calibration = _spring_of(group, metal, job)
    try:
        wanted_mm = mandrel_from_inner_mm(
            group.wire_mm, group.inner_mm, metal, temper, calibration=calibration
        )
    except InputError:
        return 0.0, False
    fine = wanted_mm < tuning().pin_below_mm
    step_mm = tuning().pin_step_mm if fine else tuning().mandrel_step_mm
    steps = max(round(wanted_mm / step_mm), 1)
    return round(steps * step_mm, 4), False


def wire_need(
    group: RingGroup,
    quantity: int,
    metal: Metal,
    job: Job,
    *,
    piece: str,
    risk: float,
    from_stock: int = 0,
) -> WireNeed:
    """Say what wire one group of rings takes, for all copies.

    Parameters
    ----------
    group : RingGroup
        Rings of one size in one copy.
    quantity : int
        Copies.
    metal, job : Metal, Job
        What the wire is made of; the bench and the shelf.
    piece : str
        Name of the piece.
    risk : float
        Accepted chance of running short of these rings. [-]
    from_stock : int
        Finished rings on the shelf that are used first.

    Notes
    -----
    Wire = rings to cut × (π(ID + d) + kerf) + coils × end scrap. Scrap is all metal that is bought
    for the piece and not in it: kerf, coil ends, spares, lost filler.
    """
    settings = job.bench.wire
    rings = group.rings * quantity
    share = bad_share(settings)
    spares = spare_rings(rings, share, risk)
    cut = max(rings + spares - from_stock, 0)
    coils = math.ceil(cut / turns_of_coil(group.wire_mm, settings))
    length_mm = cut * (ring_wire_mm(group.wire_mm, group.inner_mm) + settings.kerf_mm)
    length_mm += coils * settings.coil_end_scrap_mm
    density = metal.density_g_cm3.usual
    ring_g = ring_mass_g(group.wire_mm, group.inner_mm, density)
    filler_g = group.filler_g * (group.joins_in_place + group.joins_beforehand) * quantity
    used_g = length_mm * wire_area_mm2(group.wire_mm) * density / 1000 + filler_g
    used_g += min(from_stock, rings + spares) * ring_g
    in_piece_g = rings * ring_g + filler_g / tuning().filler_loss
    mandrel_mm = mandrel_for(group, metal, job)[0] if rings else 0.0
    return WireNeed(
        piece=piece,
        metal=metal.key,
        temper=group.temper,
        wire_mm=group.wire_mm,
        inner_mm=group.inner_mm,
        mandrel_mm=mandrel_mm,
        blade=blade_for(settings.kerf_mm),
        rings=rings,
        spare_rings=spares,
        coils=coils,
        wire_length_m=length_mm / 1000,
        mass_in_piece_g=in_piece_g,
        mass_used_g=used_g,
        scrap_g=used_g - in_piece_g,
        section=group.section,
        rings_from_stock=min(from_stock, rings + spares),
        shown_risk=chance_of_running_short(rings, spares, share),
        fewer_risk=chance_of_running_short(rings, spares - 1, share) if spares else 1.0,
    )


def take_from_shelf(job: Job, group: RingGroup, wanted: int, used: dict[int, int]) -> int:
    """Take finished rings of a group's metal, wire and inner diameter from stock; return how many.

    ``used`` maps the place of a stock item to the rings already taken from it, and is kept up to
    date.
    """
    taken = 0
    for place, item in enumerate(job.stock):
        fits = (
            item.kind == StockKind.RINGS
            and item.metal == group.metal
            and item.temper in ("", group.temper)
            and abs(item.size_mm - group.wire_mm) <= 0.01 * group.wire_mm
            and abs(item.inner_mm - group.inner_mm) <= 0.01 * group.inner_mm
        )
        if fits:
            free = int(item.amount) - used.get(place, 0)
            part = max(0, min(free, wanted - taken))
            used[place] = used.get(place, 0) + part
            taken += part
    return taken


def needs_of(
    groups: Sequence[RingGroup],
    quantity: int,
    metals: dict[str, Metal],
    job: Job,
    *,
    piece: str,
    risk: float,
    used: dict[int, int],
) -> tuple[WireNeed, ...]:
    """Wire for every group of a piece, finished rings on the shelf used first."""
    settings = job.bench.wire
    found = []
    for group in groups:
        rings = group.rings * quantity
        wanted = rings + spare_rings(rings, bad_share(settings), risk)
        shelf = take_from_shelf(job, group, wanted, used)
        found.append(
            wire_need(
                group, quantity, metals[group.metal], job, piece=piece, risk=risk, from_stock=shelf
            )
        )
    return tuple(found)
