"""Checking a maker's own weave file: does it hold together, at which ring sizes, is it new."""

from __future__ import annotations

from dataclasses import field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import WeaveError
from chainplan.frozen import frozen
from chainplan.model.kinds import Form
from chainplan.weave.library import LIBRARY_FOLDER, load_weave, read_weave_file, weave_keys
from chainplan.weave.shape.comparison import (
    count_links,
    count_parts,
    find_same_links,
    is_same_shape,
)
from chainplan.weave.shape.invariants import list_rules, measure_invariants
from chainplan.weave.shape.poses import find_links, order_links, read_seed, smallest_gap
from chainplan.weave.solving.continuation import OVERLAP_ALLOWED
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from chainplan.model.piece.weave import Repeat, Weave


@frozen
class CheckLine:
    """One thing that was checked; ``good`` is None where it is for information only."""

    what: str
    found: str
    good: bool | None = None

    def __str__(self) -> str:
        mark = {None: "    ", True: "ok  ", False: "BAD "}[self.good]
        return f"{mark}{self.what}: {self.found}"


@frozen
class WeaveReport:
    """What the check of one weave file found."""

    weave: Weave
    lines: tuple[CheckLine, ...]
    smallest_aspect_ratio: float | None = None
    repeats: tuple[Repeat, ...] = field(default=(), repr=False)

    @property
    def ok(self) -> bool:
        """Whether the weave can be used: every check that decides came out good."""
        return all(line.good is not False for line in self.lines)

    def __str__(self) -> str:
        verdict = "can be used" if self.ok else "cannot be used as it is"
        head = f"{self.weave.title} ({self.weave.key}), {self.weave.form}: {verdict}"
        return "\n".join([head, *(str(line) for line in self.lines)])

    def record(self) -> dict[str, object]:
        """Return the report as plain lists and numbers, for JSON."""
        return {
            "weave": self.weave.key,
            "title": self.weave.title,
            "ok": self.ok,
            "smallest_aspect_ratio": self.smallest_aspect_ratio,
            "checks": [
                {"what": line.what, "found": line.found, "good": line.good} for line in self.lines
            ],
            "solved": [
                {
                    "aspect_ratio": repeat.aspect_ratio,
                    "repeat_length": float(repeat.vectors[0, 0]),
                    "rings": repeat.rings,
                    "width": repeat.width,
                    "thickness": repeat.thickness,
                    "smallest_gap": repeat.residual_gap,
                }
                for repeat in self.repeats
            ],
        }


def check_weave(path: str | Path) -> WeaveReport:
    """Check a weave file in full: its fields, its seed, and its geometry at several ring sizes.

    Parameters
    ----------
    path
        A weave file (TOML).

    Returns
    -------
    WeaveReport
        One line for each check; ``str`` of it is the text to show.

    Raises
    ------
    InputError
        With every fault of the file, if it cannot be read as a weave.
    """
    weave = read_weave_file(Path(path))
    library = [load_weave(key) for key in weave_keys() if not _is_shipped_file(Path(path), key)]
    lines = [*_check_links(weave), *_check_seed(weave)]
    if any(line.good is False for line in lines):
        lines.append(CheckLine(what="geometry", found="not solved: put the above right first"))
        return WeaveReport(weave=weave, lines=tuple(lines))
    return _solve(weave, lines, library)


def _is_shipped_file(path: Path, key: str) -> bool:
    """Whether a path is that of a weave of the library: it is not compared with itself."""
    return path.resolve() == (LIBRARY_FOLDER / f"{key}.toml").resolve()


def _check_links(weave: Weave) -> list[CheckLine]:
    """Count rings and links, and see that the endless weave is one piece."""
    through = ", ".join(str(count) for count in count_links(weave))
    rings = len(weave.ring_class)
    parts = count_parts(weave)
    if parts == 1:
        found = "the endless weave is one piece"
    elif parts == 0:
        found = "the links do not join each repeat to the next"
    else:
        found = f"the endless weave falls into {parts} pieces that are not linked"
    return [
        CheckLine(what="repeat", found=f"{rings} rings, {len(weave.links)} links"),
        CheckLine(what="each ring goes through", found=f"{through} others"),
        CheckLine(what="one piece", found=found, good=parts == 1),
    ]


def _check_seed(weave: Weave) -> list[CheckLine]:
    """Compare the seed's links with the declared ones, and measure its gap and its invariants."""
    poses = read_seed(weave)
    declared = {tuple(row) for row in order_links(weave.links).tolist()}
    linked = {tuple(row) for row in find_links(poses).tolist()}
    missing, extra = sorted(declared - linked), sorted(linked - declared)
    found = "the seed's rings are linked as declared"
    if missing:
        found = f"declared but not linked in the seed: {_say_links(missing)}"
    if extra:
        more = f"linked in the seed but not declared: {_say_links(extra)}"
        found = f"{found}; {more}" if missing else more
    gap = smallest_gap(poses)
    room = f"smallest gap {gap:.3f} wire diameters"
    if gap < 0:
        room += " (wires overlap; they are moved apart first)"
    lines = [
        CheckLine(what="links", found=found, good=not missing and not extra),
        CheckLine(what="seed", found=room),
    ]
    lines += [
        CheckLine(what="check of the file", found=str(finding), good=finding.holds)
        for finding in measure_invariants(weave, poses)
    ]
    return lines


def _say_links(links: list[tuple[int, ...]]) -> str:
    return ", ".join(f"{i}–{j} ({along:+d}, {across:+d})" for i, j, along, across in links)


def _solve(weave: Weave, lines: list[CheckLine], library: list[Weave]) -> WeaveReport:
    """Find the smallest aspect ratio and solve at three more; compare with the library."""
    from chainplan.weave.solving.cache import find_smallest_aspect_ratio, solve_cached

    try:
        smallest = find_smallest_aspect_ratio(weave)
    except WeaveError as error:
        lines.append(CheckLine(what="smallest aspect ratio", found=str(error), good=False))
        return WeaveReport(weave=weave, lines=tuple(lines))
    found = f"{smallest:.3f} (a local search from the seed: a better seed may find less)"
    lines.append(CheckLine(what="smallest aspect ratio", found=found, good=True))
    repeats = []
    for factor in tuning().check_factors:
        try:
            repeat = solve_cached(weave, smallest * factor)
        except WeaveError as error:
            what = f"solved at {smallest * factor:.2f}"
            lines.append(CheckLine(what=what, found=str(error), good=False))
            continue
        repeats.append(repeat)
        lines.append(_judge_repeat(weave, repeat))
    if repeats:
        lines += _compare(weave, repeats, library)
    return WeaveReport(
        weave=weave, lines=tuple(lines), smallest_aspect_ratio=smallest, repeats=tuple(repeats)
    )


def _judge_repeat(weave: Weave, repeat: Repeat) -> CheckLine:
    """Check a solved repeat again by its own numbers, and say them."""
    kept = np.array_equal(order_links(repeat.links), order_links(weave.links))
    clear = repeat.residual_gap >= -OVERLAP_ALLOWED
    length = float(repeat.vectors[0, 0])
    if weave.form == Form.SHEET:
        across = float(repeat.vectors[1, 1])
        size = f"repeat {length:.4f} by {across:.4f}"
        density = f"{100 * repeat.rings / (length * across):.2f} rings per cm²"
    else:
        size = f"repeat {length:.4f}, width {repeat.width:.3f}"
        density = f"{10 * repeat.rings / length:.2f} rings per cm"
    wires = "touch and do not overlap" if clear else "OVERLAP"
    found = (
        f"{size}, thickness {repeat.thickness:.3f} wire diameters: {density} in 1 mm wire; "
        f"links {'kept' if kept else 'LOST'}; wires {wires}"
    )
    what = f"solved at aspect ratio {repeat.aspect_ratio:.3f}"
    return CheckLine(what=what, found=found, good=kept and clear)


def _compare(weave: Weave, repeats: list[Repeat], library: list[Weave]) -> list[CheckLine]:
    """Say whether the library has this weave already, by its links and by its shape.

    A loose chain hangs taut in more than one way, and two seeds of one weave may end in two of
    them; so the shapes are compared at every ratio that was solved.
    """
    alike = find_same_links(weave, library)
    names = ", ".join(other.title for other in alike)
    told = [words for other in alike if (words := _say_where_same(repeats, other))]
    if told:
        found = "; ".join(told)
    elif alike:
        found = f"the links of {names}, but another geometry"
    else:
        found = "no other weave of the library has these links"
    lines = [CheckLine(what="library", found=found)]
    if alike and not list_rules(weave):
        advice = f"links alone do not tell it from {names}: give the file [[invariants]] of its own"
        lines.append(CheckLine(what="advice", found=advice))
    return lines


def _say_where_same(repeats: list[Repeat], other: Weave) -> str:
    """Say at which aspect ratios another weave has the same geometry; "" if at none."""
    from chainplan.weave.solving.cache import solve_cached

    same: list[str] = []
    differ: list[str] = []
    for repeat in repeats:
        try:
            twin = solve_cached(other, repeat.aspect_ratio, repeat.state)
        except WeaveError:
            continue
        (same if is_same_shape(repeat, twin) else differ).append(f"{repeat.aspect_ratio:.2f}")
    if not same:
        return ""
    if not differ:
        return f"the same geometry as {other.title}"
    return (
        f"the same geometry as {other.title} at aspect ratio {' and '.join(same)}, another at "
        f"{' and '.join(differ)}: most likely one weave that can hang in more than one way"
    )
