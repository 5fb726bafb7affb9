"""Whole jobs quoted from counts, without planning a weld order."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import ChainplanError
from chainplan.public.jobs import no_step, read_job
from chainplan.threads import one_thread_of_numpy
from chainplan.workers import Workers, side_by_side

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.model.job import Job, Piece
    from chainplan.model.workshop.quote import JobQuote, QuotedPiece

    OnStep = Callable[[str, int, int], None]

TOGETHER = 500
"""Pieces that one worker takes at a time. Judgement: fewer are done sooner than a worker starts."""


@dataclass(frozen=True, slots=True)
class _Some:
    """Some pieces of a job, and the job without pieces."""

    job: Job
    pieces: tuple[Piece, ...]


@one_thread_of_numpy
def quote_job(
    job: Job | str | Path, *, workers: int = 1, on_step: OnStep | None = None
) -> JobQuote:
    """Quote every piece of a job: counts, mass, wire, time, cost and price.

    Counts, mass and wire are those of a plan. No weld order is searched: the time at the welder is
    a plain sum of handling, hits and moving, without waits for cooling, and every join is taken
    to be welded in place. Pieces that cannot be made say why.

    Parameters
    ----------
    job : Job, str or Path
        The job, or its file.
    workers : int
        So many processes count side by side; the quote is the same for any number.
    on_step : callable, optional
        As for :func:`chainplan.make_plan`.

    Raises
    ------
    InputError
        If the job cannot be read.
    """
    from chainplan.estimate import sum_quotes

    found = read_job(job) if isinstance(job, (str, Path)) else job
    step = on_step or no_step
    pieces = found.pieces
    bare = replace(found, pieces=())
    some = [
        _Some(bare, pieces[begin : begin + TOGETHER]) for begin in range(0, len(pieces), TOGETHER)
    ]
    step("quote", 0, len(pieces))
    quoted = side_by_side(
        _quote_some,
        some,
        Workers(count=workers),
        on_done=lambda done, _: step("quote", min(done * TOGETHER, len(pieces)), len(pieces)),
    )
    return sum_quotes(found, [item for part in quoted for item in part])


@one_thread_of_numpy
def _quote_some(some: _Some) -> list[QuotedPiece]:
    from chainplan.estimate import cannot_be_made, quote_piece
    from chainplan.public.counting import count_piece

    quoted = []
    for piece in some.pieces:
        try:
            counted = count_piece(piece, metals=some.job.metals, judged=False)
            quoted.append(quote_piece(some.job, piece, counted))
        except ChainplanError as error:
            quoted.append(cannot_be_made(piece, error))
    return quoted
