"""What the workshop's record says, in words for people."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.units import show_duration

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from chainplan.model.workshop.record import (
        CopyProgress,
        JoinTrace,
        Learned,
        Lesson,
        PersonProgress,
        Progress,
        Review,
    )


def table_text(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Set a table in columns: the first to the left, the others to the right.

    Examples
    --------
    >>> print(table_text(["piece", "done"], [["Cuff", "12"], ["Long chain", "3"]]))
    piece       done
    Cuff          12
    Long chain     3
    """
    lines = [list(headings), *map(list, rows)]
    widths = [max(len(line[k]) for line in lines) for k in range(len(headings))]
    return "\n".join(
        "  ".join(
            cell.ljust(width) if k == 0 else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    )


def progress_text(job: Progress) -> str:
    """Say how far a job is."""
    joins, done = (sum(getattr(p, name) for p in job.pieces) for name in ("joins", "done"))
    share = f", {done / joins:.0%}" if joins else ""
    lines = [f"{job.job}: {done} of {joins} joins done{share}", ""]
    heads = ["piece", "copy", "joins", "done", "left", "not good", "later", "to weld", "finished"]
    lines.append(table_text(heads, [_copy_cells(piece) for piece in job.pieces]))
    lines.append("")
    if job.pace is not None:
        reach = ""
        if job.pace_low is not None and job.pace_high is not None:
            reach = f" (90 % interval {job.pace_low:.2f} to {job.pace_high:.2f})"
        lines.append(f"pace: {job.pace:.2f} times the planned time{reach}")
    if job.people:
        heads = ["person", "at", "joins", "again", "pace", "last seen"]
        lines += [table_text(heads, [_person_cells(each) for each in job.people]), ""]
    if job.finish is not None:
        how = "one person at it in the job's hours"
        if job.by_schedule:
            how = "by the schedule of what is left"
        beside = f"; planned: {_moment(job.planned)}" if job.planned else ""
        lines.append(f"finished: {_moment(job.finish)}, {how}{beside}")
    if job.cylinder_bar is not None:
        enough = "" if job.cylinder_joins is None else f", enough for {job.cylinder_joins} joins"
        lines.append(f"cylinder: about {job.cylinder_bar:.0f} bar left{enough}")
    if job.last_event:
        lines.append(f"last recorded: {job.last_event}")
    return "\n".join([*lines, *(f"note: {note}" for note in job.notes)])


def _copy_cells(piece: CopyProgress) -> list[str]:
    counts = (piece.copy, piece.joins, piece.done, piece.left, piece.not_good, piece.later)
    return [
        piece.name,
        *map(str, counts),
        show_duration(piece.left_s) if piece.left else "–",
        _moment(piece.finish) if piece.finish else "yes",
    ]


def _person_cells(each: PersonProgress) -> list[str]:
    """Say where somebody is: at a station of a copy, there without one, or gone."""
    copy = f", copy {each.copy}" if each.copy else ""
    at = f"{each.piece}{copy}{f': {each.station}' if each.station else ''}" if each.piece else "–"
    if each.here is False:
        at = f"gone; was at {at}" if each.piece else "gone"
    pace = "–" if each.pace is None else f"{each.pace:.2f}"
    return [each.person, at, str(each.joins), str(each.second_tries), pace, each.since[:16]]


def _moment(moment: datetime.datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M")


def lesson_text(lesson: Lesson) -> str:
    """Say what was learnt: old value, new value, interval, count, and whether it is enough."""
    lines = [f"{lesson.record}: {lesson.events} events, intervals of {lesson.level:.0%}", ""]
    heads = ["figure", "old", "new", "from", "to", "n", "enough", "unit"]
    bench = [item for item in lesson.figures if not item.group]
    lines.append(table_text(heads, [_figure_cells(item, item.title) for item in bench]))
    for title in dict.fromkeys(item.title for item in lesson.figures if item.group):
        of = [item for item in lesson.figures if item.title == title and item.group]
        lines += ["", table_text([title, *heads[1:]], [_figure_cells(i, i.group) for i in of])]
    good = [item for item in lesson.settings if item.best]
    lines += [
        f"setting that worked: {s.metal} {s.wire_mm:g} mm at {s.power_j:g} J, {s.hits} hits, "
        f"{s.tip} tip: {s.yield_share:.1%} good at first try ({s.low:.1%} to {s.high:.1%}, "
        f"n = {s.tries})"
        for s in good
    ]
    return "\n".join([*lines, "", *(f"note: {note}" for note in lesson.notes)])


def _figure_cells(item: Learned, name: str) -> list[str]:
    return [
        name,
        *(_number(value) for value in (item.old, item.new, item.low, item.high)),
        str(item.n),
        "yes" if item.enough else "no",
        item.unit,
    ]


def _number(value: float | None) -> str:
    return "–" if value is None or not math.isfinite(value) else f"{value:.4g}"


def trace_text(traces: Sequence[JoinTrace]) -> str:
    """Say what became of joins: one in full, several as a table."""
    if len(traces) > 1:
        heads = ["piece", "copy", "ring", "state", "wire lot", "power", "hits", "person", "at",
                 "tries"]  # fmt: skip
        return table_text(heads, [_trace_cells(trace) for trace in traces])
    (trace,) = traces
    lines = [f"{trace.job}, {trace.piece}, copy {trace.copy}, ring {trace.ring}: {trace.state}"]
    lines.append(f"{trace.metal}, {trace.wire_mm:g} mm wire, lot {trace.lot or 'not recorded'}")
    if trace.power_j is not None:
        by = f" by {trace.person}" if trace.person else ""
        lines.append(
            f"welded at {trace.power_j:g} J, {trace.hits} hits, {trace.tip} tip{by}, {trace.at}"
        )
    lines += [f"checked: {check}" for check in trace.checks]
    lines += [
        f"  {line.at}  {line.kind}{f' by {line.person}' if line.person else ''}"
        f"{f': {line.note}' if line.note else ''}  ({line.source})"
        for line in trace.lines
    ]
    return "\n".join(lines)


def _trace_cells(trace: JoinTrace) -> list[str]:
    power = "–" if trace.power_j is None else f"{trace.power_j:g}"
    cells = (trace.copy, trace.ring, trace.state, trace.lot or "–", power, trace.hits or "–",
             trace.person or "–", trace.at or "–", trace.tries)  # fmt: skip
    return [trace.piece, *map(str, cells)]


def learnt_text(item: Learned) -> str:
    """Say one figure that was learnt: old, new, interval, and whether it is known well enough.

    Examples
    --------
    >>> from chainplan.model.workshop.record import Learned
    >>> learnt_text(Learned(key="k", title="clean one copy", unit="min", old=4.0, new=5.0, low=4.5,
    ...     high=5.5, n=8, groups=8, enough=True, basis=""))
    'clean one copy: 5 min (4.5 to 5.5, n = 8) instead of 4'
    """
    unit = f" {item.unit}" if item.unit else ""
    reach = f"n = {item.n}"
    if math.isfinite(item.low) and math.isfinite(item.high):
        reach = f"{_number(item.low)} to {_number(item.high)}, {reach}"
    old = f" instead of {_number(item.old)}" if item.old is not None else ""
    few = "" if item.enough else "; too few data to change it"
    return f"{item.title}: {_number(item.new)}{unit} ({reach}){old}{few}"


def review_text(review: Review) -> str:
    """Say how a job went against its plan."""
    lines = [f"{review.job}: {review.done} of {review.joins} joins done", ""]
    heads = ["what", "planned", "actual", "unit"]
    rows = [[r.what, _number(r.planned), _number(r.actual), r.unit] for r in review.lines]
    lines += [table_text(heads, rows), ""]
    lines += [f"wrong: {text}" for text in review.wrong]
    lines += [f"learnt: {learnt_text(item)}" for item in review.learnt]
    for sample in review.samples:
        lines.append(
            f"check {sample.size} of {sample.joins} joins of {sample.lot}, accept up to "
            f"{sample.accept} bad: {sample.good} good, {sample.bad} bad so far; {sample.verdict}"
        )
    return "\n".join(lines)
