"""The one module that knows the order of the stages, and the public functions built on them.

Every stage is imported inside the function that needs it: the quick answers must not pay for what
only a whole plan uses.
"""

from __future__ import annotations

import time
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import (
    ExaminationError,
    Fault,
    InputError,
)
from chainplan.public.jobs import BAD_FITS, choose_piece, lay_out, no_step, read_job
from chainplan.threads import one_thread

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import pandas as pd

    from chainplan.examine import Examination
    from chainplan.model.check import OrderCheck
    from chainplan.model.job import Job, Piece
    from chainplan.model.piece.layout import Layout
    from chainplan.model.plan import Plan

    OnStep = Callable[[str, int, int], None]


DRAWING = (
    "matplotlib.figure", "matplotlib.backends.backend_svg", "chainplan.report",
    "chainplan.report.charts.doubt", "chainplan.report.charts.heat",
    "chainplan.report.charts.estimates", "chainplan.report.charts.people",
    "chainplan.examine.every",
)  # fmt: skip
"""What workers load while the schedule is made."""
CLOCK_STEP_S = 2.0
"""Times of files may be rounded to this: on FAT, the coarsest (ECMA-107, from memory)."""


@one_thread
def make_plan(
    job: Job,
    *,
    seed: int = 0,
    effort: str = "usual",
    workers: int = 1,
    cluster: str | None = None,
    keep: bool = False,
    on_step: OnStep | None = None,
) -> Plan:
    """Plan a whole job: geometry, joins, heat, order, schedule, estimates.

    Parameters
    ----------
    job : Job
        As :func:`read_job` returns it.
    seed : int
        Same job, seed and effort, same plan.
    effort : str
        "usual", or "thorough": the search for weld orders goes on for much longer.
    workers : int
        So many pieces are planned side by side; the plan is the same for any number.
    cluster : str, optional
        Where a running Dask scheduler answers, to plan the pieces there: "tcp://…".
    keep : bool
        Take pieces and timetables that were planned before from the user's cache folder, and keep
        new ones there.
    on_step : callable, optional
        Called with a stage's name, how much is done and how much there is.

    Raises
    ------
    InputError
        If the seed is negative, or rings do not go into their weave, for all such pieces at once.
    JoinError
        If two linked rings can neither be reached nor closed beforehand.
    """
    import chainplan
    from chainplan.estimate import estimate_job
    from chainplan.heat import warn_of_spots
    from chainplan.model.bench import pace_is_default, pace_warning
    from chainplan.model.plan import Plan, Stamp
    from chainplan.public.pieces import plan_pieces
    from chainplan.public.sampling import draw_for_plan
    from chainplan.public.scheduling import schedule_job
    from chainplan.reference.sampling import sampling_plan
    from chainplan.store import ResultShelf, default_folder
    from chainplan.store.keeping import keeping
    from chainplan.workers import Workers, are_here, get_ready

    _check_seed(seed)
    sampling_plan(1, job.bench.sheet.aql_percent)  # a limit that the table lacks is told at once
    step = on_step or no_step
    shelf = ResultShelf(folder=default_folder()) if keep else None
    where = Workers(count=workers, cluster=cluster)
    planned = plan_pieces(
        job,
        seed=seed,
        effort=effort,
        workers=where,
        shelf=shelf,
        meanwhile=_load_schedule,
        on_step=step,
    )
    step("estimates", 0, 1)
    if len(planned) > 1 and (shelf is None or are_here()):  # not if all was planned before
        get_ready(replace(where, cluster=None), DRAWING)
    with nullcontext() if shelf is None else keeping(shelf):
        scheduled = schedule_job(job, planned, seed=seed, effort=effort)
    estimates = replace(
        estimate_job(job, planned, scheduled.batch, scheduled.schedule),
        calendar=scheduled.calendar,
        due=scheduled.due,
    )
    stamp = Stamp(
        program="chainplan",
        version=chainplan.__version__,
        input_sha256=job.input_sha256,
        seed=seed,
    )
    pace = (pace_warning(),) if pace_is_default(job.bench) else ()
    from_weaves = (text for p in planned for text in _fit_warnings(p.piece, p.layout))
    from_heat = (f"{p.piece.name}: {text}" for p in planned for text in p.heat.cautions)
    from_designs = (f"{p.piece.name}: {text}" for p in planned for text in p.layout.design_notes)
    from_spots = (f"{p.piece.name}: {text}" for p in planned for text in warn_of_spots(p.stand_by))
    from_joins = (f"{p.piece.name}: {text}" for p in planned for text in p.joins.warnings)
    told = (*estimates.warnings, *scheduled.warnings)
    return Plan(
        stamp=stamp,
        job=job,
        pieces=tuple(planned),
        schedule=scheduled.schedule,
        batch=scheduled.batch,
        estimates=estimates,
        samples=draw_for_plan(job, planned, seed=seed),
        warnings=(
            *job.warnings,
            *from_weaves,
            *from_designs,
            *from_joins,
            *from_heat,
            *from_spots,
            *told,
            *pace,
        ),
    )


def _load_schedule() -> None:
    """Load what the schedule is made by."""
    from chainplan.schedule.exact import load_solver

    load_solver()


def _check_seed(seed: int) -> None:
    if seed < 0:
        message = f"seed {seed}; a seed is a whole number of 0 or more"
        raise InputError(message)


def _fit_warnings(piece: Piece, layout: Layout) -> Iterator[str]:
    """Warn of rings that weave badly though they weave: too tight to move, or too loose to hold."""
    for section in layout.sections:
        limits = section.limits
        if limits is None or limits.verdict not in BAD_FITS:
            continue
        better = ", ".join(f"{inner_mm:g} mm" for inner_mm in limits.suitable_inner_mm)
        remedy = f"; inner diameters that would suit: {better}" if better else ""
        yield (
            f"{piece.name}: rings of {section.inner_mm:.3g} mm inside in {section.wire_mm:.3g} mm "
            f"wire make {section.weave} {BAD_FITS[limits.verdict]}{remedy}"
        )


def check_folder(folder: str | Path, job: Job | None = None) -> None:
    """See before planning whether a plan could be written into a folder.

    A change of the folder that a killed run began is finished or undone first.

    Parameters
    ----------
    folder : str or Path
        Where the files are to stand.
    job : Job, optional
        The names of its pieces are looked at too: files are called after them.

    Raises
    ------
    InputError
        If no folder can stand there, it is closed to us, the disk is nearly full, another run is
        writing there, or something of the user's stands where one of the files goes.
    """
    from chainplan.report import FILES
    from chainplan.writing import check_folder as check
    from chainplan.writing import safe_name

    pieces = job.pieces if job else ()
    check(folder, [*FILES, *(f"charts/{safe_name(piece.name)}" for piece in pieces)])


@one_thread
def write_plan(
    plan: Plan,
    folder: str | Path,
    *,
    paper: str = "A4",
    tiles: bool = False,
    images: str | None = None,
    all_sheets: bool = False,
    all_charts: bool = False,
    workers: int = 1,
    keep: bool = False,
    on_step: OnStep | None = None,
    on_note: Callable[[str], None] | None = None,
) -> Path:
    """Write everything the bench needs into a folder, whole or not at all.

    Files of an earlier plan in that folder are replaced together once the new ones are complete;
    all else in it stays as it is.

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
    images : str, optional
        "png" or "svg" writes an image of every page of the weld order too, "png" of charts too.
    all_sheets : bool
        Put the rings and the weld order into the workbook too; they stand in CSV in any case.
    all_charts : bool
        Draw the charts of single pieces in jobs of more than 100 pieces too.
    workers : int
        So many files are written side by side; they are the same for any number.
    keep : bool
        Take what was drawn before from the user's cache folder, and keep what is new there; checks
        are not run again that the same content has passed.
    on_step, on_note : callable, optional
        Told how far it is; what was left out, or examined in a sample only.

    Raises
    ------
    InputError
        If the folder cannot be written, or a file in it cannot be replaced; it is then as it
        was. If images are wanted in another format.
    ExaminationError
        If the examiner finds that the written files contradict each other; nothing is replaced.
    """
    from chainplan.examine import Passed, examine_folder
    from chainplan.report import write_files
    from chainplan.report.charts import MOST_BY_PIECE
    from chainplan.store import ResultShelf, default_folder
    from chainplan.store.keeping import keeping
    from chainplan.store.version import examining_version
    from chainplan.workers import Workers
    from chainplan.writing import fresh_folder

    if images not in (None, "png", "svg"):
        message = f"images: {images!r} is not a format of page images; allowed: png, svg"
        raise InputError(message)
    target, step = Path(folder), on_step or no_step
    shelf = ResultShelf(folder=default_folder()) if keep else None
    begun = time.time()
    with fresh_folder(target) as place:
        known = write_files(
            plan,
            place,
            paper=paper,
            tiles=tiles,
            images=images,
            all_sheets=all_sheets,
            all_charts=all_charts,
            workers=Workers(count=workers),
            shelf=shelf,
            on_step=step,
        )
        step("examine", 0, 1)
        passed = None if shelf is None else Passed(shelf, examining_version())
        count = 1 if known else workers
        with nullcontext() if shelf is None else keeping(shelf):
            found = examine_folder(place, passed=passed, workers=Workers(count=count))
        if not found.ok:
            if shelf is not None:
                shelf.forget(begun - CLOCK_STEP_S)  # nothing is drawn by what was refused
            raise ExaminationError(found.failure_text())
    if on_note is not None:
        if len(plan.pieces) > MOST_BY_PIECE and not all_charts:
            on_note(f"charts of each piece are left out beyond {MOST_BY_PIECE}: --all-charts")
        for note in found.notes:
            on_note(f"examined in a sample: {note}")
    return target


@one_thread
def examine_plan(folder: str | Path) -> Examination:
    """Examine the files of a finished plan as they stand in their folder.

    Parameters
    ----------
    folder : str or Path
        Where :func:`write_plan` wrote them.

    Returns
    -------
    Examination
        Every finding with its file and place, what was found and what was expected; what was
        looked at in a sample only.

    Raises
    ------
    InputError
        If the folder holds no plan, or a plan of a version that wrote other files.
    """
    from chainplan.examine import examine_folder

    return examine_folder(Path(folder))


def plan_tables(plan: Plan) -> dict[str, pd.DataFrame]:
    """Return the tables of a plan as pandas DataFrames: rings, weld order, passes, wire, cost …."""
    from chainplan.report.text.tables import frames_of

    return frames_of(plan)


@one_thread
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

    from chainplan.estimate import first_settings
    from chainplan.model.check import OrderCheck
    from chainplan.model.kinds import ReturnLead
    from chainplan.order import pace_start_s, read_order, verify_order
    from chainplan.public.pieces import plan_piece
    from chainplan.writing import mend_folder

    _check_seed(seed)
    mend_folder(Path(order_file).parent)
    job = read_job(job) if isinstance(job, (str, Path)) else job
    chosen = choose_piece(job, piece)
    given = read_order(order_file, chosen.name)
    (layout,) = lay_out(replace(job, pieces=(chosen,)))
    plan = plan_piece(job, chosen, layout, seed=seed)
    joins, bench = plan.joins, job.bench
    clip_ring = given.clip_ring
    highest = max(int(part.max()) for part in (given.ring, clip_ring) if part is not None)
    if highest >= layout.rings:
        found, allowed = f"ring {highest + 1}", f"the piece has {layout.rings} rings"
        raise InputError(Fault(str(order_file), found, allowed))
    settings = [line.setting for line in first_settings(job, layout)]
    start_s, earthing = given.start_s, plan.order.earthing
    way = ReturnLead.BLOCK if earthing is None else earthing.way
    if start_s is None:
        start_s = pace_start_s(
            layout, joins, given.ring, settings=settings, pace=bench.pace, lead=bench.lead,
            way=way, clip_ring=clip_ring,
        )  # fmt: skip
    violations = verify_order(
        layout, joins, plan.heat, given.ring, start_s, settings=settings, pace=bench.pace,
        limits=bench.heat, lead=bench.lead, way=way, clip_ring=clip_ring,
    )  # fmt: skip
    return OrderCheck(
        piece=chosen.name,
        joins=len(given.ring),
        bench_time_s=float(np.max(start_s)),
        planned_s=plan.order.bench_time_s,
        violations=violations,
    )
