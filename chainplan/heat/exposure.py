"""How much of its loss to still air a ring keeps inside a weave, and how to measure that."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError
from chainplan.model.kinds import Form
from chainplan.model.metal import Value

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.model.layout import Layout

_STRIP_ROWS = 8  # judgement: an inner row has fewer than four to the open edge on either side
_SINGLE_CHAIN_LINKS = 2.3  # a single chain has 2 links a ring, the next denser weave 3 or more


@cache
def _exposure_table() -> dict[str, Value]:
    path = Path(__file__).with_name("exposure.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return {
            row["build"]: Value(
                low=float(row["low"]),
                usual=float(row["usual"]),
                high=float(row["high"]),
                unit="",
                source=row["source"],
            )
            for row in csv.DictReader(file)
        }


def build_of_section(form: Form, rows: int, links_per_ring: float) -> str:
    """Name how densely a section is built: chain, dense chain, strip or sheet.

    Examples
    --------
    >>> build_of_section("chain", 1, 2.0), build_of_section("chain", 1, 4.0)
    ('chain', 'dense chain')
    >>> build_of_section("sheet", 5, 3.6), build_of_section("sheet", 40, 3.9)
    ('strip', 'sheet')
    """
    if form in (Form.SHEET, Form.STRIP):
        return "sheet" if rows > _STRIP_ROWS else "strip"
    return "dense chain" if links_per_ring > _SINGLE_CHAIN_LINKS else "chain"


def exposure_of_section(form: Form, rows: int, links_per_ring: float) -> Value:
    """Exposure factor of a section's rings: share of an isolated ring's loss to air (no unit).

    A factor on the film coefficient of a single wire. It is the least known number of the model:
    the defaults are judgement between a free ring (1) and a plate that is as warm all over (about
    0.15 for 1 mm wire with 4.5 mm inner diameter). Measure it with :func:`calibrate_exposure`.
    """
    return _exposure_table()[build_of_section(form, rows, links_per_ring)]


def links_per_ring(layout: Layout, section: int) -> float:
    """Mean number of links of a ring of one section (no unit)."""
    here = layout.section == section
    return float(layout.degree[here].mean()) if here.any() else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureFit:
    """An exposure factor measured from one cooling curve."""

    exposure: float
    low: float  # two standard errors of the fit, no less than 5 % either way
    high: float
    time_constant_s: float
    residual_k: float  # rms of the fitted curve against the readings
    readings: int


def calibrate_exposure(
    time_s: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    *,
    room_c: float,
    capacity_j_k: float,
    isolated_loss_w_k: float,
) -> ExposureFit:
    """Find the exposure factor from one measured cooling curve of a uniformly warm piece.

    Warm the whole piece evenly (hot water, then dried; or an oven), hang it up, read its
    temperature every few seconds while it cools by itself. With the whole piece at one temperature
    nothing flows between rings, so ``T − T_room`` falls as ``exp(−φ·H·t/C)`` whatever the links do.

    Parameters
    ----------
    time_s, temperature_c : array_like
        Readings, at least three, at least 5 K over the room. [s], [°C]
    room_c : float
        Room temperature. [°C]
    capacity_j_k : float
        Heat capacity of one ring. [J/K]
    isolated_loss_w_k : float
        Loss of the same ring alone: film coefficient × surface. [W/K]

    Raises
    ------
    InputError
        If there are too few readings over the room, or the piece did not cool.

    Examples
    --------
    >>> times = np.array([0.0, 30.0, 60.0, 90.0])
    >>> curve = 20 + 50 * np.exp(-0.4 * 1.63e-3 * times / 0.0344)
    >>> fit = calibrate_exposure(
    ...     times, curve, room_c=20, capacity_j_k=0.0344, isolated_loss_w_k=1.63e-3
    ... )
    >>> round(fit.exposure, 3)
    0.4
    """
    times = np.asarray(time_s, dtype=np.float64)
    over = np.asarray(temperature_c, dtype=np.float64) - room_c
    if times.shape != over.shape or times.ndim != 1:
        message = "cooling curve: times and temperatures differ in number; give one each a reading"
        raise InputError(message)
    if not (np.isfinite(times).all() and np.isfinite(over).all()):
        message = "cooling curve: a reading is not a number; leave bad readings out"
        raise InputError(message)
    used = over >= 5.0
    if np.count_nonzero(used) < 3 or np.ptp(times[used]) <= 0:
        message = (
            f"cooling curve: {np.count_nonzero(used)} readings at 5 K or more over the room "
            f"({room_c:g} °C); at least three at different times are needed"
        )
        raise InputError(message)
    times, over = times[used], over[used]
    # ln θ = a − t/τ; a reading's error in ln θ is its error over θ, so it is weighted by θ².
    weight = over**2
    centre = np.average(times, weights=weight)
    logs = np.log(over)
    spread = np.sum(weight * (times - centre) ** 2)
    slope = float(np.sum(weight * (times - centre) * logs) / spread)
    if slope >= 0:
        message = "cooling curve: the piece did not cool; check the order of the readings"
        raise InputError(message)
    fitted = np.exp(np.average(logs, weights=weight) + slope * (times - centre))
    freedom = max(len(times) - 2, 1)
    error = np.sqrt(np.sum((over - fitted) ** 2) / freedom / spread)
    exposure = -slope * capacity_j_k / isolated_loss_w_k
    margin = exposure * max(2 * float(error) / -slope, 0.05)
    return ExposureFit(
        exposure=exposure,
        low=exposure - margin,
        high=exposure + margin,
        time_constant_s=-1 / slope,
        residual_k=float(np.sqrt(np.mean((over - fitted) ** 2))),
        readings=len(times),
    )
