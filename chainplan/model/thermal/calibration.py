"""What one cooling curve, read at the bench, says of a piece's uncertain numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.frozen import frozen

if TYPE_CHECKING:
    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.model.workshop.record import Learned

WARMED = ("piece", "ring", "loose ring")
"""What was warmed: the piece evenly, one ring of it by a pulse, or a ring that hangs alone."""


@frozen
class Readings:
    """Temperatures as a thermometer told them, in order of time."""

    file: str
    time_s: FloatArray  # (k,)
    temperature_c: FloatArray  # (k,)


@frozen
class FittedNumber:
    """One number of a fit with its interval."""

    usual: float
    low: float
    high: float


@frozen
class CoolingFit:
    """A curve of the heat model through readings."""

    exposure: FittedNumber  # share of a lone ring's loss to the air
    arc_share: FittedNumber | None  # None where the whole piece was warmed
    link_w_k: FittedNumber | None  # conductance of one link; None where no link matters
    fitted_c: FloatArray  # (k,) at each reading
    used: BoolArray  # (k,) whether the reading counts
    residual_k: float  # root mean square of the readings that count
    likeness: float  # of neighbouring errors: 0 none, 1 all alike; intervals are wider for it


@frozen
class Calibration:
    """What a cooling curve says, and the bench settings that it gives."""

    piece: str
    warmed: str  # one of WARMED
    ring: int  # that the thermometer was on, from 1; 0: any
    room_c: float
    pulse_j: float  # set on the welder; 0 if no pulse warmed it
    level: float  # of the intervals
    readings: Readings
    fit: CoolingFit
    figures: tuple[Learned, ...]  # as they are told
    settings: tuple[Learned, ...]  # as they go into the bench settings
    notes: tuple[str, ...]
