"""How warm bare metal may be that skin touches, by how long it does."""

from __future__ import annotations

from functools import cache

from chainplan.reference.checked.tables import read_table


@cache
def burn_thresholds_c() -> dict[float, float]:
    """Return the burn threshold of bare metal by the longest contact, shortest first. [s], [°C]."""
    rows = sorted(read_table("skin"), key=lambda row: float(row["contact"]))
    return {float(row["contact"]): float(row["limit"]) for row in rows}


def burn_threshold_c(contact_s: float) -> float:
    """Return the burn threshold of bare metal for a contact of some seconds. [°C].

    That of the next longer contact listed; the contact may last longer than the longest.

    Examples
    --------
    >>> [burn_threshold_c(seconds) for seconds in (0.5, 5, 30, 300, 1e6)]
    [65.0, 55.0, 51.0, 48.0, 43.0]
    """
    known = burn_thresholds_c()
    return next(
        (limit for longest, limit in known.items() if contact_s <= longest), min(known.values())
    )
