"""Where the law asks for a hallmark, by country, metal and weight."""

from __future__ import annotations

from functools import cache

from chainplan.frozen import frozen
from chainplan.reference.checked.tables import read_table, source_text


@frozen
class HallmarkRule:
    """Below which weight of precious metal a piece needs no hallmark, and the finenesses."""

    country: str
    precious: str
    exempt_below_g: float
    finenesses: tuple[int, ...]  # parts per thousand, ascending
    source: str
    base_counts: str = ""  # source by which base metal beside it counts; "": not known


@cache
def _rules() -> dict[tuple[str, str], HallmarkRule]:
    finenesses = {
        (row["country"], row["precious"]): tuple(int(word) for word in row["fineness"].split())
        for row in read_table("fineness")
    }
    mixed = {row["country"]: source_text(row) for row in read_table("hallmark_mixed")}
    return {
        (row["country"], row["precious"]): HallmarkRule(
            country=row["country"],
            precious=row["precious"],
            exempt_below_g=float(row["exempt_below"]),
            finenesses=finenesses[row["country"], row["precious"]],
            source=source_text(row),
            base_counts=mixed.get(row["country"], ""),
        )
        for row in read_table("hallmark")
    }


def hallmark_countries() -> tuple[str, ...]:
    """Return the countries whose rule is known."""
    return tuple(sorted({country for country, _ in _rules()}))


def hallmark_rule(country: str, precious: str) -> HallmarkRule | None:
    """Return the rule of a country for a precious metal, or None if it is not known here."""
    return _rules().get((country.strip().upper(), precious))


def struck_fineness(rule: HallmarkRule, fineness: int) -> int | None:
    """Fineness that may be struck: the highest of the country's that the metal reaches.

    There is no minus tolerance: 588 is struck 585, 584 is struck 375.

    Examples
    --------
    >>> gold = hallmark_rule("UK", "gold")
    >>> struck_fineness(gold, 588), struck_fineness(gold, 584), struck_fineness(gold, 300)
    (585, 375, None)
    """
    reached = [value for value in rule.finenesses if value <= fineness]
    return max(reached) if reached else None
