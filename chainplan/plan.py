"""The one module that knows the order of the stages, and the public functions built on them.

Every stage is imported inside the function that needs it: the quick answers must not pay for what
only a whole plan uses.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import ChainplanError, InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from chainplan.errors import Fault
    from chainplan.model.count import Count
    from chainplan.model.job import Job, Piece, Section
    from chainplan.model.joins import Joins
    from chainplan.model.layout import Layout, SectionLayout
    from chainplan.model.metal import Metal
    from chainplan.model.order import WeldSetting
    from chainplan.model.plan import PiecePlan, Plan

    OnStep = Callable[[str, int, int], None]


def read_job(path: str | Path) -> Job:
    """Read a job file (.xlsx, .csv or .toml) and check all of it.

    Raises
    ------
    InputError
        With every fault of the file, each with its sheet and cell.
    """
    from chainplan.job import read_job as read
    from chainplan.weave import weave_names

    return read(Path(path), weaves=weave_names())


def check_job(path: str | Path) -> tuple[Fault, ...]:
    """List every fault of a job file; an empty tuple means that it can be planned.

    Raises
    ------
    InputError
        If the file cannot be opened at all.
    """
    try:
        job = read_job(path)
    except InputError as error:
        if error.faults:
            return error.faults
        raise
    return _geometry_faults(job)


def _geometry_faults(job: Job) -> tuple[Fault, ...]:
    """Rings that do not go into their weave: a fault of the row, though the row reads well."""
    from chainplan.errors import Fault, WeaveError
    from chainplan.weave import lay_piece

    faults = []
    for piece in job.pieces:
        try:
            lay_piece(piece)
        except WeaveError as error:
            faults.append(Fault(piece.where or piece.name, str(error), "choose another ring size"))
    return tuple(faults)


def start_job(path: str | Path) -> Path:
    """Write a starter workbook with the columns explained and two invented rows.

    Raises
    ------
    InputError
        If the file exists already or cannot be written.
    """
    from chainplan.job import write_starter
    from chainplan.weave import weave_names

    target = Path(path)
    write_starter(target, weaves=weave_names())
    return target


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
    rounding: str = "nearest",
    second_wire: str | float | None = None,
    second_inner: str | float | None = None,
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

    Raises
    ------
    InputError
        If something cannot be read.
    WeaveError
        If the ring cannot be woven so.
    """
    from chainplan.job import section_from_words

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
        second_wire=second_wire,
        second_inner=second_inner,
        weaves=_names(),
    )
    return count_section(section, rounding=rounding)


def _names() -> object:
    from chainplan.weave import weave_names

    return weave_names()


def count_section(
    section: Section, *, rounding: str = "nearest", metals: Mapping[str, Metal] | None = None
) -> Count:
    """Count one section of a piece, as :func:`count_rings` does from words."""
    from chainplan.model.job import Piece
    from chainplan.weave import lay_piece

    piece = Piece(name=section.weave, quantity=1, sections=(section,), rounding=rounding)
    return count_layout(section, lay_piece(piece), 0, metals=metals)


def count_layout(
    section: Section,
    layout: Layout,
    number: int,
    *,
    metals: Mapping[str, Metal] | None = None,
) -> Count:
    """Say what a laid-out section counts and weighs."""
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
    limits = laid.limits
    return Count(
        weave=laid.weave,
        metal=metal.key,
        wire_mm=laid.wire_mm,
        inner_mm=laid.inner_mm,
        mandrel_mm=section.mandrel_mm,
        aspect_ratio=laid.aspect_ratio,
        smallest_aspect_ratio=limits.smallest_aspect_ratio if limits else 0.0,
        verdict=limits.verdict if limits else "",
        looseness=limits.looseness if limits else 0.0,
        reasons=limits.reasons if limits else (),
        suitable_inner_mm=limits.suitable_inner_mm if limits else (),
        rings=laid.rings,
        joins=laid.joins,
        links=laid.links,
        repeats=laid.repeats,
        rows=laid.rows,
        rings_per_cm=laid.rings_per_cm,
        computed_rings_per_cm=laid.computed_rings_per_cm,
        length_mm=laid.length_mm,
        shorter_mm=laid.shorter_mm,
        longer_mm=laid.longer_mm,
        width_mm=laid.width_mm,
        thickness_mm=laid.thickness_mm,
        ring_mass_g=ring_mass_g(laid.wire_mm, laid.inner_mm, metal.density_g_cm3.usual),
        mass_g=mass_g,
        wire_length_m=wire_mm / 1000,
        wire_with_kerf_m=(wire_mm + laid.rings * WireSettings().kerf_mm) / 1000,
        tolerance=laid.tolerance,
        section=laid,
    )


def make_plan(job: Job, *, seed: int = 0, on_step: OnStep | None = None) -> Plan:
    """Plan a whole job: geometry, joins, heat, order, estimates.

    Parameters
    ----------
    job : Job
        As :func:`read_job` returns it.
    seed : int
        Same job and seed, same plan.
    on_step : callable, optional
        Called with a stage's name, how much is done and how much there is.

    Raises
    ------
    WeaveError
        If a ring does not go into its weave.
    JoinError
        If two linked rings can neither be reached nor closed beforehand.
    """
    import chainplan
    from chainplan.estimate import estimate_job
    from chainplan.model.plan import Plan, Stamp
    from chainplan.order import order_batch

    step = on_step or (lambda *_: None)
    planned = []
    for number, piece in enumerate(job.pieces):
        step("pieces", number, len(job.pieces))
        planned.append(_plan_piece(job, piece, seed, step))
    step("estimates", 0, 1)
    batch = order_batch(planned, pace=job.bench.pace)
    estimates = estimate_job(job, planned, batch, seed=seed)
    stamp = Stamp(
        program="chainplan",
        version=chainplan.__version__,
        input_sha256=job.input_sha256,
        seed=seed,
    )
    warnings = (
        *job.warnings,
        *(f"{p.piece.name}: {text}" for p in planned for text in p.joins.warnings),
        *estimates.warnings,
    )
    return Plan(
        stamp=stamp,
        job=job,
        pieces=tuple(planned),
        batch=batch,
        estimates=estimates,
        warnings=warnings,
    )


def _plan_piece(job: Job, piece: Piece, seed: int, step: OnStep) -> PiecePlan:
    """Take one piece through weave, join, heat and order."""
    from chainplan.estimate import first_setting
    from chainplan.heat import build_heat_model
    from chainplan.join import place_joins
    from chainplan.model.plan import PiecePlan
    from chainplan.order import find_order
    from chainplan.reference import find_metal
    from chainplan.weave import lay_piece

    bench = job.bench
    try:
        layout = lay_piece(piece)
        metals = {s.metal: find_metal(s.metal, own=job.metals) for s in layout.sections}
        settings = _settings(job, piece, layout, metals, first_setting)
        joins = place_joins(
            layout,
            spot_mm=[setting.spot_mm for setting in settings],
            electrode=bench.electrode,
            way=piece.closing_way,
            parts=piece.parts,
            seed=seed,
        )
        heat = build_heat_model(
            layout,
            metals=metals,
            join_heat_set_j=_set_energy(layout, settings),
            settings=bench.heat,
            parts=piece.parts,
        )
        order = find_order(
            layout,
            joins,
            heat,
            settings=settings,
            pace=bench.pace,
            limits=bench.heat,
            seed=seed,
            on_step=step,
        )
    except ChainplanError as error:
        error.add_note(f"in piece {piece.name!r}" + (f", {piece.where}" if piece.where else ""))
        raise
    return PiecePlan(piece=piece, layout=layout, joins=joins, heat=heat, order=order)
