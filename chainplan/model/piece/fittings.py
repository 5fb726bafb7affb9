"""Fittings: what belongs to a piece and is no ring of its weave, and where it stands on it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from chainplan.errors import InputError, Refusal, quote
from chainplan.frozen import frozen
from chainplan.units import read_length_mm

if TYPE_CHECKING:
    from decimal import Decimal

CONNECTING = "connecting-rings"
"""The weave key of rings in a row that connect sections or carry a fitting."""


class FittingKind(StrEnum):
    """What a fitting is."""

    CLASP = "clasp"
    END_RING = "end ring"
    CENTREPIECE = "centrepiece"
    PENDANT = "pendant"
    CHARM = "charm"
    BAIL = "bail"
    EAR_WIRE = "ear wire"
    EAR_POST = "ear post"
    SETTING = "stone setting"
    TAG = "tag"
    OTHER = "other"
    EXTRA = "extra"  # no thing on the piece but a price: engraving, a gift box


METAL_EYES = frozenset({
    FittingKind.CLASP, FittingKind.END_RING, FittingKind.BAIL, FittingKind.EAR_WIRE,
    FittingKind.EAR_POST, FittingKind.SETTING, FittingKind.TAG,
})  # fmt: skip
"""Kinds whose rings touch metal; those of a centrepiece or charm may touch the stone."""


class Fitted(StrEnum):
    """When a fitting comes onto its piece."""

    BEFORE = "before welding"
    AFTER = "after welding"


class Spot(StrEnum):
    """In which way a place on a piece is told."""

    START = "start"
    END = "end"
    MIDDLE = "middle"
    BETWEEN = "between"
    FROM_START = "from start"
    FROM_END = "from end"
    RING = "ring"


@dataclass(frozen=True, slots=True)
class FittingPlace:
    """Where a fitting stands."""

    spot: Spot
    number: int = 0  # BETWEEN: the section before it; RING: the ring; both from 1
    away_mm: float = 0.0  # FROM_START, FROM_END

    @property
    def in_line(self) -> bool:
        """Whether the fitting lengthens the piece, and does not hang on it."""
        return self.spot in {Spot.START, Spot.END, Spot.BETWEEN}

    def __str__(self) -> str:
        """Write the place as a job file holds it."""
        if self.spot == Spot.BETWEEN:
            return f"between {self.number} and {self.number + 1}"
        if self.spot == Spot.RING:
            return f"ring {self.number}"
        if self.spot in {Spot.FROM_START, Spot.FROM_END}:
            return f"{self.away_mm:.10g} mm {self.spot}"
        return str(self.spot)


PLACES = "start, end, middle, between 1 and 2, 120 mm from start, ring 12"
"""How a place may be told."""


def read_place(text: str) -> FittingPlace:
    """Read where a fitting stands.

    Raises
    ------
    InputError
        If it is none of the ways in which a place is told.

    Examples
    --------
    >>> str(read_place("Between 1 and 2")), str(read_place("3 cm from end")), read_place("end").spot
    ('between 1 and 2', '30 mm from end', <Spot.END: 'end'>)
    """
    words = " ".join(text.casefold().replace("sections", " ").split())
    if words in {Spot.START, Spot.END, Spot.MIDDLE}:
        return FittingPlace(Spot(words))
    between = re.fullmatch(r"between (\d{1,6}) and (\d{1,6})", words)
    if between and int(between[2]) == int(between[1]) + 1 and int(between[1]) > 0:
        return FittingPlace(Spot.BETWEEN, number=int(between[1]))
    ring = re.fullmatch(r"(?:on )?ring (\d{1,9})", words)
    if ring and int(ring[1]) > 0:
        return FittingPlace(Spot.RING, number=int(ring[1]))
    away = re.fullmatch(r"(?:at )?(.+?) from (?:the )?(start|end)", words)
    if away:
        return FittingPlace(Spot(f"from {away[2]}"), away_mm=read_length_mm(away[1]))
    raise InputError(Refusal("is no place on a piece", f"write it like {PLACES}", quote(text)))


@frozen
class Fitting:
    """What belongs to a piece and is no ring of the weave: clasp, stone, charm …; or an extra."""

    piece: str
    name: str  # what the user calls it
    kind: FittingKind
    place: str = ""  # as ``Place`` writes it; "" for an extra
    length_mm: float = 0.0  # from where one connecting ring pulls to where the next does
    rings: int = 1  # connecting rings in a row, at each side on which it hangs on the piece
    wire_mm: float | None = None  # of its connecting rings; None: as in the section beside it
    inner_mm: float | None = None
    metal: str | None = None
    mass_g: float | None = None  # None: not known
    price: Decimal | None = None  # None: not known
    delivery_days: int | None = None  # weekdays; None: as all that is bought; 0: at hand
    heat_kind: str = ""  # key in the parts table, "own", or "" where heat does not matter
    limit_c: float | None = None
    conductivity_w_m_k: float | None = None  # None: as its heat kind
    source: str = ""  # of the limit
    fitted: Fitted = Fitted.BEFORE
    notes: str = ""

    @property
    def spot(self) -> FittingPlace | None:
        """Where it stands; ``None`` for an extra."""
        return read_place(self.place) if self.place else None

    @property
    def in_line(self) -> bool:
        """Whether it lengthens the piece."""
        place = self.spot
        return place is not None and place.in_line

    @property
    def warms(self) -> bool:
        """Whether it is there while joins are welded and has a temperature not to be passed."""
        return self.limit_c is not None and self.fitted == Fitted.BEFORE

    @property
    def has_metal_eye(self) -> bool:
        """Whether its rings touch metal; of a centrepiece or charm they may touch the stone."""
        return self.kind in METAL_EYES

    @property
    def sides(self) -> int:
        """Sides on which it hangs on the piece: two between sections, else one; an extra none."""
        place = self.spot
        if place is None:
            return 0
        return 2 if place.spot == Spot.BETWEEN else 1
