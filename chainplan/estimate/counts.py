"""What the estimates need to know of a piece, taken from its layout, joins and weld order."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.estimate.pulse.welder import first_setting
from chainplan.model.estimate import FittingCount, PieceCounts, RingGroup
from chainplan.model.kinds import ReturnLead
from chainplan.model.piece.fittings import Fitted, FittingKind
from chainplan.model.piece.layout import Layout
from chainplan.model.workshop.schedule import FITTING, LAST_FITTING, read_minutes
from chainplan.reference import find_metal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.bench import Bench
    from chainplan.model.estimate import SettingLine
    from chainplan.model.job import Job, Piece
    from chainplan.model.order import WeldOrder
    from chainplan.model.piece.count import Count
    from chainplan.model.piece.fittings import Fitting
    from chainplan.model.piece.joins import Joins


def first_settings(job: Job, of: Layout | Piece) -> tuple[SettingLine, ...]:
    """First welder setting for every material of a layout, or every section of a piece without."""
    if isinstance(of, Layout):
        piece = of.piece
        made = [(material.section, material.metal, material.wire_mm) for material in of.materials]
    else:
        piece = of.name
        made = [(n, section.metal, section.wire_mm) for n, section in enumerate(of.sections)]
    return tuple(
        first_setting(
            find_metal(metal, job.metals),
            wire_mm,
            bench=job.bench,
            recorded=job.recorded,
            piece=piece,
            section=section,
        )
        for section, metal, wire_mm in made
    )


def count_piece(
    piece: Piece,
    layout: Layout,
    joins: Joins,
    order: WeldOrder | None,
    settings: Sequence[SettingLine],
    bench: Bench,
) -> PieceCounts:
    """Count one piece from what the stages before have found.

    Parameters
    ----------
    piece, layout, joins : Piece, Layout, Joins
        The piece, laid out, with its joins placed.
    order : WeldOrder or None
        Gives the time at the welder; without it a plain sum of handling and moving is taken.
    settings : sequence of SettingLine
        One for each of the layout's materials.
    bench : Bench
        Pace of the hand.
    """
    groups: list[RingGroup] = []
    for number in range(len(layout.materials)):
        groups += _groups_of_material(piece, layout, joins, number, settings[number])
    counts = PieceCounts(
        piece=piece.name,
        quantity=piece.quantity,
        groups=tuple(groups),
        weld_s=0.0,
        length_mm=layout.length_mm,
        clasps=1 if piece.clasp_length_mm > 0 else 0,
        fittings=count_fittings(piece),
        minutes=read_minutes(piece.minutes),
        passes=len(order.passes) if order is not None else 1,
        due=piece.due,
        list_price=piece.list_price,
    )
    seconds = order.bench_time_s if order is not None else plain_weld_s(counts, bench)
    return replace(counts, weld_s=seconds)


def _groups_of_material(
    piece: Piece, layout: Layout, joins: Joins, number: int, line: SettingLine
) -> list[RingGroup]:
    material = layout.materials[number]
    section = layout.sections[material.section]
    own = layout.material == number
    wire = layout.wire_mm[own]
    inner = 2 * layout.mean_radius_mm[own] - wire
    beforehand = joins.pre_closed[own]
    key = np.round(wire * 1e5) * 1e8 + np.round(inner * 1e5)
    _, first, which, many = np.unique(
        key, return_index=True, return_inverse=True, return_counts=True
    )
    closed = np.bincount(which, weights=beforehand, minlength=len(first))
    asked = piece.sections[material.section] if material.section < len(piece.sections) else None
    own_metal = (material.metal, material.temper) == (section.metal, section.temper)
    of_rings = asked is None or asked.made_of_rings
    has_joins = section.joins / section.rings if section.rings else 0.0
    groups = []
    for k in range(len(first)):
        rings = int(many[k])
        shut = int(closed[k])
        main = math.isclose(float(wire[first[k]]), section.wire_mm, rel_tol=1e-4) and math.isclose(
            float(inner[first[k]]), section.inner_mm, rel_tol=1e-4
        )
        groups.append(
            RingGroup(
                section=material.section,
                weave=section.weave,
                metal=material.metal,
                temper=material.temper,
                wire_mm=float(wire[first[k]]),
                inner_mm=float(inner[first[k]]),
                rings=rings if of_rings else 0,
                joins_in_place=round(rings * has_joins) - shut,
                joins_beforehand=shut,
                links=round(section.links * rings / max(section.rings, 1)),
                power_j=line.setting.power_j,
                hits=line.setting.hits,
                mandrel_mm=asked.mandrel_mm if asked is not None and main and own_metal else None,
                filler_g=line.filler_g,
                filler_s=line.filler_s,
            )
        )
    return groups


def count_from_table(job: Job, piece: Piece, counted: Sequence[Count]) -> PieceCounts:
    """Count a piece from the quick answer for each section: no joins placed, no order yet.

    Every join is taken to be welded in place. Where a weave has two ring sizes, the rings are taken
    as equal ones of the same wire and the same mass in all.
    """
    groups = []
    for number, (count, line) in enumerate(zip(counted, first_settings(job, piece), strict=True)):
        own_g = count.rings * count.ring_mass_g
        share = count.mass_g / own_g if own_g > 0 and count.mass_g > 0 else 1.0
        groups.append(
            RingGroup(
                section=number,
                weave=count.weave,
                metal=count.metal,
                temper=piece.sections[number].temper,
                wire_mm=count.wire_mm,
                inner_mm=(count.inner_mm + count.wire_mm) * share - count.wire_mm,
                rings=count.rings if piece.sections[number].made_of_rings else 0,
                joins_in_place=count.joins,
                joins_beforehand=0,
                links=count.links,
                power_j=line.setting.power_j,
                hits=line.setting.hits,
                mandrel_mm=count.mandrel_mm,
                filler_g=line.filler_g,
                filler_s=line.filler_s,
            )
        )
    counts = PieceCounts(
        piece=piece.name,
        quantity=piece.quantity,
        groups=tuple(groups),
        weld_s=0.0,
        length_mm=_length_mm(counted),
        clasps=1 if piece.clasp_length_mm > 0 else 0,
        fittings=count_fittings(piece),
        minutes=read_minutes(piece.minutes),
        due=piece.due,
        list_price=piece.list_price,
    )
    return replace(counts, weld_s=plain_weld_s(counts, job.bench))


def _length_mm(counted: Sequence[Count]) -> float:
    """Length of the piece that was counted, with what connects its sections."""
    layout = counted[0].layout if counted else None
    if layout is not None and len(layout.sections) == len(counted):
        return layout.length_mm
    return sum(count.length_mm for count in counted)


def count_fittings(piece: Piece) -> tuple[FittingCount, ...]:
    """Count what belongs to one copy and is no ring of the weave, and its extras."""
    return tuple(
        FittingCount(
            name=fitting.name,
            kind=str(fitting.kind),
            price=fitting.price,
            mass_g=fitting.mass_g,
            delivery_days=fitting.delivery_days,
            station=_station_of(fitting),
        )
        for fitting in piece.fittings
    )


def _station_of(fitting: Fitting) -> str:
    """Name the station at which a fitting comes onto its piece."""
    if fitting.kind == FittingKind.EXTRA:
        return ""
    return FITTING if fitting.fitted == Fitted.BEFORE else LAST_FITTING


def plain_weld_s(counts: PieceCounts, bench: Bench) -> float:
    """Time at the welder without an order, in s.

    Handling, extra hits, one walk there and back, one turn, and what the return lead costs.
    """
    pace = bench.pace
    handling = sum(
        group.joins_in_place * (pace.handle_s + (group.hits - 1) * pace.extra_hit_s)
        for group in counts.groups
    )
    walk_s = 2 * counts.length_mm / pace.move_mm_s
    return handling + walk_s + pace.turn_s + plain_lead_s(counts, bench)


def plain_lead_s(counts: PieceCounts, bench: Bench) -> float:
    """Time that the return lead costs without an order, in s.

    Earthed tweezers grip the ring of every join; a clip is moved along the piece there and back by
    twice its reach, and onto each ring that hangs alone; a block costs nothing. Where the bench
    leaves it open, the quicker of tweezers and clip, as a plan takes it.
    """
    lead = bench.lead
    if lead.return_lead == ReturnLead.BLOCK:
        return 0.0
    alone = sum(group.joins_in_place for group in counts.groups if group.links == 0)
    places = math.ceil(counts.length_mm / (2 * lead.clip_reach_mm))
    clip_s = lead.clip_move_s * max(2 * places - 1, alone, 0)
    tweezers_s = lead.tweezers_s * sum(group.joins_in_place for group in counts.groups)
    if lead.return_lead == ReturnLead.CLIP:
        return clip_s
    if lead.return_lead == ReturnLead.TWEEZERS:
        return tweezers_s
    return min(clip_s, tweezers_s)
