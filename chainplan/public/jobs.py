"""Job files: started, read, checked, and their pieces laid out."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import (
    CannotBeWoven,
    Fault,
    InputError,
    Refusal,
    WeaveError,
    did_you_mean,
    unknown,
)
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.piece.fittings import CONNECTING
from chainplan.threads import one_thread_of_numpy

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from chainplan.model.job import Job, Piece, Section
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout
    from chainplan.model.piece.weave_names import WeaveName, WeaveNames

    OnStep = Callable[[str, int, int], None]

BAD_FITS = {
    "very tight": "very tight",
    "will not hold its pattern": "so loose that it will not hold its pattern",
}
"""Verdicts on a ring that a plan warns of, and how it says so."""


def read_job(path: str | Path, *, language: str | None = None) -> Job:
    """Read a job file (.xlsx, .csv or .toml) and check all of it.

    Parameters
    ----------
    path : str or Path
        The file.
    language : str, optional
        Language of the bench sheet, whatever the job's own setting says.

    Raises
    ------
    InputError
        With every fault of the file, each with its sheet and cell; if there is no such language.
    """
    from chainplan.job import read_job as read
    from chainplan.model.bench.groups import LANGUAGES
    from chainplan.public.grading import expand_grades

    if language is not None and language not in LANGUAGES:
        message = f"language: found {language!r}; {did_you_mean(language, LANGUAGES)}"
        raise InputError(message)
    job = expand_grades(read(Path(path), weaves=weave_names()))
    if language is None:
        return job
    sheet = replace(job.bench.sheet, language=language)
    return replace(job, bench=replace(job.bench, sheet=sheet))


def given_job(job: Job | str | Path | None) -> Job | None:
    """Return a job that was given as a path, as it is, or not at all."""
    return read_job(job) if isinstance(job, (str, Path)) else job


@one_thread_of_numpy
def check_job(path: str | Path) -> tuple[Fault, ...]:
    """List every fault of a job file; an empty tuple means that it can be planned.

    Raises
    ------
    InputError
        If the file cannot be opened at all.
    """
    try:
        return tuple(_faults_of(read_job(path)))
    except InputError as error:
        if error.faults:
            return error.faults
        raise


def _faults_of(job: Job) -> Iterator[Fault]:
    """Tell what keeps the pieces of a job from being laid out.

    Of pieces woven alike the first is laid out; the others differ in their length alone.
    """
    from chainplan.weave import fit_piece, lay_piece

    known: set[Section] = set()
    for piece in job.pieces:
        woven = _woven_as(piece)
        try:
            if woven in known:
                length_mm = fit_piece(piece)
            else:
                length_mm = lay_piece(piece, stock=job.stock).length_mm
            yield from _parts_beyond(piece, length_mm)
            known |= {woven} if woven else set()
        except WeaveError as error:
            yield from _cannot_be_laid(piece, error, job.metals)


def _woven_as(piece: Piece) -> Section | None:
    """Return what a plain piece of one section is but for its length; nothing for any other."""
    one = piece.sections[0]
    plain = len(piece.sections) == 1 and not piece.fittings and one.weave != LOOSE_JOINS
    if not plain or piece.closed or one.length_mm is None or one.design is not None:
        return None
    return replace(one, length_mm=1.0, where="")


@one_thread_of_numpy
def lay_out(job: Job, *, on_step: OnStep | None = None) -> tuple[Layout, ...]:
    """Lay every piece of a job out in space.

    Raises
    ------
    InputError
        With a fault for every piece whose rings do not go into its weave.
    """
    step = on_step or no_step
    faults: list[Fault] = []
    layouts = []
    for number, piece in enumerate(job.pieces):
        step("weaves", number, len(job.pieces))
        layout, found = lay_out_piece(piece, job)
        faults += found
        if layout is not None:
            layouts.append(layout)
    if faults:
        raise InputError(faults=faults)
    return tuple(layouts)


def _cannot_be_laid(
    piece: Piece, error: WeaveError, metals: Mapping[str, Metal]
) -> tuple[Fault, ...]:
    """Tell why a piece cannot be laid out, with the least ring that goes into its weave."""
    small = isinstance(error, CannotBeWoven) and tuple(rings_too_small(piece, metals))
    where = piece.where or repr(piece.name)
    return small or (error.at(where, otherwise="choose another ring"),)


def lay_out_piece(
    piece: Piece, job: Job, *, asked: Piece | None = None
) -> tuple[Layout | None, tuple[Fault, ...]]:
    """Lay one piece out, or tell what is wrong with it.

    ``asked``: the same piece as it stands in the job, whose places faults are told at.
    """
    from chainplan.weave import lay_piece

    asked = asked or piece
    try:
        layout = lay_piece(piece, stock=job.stock)
    except WeaveError as error:
        return None, _cannot_be_laid(asked, error, job.metals)
    return layout, tuple(_parts_beyond(asked, layout.length_mm))


def _parts_beyond(piece: Piece, length_mm: float) -> Iterator[Fault]:
    """Tell every part that reaches beyond a piece whose length only its rings give.

    Where the file gives the length, the reader has told it at its cell.
    """
    own = [section for section in piece.sections if section.fitting is None]
    if all(section.length_mm is not None for section in own):
        return
    whole_mm = length_mm + piece.clasp_length_mm
    for part in piece.parts:
        end_mm = part.place_mm + part.length_mm
        if end_mm > whole_mm:
            yield Fault(
                piece.where or repr(piece.name),
                f"the part {part.name!r} reaches to {end_mm:g} mm on a piece of {whole_mm:.4g} mm",
                "it must lie on the piece",
            )


def rings_too_small(piece: Piece, metals: Mapping[str, Metal] | None) -> Iterator[Fault]:
    """Tell every section whose ring is too small, and the least ring and mandrel that weave."""
    from chainplan.weave import find_least_inner_mm, load_weave

    for section in piece.sections:
        if section.weave in {LOOSE_JOINS, CONNECTING}:
            continue
        least_mm = find_least_inner_mm(section)
        if section.inner_mm < least_mm:
            weave = load_weave(section.weave)
            yield Fault(
                section.where or piece.where or repr(piece.name),
                f"a ring of {section.inner_mm:.3g} mm inside is too small for {weave.title}",
                f"at least {least_mm:g} mm inside for {section.wire_mm:.3g} mm wire"
                f"{_next_mandrel(section, least_mm, metals)}",
            )


MANDREL_STEP_MM = 0.25
"""Step of a usual series of mandrels. Common practice, no source. [mm]"""


def _next_mandrel(section: Section, least_mm: float, metals: Mapping[str, Metal] | None) -> str:
    """Name the smallest usual mandrel that gives a ring so large; nothing where none is known."""
    from chainplan.reference import find_metal, inner_from_mandrel_mm, mandrel_from_inner_mm

    metal = find_metal(section.metal, own=metals)
    ring = (metal, section.temper)
    try:
        exact_mm = mandrel_from_inner_mm(section.wire_mm, least_mm, *ring)
        mandrel_mm = math.ceil(exact_mm / MANDREL_STEP_MM - 1e-9) * MANDREL_STEP_MM
        inner_mm = inner_from_mandrel_mm(section.wire_mm, mandrel_mm, *ring)
    except InputError:  # nothing is known of its springback
        return ""
    return f"; a mandrel of {mandrel_mm:g} mm gives {inner_mm:.2f}"


def start_job(path: str | Path) -> Path:
    """Write a starter workbook with the columns explained and two invented rows.

    Raises
    ------
    InputError
        If the file exists already or cannot be written.
    """
    from chainplan.job import write_starter

    target = Path(path)
    write_starter(target, weaves=weave_names())
    return target


def no_step(_stage: str, _done: int, _total: int) -> None:
    """Tell nobody."""


def choose_piece(job: Job, name: str | None) -> Piece:
    """Pick one piece of a job by name; without a name the job must have just one.

    Raises
    ------
    InputError
        If there is no such piece, or several and no name.
    """
    if name is None:
        if len(job.pieces) == 1:
            return job.pieces[0]
        names = ", ".join(repr(piece.name) for piece in job.pieces)
        raise InputError(Refusal(f"the job has {len(job.pieces)} pieces", f"name one of {names}"))
    for piece in job.pieces:
        if piece.name == name:
            return piece
    names_there = [piece.name for piece in job.pieces]
    said = unknown(name, names_there, what="piece")
    raise InputError(replace(said, trouble="is not in the job"))


def weave_source(weave: str) -> str:
    """Tell what a weave of the user's own is made from, by its file; empty for those built in."""
    import hashlib

    if not weave.endswith(".toml"):
        return ""
    return hashlib.sha256(Path(weave).read_bytes()).hexdigest()


def weave_names() -> WeaveNames:
    """Return the weave names that a job may use, as the reader wants them."""
    from chainplan.model.piece.weave_names import WeaveNames
    from chainplan.weave import load_weave, weave_keys

    return WeaveNames.of((load_weave(key) for key in weave_keys()), _open_weave_file)


def _open_weave_file(path: Path) -> WeaveName:
    """Read a weave of the user's own; from here on its path stands for it."""
    from chainplan.model.piece.weave_names import WeaveName
    from chainplan.weave import load_weave

    return replace(WeaveName.of(load_weave(path)), key=str(path))
