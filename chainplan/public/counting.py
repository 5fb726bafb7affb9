"""The quick answers: what one weave and ring give, without a job file."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.errors import CannotBeWoven, InputError, Refusal, unknown
from chainplan.model.kinds import Rounding
from chainplan.model.piece.count import Count, LyingCount, MetalCount
from chainplan.public.jobs import given_job, rings_too_small, weave_names
from chainplan.threads import one_thread_of_numpy

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from chainplan.model.job import Job, Piece, Section
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout

SHOWN_RINGS = 60
"""Rings of the stretch that a weave is described and drawn with."""
QUICK_RINGS = 8
"""Sheets of larger repeats are solved in one way only: each other way takes them a minute."""


@one_thread_of_numpy
def count_rings(
    *,
    weave: str,
    wire: str | float,
    inner: str | float | None = None,
    mandrel: str | float | None = None,
    length: str | float | None = None,
    rings: int | None = None,
    metal: str = "sterling-silver",
    temper: str | None = None,
    rows: int | None = None,
    lies: str | None = None,
    rounding: str = "nearest",
    second_wire: str | float | None = None,
    second_inner: str | float | None = None,
    from_wire: str | float | None = None,
    from_mass: str | float | None = None,
    from_budget: str | float | None = None,
    job: Job | str | Path | None = None,
) -> Count:
    """Count the rings of one piece without a file.

    Parameters
    ----------
    weave, metal : str
        Key or trade name.
    wire : str or float
        Wire diameter: "1.0mm", "18AWG", "18SWG", "0.04in"; a number is mm.
    inner, mandrel : str or float
        Inner diameter of the finished ring, or the mandrel it is wound on (springback is added).
    length, rings :
        Finished length, or a number of rings.
    rows : int, optional
        Width of a strip or sheet in rows.
    lies : str, optional
        "pulled along", "pulled across" or "laid flat", for strips and sheets; pulled along, as all
        lengths are measured stretched out.
    from_wire, from_mass, from_budget : optional
        Instead of a length: the wire at hand ("30m"), its mass ("50g"), or the price that may be
        asked, tax included; spare rings, the saw's cut and coil ends are taken off.
    job : Job, str or Path, optional
        Whose bench, prices and metals to count with; a budget needs its prices.

    Raises
    ------
    InputError
        If something cannot be read.
    WeaveError
        If the ring cannot be woven so.
    """
    from chainplan.job import section_from_words

    limits = {"wire": from_wire, "mass": from_mass, "budget": from_budget}
    given = {name: value for name, value in limits.items() if value is not None}
    if given:
        if len(given) > 1 or length is not None or rings is not None:
            message = "give one of length, rings, wire, mass and budget"
            raise InputError(message)
        rings = SHOWN_RINGS
    own = given_job(job)
    section = section_from_words(
        weave=weave,
        wire=wire,
        inner=inner,
        mandrel=mandrel,
        length=length,
        rings=rings,
        metal=metal,
        temper=temper,
        rows=rows,
        lies=lies,
        second_wire=second_wire,
        second_inner=second_inner,
        weaves=weave_names(),
        metals=own.metals if own else None,
    )
    if given:
        return _count_from(section, given, own)
    return count_section(section, rounding=rounding, metals=own.metals if own else None)


def _count_from(section: Section, given: Mapping[str, str | float], job: Job | None) -> Count:
    """Count the longest stretch that what there is allows; whole repeats, so a little is left."""
    from decimal import Decimal

    from chainplan.estimate.price.longest import bare_job, most_repeats, what_it_takes
    from chainplan.model.bench import Bench
    from chainplan.units import read_length_mm, read_mass_g, read_number

    ((name, value),) = given.items()
    if name == "budget" and job is None:
        message = "budget: needs a job for its prices, wage and margin"
        raise InputError(message)
    metals = job.metals if job else None
    job = job or bare_job(Bench())
    wire_m = mass_g = budget = None
    try:
        if name == "wire":
            wire_m = read_length_mm(value) / 1000 if isinstance(value, str) else float(value)
            limit = f"{wire_m:g} m of wire"
        elif name == "mass":
            mass_g = read_mass_g(value) if isinstance(value, str) else float(value)
            limit = f"{mass_g:g} g of wire"
        else:
            amount = read_number(value) if isinstance(value, str) else float(value)
            limit = f"{job.bench.money.currency} {amount:g}, tax included"
            budget = Decimal(str(amount))
        first = count_section(section, metals=metals)
        repeats = most_repeats(job, section, first, wire_m=wire_m, mass_g=mass_g, budget=budget)
    except InputError as error:
        raise InputError(error.at(name)) from None
    each = first.rings // first.repeats
    count = count_section(replace(section, rings=repeats * each), metals=metals)
    takes = what_it_takes(job, section, count, limit)
    return replace(count, wanted_rings=None, made_from=takes)


def count_section(
    section: Section, *, rounding: str = "nearest", metals: Mapping[str, Metal] | None = None
) -> Count:
    """Count one section of a piece, as :func:`count_rings` does from words."""
    from chainplan.model.job import Piece
    from chainplan.weave import lay_piece

    if rounding not in list(Rounding):
        raise InputError(unknown(rounding, Rounding, what="rounding"))
    piece = Piece(name=section.weave, quantity=1, sections=(section,), rounding=Rounding(rounding))
    try:
        layout = lay_piece(piece)
    except CannotBeWoven:
        for fault in rings_too_small(piece, metals):
            raise CannotBeWoven(Refusal(fault.found, fault.allowed)) from None
        raise
    count = count_layout(section, layout, 0, metals=metals)
    return replace(count, lying_otherwise=tuple(_lay_otherwise(piece, count)))


def _lay_otherwise(piece: Piece, count: Count) -> Iterator[LyingCount]:
    """Count a strip or sheet as it lies in the other ways, where that is solved quickly."""
    from chainplan.errors import WeaveError
    from chainplan.model.kinds import Lying
    from chainplan.weave import lay_piece

    (section,) = piece.sections
    large = count.repeat is None or count.repeat.rings > QUICK_RINGS
    if not count.lies or large or section.measured_rings_per_cm:
        return
    for lies in Lying:
        if lies == count.lies:
            continue
        try:
            lying = replace(piece, sections=(replace(section, lies=lies),))
            other = lay_piece(lying, judged=False)
        except WeaveError:
            continue
        laid = other.sections[0]
        yield LyingCount(
            lies=str(lies),
            rings=laid.rings,
            repeats=laid.repeats,
            length_mm=laid.length_mm,
            longer_mm=laid.longer_mm,
            width_mm=laid.width_mm,
        )


def count_piece(
    piece: Piece, *, metals: Mapping[str, Metal] | None = None, judged: bool = True
) -> tuple[Count, ...]:
    """Count every section of a piece; one copy. Not judged, it says nothing of how rings suit.

    Raises
    ------
    WeaveError
        If a ring cannot be woven so.
    """
    from chainplan.weave import lay_piece

    layout = lay_piece(piece, judged=judged)
    return tuple(
        count_layout(section, layout, number, metals=metals)
        for number, section in enumerate(piece.sections)
    )


def count_layout(
    section: Section,
    layout: Layout,
    number: int,
    *,
    metals: Mapping[str, Metal] | None = None,
    kerf_mm: float | None = None,
) -> Count:
    """Say what a laid-out section counts and weighs.

    ``kerf_mm``: what the saw takes out of each ring; the bench's usual one if it is not given.
    """
    from chainplan.estimate import ring_mass_g, ring_wire_mm
    from chainplan.model.bench.groups import WireSettings
    from chainplan.reference import find_metal

    laid = layout.sections[number]
    metal = find_metal(laid.metal, own=metals)
    mass_g, wire_mm = 0.0, 0.0
    by_alloy: dict[tuple[str, str], list[float]] = {(laid.metal, laid.temper): [0, 0.0, 0.0]}
    for size in layout.ring_sizes(number):
        made_of = layout.materials[size.material]
        density = find_metal(made_of.metal, own=metals).density_g_cm3.usual
        each_g = ring_mass_g(size.wire_mm, size.inner_mm, density)
        each_mm = ring_wire_mm(size.wire_mm, size.inner_mm)
        mass_g += size.rings * each_g
        wire_mm += size.rings * each_mm
        own = by_alloy.setdefault((made_of.metal, made_of.temper), [0, 0.0, 0.0])
        for place, more in enumerate((1, each_g, each_mm / 1000)):
            own[place] += size.rings * more
    rings = laid.rings
    kerf = WireSettings().kerf_mm if kerf_mm is None else kerf_mm
    if not section.made_of_rings:
        rings, mass_g, wire_mm = 0, 0.0, 0.0
    return Count.of(
        laid,
        metal=metal.key,
        rings=rings,
        mandrel_mm=section.mandrel_mm,
        ring_mass_g=ring_mass_g(laid.wire_mm, laid.inner_mm, metal.density_g_cm3.usual),
        mass_g=mass_g,
        wire_length_m=wire_mm / 1000,
        wire_with_kerf_m=(wire_mm + rings * kerf) / 1000,
        metals=tuple(
            MetalCount(metal=key, temper=temper, rings=int(n), mass_g=g, wire_length_m=m)
            for (key, temper), (n, g, m) in by_alloy.items()
            if n
        )
        if len(by_alloy) > 1
        else (),
        layout=layout,
    )
