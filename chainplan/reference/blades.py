"""Saw blades and the kerf they leave."""

from __future__ import annotations

from functools import cache

from chainplan.reference.checked.tables import read_table


@cache
def blades() -> dict[str, float]:
    """Return the thickness of each saw blade by its size, thinnest first, in mm."""
    rows = sorted(read_table("blades"), key=lambda row: float(row["thickness"]))
    return {row["blade"]: float(row["thickness"]) for row in rows}


def blade_for(kerf_mm: float) -> str:
    """Return the size of the blade whose thickness comes nearest to a kerf.

    Examples
    --------
    >>> blade_for(0.25)
    '3/0'
    """
    return min(blades(), key=lambda size: (abs(blades()[size] - kerf_mm), blades()[size]))
