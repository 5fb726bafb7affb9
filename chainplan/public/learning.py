"""What the record of all jobs teaches, and how it gets into a job."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

from chainplan.public.calibrating import ROOM_DRIFT_K
from chainplan.public.recording import record_path
from chainplan.threads import one_thread

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from chainplan.job.written.learned import Written
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.calibration import FittedNumber
    from chainplan.model.workshop.record import Learned, Lesson
    from chainplan.record.learning.cooling import CoolingCurve


@one_thread
def learn(*, record: str | Path | None = None, picture: str | Path | None = None) -> Lesson:
    """Learn pace, yield, gas, cooling and more from the record of all jobs, with intervals.

    Parameters
    ----------
    record : str or Path, optional
        The record; in ``output`` if not given.
    picture : str or Path, optional
        Draw the figures against the values that the jobs had, as .png or .svg.

    Raises
    ------
    InputError
        If there is no record, or the picture cannot be written.
    """
    from chainplan.record.kept.lineage import known_plan, plan_keys
    from chainplan.record.kept.store import Record
    from chainplan.record.learning.cooling import cooling_curves
    from chainplan.record.learning.learn import learn_from

    with Record(record_path(record=record), read_only=True) as book:
        lesson = learn_from(book)
        plans = {key: known_plan(book, key) for key in plan_keys(book)}
        curves, short = cooling_curves(book, plans)
    lesson = with_exposure(lesson, curves, short)
    if picture is not None:
        from chainplan.report.charts.compared import draw_lesson

        draw_lesson(lesson, picture)
    return lesson


def write_learned(lesson: Lesson, job: str | Path, *, only: Sequence[str] = ()) -> Written:
    """Put what was learnt into a job's own sheets, with "measured, n = …" as its source.

    Parameters
    ----------
    lesson : Lesson
        As :func:`learn` returns it.
    job : str or Path
        The job's workbook; a copy of it as it was is kept beside it.
    only : sequence of str
        Keys of the figures to take, such as ``pace.handle_s``; ``recorded`` for the settings that
        worked. All that have enough data if empty.

    Raises
    ------
    InputError
        If a key is not among the figures, or the workbook is none.
    """
    from chainplan.errors import InputError, did_you_mean
    from chainplan.job.written.learned import INNER, RINGS_PER_CM
    from chainplan.job.written.learned import write_learned as write

    places = {item.key for item in lesson.figures if "." in item.key}
    known = sorted({*places, "recorded"})
    for key in only:
        if key not in known:
            message = f"nothing was learnt about {key!r}; {did_you_mean(key, known)}"
            raise InputError(message)
    chosen = [
        item
        for item in lesson.figures
        if item.key in places
        and (item.key in only if only else item.enough)
        and (not item.group or item.key in (RINGS_PER_CM, INNER))
    ]
    settings = [item for item in lesson.settings if item.best and (not only or "recorded" in only)]
    return write(job, chosen, settings)


def with_exposure(lesson: Lesson, curves: Sequence[CoolingCurve], short: int) -> Lesson:
    """Add what cooling curves say of the exposure to the air, piece by piece.

    Parameters
    ----------
    lesson : Lesson
        All else.
    curves : sequence of CoolingCurve
        As the record has them.
    short : int
        Curves with too few readings.
    """
    from chainplan.errors import InputError
    from chainplan.record.learning.cooling import LEAST_READINGS

    fits: dict[tuple[str, str], list[tuple[FittedNumber, float | None, int]]] = {}
    notes = list(lesson.notes)
    for curve in curves:
        section = curve.piece.sections[0]
        made_of = f"{section.weave}, {section.metal} {section.wire_mm:g} mm"
        try:
            fit = _fit(curve, lesson.level)
        except InputError as error:
            notes.append(f"cooling curve {curve.readings.file}: {error}")
            continue
        fits.setdefault((curve.piece.name, made_of), []).append(fit)
    if short:
        notes.append(f"{short} cooling curves have fewer than {LEAST_READINGS} readings")
    several = len({made_of for _, made_of in fits}) > 1
    figures = tuple(
        _exposure(name, made_of if several else "", fitted)
        for (name, made_of), fitted in fits.items()
    )
    return replace(lesson, figures=(*lesson.figures, *figures), notes=tuple(notes))


def _fit(curve: CoolingCurve, level: float) -> tuple[FittedNumber, float | None, int]:
    """Fit one curve: exposure, what the plan had, and the readings that count."""
    from chainplan.heat import ROOM_WITHIN_K, bench_of_warm_piece, fit_cooling, ranges_of

    layout, metals, settings, laid = _laid(curve)
    room_c = settings.room_c if curve.room_c is None else curve.room_c
    settings = replace(settings, room_c=room_c)
    bench = bench_of_warm_piece(layout, metals=metals, settings=settings)
    within_k = ROOM_WITHIN_K if curve.room_c is None else ROOM_DRIFT_K
    fit = fit_cooling(curve.readings, bench, room_c=room_c, room_within_k=within_k, level=level)
    old = ranges_of(layout, metals, settings, 0).exposure.usual if laid else None
    return fit.exposure, old, int(fit.used.sum())


def _laid(curve: CoolingCurve) -> tuple[Layout, dict[str, Metal], HeatSettings, bool]:
    """Lay the piece's first section again, or a ring of it alone where it is no chain.

    A piece that is warm all over cools like one of its rings; its weave is needed only for the
    exposure that the plan took.
    """
    from chainplan.errors import ChainplanError
    from chainplan.model.bench import Bench
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.job import Job, Piece, Section
    from chainplan.public.jobs import lay_out
    from chainplan.reference import find_metal

    given = {
        item.name: curve.plan.bench[f"heat.{item.name}"]
        for item in fields(HeatSettings)
        if f"heat.{item.name}" in curve.plan.bench
    }
    settings, known = HeatSettings(**given), curve.piece.sections[0]
    metals = {known.metal: find_metal(known.metal, own={})}

    def lay(weave: str, rings: int) -> Layout:
        section = Section(
            weave=weave, metal=known.metal, wire_mm=known.wire_mm, inner_mm=known.inner_mm,
            rings=rings,
        )  # fmt: skip
        piece = Piece(name=curve.piece.name, quantity=1, sections=(section,))
        (layout,) = lay_out(Job(name="measured", pieces=(piece,), bench=Bench()))
        return layout

    try:
        return lay(known.weave, known.rings), metals, settings, True
    except ChainplanError:
        return lay("loose-joins", 1), metals, settings, False


def _exposure(
    name: str, group: str, found: Sequence[tuple[FittedNumber, float | None, int]]
) -> Learned:
    """Put the curves of one piece together, in logarithms; what differs from day to day counts."""
    import numpy as np
    from scipy.special import stdtrit

    from chainplan.heat import CALIBRATED_SPREAD
    from chainplan.model.workshop.record import Learned
    from chainplan.record.learning.intervals import LEVEL

    logs = np.log([[fit.low, fit.usual, fit.high] for fit, _, _ in found])
    count = len(found)
    reach = float(((logs[:, 2] - logs[:, 0]) / 2).mean()) / count**0.5
    if count > 1:
        spread = float(logs[:, 1].std(ddof=1)) / count**0.5
        reach = max(reach, float(stdtrit(count - 1, 0.5 + LEVEL / 2)) * spread)
    middle = float(logs[:, 1].mean())
    new, low, high = (float(np.exp(middle + step * reach)) for step in (0, -1, 1))
    curves = "1 cooling curve" if count == 1 else f"{count} cooling curves"
    return Learned(
        key="heat.exposure", title="exposure to the air", unit="", old=found[0][1], new=new,
        low=low, high=high, n=sum(n for *_, n in found), groups=count,
        enough=max(high / new, new / low) - 1 <= CALIBRATED_SPREAD,
        basis=f"{curves} of {name}, warm all over", group=group,
    )  # fmt: skip
