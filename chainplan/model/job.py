"""What the user asks for: pieces, bench, prices, stock, heat-sensitive parts, checked and in mm."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.model.kinds import GradeWay, Lying, PreClosing, Rounding, StockKind, Tip

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping
    from decimal import Decimal

    from chainplan.model.bench import Bench
    from chainplan.model.metal import MeasuredRing, Metal
    from chainplan.model.piece.design import Design
    from chainplan.model.piece.fittings import Fitting
    from chainplan.model.workshop.machines import Machine
    from chainplan.model.workshop.schedule import Person

LOOSE_JOINS = "loose-joins"
"""The weave key of joins that belong to no weave: pendant rings, earring posts …"""


@frozen
class Section:
    """A stretch of a piece in one weave, ring and metal; by length or by ring count."""

    weave: str
    metal: str
    wire_mm: float
    inner_mm: float  # after springback, whether the user gave it or a mandrel
    mandrel_mm: float | None = None  # as the user gave it
    temper: str = "annealed"
    second_wire_mm: float | None = None  # weaves of two ring sizes
    second_inner_mm: float | None = None
    length_mm: float | None = None
    rings: int | None = None
    rows: int | None = None
    lies: Lying | None = None  # of strips and sheets; None: as such a piece is usually measured
    measured_rings_per_cm: float | None = None
    design: Design | None = None  # which rings are of other metals
    grade_inner_mm: float | None = None  # graduated: ring at the other end, or in the middle
    grade_wire_mm: float | None = None
    grade_way: GradeWay | None = None
    design_tempers: tuple[tuple[str, str], ...] = ()  # metal to temper, of the design's metals
    graded: int = 0  # a step of a graduated stretch: which of the piece, counted from 1
    made_of_rings: bool = True  # False: joins of something else, such as earring posts
    fitting: int | None = None  # connecting rings of that fitting of the piece
    where: str = field(default="", compare=False)  # place of inner or mandrel, for messages

    @property
    def aspect_ratio(self) -> float:
        """Inner diameter over wire diameter (no unit)."""
        return self.inner_mm / self.wire_mm


@frozen
class FittingStand:
    """Where a fitting stands in space, in the frame of its piece's layout."""

    rings: tuple[int, ...]  # that it touches, from 0
    from_mm: tuple[float, float, float]
    to_mm: tuple[float, float, float]
    of_metal: bool = False  # its eye: rings touch metal, which spreads what they give


@frozen
class HeatSensitivePart:
    """A stone, spring, glue line … at a place on a piece, with a temperature it must not exceed."""

    piece: str
    name: str  # what the user calls it
    kind: str  # key in the parts table, or "own"
    limit_c: float
    conductivity_w_m_k: float | None = None  # None: as its kind
    place_mm: float  # along the piece from its start; negative never: "end" is resolved later
    from_end: bool = False  # place_mm counts back from the end
    row: int | None = None  # 1-based row in a sheet
    length_mm: float = 0.0  # how much of the piece it covers
    sink_w_k: float = 0.0  # a copper clip between it and the joins, if any
    source: str = ""
    stand: FittingStand | None = None  # of a fitting, whose place the layout gives


@frozen
class Piece:
    """One row of the spreadsheet (or several: its sections)."""

    name: str
    quantity: int
    sections: tuple[Section, ...]
    clasp_length_mm: float = 0.0
    closed: bool = False
    rounding: Rounding = Rounding.NEAREST
    closing_way: PreClosing = PreClosing.IN_PLACE
    parts: tuple[HeatSensitivePart, ...] = ()
    fittings: tuple[Fitting, ...] = ()
    due: datetime.date | None = None
    late_weight: float = 1.0  # what a day late counts (no unit)
    list_price: Decimal | None = None
    customer: str = ""
    minutes: str = ""  # of one copy at stations, as ``read_minutes`` reads them
    notes: str = ""
    where: str = ""  # sheet and row, for messages


@frozen
class Price:
    """A price with its unit and date, such as metal per g, argon per litre or a tip each."""

    item: str  # metal key, "argon", "electrode tip", "wire premium <metal>", …
    price: Decimal
    per: str  # "g", "kg", "ozt", "l", "each", "m", "hour", "kWh", "cylinder"
    date: datetime.date | None = None
    note: str = ""


@frozen
class StockItem:
    """Something on the shelf: wire, a mandrel, saw blades, finished rings."""

    kind: StockKind
    metal: str = ""
    temper: str = ""
    size_mm: float = 0.0  # wire or mandrel diameter
    inner_mm: float = 0.0  # rings only
    amount: float = 0.0  # metres of wire, else pieces
    pack: float = 0.0  # how it is sold: metres or pieces a pack; 0 = any amount
    note: str = ""


@frozen
class RecordedSetting:
    """A welder setting that the user recorded as good for a metal and wire."""

    metal: str
    wire_mm: float
    power_j: float
    hits: int = 1
    tip: Tip = Tip.SHARP
    note: str = ""


@frozen
class Job:
    """Everything a plan is made from. Made by ``read_job`` only, so it has been checked."""

    name: str  # safe as a folder name
    pieces: tuple[Piece, ...]
    bench: Bench
    prices: tuple[Price, ...] = ()
    stock: tuple[StockItem, ...] = ()
    recorded: tuple[RecordedSetting, ...] = ()
    measured_rings: tuple[MeasuredRing, ...] = ()
    metals: Mapping[str, Metal] = field(default_factory=dict)  # the user's own, by key
    designs: tuple[Design, ...] = ()
    people: tuple[Person, ...] = ()  # none: so many as the bench says, with its hours
    machines: tuple[Machine, ...] = ()  # one welder and one tumbler beside those of other stations
    start_date: datetime.date | None = None  # first working day; None: no calendar dates
    input_sha256: str = ""
    warnings: tuple[str, ...] = ()
    file: str = field(default="", compare=False)  # where it was read from, as it was named
