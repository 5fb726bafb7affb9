"""Questions about rings and money before anything is planned: fit, substitutes, what if."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.errors import ChainplanError, InputError, Refusal
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.kinds import StockKind
from chainplan.public.counting import count_piece
from chainplan.public.jobs import BAD_FITS, choose_piece, read_job
from chainplan.public.questions.fits import SAME_SIZE_MM, springback_of
from chainplan.threads import one_thread_of_numpy

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from chainplan.model.estimate import PieceCounts, WhatIf
    from chainplan.model.job import Job, Piece, Section
    from chainplan.model.metal import Metal
    from chainplan.model.piece.fit import Shelf, ShelfRing
    from chainplan.model.plan import Plan

    Mass = Callable[[Sequence[tuple[float, float, float]]], float]

WITHOUT_A_PLAN = "welding times without waits: no weld order was searched"


@one_thread_of_numpy
def substitute_rings(
    job: Job | str | Path, *, piece: str | None = None, weaves: Sequence[str] = ()
) -> Shelf:
    """Say how a piece can be made from the wire, mandrels and rings on the job's shelf.

    Parameters
    ----------
    job : Job, str or Path
        The job, or its file; its stock is the shelf.
    piece : str, optional
        Which piece; needed if the job has several.
    weaves : sequence of str
        Other weaves to try; empty means as the piece has it.

    Raises
    ------
    InputError
        If something cannot be read, or nothing on the shelf is of the piece's metal.
    """
    from chainplan.model.piece.fit import Shelf
    from chainplan.reference import find_metal
    from chainplan.weave import load_weave

    job = read_job(job) if isinstance(job, (str, Path)) else job
    chosen = choose_piece(job, piece)
    first = chosen.sections[0]
    if any(section.weave == LOOSE_JOINS for section in chosen.sections):
        message = f"{chosen.name!r} is of {LOOSE_JOINS}, which hold in no weave: any ring will do"
        raise InputError(message)
    if len({section.metal for section in chosen.sections}) > 1:
        message = f"{chosen.name!r} has several metals; ask for a piece of one metal"
        raise InputError(message)
    metal = find_metal(first.metal, own=job.metals)
    keys = [load_weave(name).key for name in weaves]
    found = []
    for key in keys or [""]:
        for wire_mm, inner_mm, mandrel_mm in _on_shelf(first, metal, job):
            sections = tuple(
                replace(
                    section,
                    weave=key or section.weave,
                    wire_mm=wire_mm,
                    inner_mm=inner_mm,
                    mandrel_mm=mandrel_mm,
                    measured_rings_per_cm=None,
                )
                for section in chosen.sections
            )
            found.append(_shelf_ring(replace(chosen, quantity=1, sections=sections), job))
    if not found:
        kinds = "wire with a mandrel, and no finished rings"
        message = f"the job's stock holds no {kinds}, of {metal.key} for {chosen.name!r}"
        raise InputError(message)
    words = f"{first.wire_mm:.3g} mm wire, {first.inner_mm:.3g} mm inside"
    wanted = first.aspect_ratio

    def rank(ring: ShelfRing) -> tuple[object, ...]:
        poor = ring.verdict in ("", *BAD_FITS)
        miss = abs(ring.inner_mm / ring.wire_mm / wanted - 1)
        return (ring.rings == 0, poor, not ring.enough, miss, ring.wire_mm, ring.inner_mm)

    return Shelf(piece=chosen.name, wanted=words, rings=tuple(sorted(found, key=rank)))


def _on_shelf(
    section: Section, metal: Metal, job: Job
) -> Iterator[tuple[float, float, float | None]]:
    """Give every ring of a metal that the shelf gives: wire, inner diameter, mandrel [mm]."""
    seen: set[tuple[float, float]] = set()
    for kind in (StockKind.RINGS, StockKind.WIRE):
        for item in job.stock:
            if item.kind != kind or item.metal != metal.key or item.amount <= 0:
                continue
            rings: list[tuple[float, float | None]] = [(item.inner_mm, None)]
            if kind == StockKind.WIRE:
                wound = replace(section, wire_mm=item.size_mm, temper=item.temper or section.temper)
                springs = springback_of(wound, metal, job)
                rings = [
                    (inner_mm, mandrel.size_mm)
                    for mandrel in job.stock
                    if mandrel.kind == StockKind.MANDREL
                    and (inner_mm := springs(mandrel.size_mm)) is not None
                ]
            for inner_mm, mandrel_mm in rings:
                key = (round(item.size_mm, 2), round(inner_mm, 2))
                if inner_mm > item.size_mm and key not in seen:
                    seen.add(key)
                    yield item.size_mm, inner_mm, mandrel_mm


def _shelf_ring(piece: Piece, job: Job) -> ShelfRing:
    """Count one copy of a piece made of a ring from the shelf, and see whether there is enough."""
    from chainplan.estimate import take_counted
    from chainplan.model.piece.fit import ShelfRing
    from chainplan.weave import feel_of

    first = piece.sections[0]
    wire_m = sum(
        item.amount
        for item in job.stock
        if item.kind == StockKind.WIRE
        and item.metal == first.metal
        and abs(item.size_mm - first.wire_mm) < SAME_SIZE_MM
    )
    finished = sum(
        int(item.amount)
        for item in job.stock
        if item.kind == StockKind.RINGS
        and item.metal == first.metal
        and abs(item.size_mm - first.wire_mm) < SAME_SIZE_MM
        and abs(item.inner_mm - first.inner_mm) <= 0.01 * first.inner_mm
    )
    ring = ShelfRing(
        weave=first.weave,
        metal=first.metal,
        wire_mm=first.wire_mm,
        inner_mm=first.inner_mm,
        mandrel_mm=first.mandrel_mm,
        at_hand_m=wire_m,
        rings_at_hand=finished,
    )
    try:
        counted = count_piece(piece, metals=job.metals, judged=False)
    except ChainplanError as error:
        return replace(ring, reason=str(error))
    take = take_counted(job, piece, counted)
    needed_m = sum(need.wire_length_m for need in take.wire)
    missing_m = needed_m - wire_m
    return replace(
        ring,
        verdict=feel_of(first),
        rings=sum(count.rings for count in counted),
        length_mm=sum(count.length_mm for count in counted),
        mass_g=sum(count.mass_g for count in counted),
        needed_m=needed_m,
        enough=missing_m <= 0,
        reason="" if missing_m <= 0 else f"{missing_m:.2f} m of wire missing",
    )


@one_thread_of_numpy
def what_if(
    job: Job | str | Path, changes: Sequence[str], *, plan: Plan | str | Path | None = None
) -> WhatIf:
    """Set cost and price of every piece before and after changes of prices and rates.

    Nothing is planned anew: counts and welding times are those of a plan, or, without one, the
    quick count's plain sums without waits.

    Parameters
    ----------
    job : Job, str or Path
        The job, or its file.
    changes : sequence of str
        "metal:sterling-silver+10%", "wage=35", "yield=0.95", "argon=0.05", "stations.cut_s=3".
    plan : Plan, str or Path, optional
        A plan of this very job, or the folder in which it was written.

    Raises
    ------
    InputError
        If something cannot be read, a change would alter the weld order, or the plan was made
        from another state of the job.
    """
    from chainplan.estimate import change_job, count_from_table, weigh_changes
    from chainplan.model.plan import Plan

    job = read_job(job) if isinstance(job, (str, Path)) else job
    changed, said = change_job(job, changes)
    share, basis = 1.0, WITHOUT_A_PLAN
    if isinstance(plan, Plan):
        _check_same(job, plan.stamp.input_sha256, "the plan")
        counts: Sequence[PieceCounts] = plan.estimates.counts
        share, basis = plan.estimates.weld_share, "welding times of the plan"
    elif plan is not None:
        from chainplan.record.reading.plan_folder import read_counts

        counts, share, sha256 = read_counts(plan)
        _check_same(job, sha256, str(plan))
        basis = f"welding times of the plan in {plan}"
    else:
        counts = [
            count_from_table(job, piece, count_piece(piece, metals=job.metals, judged=False))
            for piece in job.pieces
        ]
    return weigh_changes(job, changed, counts, weld_share=share, changes=said, basis=basis)


def _check_same(job: Job, sha256: str, where: str) -> None:
    """Refuse a plan that was made from another state of the job."""
    if sha256 != job.input_sha256:
        found = f"{where}: was planned from another state of the job file"
        raise InputError(Refusal(found, "plan the job again, or ask without the plan"))
