"""Many pieces counted side by side: alternatives, price lists; each whole by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.errors import ChainplanError
from chainplan.threads import one_thread_of_numpy
from chainplan.workers import Workers, side_by_side

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.model.job import Piece
    from chainplan.model.metal import Metal
    from chainplan.model.piece.count import Count

FEWEST = 20
"""Pieces that are worth a worker of their own. Judgement: it starts in a second or so, in which
about as many are counted."""


@dataclass(frozen=True, slots=True)
class _Some:
    """Some pieces, the metals of the user's own, and whether rings are judged."""

    pieces: tuple[Piece, ...]
    metals: Mapping[str, Metal] | None
    judged: bool


def count_pieces(
    pieces: Sequence[Piece],
    *,
    metals: Mapping[str, Metal] | None = None,
    workers: int = 1,
    judged: bool = True,
) -> list[tuple[Count, ...] | ChainplanError]:
    """Count one copy of each piece.

    Parameters
    ----------
    pieces : sequence of Piece
        What is counted.
    metals : mapping, optional
        Metals of the job's own.
    workers : int
        So many processes count side by side, if there is enough for them to do.
    judged : bool
        Whether each ring is judged; counts alone come sooner without.

    Returns
    -------
    list
        In the order of the pieces: counts of the sections, or why it cannot be woven.
    """
    parts = max(1, min(workers, len(pieces) // FEWEST))
    size = -(-len(pieces) // parts) or 1
    some = [
        _Some(tuple(pieces[begin : begin + size]), metals, judged)
        for begin in range(0, len(pieces), size)
    ]
    return [one for part in side_by_side(_count, some, Workers(count=parts)) for one in part]


@one_thread_of_numpy
def _count(some: _Some) -> list[tuple[Count, ...] | ChainplanError]:
    from chainplan.public.counting import count_piece

    found: list[tuple[Count, ...] | ChainplanError] = []
    for piece in some.pieces:
        try:
            found.append(count_piece(piece, metals=some.metals, judged=some.judged))
        except ChainplanError as error:
            found.append(error)
    return found
