"""The quick answer: how many rings of this size make this length of this weave."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from chainplan.frozen import frozen
from chainplan.model.piece.layout import Layout, SectionLayout

if TYPE_CHECKING:
    from decimal import Decimal

    from chainplan.model.piece.weave import Weave


@frozen
class MadeFrom:
    """What a stretch that was made as long as wire, metal or money allow takes in all."""

    limit: str  # what there is, as it was given
    wire_length_m: float  # with spare rings, the saw's cut and coil ends
    mass_used_g: float  # of that wire
    spare_rings: int
    price_with_tax: Decimal | None  # None: the job gives the metal no price
    currency: str = ""


@frozen
class LyingCount:
    """The same strip or sheet, asked for alike, lying in another way."""

    lies: str
    rings: int
    repeats: int
    length_mm: float
    longer_mm: float  # with one repeat more
    width_mm: float


@frozen
class MetalCount:
    """What the rings of one metal count and weigh in a section of several; one copy."""

    metal: str  # key
    temper: str
    rings: int
    mass_g: float
    wire_length_m: float  # wire in the rings


@frozen
class Count(SectionLayout):
    """A laid-out section with its metal: what its rings weigh and the wire they take; one copy.

    ``rings`` is 0 where the joins are those of something else than rings.
    """

    mandrel_mm: float | None = None
    ring_mass_g: float
    mass_g: float  # metal in the rings
    wire_length_m: float  # wire in the rings: π(ID + d) each
    wire_with_kerf_m: float  # the same with the metal that the saw takes
    metals: tuple[MetalCount, ...] = ()  # of a design, the section's own first; () for one metal
    layout: Layout | None = None
    lying_otherwise: tuple[LyingCount, ...] = ()  # of strips and sheets that are solved quickly
    made_from: MadeFrom | None = None  # where a length was asked for by what there is

    @classmethod
    def of(cls, laid: SectionLayout, **more: Any) -> Count:
        """Make a count of a laid-out section; ``more`` comes before what the section says."""
        own = {item.name: getattr(laid, item.name) for item in fields(laid)}
        return cls(**(own | more))

    @property
    def smallest_aspect_ratio(self) -> float:
        """Smallest aspect ratio that goes into the weave; 0 without a weave (no unit)."""
        return self.limits.smallest_aspect_ratio if self.limits else 0.0

    @property
    def verdict(self) -> str:
        """How the ring suits the weave, in a word; "" without a weave."""
        return self.limits.verdict if self.limits else ""

    @property
    def looseness(self) -> float:
        """How far the weave can be pushed together; 0 without a weave (no unit)."""
        return self.limits.looseness if self.limits else 0.0

    @property
    def reasons(self) -> tuple[str, ...]:
        """What is behind the verdict."""
        return self.limits.reasons if self.limits else ()

    @property
    def suitable_inner_mm(self) -> tuple[float, ...]:
        """Inner diameters near the ring's own that suit the weave."""
        return self.limits.suitable_inner_mm if self.limits else ()


@frozen
class WeaveDescription:
    """A weave, its limits, and what a ring of the user's makes of it."""

    weave: Weave
    smallest_aspect_ratio: float
    count: Count | None = None  # of a length of ten repeats or so, if a ring was given
    layout: Layout | None = None
