"""What the pulses of a piece use: argon, electrode tips and electricity."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.reference.gas import (
    STANDARD_PRESSURE_BAR,
    contents_l,
    pressure_of_contents_bar,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.bench import Bench
    from chainplan.model.bench.groups import WelderSettings
    from chainplan.model.estimate import PieceCounts

KWH_IN_J = 3.6e6  # definition


@frozen
class PulseUse:
    """Pulses of all copies and what they use; low, usual and high differ by rework."""

    pulses_low: float
    pulses: float
    pulses_high: float
    gas_l: float  # at 15 °C and 1.01325 bar, leak included
    gas_low_l: float
    gas_high_l: float
    tips: float  # electrodes ground away
    regrinds: int
    regrind_min: float
    electricity_kwh: float


def puff_l(welder: WelderSettings) -> float:
    """Argon of one pulse: flow × (pre-flow + pulse + post-flow), in litres at standard state.

    Examples
    --------
    >>> from chainplan.model.bench.groups import WelderSettings
    >>> round(puff_l(WelderSettings(pulse_s=0.02, pre_flow_s=0.5, post_flow_s=1.0)), 6)
    0.101333
    """
    seconds = welder.pre_flow_s + welder.pulse_s + welder.post_flow_s
    return welder.flow_l_min * seconds / 60


def extra_tries(join_yield: float) -> float:
    """Return the expected further tries a join, each with the same chance of success (no unit)."""
    return 1 / join_yield - 1


def use_of_pulses(counts: PieceCounts, bench: Bench) -> PulseUse:
    """Say what welding all copies of a piece uses.

    Notes
    -----
    Each join takes its hits and the smoothing pulses; a bad one is welded again until it is good.
    The low figure has no rework, the high one twice the expected. The cylinder is taken to be open
    during the welding time, so the leak runs that long.
    """
    welder = bench.welder
    first, energy_j = 0.0, 0.0
    for group in counts.groups:
        joins = (group.joins_in_place + group.joins_beforehand) * counts.quantity
        first += joins * (group.hits + welder.smoothing_hits)
        energy_j += joins * group.hits * group.power_j
    again = extra_tries(bench.wire.join_yield)
    low, usual, high = first, first * (1 + again), first * (1 + 2 * again)
    hours = counts.weld_s * counts.quantity / 3600
    leak_l = hours * welder.leak_l_h
    regrinds = math.ceil(usual / welder.pulses_per_regrind - 1e-9)
    mains_j = energy_j * (1 + again) / welder.mains_share + welder.idle_w * hours * 3600
    return PulseUse(
        pulses_low=low,
        pulses=usual,
        pulses_high=high,
        gas_l=usual * puff_l(welder) + leak_l,
        gas_low_l=low * puff_l(welder),
        gas_high_l=high * puff_l(welder) + 2 * leak_l,
        tips=usual / (welder.pulses_per_regrind * welder.regrinds_per_tip),
        regrinds=regrinds,
        regrind_min=regrinds * welder.regrind_min,
        electricity_kwh=mains_j / KWH_IN_J,
    )


@frozen
class CylinderState:
    """What is in the cylinder and how far it goes."""

    full_l: float
    now_l: float
    usable_l: float  # down to the pressure at which it is changed
    after_bar: float  # gauge pressure when the work is done; 0 if it does not last
    share_of_full: float  # of a full cylinder that the work takes
    joins_left: int
    lasts: bool
    cylinders: int  # full ones to buy so that the work can be done


def read_cylinder(needed_l: float, gas_a_join_l: float, bench: Bench) -> CylinderState:
    """Work out the cylinder from its gauge pressure, with the gas as it really is.

    Parameters
    ----------
    needed_l : float
        Argon for the work, at 15 °C and 1.01325 bar. [L]
    gas_a_join_l : float
        Argon for one more join. [L]
    bench : Bench
        Cylinder, gauge pressures and room temperature. The filling pressure counts at 15 °C, the
        present one at room temperature.
    """
    welder = bench.welder
    room_c = min(max(bench.heat.room_c, -10.0), 40.0)
    capacity = welder.cylinder_l

    def inside_l(gauge_bar: float, temperature_c: float) -> float:
        return contents_l(capacity, gauge_bar + STANDARD_PRESSURE_BAR, temperature_c)

    full_l = inside_l(welder.cylinder_full_bar, 15.0)
    now_l = inside_l(welder.cylinder_now_bar, room_c)
    left_l = inside_l(welder.cylinder_left_bar, room_c)
    usable_l = max(now_l - left_l, 0.0)
    after_l = now_l - needed_l
    lasts = needed_l <= usable_l
    after_bar = 0.0
    if lasts:
        after_bar = pressure_of_contents_bar(capacity, after_l, room_c) - STANDARD_PRESSURE_BAR
    fresh_l = max(full_l - left_l, 1e-9)
    return CylinderState(
        full_l=full_l,
        now_l=now_l,
        usable_l=usable_l,
        after_bar=max(after_bar, 0.0),
        share_of_full=needed_l / fresh_l,
        joins_left=math.floor(usable_l / gas_a_join_l) if gas_a_join_l > 0 else 0,
        lasts=lasts,
        cylinders=0 if lasts else math.ceil((needed_l - usable_l) / fresh_l),
    )


def gas_of_a_join_l(counts: Sequence[PieceCounts], bench: Bench) -> float:
    """Mean argon for a join of the job, rework included, in litres at standard state."""
    joins = sum(c.joins * c.quantity for c in counts)
    pulses = sum(use_of_pulses(c, bench).pulses for c in counts)
    return pulses / joins * puff_l(bench.welder) if joins else puff_l(bench.welder)
