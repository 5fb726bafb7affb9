"""The quick answers: what one weave and ring give, without a job file."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import InputError, unknown
from chainplan.model.kinds import Form, Rounding
from chainplan.model.piece.count import Count, LyingCount, WeaveDescription
from chainplan.threads import one_thread

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from chainplan.model.job import Job, Piece, Section
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout
    from chainplan.model.piece.weave import Repeat, Weave
    from chainplan.model.piece.weave_names import WeaveName, WeaveNames
    from chainplan.weave import WeaveReport

SHOWN_RINGS = 60
"""Rings of the stretch that a weave is described and drawn with."""
SHOWN_LENGTH = 30
"""Length, in wires, of each weave on the page of the whole library."""
SHOWN_ROWS = 7
"""Rows of the sheets on it."""
QUICK_RINGS = 8
"""Sheets of larger repeats are solved in one way only: each other way takes them a minute."""
CHART_POINTS = 12
"""Aspect ratios at which a weave is solved for its chart."""


@one_thread
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
    own = _job_of(job)
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


def _job_of(job: Job | str | Path | None) -> Job | None:
    from chainplan.job import read_job

    return read_job(Path(job), weaves=weave_names()) if isinstance(job, (str, Path)) else job


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
    count = count_layout(section, lay_piece(piece), 0, metals=metals)
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
            other = lay_piece(replace(piece, sections=(replace(section, lies=lies),)))
        except WeaveError:
            continue
        laid = other.sections[0]
        yield LyingCount(
            lies=str(lies),
            rings=laid.rings,
            repeats=laid.repeats,
            length_mm=laid.length_mm,
            width_mm=laid.width_mm,
        )


def count_piece(piece: Piece, *, metals: Mapping[str, Metal] | None = None) -> tuple[Count, ...]:
    """Count every section of a piece; one copy.

    Raises
    ------
    WeaveError
        If a ring cannot be woven so.
    """
    from chainplan.weave import lay_piece

    layout = lay_piece(piece)
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
    from chainplan.model.bench.wire import WireSettings
    from chainplan.reference import find_metal

    metal = find_metal(section.metal, own=metals)
    laid = layout.sections[number]
    mass_g, wire_mm = 0.0, 0.0
    for size in layout.ring_sizes(number):
        each = ring_mass_g(size.wire_mm, size.inner_mm, metal.density_g_cm3.usual)
        mass_g += size.rings * each
        wire_mm += size.rings * ring_wire_mm(size.wire_mm, size.inner_mm)
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
        layout=layout,
    )


def weave_names() -> WeaveNames:
    """Return the weave names that a job may use, as the reader wants them."""
    from chainplan.model.piece.weave_names import WeaveNames
    from chainplan.weave import load_weave, weave_keys

    return WeaveNames.of((load_weave(key) for key in weave_keys()), _open_weave_file)


def _open_weave_file(path: Path) -> WeaveName:
    """Read a weave of the user's own; from here on its path stands for it."""
    from chainplan.model.piece.weave_names import WeaveName
    from chainplan.weave import load_weave

    return replace(WeaveName.of(load_weave(path)), key=str(path))


def list_weaves() -> tuple[Weave, ...]:
    """Return the weaves that come with chainplan, by key."""
    from chainplan.weave import load_weave, weave_keys

    return tuple(load_weave(key) for key in weave_keys())


@one_thread
def describe_weave(
    name: str, *, wire: str | float | None = None, inner: str | float | None = None
) -> WeaveDescription:
    """Tell about one weave and, if a ring is given, what that ring makes of it.

    Raises
    ------
    InputError
        If there is no such weave, or only one of wire and inner is given.
    WeaveError
        If the ring cannot be woven so.
    """
    from chainplan.weave import find_smallest_aspect_ratio, load_weave

    weave = load_weave(name)
    smallest = find_smallest_aspect_ratio(weave)
    if wire is None and inner is None:
        return WeaveDescription(weave=weave, smallest_aspect_ratio=smallest)
    if wire is None or inner is None:
        message = "give both the wire and the inner diameter of the ring, or neither"
        raise InputError(message)
    rows = 5 if weave.form != Form.CHAIN else None
    count = count_rings(weave=weave.key, wire=wire, inner=inner, rings=SHOWN_RINGS, rows=rows)
    count = replace(count, wanted_rings=None)  # a stretch to be told about, which nobody asked for
    return WeaveDescription(
        weave=weave, smallest_aspect_ratio=smallest, count=count, layout=count.layout
    )


@one_thread
def check_weave(path: str | Path) -> WeaveReport:
    """Check a weave file of the user's own: does it hold together, at which ring sizes, is it new.

    Raises
    ------
    InputError
        With every fault of the file, if it cannot be read as a weave.
    """
    from chainplan.weave import check_weave as check

    return check(Path(path))


@one_thread
def draw_weave(
    described: WeaveDescription, target: str | Path, *, numbers: bool = False
) -> tuple[Path, ...]:
    """Draw a weave as :func:`describe_weave` tells of it, shaded, as SVG and PNG.

    ``target`` is a file name (either ending will do) or a folder. Returns the files written.

    Raises
    ------
    InputError
        If no ring was given, or the files cannot be written.
    """
    from chainplan.report.wire.weave_picture import write_weave_picture

    with _writing(target):
        return tuple(write_weave_picture(described, target, numbers=numbers))


@one_thread
def draw_weave_chart(described: WeaveDescription, target: str | Path) -> Path:
    """Chart a weave's rings per cm against the aspect ratio, with its limit and the user's ring.

    Parameters
    ----------
    described : WeaveDescription
        With a ring.
    target : str or Path
        A file that ends in .png or .svg.

    Raises
    ------
    InputError
        If no ring was given, or the file cannot be written.
    """
    from chainplan.errors import WeaveError
    from chainplan.report.charts.weave import write_weave_chart
    from chainplan.weave import solve_cached

    if described.count is None:
        message = "there is no chart without a ring: give the wire and the inner diameter"
        raise InputError(message)
    own = described.count.aspect_ratio
    smallest = described.smallest_aspect_ratio
    steps = sorted({*(smallest * (1.002 + 0.08 * k) for k in range(CHART_POINTS)), own})
    taut: list[Repeat] = []
    gathered: list[Repeat] = []
    for ratio in steps:
        for state, found in (("taut", taut), ("gathered", gathered)):
            try:
                found.append(solve_cached(described.weave, ratio, state))
            except WeaveError:
                continue
    with _writing(target):
        return write_weave_chart(
            taut,
            gathered,
            Path(target),
            wire_mm=described.count.wire_mm,
            title=described.weave.title,
            smallest_aspect_ratio=smallest,
            own_aspect_ratio=own,
        )


@one_thread
def draw_weaves(target: str | Path, *, wire: str | float = "1.0mm") -> tuple[Path, ...]:
    """Draw all weaves of the library on one page, at the same wire, as SVG and PNG.

    Each is drawn with the ring ten per cent above its smallest workable aspect ratio.

    Raises
    ------
    InputError
        If the wire cannot be read or the files cannot be written.
    """
    from chainplan.report.wire.weave_picture import write_library_page
    from chainplan.units import read_wire_mm
    from chainplan.weave import find_smallest_aspect_ratio

    try:
        wire_mm = read_wire_mm(wire) if isinstance(wire, str) else float(wire)
    except InputError as error:
        raise InputError(error.at("wire")) from None
    shown = []
    for weave in list_weaves():
        inner_mm = round(1.1 * find_smallest_aspect_ratio(weave) * wire_mm, 2)
        rows = None if weave.form == Form.CHAIN else SHOWN_ROWS
        length_mm = SHOWN_LENGTH * wire_mm
        count = count_rings(
            weave=weave.key, wire=wire_mm, inner=inner_mm, length=length_mm, rows=rows
        )
        if count.layout is not None:
            shown.append((weave.title, f"{inner_mm:g} mm inside", count.layout))
    with _writing(target):
        return tuple(write_library_page(shown, target, wire_mm=wire_mm))


@contextmanager
def _writing(target: str | Path) -> Iterator[None]:
    """Say plainly if a picture cannot be written."""
    try:
        yield
    except OSError as error:
        message = f"{target}: cannot be written ({error.strerror})"
        raise InputError(message) from None
