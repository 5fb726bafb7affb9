"""What is woven and welded of a plan, without prices and dates: all that the bench's paper shows.

Pages for the bench are drawn from this alone and carry its digest at their foot. So a price that
changes leaves them as they are: what was printed before still belongs to the new bench sheet, and
pages that were drawn before are taken from the shelf.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.bench import Bench
from chainplan.model.bench.groups import SheetSettings
from chainplan.model.estimate import Estimates
from chainplan.model.job import Job
from chainplan.model.plan import Plan
from chainplan.store import key_of
from chainplan.store.packing import digest
from chainplan.store.version import drawing_version
from chainplan.writing import safe_name

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.model.job import Section
    from chainplan.model.plan import PiecePlan
    from chainplan.store import ResultShelf


def work_of(plan: Plan) -> Plan:
    """Take what is woven and welded out of a plan; the digest of it stands in the stamp."""
    bench = plan.job.bench
    work = Plan(
        stamp=replace(plan.stamp, input_sha256="", work_sha256=""),
        job=Job(
            name=plan.job.name,
            pieces=(),
            bench=Bench(
                electrode=bench.electrode,
                heat=bench.heat,
                sheet=SheetSettings(language=bench.sheet.language),
            ),
            metals=plan.job.metals,
        ),
        pieces=tuple(map(_piece_alone, plan.pieces)),
        batch=plan.batch,
        estimates=Estimates(),
        news=plan.news,
    )
    return replace(work, stamp=replace(work.stamp, work_sha256=_mark(work)))


GRAIN = 1e-4
"""Places, angles and times of the mark are taken in steps of this: from run to run their last
digits differ with the places that the machine's memory gives to arrays, and the mark must not."""


def _mark(work: Plan) -> str:
    """Digest what is asked for, and what came of it: rings in space, joins, order and times."""
    pieces = [
        (
            replace(piece.piece, parts=(), sections=_without_metals(piece)),
            layout.materials,
            (layout.material, layout.links, _steps(layout.centre_mm), _steps(layout.normal)),
            (joins.pre_closed, joins.face, _steps(joins.angle_rad)),
            (order.ring, order.pass_number, _steps(order.start_s), _steps(order.wait_s)),
        )
        for piece in work.pieces
        for layout, joins, order in ((piece.layout, piece.joins, piece.order),)
    ]
    batch = work.batch
    turns = (batch.piece, batch.copy, batch.first_step, batch.steps)
    return digest((work.stamp, work.job, pieces, turns, work.news))


def _without_metals(piece: PiecePlan) -> tuple[Section, ...]:
    """Sections without metal and design: what these come to, ring by ring, is in the layout."""
    return tuple(
        replace(section, metal="", temper="", design=None, design_tempers=())
        for section in piece.piece.sections
    )


def _steps(values: FloatArray) -> IndexArray:
    """Count whole steps; their edges lie where no round number of the job falls."""
    return np.floor(values / GRAIN + 1 / np.pi).astype(np.int64)


def _piece_alone(plan: PiecePlan) -> PiecePlan:
    """Leave out what is sold of a piece, and when; how many copies and its notes are on paper."""
    piece = replace(
        plan.piece,
        sections=tuple(replace(section, where="") for section in plan.piece.sections),
        fittings=tuple(
            replace(item, price=None, delivery_days=None) for item in plan.piece.fittings
        ),
        due=None,
        late_weight=1.0,
        list_price=None,
        customer="",
        minutes="",
        where="",
    )
    return replace(plan, piece=piece, counts=(), heat=plan.heat.unsolved())


def keep_pages(
    write: Callable[[], list[Path]],
    what: str,
    drawn_from: str,
    folder: Path,
    shelf: ResultShelf | None,
) -> None:
    """Take files that were drawn before of the same work from a shelf; write and keep them if not.

    Parameters
    ----------
    write : callable
        Draws the files, from the work and nothing else, and returns them.
    what : str
        Which files, and what they are drawn by beside the work.
    drawn_from : str
        Digest of the work, as :func:`work_of` gives it.
    folder : Path
        Where the files are to stand.
    shelf : ResultShelf, optional
        Where they are kept; without one they are drawn.
    """
    if shelf is None:
        write()
        return
    key = pages_key(what, drawn_from)
    kept = shelf.get(key)
    if isinstance(kept, dict) and all(map(_is_a_file, kept.items())):
        for name, content in kept.items():
            (folder / name).write_bytes(content.tobytes())
        return
    written = write()
    shelf.put(key, {p.name: np.frombuffer(p.read_bytes(), dtype=np.uint8) for p in written})


def pages_key(what: str, drawn_from: str) -> str:
    """Tell the key of some pages of a work."""
    return key_of("pages", what, drawn_from, drawing_version())


def keep_pictures(
    draw: Callable[[], list[bytes | None]], drawn_from: str, shelf: ResultShelf | None
) -> list[bytes | None]:
    """Take the pictures of all pieces from a shelf, as :func:`keep_pages` takes files."""
    if shelf is None:
        return draw()
    key = key_of("pictures", drawn_from, drawing_version())
    kept = shelf.get(key)
    if isinstance(kept, list) and all(isinstance(item, (bytes, type(None))) for item in kept):
        return kept
    drawn = draw()
    shelf.put(key, drawn)
    return drawn


def _is_a_file(kept: tuple[object, object]) -> bool:
    """Whether something kept is the content of a file of a bare name: nothing leads elsewhere."""
    name, content = kept
    return isinstance(content, np.ndarray) and isinstance(name, str) and safe_name(name) == name
