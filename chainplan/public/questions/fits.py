"""Which rings suit a weave: inner diameters and mandrels, their feel, and what they take."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.model.kinds import Form, StockKind
from chainplan.public.counting import SHOWN_RINGS
from chainplan.public.jobs import given_job, weave_names
from chainplan.threads import one_thread_of_numpy

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from chainplan.model.job import Job, Section
    from chainplan.model.metal import MeasuredRing, Metal
    from chainplan.model.piece.fit import Fit, FitRing

    Mass = Callable[[Sequence[tuple[float, float, float]]], float]

SIZES, SIZES_OF_A_FEEL = 6, 4
"""Mandrels of the usual series that are tried at least: over all feels, and within one.
Judgement: that series steps by a quarter of a millimetre in most wires, as mandrels do."""


SHEET_ROWS = 5
"""Rows of a sheet whose width nobody asked for."""


SAME_SIZE_MM = 0.005
"""Sizes nearer than this are one size: half a gauge and its millimetres differ by rounding."""


@one_thread_of_numpy
def fit_rings(
    *,
    weave: str,
    wire: str | float,
    feel: str = "",
    metal: str = "sterling-silver",
    temper: str | None = None,
    rows: int | None = None,
    job: Job | str | Path | None = None,
) -> Fit:
    """Say which rings of one wire suit a weave, from the shelf first.

    Parameters
    ----------
    weave, metal : str
        Key or trade name.
    wire : str or float
        Wire diameter: "0.9mm", "18AWG"; a number is mm.
    feel : str
        "very tight", "tight", "supple", "loose" …: only rings of that verdict.
    rows : int, optional
        Width of a strip or sheet; five if not given.
    job : Job, str or Path, optional
        Whose stock holds the mandrels, finished rings and measured rings.

    Raises
    ------
    InputError
        If something cannot be read, or no ring has that feel.
    """
    from chainplan.estimate import ring_mass_g
    from chainplan.model.piece.fit import Feel, Fit
    from chainplan.reference import find_metal
    from chainplan.weave import (
        feels_of,
        find_smallest_aspect_ratio,
        inner_range_of_feel,
        load_weave,
    )

    job = given_job(job)
    section = _section(weave, wire, metal, temper, rows, job)
    loaded = load_weave(section.weave)
    alloy = find_metal(section.metal, own=job.metals if job else None)
    low_mm, high_mm = inner_range_of_feel(section, feel)
    density = alloy.density_g_cm3.usual

    def mass_g_per_cm(sizes: Sequence[tuple[float, float, float]]) -> float:
        return sum(n * ring_mass_g(wire_mm, inner_mm, density) for wire_mm, inner_mm, n in sizes)

    found: list[FitRing] = []
    seen: set[float] = set()
    for inner_mm, mandrel_mm, in_stock in _sizes(section, alloy, (low_mm, high_mm), feel, job):
        size = round(inner_mm, 2)
        if size in seen:
            continue
        seen.add(size)
        ring = _fit_ring(section, inner_mm, mandrel_mm, mass_g_per_cm, in_stock=in_stock)
        if ring is not None and feel in ("", ring.verdict):
            found.append(ring)
    return Fit(
        weave=loaded.key,
        title=loaded.title,
        wire_mm=section.wire_mm,
        metal=alloy.key,
        temper=section.temper,
        rows=section.rows or 1,
        smallest_aspect_ratio=find_smallest_aspect_ratio(loaded),
        least_inner_mm=inner_range_of_feel(section)[0],
        feels=tuple(Feel(word=word, from_inner_mm=from_mm) for word, from_mm in feels_of(section)),
        feel=feel,
        rings=tuple(sorted(found, key=lambda ring: (not ring.in_stock, ring.inner_mm))),
    )


def _fit_ring(
    section: Section, inner_mm: float, mandrel_mm: float | None, mass: Mass, *, in_stock: bool
) -> FitRing | None:
    """Size one ring up; None where it does not go into the weave."""
    from chainplan.errors import WeaveError
    from chainplan.model.piece.fit import FitRing
    from chainplan.weave import size_ring

    try:
        sized = size_ring(section, inner_mm)
    except WeaveError:
        return None
    return FitRing(
        inner_mm=inner_mm,
        mandrel_mm=mandrel_mm,
        in_stock=in_stock,
        aspect_ratio=inner_mm / section.wire_mm,
        verdict=sized.verdict,
        rings_per_cm=sum(n for _, _, n in sized.sizes),
        mass_g_per_cm=mass(sized.sizes),
        width_mm=sized.width_mm,
    )


def _section(
    weave: str,
    wire: str | float,
    metal: str,
    temper: str | None,
    rows: int | None,
    job: Job | None,
) -> Section:
    """Make the section that carries weave, wire, metal and width; its ring is yet to be found."""
    from chainplan.job import section_from_words
    from chainplan.units import read_wire_mm
    from chainplan.weave import load_weave

    loaded = load_weave(weave)
    try:
        wire_mm = read_wire_mm(wire) if isinstance(wire, str) else float(wire)
    except InputError as error:
        raise InputError(error.at("wire")) from None
    return section_from_words(
        weave=weave if weave.endswith(".toml") else loaded.key,
        wire=wire_mm,
        inner=min(10 * wire_mm, 200.0),
        rings=SHOWN_RINGS,
        metal=metal,
        temper=temper,
        rows=rows or (SHEET_ROWS if loaded.form != Form.CHAIN else None),
        weaves=weave_names(),
        metals=job.metals if job else None,
    )


def _sizes(
    section: Section,
    metal: Metal,
    within_mm: tuple[float, float],
    feel: str,
    job: Job | None,
) -> Iterator[tuple[float, float | None, bool]]:
    """Give inner diameter, mandrel and whether it is at hand: the shelf's, then a usual series."""
    from chainplan.reference import mandrel_from_inner_mm
    from chainplan.weave import series_mm

    low_mm, high_mm = within_mm
    stock = job.stock if job else ()
    for item in stock:
        ours = item.metal in ("", section.metal) and item.temper in ("", section.temper)
        same = abs(item.size_mm - section.wire_mm) < SAME_SIZE_MM
        if item.kind == StockKind.RINGS and ours and same and low_mm <= item.inner_mm <= high_mm:
            yield item.inner_mm, None, True
    springs = springback_of(section, metal, job)
    for item in sorted(stock, key=lambda item: item.size_mm):
        if item.kind == StockKind.MANDREL:
            inner_mm = springs(item.size_mm)
            if inner_mm is not None and low_mm <= inner_mm <= high_mm:
                yield inner_mm, item.size_mm, True
    least = SIZES_OF_A_FEEL if feel else SIZES
    ring = measured_ring(section, job)
    try:
        ends_mm = [
            mandrel_from_inner_mm(section.wire_mm, end_mm, metal, section.temper, calibration=ring)
            for end_mm in within_mm
        ]
    except InputError:  # nothing is known of its springback: inner diameters instead of mandrels
        yield from ((size_mm, None, False) for size_mm in series_mm(low_mm, high_mm, least=least))
        return
    for size_mm in series_mm(ends_mm[0], ends_mm[1], least=least):
        inner_mm = springs(size_mm)
        if inner_mm is not None and low_mm <= inner_mm <= high_mm:
            yield inner_mm, size_mm, False


def measured_ring(section: Section, job: Job | None) -> MeasuredRing | None:
    """Find the ring of this metal and temper that the user wound and measured, nearest in wire."""
    from chainplan.estimate import measured_ring

    if job is None:
        return None
    return measured_ring(job, section.metal, section.temper, section.wire_mm)


def springback_of(
    section: Section, metal: Metal, job: Job | None
) -> Callable[[float], float | None]:
    """Return what says which inner diameter a mandrel gives; None where the wire springs back."""
    from chainplan.reference import inner_from_mandrel_mm

    ring = measured_ring(section, job)

    def inner_mm(mandrel_mm: float) -> float | None:
        try:
            return inner_from_mandrel_mm(
                section.wire_mm, mandrel_mm, metal, section.temper, calibration=ring
            )
        except InputError:
            return None

    return inner_mm


@one_thread_of_numpy
def draw_fit(fit: Fit, path: str | Path) -> Path:
    """Draw which ring gives which feel, with rings and mass a centimetre; .png or .svg.

    Raises
    ------
    InputError
        If there is no ring to draw, the file has another ending or cannot be written.
    """
    from chainplan.report.charts.fit import write_fit

    if not fit.rings:
        message = f"{path}: there is no ring to draw"
        raise InputError(message)
    return write_fit(fit, path)
