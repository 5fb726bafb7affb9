"""Time at each station of the workshop: low, usual and high."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chainplan.estimate.learning import mean_share
from chainplan.estimate.pulse.pulses import extra_tries
from chainplan.model.estimate import StationTime
from chainplan.model.workshop.bench_log import STATIONS
from chainplan.model.workshop.schedule import FITTING, LAST_FITTING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.estimate.pulse.pulses import PulseUse
    from chainplan.model.bench import Bench
    from chainplan.model.estimate import PieceCounts, WireNeed

AT_THE_WELDER = ("pre-close", "set up", "weld", "rework")


def station_times(
    counts: PieceCounts,
    wire: Sequence[WireNeed],
    pulses: PulseUse,
    bench: Bench,
    *,
    weld_share: float = 1.0,
) -> tuple[StationTime, ...]:
    """Time of one piece, all copies, at every station, in minutes.

    Parameters
    ----------
    counts, wire, pulses : PieceCounts, sequence of WireNeed, PulseUse
        What there is to do.
    bench : Bench
        The user's own times.
    weld_share : float
        Welding time of the interleaved batch over that of the pieces one after another. [-]

    Notes
    -----
    Weaving follows the weave: seconds a ring and seconds a link, so a dense weave takes longer;
    the mean over the copies falls by Wright's curve. Welding is the weld order's own time.
    """
    settings, pace, copies = bench.stations, bench.pace, counts.quantity
    cut = sum(need.rings + need.spare_rings - need.rings_from_stock for need in wire)
    coils = sum(need.coils for need in wire)
    loads = math.ceil(cut / settings.tumble_rings)
    woven = [group for group in counts.groups if group.links > 0]
    weave_s = sum(
        group.rings * settings.weave_ring_s + group.links * settings.weave_link_s for group in woven
    )
    learned = mean_share(copies, settings.learning_percent)
    before_s = sum(
        group.joins_beforehand * (pace.handle_s + (group.hits - 1) * pace.extra_hit_s)
        for group in counts.groups
    )
    groove_s = sum(
        (group.joins_in_place + group.joins_beforehand) * group.filler_s for group in counts.groups
    )
    joins = counts.joins * copies
    again = joins * extra_tries(bench.wire.join_yield)
    weld_min = copies * (counts.weld_s * weld_share + groove_s) / 60 + pulses.regrind_min
    made = _count(copies, "copy", "copies")
    fitted = {
        station: copies * sum(one.station == station for one in counts.fittings)
        for station in (FITTING, LAST_FITTING)
    }
    found = {
        "coil": (coils * settings.coil_min, f"{_count(coils, 'coil')} × {settings.coil_min:g} min"),
        "cut": (cut * settings.cut_s / 60, f"{_count(cut, 'ring')} × {settings.cut_s:g} s"),
        "tumble": (
            loads * settings.tumble_min,
            f"{_count(loads, 'load')} of up to {settings.tumble_rings} rings",
        ),
        "pre-close": (before_s * copies / 60, "joins closed before weaving, at the welder's pace"),
        "weave": (
            weave_s * copies * learned / 60,
            f"{settings.weave_ring_s:g} s a ring and {settings.weave_link_s:g} s a link"
            + (f", {learned:.0%} of it by learning over {made}" if copies > 1 else ""),
        ),
        **{
            station: (
                number * settings.fitting_min,
                f"{_count(number, 'fitting')} × {settings.fitting_min:g} min",
            )
            for station, number in fitted.items()
        },
        "set up": (settings.set_up_min, "scrap trials, gas, tip"),
        "weld": (
            weld_min,
            f"weld order {counts.weld_s / 60:.1f} min a copy, "
            + _count(pulses.regrinds, "regrind"),
        ),
        "rework": (
            again * settings.rework_s / 60,
            f"{again:.1f} second tries expected at a yield of {bench.wire.join_yield:.0%}",
        ),
        "clean": (copies * settings.clean_min, f"{made} × {settings.clean_min:g} min"),
        "inspect": (
            joins * settings.inspect_s / 60,
            f"{_count(joins, 'join')} × {settings.inspect_s:g} s",
        ),
        "finish": (copies * settings.finish_min, f"{made} × {settings.finish_min:g} min"),
    }
    for station, each in counts.minutes:
        found[station] = (copies * each, f"as the job says, {each:g} min a copy")
    return tuple(
        StationTime(
            piece=counts.piece,
            station=station,
            low_min=found[station][0] * settings.quick_share,
            usual_min=found[station][0],
            high_min=found[station][0] * settings.slow_share,
            new_least_min=found[station][0] * settings.new_least_share,
            new_most_min=found[station][0] * settings.new_most_share,
            basis=found[station][1],
        )
        for station in STATIONS
    )


def _count(number: int, one: str, many: str = "") -> str:
    """Write a number with its noun."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def hours_of(times: Sequence[StationTime], stations: Sequence[str] = STATIONS) -> float:
    """Sum of the usual times at some stations, in hours."""
    return sum(time.usual_min for time in times if time.station in stations) / 60
