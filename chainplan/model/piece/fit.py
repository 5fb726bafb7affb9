"""Which rings suit a weave, and which of them the shelf gives."""

from __future__ import annotations

from chainplan.frozen import frozen


@frozen
class FitRing:
    """One ring in a weave: what it is wound on, how it feels, what a centimetre takes."""

    inner_mm: float
    mandrel_mm: float | None  # None: rings at hand, or nothing is known of the wire's springback
    in_stock: bool  # the mandrel, or finished rings of that size, lie on the shelf
    aspect_ratio: float
    verdict: str
    rings_per_cm: float
    mass_g_per_cm: float
    width_mm: float


@frozen
class Feel:
    """A word for how rings suit a weave, and the inner diameter from which it holds."""

    word: str
    from_inner_mm: float  # up to where the next begins


@frozen
class Fit:
    """The rings of one wire that a weave takes, those from the shelf first."""

    weave: str
    title: str
    wire_mm: float
    metal: str
    temper: str
    rows: int
    smallest_aspect_ratio: float
    least_inner_mm: float
    feels: tuple[Feel, ...]  # all that the weave has in this wire, the tightest first
    feel: str  # the only verdict that was asked for; "" for all
    rings: tuple[FitRing, ...]


@frozen
class ShelfRing:
    """A piece made with what lies on the shelf; one copy."""

    weave: str
    metal: str
    wire_mm: float
    inner_mm: float
    mandrel_mm: float | None  # None: the rings lie on the shelf finished
    verdict: str = ""
    rings: int = 0
    length_mm: float = 0.0
    mass_g: float = 0.0
    needed_m: float = 0.0  # wire, with spare rings, the saw's cut and coil ends
    at_hand_m: float
    rings_at_hand: int
    enough: bool = False  # for one copy
    reason: str = ""  # why it cannot be made, or what is missing


@frozen
class Shelf:
    """What the shelf gives for one piece, the best first."""

    piece: str
    wanted: str  # the ring that the job asks for, in words
    rings: tuple[ShelfRing, ...]
