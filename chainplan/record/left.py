"""What is left of a plan's schedule, line by line, by what the record says is done."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from chainplan.model.workshop.bench_log import STATIONS
from chainplan.model.workshop.schedule import ASSAY, TUMBLING, LeftTask
from chainplan.record.kept.joins import DONE

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import numpy as np

    from chainplan.model.workshop.record import CopyProgress, KnownPlan, KnownTask
    from chainplan.record.kept.joins import Places

_JUST_BEFORE = {TUMBLING: "tumble", ASSAY: "finish"}
"""The station whose work an unattended one follows."""


def left_tasks(
    plan: KnownPlan,
    copies: Mapping[tuple[str, int], CopyProgress],
    passed: Mapping[tuple[str, int], int],
    places: Places,
    state: np.ndarray,
    factor: float,
) -> list[LeftTask]:
    """List what is left of each line of a plan's schedule.

    Parameters
    ----------
    plan : KnownPlan
        With its schedule; steps are those of its own order.
    copies : mapping
        How far each copy is.
    passed : mapping
        Place in ``STATIONS`` of the last station that a copy has passed, −1 for none.
    places, state
        As :func:`chainplan.record.kept.joins.join_states` gives them, of the whole work.
    factor : float
        Seconds needed at the welder over seconds planned.
    """
    begun = {name for (name, copy), at in passed.items() if at >= 0 or _touched(copies[name, copy])}
    found = []
    at_welder: dict[tuple[str, int], float] = {}
    for task in plan.tasks:
        of = [copy for copy in range(task.copy, task.copy + task.copies)
              if (task.piece, copy) in copies]  # fmt: skip
        if task.station == "weld":
            left_s = sum(_weld_s(plan, task, copy, places, state) for copy in of) * factor
            for copy in of:
                key = (task.piece, copy)
                at_welder[key] = at_welder.get(key, 0.0) + left_s / len(of)
        else:
            before = STATIONS.index(_JUST_BEFORE.get(task.station, task.station))
            over = task.station in _JUST_BEFORE
            open_copies = [copy for copy in of if passed[task.piece, copy] < before + over]
            length_s = task.work_s if task.person else _lasts_s(task)
            share = len(open_copies) / max(len(of), 1)
            left_s = length_s * (share if task.person else float(share > 0))
            of = open_copies
        if left_s > 0:
            found.append(_left(task, of, left_s, begun=task.piece in begun))
    return [*found, *_elsewhere(plan, copies, at_welder)]


def _touched(copy: CopyProgress) -> bool:
    return bool(copy.done or copy.not_good)


def _weld_s(
    plan: KnownPlan, task: KnownTask, copy: int, places: Places, state: np.ndarray
) -> float:
    """Planned seconds of the joins of a stretch of steps that are not done."""
    piece = plan.piece(task.piece)
    whole = places.pieces.get(task.piece)
    if piece is None or whole is None:
        return 0.0
    steps = slice(task.first_step, task.first_step + task.steps)
    is_open = state[places.rings(whole, copy)][piece.ring[steps] - 1] != DONE
    return float((piece.pace_s + piece.wait_s)[steps][is_open].sum())


def _lasts_s(task: KnownTask) -> float:
    start, end = (datetime.datetime.fromisoformat(text) for text in (task.start, task.end))
    return (end - start).total_seconds()


def _left(task: KnownTask, copies: Sequence[int], work_s: float, *, begun: bool) -> LeftTask:
    return LeftTask(
        piece=task.piece, copies=tuple(copies), station=task.station,
        person=task.person, machine=task.machine,
        start=datetime.datetime.fromisoformat(task.start), work_s=work_s, begun=begun,
    )  # fmt: skip


def _elsewhere(
    plan: KnownPlan,
    copies: Mapping[tuple[str, int], CopyProgress],
    at_welder: Mapping[tuple[str, int], float],
) -> Iterator[LeftTask]:
    """Give joins that stand in no line, to be welded again, to whoever has the piece next."""
    for (name, number), copy in copies.items():
        more_s = copy.left_s - at_welder.get((name, number), 0.0)
        if more_s < 1.0:
            continue
        of_piece = [task for task in plan.tasks if task.piece == name and task.person]
        later = [task for task in of_piece if STATIONS.index(task.station) > STATIONS.index("weld")]
        for task in (later or of_piece)[:1]:
            yield _left(
                task._replace(station="weld", machine="welder"), [number], more_s, begun=True
            )
