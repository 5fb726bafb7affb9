"""What a design is: which metal each ring of a section has, as rules laid one over the other."""

from __future__ import annotations

from dataclasses import field

from chainplan.frozen import frozen
from chainplan.model.kinds import DesignLaid, DesignRule

OWN = 255
"""Cell of a grid or picture that leaves a ring as it is."""


@frozen
class Span:
    """Some numbers of a count that begins with 1; below 0 they count back from the last, −1."""

    first: int
    last: int
    every: int = 1  # each of them, or every so manieth from the first


@frozen
class DesignLine:
    """One rule of a design: which rings, and of what metal.

    What the fields hold goes by the rule: ``spans`` for places, rows and columns; ``cells`` for a
    list (one row), a grid or a picture, one byte a cell, an index into ``metals`` or :data:`OWN`;
    ``size`` for the width of a border, or rows and rings of a check; ``parts`` for parts.
    """

    design: str
    rule: DesignRule
    which: str  # as it was written
    metals: tuple[tuple[str, str], ...]  # letter ("" where there is none) and key of the metal
    spans: tuple[Span, ...] = ()
    parts: tuple[str, ...] = ()
    size: tuple[int, int] = (0, 0)
    cells: tuple[bytes, ...] = ()  # rows from the top, as they are drawn
    laid: DesignLaid = DesignLaid.ONCE
    wide_mm: float | None = None  # of a picture; None: as large as fits
    where: str = field(default="", compare=False)  # sheet and row, for messages

    @property
    def metals_text(self) -> str:
        """Metals as a job file writes them."""
        return ", ".join(f"{letter} {metal}".strip() for letter, metal in self.metals)


@frozen
class Design:
    """A design by name: its rules, the later ones over the earlier."""

    name: str
    lines: tuple[DesignLine, ...]

    @property
    def metals(self) -> tuple[str, ...]:
        """Keys of the metals that it names, in order of appearance."""
        return tuple(dict.fromkeys(metal for line in self.lines for _, metal in line.metals))


@frozen
class BagCount:
    """How many rings of one metal and size a copy of a piece has."""

    metal: str
    wire_mm: float
    inner_mm: float
    rings: int


@frozen
class DesignPreview:
    """What a piece of several metals or sizes comes to, before it is planned."""

    piece: str
    rings: int
    bags: tuple[BagCount, ...]  # the fullest first
    notes: tuple[str, ...]  # how fine a picture can be, where a list breaks off
    files: tuple[str, ...] = ()  # pictures written
