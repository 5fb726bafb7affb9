"""Temperatures that stones, springs, glue and plating must not exceed."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.reference.checked.check import plain_key
from chainplan.reference.checked.tables import names_of, read_table, source_text, unknown_word

if TYPE_CHECKING:
    from collections.abc import Mapping


@frozen
class HeatLimit:
    """A cautious working limit of one kind of part; not gemmological data."""

    key: str
    title: str
    limit_c: float
    conductivity_w_m_k: float | None  # to one digit, from memory; None: conducts like the rings
    fact: str  # what is published behind the limit
    note: str
    source: str


@cache
def parts() -> Mapping[str, HeatLimit]:
    """Return every kind of heat-sensitive part by its key, in the order of the table."""
    return {
        row["part"]: HeatLimit(
            key=row["part"],
            title=row["title"],
            limit_c=float(row["limit"]),
            conductivity_w_m_k=float(row["conductivity"]) if row["conductivity"] else None,
            fact=row["fact"],
            note=row["note"],
            source=source_text({**row, "note": ""}),
        )
        for row in read_table("parts")
    }


def part_keys() -> tuple[str, ...]:
    """Return the keys of the kinds of part, in the order of the table."""
    return tuple(parts())


def find_part(name: str) -> HeatLimit:
    """Find a kind of heat-sensitive part by its key, title or another usual name.

    Raises
    ------
    InputError
        If no kind has that name, with the nearest ones.

    Examples
    --------
    >>> find_part("Music-wire spring").limit_c
    120.0
    """
    names = names_of("parts", "part")
    key = plain_key(name)
    if key not in names:
        raise unknown_word(name, names, what="heat-sensitive part")
    return parts()[names[key]]
