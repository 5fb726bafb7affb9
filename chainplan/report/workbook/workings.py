"""How the quantities on the cost sheet come about: wire by group of rings, then use by piece.

The formulas repeat the estimate stage's own sums, so that a changed input is followed everywhere; a
test recalculates them in an office program and compares each with the program's figure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from openpyxl.utils import get_column_letter

from chainplan.reference import find_metal
from chainplan.report.workbook.style import Formula, Heading, open_sheet, put, put_table

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

    from chainplan.model.estimate import PieceCounts, RingGroup, WireNeed
    from chainplan.model.plan import Plan

SHEET = "workings"
SPARES = "spare rings"
MOST_SPARES = 400
"""Spare rings that the sheet can follow for one group of rings."""

_BAD = "(1-(1-ring_scrap)*(1-(1-join_yield)*replaced_share))"

_GROUP = [
    Heading("number", "group", "int", 7),
    Heading("piece", "piece no.", "int", 8),
    Heading("name", "piece", width=24),
    Heading("metal_number", "metal no.", "int", 8),
    Heading("metal", "metal", width=16),
    Heading("wire_mm", "wire, mm", "0.01", 9),
    Heading("inner_mm", "inner, mm", "0.01", 9),
    Heading("rings", "rings", "int", 9),
    Heading("shelf", "from the shelf", "int", 9),
    Heading("g_per_m", "wire, g/m", "0.001", 9),
    Heading("filler_g", "filler, g", "0.01", 8),
    Heading("in_piece_g", "in the piece, g", "0.01", 10),
    Heading("spares", "spare rings", "int", 8),
    Heading("cut", "to cut", "int", 9),
    Heading("coils", "coils", "int", 7),
    Heading("length_mm", "wire, mm", "0.1", 11),
    Heading("used_g", "metal used, g", "0.01", 10),
    Heading("scrap_g", "scrap, g", "0.01", 9),
]
_PIECE = [
    Heading("number", "piece no.", "int", 7),
    Heading("name", "piece", width=24),
    Heading("copies", "copies", "int", 8),
    Heading("joins", "joins", "int", 9),
    Heading("hits", "pulses at first try", "int", 10),
    Heading("energy_j", "set energy, J", "int", 11),
    Heading("weld_s", "weld order, s a copy", "0.1", 11),
    Heading("fill_s", "groove and fill, s a copy", "0.1", 11),
    Heading("before_s", "closed beforehand, s a copy", "0.1", 11),
    Heading("woven_rings", "rings woven", "int", 9),
    Heading("woven_links", "links woven", "int", 9),
    Heading("clasps", "clasps a copy", "int", 8),
    Heading("cut", "rings cut", "int", 9),
    Heading("coils", "coils", "int", 8),
    Heading("pulses", "pulses", "0.1", 9),
    Heading("gas_l", "argon, L", "0.1", 9),
    Heading("regrinds", "regrinds", "int", 9),
    Heading("tips", "tips", "0.001", 8),
    Heading("kwh", "electricity, kWh", "0.001", 10),
    *(
        Heading(station, f"{station}, min", "0.1", 9)
        for station in (
            "coil", "cut_min", "tumble", "pre-close", "weave", "set up",
            "weld", "rework", "clean", "inspect", "finish",
        )
    ),
    Heading("hours", "bench hours", "0.01", 9),
]  # fmt: skip
GROUP_COLUMN = {h.key: get_column_letter(n) for n, h in enumerate(_GROUP, 1)}
PIECE_COLUMN = {h.key: get_column_letter(n) for n, h in enumerate(_PIECE, 1)}


@dataclass(frozen=True, slots=True)
class Places:
    """Where the workings of each group and piece stand."""

    first_group: int
    last_group: int
    first_piece: int
    metal_number: dict[str, int]

    def groups(self, key: str) -> str:
        """Return the cells of one column over all groups."""
        column = GROUP_COLUMN[key]
        return f"{SHEET}!${column}${self.first_group}:${column}${self.last_group}"

    def group(self, key: str, number: int) -> str:
        """Return one cell of one group."""
        return f"{SHEET}!${GROUP_COLUMN[key]}${self.first_group + number}"

    def piece(self, key: str, number: int) -> str:
        """Return one cell of one piece."""
        return f"{SHEET}!${PIECE_COLUMN[key]}${self.first_piece + number}"

    def metal_of_piece(self, key: str, number: int, metal: str) -> str:
        """Sum a column over the groups of one piece that are of one metal."""
        return (
            f"SUMIFS({self.groups(key)},{self.groups('piece')},{number + 1},"
            f"{self.groups('metal_number')},{self.metal_number[metal]})"
        )


def add_workings(book: Workbook, plan: Plan) -> Places:
    """Add the sheets of workings and spare rings."""
    sheet = book.create_sheet(SHEET)
    open_sheet(sheet, "Workings", "Where the quantities on the cost sheet come from.")
    estimates = plan.estimates
    groups = [(p, group) for p, counts in enumerate(estimates.counts) for group in counts.groups]
    first = 5
    places = Places(
        first_group=first,
        last_group=first + max(len(groups), 1) - 1,
        first_piece=first + max(len(groups), 1) + 3,
        metal_number={key: n for n, key in enumerate(dict.fromkeys(g.metal for _, g in groups), 1)},
    )
    rows = [
        _group_row(plan, places, number, piece, group, need)
        for number, ((piece, group), need) in enumerate(zip(groups, estimates.wire, strict=True))
    ]
    put_table(sheet, _GROUP, rows, filters=False)
    pieces = [_piece_row(plan, places, n, counts) for n, counts in enumerate(estimates.counts)]
    put_table(sheet, _PIECE, pieces, top=places.first_piece - 1, filters=False)
    sheet.print_title_rows = None
    _add_spares(book, plan, places, [need.spare_rings for need in estimates.wire])
    return places


def _group_row(
    plan: Plan, places: Places, number: int, piece: int, group: RingGroup, need: WireNeed
) -> dict[str, object]:
    counts = plan.estimates.counts[piece]
    density = find_metal(group.metal, plan.job.metals).density_g_cm3.usual
    row = places.first_group + number
    at = {key: f"{column}{row}" for key, column in GROUP_COLUMN.items()}
    joins = (group.joins_in_place + group.joins_beforehand) * counts.quantity
    shelf = f"MIN({at['shelf']},{at['rings']}+{at['spares']})"
    ring_mm = f"PI()*({at['inner_mm']}+{at['wire_mm']})"
    turns = f"MAX(1,ROUNDDOWN(mandrel_length_mm/{at['wire_mm']}+0.000000001,0))"
    return {
        "number": number + 1,
        "piece": piece + 1,
        "name": counts.piece,
        "metal_number": places.metal_number[group.metal],
        "metal": group.metal,
        "wire_mm": group.wire_mm,
        "inner_mm": group.inner_mm,
        "rings": need.rings,
        "shelf": need.rings_from_stock,
        "g_per_m": math.pi / 4 * group.wire_mm**2 * density,
        "filler_g": group.filler_g * joins,
        "in_piece_g": need.mass_in_piece_g,
        "spares": Formula(f"='{SPARES}'!$D${5 + number}"),
        "cut": Formula(f"=MAX({at['rings']}+{at['spares']}-{at['shelf']},0)"),
        "coils": Formula(f"=ROUNDUP({at['cut']}/{turns},0)"),
        "length_mm": Formula(
            f"={at['cut']}*({ring_mm}+kerf_mm)+{at['coils']}*coil_end_scrap_mm"
        ),
        "used_g": Formula(
            f"=({at['length_mm']}+{shelf}*{ring_mm})*{at['g_per_m']}/1000+{at['filler_g']}"
        ),
        "scrap_g": Formula(f"={at['used_g']}-{at['in_piece_g']}"),
    }  # fmt: skip


def _piece_row(plan: Plan, places: Places, number: int, counts: PieceCounts) -> dict[str, object]:
    row = places.first_piece + number
    at = {key: f"{column}{row}" for key, column in PIECE_COLUMN.items()}
    joins = [(g, g.joins_in_place + g.joins_beforehand) for g in counts.groups]
    pace, copies = plan.job.bench.pace, counts.quantity
    woven = [group for group in counts.groups if group.links > 0]
    here = f"{places.groups('piece')},{number + 1}"
    again = "(1/join_yield-1)"
    hours = f"{at['weld_s']}*{at['copies']}/3600"
    first, last = at["coil"], at["finish"]
    minutes = {
        "coil": f"{at['coils']}*coil_min",
        "cut_min": f"{at['cut']}*cut_s/60",
        "tumble": f"ROUNDUP({at['cut']}/tumble_rings,0)*tumble_min",
        "pre-close": f"{at['before_s']}*{at['copies']}/60",
        "weave": (
            f"({at['woven_rings']}*weave_ring_s+{at['woven_links']}*weave_link_s)*{at['copies']}/60"
            f"*{at['copies']}^(LN(learning_percent/100)/LN(2))"
        ),
        "set up": "set_up_min",
        "weld": (
            f"{at['copies']}*({at['weld_s']}*{plan.estimates.weld_share!r}+{at['fill_s']})/60"
            f"+{at['regrinds']}*regrind_min"
        ),
        "rework": f"{at['joins']}*{at['copies']}*{again}*rework_s/60",
        "clean": f"{at['copies']}*clean_min",
        "inspect": f"{at['joins']}*{at['copies']}*inspect_s/60",
        "finish": f"{at['copies']}*finish_min",
    }
    tried = f"({at['hits']}+{at['joins']}*{at['copies']}*smoothing_hits)"
    sums = {
        "cut": f"SUMIFS({places.groups('cut')},{here})",
        "coils": f"SUMIFS({places.groups('coils')},{here})",
        "pulses": f"{tried}*(1+{again})",
        "gas_l": (
            f"{at['pulses']}*flow_l_min*(pre_flow_s+pulse_s+post_flow_s)/60+{hours}*leak_l_h"
        ),
        "regrinds": f"ROUNDUP({at['pulses']}/pulses_per_regrind-0.000000001,0)",
        "tips": f"{at['pulses']}/(pulses_per_regrind*regrinds_per_tip)",
        "kwh": f"({at['energy_j']}*(1+{again})/mains_share+idle_w*{hours}*3600)/3600000",
        "hours": f"SUM({first}:{last})/60",
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
        **{key: Formula(f"={text}") for key, text in (minutes | sums).items()},
    }


def _add_spares(book: Workbook, plan: Plan, places: Places, spares: list[int]) -> None:
    """Add the chance of having enough good rings for every number of spares, by group."""
    sheet = book.create_sheet(SPARES)
    open_sheet(
        sheet,
        "Spare rings",
        "Chance that so many spares are enough (binomial); the fewest that meet the wanted chance "
        "are taken.",
    )
    most = min(max(30, 4 * max(spares, default=0) + 10), MOST_SPARES)
    headings = [
        Heading("number", "group", "int", 8),
        Heading("rings", "rings", "int", 9),
        Heading("chance", "wanted chance", "%", 10),
        Heading("spares", "spares", "int", 9),
        *(Heading(f"s{s}", f"{s}", "%", 7) for s in range(most + 1)),
    ]
    put_table(sheet, headings, (), filters=False)
    wanted = 1 - plan.estimates.short_risk_each
    last = get_column_letter(4 + most + 1)
    for number in range(len(spares)):
        row = 5 + number
        put(sheet.cell(row=row, column=1), number + 1, "int")
        put(sheet.cell(row=row, column=2), Formula(f"={places.group('rings', number)}"), "int")
        put(sheet.cell(row=row, column=3), wanted, "%")
        enough = f'COUNTIF($E{row}:${last}{row},"<"&$C{row})'
        formula = f'=IF({enough}>{most},"more than {most}",{enough})'
        put(sheet.cell(row=row, column=4), Formula(formula), "int")
        _put_chances(sheet, row, most)
    sheet.print_area = f"A1:{get_column_letter(min(24, 4 + most))}{4 + max(len(spares), 1)}"


def _put_chances(sheet: Worksheet, row: int, most: int) -> None:
    for s in range(most + 1):
        column = get_column_letter(5 + s)
        text = f"=IF($B{row}=0,1,BINOMDIST({column}$4*1,$B{row}+{column}$4,{_BAD},TRUE))"
        put(sheet[f"{column}{row}"], Formula(text), "%")
