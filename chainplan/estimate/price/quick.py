"""A whole job quoted from counts alone: no joins placed, no heat, no weld order."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from chainplan.estimate.price.compare import WITHOUT_WAITS
from chainplan.estimate.price.money import quote_take
from chainplan.estimate.price.pricing import old_prices
from chainplan.estimate.stations import hours_of
from chainplan.estimate.take import take_counted
from chainplan.model.workshop.quote import JobQuote, QuotedPiece

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.errors import ChainplanError
    from chainplan.model.job import Job, Piece
    from chainplan.model.piece.count import Count

BASIS = (
    f"{WITHOUT_WAITS}; every join is taken to be welded in place, its ring gripped with earthed "
    "tweezers unless the bench says how the current goes back"
)


def quote_piece(job: Job, piece: Piece, counted: Sequence[Count]) -> QuotedPiece:
    """Quote one piece from the quick answer for each of its sections.

    Notes
    -----
    The time at the welder is the plain sum of handling, hits, gripping with earthed tweezers and
    moving along the piece and back, with one turn: what a plan finds if no limit asks for a wait.
    """
    take = take_counted(job, piece, counted)
    quote = quote_take(job, take)
    copies = piece.quantity
    return QuotedPiece(
        piece=piece.name,
        quantity=copies,
        weaves=tuple(dict.fromkeys(item.weave for item in counted)),
        metals=tuple(dict.fromkeys(item.metal for item in counted)),
        rings=take.counts.rings,
        joins=take.counts.joins,
        length_mm=take.counts.length_mm,
        mass_g=sum(item.mass_g for item in counted),
        wire_m=sum(need.wire_length_m for need in take.wire) / copies,
        weld_min=hours_of(take.times, ("weld",)) * 60 / copies,
        bench_h=hours_of(take.times) / copies,
        new_least_h=sum(time.new_least_min for time in take.times) / 60 / copies,
        new_most_h=sum(time.new_most_min for time in take.times) / 60 / copies,
        cost=quote.cost_each,
        price=quote.price_each,
        price_with_tax=quote.price_with_tax_each,
        missing=quote.missing,
    )


def cannot_be_made(piece: Piece, error: ChainplanError) -> QuotedPiece:
    """Say why a piece has no quote."""
    return QuotedPiece(
        piece=piece.name,
        quantity=piece.quantity,
        weaves=tuple(dict.fromkeys(section.weave for section in piece.sections)),
        metals=tuple(dict.fromkeys(section.metal for section in piece.sections)),
        reason=str(error),
    )


def sum_quotes(job: Job, pieces: Sequence[QuotedPiece]) -> JobQuote:
    """Put the quotes of all pieces together, with their sums over all copies."""
    nothing = Decimal(0)
    return JobQuote(
        job=job.name,
        currency=job.bench.money.currency,
        pieces=tuple(pieces),
        copies=sum(item.quantity for item in pieces),
        rings=sum(item.quantity * item.rings for item in pieces),
        joins=sum(item.quantity * item.joins for item in pieces),
        mass_g=sum(item.quantity * item.mass_g for item in pieces),
        wire_m=sum(item.quantity * item.wire_m for item in pieces),
        bench_h=sum(item.quantity * item.bench_h for item in pieces),
        new_least_h=sum(item.quantity * item.new_least_h for item in pieces),
        new_most_h=sum(item.quantity * item.new_most_h for item in pieces),
        cost=sum((item.quantity * item.cost for item in pieces), nothing),
        price=sum((item.quantity * item.price for item in pieces), nothing),
        price_with_tax=sum((item.quantity * item.price_with_tax for item in pieces), nothing),
        basis=BASIS,
        warnings=old_prices(job),
    )
