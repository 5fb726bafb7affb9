"""Rings of one wire in one weave: which go together, how they feel, what a centimetre takes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError, unknown
from chainplan.weave.laying.section import find_ring_sizes, find_rows
from chainplan.weave.laying.tiling import Tiler, find_row_plan
from chainplan.weave.library import load_weave
from chainplan.weave.solving.cache import find_smallest_aspect_ratio, solve_cached
from chainplan.weave.solving.limits import find_verdict, verdicts_of
from chainplan.weave.solving.solver import lying_of

if TYPE_CHECKING:
    from chainplan.model.job import Section
    from chainplan.model.piece.weave import Weave

BEYOND = 0.1
"""How far the last word, which has no end, is followed above where it begins, as a share."""


@dataclass(frozen=True, slots=True)
class SizedRing:
    """A ring in its weave: the verdict, and every size of ring with its number a centimetre."""

    verdict: str
    sizes: tuple[tuple[float, float, float], ...]  # wire [mm], inner [mm], rings a centimetre
    width_mm: float


def inner_range_of_feel(section: Section, feel: str = "") -> tuple[float, float]:
    """Smallest and largest inner diameter that a feel holds for; without one, that weave at all.

    Raises
    ------
    InputError
        If the weave has no such feel.
    """
    feels = feels_of(section)
    words = [word for word, _ in feels]
    if feel and feel not in words:
        raise InputError(unknown(feel, words, what="feel"))
    begins = [begin_mm for _, begin_mm in feels]
    ends = [*begins[1:], begins[-1] * (1 + BEYOND)]
    place = words.index(feel) if feel else 0
    return begins[place], ends[place if feel else -1]


def feels_of(section: Section) -> tuple[tuple[str, float], ...]:
    """Give every feel of a weave in a wire with the inner diameter from which it holds. [mm].

    The first begins at the smallest ring that goes together; the last has no end.
    """
    weave = load_weave(section.weave)
    least_mm = _least_mm(section, weave)
    verdicts = verdicts_of(weave)
    margins = (0.0, *(bound for bound, _ in verdicts[:-1]))
    return tuple(
        (word, least_mm * (1 + margin)) for (_, word), margin in zip(verdicts, margins, strict=True)
    )


def feel_of(section: Section) -> str:
    """Return the word for how a section's ring suits its weave; nothing of it is solved.

    Raises
    ------
    WeaveError
        If no limit is found.
    """
    weave = load_weave(section.weave)
    return find_verdict(weave, section.inner_mm / _least_mm(section, weave) - 1)


def _least_mm(section: Section, weave: Weave) -> float:
    sizes = find_ring_sizes(section, weave)
    return section.wire_mm * find_smallest_aspect_ratio(weave, ring_sizes=sizes)


def size_ring(section: Section, inner_mm: float) -> SizedRing:
    """Solve a section's weave with another inner diameter and say what a centimetre takes.

    Raises
    ------
    CannotBeWoven, NotConverged
        If the ring does not go into its weave.
    """
    other = replace(section, inner_mm=inner_mm)
    weave = load_weave(section.weave)
    ring_sizes = find_ring_sizes(other, weave)
    margin = other.aspect_ratio * section.wire_mm / _least_mm(other, weave) - 1
    state = lying_of(weave, section.lies)[1]
    repeat = solve_cached(weave, other.aspect_ratio, state, ring_sizes=ring_sizes)
    tiler = Tiler(repeat, find_row_plan(weave), find_rows(other, weave))
    extent = tiler.measure()
    ring_class = repeat.ring_class[tiler.tile(1).place]
    kinds, first, many = np.unique(ring_class, return_index=True, return_counts=True)
    place = tiler.tile(1).place
    pitch_cm = extent.pitch * section.wire_mm / 10
    sizes = []
    for k in range(len(kinds)):
        ring = int(place[first[k]])
        wire_mm = float(repeat.wire[ring]) * section.wire_mm
        inside_mm = 2 * float(repeat.mean_radius[ring]) * section.wire_mm - wire_mm
        sizes.append((wire_mm, inside_mm, int(many[k]) / pitch_cm))
    return SizedRing(
        verdict=find_verdict(weave, margin),
        sizes=tuple(sizes),
        width_mm=extent.width * section.wire_mm,
    )


def series_mm(low_mm: float, high_mm: float, *, least: int) -> tuple[float, ...]:
    """Sizes of the coarsest usual series that has enough of them within a range.

    Examples
    --------
    >>> series_mm(2.9, 4.1, least=4)
    (3.0, 3.25, 3.5, 3.75, 4.0)
    """
    found: tuple[float, ...] = ()
    for step in (2.0, 1.0, 0.5, 0.25, 0.1, 0.05, 0.01):  # mm, common practice, no source
        first, last = math.ceil(low_mm / step - 1e-9), math.floor(high_mm / step + 1e-9)
        found = tuple(round(k * step, 2) for k in range(first, last + 1))
        if len(found) >= least:
            break
    return found
