"""What pieces cost a customer: whether every price is whole, and prices over a row of lengths."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import ChainplanError, Fault, InputError
from chainplan.public.jobs import choose_piece, read_job
from chainplan.threads import one_thread_of_numpy
from chainplan.units import read_length_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.estimate import PriceLine, PriceList
    from chainplan.model.job import Job, Piece
    from chainplan.model.piece.count import Count
    from chainplan.model.plan import Plan


def check_prices(plan: Plan) -> None:
    """Refuse a plan in which something has no price.

    Raises
    ------
    InputError
        With a fault for everything that is in a piece, and in no price.
    """
    where = {piece.name: piece.where or repr(piece.name) for piece in plan.job.pieces}
    faults = [
        Fault(
            where.get(quote.piece, quote.piece),
            f"{name} has no price, so the price of {quote.piece!r} is without it",
            "write it on the sheet prices, or in the column price of the sheet fittings",
        )
        for quote in plan.estimates.quotes
        for name in quote.missing
    ]
    if faults:
        raise InputError(faults=faults)


@one_thread_of_numpy
def price_list(
    job: Job | str | Path,
    *,
    lengths: Sequence[str | float],
    piece: str | None = None,
    workers: int = 1,
) -> PriceList:
    """Price the pieces of a job in a row of finished lengths.

    Parameters
    ----------
    job : Job, str or Path
        The job, or its file.
    lengths : sequence of str or float
        Finished lengths: "40cm", "16in"; numbers are mm.
    piece : str, optional
        Which piece; all that have a length if it is not given.
    workers : int
        So many processes count side by side; the prices are the same for any number.

    Raises
    ------
    InputError
        If a length cannot be read, or no piece has a length that could be another one.

    Notes
    -----
    One copy each, by its own length, the sections in proportion; welding is counted without waits,
    as no weld order is searched for.
    """
    from chainplan.model.estimate import PriceList

    job = read_job(job) if isinstance(job, (str, Path)) else job
    wanted = [_length_mm(text) for text in lengths]
    if not wanted:
        message = "lengths: none are given; write them like 40cm,45cm,50cm"
        raise InputError(message)
    chosen = [choose_piece(job, piece)] if piece is not None else list(job.pieces)
    fit = [one for one in chosen if any(s.length_mm is not None for s in one.sections)]
    if not fit:
        message = "price list: no piece has a length; those given in rings stay as they are"
        raise InputError(message)
    from chainplan.estimate import tax_in_words
    from chainplan.public.many import count_pieces

    rows = [(one, length_mm, _in_length(one, length_mm)) for one in fit for length_mm in wanted]
    others = [other for *_, other in rows]
    counted = count_pieces(others, metals=job.metals, workers=workers, judged=False)
    return PriceList(
        currency=job.bench.money.currency,
        tax=tax_in_words(job.bench.money.tax_percent, "prices"),
        lines=tuple(_line(job, *row, found) for row, found in zip(rows, counted, strict=True)),
    )


def _length_mm(length: str | float) -> float:
    try:
        value = read_length_mm(length) if isinstance(length, str) else float(length)
    except InputError as error:
        raise InputError(error.at("lengths")) from None
    if not 1 <= value <= 1e6:
        message = f"lengths: {value:g} mm; allowed is 1 mm to 1000 m"
        raise InputError(message)
    return value


def _in_length(piece: Piece, length_mm: float) -> Piece:
    """Give one copy of a piece another length, its sections in proportion."""
    asked = sum(s.length_mm for s in piece.sections if s.length_mm is not None)
    sections = tuple(
        section
        if section.length_mm is None
        else replace(section, length_mm=section.length_mm * length_mm / asked)
        for section in piece.sections
    )
    return replace(piece, sections=sections, quantity=1, list_price=None)


def _line(
    job: Job,
    piece: Piece,
    length_mm: float,
    other: Piece,
    counted: tuple[Count, ...] | ChainplanError,
) -> PriceLine:
    """Price one piece in another length; what cannot be made says why."""
    from chainplan.estimate import quote_take, take_counted
    from chainplan.model.estimate import PriceLine

    if isinstance(counted, ChainplanError):
        return PriceLine(piece=piece.name, asked_mm=length_mm, reason=str(counted))
    layout = counted[0].layout
    own = [f.mass_g for f in piece.fittings if f.mass_g is not None]
    quote = quote_take(job, take_counted(job, other, counted))
    return PriceLine(
        piece=piece.name,
        asked_mm=length_mm,
        length_mm=(layout.length_mm if layout else 0.0) + piece.clasp_length_mm,
        rings=sum(count.rings for count in counted),
        mass_g=sum(count.mass_g for count in counted) + sum(own),
        cost=quote.cost_each,
        price=quote.price_with_tax_each,
        missing=quote.missing,
    )
