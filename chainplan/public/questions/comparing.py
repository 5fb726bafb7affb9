"""Alternatives for one piece side by side: other wires, inner diameters, metals."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.public.jobs import choose_piece, read_job
from chainplan.threads import one_thread_of_numpy
from chainplan.units import read_length_mm, read_wire_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.model.estimate import Comparison
    from chainplan.model.job import Job


@one_thread_of_numpy
def compare_rings(
    job: Job | str | Path,
    *,
    piece: str | None = None,
    wires: Sequence[str] = (),
    inners: Sequence[str] = (),
    metals: Sequence[str] = (),
    targets: Sequence[str] = (),
    workers: int = 1,
) -> Comparison:
    """Set ring sizes and metals for one piece side by side.

    Parameters
    ----------
    job : Job, str or Path
        The job, or its file.
    piece : str, optional
        Which piece; needed if the job has several.
    wires, inners, metals : sequence of str
        What to try; empty means as the piece has it.
    targets : sequence of str
        What an alternative must meet: "under 30 g", "price<=250", "fits in 2 days".
    workers : int
        So many processes count alternatives side by side; the answer is the same for any number.

    Raises
    ------
    InputError
        If something cannot be read.
    """
    from chainplan.estimate import alternatives, compare_pieces
    from chainplan.public.many import count_pieces
    from chainplan.reference import find_metal

    job = read_job(job) if isinstance(job, (str, Path)) else job
    others = alternatives(
        choose_piece(job, piece),
        wires_mm=[_read("wire", text, read_wire_mm) for text in wires],
        inners_mm=[_read("inner", text, read_length_mm) for text in inners],
        metals=[find_metal(name, own=job.metals).key for name in metals],
    )
    counted = count_pieces(others, metals=job.metals, workers=workers)
    return compare_pieces(job, others, counted, targets=targets)


def _read(what: str, text: str, read: Callable[[str], float]) -> float:
    try:
        return read(text)
    except InputError as error:
        raise InputError(error.at(what)) from None


def draw_comparison(comparison: Comparison, path: str | Path) -> Path:
    """Draw a comparison as a chart, .png or .svg; return the file.

    Raises
    ------
    InputError
        If the file has another ending or cannot be written.
    """
    from chainplan.report.charts.comparison import write_comparison

    return write_comparison(comparison, path)
