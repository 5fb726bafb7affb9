"""What falls on a day and is nobody's work: deliveries, pieces away and ready, dates."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.model.workshop.schedule import ASSAY

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.model.plan import Plan

DAY = datetime.timedelta(days=1)


@frozen
class Notice:
    """Something that holds for whole days."""

    first: datetime.date
    last: datetime.date
    text: str
    key: str  # names the same thing in the next plan of the job


def notices_of(plan: Plan) -> tuple[Notice, ...]:
    """List them by day; none without dates."""
    return tuple(sorted(_notices(plan), key=lambda one: (one.first, one.text)))


def _notices(plan: Plan) -> Iterator[Notice]:
    schedule = plan.schedule
    if schedule.delivered is not None and schedule.waits:
        come: dict[datetime.date, list[str]] = {}
        for piece, stations in schedule.waits.items():
            own = schedule.deliveries.get(piece, {})
            there = own.keys() >= {*stations}
            day = max(own[name] for name in stations) if there else schedule.delivered
            come.setdefault(day, []).append(piece)
        for day, pieces in come.items():
            text = f"delivery: what was bought has come ({', '.join(pieces)})"
            yield _on(day, text, "delivery" if day == schedule.delivered else f"delivery {day}")
    for task in schedule.tasks:
        if task.station == ASSAY and task.start is not None and task.end is not None:
            last = (task.end - datetime.timedelta(seconds=1)).date()
            yield Notice(
                first=task.start.date() + DAY, last=last, key=f"assay {task.piece}",
                text=f"at the assay office: {task.piece}",
            )  # fmt: skip
    for each in schedule.pieces:
        if each.ready is None:
            continue
        late = f", {each.late_days} {'day' if each.late_days == 1 else 'days'} LATE"
        due = "" if each.due is None else f" (wanted by {each.due:%a} {each.due.day} {each.due:%b}"
        due += f"{late if each.late_days else ''})" if due else ""
        yield _on(each.ready, f"ready: {each.piece}{due}", f"ready {each.piece}")


def _on(day: datetime.date, text: str, key: str) -> Notice:
    return Notice(first=day, last=day, text=text, key=key)
