"""Kinds that are one of a few words: in files, tables and JSON each is the text that it equals."""

from __future__ import annotations

from enum import StrEnum


class Form(StrEnum):
    """What a weave or a section of a piece is as a whole."""

    CHAIN = "chain"
    STRIP = "strip"
    SHEET = "sheet"
    LOOSE = "loose"  # joins that belong to no weave
    CONNECTING = "connecting"  # rings in a row between sections or at a fitting
    UNTOLD = ""  # of a name that nobody looked up


class Rounding(StrEnum):
    """How a length is rounded to whole repeats."""

    NEAREST = "nearest"
    AT_LEAST = "at least"
    AT_MOST = "at most"


class Lying(StrEnum):
    """How a strip or sheet lies when it is measured: its rows run along the length."""

    ALONG = "pulled along"
    ACROSS = "pulled across"
    FLAT = "laid flat"


class DesignRule(StrEnum):
    """How a rule of a design says which rings it means."""

    PLACES = "place in repeat"
    LIST = "list along"
    PARTS = "part"
    ROWS = "rows"
    COLUMNS = "columns"
    BORDER = "border"
    CHECK = "check"
    GRID = "grid"
    PICTURE = "picture"


class GradeWay(StrEnum):
    """How a graduated stretch goes on from its first ring."""

    THROUGH = "to the other end"
    BACK = "to the middle and back"


class DesignLaid(StrEnum):
    """How a grid or picture that is smaller than the piece lies on it."""

    ONCE = "once in the middle"
    AGAIN = "again and again"


class PreClosing(StrEnum):
    """Which rings are welded shut before weaving."""

    IN_PLACE = "all in place"
    MANY = "as many as possible beforehand"
    NEEDED = "only where needed beforehand"


class StockKind(StrEnum):
    """What lies on the shelf."""

    WIRE = "wire"
    MANDREL = "mandrel"
    BLADE = "blade"
    RINGS = "rings"


class ReturnLead(StrEnum):
    """How the pulse's current goes back to the welder."""

    TWEEZERS = "tweezers"  # earthed, they grip the ring that is welded
    CLIP = "clip"  # on a ring nearby, moved along
    BLOCK = "block"  # of metal, under the whole piece


class Tip(StrEnum):
    """How the electrode is ground."""

    SHARP = "sharp"
    BLUNT = "blunt"


class CostKind(StrEnum):
    """What a line of cost pays for."""

    METAL = "metal"
    PREMIUM = "wire premium"
    SCRAP = "scrap back"
    LABOUR = "labour"
    CHANGES = "changes of setting"
    WAGES = "wages beside labour"
    ARGON = "argon"
    TIP = "electrode tip"
    ELECTRICITY = "electricity"
    BLADE = "saw blade"
    CLASP = "clasp"
    FITTING = "fitting"
    EXTRA = "extra"
    CLEANING = "cleaning"
    PACKING = "packing"
    HALLMARK = "hallmark"
    OVERHEAD = "overhead"


class CostItem(str):
    """The item of a cost line: text as people read it, which keeps its kind and what it is of.

    Examples
    --------
    >>> item = CostItem(CostKind.LABOUR, "weld")
    >>> item, item.kind is CostKind.LABOUR, item.of
    ('labour: weld', True, 'weld')
    """

    kind: CostKind
    of: str  # a metal's title, a wire, a station; "" where the kind says all

    def __new__(cls, kind: CostKind, of: str = "") -> CostItem:
        """Make the text of a kind, and of what."""
        item = super().__new__(cls, f"{kind}: {of}" if of else str(kind))
        item.kind, item.of = kind, of
        return item

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]
        """Tell a copy how to make itself anew."""
        return self.kind, self.of
