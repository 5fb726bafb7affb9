"""What stands by while joins are welded near it: how near they are, and what its rings do to it."""

from __future__ import annotations

from chainplan.frozen import frozen


@frozen
class SpotTemperature:
    """A part in one run of welds: as a whole, and where a ring touches it. [°C]."""

    body_usual_c: float
    body_high_c: float
    spot_usual_c: float  # the same as the whole where it conducts like the rings
    spot_high_c: float
    ring_usual_c: float  # the ring itself, at its own weld
    ring_high_c: float


@frozen
class StandBy:
    """One part or fitting that is there while its piece is welded."""

    name: str
    kind: str  # key in the parts table, "own", or "" where heat does not matter
    limit_c: float | None
    conductivity_w_m_k: float | None  # None: conducts like the rings, so the spot is no matter
    fitting: bool
    touching: tuple[int, ...]  # rings that touch it and are welded in place, from 0
    nearest_mm: float  # from the nearest join that is welded in place
    nearest_ring: int
    joins_near: int  # within the distance of the bench setting beforehand_distance_mm
    planned: SpotTemperature | None = None  # in the planned order
    set_last: SpotTemperature | None = None  # its own rings alone, each from cold
    largest_share: float = 0.0  # of the ring's rise that the touching spot takes, at the bad end
