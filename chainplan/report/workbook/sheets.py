"""The sheets that only tell: pieces, passes, settings, buy list, rings and the order to weld."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.model.job import LOOSE_JOINS
from chainplan.report.text.tables import order_table, ring_table
from chainplan.report.workbook.names import spoken_metal, spoken_unit, spoken_weave
from chainplan.report.workbook.page import Heading
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.model.estimate import SettingLine
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.report.workbook.page import Book

MOST_ROWS = 50_000
"""Rows that a sheet takes at most, what people may still scroll through; the rest goes to CSV."""

_RINGS = [
    Heading("piece", "piece", width=22),
    Heading("ring", "ring", "int", 7),
    Heading("section", "section", "int", 8),
    Heading("row", "row", "int", 6),
    Heading("position", "place in its row", "int", 8),
    Heading("wire_mm", "wire, mm", "0.01", 7),
    Heading("inner_mm", "inside, mm", "0.01", 8),
    Heading("x_mm", "along, mm", "0.1", 9),
    Heading("y_mm", "across, mm", "0.1", 8),
    Heading("z_mm", "towards the front, mm", "0.1", 9),
    Heading("links", "links", "int", 6),
    Heading("face", "electrode from", width=11),
    Heading("join_angle_deg", "join at, °", "0.1", 8),
    Heading("clearance_mm", "air beside the electrode, mm", "0.01", 11),
    Heading("spot_gap_mm", "air to the next wire, mm", "0.01", 11),
    Heading("closed_beforehand", "closed beforehand", width=13),
]
_ORDER = [
    Heading("piece", "piece", width=22),
    Heading("step", "step", "int", 7),
    Heading("pass", "pass", "int", 7),
    Heading("ring", "ring", "int", 7),
    Heading("row", "row", "int", 6),
    Heading("position", "place in its row", "int", 8),
    Heading("face", "electrode from", width=11),
    Heading("join_angle_deg", "join at, °", "0.1", 8),
    Heading("power_j", "power, J", "0.1", 9),
    Heading("hits", "hits", "int", 6),
    Heading("start_s", "start, s", "int", 9),
    Heading("wait_before_s", "wait before, s", "sparse int", 9),
    Heading("interpass_low_c", "before the weld, low, °C", "int", 11),
    Heading("interpass_usual_c", "usual, °C", "int", 9),
    Heading("interpass_high_c", "high, °C", "int", 9),
]


def add_pieces(book: Book, plan: Plan) -> None:
    """Add the sheet of pieces: what each section counts, measures and weighs."""
    page = book.page(
        "pieces", "Pieces", "One line a section of a piece; everything is for one copy."
    )
    rows = [
        _section_row(plan, piece, number)
        for piece in plan.pieces
        for number in range(1, len(piece.counts) + 1)
    ]
    sizes = [
        Heading("piece", "piece", width=24),
        Heading("quantity", "copies", "int", 8),
        Heading("section", "section", "int", 8),
        Heading("weave", "weave", width=22),
        Heading("metal", "metal", width=20),
        Heading("wire_mm", "wire, mm", "0.01", 9),
        Heading("inner_mm", "inside, mm", "0.01", 9),
        Heading("aspect_ratio", "inside over wire", "0.01", 9),
        Heading("smallest_aspect_ratio", "smallest that weaves", "0.01", 10),
        Heading("verdict", "how it will be", width=13),
        Heading("mandrel", "mandrel, mm", "0.01", 9),
    ]
    page.head("Rings and weave")
    page.table(sizes, rows)
    page.row += 1
    counts = [
        Heading("piece", "piece"),
        Heading("rings", "rings", "int"),
        Heading("rows", "rows", "int"),
        Heading("length", "length"),
        Heading("steps", "one repeat less – more"),
        Heading("rings_per_cm", "rings per cm", "0.1"),
        Heading("width_mm", "width, mm", "0.1"),
        Heading("thickness_mm", "thick, mm", "0.1"),
        Heading("mass_g", "weight, g", "0.01"),
        Heading("wire", "wire in the rings"),
        Heading("links", "links", "int"),
    ]
    page.head("Counts, size and weight")
    page.table(counts, rows)
    page.close()


def _section_row(plan: Plan, piece: PiecePlan, number: int) -> dict[str, Any]:
    count = piece.counts[number - 1]
    need = next(
        (x for x in plan.estimates.wire if x.piece == piece.piece.name and x.section == number - 1),
        None,
    )
    row: dict[str, Any] = {
        "piece": piece.piece.name,
        "quantity": piece.piece.quantity,
        "section": number,
        "weave": spoken_weave(count.weave),
        "metal": spoken_metal(count.metal, plan.job.metals),
        "mandrel": (need.mandrel_mm if need else count.mandrel_mm) or None,
        "wire": f"{count.wire_length_m:.2f} m" if count.rings else "none",
    }
    for key in ("wire_mm", "inner_mm", "aspect_ratio", "rings", "links", "mass_g"):
        row[key] = getattr(count, key)
    if count.weave != LOOSE_JOINS:
        for key in ("smallest_aspect_ratio", "verdict", "rings_per_cm", "width_mm", "thickness_mm"):
            row[key] = getattr(count, key)
        row["rows"] = count.rows
        row["length"] = f"{count.length_mm:.1f} mm"
        row["steps"] = f"{count.shorter_mm:.1f} – {count.longer_mm:.1f} mm"
    return row


def add_rings(book: Book, plan: Plan) -> None:
    """Add the sheet of rings, the main columns of rings.csv."""
    _add_long(book, plan, "rings", "Rings", "rings.csv", _RINGS, ring_table)


def add_weld_order(book: Book, plan: Plan) -> None:
    """Add the weld order join by join, as in weld-order.csv."""
    _add_long(book, plan, "weld order", "Weld order", "weld-order.csv", _ORDER, order_table)


def _add_long(
    book: Book,
    plan: Plan,
    name: str,
    title: str,
    file: str,
    headings: Sequence[Heading],
    make: Callable[[PiecePlan], dict[str, Any]],
) -> None:
    import numpy as np

    tables, sizes, total = [], [], 0
    for piece in plan.pieces:
        size = piece.layout.rings if make is ring_table else len(piece.order.ring)
        if total < MOST_ROWS and size:
            tables.append(make(piece))
            sizes.append(size)
        total += size
    says = f"One copy of each piece. More columns stand in {file}."
    if total > MOST_ROWS:
        says = f"The first {MOST_ROWS} of {total} rows; all of them stand in {file}."
    page = book.page(name, title, says, wide=False)
    joined: dict[str, Any] = {
        heading.key: np.concatenate(
            [
                np.broadcast_to(np.asarray(table[heading.key]), (size,))
                for table, size in zip(tables, sizes, strict=True)
            ]
        )
        if tables
        else np.zeros(0)
        for heading in headings
    }
    page.long_table(headings, joined, MOST_ROWS)
    page.close()


def add_passes(book: Book, plan: Plan) -> None:
    """Add the passes, each in the one line that the assistant follows."""
    page = book.page(
        "passes", "Passes", "Each pass is welded without turning the piece or changing power."
    )
    headings = [
        Heading("done", "done", width=6),
        Heading("piece", "piece", width=24),
        Heading("number", "pass", "int", 6),
        Heading("text", "what to do", width=54),
        Heading("joins", "joins", "int", 7),
        Heading("power", "power to try", "j", 9),
        Heading("hits", "hits", "int", 6),
        Heading("tip", "tip", width=8),
        Heading("time", "time", width=13),
        Heading("wait", "of it waiting", width=13),
    ]
    rows = (
        {
            "piece": piece.piece.name,
            "number": item.number,
            "text": item.text.split(f", {item.joins} join")[0],  # the columns say the rest
            "joins": item.joins,
            "power": item.setting.power_j,
            "hits": item.setting.hits,
            "tip": item.setting.tip,
            "time": show_duration(item.seconds),
            "wait": show_duration(item.wait_s) if item.wait_s >= 0.5 else "none",
            "done": "☐",
        }
        for piece in plan.pieces
        for item in piece.order.passes
    )
    page.table(headings, rows, filters=True)
    page.close()


def add_buy_list(book: Book, plan: Plan) -> None:
    """Add what to buy for the whole batch."""
    page = book.page(
        "buy list",
        "Buy list",
        "For the whole batch: needed, less what is in stock, in whole packs. ▸ marks what to buy.",
    )
    headings = [
        Heading("item", "item", width=52),
        Heading("needed", "needed", "0.01", 10),
        Heading("in_stock", "in stock", "sparse", 10),
        Heading("to_buy", "to buy", "sparse", 10),
        Heading("unit", "unit", width=7),
        Heading("packs", "packs", "sparse int", 8),
        Heading("price", f"price, {plan.estimates.currency}", "money", 11),
        Heading("left", "left over", "sparse", 10),
        Heading("note", "note", width=40),
    ]
    rows = []
    for line in plan.estimates.buy:
        row = {heading.key: getattr(line, heading.key) for heading in headings}
        row["unit"] = spoken_unit(line.unit)
        whole = line.unit == "each"
        if whole:
            row |= {f"{key} kind": "sparse int" for key in ("needed", "in_stock", "to_buy", "left")}
        row["item"] = ("▸ " if line.to_buy > 0 else "") + line.item
        row["price"] = line.price or None
        rows.append(row)
    prices = [line.price for line in plan.estimates.buy if line.price]
    total = {"item": "all that has a price", "price": sum(prices)} if prices else None
    page.table(headings, rows, total=total)
    page.close()


def _power_range(line: SettingLine) -> str:
    """Say between which powers the first setting is expected; nothing for the user's own."""
    power = next((figure for figure in line.figures if figure.key == "pulse-power"), None)
    return f"{power.low:.0f} – {power.high:.0f} J" if power is not None else ""


def add_settings(book: Book, plan: Plan) -> None:
    """Add the welder settings to try first, with the steps and cautions."""
    page = book.page(
        "settings to try",
        "Settings to try",
        "Try on scrap of the same metal and wire first, then note yours.",
    )
    headings = [
        Heading("piece", "piece", width=24),
        Heading("section", "section", "int", 8),
        Heading("metal", "metal", width=19),
        Heading("wire_mm", "wire, mm", "0.01", 7),
        Heading("power", "power", "j", 9),
        Heading("range", "likely between", width=12),
        Heading("hits", "hits", "int", 6),
        Heading("tip", "tip", width=8),
        Heading("source", "where from", width=12),
        Heading("steps", "steps", width=24),
        Heading("cautions", "cautions", width=50),
        Heading("yours", "your setting", width=12),
    ]
    rows = [
        {
            "piece": line.piece,
            "section": line.section + 1,
            "metal": spoken_metal(line.metal, plan.job.metals),
            "wire_mm": line.wire_mm,
            "power": line.setting.power_j,
            "range": _power_range(line),
            "hits": line.setting.hits,
            "tip": line.setting.tip,
            "source": line.setting.source,
            "steps": "\n".join(line.steps),
            "cautions": "\n".join(f"• {text}" for text in line.cautions),
        }
        for line in plan.estimates.settings
    ]
    page.table(headings, rows, filters=True)
    page.close()
