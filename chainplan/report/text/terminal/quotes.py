"""Quotes of whole jobs as one table: on the terminal, and as CSV."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.report.text.terminal.answers import columns

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.model.workshop.quote import JobQuote, QuotedPiece

MOST_SHOWN = 60
"""Pieces that are listed on the terminal; a longer table is read from CSV."""
COLUMNS = (
    "piece", "quantity", "weave", "metal", "rings", "joins", "length_mm", "mass_g", "wire_m",
    "weld_min", "bench_h", "new_least_h",
    "new_most_h", "cost", "price", "price_with_tax", "without", "reason",
)  # fmt: skip


def quote_text(quote: JobQuote) -> str:
    """Answer of ``chainplan quote``: one line a piece, one copy, and the sums of all copies."""
    head = (
        "piece", "copies", "rings", "joins", "g", "m wire", "min welding", "h in all",
        "h, new hand", "cost",
        "price", "with tax", "",
    )  # fmt: skip
    rows = [head, *(_row(item) for item in quote.pieces[:MOST_SHOWN])]
    rows.append(
        (
            "all copies",
            str(quote.copies),
            str(quote.rings),
            str(quote.joins),
            f"{quote.mass_g:.1f}",
            f"{quote.wire_m:.2f}",
            "",
            f"{quote.bench_h:.1f}",
            f"{quote.new_least_h:.1f} to {quote.new_most_h:.1f}",
            str(quote.cost),
            str(quote.price),
            str(quote.price_with_tax),
            "",
        )
    )
    lines = [f"money in {quote.currency}, one copy a line", columns(rows)]
    more = len(quote.pieces) - MOST_SHOWN
    if more > 0:
        lines.append(f"{more} further pieces are not listed here: --csv FILE or --json has all")
    failed = [item for item in quote.pieces if item.reason]
    lines += [f"{item.piece}: {item.reason}" for item in failed[:MOST_SHOWN]]
    if failed:
        lines.append(f"{len(failed)} of {len(quote.pieces)} pieces cannot be made: not in the sums")
    return "\n".join([*lines, quote.basis])


def _row(item: QuotedPiece) -> tuple[str, ...]:
    if item.reason:
        return (item.piece, str(item.quantity), *[""] * 10, "cannot be made")
    missing = ", ".join(item.missing)
    return (
        item.piece,
        str(item.quantity),
        str(item.rings),
        str(item.joins),
        f"{item.mass_g:.1f}",
        f"{item.wire_m:.2f}",
        f"{item.weld_min:.0f}",
        f"{item.bench_h:.1f}",
        f"{item.new_least_h:.1f} to {item.new_most_h:.1f}",
        str(item.cost),
        str(item.price),
        str(item.price_with_tax),
        f"without the price of {missing}" if missing else "",
    )


def write_quote_table(quote: JobQuote, target: str | Path) -> Path:
    """Write the quote of every piece, one copy, as CSV.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    import csv

    path = Path(target)
    try:
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(COLUMNS)
            writer.writerows(_cells(item) for item in quote.pieces)
    except OSError as error:
        message = f"{path}: cannot be written ({error.strerror})"
        raise InputError(message) from None
    return path


def _cells(item: QuotedPiece) -> Iterator[object]:
    hours = (item.bench_h, item.new_least_h, item.new_most_h)
    numbers = (item.length_mm, item.mass_g, item.wire_m, item.weld_min, *hours)
    yield from (item.piece, item.quantity, " + ".join(item.weaves), " + ".join(item.metals))
    yield from (item.rings, item.joins, *(f"{value:.6g}" for value in numbers))
    yield from (item.cost, item.price, item.price_with_tax, ", ".join(item.missing), item.reason)
