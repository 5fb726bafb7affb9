"""Uncertain numbers measured: the heat model's own curve fitted to a cooling curve.

Three ways of warming, one fit. A piece that is warm all over cools by the air alone. A ring that
hangs alone and gets one pulse of known energy tells the arc's share by its first readings. A ring
of a piece that gets one pulse loses its heat to its neighbours first and to the air later, which
tells all three apart.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.errors import InputError
from chainplan.frozen import frozen
from chainplan.heat.following.modes import find_modes, shift_modes
from chainplan.heat.hot_zone import diffusivity_m2_s
from chainplan.heat.network import (
    CORNERS,
    corner_network,
    piece_heat,
    ring_capacity_j_k,
    ring_surface_mm2,
)
from chainplan.model.metal import Value
from chainplan.model.thermal.calibration import CoolingFit, FittedNumber
from chainplan.model.thermal.heat import HeatNetwork

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.calibration import Readings

    Curve = Callable[[FloatArray], FloatArray]

LEAST_OVER_K = 5.0
"""Readings nearer to the room say more of the room's drift than of the piece. Judgement. [K]"""
MODEL_SHARE = 0.05
"""No interval is narrower than this either way: the air's film is one number in the model, and
changes by about as much over the range of a curve. Judgement (no unit)."""
ROOM_WITHIN_K = 0.5
"""Standard error of a room's temperature read once. Judgement: a room thermometer's. [K]"""
PULSE_SHARE = 0.10
"""The same of the arc's share: one curve is one pulse, and pulses of one setting differ by about as
much with the arc's length and the tip's wear. Judgement (no unit)."""
_LEAST_SETTLE_S = 1.0  # judgement: a thin thermocouple takes about a second to follow
_USED_LEAST = 5  # readings that count, for two or three numbers and their scatter
_MOST_RINGS = 400  # of a sheet all within 13 links; 3 min after a pulse nothing is left beyond
_MOST_READINGS = 2000  # a logger's thousands a second are averaged: the curve has few bends


@frozen
class CoolingBench:
    """What was warmed, and what the model takes it for before anything is fitted."""

    network: HeatNetwork  # usual numbers, exposure 1, heats as set on the welder
    source: int  # node that got the pulse
    read: int  # node that the thermometer is on
    settle_s: float  # readings before that are left out
    link_w_k: float  # one link of the section at the usual load; 0 if none matters
    pulse: bool


def bench_of_warm_piece(
    layout: Layout, *, metals: Mapping[str, Metal], settings: HeatSettings, section: int = 0
) -> CoolingBench:
    """Describe a piece that was warmed evenly: nothing flows, so one ring stands for all."""
    ring = layout.sections[section].first_ring
    return _alone(layout, metals, settings, ring, set_j=1.0, pulse=False)


def bench_of_loose_ring(
    layout: Layout,
    *,
    metals: Mapping[str, Metal],
    settings: HeatSettings,
    pulse_j: float,
    section: int = 0,
) -> CoolingBench:
    """Describe a ring like the piece's own that hangs alone and got one pulse. [J]."""
    ring = layout.sections[section].first_ring
    return _alone(layout, metals, settings, ring, set_j=pulse_j, pulse=True)


def _alone(
    layout: Layout,
    metals: Mapping[str, Metal],
    settings: HeatSettings,
    ring: int,
    *,
    set_j: float,
    pulse: bool,
) -> CoolingBench:
    section = int(layout.section[ring])
    heat = piece_heat(layout, metals=metals, settings=replace(settings, exposure=1.0))
    loss_w_k = heat.film_w_m2_k[section].usual * float(ring_surface_mm2(layout)[ring]) * 1e-6
    network = HeatNetwork(
        corner="measured",
        capacity_j_k=ring_capacity_j_k(layout, metals)[[ring]],
        pairs=np.zeros((0, 2), dtype=np.int32),
        pair_w_k=np.zeros(0),
        loss_w_k=np.array([loss_w_k]),
        sink_w_k=np.zeros(1),
        sink_c=np.full(1, settings.room_c),
        ambient_c=settings.room_c,
        base_c=np.full(1, settings.room_c),
        join_heat_j=np.array([set_j]),
    )
    settle_s = _settle_s(layout, metals, ring) if pulse else 0.0
    return CoolingBench(
        network=network, source=0, read=0, settle_s=settle_s, link_w_k=0.0, pulse=pulse
    )


def bench_of_pulsed_ring(
    layout: Layout,
    *,
    metals: Mapping[str, Metal],
    settings: HeatSettings,
    pulse_j: float,
    ring: int,
    read: int,
) -> CoolingBench:
    """Describe a ring of a piece that got one pulse, and the ring that the thermometer is on.

    Of a large piece only the rings near the welded one are kept: heat that reaches further than
    that within a few minutes is too little to read.

    Parameters
    ----------
    layout, metals, settings
        As for :func:`chainplan.heat.build_heat_model`.
    pulse_j : float
        Power × hits set on the welder. [J]
    ring, read : int
        Ring that was welded, and ring with the thermometer.

    Raises
    ------
    InputError
        If a ring is not on the piece, or the two are too far apart.
    """
    for number in (ring, read):
        if not 0 <= number < layout.rings:
            message = f"ring {number + 1} is not on this piece; rings 1 to {layout.rings} are"
            raise InputError(message)
    heat = piece_heat(layout, metals=metals, settings=replace(settings, exposure=1.0))
    whole = corner_network(
        CORNERS[1], heat, np.full(layout.rings, pulse_j), replace(settings, arc_share_usual=1.0)
    )
    kept = _nearest(whole, ring)
    place = np.full(layout.rings, -1, dtype=np.int32)
    place[kept] = np.arange(len(kept))
    if place[read] < 0:
        message = (
            f"ring {read + 1} is too far from ring {ring + 1} for its heat to be read there; put "
            "the thermometer on the welded ring or one beside it"
        )
        raise InputError(message)
    inside = (place[whole.pairs] >= 0).all(axis=1)
    network = replace(
        whole,
        corner="measured",
        capacity_j_k=whole.capacity_j_k[kept],
        pairs=place[whole.pairs[inside]],
        pair_w_k=whole.pair_w_k[inside],
        loss_w_k=whole.loss_w_k[kept],
        sink_w_k=whole.sink_w_k[kept],
        sink_c=whole.sink_c[kept],
        base_c=whole.base_c[kept],
        join_heat_j=whole.join_heat_j[kept],
    )
    return CoolingBench(
        network=network,
        source=int(place[ring]),
        read=int(place[read]),
        settle_s=_settle_s(layout, metals, ring),
        link_w_k=heat.link_w_k[int(layout.section[ring])].usual,
        pulse=True,
    )


@frozen
class Ranges:
    """What the model takes a section's uncertain numbers for."""

    arc_share: Value
    exposure: Value
    link_w_k: Value


def ranges_of(
    layout: Layout, metals: Mapping[str, Metal], settings: HeatSettings, section: int
) -> Ranges:
    """Say what a plan takes the numbers for that a cooling curve measures."""
    heat = piece_heat(layout, metals=metals, settings=settings)
    return Ranges(
        arc_share=Value(
            low=settings.arc_share_low,
            usual=settings.arc_share_usual,
            high=settings.arc_share_high,
            unit="",
            source="bench settings",
        ),
        exposure=heat.exposure[section],
        link_w_k=heat.link_w_k[section],
    )


def _settle_s(layout: Layout, metals: Mapping[str, Metal], ring: int) -> float:
    """Time until a welded ring is of one temperature to a tenth of its rise. [s]."""
    metal = metals[layout.materials[int(layout.material[ring])].metal]
    around_m = 2e-3 * math.pi * float(layout.mean_radius_mm[ring])
    spread_s = around_m**2 / (4 * math.pi**2 * diffusivity_m2_s(metal))
    return max(3 * spread_s, _LEAST_SETTLE_S)


def _nearest(network: HeatNetwork, ring: int) -> IntArray:
    """Rings within the fewest links of one, about as many as a patch of kernels has."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    nodes = len(network.capacity_j_k)
    first, second = network.pairs.T
    graph = coo_matrix((np.ones(len(first)), (first, second)), shape=(nodes, nodes)).tocsr()
    steps = dijkstra(graph, directed=False, indices=ring, unweighted=True)
    order = np.argsort(steps, kind="stable")[:_MOST_RINGS]
    kept: IntArray = np.sort(order[np.isfinite(steps[order])]).astype(np.int32)
    return kept


def fit_cooling(
    readings: Readings,
    bench: CoolingBench,
    *,
    room_c: float,
    room_within_k: float = ROOM_WITHIN_K,
    level: float = 0.9,
    floors: bool = True,
) -> CoolingFit:
    """Fit exposure, and after a pulse the arc's share and the links, to a cooling curve.

    Parameters
    ----------
    readings : Readings
        After a pulse their time counts from it; readings before it are left out.
    bench : CoolingBench
        What was warmed.
    room_c : float
        Room temperature. [°C]
    room_within_k : float
        Standard error of that number: the room is fitted with the rest, held to it so far. [K]
    level : float
        Of the intervals.
    floors : bool
        Tell no interval narrower than ``MODEL_SHARE`` or ``PULSE_SHARE``; False: by chance alone.

    Raises
    ------
    InputError
        If too few readings count, or the piece did not cool.

    Notes
    -----
    Least squares in the logarithms of the numbers (scipy's ``least_squares``), errors taken as
    equal for all readings; intervals by Student's t from the covariance at the best fit. Errors
    that resemble their neighbours by a lag-one correlation ρ > 0 widen them by √((1 + ρ)/(1 − ρ)),
    so that a logger's smoothing does not pass for exactness.
    """
    counts = _counting(readings, bench, room_c)
    time_s, over_k = readings.time_s[counts], readings.temperature_c[counts] - room_c
    time_s, over_k = _averaged(time_s, over_k)
    if not bench.pulse and np.polyfit(time_s, over_k, 1)[0] >= 0:
        message = f"{readings.file}: the piece did not cool; check the order of the readings"
        raise InputError(message)
    curve, starts = _curve_of(bench, time_s, over_k)
    found = _least_squares(curve, starts, time_s, over_k, room_within_k)
    numbers_fitted = len(found.x) - 1  # the last is the room
    left = found.fun[:-1]
    free = max(len(time_s) - numbers_fitted, 1)
    alike = _likeness(left)
    from scipy.special import stdtrit

    scatter = float(found.fun @ found.fun) / free * (1 + alike) / (1 - alike)
    spread = np.sqrt(np.diag(np.linalg.pinv(found.jac.T @ found.jac)) * scatter)
    reach = float(stdtrit(free, 0.5 + level / 2)) * spread
    numbers = [
        FittedNumber(
            usual=float(np.exp(middle)),
            low=float(np.exp(middle) * min(np.exp(-half), 1 - least)),
            high=float(np.exp(middle) * max(math.exp(min(half, 50.0)), 1 + least)),
        )
        for middle, half, least in zip(
            found.x[:-1],
            reach[:-1],
            (PULSE_SHARE, MODEL_SHARE, MODEL_SHARE) if floors else (0.0,) * 3,
            strict=False,
        )
    ]
    whole = np.where(
        readings.time_s >= (0.0 if bench.pulse else -np.inf),
        curve(found.x[:-1], np.maximum(readings.time_s, 1e-3 if bench.pulse else -np.inf)),
        np.nan,
    )
    linked = len(numbers) > 2
    return CoolingFit(
        exposure=numbers[1],
        arc_share=numbers[0] if bench.pulse else None,
        link_w_k=_scaled(numbers[2], bench.link_w_k) if linked else None,
        fitted_c=whole + room_c + float(found.x[-1]),
        used=counts,
        residual_k=float(np.sqrt(np.mean(left**2))),
        likeness=alike,
    )


def _scaled(value: FittedNumber, factor: float) -> FittedNumber:
    return FittedNumber(
        usual=value.usual * factor, low=value.low * factor, high=value.high * factor
    )


def _counting(readings: Readings, bench: CoolingBench, room_c: float) -> BoolArray:
    """Say which readings count."""
    over = readings.temperature_c - room_c
    if bench.pulse:
        counts = readings.time_s >= bench.settle_s
        warm = counts & (over >= LEAST_OVER_K)
        needed = f"{bench.settle_s:.0f} s or more after the pulse and "
    else:
        counts = warm = over >= LEAST_OVER_K
        needed = ""
    if np.count_nonzero(warm) < _USED_LEAST or np.ptp(readings.time_s[counts]) <= 0:
        message = (
            f"{readings.file}: {np.count_nonzero(warm)} readings {needed}at {LEAST_OVER_K:g} K or "
            f"more over the room ({room_c:g} °C); at least {_USED_LEAST} are needed"
        )
        raise InputError(message)
    return counts


def _averaged(time_s: FloatArray, over_k: FloatArray) -> tuple[FloatArray, FloatArray]:
    group = -(-len(time_s) // _MOST_READINGS)
    if group == 1:
        return time_s, over_k
    starts = np.arange(0, len(time_s), group)
    count = np.diff(np.append(starts, len(time_s)))
    return np.add.reduceat(time_s, starts) / count, np.add.reduceat(over_k, starts) / count


def _curve_of(bench: CoolingBench, time_s: FloatArray, over_k: FloatArray) -> Any:
    """Curve over logarithms of (share or rise, exposure, factor of the links), and its starts."""
    network = bench.network
    if network.pair_w_k.size == 0:
        rate = float(network.loss_w_k[0] / network.capacity_j_k[0])
        per_share = float(network.join_heat_j[0] / network.capacity_j_k[0]) if bench.pulse else 1.0
        begin = 0.0 if bench.pulse else float(time_s[0])

        def single(logs: FloatArray, at_s: FloatArray) -> FloatArray:
            rise: FloatArray = per_share * np.exp(
                logs[0] - math.exp(logs[1]) * rate * (at_s - begin)
            )
            return rise

        return single, [np.log([max(over_k[0], 1.0) / per_share, 0.5])]
    known = find_modes(network)

    def through_links(logs: FloatArray, at_s: FloatArray) -> FloatArray:
        other = replace(
            network,
            loss_w_k=network.loss_w_k * math.exp(logs[1]),
            pair_w_k=network.pair_w_k * math.exp(logs[2]),
        )
        modes = shift_modes(network, known, other) or find_modes(other)
        per_joule = modes.rise_per_joule(bench.read, bench.source, at_s)
        rise: FloatArray = math.exp(logs[0]) * network.join_heat_j[bench.source] * per_joule
        return rise

    return through_links, [np.log([0.6, 0.6, factor]) for factor in (0.3, 1.0, 3.0)]


def _least_squares(
    curve: Any, starts: list[FloatArray], time_s: FloatArray, over_k: FloatArray, room_k: float
) -> Any:
    """Fit the logarithms and, last, what the room was off; the last residual holds it to 0. [K].

    Held to the room as a reading is to the curve: an error of ``room_k`` weighs as much as one of
    the readings' own scatter, which the first pass finds with the room held fast.
    """
    from scipy.optimize import least_squares

    def misses(numbers: FloatArray, weight: float) -> FloatArray:
        missed = curve(numbers[:-1], time_s) + numbers[-1] - over_k
        return np.append(missed, weight * numbers[-1])

    found: Any = None
    weight = 1e6
    for again in (False, True):
        tried = [found.x] if again else [np.append(start, 0.0) for start in starts]
        fits = [
            least_squares(misses, start, args=(weight,), bounds=(-7.0, 7.0), x_scale="jac")
            for start in tried
        ]
        found = min(fits, key=lambda one: float(one.cost))
        free = max(len(time_s) - len(found.x) + 1, 1)
        weight = max(math.sqrt(2 * float(found.cost) / free), 1e-9) / room_k
    return found


def _likeness(left: FloatArray) -> float:
    """Lag-one correlation of the errors, if above what chance makes of independent ones."""
    total = float(left @ left)
    if len(left) < 4 or total <= 0:
        return 0.0
    alike = float(left[1:] @ left[:-1]) / total
    return min(alike, 0.98) if alike > 1 / math.sqrt(len(left)) else 0.0
