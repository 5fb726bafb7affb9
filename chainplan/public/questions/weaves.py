"""The weaves: listed, told about, drawn; a file of one's own checked."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.model.kinds import Form
from chainplan.model.piece.count import WeaveDescription
from chainplan.public.counting import SHOWN_RINGS, count_rings
from chainplan.threads import one_thread_of_numpy

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.model.piece.weave import Repeat, Weave
    from chainplan.weave import WeaveReport

SHOWN_LENGTH = 30
"""Length, in wires, of each weave on the page of the whole library."""


SHOWN_ROWS = 7
"""Rows of the sheets on it."""


CHART_POINTS = 12
"""Aspect ratios at which a weave is solved for its chart."""


def list_weaves() -> tuple[Weave, ...]:
    """Return the weaves that come with chainplan, by key."""
    from chainplan.weave import load_weave, weave_keys

    return tuple(load_weave(key) for key in weave_keys())


@one_thread_of_numpy
def describe_weave(
    name: str, *, wire: str | float | None = None, inner: str | float | None = None
) -> WeaveDescription:
    """Tell about one weave and, if a ring is given, what that ring makes of it.

    Raises
    ------
    InputError
        If there is no such weave, or only one of wire and inner is given.
    WeaveError
        If the ring cannot be woven so.
    """
    from chainplan.weave import find_smallest_aspect_ratio, load_weave

    weave = load_weave(name)
    smallest = find_smallest_aspect_ratio(weave)
    if wire is None and inner is None:
        return WeaveDescription(weave=weave, smallest_aspect_ratio=smallest)
    if wire is None or inner is None:
        message = "give both the wire and the inner diameter of the ring, or neither"
        raise InputError(message)
    rows = 5 if weave.form != Form.CHAIN else None
    count = count_rings(weave=weave.key, wire=wire, inner=inner, rings=SHOWN_RINGS, rows=rows)
    count = replace(count, wanted_rings=None)  # a stretch to be told about, which nobody asked for
    return WeaveDescription(
        weave=weave, smallest_aspect_ratio=smallest, count=count, layout=count.layout
    )


@one_thread_of_numpy
def check_weave(path: str | Path) -> WeaveReport:
    """Check a weave file of the user's own: does it hold together, at which ring sizes, is it new.

    Raises
    ------
    InputError
        With every fault of the file, if it cannot be read as a weave.
    """
    from chainplan.weave import check_weave as check

    return check(Path(path))


@one_thread_of_numpy
def draw_weave(
    described: WeaveDescription, target: str | Path, *, numbers: bool = False
) -> tuple[Path, ...]:
    """Draw a weave as :func:`describe_weave` tells of it, shaded, as SVG and PNG.

    ``target`` is a file name (either ending will do) or a folder. Returns the files written.

    Raises
    ------
    InputError
        If no ring was given, or the files cannot be written.
    """
    from chainplan.report.wire.weave_picture import write_weave_picture

    with _writing(target):
        return tuple(write_weave_picture(described, target, numbers=numbers))


@one_thread_of_numpy
def draw_weave_chart(described: WeaveDescription, target: str | Path) -> Path:
    """Chart a weave's rings per cm against the aspect ratio, with its limit and the user's ring.

    Parameters
    ----------
    described : WeaveDescription
        With a ring.
    target : str or Path
        A file that ends in .png or .svg.

    Raises
    ------
    InputError
        If no ring was given, or the file cannot be written.
    """
    from chainplan.errors import WeaveError
    from chainplan.report.charts.weave import write_weave_chart
    from chainplan.weave import solve_cached

    if described.count is None:
        message = "there is no chart without a ring: give the wire and the inner diameter"
        raise InputError(message)
    own = described.count.aspect_ratio
    smallest = described.smallest_aspect_ratio
    steps = sorted({*(smallest * (1.002 + 0.08 * k) for k in range(CHART_POINTS)), own})
    taut: list[Repeat] = []
    gathered: list[Repeat] = []
    for ratio in steps:
        for state, found in (("taut", taut), ("gathered", gathered)):
            try:
                found.append(solve_cached(described.weave, ratio, state))
            except WeaveError:
                continue
    with _writing(target):
        return write_weave_chart(
            taut,
            gathered,
            Path(target),
            wire_mm=described.count.wire_mm,
            title=described.weave.title,
            smallest_aspect_ratio=smallest,
            own_aspect_ratio=own,
        )


@one_thread_of_numpy
def draw_weaves(target: str | Path, *, wire: str | float = "1.0mm") -> tuple[Path, ...]:
    """Draw all weaves of the library on one page, at the same wire, as SVG and PNG.

    Each is drawn with the ring ten per cent above its smallest workable aspect ratio.

    Raises
    ------
    InputError
        If the wire cannot be read or the files cannot be written.
    """
    from chainplan.report.wire.weave_picture import write_library_page
    from chainplan.units import read_wire_mm
    from chainplan.weave import find_smallest_aspect_ratio

    try:
        wire_mm = read_wire_mm(wire) if isinstance(wire, str) else float(wire)
    except InputError as error:
        raise InputError(error.at("wire")) from None
    shown = []
    for weave in list_weaves():
        inner_mm = round(1.1 * find_smallest_aspect_ratio(weave) * wire_mm, 2)
        rows = None if weave.form == Form.CHAIN else SHOWN_ROWS
        length_mm = SHOWN_LENGTH * wire_mm
        count = count_rings(
            weave=weave.key, wire=wire_mm, inner=inner_mm, length=length_mm, rows=rows
        )
        if count.layout is not None:
            shown.append((weave.title, f"{inner_mm:g} mm inside", count.layout))
    with _writing(target):
        return tuple(write_library_page(shown, target, wire_mm=wire_mm))


@contextmanager
def _writing(target: str | Path) -> Iterator[None]:
    """Say plainly if a picture cannot be written."""
    try:
        yield
    except OSError as error:
        message = f"{target}: cannot be written ({error.strerror})"
        raise InputError(message) from None
