"""Graduated stretches: one row of a job turned into a section for every size of ring it goes over.

Sizes are what is at hand: rings that the mandrels in stock give in this metal, or the wires in
stock; where none lies between the two ends, those of a usual series. Steps share the length.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from chainplan.model.job import LOOSE_JOINS
from chainplan.model.kinds import GradeWay, StockKind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.model.job import Job, Piece, Section
    from chainplan.model.metal import Metal

LEAST_RINGS = 4
"""A step is at least so many outer diameters long: shorter, its size is not seen."""
SAME = 0.01
"""Sizes nearer than this share are one size."""
FEW = 3
"""Sizes between the ends that a usual series is to have, where the stock has none."""


def expand_grades(job: Job) -> Job:
    """Return the job with a section for every step of its graduated stretches."""
    if not any(is_graded(section) for piece in job.pieces for section in piece.sections):
        return job
    return replace(job, pieces=tuple(_expand_piece(piece, job) for piece in job.pieces))


def is_graded(section: Section) -> bool:
    """Whether a section is asked for as graduated."""
    return section.grade_inner_mm is not None or section.grade_wire_mm is not None


def _expand_piece(piece: Piece, job: Job) -> Piece:
    found: list[Section] = []
    for number, section in enumerate(piece.sections, 1):
        if is_graded(section) and section.weave != LOOSE_JOINS:
            found += list_steps(section, job, number)
        else:
            found.append(section)
    return replace(piece, sections=tuple(found))


def list_steps(section: Section, job: Job, number: int) -> list[Section]:
    """List the steps of a graduated stretch, in order along it; ``number`` tells it from others."""
    from chainplan.reference import find_metal

    metal = find_metal(section.metal, own=job.metals)
    rings = _wire_steps(section, job) if section.grade_wire_mm else _inner_steps(
        section, job, metal)  # fmt: skip
    back = section.grade_way is GradeWay.BACK
    length_mm = section.length_mm or 0.0
    outer_mm = max(inner + 2 * wire for wire, inner, _ in rings)
    most = max(int(length_mm / (LEAST_RINGS * outer_mm)), 1)
    if back:
        most = (most + 1) // 2
    rings = _thin_out(rings, max(most, 2))
    if back:
        rings = [*rings, *reversed(rings[:-1])]
    return [
        replace(
            section,
            wire_mm=wire,
            inner_mm=inner,
            mandrel_mm=mandrel,
            length_mm=length_mm / len(rings),
            grade_inner_mm=None,
            grade_wire_mm=None,
            grade_way=None,
            graded=number,
        )
        for wire, inner, mandrel in rings
    ]


def _thin_out(
    rings: list[tuple[float, float, float | None]], most: int
) -> list[tuple[float, float, float | None]]:
    """Leave out steps evenly until there are so many; the two ends stay."""
    if len(rings) <= most:
        return rings
    places = sorted({round(k * (len(rings) - 1) / (most - 1)) for k in range(most)})
    return [rings[k] for k in places]


def _between(values: Mapping[float, float | None], first: float, last: float) -> list[float]:
    """Sort what lies between two ends, from the first to the last, without doubles."""
    low, high = sorted((first, last))
    inside: list[float] = []
    for value in sorted(values):
        if low * (1 + SAME) < value < high * (1 - SAME) and (
            not inside or value > inside[-1] * (1 + SAME)
        ):
            inside.append(value)
    return inside if last >= first else inside[::-1]


def _inner_steps(
    section: Section, job: Job, metal: Metal
) -> list[tuple[float, float, float | None]]:
    """Wire, inner diameter and mandrel of each step where the ring grows and the wire stays."""
    from chainplan.errors import InputError
    from chainplan.reference import inner_from_mandrel_mm
    from chainplan.weave import series_mm

    first, last = section.inner_mm, float(section.grade_inner_mm or section.inner_mm)
    wire = section.wire_mm
    measured = next(
        (
            ring
            for ring in job.measured_rings
            if (ring.metal, ring.temper) == (metal.key, section.temper)
        ),
        None,
    )
    at_hand: dict[float, float | None] = {}
    for item in job.stock:
        if item.kind == StockKind.MANDREL:
            try:
                inner = inner_from_mandrel_mm(
                    wire, item.size_mm, metal, section.temper, calibration=measured
                )
            except InputError:
                continue
            at_hand[round(inner, 4)] = item.size_mm
    inside = _between(at_hand, first, last)
    if not inside:
        low, high = sorted((first, last))
        at_hand = dict.fromkeys(series_mm(low * (1 + SAME), high * (1 - SAME), least=FEW))
        inside = _between(at_hand, first, last)
    middle = [(wire, inner, at_hand[inner]) for inner in inside]
    return [(wire, first, section.mandrel_mm), *middle, (wire, last, None)]


def _wire_steps(section: Section, job: Job) -> list[tuple[float, float, float | None]]:
    """Give wire and inner diameter of each step where the wire grows.

    The inner diameter goes evenly with the wire, to the one that is asked for at the other end, or
    so that the aspect ratio stays.
    """
    from chainplan.weave import series_mm

    first, last = section.wire_mm, float(section.grade_wire_mm or section.wire_mm)
    begin = section.inner_mm
    end = section.grade_inner_mm or begin * last / first
    at_hand: dict[float, float | None] = {
        item.size_mm: None
        for item in job.stock
        if item.kind == StockKind.WIRE and item.metal == section.metal
    }
    inside = _between(at_hand, first, last)
    if not inside:
        low, high = sorted((first, last))
        series = series_mm(low * (1 + SAME), high * (1 - SAME), least=FEW)
        inside = _between(dict.fromkeys(series), first, last)
    steps = []
    for wire in (first, *inside, last):
        share = (wire - first) / (last - first) if last != first else 1.0
        inner = round(begin + share * (end - begin), 4)
        steps.append((wire, inner, section.mandrel_mm if wire == first else None))
    return steps
