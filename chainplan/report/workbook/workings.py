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
from chainplan.report.workbook.names import spoken_metal
from chainplan.report.workbook.page import Heading
from chainplan.report.workbook.style import Formula

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.estimate import PieceCounts, RingGroup, WireNeed
    from chainplan.model.plan import Plan
    from chainplan.report.workbook.page import Book

SHEET = "workings"
SPARES = "spare rings"
FIRST_ROW = 5
MOST_SPARES = 400
"""Spare rings that the sheet can follow for one group of rings, at least."""

_BAD = "(1-(1-ring_scrap)*(1-(1-join_yield)*replaced_share))"

_GROUP = [
    Heading("number", "group", "int", 8),
    Heading("name", "piece", width=24),
    Heading("piece", "piece no.", "int", 10),
    Heading("metal", "metal", width=21),
    Heading("metal_number", "metal no.", "int", 10),
    Heading("wire_mm", "wire, mm", "0.01", 10),
    Heading("inner_mm", "inside, mm", "0.01", 10),
    Heading("rings", "rings", "int", 10),
    Heading("shelf", "from the shelf", "int", 10),
    Heading("spares", "spare rings", "int", 10),
    Heading("cut", "to cut", "int", 10),
    Heading("coils", "coils", "int", 10),
]
_METAL = [
    Heading("group", "group", "int"),
    Heading("metal_name", "piece"),
    Heading("g_per_m", "wire, g/m", "0.001"),
    Heading("length_mm", "wire, mm", "0.1"),
    Heading("filler_g", "filler, g", "0.01"),
    Heading("in_piece_g", "in the piece, g", "0.01"),
    Heading("used_g", "metal used, g", "0.01"),
    Heading("scrap_g", "scrap, g", "0.01"),
]
_GIVEN = [
    Heading("number", "piece no.", "int"),
    Heading("name", "piece"),
    Heading("copies", "copies", "int"),
    Heading("joins", "joins", "int"),
    Heading("hits", "pulses at first try", "int"),
    Heading("energy_j", "set energy, J", "int"),
    Heading("weld_s", "weld order, s a copy", "0.1"),
    Heading("fill_s", "groove and fill, s a copy", "0.1"),
    Heading("before_s", "closed before, s a copy", "0.1"),
    Heading("woven_rings", "rings woven", "int"),
    Heading("woven_links", "links woven", "int"),
    Heading("clasps", "clasps a copy", "int"),
]
_USED = [
    Heading("used_number", "piece no.", "int"),
    Heading("used_name", "piece"),
    Heading("cut", "rings cut", "int"),
    Heading("coils", "coils", "int"),
    Heading("pulses", "pulses", "0.1"),
    Heading("gas_l", "argon, L", "0.1"),
    Heading("regrinds", "regrinds", "int"),
    Heading("tips", "tips", "0.001"),
    Heading("kwh", "electricity, kWh", "0.001"),
    Heading("hours", "bench, h", "0.01"),
]
STATIONS = (
    "coil", "cut", "tumble", "pre-close", "weave", "set up",
    "weld", "rework", "clean", "inspect", "finish",
)  # fmt: skip
_MINUTES = [
    Heading("time_number", "piece no.", "int"),
    *(Heading(f"{station} min", f"{station}, min", "0.1") for station in STATIONS),
]
_GROUP_BLOCKS = (("Rings, all copies, by group", _GROUP), ("Metal, all copies", _METAL))
_PIECE_BLOCKS = (
    ("Given by the piece and its weld order", _GIVEN),
    ("Used, all copies", _USED),
    ("Minutes at each station, all copies", _MINUTES),
)
ROWS_A_PAGE = 15
_AROUND = 3
"""Rows that a block takes besides its own: heading, header and the line below."""


def _places_in(blocks: Sequence[tuple[str, list[Heading]]]) -> dict[str, tuple[int, str]]:
    """Block and column letter of every key."""
    return {
        heading.key: (block, get_column_letter(number))
        for block, (_, headings) in enumerate(blocks)
        for number, heading in enumerate(headings, 1)
    }


_GROUP_PLACE = _places_in(_GROUP_BLOCKS)
_PIECE_PLACE = _places_in(_PIECE_BLOCKS)


@dataclass(frozen=True, slots=True)
class Places:
    """Where the workings of each group and piece stand."""

    num_groups: int
    num_pieces: int
    metal_number: dict[str, int]

    def group_row(self, block: int, number: int) -> int:
        """Row of a group in one of the blocks of groups."""
        return 6 + block * (max(self.num_groups, 1) + _AROUND) + number

    def piece_row(self, block: int, number: int) -> int:
        """Row of a piece in one of the blocks of pieces."""
        first = self.group_row(len(_GROUP_BLOCKS), 0)
        return first + block * (max(self.num_pieces, 1) + _AROUND) + number

    def groups(self, key: str) -> str:
        """Return the cells of one column over all groups."""
        block, column = _GROUP_PLACE[key]
        first = self.group_row(block, 0)
        return f"{SHEET}!${column}${first}:${column}${first + max(self.num_groups, 1) - 1}"

    def group(self, key: str, number: int) -> str:
        """Return one cell of one group."""
        block, column = _GROUP_PLACE[key]
        return f"{SHEET}!${column}${self.group_row(block, number)}"

    def piece(self, key: str, number: int) -> str:
        """Return one cell of one piece."""
        block, column = _PIECE_PLACE[key]
        return f"{SHEET}!${column}${self.piece_row(block, number)}"

    def metal_of_piece(self, key: str, number: int, metal: str) -> str:
        """Sum a column over the groups of one piece that are of one metal."""
        return (
            f"SUMIFS({self.groups(key)},{self.groups('piece')},{number + 1},"
            f"{self.groups('metal_number')},{self.metal_number[metal]})"
        )


def add_workings(book: Book, plan: Plan) -> Places:
    """Add the sheets of workings and spare rings."""
    page = book.page(SHEET, "Workings", "Where the quantities on the cost sheet come from.")
    estimates = plan.estimates
    groups = [(p, group) for p, counts in enumerate(estimates.counts) for group in counts.groups]
    metals = dict.fromkeys(group.metal for _, group in groups)
    places = Places(
        num_groups=len(groups),
        num_pieces=len(estimates.counts),
        metal_number={key: number for number, key in enumerate(metals, 1)},
    )
    rows = [
        _group_row(plan, places, number, piece, group, need)
        for number, ((piece, group), need) in enumerate(zip(groups, estimates.wire, strict=True))
    ]
    page.set_widths(_GROUP)
    for title, headings in _GROUP_BLOCKS:
        page.head(title)
        page.table(headings, rows)
    if 2 * len(groups) + 3 * len(estimates.counts) > ROWS_A_PAGE:
        page.break_page()
    pieces = [_piece_row(plan, places, n, counts) for n, counts in enumerate(estimates.counts)]
    for title, headings in _PIECE_BLOCKS:
        page.head(title)
        page.table(headings, pieces)
    page.close()
    _add_spares(book, plan, places)
    return places


def _group_row(
    plan: Plan, places: Places, number: int, piece: int, group: RingGroup, need: WireNeed
) -> dict[str, object]:
    counts = plan.estimates.counts[piece]
    density = find_metal(group.metal, plan.job.metals).density_g_cm3.usual
    at = {
        key: f"{column}{places.group_row(block, number)}"
        for key, (block, column) in _GROUP_PLACE.items()
    }
    joins = (group.joins_in_place + group.joins_beforehand) * counts.quantity
    shelf = f"MIN({at['shelf']},{at['rings']}+{at['spares']})"
    ring_mm = f"PI()*({at['inner_mm']}+{at['wire_mm']})"
    turns = f"MAX(1,ROUNDDOWN(mandrel_length_mm/{at['wire_mm']}+0.000000001,0))"
    return {
        "number": number + 1,
        "group": number + 1,
        "metal_name": counts.piece,
        "piece": piece + 1,
        "name": counts.piece,
        "metal_number": places.metal_number[group.metal],
        "metal": spoken_metal(group.metal, plan.job.metals),
        "wire_mm": group.wire_mm,
        "inner_mm": group.inner_mm,
        "rings": need.rings,
        "shelf": need.rings_from_stock,
        "g_per_m": math.pi / 4 * group.wire_mm**2 * density,
        "filler_g": group.filler_g * joins,
        "in_piece_g": need.mass_in_piece_g,
        "spares": Formula(f"='{SPARES}'!$I${FIRST_ROW + number}"),
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
    at = {
        key: f"{column}{places.piece_row(block, number)}"
        for key, (block, column) in _PIECE_PLACE.items()
    }
    joins = [(g, g.joins_in_place + g.joins_beforehand) for g in counts.groups]
    pace, copies = plan.job.bench.pace, counts.quantity
    woven = [group for group in counts.groups if group.links > 0]
    here = f"{places.groups('piece')},{number + 1}"
    again = "(1/join_yield-1)"
    hours = f"{at['weld_s']}*{at['copies']}/3600"
    first, last = at["coil min"], at["finish min"]
    minutes = {
        "coil": f"{at['coils']}*coil_min",
        "cut": f"{at['cut']}*cut_s/60",
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
        "used_number": number + 1,
        "time_number": number + 1,
        "name": counts.piece,
        "used_name": counts.piece,
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
        **{f"{station} min": Formula(f"={text}") for station, text in minutes.items()},
        **{key: Formula(f"={text}") for key, text in sums.items()},
    }


def _add_spares(book: Book, plan: Plan, places: Places) -> None:
    """Add how many spare rings each group needs: the fewest that are enough with wanted chance.

    With ``s`` spares the good ones are enough if at most ``s`` of ``rings + s`` are bad, a binomial
    chance that grows with ``s``; so the fewest is the count of all ``s`` whose chance is too small.
    """
    page = book.page(
        SPARES,
        "Spare rings",
        "The fewest spares that are enough with the wanted chance, all groups together; they "
        "follow the yields on 'inputs'.",
    )
    needs = plan.estimates.wire
    most = max(MOST_SPARES, *(4 * need.spare_rings + 50 for need in needs), 0)
    headings = [
        Heading("number", "group", "int", 8),
        Heading("piece", "piece", width=28),
        Heading("metal", "metal", width=20),
        Heading("wire_mm", "wire, mm", "0.01", 9),
        Heading("inner_mm", "inside, mm", "0.01", 9),
        Heading("rings", "rings", "int", 9),
        Heading("bad", "share lost", "%", 10),
        Heading("wanted", "wanted chance", "0.01 %", 11),
        Heading("spares", "spare rings", "int", 9),
        Heading("chance", "chance with them", "0.01 %", 11),
        Heading("fewer", "with one fewer", "0.01 %", 11),
    ]
    wanted = 1 - plan.estimates.short_risk_each
    rows = []
    for number, need in enumerate(needs):
        row = FIRST_ROW + number
        tried = f"(ROW($1:${most})-1)"
        too_few = f"SUMPRODUCT(--({_chance(row, tried)}<H{row}))"
        rows.append(
            {
                "number": number + 1,
                "piece": need.piece,
                "metal": spoken_metal(need.metal, plan.job.metals),
                "wire_mm": need.wire_mm,
                "inner_mm": need.inner_mm,
                "rings": Formula(f"={places.group('rings', number)}"),
                "bad": Formula(f"={_BAD}"),
                "wanted": wanted,
                "spares": Formula(f"=IF(OR(F{row}=0,G{row}=0),0,{too_few})"),
                "chance": Formula(f"=IF(F{row}=0,1,{_chance(row, f'I{row}')})"),
                "fewer": Formula(f"=IF(I{row}=0,0,{_chance(row, f'(I{row}-1)')})"),
            }
        )
    page.table(headings, rows)
    page.close()


def _chance(row: int, spares: str) -> str:
    return f"BINOMDIST({spares},F{row}+{spares},G{row},TRUE)"
