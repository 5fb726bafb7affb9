"""The join stage's entry: from a laid-out piece to where every join goes."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError
from chainplan.join.beforehand import (
    check_way,
    compare_ways,
    refuse_in_fittings,
    refuse_linked,
    rings_near_parts,
)
from chainplan.join.blocking import RingsInTheWay
from chainplan.join.cells import Workplace, block_heights_mm, list_cells, make_rules
from chainplan.join.placement import fill_cells
from chainplan.join.reaching.electrode import shape_electrode
from chainplan.join.reaching.surroundings import Neighbourhood, classify_rings
from chainplan.join.remarks import list_warnings
from chainplan.join.sides import choose_sides
from chainplan.join.spread import spread_cells
from chainplan.model.kinds import PreClosing, Tip
from chainplan.model.piece.joins import ClosingWay, Joins

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.join.beforehand import Closing
    from chainplan.model.bench.groups import ElectrodeSettings
    from chainplan.model.job import HeatSensitivePart
    from chainplan.model.piece.layout import Layout


def place_joins(
    layout: Layout,
    *,
    spot_mm: Sequence[float],
    electrode: ElectrodeSettings,
    way: str,
    parts: Sequence[HeatSensitivePart] = (),
    tip: str = "sharp",
    seed: int = 0,
) -> Joins:
    """Decide where every join goes, from where it is welded, and which rings are closed beforehand.

    Parameters
    ----------
    layout : Layout
        The piece.
    spot_mm : sequence of float
        Diameter of the molten spot in each of the layout's materials. [mm]
    electrode : ElectrodeSettings
        Shape of the electrode and what it must leave free.
    way : str
        One of ``model.kinds.PreClosing``.
    parts : sequence of HeatSensitivePart
        Parts near which rings may be closed beforehand.
    tip : str
        "sharp" or "blunt".
    seed : int
        Not used: nothing here is left to chance. Kept so that every stage is called alike.

    Raises
    ------
    InputError
        If a setting cannot be used.
    JoinError
        If two linked rings are both out of reach.
    """
    del seed
    check_way(way)
    if len(spot_mm) != len(layout.materials):
        message = f"spot_mm has {len(spot_mm)} values; expected one for each material"
        message += f", {len(layout.materials)}"
        raise InputError(message)
    spots, spot = np.unique(np.asarray(spot_mm, dtype=float), return_inverse=True)
    workplace = _make_workplace(layout, spots.tolist(), electrode, tip)
    spot_of_ring = spot.ravel()[layout.material]
    classes = classify_rings(layout, search_mm=workplace.search_mm, spot=spot_of_ring)
    cells, cell = list_cells(layout, classes)
    neighbourhood = Neighbourhood(layout, search_mm=workplace.search_mm)
    fill_cells(cells, layout, classes, neighbourhood, workplace)

    unreached = np.zeros(layout.rings, dtype=bool)
    unreached[cell >= 0] = ~cells.reached[cell[cell >= 0]]
    blocked_by = RingsInTheWay(
        neighbourhood,
        np.flatnonzero(unreached),
        classes.of_ring,
        classes.phase_rad,
        cells.blockers,
    )
    refuse_linked(layout, unreached, blocked_by)
    refuse_in_fittings(layout, unreached)
    distance_mm = electrode.beforehand_distance_mm
    near = rings_near_parts(layout, parts, distance_mm=distance_mm)
    closings = compare_ways(layout, unreached, near, distance_mm=distance_mm)
    wanted = layout.wire_mm >= electrode.two_sides_from_mm - 1e-9
    sides = {
        name: choose_sides(cells, cell, closing.pre_closed, wanted)
        for name, closing in closings.items()
    }
    found = spread_cells(layout, cells, cell, classes.phase_rad, sides[way], workplace)
    pre_closed = closings[way].pre_closed
    joins = Joins(
        piece=layout.piece,
        angle_rad=found.angle_rad,
        point_mm=found.point_mm,
        approach=found.approach,
        face=found.face,
        faces_reachable=found.faces_reachable,
        clearance_mm=found.clearance_mm,
        spot_gap_mm=found.air_mm,
        free_arc_rad=found.free_arc_rad,
        both_sides=found.both_sides,
        second_approach=found.second_approach,
        second_face=found.second_face,
        two_sides_wanted=wanted,
        pre_closed=pre_closed.copy(),
        blocked_by=blocked_by,
        way=PreClosing(way),
        ways=tuple(_closing_way(closings[name], sides[name].turns) for name in closings),
        electrode=Tip(tip),
        warnings=list_warnings(layout, found, spot_mm, pre_closed, unreached, wanted),
    )
    return _lock(joins)


def _make_workplace(
    layout: Layout, spot_mm: Sequence[float], settings: ElectrodeSettings, tip: str
) -> Workplace:
    shape = shape_electrode(settings, tip)
    lowest, highest = block_heights_mm(layout)
    outer = float((2 * layout.mean_radius_mm + layout.wire_mm).max(initial=0.0))
    return Workplace(
        electrode=shape,
        rules=make_rules(
            spot_mm,
            margin_mm=settings.spot_margin_mm,
            clearance_mm=settings.clearance_mm,
        ),
        lowest_mm=lowest,
        highest_mm=highest,
        two_sides_from_mm=settings.two_sides_from_mm,
        held_in_air=settings.held_in_air,
        search_mm=math.hypot(settings.stick_out_mm, settings.holder_mm / 2) + outer,
    )


def _lock(joins: Joins) -> Joins:
    """Set every array read-only."""
    for item in fields(joins):
        value = getattr(joins, item.name)
        if isinstance(value, np.ndarray):
            value.flags.writeable = False
    return joins


def _closing_way(closing: Closing, turns: int) -> ClosingWay:
    count = int(np.count_nonzero(closing.pre_closed))
    return ClosingWay(
        way=PreClosing(closing.way),
        pre_closed=count,
        in_place=int(closing.pre_closed.size) - count,
        largest_possible=closing.largest_possible,
        exact=closing.exact,
        turns=turns,
        note=closing.note,
    )
