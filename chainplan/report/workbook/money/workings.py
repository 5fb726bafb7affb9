"""How the quantities on the cost sheet come about: wire by group of rings, then use by piece.

The formulas repeat the estimate stage's own sums, so that a changed input is followed everywhere,
and carry its figures as their values; a test recalculates them in an office program and compares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.model.workshop.bench_log import STATIONS
from chainplan.model.workshop.schedule import FITTING, LAST_FITTING
from chainplan.reference import find_metal
from chainplan.report.text.names import spoken_metal
from chainplan.report.workbook.cells.style import Formula
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import LABEL
from chainplan.report.workbook.money.spares import fill_spares, lay_spares

if TYPE_CHECKING:
    from chainplan.model.estimate import PieceCounts, RingGroup, WireNeed
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.cells.page import PlanBook
    from chainplan.report.workbook.cells.table import PlacedTable

_GROUP = [
    Heading("number", "group", "int"),
    Heading("name", "piece"),
    Heading("piece", "piece no.", "int"),
    Heading("metal", "metal", words=LABEL),
    Heading("metal_number", "metal no.", "int"),
    Heading("wire_mm", "wire, mm", "0.01"),
    Heading("inner_mm", "inside, mm", "0.01"),
    Heading("rings", "rings", "int"),
    Heading("shelf", "from the shelf", "int"),
    Heading("spares", "spare rings", "int"),
    Heading("cut", "to cut", "int"),
    Heading("coils", "coils", "int"),
    Heading("g_per_m", "wire, g/m", "0.001"),
    Heading("length_mm", "wire to coil, mm", "0.1"),
    Heading("filler_g", "filler, g", "0.01"),
    Heading("in_piece_g", "in the piece, g", "0.01"),
    Heading("used_g", "metal used, g", "0.01"),
    Heading("scrap_g", "scrap, g", "0.01"),
]
_PIECE = [
    Heading("number", "piece no.", "int"),
    Heading("name", "piece"),
    Heading("copies", "copies", "int"),
    Heading("joins", "joins a copy", "int"),
    Heading("hits", "pulses at first try", "int"),
    Heading("energy_j", "set energy, J", "int"),
    Heading("weld_s", "weld order, s a copy", "0.1"),
    Heading("fill_s", "groove and fill, s a copy", "0.1"),
    Heading("before_s", "closed before, s a copy", "0.1"),
    Heading("woven_rings", "rings woven, a copy", "int"),
    Heading("woven_links", "links woven, a copy", "int"),
    Heading("clasps", "clasps a copy", "int"),
    Heading("fitted", "fittings before welding, a copy", "int"),
    Heading("fitted_last", "fittings after welding, a copy", "int"),
    Heading("cut", "rings cut", "int"),
    Heading("coils", "coils", "int"),
    Heading("pulses", "pulses", "0.1"),
    Heading("gas_l", "argon, L", "0.1"),
    Heading("regrinds", "regrinds", "int"),
    Heading("tips", "tips", "0.001"),
    Heading("kwh", "electricity, kWh", "0.001"),
    Heading("hours", "bench, h", "0.01"),
    *(Heading(f"{station} min", f"{station}, min", "0.1") for station in STATIONS),
]
_NAMED = 2
"""Columns that say which piece a row is, kept in sight."""


@dataclass(frozen=True, slots=True)
class Workings:
    """Where the workings stand: a row for every group of rings and for every piece, from 0."""

    groups: PlacedTable
    pieces: PlacedTable
    spares: PlacedTable
    metal_number: dict[str, int]

    def metal_of_piece(self, column: str, piece: int, metal: str) -> str:
        """Sum a column over the groups of one piece that are of one metal."""
        groups = self.groups
        return (
            f"SUMIFS({groups.column(column)},{groups.column('piece')},{piece + 1},"
            f"{groups.column('metal_number')},{self.metal_number[metal]})"
        )


def add_workings(book: PlanBook, plan: Plan) -> Workings:
    """Add the sheets of workings and spare rings."""
    estimates = plan.estimates
    groups = [(p, group) for p, counts in enumerate(estimates.counts) for group in counts.groups]
    wire_page = book.page(
        "wire workings",
        "Workings: wire and metal",
        "All copies; a line for every size of ring and metal of a piece. It follows the sheet "
        "'inputs'.",
    )
    piece_page = book.page(
        "piece workings",
        "Workings: pieces",
        "It follows the sheet 'inputs'.",  # short: the first columns are printed on both pages
        across=2,
    )
    spare_page, spares = lay_spares(book, plan)
    metals = dict.fromkeys(group.metal for _, group in groups)
    workings = Workings(
        groups=wire_page.lay(_GROUP, range(len(groups))),
        pieces=piece_page.lay(_PIECE, range(len(estimates.counts))),
        spares=spares,
        metal_number={key: number for number, key in enumerate(metals, 1)},
    )
    wire_page.fill(
        workings.groups,
        [
            _group_row(plan, workings, number, piece, group, need)
            for number, ((piece, group), need) in enumerate(
                zip(groups, estimates.wire, strict=True)
            )
        ],
    )
    needs: dict[int, list[WireNeed]] = {}
    for (piece, _), need in zip(groups, estimates.wire, strict=True):
        needs.setdefault(piece, []).append(need)
    piece_page.fill(
        workings.pieces,
        [
            _piece_row(plan, workings, number, counts, needs.get(number, []))
            for number, counts in enumerate(estimates.counts)
        ],
    )
    for page, table in ((wire_page, workings.groups), (piece_page, workings.pieces)):
        page.repeat(table, columns=_NAMED)
        page.close()
    fill_spares(spare_page, spares, plan, workings.groups)
    return workings


def _group_row(
    plan: Plan, workings: Workings, number: int, piece: int, group: RingGroup, need: WireNeed
) -> dict[str, object]:
    counts = plan.estimates.counts[piece]
    density = find_metal(group.metal, plan.job.metals).density_g_cm3.usual
    at = workings.groups.here(number)
    joins = (group.joins_in_place + group.joins_beforehand) * counts.quantity
    shelf = f"MIN({at['shelf']},{at['rings']}+{at['spares']})"
    ring_mm = f"PI()*({at['inner_mm']}+{at['wire_mm']})"
    turns = f"MAX(1,ROUNDDOWN(mandrel_length_mm/{at['wire_mm']}+0.000000001,0))"
    cut = need.rings + need.spare_rings - need.rings_from_stock
    return {
        "number": number + 1,
        "piece": piece + 1,
        "name": counts.piece,
        "metal_number": workings.metal_number[group.metal],
        "metal": spoken_metal(group.metal, plan.job.metals),
        "wire_mm": group.wire_mm,
        "inner_mm": group.inner_mm,
        "rings": need.rings,
        "shelf": need.rings_from_stock,
        "g_per_m": math.pi / 4 * group.wire_mm**2 * density,
        "filler_g": group.filler_g * joins,
        "in_piece_g": need.mass_in_piece_g,
        "spares": Formula(f"={workings.spares.cell(number, 'spares')}", need.spare_rings),
        "cut": Formula(f"=MAX({at['rings']}+{at['spares']}-{at['shelf']},0)", cut),
        "coils": Formula(f"=ROUNDUP({at['cut']}/{turns},0)", need.coils),
        "length_mm": Formula(
            f"={at['cut']}*({ring_mm}+kerf_mm)+{at['coils']}*coil_end_scrap_mm",
            need.wire_length_m * 1000,
        ),
        "used_g": Formula(
            f"=({at['length_mm']}+{shelf}*{ring_mm})*{at['g_per_m']}/1000+{at['filler_g']}",
            need.mass_used_g,
        ),
        "scrap_g": Formula(f"={at['used_g']}-{at['in_piece_g']}", need.scrap_g),
    }  # fmt: skip


def _piece_row(
    plan: Plan, workings: Workings, number: int, counts: PieceCounts, needs: list[WireNeed]
) -> dict[str, object]:
    joins = [(g, g.joins_in_place + g.joins_beforehand) for g in counts.groups]
    pace, copies = plan.job.bench.pace, counts.quantity
    woven = [group for group in counts.groups if group.links > 0]
    usual = {x.station: x.usual_min for x in plan.estimates.times if x.piece == counts.piece}
    figures = {figure.key: figure.usual for figure in plan.estimates.figures[counts.piece]}
    minutes = _minutes(plan, workings, number)
    used = _used(workings, number)
    known = {
        "cut": sum(need.rings + need.spare_rings - need.rings_from_stock for need in needs),
        "coils": sum(need.coils for need in needs),
        "pulses": figures["pulses"],
        "gas_l": figures["argon"],
        "regrinds": figures["regrinds"],
        "tips": figures["tips"],
        "kwh": figures["electricity"],
        "hours": figures["hours"],
    }
    return {
        "number": number + 1,
        "name": counts.piece,
        "copies": copies,
        "joins": sum(n for _, n in joins),
        "hits": sum(n * g.hits for g, n in joins) * copies,
        "energy_j": sum(n * g.hits * g.power_j for g, n in joins) * copies,
        "weld_s": counts.weld_s,
        "fill_s": sum(n * g.filler_s for g, n in joins),
        "before_s": sum(
            g.joins_beforehand * (pace.handle_s + (g.hits - 1) * pace.extra_hit_s)
            for g in counts.groups
        ),
        "woven_rings": sum(group.rings for group in woven),
        "woven_links": sum(group.links for group in woven),
        "clasps": counts.clasps,
        "fitted": sum(one.station == FITTING for one in counts.fittings),
        "fitted_last": sum(one.station == LAST_FITTING for one in counts.fittings),
        **{f"{name} min": Formula(f"={text}", usual[name]) for name, text in minutes.items()},
        **{key: Formula(f"={text}", known[key]) for key, text in used.items()},
    }


_AGAIN = "(1/join_yield-1)"


def _minutes(plan: Plan, workings: Workings, number: int) -> dict[str, str]:
    """Write the time of one piece, all copies, at each station."""
    at = workings.pieces.here(number)
    own = plan.estimates.counts[number].minutes
    told = {station: f"{at['copies']}*{each!r}" for station, each in own}
    return {
        "coil": f"{at['coils']}*coil_min",
        "cut": f"{at['cut']}*cut_s/60",
        "tumble": f"ROUNDUP({at['cut']}/tumble_rings,0)*tumble_min",
        "pre-close": f"{at['before_s']}*{at['copies']}/60",
        "weave": (
            f"({at['woven_rings']}*weave_ring_s+{at['woven_links']}*weave_link_s)*{at['copies']}/60"
            f"*{at['copies']}^(LN(learning_percent/100)/LN(2))"
        ),
        "fitting": f"{at['fitted']}*{at['copies']}*fitting_min",
        "last fitting": f"{at['fitted_last']}*{at['copies']}*fitting_min",
        "set up": "set_up_min",
        "weld": (
            f"{at['copies']}*({at['weld_s']}*{plan.estimates.weld_share!r}+{at['fill_s']})/60"
            f"+{at['regrinds']}*regrind_min"
        ),
        "rework": f"{at['joins']}*{at['copies']}*{_AGAIN}*rework_s/60",
        "clean": f"{at['copies']}*clean_min",
        "inspect": f"{at['joins']}*{at['copies']}*inspect_s/60",
        "finish": f"{at['copies']}*finish_min",
    } | told


def _used(workings: Workings, number: int) -> dict[str, str]:
    """Write what one piece, all copies, uses."""
    at, groups = workings.pieces.here(number), workings.groups
    here = f"{groups.column('piece')},{number + 1}"
    hours = f"{at['weld_s']}*{at['copies']}/3600"
    tried = f"({at['hits']}+{at['joins']}*{at['copies']}*smoothing_hits)"
    return {
        "cut": f"SUMIFS({groups.column('cut')},{here})",
        "coils": f"SUMIFS({groups.column('coils')},{here})",
        "pulses": f"{tried}*(1+{_AGAIN})",
        "gas_l": (
            f"{at['pulses']}*flow_l_min*(pre_flow_s+pulse_s+post_flow_s)/60+{hours}*leak_l_h"
        ),
        "regrinds": f"ROUNDUP({at['pulses']}/pulses_per_regrind-0.000000001,0)",
        "tips": f"{at['pulses']}/(pulses_per_regrind*regrinds_per_tip)",
        "kwh": f"({at['energy_j']}*(1+{_AGAIN})/mains_share+idle_w*{hours}*3600)/3600000",
        "hours": "(" + "+".join(at[f"{station} min"] for station in STATIONS) + ")/60",
    }
