"""What a whole job comes to before any weld order is searched."""

from __future__ import annotations

from decimal import Decimal

from chainplan.frozen import frozen


@frozen
class QuotedPiece:
    """One piece of a quoted job; all numbers but the quantity are of one copy."""

    piece: str
    quantity: int
    weaves: tuple[str, ...]
    metals: tuple[str, ...]
    rings: int = 0
    joins: int = 0
    length_mm: float = 0.0
    mass_g: float = 0.0  # metal in the rings
    wire_m: float = 0.0  # with the saw's cut, coil ends and spare rings; 0 from finished rings
    weld_min: float = 0.0  # without waits
    bench_h: float = 0.0  # of all stations, one copy of the batch, by a practised hand
    new_least_h: float = 0.0  # by somebody new to the work
    new_most_h: float = 0.0
    cost: Decimal = Decimal(0)
    price: Decimal = Decimal(0)  # before tax
    price_with_tax: Decimal = Decimal(0)
    missing: tuple[str, ...] = ()  # what has no price, so that cost and price are without it
    reason: str = ""  # why it cannot be made; all numbers are 0 then


@frozen
class JobQuote:
    """All pieces of a job with their sums over all copies."""

    job: str
    currency: str
    pieces: tuple[QuotedPiece, ...]
    copies: int
    rings: int
    joins: int
    mass_g: float
    wire_m: float
    bench_h: float
    new_least_h: float
    new_most_h: float
    cost: Decimal
    price: Decimal
    price_with_tax: Decimal
    basis: str  # what the time at the welder rests on
    warnings: tuple[str, ...] = ()
