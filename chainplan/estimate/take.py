"""Everything that one piece, all copies, takes from workshop and shelf; money is counted on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.estimate.counts import count_from_table
from chainplan.estimate.material.wire import needs_of, risk_of_each
from chainplan.estimate.pulse.pulses import PulseUse, use_of_pulses
from chainplan.estimate.stations import station_times
from chainplan.frozen import frozen
from chainplan.reference import find_metal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.estimate import PieceCounts, StationTime, WireNeed
    from chainplan.model.job import Job, Piece
    from chainplan.model.metal import Metal
    from chainplan.model.piece.count import Count


@frozen
class Take:
    """What one piece takes, all copies."""

    counts: PieceCounts
    metals: dict[str, Metal]
    wire: tuple[WireNeed, ...]
    pulses: PulseUse
    times: tuple[StationTime, ...]


def metals_of(counts: PieceCounts, job: Job) -> dict[str, Metal]:
    """Return the metals of a piece by the key that its groups use, in order of appearance."""
    return {group.metal: find_metal(group.metal, job.metals) for group in counts.groups}


def take_of(
    counts: PieceCounts,
    job: Job,
    *,
    lines: int = 1,
    weld_share: float = 1.0,
    used: dict[int, int] | None = None,
) -> Take:
    """Work out what a piece takes.

    Parameters
    ----------
    counts : PieceCounts
        The piece.
    job : Job
        Bench, shelf and the user's metals.
    lines : int
        Ring groups in the whole job: they share the accepted risk of running short.
    weld_share : float
        Welding time of the interleaved batch over that of its pieces one after another. [-]
    used : dict, optional
        Finished rings already taken from the shelf by earlier pieces; kept up to date.
    """
    metals = metals_of(counts, job)
    wire = needs_of(
        counts.groups,
        counts.quantity,
        metals,
        job,
        piece=counts.piece,
        risk=risk_of_each(job.bench.wire.short_risk, lines),
        used={} if used is None else used,
    )
    pulses = use_of_pulses(counts, job.bench)
    times = station_times(counts, wire, pulses, job.bench, weld_share=weld_share)
    return Take(counts=counts, metals=metals, wire=wire, pulses=pulses, times=times)


def take_counted(job: Job, piece: Piece, counted: Sequence[Count]) -> Take:
    """Work out what a piece takes from the quick answer for each of its sections."""
    return take_of(count_from_table(job, piece, counted), job)
