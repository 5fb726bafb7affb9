"""Alternatives for one piece side by side: other wires, rings and metals."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from chainplan.errors import ChainplanError, InputError, did_you_mean
from chainplan.estimate.counts import count_from_table
from chainplan.estimate.price.money import quote_take
from chainplan.estimate.price.pricing import old_prices
from chainplan.estimate.stations import hours_of
from chainplan.estimate.take import take_of
from chainplan.model.estimate import Comparison, ComparisonLine

if TYPE_CHECKING:
    from collections.abc import Sequence
    from decimal import Decimal

    from chainplan.model.job import Job, Piece
    from chainplan.model.piece.count import Count

    Counted = Sequence[Count] | ChainplanError

SMALLER_IS_BETTER = ("mass_g", "weld_min", "bench_h", "cost", "price", "working_days", "rings")
"""Columns in which the smallest value is marked."""

WITHOUT_WAITS = (
    "weld times are without waits for cooling, and no weld order was searched: a plan may need "
    "more time"
)

_COLUMNS = (*SMALLER_IS_BETTER, "length_mm", "aspect_ratio", "wire_mm", "inner_mm")
_UNITS = {
    "g": "mass_g",
    "min": "weld_min",
    "h": "bench_h",
    "day": "working_days",
    "days": "working_days",
    "rings": "rings",
    "mm": "length_mm",
}
_SIGNS = {
    "<": lambda a, b: a < b,
    "<=": lambda a, b: a <= b,
    ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b,
}


@dataclass(frozen=True, slots=True)
class Target:
    """A bound on one column, such as ``mass_g < 30``."""

    column: str
    sign: str
    bound: float
    text: str

    def met_by(self, line: ComparisonLine) -> bool:
        """Whether an alternative meets the target; one without the number does not."""
        value = getattr(line, self.column)
        return value is not None and bool(_SIGNS[self.sign](float(value), self.bound))


def read_target(text: str, currency: str) -> Target:
    """Read a target: ``mass_g<30``, ``under 30 g``, ``under 250 EUR``, ``fits in 2 days``.

    Raises
    ------
    InputError
        If it cannot be read.

    Examples
    --------
    >>> read_target("under 30 g", "EUR").column, read_target("price <= 250", "EUR").sign
    ('mass_g', '<=')
    """
    formula = re.fullmatch(r"\s*([a-z_ ]+?)\s*(<=|>=|<|>|≤|≥)\s*([0-9.]+)\s*", text.lower())
    words = re.fullmatch(
        r"\s*(under|below|over|above|(?:fits )?in|within)\s+([0-9.]+)\s*([a-z]+)\s*", text.lower()
    )
    try:
        if formula:
            column = formula.group(1).strip().replace(" ", "_")
            sign = formula.group(2).replace("≤", "<=").replace("≥", ">=")
            if column in _COLUMNS:
                return Target(column, sign, float(formula.group(3)), text.strip())
            message = f"target {text!r}: no column {column!r}; {did_you_mean(column, _COLUMNS)}"
            raise InputError(message)
        if words:
            unit = words.group(3)
            column = "price" if unit == currency.lower() else _UNITS.get(unit, "")
            sign = {"under": "<", "below": "<", "over": ">", "above": ">"}.get(words.group(1), "<=")
            if column:
                return Target(column, sign, float(words.group(2)), text.strip())
    except ValueError as error:
        if isinstance(error, InputError):
            raise
    message = (
        f"target {text!r} cannot be read; write for example mass_g<30, price<=250 or "
        "under 30 g; columns: " + ", ".join(_COLUMNS)
    )
    raise InputError(message)


def alternatives(
    piece: Piece,
    *,
    wires_mm: Sequence[float] = (),
    inners_mm: Sequence[float] = (),
    metals: Sequence[str] = (),
) -> tuple[Piece, ...]:
    """Make the piece in every combination of wire, inner diameter and metal; empty means as it is.

    All sections of the piece change together; a mandrel or a measured count that the user gave
    holds for the old ring only and is dropped where the ring changes.
    """
    found: list[Piece] = []
    for metal in metals or (None,):
        for wire_mm in wires_mm or (None,):
            for inner_mm in inners_mm or (None,):
                sections = []
                for section in piece.sections:
                    # connecting rings that are told apart from the chain stay as they are
                    own = None if section.fitting is None else piece.fittings[section.fitting]
                    other = replace(
                        section,
                        metal=(metal if own is None or own.metal is None else None)
                        or section.metal,
                        wire_mm=(wire_mm if own is None or own.wire_mm is None else None)
                        or section.wire_mm,
                        inner_mm=(inner_mm if own is None or own.inner_mm is None else None)
                        or section.inner_mm,
                    )
                    if inner_mm is not None:
                        other = replace(other, made_of_rings=True)
                    if wire_mm is not None or inner_mm is not None:
                        other = replace(other, mandrel_mm=None, measured_rings_per_cm=None)
                    sections.append(other)
                changed = replace(piece, sections=tuple(sections))
                if changed not in found:
                    found.append(changed)
    return tuple(found)


def compare_pieces(
    job: Job, pieces: Sequence[Piece], counted: Sequence[Counted], *, targets: Sequence[str] = ()
) -> Comparison:
    """Set alternatives of one piece side by side.

    Parameters
    ----------
    job : Job
        Bench and prices.
    pieces : sequence of Piece
        The alternatives, as :func:`alternatives` makes them.
    counted : sequence
        Each of them counted, one Count a section; the error where it cannot be woven.
    targets : sequence of str
        What an alternative must meet, as :func:`read_target` reads it.

    Notes
    -----
    One copy each, at the price that leaves the bench's margin. Weld times are the plain sum of
    handling, hits and moving, without waits: the weld order of an alternative is not searched.
    """
    bounds = [read_target(text, job.bench.money.currency) for text in targets]
    lines = [_line_of(job, *both, bounds) for both in zip(pieces, counted, strict=True)]
    return Comparison(
        piece=pieces[0].name if pieces else "",
        currency=job.bench.money.currency,
        lines=_mark_best(lines),
        targets=tuple(bound.text for bound in bounds),
        warnings=old_prices(job),
        notes=(WITHOUT_WAITS, tax_in_words(job.bench.money.tax_percent)),
    )


def tax_in_words(tax_percent: Decimal, of: str = "prices and their targets") -> str:
    """Say whether tax is in prices, such as those of a comparison and so its targets."""
    tax = tax_percent.normalize()
    if not tax:
        return f"{of} have no tax in them: the bench's tax is 0 %"
    return f"{of} are with {tax:f} % tax, as on the customer's page"


def _line_of(job: Job, piece: Piece, counted: Counted, bounds: Sequence[Target]) -> ComparisonLine:
    first = next(section for section in piece.sections if section.fitting is None)
    line = ComparisonLine(
        weave=first.weave,
        metal=first.metal,
        wire_mm=first.wire_mm,
        inner_mm=first.inner_mm,
        aspect_ratio=first.aspect_ratio,
    )
    try:
        if isinstance(counted, ChainplanError):
            raise counted
        counts = count_from_table(job, piece, counted)
    except ChainplanError as error:
        return replace(line, fits=False, reason=str(error), possible=False)
    take = take_of(replace(counts, quantity=1, list_price=None), job)
    quote = quote_take(job, take)
    unpriced = [key for key in take.metals if key in quote.missing]
    hours = hours_of(take.times)
    line = replace(
        line,
        rings=counts.rings,
        length_mm=counts.length_mm,
        mass_g=sum(item.mass_g for item in counted),
        weld_min=hours_of(take.times, ("weld",)) * 60,
        bench_h=hours,
        cost=quote.cost_each if not unpriced else None,
        price=quote.price_with_tax_each if not unpriced else None,
        working_days=hours / job.bench.calendar.hours_per_day,
        verdict=counted[piece.sections.index(first)].verdict,
    )
    missed = [bound for bound in bounds if not bound.met_by(line)]
    without = [name for name in quote.missing if name not in unpriced]
    plain = [bound.text for bound in missed if getattr(line, bound.column) is not None]
    reasons = []
    if unpriced:
        names = ", ".join(key.replace("-", " ") for key in unpriced)
        reasons.append(f"no price for {names} in the job")
    if without:
        reasons.append(f"without {', '.join(without)}, which has no price")
    if plain:
        reasons.append(f"misses: {', '.join(plain)}")
    return replace(line, fits=not missed, reason="; ".join(reasons))


def _mark_best(lines: Sequence[ComparisonLine]) -> tuple[ComparisonLine, ...]:
    """Mark the best of the alternatives that fit, column by column; ties are all marked."""
    fitting = [line for line in lines if line.fits]
    best = {}
    for column in SMALLER_IS_BETTER:
        values = [getattr(line, column) for line in fitting if getattr(line, column) is not None]
        if len(fitting) > 1 and values and min(values) < max(values):
            best[column] = min(values)
    return tuple(
        replace(
            line,
            best_at=tuple(
                column
                for column, value in best.items()
                if line.fits and getattr(line, column) == value
            ),
        )
        for line in lines
    )
