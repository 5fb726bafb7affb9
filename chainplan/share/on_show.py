"""What is shared of a plan: its sheet, its pieces by name, and its own files, nothing else."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from chainplan.model.workshop.record import Event


@dataclass(frozen=True, slots=True)
class ShownPiece:
    """One piece: how many copies, and which of its rings are welded, from 1."""

    name: str
    copies: int
    rings: frozenset[int]
    joins: int


@dataclass(frozen=True, slots=True)
class ServedPage:
    """A page and the policy under which it runs."""

    html: str
    policy: str


@dataclass(frozen=True)
class OnShow:
    """A plan as it is shared."""

    job: str
    pieces: tuple[ShownPiece, ...]
    sheet: bytes  # content of the sheet as JSON
    sheet_page: ServedPage
    board_page: ServedPage
    trust_page: ServedPage
    worker: ServedPage  # program that keeps the page for when the server is away
    files: Mapping[str, Path]  # papers, by the name under which they are asked for
    board: Mapping[str, Any]  # what the board shows that does not change
    by_name: Mapping[str, ShownPiece] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {piece.name: piece for piece in self.pieces})

    @property
    def joins(self) -> int:
        """Joins of all copies together."""
        return sum(piece.joins * piece.copies for piece in self.pieces)


Outcome = tuple[int, float] | str
"""What became of an event: its number in the record and its time, or why it was refused."""


class Book(Protocol):
    """What the server asks of the workshop's record; every call comes from one thread."""

    def add(self, events: Sequence[Event]) -> dict[str, Outcome]:
        """Record events, those that are there already once; say of each what became of it."""

    def after(self, seq: int, most: int) -> list[tuple[int, Event]]:
        """List events of this work behind a number, the earliest first."""

    def progress(self) -> dict[str, Any]:
        """Say how far the work is, as plain values."""
