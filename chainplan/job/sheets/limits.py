"""Reads what a thing may not be warmed above: from its kind, or a limit of the user's own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.errors import InputError

if TYPE_CHECKING:
    from chainplan.job.table import Findings, Row


def read_limit(
    values: dict[str, Any],
    row: Row,
    findings: Findings,
    *,
    kind_column: str,
    of_metal: bool = False,
) -> dict[str, Any] | None:
    """Read kind, limit and source of a row, by column; ``None`` after a fault.

    ``of_metal``: its rings touch metal, so that how it conducts does not matter.

    A kind of the table of parts brings its limit; one of the user's own in the column ``limit``
    stands above it, and needs the kind ``own`` or none known.
    """
    from chainplan.reference import find_part

    kind, limit, source = values[kind_column], values["limit"], values["source"] or ""
    if kind.casefold() == "own":
        if row.get("limit") is None:
            found = f"{kind_column} is own and no limit is given"
            findings.fault(row.where, found, "write it in 'limit'")
        if limit is None:
            return None
        if row.get("conductivity") is None and not of_metal:
            findings.warn(
                f"{row.where}: how well it conducts is not told, so where rings touch it it is "
                "taken to conduct as poorly as amber, 0.2 W/(m K), the poorest of stones; write "
                "it in 'conductivity' if you know it (glass about 1, steel 15)"
            )
        return {kind_column: "own", "limit": limit, "source": source or "entered by the user"}
    try:
        known = find_part(kind)
    except InputError as error:
        findings.add(error.at(row.place(kind_column)))
        return None
    if row.get("limit") is None:
        limit, source = known.limit_c, source or known.source
    elif limit is None:
        return None
    else:
        source = source or "entered by the user"
        if limit > known.limit_c:
            findings.warn(
                f"{row.place('limit')}: {limit:g} °C is above the cautious limit of "
                f"{known.limit_c:g} °C for {known.title.lower()} ({known.source})"
            )
    return {kind_column: known.key, "limit": limit, "source": source}


def check_above_room(
    limit_c: float, row: Row, room_c: float, findings: Findings, *, kind_column: str
) -> None:
    """Tell a limit that the room's own temperature passes: no wait would reach it."""
    if limit_c > room_c:
        return
    place = row.place("limit" if row.get("limit") else kind_column)
    found = f"the limit is {limit_c:g} °C, and the room is at {room_c:g} °C already"
    allowed = "it must be above 'room c' of the sheet bench, or no join can be welded"
    findings.fault(place, found, allowed)
