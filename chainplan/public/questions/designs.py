"""Designs looked at before anything is planned: how many rings of each metal, and a picture."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.public.jobs import given_job, lay_out
from chainplan.threads import one_thread_of_numpy

if TYPE_CHECKING:
    from chainplan.model.job import Job
    from chainplan.model.piece.design import DesignPreview


@one_thread_of_numpy
def preview_designs(
    job: Job | str | Path, target: str | Path | None = None
) -> tuple[DesignPreview, ...]:
    """Lay out the pieces of a job that have a design or are graduated, and tell their rings.

    Parameters
    ----------
    job : Job, str or Path
        The job, or its file.
    target : str or Path, optional
        A folder for a shaded picture of each of them, as PNG and SVG.

    Returns
    -------
    tuple of DesignPreview
        Rings of each metal and size in one copy, what to know of how the design comes out (how
        fine a picture can be), and the pictures written. Pieces of one metal and size are left out.

    Raises
    ------
    InputError
        With every fault of the file, or if a picture cannot be written.
    """
    from chainplan.model.piece.design import BagCount, DesignPreview
    from chainplan.reference import find_metal
    from chainplan.report.text.weaving import fill_bags
    from chainplan.report.wire.metal_picture import write_design_picture
    from chainplan.writing import safe_name

    known = given_job(job)
    assert known is not None
    found = []
    for piece, layout in zip(known.pieces, lay_out(known), strict=True):
        bags = fill_bags(layout)[0]
        if len(bags) < 2 and not layout.design_notes:
            continue
        metals = {item.metal for item in layout.materials}
        names = {metal: find_metal(metal, own=known.metals).title for metal in metals}
        files: tuple[Path, ...] = ()
        if target is not None:
            path = Path(target) / safe_name(piece.name)
            try:
                files = tuple(write_design_picture(layout, path, names))
            except OSError as error:
                message = f"{path}: cannot be written ({error.strerror})"
                raise InputError(message) from None
        found.append(
            DesignPreview(
                piece=piece.name,
                rings=layout.rings,
                bags=tuple(
                    BagCount(
                        metal=bag.metal, wire_mm=bag.wire_mm, inner_mm=bag.inner_mm, rings=bag.rings
                    )
                    for bag in bags
                ),
                notes=layout.design_notes,
                files=tuple(map(str, files)),
            )
        )
    return tuple(found)
