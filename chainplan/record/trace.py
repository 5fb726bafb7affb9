"""What became of single joins: wire lot, setting, person, time and checks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.errors import InputError, did_you_mean
from chainplan.model.workshop.record import JoinTrace, TraceLine
from chainplan.record.kept.joins import DONE, LATER, NOT_GOOD, STATE_OF_KIND

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chainplan.model.workshop.record import KnownPiece, KnownPlan
    from chainplan.record.kept.store import Record

WORDS = {DONE: "done", NOT_GOOD: "not good", LATER: "left for later"}
NOT_YET = "not welded yet"


def trace_joins(
    record: Record, whole: KnownPlan, *, piece: str | None, copy: int | None, ring: int | None
) -> tuple[JoinTrace, ...]:
    """Tell all that is known of one join, of one copy or of all.

    Parameters
    ----------
    record, whole : Record, KnownPlan
        The workshop's record, and the plan with every join of its work.
    piece, copy, ring : str, int, int, optional
        Which; all if not given.

    Raises
    ------
    InputError
        If the plan has no such piece, copy or ring.
    """
    chosen = _chosen(whole, piece, ring)
    events = _events(record, whole)
    lots = record.rows(
        "SELECT at_s, metal, wire_mm, lot FROM event_now WHERE kind = 'wire lot' ORDER BY at_s, seq"
    )
    return tuple(
        _trace(whole, known, number, one, events.get((known.name, number, one), []), lots)
        for known in chosen
        for number in _copies(known, copy)
        for one in ([ring] if ring is not None else known.ring.tolist())
    )


def _chosen(whole: KnownPlan, piece: str | None, ring: int | None) -> list[KnownPiece]:
    names = [known.name for known in whole.pieces]
    if piece is not None and piece not in names:
        message = f"the plan has no piece {piece!r}; {did_you_mean(piece, names)}"
        raise InputError(message)
    if piece is None and ring is not None and len(names) > 1:
        message = f"the plan has {len(names)} pieces; name one of {', '.join(map(repr, names))}"
        raise InputError(message)
    chosen = [known for known in whole.pieces if piece in (None, known.name)]
    if ring is not None and not any(ring in known.ring for known in chosen):
        message = f"ring {ring} has no join to weld in {chosen[0].name!r}; its rings are 1 to "
        message += f"{chosen[0].rings}, those closed beforehand apart"
        raise InputError(message)
    return chosen


def _copies(piece: KnownPiece, copy: int | None) -> Sequence[int]:
    if copy is None:
        return range(1, piece.copies + 1)
    if not 1 <= copy <= piece.copies:
        message = f"copy {copy} of {piece.name!r}; this plan has copies 1 to {piece.copies}"
        raise InputError(message)
    return [copy]


_Row = tuple[str, int, int, float, TraceLine]


def _events(
    record: Record, whole: KnownPlan
) -> dict[tuple[str, int, int], list[tuple[float, TraceLine]]]:
    rows = record.rows(
        "SELECT e.piece, e.copy, e.ring, e.at_s, e.at, e.kind, e.person, e.power_j, e.hits, e.tip, "
        "e.work_s, e.note, e.source FROM event_now AS e JOIN plan AS p ON p.key = e.plan "
        "WHERE p.root = ? AND e.ring IS NOT NULL ORDER BY e.at_s, e.seq",
        (whole.root or whole.key,),
    )
    found: dict[tuple[str, int, int], list[tuple[float, TraceLine]]] = {}
    for name, copy, ring, at_s, at, kind, person, power_j, hits, tip, work_s, note, source in rows:
        line = TraceLine(
            at=at, kind=kind, person=person, power_j=power_j, hits=hits, tip=tip, work_s=work_s,
            note=note, source=source,
        )  # fmt: skip
        found.setdefault((name, copy, ring), []).append((at_s, line))
    return found


def _trace(
    whole: KnownPlan,
    piece: KnownPiece,
    copy: int,
    ring: int,
    told: Sequence[tuple[float, TraceLine]],
    lots: Sequence[tuple[float, str, float, str]],
) -> JoinTrace:
    step = int((piece.ring == ring).argmax())
    section = piece.sections[int(piece.section[step]) - 1]
    own_metal = piece.metal_of(step)
    lines = [line for _, line in told]
    states = [STATE_OF_KIND[line.kind] for line in lines if line.kind in STATE_OF_KIND]
    welds = [(at_s, line) for at_s, line in told if line.kind == "done"]
    weld = welds[-1][1] if welds else None
    first_s = told[0][0] if told else float("inf")
    begun = [
        lot
        for at_s, metal, wire_mm, lot in lots
        if at_s <= first_s and metal == own_metal and abs(wire_mm - section.wire_mm) < 0.01
    ]
    return JoinTrace(
        job=whole.job,
        piece=piece.name,
        copy=copy,
        ring=ring,
        state=WORDS[states[-1]] if states else NOT_YET,
        metal=own_metal,
        wire_mm=section.wire_mm,
        lot=begun[-1] if begun and told else "",
        power_j=(weld.power_j or float(piece.power_j[step])) if weld else None,
        hits=(weld.hits or int(piece.hits[step])) if weld else None,
        tip=(weld.tip or piece.tip[step]) if weld else "",
        person=weld.person if weld else "",
        at=weld.at if weld else "",
        tries=sum(line.kind in ("done", "again") for line in lines),
        checks=tuple(_checks(lines)),
        lines=tuple(lines),
    )


def _checks(lines: Sequence[TraceLine]) -> Iterator[str]:
    for line in lines:
        if line.kind in ("good", "bad"):
            by = f" by {line.person}" if line.person else ""
            yield f"{line.kind}{by} at {line.at}"
