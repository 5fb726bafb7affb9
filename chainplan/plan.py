"""The one module that knows the order of the stages, and the public functions built on them.

Every stage is imported inside the function that needs it: the quick answers must not pay for what
only a whole plan uses.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import ChainplanError, InputError, did_you_mean
from chainplan.units import read_length_mm, read_wire_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy as np
    import numpy.typing as npt

    from chainplan.errors import Fault
    from chainplan.model.check import OrderCheck
    from chainplan.model.count import WeaveDescription
    from chainplan.model.estimate import Comparison, SettingLine
    from chainplan.model.job import Job, Piece
    from chainplan.model.layout import Layout
    from chainplan.model.plan import PiecePlan, Plan

    OnStep = Callable[[str, int, int], None]


def read_job(path: str | Path) -> Job:
    """Read a job file (.xlsx, .csv or .toml) and check all of it.

    Raises
    ------
    InputError
        With every fault of the file, each with its sheet and cell.
    """
    from chainplan.counting import weave_names
    from chainplan.job import read_job as read

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
    from chainplan.counting import weave_names
    from chainplan.job import write_starter

    target = Path(path)
    write_starter(target, weaves=weave_names())
    return target


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

    step = on_step or _no_step
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
    from_joins = (f"{p.piece.name}: {text}" for p in planned for text in p.joins.warnings)
    return Plan(
        stamp=stamp,
        job=job,
        pieces=tuple(planned),
        batch=batch,
        estimates=estimates,
        warnings=(*job.warnings, *from_joins, *estimates.warnings),
    )


def _no_step(_stage: str, _done: int, _total: int) -> None:
    """Tell nobody."""


def _plan_piece(job: Job, piece: Piece, seed: int, step: OnStep) -> PiecePlan:
    """Take one piece through weave, join, heat and order."""
    from chainplan.counting import count_layout
    from chainplan.estimate import settings_of_layout
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
        settings = settings_of_layout(job, layout)
        joins = place_joins(
            layout,
            spot_mm=[line.setting.spot_mm for line in settings],
            electrode=bench.electrode,
            way=piece.closing_way,
            parts=piece.parts,
            seed=seed,
        )
        heat = build_heat_model(
            layout,
            metals=metals,
            join_heat_set_j=_set_energy_j(layout, settings),
            settings=bench.heat,
            parts=piece.parts,
        )
        order = find_order(
            layout,
            joins,
            heat,
            settings=[line.setting for line in settings],
            pace=bench.pace,
            limits=bench.heat,
            seed=seed,
            on_step=step,
        )
    except ChainplanError as error:
        error.add_note(f"in piece {piece.name!r}" + (f", {piece.where}" if piece.where else ""))
        raise
    counts = tuple(
        count_layout(section, layout, number, metals=job.metals)
        for number, section in enumerate(piece.sections)
    )
    return PiecePlan(piece=piece, layout=layout, joins=joins, heat=heat, order=order, counts=counts)


def _set_energy_j(layout: Layout, settings: Sequence[SettingLine]) -> npt.NDArray[np.float64]:
    """Power times hits set on the welder for each ring's join."""
    import numpy as np

    by_section = np.array([line.setting.power_j * line.setting.hits for line in settings])
    energy: npt.NDArray[np.float64] = by_section[layout.section]
    return energy


def write_plan(
    plan: Plan,
    folder: str | Path,
    *,
    paper: str = "A4",
    tiles: bool = False,
    on_step: OnStep | None = None,
) -> Path:
    """Write everything the bench needs into a folder, whole or not at all.

    Files of an earlier plan in that folder are replaced together once the new ones are complete;
    files of the user's own stay.

    Parameters
    ----------
    plan : Plan
        As :func:`make_plan` returns it.
    folder : str or Path
        Where the files are to stand.
    paper : str
        "A4" or "Letter", for the diagrams.
    tiles : bool
        Draw every tile of very large pieces too, not only their overview.

    Raises
    ------
    InputError
        If the folder cannot be written.
    """
    from chainplan.folder import fresh_folder
    from chainplan.report import write_files

    target = Path(folder)
    with fresh_folder(target) as place:
        write_files(plan, place, paper=paper, tiles=tiles, on_step=on_step or _no_step)
    return target


def check_order(
    job: Job | str | Path, order_file: str | Path, *, piece: str | None = None, seed: int = 0
) -> OrderCheck:
    """Simulate a weld order of the user's own and list every limit that it breaks.

    Parameters
    ----------
    job : Job, str or Path
        The job, or its file.
    order_file : str or Path
        A CSV with a column ``ring`` and, if the times are given too, ``start_s``.
    piece : str, optional
        Which piece; needed if the job has several.

    Raises
    ------
    InputError
        If the file cannot be read as an order of that piece's joins.
    """
    import numpy as np

    from chainplan.estimate import settings_of_layout
    from chainplan.model.check import OrderCheck
    from chainplan.order import pace_start_s, read_order, verify_order

    job = read_job(job) if isinstance(job, (str, Path)) else job
    chosen = _choose_piece(job, piece)
    given = read_order(order_file, chosen.name)
    plan = _plan_piece(job, chosen, seed, _no_step)
    layout, joins, bench = plan.layout, plan.joins, job.bench
    if given.ring.max() >= layout.rings:
        message = f"{order_file}: ring {given.ring.max() + 1}; the piece has {layout.rings} rings"
        raise InputError(message)
    settings = [line.setting for line in settings_of_layout(job, layout)]
    start_s = given.start_s
    if start_s is None:
        start_s = pace_start_s(layout, joins, given.ring, settings=settings, pace=bench.pace)
    violations = verify_order(
        layout, joins, plan.heat, given.ring, start_s,
        settings=settings, pace=bench.pace, limits=bench.heat,
    )  # fmt: skip
    return OrderCheck(
        piece=chosen.name,
        joins=len(given.ring),
        bench_time_s=float(np.max(start_s)),
        planned_s=plan.order.bench_time_s,
        violations=violations,
    )


def compare_rings(
    job: Job | str | Path,
    *,
    piece: str | None = None,
    wires: Sequence[str] = (),
    inners: Sequence[str] = (),
    metals: Sequence[str] = (),
    targets: Sequence[str] = (),
) -> Comparison:
    """Set ring sizes and metals for one piece side by side.

    Parameters
    ----------
    job : Job, str or Path
        The job, or its file.
    piece : str, optional
        Which piece; needed if the job has several.
    wires, inners, metals : sequence of str
        What to try; empty means as the piece has it.
    targets : sequence of str
        What an alternative must meet: "under 30 g", "price<=250", "fits in 2 days".

    Raises
    ------
    InputError
        If something cannot be read.
    """
    from chainplan.counting import count_piece
    from chainplan.estimate import alternatives, compare_pieces
    from chainplan.reference import find_metal

    job = read_job(job) if isinstance(job, (str, Path)) else job
    others = alternatives(
        _choose_piece(job, piece),
        wires_mm=[_read("wire", text, read_wire_mm) for text in wires],
        inners_mm=[_read("inner", text, read_length_mm) for text in inners],
        metals=[find_metal(name, own=job.metals).key for name in metals],
    )
    return compare_pieces(
        job, others, lambda other: count_piece(other, metals=job.metals), targets=targets
    )


def _read(what: str, text: str, read: Callable[[str], float]) -> float:
    try:
        return read(text)
    except ValueError as error:
        message = f"{what}: {error}"
        raise InputError(message) from None


def draw_weave(
    described: WeaveDescription, target: str | Path, *, numbers: bool = False
) -> tuple[Path, ...]:
    """Draw a weave as :func:`describe_weave` tells of it, as SVG and PNG; return the files.

    ``target`` is a file name (either ending will do) or a folder.

    Raises
    ------
    InputError
        If no ring was given, or the files cannot be written.
    """
    from chainplan.report.weave_picture import write_weave_picture

    try:
        return tuple(write_weave_picture(described, target, numbers=numbers))
    except OSError as error:
        message = f"{target}: cannot be written ({error.strerror})"
        raise InputError(message) from None


def draw_comparison(comparison: Comparison, path: str | Path) -> Path:
    """Draw a comparison as a chart, .png or .svg; return the file.

    Raises
    ------
    InputError
        If the file has another ending or cannot be written.
    """
    from chainplan.report.estimate_charts import write_comparison

    target = Path(path)
    if target.suffix.lower() not in (".png", ".svg"):
        message = f"{target}: a chart is written as .png or .svg"
        raise InputError(message)
    try:
        return write_comparison(comparison, target)
    except OSError as error:
        message = f"{target}: cannot be written ({error.strerror})"
        raise InputError(message) from None


def _choose_piece(job: Job, name: str | None) -> Piece:
    if name is None:
        if len(job.pieces) == 1:
            return job.pieces[0]
        names = ", ".join(repr(piece.name) for piece in job.pieces)
        message = f"the job has {len(job.pieces)} pieces; name one of {names}"
        raise InputError(message)
    for piece in job.pieces:
        if piece.name == name:
            return piece
    hint = did_you_mean(name, [piece.name for piece in job.pieces])
    message = f"the job has no piece {name!r}; {hint}"
    raise InputError(message)
