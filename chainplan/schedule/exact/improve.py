"""A better timetable than the dispatch rule's, if there is one within the solver's limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.schedule.exact.solve import solve
from chainplan.schedule.exact.steps import ask
from chainplan.schedule.rule.follow import Line, lines_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.workshop.schedule import PieceWork
    from chainplan.schedule.exact.timetable import Asked
    from chainplan.schedule.rule.stations import Laid
    from chainplan.schedule.shop import Shop

MOST_STEPS = 250
"""Steps up to which a timetable is searched for. Measured: beyond, the solver's limit is over
before it finds anything better than the dispatch rule."""


def too_large(works: Sequence[PieceWork], pieces: Sequence[int] = ()) -> bool:
    """Whether some pieces, or all, have more copies than there may be steps."""
    copies = [work.copies for work in works]
    return sum(copies[k] for k in pieces) > MOST_STEPS if pieces else sum(copies) > MOST_STEPS


def better_lines(
    works: Sequence[PieceWork], shop: Shop, laid: Laid, *, limit: float
) -> tuple[Line, ...]:
    """Search for a timetable from one that is known on; nothing if none is found.

    Parameters
    ----------
    works, shop : sequence of PieceWork, Shop
        The pieces; people and their hours.
    laid : Laid
        What the dispatch rule came to.
    limit : float
        Deterministic time for the solver.
    """
    if too_large(works):
        return ()
    asked = ask(works, shop, least=False)
    if len(asked.steps) > MOST_STEPS:
        return ()
    known = list(lines_of(laid, shop))
    starts = {line.key: (start_s, line.worker) for line, start_s in known}
    keys = [[(s.piece, name, s.first, s.part) for name in s.stations] for s in asked.steps]
    hint = _hint(asked, [starts.get(own[0]) for own in keys])
    found = solve(asked, "all", limit=limit, hint=hint)
    if found.value is None:
        return ()
    order = sorted(range(len(keys)), key=lambda k: (found.start_s[k], k))
    lines = [
        Line(piece=piece, station=station, first=first, part=part, worker=found.worker[k])
        for k in order
        for piece, station, first, part in keys[k]
        if station != "set up"
    ]
    told = {line.key for line in lines}
    beyond = [line for line, _ in known if line.key not in told]  # fitting after the assay
    return (*lines, *beyond)


def _hint(asked: Asked, known: Sequence[tuple[int, int] | None]) -> list[tuple[int, int]]:
    """Give the set-up, which the rule makes part of a visit, the start and hand of that visit."""
    found: list[tuple[int, int]] = []
    for place, at in enumerate(known):
        after = [one for k, one in enumerate(known) if place in asked.steps[k].after and one]
        found.append(at or min(after, default=(asked.horizon_s, min(asked.steps[place].takes_s))))
    return found
