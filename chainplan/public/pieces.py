"""Pieces taken through weave, join, heat and order: side by side, and none of them twice.

A task holds what the plan of one piece depends on and nothing else: no price, no date, no customer
can slip into a result, because none is there. That same task is the key under which it is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from chainplan.errors import ChainplanError, Fault, InputError
from chainplan.frozen import frozen
from chainplan.model.bench import Bench
from chainplan.model.job import Job, StockItem
from chainplan.model.kinds import StockKind
from chainplan.model.plan import PiecePlan
from chainplan.public.jobs import lay_out_piece, no_step, weave_source
from chainplan.store.keys import key_of
from chainplan.threads import one_thread
from chainplan.workers import ALONE, get_ready, side_by_side

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy as np
    import numpy.typing as npt

    from chainplan.heat import PieceHeatModel
    from chainplan.model.estimate import SettingLine
    from chainplan.model.job import Piece
    from chainplan.model.piece.layout import Layout
    from chainplan.store import ResultShelf
    from chainplan.workers import Workers

    OnStep = Callable[[str, int, int], None]

PLANNING = (
    "scipy.spatial", "scipy.sparse.csgraph", "scipy.sparse.linalg",
    "numpy.random", "chainplan.weave.laying.piece", "chainplan.estimate.counts",
    "chainplan.join.place", "chainplan.heat.piece", "chainplan.order.planner",
)  # fmt: skip
"""What workers load while their first tasks are being prepared."""


@frozen
class PieceTask:
    """One piece to be planned, with all that its plan depends on."""

    job: Job  # of this piece alone, without what does not matter to it
    seed: int
    effort: str


@dataclass(frozen=True, slots=True)
class _ToLay:
    """A piece to be laid out, and as it stands in the job."""

    task: PieceTask
    asked: Piece


@dataclass(frozen=True, slots=True)
class _LaidPiece:
    """A piece that is laid out, and whatever else its plan depends on."""

    task: PieceTask
    layout: Layout


def task_of(job: Job, piece: Piece, *, seed: int = 0, effort: str = "usual") -> PieceTask:
    """Take what the plan of one copy of a piece depends on out of its job.

    How many copies, dates, prices, notes, people, stations and the calendar do not matter; of what
    lies on the shelf only finished rings, which are suggested where a ring does not suit.
    """
    bench = job.bench
    rings = tuple(
        StockItem(kind=item.kind, size_mm=item.size_mm, inner_mm=item.inner_mm)
        for item in job.stock
        if item.kind == StockKind.RINGS
    )
    sections = tuple(replace(section, where="") for section in piece.sections)
    fittings = tuple(
        replace(item, price=None, delivery_days=None, notes="") for item in piece.fittings
    )
    alone = replace(
        piece,
        quantity=1,
        sections=sections,
        fittings=fittings,
        due=None,
        late_weight=1.0,
        list_price=None,
        customer="",
        minutes="",
        notes="",
        where="",
    )
    return PieceTask(
        job=Job(
            name="piece",
            pieces=(alone,),
            bench=Bench(
                electrode=bench.electrode,
                welder=bench.welder,
                heat=bench.heat,
                pace=bench.pace,
                lead=bench.lead,
            ),
            stock=rings,
            recorded=job.recorded,
            metals=job.metals,
        ),
        seed=seed,
        effort=effort,
    )


def plan_pieces(
    job: Job,
    *,
    seed: int = 0,
    effort: str = "usual",
    workers: Workers = ALONE,
    shelf: ResultShelf | None = None,
    meanwhile: Callable[[], None] | None = None,
    on_step: OnStep | None = None,
) -> list[PiecePlan]:
    """Plan all pieces of a job, one copy each.

    Parameters
    ----------
    job : Job
        As ``read_job`` returns it.
    seed, effort
        As for ``make_plan``.
    workers : Workers
        How many pieces are planned side by side, and where.
    shelf : ResultShelf, optional
        Where pieces that were planned before are taken from, and new ones are kept.
    meanwhile : callable, optional
        What this process is to do first, if others begin with the pieces meanwhile.
    on_step : callable, optional
        Told how far it is.

    Raises
    ------
    InputError
        If rings do not go into their weave, for all such pieces at once.
    JoinError
        If two linked rings can neither be reached nor closed beforehand.
    """
    step = on_step or no_step
    tasks = [task_of(job, piece, seed=seed, effort=effort) for piece in job.pieces]
    keys = [_key_of(task) for task in tasks] if shelf else []
    kept: dict[int, PiecePlan] = {}
    for number, key in enumerate(keys):
        found = shelf.get(key) if shelf else None
        if isinstance(found, PiecePlan):
            kept[number] = found
    new = [number for number in range(len(tasks)) if number not in kept]
    if len(new) > 1:
        get_ready(workers, PLANNING)
    some = [tasks[number] for number in new]
    asked = [job.pieces[number] for number in new]
    laid = _lay_out_all(some, asked, workers, step, meanwhile)
    step("pieces", 0, len(laid))
    if workers.alone(len(laid)):
        planned = []
        for number, one in enumerate(laid):
            planned.append(_plan_laid(one, step=step))
            step("pieces", number + 1, len(laid))
    else:
        planned = side_by_side(
            _plan_laid,
            laid,
            workers,
            size=lambda one: one.layout.rings,
            on_done=lambda done, total: step("pieces", done, total),
        )
    for number, plan in zip(new, planned, strict=True):
        kept[number] = plan
        if shelf:
            shelf.put(keys[number], plan)
    if shelf and new:
        shelf.tidy()
    return [_as_asked(job, piece, kept[number]) for number, piece in enumerate(job.pieces)]


def _key_of(task: PieceTask) -> str:
    """Tell the key of a task: what it holds, weave files of the user's own, and the code."""
    from chainplan.store.version import stage_versions

    weaves = [weave_source(section.weave) for section in task.job.pieces[0].sections]
    return key_of(task, weaves, stage_versions())


def _lay_out_all(
    tasks: Sequence[PieceTask],
    asked: Sequence[Piece],
    workers: Workers,
    step: OnStep,
    meanwhile: Callable[[], None] | None,
) -> list[_LaidPiece]:
    """Lay all pieces out, or tell the faults of all of them together."""
    step("weaves", 0, len(tasks))
    groups = _alike(asked, workers)
    answers = side_by_side(
        _lay_out_some,
        [[_ToLay(tasks[number], asked[number]) for number in group] for group in groups],
        workers,
        size=len,
        meanwhile=meanwhile,
        on_done=lambda done, total: step("weaves", done, total),
    )
    found: list[tuple[Layout | None, tuple[Fault, ...]]] = [(None, ())] * len(tasks)
    for group, some in zip(groups, answers, strict=True):
        for number, one in zip(group, some, strict=True):
            found[number] = one
    faults = [fault for _, told in found for fault in told]
    if faults:
        raise InputError(faults=faults)
    return [
        _LaidPiece(task, layout)
        for task, (layout, _) in zip(tasks, found, strict=True)
        if layout is not None
    ]


def _alike(pieces: Sequence[Piece], workers: Workers) -> list[list[int]]:
    """Put pieces of one weave together: whoever has solved its repeat has it for the next.

    Groups are small enough for each worker to have at least two; a cluster has any number of them.
    """
    alone = workers.cluster is not None or workers.alone(len(pieces))
    most = 1 if alone else max(1, len(pieces) // (2 * workers.count))
    groups: list[list[int]] = []
    open_group: dict[str, list[int]] = {}
    for number, piece in enumerate(pieces):
        weaves = [section.weave for section in piece.sections]
        known = [open_group[weave] for weave in weaves if weave in open_group]
        group = next((group for group in known if len(group) < most), None)
        if group is None:
            group = []
            groups.append(group)
        group.append(number)
        open_group.update(dict.fromkeys(weaves, group))
    return groups


@one_thread
def _lay_out_some(some: Sequence[_ToLay]) -> list[tuple[Layout | None, tuple[Fault, ...]]]:
    return [_lay_out(one) for one in some]


def _lay_out(one: _ToLay) -> tuple[Layout | None, tuple[Fault, ...]]:
    (piece,) = one.task.job.pieces
    return lay_out_piece(piece, one.task.job, asked=one.asked)


@one_thread
def _plan_laid(one: _LaidPiece, *, step: OnStep = no_step) -> PiecePlan:
    """Take one laid-out piece through join, heat and order; what was solved for it is let go of."""
    (piece,) = one.task.job.pieces
    plan = plan_piece(
        one.task.job, piece, one.layout, seed=one.task.seed, effort=one.task.effort, step=step
    )
    return replace(plan, heat=plan.heat.unsolved())


def _as_asked(job: Job, piece: Piece, plan: PiecePlan) -> PiecePlan:
    """Give a plan its piece as the job has it, and count what it takes with the job's saw."""
    from chainplan.public.counting import count_layout

    counts = tuple(
        count_layout(
            section, plan.layout, number, metals=job.metals, kerf_mm=job.bench.wire.kerf_mm
        )
        for number, section in enumerate(piece.sections)
    )
    return replace(plan, piece=replace(piece, parts=plan.piece.parts), counts=counts)


def plan_piece(
    job: Job,
    piece: Piece,
    layout: Layout,
    *,
    seed: int = 0,
    effort: str = "usual",
    step: OnStep = no_step,
) -> PiecePlan:
    """Take one laid-out piece through join, heat and order."""
    from chainplan.estimate import first_settings
    from chainplan.heat import say_stand_by, stand_by
    from chainplan.join import place_joins
    from chainplan.order import find_order
    from chainplan.weave import parts_of_fittings

    bench = job.bench
    piece = replace(piece, parts=(*piece.parts, *parts_of_fittings(piece, layout)))
    try:
        settings = first_settings(job, layout)
        joins = place_joins(
            layout,
            spot_mm=[line.setting.spot_mm for line in settings],
            electrode=bench.electrode,
            way=piece.closing_way,
            parts=piece.parts,
            seed=seed,
        )
        heat = heat_of(job, piece, layout, _set_energy_j(layout, settings))
        order = find_order(
            layout,
            joins,
            heat,
            settings=[line.setting for line in settings],
            pace=bench.pace,
            limits=bench.heat,
            lead=bench.lead,
            seed=seed,
            effort=effort,
            on_step=step,
        )
        near_mm = bench.electrode.beforehand_distance_mm
        standing = stand_by(
            layout,
            heat,
            piece.parts,
            joins_mm=joins.point_mm,
            in_place=~joins.pre_closed,
            ring=order.ring,
            start_s=order.start_s,
            near_mm=near_mm,
        )
        order = replace(order, advice=(*order.advice, *say_stand_by(standing, near_mm)))
    except ChainplanError as error:
        error.add_note(f"in piece {piece.name!r}" + (f", {piece.where}" if piece.where else ""))
        raise
    return PiecePlan(
        piece=piece, layout=layout, joins=joins, heat=heat, order=order, stand_by=standing
    )


def heat_of(
    job: Job, piece: Piece, layout: Layout, set_energy_j: npt.NDArray[np.float64]
) -> PieceHeatModel:
    """Build the heat model of a piece for the energy set for each ring's join, all hits. [J]."""
    from chainplan.heat import build_heat_model
    from chainplan.reference import find_metal

    return build_heat_model(
        layout,
        metals={m.metal: find_metal(m.metal, own=job.metals) for m in layout.materials},
        join_heat_set_j=set_energy_j,
        settings=job.bench.heat,
        parts=piece.parts,
    )


def _set_energy_j(layout: Layout, settings: Sequence[SettingLine]) -> npt.NDArray[np.float64]:
    """Power times hits set on the welder for each ring's join."""
    import numpy as np

    by_material = np.array([line.setting.power_j * line.setting.hits for line in settings])
    energy: npt.NDArray[np.float64] = by_material[layout.material]
    return energy
