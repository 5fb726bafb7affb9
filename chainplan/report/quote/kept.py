"""Pictures of pieces on quotes, kept from one plan to the next: a price changes none of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.report.paper.pdf import with_operators
from chainplan.report.paper.sheet import Path, Picture, Sheet, Text
from chainplan.store import key_of
from chainplan.store.version import drawing_version

if TYPE_CHECKING:
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.report.paper.sheet import Drawing
    from chainplan.store import ResultShelf


@frozen
class PiecePicture:
    """A piece as it is drawn on its quote, and where that ends."""

    pictures: tuple[Picture, ...]
    marks: tuple[Path | Text, ...]
    lower_mm: float


@frozen
class Drawn:
    """The work that pictures show, and where they are taken from and kept, by its digest.

    Without a shelf they are drawn. ``shared``: drawings of the document so far, where it has many
    pieces: those of one kind are drawn once then, and none is kept.
    """

    work: Plan  # as :func:`chainplan.report.work.work_of` gives it
    shelf: ResultShelf | None = None
    drawn_from: str = ""
    shared: dict[str, Drawing] | None = None

    def put_on(
        self,
        sheet: Sheet,
        number: int,
        *,
        left_mm: float,
        top_mm: float,
        width_mm: float,
    ) -> float:
        """Put the picture of the so-manieth piece on its sheet; return the lower edge. [mm]."""
        piece = self.work.pieces[number - 1]
        room = (left_mm, top_mm, width_mm)
        if self.shelf is None or self.shared is not None:
            found = _draw(piece, number, room, self.shared)
        else:
            key = key_of("quote", self.drawn_from, number, room, drawing_version())
            found = self.shelf.get(key)
            if not isinstance(found, PiecePicture):
                found = _draw(piece, number, room)
                self.shelf.put(key, found)
        sheet.pictures += found.pictures
        sheet.marks += found.marks
        return found.lower_mm


def _draw(
    piece: PiecePlan,
    number: int,
    room: tuple[float, float, float],
    shared: dict[str, Drawing] | None = None,
) -> PiecePicture:
    from chainplan.report.quote.piece_picture import draw_piece

    left_mm, top_mm, width_mm = room
    alone = Sheet(width_mm=width_mm, height_mm=top_mm, title=piece.piece.name)
    lower_mm = draw_piece(
        alone,
        piece,
        f"quote{number}",
        left_mm=left_mm,
        top_mm=top_mm,
        width_mm=width_mm,
        shared=shared,
    )
    pictures = alone.pictures
    if shared is None:
        pictures = [
            replace(picture, drawing=with_operators(picture.drawing)) for picture in pictures
        ]
    return PiecePicture(
        pictures=tuple(pictures),
        marks=tuple(alone.marks),
        lower_mm=lower_mm,
    )
