"""Plans the rest of a job again: what is done stays done, what is left is ordered anew.

What is welded is never welded twice. Where nothing that an order rests on has changed, the rest of
it is the old one; where limits, settings or pace are others, the rest is ordered anew with the
welded joins left out. Joins that are not good come back in a pass of their own at the end.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError
from chainplan.frozen import frozen
from chainplan.intake import read_plan_record
from chainplan.threads import one_thread

if TYPE_CHECKING:
    import datetime
    from collections.abc import Callable, Mapping, Sequence

    from chainplan.model.job import Job
    from chainplan.model.order import WeldOrder
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.model.workshop.record import KnownPiece, KnownPlan
    from chainplan.public.replanning.warm import Recent
    from chainplan.record.rest import FolderOrder, PieceState

    OnStep = Callable[[str, int, int], None]


@frozen
class Replanned:
    """A plan of what is left, with what changed and why."""

    plan: Plan
    folder: Path
    news: tuple[str, ...]
    welded: int
    left: int


@frozen
class _Rest:
    """The rest of one piece, with what the record needs of it."""

    piece: PiecePlan
    said: str
    basis: str
    warm: bool = False  # begun from the heat of the last welds


@one_thread
def replan(
    folder: str | Path,
    *,
    job: str | Path | None = None,
    record: str | Path | None = None,
    paper: str = "A4",
    now: datetime.datetime | None = None,
    on_step: OnStep | None = None,
) -> Replanned:
    """Plan what is left of a job again and replace its folder's papers.

    Parameters
    ----------
    folder : str or Path
        The plan's folder.
    job : str or Path, optional
        The job's file, which may have changed; the one that the plan was made from if not given.
    record : str or Path, optional
        The workshop's record; beside the plan's folder if not given.
    paper : str
        "A4" or "Letter".
    now : datetime, optional
        The time it is, from which the rest is dated.
    on_step : callable, optional
        As for :func:`chainplan.make_plan`.

    Raises
    ------
    InputError
        If the folder holds no plan, the job's file is gone, or a piece that was begun has other
        rings now.
    """
    import datetime as dates

    from chainplan.estimate import estimate_job
    from chainplan.public.jobs import read_job
    from chainplan.public.plan import make_plan, write_plan
    from chainplan.public.recording import progress, record_path
    from chainplan.public.replanning.checks import traces_of
    from chainplan.public.replanning.moved import hands_changed, moved
    from chainplan.public.replanning.news import changes
    from chainplan.public.replanning.spent import account, first_plan, ready_day, say_spent
    from chainplan.public.replanning.turns import schedule_of_rest
    from chainplan.public.replanning.warm import cooling_s, recent_welds
    from chainplan.record.account import minutes_of_job, share_begun
    from chainplan.record.kept.lineage import of_record
    from chainplan.record.kept.store import Record
    from chainplan.record.progress import stations_finished, whole_plan
    from chainplan.record.reading.plan_folder import read_plan_folder
    from chainplan.record.rest import folder_basis, folder_orders, piece_states, stations_passed
    from chainplan.record.sample import draw_samples
    from chainplan.record.trace import trace_joins

    folder = Path(folder)
    target, moment = record_path(folder, record), now or dates.datetime.now()
    before = progress(folder, record=target, now=now)[0]
    with Record(target, read_only=True) if target.exists() else Record.empty() as book:
        known = of_record(book, read_plan_folder(folder))
        whole = whole_plan(book, known)
        states = piece_states(book, whole)
        recent = recent_welds(book, whole, now)
        passed = stations_passed(book, whole, states)
        traces = trace_joins(book, whole, piece=None, copy=None, ring=None)
        minutes = minutes_of_job(book, whole, before)
        begun = share_begun(before, stations_finished(book, whole))
    new_job = read_job(_job_file(folder, job))
    full = make_plan(new_job, seed=_seed(folder), on_step=on_step)
    _check_same_rings(full, whole, states)
    orders, basis = folder_orders(folder), folder_basis(folder, known)
    rests = [
        _rest_of(piece, new_job, states.get(piece.piece.name), orders, basis, recent)
        for piece in full.pieces
    ]
    pieces = tuple(rest.piece for rest in rests)
    welded = {name: state.done.sum(axis=1).tolist() for name, state in states.items()}
    done = sum(map(sum, welded.values()))
    joins = sum(piece.joins for piece in before.pieces)
    cool_s, said_warm = cooling_s(recent, pieces, states, new_job)
    coming = schedule_of_rest(
        full, pieces, states, passed, moment,
        ready_s={(recent.piece, recent.copy): cool_s} if recent is not None and cool_s else {},
        changed=new_job.input_sha256[: len(known.mark)] != known.mark,
    )  # fmt: skip
    first = first_plan(folder)
    costs = account(first, minutes, full, begun, done / max(joins, 1))
    ready = ready_day(coming.due if coming.due is not None else full.estimates.due)
    news = (
        f"{done} of {joins} joins are welded and stay as they are.",
        *changes(known, new_job),
        *(rest.said for rest in rests if rest.said),
        *hands_changed(folder, new_job),
        *moved(folder, coming.schedule),
        *([said_warm] if said_warm else []),
        *say_spent(costs, first, ready),
    )
    estimates = full.estimates
    if coming.calendar is not None and coming.due is not None:
        # The whole job's cost with the wages of those who do what is left.
        estimates = replace(
            estimate_job(full.job, full.pieces, full.batch, coming.schedule),
            calendar=coming.calendar,
            due=coming.due,
        )
    told = _replan_record(known, rests, news, welded)
    told |= {"first": first, "ready": ready, "costs": costs}
    told["first_day"] = coming.first_day.isoformat() if coming.first_day else None
    samples = draw_samples(
        [*traces_of(full, traces)], full.job.name,
        {piece.piece.name: piece.layout.rings for piece in full.pieces},
        aql_percent=full.job.bench.sheet.aql_percent, seed=full.stamp.seed,
    )  # fmt: skip
    plan = replace(
        full, pieces=pieces, schedule=coming.schedule, batch=coming.batch, estimates=estimates,
        news=news, replan=told, samples=samples,
    )  # fmt: skip
    with Record(target) as book:
        book.keep_plan(known)  # first: should the next be cut off too, its way back is known
    write_plan(plan, folder, paper=paper, on_step=on_step)
    with Record(target) as book:
        book.keep_plan(of_record(book, read_plan_folder(folder)))
    left = sum(int(steps) for steps in plan.batch.steps)
    return Replanned(plan=plan, folder=folder, news=news, welded=done, left=left)


def _seed(folder: Path) -> int:
    from chainplan.record.reading.plan_folder import told_as_damage

    with told_as_damage(folder):
        return int(read_plan_record(folder / "plan.json")["stamp"]["seed"])


def _job_file(folder: Path, job: str | Path | None) -> Path:
    """Find the job's file: as named, else where it was when the plan was made."""
    if job is not None:
        return Path(job)
    told = str(read_plan_record(folder / "plan.json").get("job_file") or "")
    for place in (Path(told), folder / told, folder.parent / Path(told).name):
        if told and place.is_file():
            return place
    message = (
        f"{folder}: the file that its plan was made from ({told or 'not noted'}) is not there; "
        "name it with --job"
    )
    raise InputError(message)


def _check_same_rings(full: Plan, whole: KnownPlan, states: Mapping[str, PieceState]) -> None:
    """Refuse other rings for a piece of which something is welded."""
    faults = []
    for piece in full.pieces:
        old = whole.piece(piece.piece.name)
        if old is None or not states[old.name].done.any():
            continue
        # As laid, which is what the folder has: loose joins in a chain are connecting rings.
        now = [(s.weave, s.metal, s.wire_mm, s.inner_mm) for s in piece.layout.sections]
        then = [(s.weave, s.metal, s.wire_mm, s.inner_mm) for s in old.sections]
        alike = all(
            a[:2] == b[:2]
            and all(abs(x - y) <= 1e-4 * y for x, y in zip(a[2:], b[2:], strict=True))
            for a, b in zip(now, then, strict=False)
        )
        if alike and piece.layout.rings == old.rings:
            alike = _same_metals(piece, old)
        if piece.layout.rings != old.rings or len(now) != len(then) or not alike:
            welded = int(states[old.name].done.sum())
            faults.append(f"{old.name!r} has other rings now, but {welded} of its joins are welded")
    gone = [
        piece.name for piece in whole.pieces
        if piece.name not in {p.piece.name for p in full.pieces} and states[piece.name].done.any()
    ]  # fmt: skip
    faults += [f"{name!r} is no longer in the job, but joins of it are welded" for name in gone]
    if faults:
        message = f"{'; '.join(faults)}; give the changed piece a name of its own"
        raise InputError(message)


def _same_metals(piece: PiecePlan, old: KnownPiece) -> bool:
    """Whether every ring is of the metal that it was: a design may have changed."""
    metals = [item.metal for item in piece.layout.materials]
    material = piece.layout.material
    return all(
        metals[material[ring - 1]] == old.metal_of(step) for step, ring in enumerate(old.ring)
    )


def _rest_of(
    piece: PiecePlan,
    job: Job,
    state: PieceState | None,
    orders: Mapping[str, FolderOrder],
    basis: Mapping[str, str],
    recent: Recent | None,
) -> _Rest:
    """Order what is left of one piece: the rest of the old order, or a new one."""
    import numpy as np

    from chainplan.public.replanning.repairs import with_repairs
    from chainplan.public.replanning.rest import (
        ordered_anew,
        rest_of_order,
        timed_anew,
        told_anew,
        too_warm,
        with_limits,
    )
    from chainplan.public.replanning.warm import begun_warm
    from chainplan.record.rest import order_basis

    name = piece.piece.name
    settings = {work.number: work.setting for work in piece.order.passes}
    of_step = [settings[number] for number in piece.order.pass_number.tolist()]
    now = order_basis(
        piece.order.ring, piece.order.wait_s, np.array([s.power_j for s in of_step], dtype=float),
        np.array([s.hits for s in of_step], dtype=np.int32),
    )  # fmt: skip
    if state is None:
        return _Rest(piece=piece, said=f"{name} is new.", basis=now)
    copies = min(len(state.done), piece.piece.quantity)
    everywhere = state.done[:copies].all(axis=0)
    repair = state.again | state.replaced
    same = basis.get(name) == now
    if same:
        left = ~everywhere & ~repair
        order = rest_of_order(piece.order, orders[name], left)
        said = ""
        if everywhere.any():
            said = f"{name}: its order would be no other now, so the rest stays as it was."
        left_out = order.row_step is not None and bool((np.diff(order.row_step) > 1).any())
        if orders[name].warm:  # the last plan began warm; the piece has cooled
            order = timed_anew(piece, job, order)
        elif left_out and too_warm(piece, job, order):
            order = timed_anew(piece, job, order)
            said = (
                f"{name}: its order would be no other now, but joins were welded out of turn: the "
                "rest keeps its order, with waits of its own."
            )
    else:
        order = ordered_anew(piece, job, everywhere | repair)
        said = f"{name}: its order would be another now, so the rest is ordered anew."
    if same and order is not piece.order:
        order = with_limits(piece, job, order, piece.heat)
    cold = order
    order, told_warm = begun_warm(recent, piece, cold, job)
    warm, heat = order is not cold, piece.heat
    if repair.any():
        order, heat, told = with_repairs(piece, job, order, state)
        said = f"{said} {told}".strip()
    said = f"{said} {told_warm}".strip()
    joins = replace(piece.joins, welded=everywhere & ~repair)
    begun = piece if order is piece.order else told_anew(piece, job, order, heat)
    begun = replace(begun, joins=joins)
    return _Rest(piece=begun, said=said, basis=now, warm=warm)


def _replan_record(
    known: KnownPlan,
    rests: Sequence[_Rest],
    news: Sequence[str],
    welded: Mapping[str, list[int]],
) -> dict[str, Any]:
    """Put together what ``plan.json`` holds of a replan."""
    import numpy as np

    def pace_s(order: WeldOrder) -> list[float]:
        # Sums are rounded, not steps: a thousand roundings the same way would be half a second.
        worked = (order.start_s - np.cumsum(order.wait_s)).round(3)
        found: list[float] = np.diff(worked, prepend=0.0).round(3).tolist()
        return found

    return {
        "follows": known.key,
        "news": list(news),
        "welded": dict(welded),
        "basis": {rest.piece.piece.name: rest.basis for rest in rests},
        "begun_warm": [rest.piece.piece.name for rest in rests if rest.warm],
        "pace_s": {rest.piece.piece.name: pace_s(rest.piece.order) for rest in rests},
    }
