"""The estimates as single figures, each with its range and what it was computed from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.estimate.figure import COMPUTED, figure_of
from chainplan.estimate.material.wire import bad_share
from chainplan.estimate.price.hallmark import check_hallmark
from chainplan.estimate.pulse.pulses import puff_l
from chainplan.estimate.stations import AT_THE_WELDER
from chainplan.model.kinds import CostKind
from chainplan.model.workshop.bench_log import STATIONS
from chainplan.reference.gas import OXYGEN_LEAST_PERCENT, smallest_room_m3

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.estimate.pulse.pulses import CylinderState
    from chainplan.estimate.take import Take
    from chainplan.model.estimate import CostLine, Figure, Quote, StationTime
    from chainplan.model.job import Job


def _hours(times: Sequence[StationTime], names: Sequence[str]) -> tuple[float, float, float]:
    own = [time for time in times if time.station in names]
    return (
        sum(time.low_min for time in own) / 60,
        sum(time.usual_min for time in own) / 60,
        sum(time.high_min for time in own) / 60,
    )


def _hours_new(times: Sequence[StationTime], job: Job) -> tuple[float, float, float]:
    """Hours of somebody who is new to the work: a range of times the usual ones."""
    usual = _hours(times, STATIONS)[1]
    low, high = job.bench.stations.new_least_share, job.bench.stations.new_most_share
    return usual * low, usual * (low + high) / 2, usual * max(low, high)


def _density_range(take: Take) -> tuple[float, float, float]:
    """Metal in all copies by the low, usual and high density of each metal, in g."""
    ends = [0.0, 0.0, 0.0]
    for need in take.wire:
        density = take.metals[need.metal].density_g_cm3
        for place, value in enumerate((density.low, density.usual, density.high)):
            ends[place] += need.mass_in_piece_g * value / density.usual
    return ends[0], ends[1], ends[2]


def piece_figures(take: Take, job: Job) -> tuple[Figure, ...]:
    """Figures of one piece, all copies.

    Parameters
    ----------
    take : Take
        What the piece takes.
    job : Job
        Bench and country.
    """
    counts, wire, pulses = take.counts, take.wire, take.pulses
    copies = counts.quantity
    settings = job.bench.wire
    used_g = sum(need.mass_used_g for need in wire)
    spare = sum(need.spare_rings for need in wire)
    welder = job.bench.welder
    puff = f"{puff_l(welder):.3f} L a pulse: {welder.flow_l_min:g} L/min over " + (
        f"{welder.pre_flow_s:g} + {welder.pulse_s:g} + {welder.post_flow_s:g} s"
    )
    found = [
        figure_of("rings", "rings", counts.rings * copies, "each", f"{counts.rings} × {copies}"),
        figure_of("joins", "joins", counts.joins * copies, "each", f"{counts.joins} × {copies}"),
        figure_of(
            "spare-rings",
            "spare rings",
            spare,
            "each",
            f"{bad_share(settings):.1%} of rings lost; chance of running short at most "
            f"{settings.short_risk:.1%} in the whole job",
        ),
        figure_of(
            "wire",
            "wire",
            sum(need.wire_length_m for need in wire),
            "m",
            f"π(ID + d) + {settings.kerf_mm:g} mm kerf a ring, {settings.coil_end_scrap_mm:g} mm "
            "lost at each coil",
        ),
        figure_of("mass", "metal in the piece", _density_range(take), "g", "volume × density"),
        figure_of("metal-used", "metal used", used_g, "g", "rings, spares, kerf and coil ends"),
        figure_of("scrap", "scrap", sum(need.scrap_g for need in wire), "g", "used − in the piece"),
        figure_of(
            "pulses",
            "pulses",
            (pulses.pulses_low, pulses.pulses, pulses.pulses_high),
            "each",
            f"hits of every join; no second tries, those expected with {settings.join_yield:.0%} "
            "of joins good at once, twice as many",
        ),
        figure_of(
            "argon",
            "argon",
            (pulses.gas_low_l, pulses.gas_l, pulses.gas_high_l),
            "l",
            f"{puff}, leak {welder.leak_l_h:g} L/h; at 15 °C and 1.01325 bar",
        ),
        figure_of(
            "tips",
            "electrode tips",
            pulses.tips,
            "each",
            f"{welder.pulses_per_regrind} pulses between regrinds, {welder.regrinds_per_tip} a tip",
        ),
        figure_of(
            "regrinds",
            "regrinds",
            pulses.regrinds,
            "each",
            f"one after {welder.pulses_per_regrind} pulses",
        ),
        figure_of(
            "regrind-time",
            "time to regrind",
            pulses.regrind_min,
            "min",
            f"{welder.regrind_min:g} min each, counted with welding",
        ),
        figure_of(
            "electricity", "electricity", pulses.electricity_kwh, "kWh", "pulses and idle power"
        ),
        figure_of(
            "welder-hours",
            "time at the welder",
            _hours(take.times, AT_THE_WELDER),
            "h",
            ", ".join(AT_THE_WELDER),
        ),
        figure_of("hours", "bench time", _hours(take.times, STATIONS), "h", "all stations"),
        figure_of(
            "hours-new",
            "bench time of a person new to it",
            _hours_new(take.times, job),
            "h",
            "all stations, at two to three times the usual minutes unless the bench says otherwise",
        ),
    ]
    finding = check_hallmark(take, job.bench.money.country)
    if finding.text:
        found.append(
            figure_of(
                "hallmark",
                "hallmarks",
                copies if finding.needed else 0,
                "each",
                finding.text,
                source=finding.source or COMPUTED,
            )
        )
    return tuple(found)


def batch_figures(
    takes: Sequence[Take], job: Job, cylinder: CylinderState, gas_a_join_l: float
) -> tuple[Figure, ...]:
    """Figures of the whole batch: hours, argon, cylinder."""
    welder = job.bench.welder
    times = [time for take in takes for time in take.times]
    pulses = [take.pulses for take in takes]
    gas = (
        sum(use.gas_low_l for use in pulses),
        sum(use.gas_l for use in pulses),
        sum(use.gas_high_l for use in pulses),
    )
    inside = (
        f"{welder.cylinder_l:g} L at {welder.cylinder_now_bar:g} bar on the gauge, argon as a real "
        "gas, CoolProp table"
    )
    drop = max(welder.cylinder_now_bar - cylinder.after_bar, 0.0)
    return (
        figure_of("hours", "bench time", _hours(times, STATIONS), "h", "all pieces, all stations"),
        figure_of("argon", "argon", gas, "l", "all pieces"),
        figure_of("cylinder-now", "argon in the cylinder now", cylinder.now_l, "l", inside),
        figure_of("cylinder-usable", "of which can be used", cylinder.usable_l, "l", inside),
        figure_of(
            "cylinder-share",
            "share of a full cylinder",
            cylinder.share_of_full,
            "1",
            f"down to {welder.cylinder_left_bar:g} bar",
        ),
        figure_of(
            "pressure-drop",
            "pressure drop",
            drop,
            "bar",
            "the cylinder does not last" if not cylinder.lasts else "from the gauge now",
        ),
        figure_of(
            "smallest-room",
            "smallest closed room for the cylinder",
            smallest_room_m3(cylinder.full_l),
            "m3",
            f"a full cylinder let out leaves {OXYGEN_LEAST_PERCENT} % oxygen, well mixed; argon "
            "gathers low, so air the room anyway",
        ),
        *_station_loads(times),
        figure_of(
            "joins-left",
            "joins that the cylinder is still good for",
            cylinder.joins_left,
            "each",
            f"{gas_a_join_l:.3f} L a join",
        ),
    )


def _station_loads(times: Sequence[StationTime]) -> list[Figure]:
    """Hours that the whole batch needs at each station."""
    return [
        figure_of(
            f"load-{station}", f"load: {station}", _hours(times, (station,)), "h", "all pieces"
        )
        for station in STATIONS
    ]


BY_HOURS = {CostKind.LABOUR, CostKind.WAGES, CostKind.OVERHEAD}
"""Costs that go with the hours at the stations."""


def cost_figure(quote: Quote, lines: Sequence[CostLine], job: Job) -> Figure:
    """Cost of one copy with its range: every time at its quick end, and every time at its slow end.

    Labour and overhead go with the hours; metal and supplies stay.
    """
    stations = job.bench.stations
    by_hours = sum(float(line.amount) for line in lines if line.item.kind in BY_HOURS)
    fixed = float(quote.cost) - by_hours
    low, usual, high = (
        (fixed + by_hours * share) / quote.quantity
        for share in (stations.quick_share, 1.0, stations.slow_share)
    )
    return figure_of(
        "cost-each",
        "cost of one copy",
        (low, usual, high),
        job.bench.money.currency,
        f"labour and overhead at {stations.quick_share:.0%} and {stations.slow_share:.0%} of the "
        "usual hours",
    )


def break_even_figure(quote: Quote, copies: int, currency: str) -> Figure:
    """Fewest copies at which the list price covers the cost."""
    return figure_of(
        "break-even",
        "copies from which the list price covers the cost",
        copies,
        "each",
        f"list price {quote.price_each} {currency} against cost each",
    )
