"""A cooling curve read at the bench, told to the program: what it says of the uncertain numbers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import Fault, InputError
from chainplan.public.jobs import choose_piece, lay_out, read_job
from chainplan.threads import one_thread

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.job.written.learned import Written
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.job import Job
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.calibration import Calibration, CoolingFit, FittedNumber, Readings
    from chainplan.model.workshop.record import Learned

LEAST_BEFORE = 3
"""Readings before the pulse that tell the room's temperature better than a number in a file."""
ROOM_DRIFT_K = 0.2
"""What a room's air may drift by while a curve is read. Judgement. [K]"""
FAR_OFF_K = 3.0
"""Scatter about the fitted curve beyond which something else than this model was measured."""


@one_thread
def calibrate(
    curve: str | Path,
    job: Job | str | Path,
    *,
    piece: str | None = None,
    pulse_j: float | None = None,
    loose_ring: bool = False,
    ring: int | None = None,
    thermometer: int | None = None,
    room_c: float | None = None,
    picture: str | Path | None = None,
) -> Calibration:
    """Fit arc share, exposure and links to a cooling curve measured on a piece or a ring of it.

    Parameters
    ----------
    curve : str or Path
        A CSV with ``time`` in seconds and ``temperature``. After a pulse the time counts from it;
        readings before it (below 0) tell the room's temperature.
    job : Job, str or Path
        The job, or its file: it says what the piece is made of.
    piece : str, optional
        Which piece; needed if the job has several.
    pulse_j : float, optional
        Power × hits set on the welder. Without it the whole piece was warmed evenly. [J]
    loose_ring : bool
        The pulse went into a ring like the piece's that hung alone.
    ring : int, optional
        The ring of the piece that got the pulse, from 1; the middle one if not given.
    thermometer : int, optional
        The ring with the thermometer, from 1; the one that got the pulse if not given.
    room_c : float, optional
        Room temperature; the job's if neither it nor readings before the pulse are there. [°C]
    picture : str or Path, optional
        Draw readings and fitted curve, as .png or .svg.

    Raises
    ------
    InputError
        If a file cannot be read, too few readings count, or what was warmed does not fit together.
    """
    from dataclasses import replace

    from chainplan.heat import (
        bench_of_loose_ring,
        bench_of_pulsed_ring,
        bench_of_warm_piece,
        fit_cooling,
        read_readings,
    )
    from chainplan.model.thermal.calibration import Calibration
    from chainplan.record.learning.intervals import LEVEL
    from chainplan.reference import find_metal

    _check(pulse_j, ring, thermometer, loose_ring=loose_ring)
    job = read_job(job) if isinstance(job, (str, Path)) else job
    chosen = choose_piece(job, piece)
    readings = read_readings(curve)
    (layout,) = lay_out(replace(job, pieces=(chosen,)))
    metals = {m.metal: find_metal(m.metal, own=job.metals) for m in layout.materials}
    settings = job.bench.heat
    welded = (layout.rings // 2 if ring is None else ring - 1) if pulse_j else -1
    read = welded if thermometer is None else thermometer - 1
    room, within_k = _room_c(readings, room_c, settings, pulse=pulse_j is not None)
    settings = replace(settings, room_c=room)
    section = 0
    if pulse_j is None:
        warmed, bench = "piece", bench_of_warm_piece(layout, metals=metals, settings=settings)
    elif loose_ring:
        warmed = "loose ring"
        bench = bench_of_loose_ring(layout, metals=metals, settings=settings, pulse_j=pulse_j)
    else:
        warmed = "ring"
        bench = bench_of_pulsed_ring(
            layout, metals=metals, settings=settings, pulse_j=pulse_j, ring=welded, read=read
        )
        section = int(layout.section[welded])
    fit = fit_cooling(readings, bench, room_c=room, room_within_k=within_k, level=LEVEL)
    figures, into = _figures(fit, warmed, readings, _Warmed(layout, metals, settings, section))
    found = Calibration(
        piece=chosen.name,
        warmed=warmed,
        ring=read + 1 if warmed == "ring" else 0,
        room_c=room,
        pulse_j=pulse_j or 0.0,
        level=LEVEL,
        readings=readings,
        fit=fit,
        figures=figures,
        settings=into,
        notes=tuple(_notes(fit, warmed, bench.settle_s)),
    )
    if picture is not None:
        from chainplan.report.charts.cooling import draw_cooling

        draw_cooling(found, picture)
    return found


def write_calibrated(calibration: Calibration, job: str | Path) -> Written:
    """Put what a cooling curve says into a job's bench settings, with its source.

    Parameters
    ----------
    calibration : Calibration
        As :func:`calibrate` returns it; only what it tells well enough is written.
    job : str or Path
        The job's workbook; a copy of it as it was is kept beside it.

    Raises
    ------
    InputError
        If the workbook is none or cannot be written.
    """
    from chainplan.job.written.learned import write_learned

    return write_learned(job, calibration.settings, ())


def _check(
    pulse_j: float | None, ring: int | None, thermometer: int | None, *, loose_ring: bool
) -> None:
    """Refuse what does not fit together."""
    faults = []
    if pulse_j is not None and not 0 < pulse_j <= 1e4:
        faults.append(Fault("pulse", f"is {pulse_j:g} J", "power × hits, above 0 J"))
    if pulse_j is None and loose_ring:
        faults.append(Fault("loose ring", "was warmed by no pulse", "say its energy: --pulse"))
    if (ring is not None or thermometer is not None) and (pulse_j is None or loose_ring):
        faults.append(
            Fault("ring", "is given though no ring of the piece got a pulse",
                  "leave it out, or say the pulse's energy: --pulse")
        )  # fmt: skip
    if faults:
        raise InputError(faults=faults)


def _room_c(
    readings: Readings, given_c: float | None, settings: HeatSettings, *, pulse: bool
) -> tuple[float, float]:
    """Take the room from the user, the readings before the pulse, or the job; its error. [K]."""
    from chainplan.heat import ROOM_WITHIN_K

    before = readings.temperature_c[readings.time_s < 0]
    if given_c is None and pulse and len(before) >= LEAST_BEFORE:
        error = float(before.std(ddof=1)) / len(before) ** 0.5
        return float(before.mean()), max(error, ROOM_DRIFT_K)
    return (settings.room_c if given_c is None else given_c), ROOM_WITHIN_K


class _Warmed:
    """What the figures are told against."""

    def __init__(
        self, layout: Layout, metals: dict[str, Metal], settings: HeatSettings, section: int
    ) -> None:
        self.layout, self.metals, self.settings = layout, metals, settings
        self.section = section


def _figures(
    fit: CoolingFit, warmed: str, readings: Readings, piece: _Warmed
) -> tuple[tuple[Learned, ...], tuple[Learned, ...]]:
    """Tell what was found against what the plan has now, and which settings it makes."""
    from dataclasses import replace

    from chainplan.heat import CALIBRATED_SPREAD, link_load_mn, ranges_of
    from chainplan.model.workshop.record import Learned

    now = ranges_of(piece.layout, piece.metals, piece.settings, piece.section)
    figures: list[Learned] = []
    into: list[Learned] = []

    def tell(
        title: str, value: FittedNumber, old: float, keys: tuple[str, ...], news: tuple[float, ...],
        *, enough: bool, unit: str = "",
    ) -> None:  # fmt: skip
        told = Learned(
            key="", title=title, unit=unit, old=old, new=value.usual, low=value.low,
            high=value.high, n=int(fit.used.sum()), groups=1, enough=enough,
            basis=f"cooling curve {readings.file}",
        )  # fmt: skip
        figures.append(told)
        if enough:
            for key, new in zip(keys, news, strict=True):
                into.append(replace(told, key=f"heat.{key}", old=None, new=new, unit=""))

    if fit.arc_share is not None:
        share = fit.arc_share
        narrow = share.high / share.low < now.arc_share.high / now.arc_share.low
        tell(
            "share of the set energy that stays in the ring", share, now.arc_share.usual,
            ("arc_share_low", "arc_share_usual", "arc_share_high"),
            (share.low, share.usual, min(share.high, 1.0)),
            enough=narrow and share.usual <= 1,
        )  # fmt: skip
    lone = warmed == "loose ring"
    wide = max(fit.exposure.high / fit.exposure.usual, fit.exposure.usual / fit.exposure.low) - 1
    tell(
        "loss of the ring alone over the model's" if lone else "exposure to the air",
        fit.exposure, 1.0 if lone else now.exposure.usual,
        () if lone else ("exposure",), () if lone else (fit.exposure.usual,),
        enough=wide <= CALIBRATED_SPREAD,
    )  # fmt: skip
    if fit.link_w_k is not None:
        link = fit.link_w_k
        load = link_load_mn(piece.layout, piece.metals, piece.section, link.usual)
        ends = {"low": piece.settings.link_load_low_mn, "high": piece.settings.link_load_high_mn}
        # One ring of a hanging piece says what its links carry there; elsewhere, and under a pull,
        # they carry less or more, so the range stays as far as it can.
        moved = [name for name, end in ends.items() if (load < end) == (name == "low")]
        keys = ("link_load_usual_mn", *(f"link_load_{name}_mn" for name in moved))
        tell(
            "conductance of a link", _in_mw(link), now.link_w_k.usual * 1e3, keys,
            (load,) * len(keys), unit="mW/K",
            enough=link.high / link.low < now.link_w_k.high / now.link_w_k.low,
        )  # fmt: skip
    return tuple(figures), tuple(into)


def _in_mw(value: FittedNumber) -> FittedNumber:
    from chainplan.model.thermal.calibration import FittedNumber

    return FittedNumber(usual=value.usual * 1e3, low=value.low * 1e3, high=value.high * 1e3)


def _notes(fit: CoolingFit, warmed: str, settle_s: float) -> Iterator[str]:
    if warmed != "piece":
        yield f"readings of the first {settle_s:.0f} s are left out: the ring was still evening out"
    if fit.arc_share is not None and fit.arc_share.usual > 1:
        yield (
            "more heat than the welder was set to: see whether the time counts from the pulse, and "
            "whether the thermometer reads hot water right"
        )
    if fit.link_w_k is not None:
        yield (
            "of the force between linked rings the usual one is measured; low and high stay, since "
            "links carry less elsewhere and more under a pull"
        )
    if fit.likeness > 0:
        yield "neighbouring readings err alike, so the intervals are told wider"
    if fit.residual_k > FAR_OFF_K:
        yield (
            f"the readings stray {fit.residual_k:.1f} K from the curve: a draught, a loose "
            "thermometer or something warm nearby; measure again"
        )
