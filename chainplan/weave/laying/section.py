"""One section of a piece: how many whole repeats, how long, how wide, and what a tolerance does."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError, Refusal, WeaveError
from chainplan.model.kinds import Form, Rounding
from chainplan.model.piece.layout import SectionLayout
from chainplan.model.piece.weave import Tolerance
from chainplan.weave.laying.tiling import Tiler, find_row_plan
from chainplan.weave.laying.wholeness import check_whole
from chainplan.weave.library import load_weave
from chainplan.weave.solving.cache import find_smallest_aspect_ratio, solve_cached
from chainplan.weave.solving.limits import find_tolerances, judge_ring
from chainplan.weave.solving.solver import lying_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.job import Section
    from chainplan.model.piece.weave import Repeat, Weave, WeaveLimits
    from chainplan.weave.laying.tiling import Extent, Tiling

RingSizes = tuple[tuple[float, float], ...]
_STRIP = 3.0  # a sheet longer than this many widths is called a strip (a word, no more)


@dataclass(frozen=True, slots=True)
class LaidSection:
    """A section before it has its place in the piece: rings in wire diameters of class 0."""

    section: Section
    weave: Weave
    repeat: Repeat
    extent: Extent
    tiling: Tiling
    repeats: int
    rows: int
    rings_per_repeat: int
    pitch_mm: float  # as computed, or as the user's own measurement says
    computed_pitch_mm: float
    limits: WeaveLimits | None  # None: not judged
    tolerance: tuple[Tolerance, ...]
    wanted_mm: float | None
    closed: bool
    lies: str = ""

    @property
    def ends_mm(self) -> float:
        """What a section is longer than its repeats, outer edge to outer edge."""
        return 0.0 if self.closed else self.extent.ends * self.section.wire_mm

    def length_mm(self, repeats: int) -> float:
        """Length of a number of repeats."""
        return max(repeats, 0) * self.pitch_mm + (self.ends_mm if repeats > 0 else 0.0)

    def describe(self, first_ring: int, extra_rings: int) -> SectionLayout:
        """Say what the section is, once it is known which rings are its own."""
        wire_mm = self.section.wire_mm
        width_mm = self.extent.width * wire_mm
        length_mm = self.length_mm(self.repeats)
        form = self.weave.form
        if form != Form.CHAIN:
            form = Form.STRIP if length_mm > _STRIP * width_mm else Form.SHEET
        rings = self.tiling.rings + extra_rings
        return SectionLayout(
            weave=self.weave.key,
            form=form,
            metal=self.section.metal,
            temper=self.section.temper,
            wire_mm=wire_mm,
            inner_mm=self.section.inner_mm,
            first_ring=first_ring,
            rings=rings,
            joins=rings,
            links=len(self.tiling.links),
            repeats=self.repeats,
            rows=self.rows,
            length_mm=length_mm,
            shorter_mm=self.length_mm(self.repeats - 1),
            longer_mm=self.length_mm(self.repeats + 1),
            wanted_mm=self.wanted_mm,
            wanted_rings=None if self.wanted_mm is not None else self.section.rings,
            width_mm=width_mm,
            thickness_mm=self.extent.thickness * wire_mm,
            rings_per_cm=10 * self.rings_per_repeat / self.pitch_mm,
            computed_rings_per_cm=10 * self.rings_per_repeat / self.computed_pitch_mm,
            lies=self.lies,
            graded=self.section.graded,
            limits=self.limits,
            tolerance=self.tolerance,
            repeat=self.repeat,
        )


def find_ring_sizes(section: Section, weave: Weave) -> RingSizes | None:
    """Sizes of every ring class over class 0 as the row gives them; None: as the file says."""
    if len(weave.classes) == 1:
        return None
    if section.second_wire_mm is None and section.second_inner_mm is None:
        return None
    wire = (section.second_wire_mm or section.wire_mm) / section.wire_mm
    second = weave.classes[1]
    if section.second_wire_mm is None:
        wire = second.wire_ratio
    if section.second_inner_mm is not None:
        inner = section.second_inner_mm / section.inner_mm
    elif second.inner_ratio is not None:
        inner = second.inner_ratio
    else:
        message = f"{weave.title} has two sizes of ring; give the inner diameter of the second"
        raise InputError(message)
    return ((1.0, 1.0), *((wire, inner),) * (len(weave.classes) - 1))


def find_least_inner_mm(section: Section) -> float:
    """Least inner diameter that goes into the section's weave in its wire, to 0.05 mm above. [mm].

    Raises
    ------
    WeaveError
        If no limit is found.
    """
    weave = load_weave(section.weave)
    sizes = find_ring_sizes(section, weave)
    least_mm = section.wire_mm * find_smallest_aspect_ratio(weave, ring_sizes=sizes)
    return math.ceil(least_mm * 20 - 1e-6) / 20


def count_repeats(length: float, pitch: float, ends: float, rounding: str) -> int:
    """Whole repeats for a length: nearest to it, at least it or at most it; never below one.

    Examples
    --------
    >>> count_repeats(100.0, 3.0, 2.0, "nearest"), count_repeats(100.0, 3.0, 2.0, "at least")
    (33, 33)
    >>> count_repeats(100.0, 3.0, 2.0, "at most")
    32
    """
    exact = (length - ends) / pitch
    # A length that is a whole number of repeats but for rounding errors is that number.
    if abs(exact - round(exact)) < 1e-9 * max(1.0, abs(exact)):
        count = round(exact)
    elif rounding == Rounding.AT_LEAST:
        count = int(np.ceil(exact))
    elif rounding == Rounding.AT_MOST:
        count = int(np.floor(exact))
    else:
        count = int(np.floor(exact + 0.5))
    return max(count, 1)


@dataclass(frozen=True, slots=True)
class FittedSection:
    """A section whose weave is solved and whose repeats are counted; no ring has its place yet."""

    weave: Weave
    sizes: RingSizes | None
    lies: str
    state: str
    repeat: Repeat
    tiler: Tiler
    extent: Extent
    pitch_mm: float  # as computed, or as the user's own measurement says
    computed_mm: float
    ends_mm: float
    repeats: int

    @property
    def length_mm(self) -> float:
        """Length of all repeats, outer edge to outer edge."""
        return self.repeats * self.pitch_mm + self.ends_mm


def fit_section(
    section: Section, *, wanted_mm: float | None, rounding: str, closed: bool
) -> FittedSection:
    """Solve a section's weave for its ring and choose the repeats.

    Parameters and errors are those of :func:`lay_section`.
    """
    weave = load_weave(section.weave)
    sizes = find_ring_sizes(section, weave)
    lies, state = lying_of(weave, section.lies)
    repeat = solve_cached(weave, section.aspect_ratio, state, ring_sizes=sizes)
    rows = find_rows(section, weave)
    tiler = Tiler(repeat, find_row_plan(weave), rows)
    extent = tiler.measure()
    computed_mm = extent.pitch * section.wire_mm
    pitch_mm = computed_mm
    if section.measured_rings_per_cm:
        pitch_mm = 10 * tiler.rings_per_cell / section.measured_rings_per_cm
    ends_mm = 0.0 if closed else extent.ends * section.wire_mm
    if wanted_mm is not None:
        repeats = count_repeats(wanted_mm, pitch_mm, ends_mm, rounding)
    else:
        rings = section.rings or 1
        repeats = count_repeats(float(rings), float(tiler.rings_per_cell), 0.0, rounding)
    if closed:
        _check_loop(repeat, repeats, section.weave)
    check_whole(repeat, tiler.grid, weave, rows, repeats)
    return FittedSection(
        weave=weave, sizes=sizes, lies=lies, state=state, repeat=repeat, tiler=tiler,
        extent=extent, pitch_mm=pitch_mm, computed_mm=computed_mm, ends_mm=ends_mm,
        repeats=repeats,
    )  # fmt: skip


def lay_section(
    section: Section,
    *,
    wanted_mm: float | None,
    rounding: str,
    closed: bool,
    stock_inner_mm: Sequence[float] = (),
    judged: bool = True,
) -> LaidSection:
    """Solve a section's weave for its ring, choose the repeats and tile them.

    Parameters
    ----------
    section : Section
        What the user asks for.
    wanted_mm : float or None
        Length to reach, clasp taken off; None where the section gives a number of rings.
    rounding : str
        "nearest", "at least" or "at most".
    closed : bool
        Whether the last repeat links to the first.
    stock_inner_mm : sequence of float
        Ring sizes at hand, suggested before others where the ring does not suit.
    judged : bool
        Whether the ring is judged too, and what a tolerance does is solved; both take longer than
        the rest.

    Raises
    ------
    CannotBeWoven, NotConverged
        If the ring does not go into the weave.
    InputError
        If rows or lengths are missing or a loop is too short to close.
    """
    fitted = fit_section(section, wanted_mm=wanted_mm, rounding=rounding, closed=closed)
    weave, sizes, tiler, repeats = fitted.weave, fitted.sizes, fitted.tiler, fitted.repeats
    computed_mm, pitch_mm, ends_mm = fitted.computed_mm, fitted.pitch_mm, fitted.ends_mm

    def describe(change: float, pitch: float) -> Tolerance:
        """Say what a small change of inner diameter does; the wire and the user's count stay."""
        scaled_mm = pitch * section.wire_mm * pitch_mm / computed_mm
        count = repeats
        if wanted_mm is not None:
            count = count_repeats(wanted_mm, scaled_mm, ends_mm, rounding)
        rings = tiler.rings_per_cell
        return Tolerance(
            inner_diameter_change=change,
            rings_per_cm=10 * rings / scaled_mm,
            rings=count * rings,
            length_mm=repeats * scaled_mm + ends_mm,
        )

    return LaidSection(
        section=section,
        weave=weave,
        repeat=fitted.repeat,
        extent=fitted.extent,
        tiling=tiler.tile(repeats, closed=closed),
        repeats=repeats,
        rows=tiler.rows,
        rings_per_repeat=tiler.rings_per_cell,
        pitch_mm=pitch_mm,
        computed_pitch_mm=computed_mm,
        limits=judge_ring(
            weave,
            section.wire_mm,
            section.inner_mm,
            ring_sizes=sizes,
            stock_inner_mm=stock_inner_mm,
        )
        if judged
        else None,
        tolerance=find_tolerances(
            weave,
            section.aspect_ratio,
            ring_sizes=sizes,
            state=fitted.state,
            describe=describe,
        )
        if judged
        else (),
        wanted_mm=wanted_mm,
        closed=closed,
        lies=fitted.lies,
    )


def find_rows(section: Section, weave: Weave) -> int:
    """Rows across: one for a chain, what the section says for a sheet."""
    if weave.form == Form.CHAIN:
        return 1
    if section.rows is None or section.rows < 1:
        message = f"{weave.title} is a {weave.form}: say how many rows wide it is"
        raise InputError(message)
    return section.rows


def _check_loop(repeat: Repeat, repeats: int, weave: str) -> None:
    """Refuse a loop so short that a ring would link to itself or twice to one other."""
    reach = int(np.abs(repeat.links[:, 2]).max(initial=1))
    if repeats < max(3, 2 * reach + 1):
        found = f"weave {weave!r}: a closed loop of {repeats} repeats is too short to close"
        raise WeaveError(Refusal(found, f"at least {max(3, 2 * reach + 1)} are needed"))
