"""The sheets that only tell: pieces, passes, settings, buy list, rings and the order to weld."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.model.job import LOOSE_JOINS
from chainplan.model.piece.fittings import CONNECTING
from chainplan.report.text.names import (
    spoken_metal,
    spoken_metals,
    spoken_unit,
    spoken_weave,
)
from chainplan.report.text.tables import order_table, ring_table
from chainplan.report.workbook.cells.page import FOLLOWS_NOT
from chainplan.report.workbook.cells.table import Heading
from chainplan.report.workbook.cells.widths import (
    DURATION,
    ITEM,
    KEYWORD,
    LABEL,
    NAME,
    SENTENCE,
    SHORT,
    TICK,
)
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from chainplan.model.estimate import SettingLine
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.report.workbook.cells.page import PlanBook

MOST_ROWS = 50_000
"""Rows that a sheet takes at most, what people may still scroll through; the rest goes to CSV."""

_RINGS = [
    Heading("piece", "piece", words=LABEL),
    Heading("ring", "ring", "int"),
    Heading("section", "section", "int"),
    Heading("row", "row", "int"),
    Heading("position", "place in its row", "int"),
    Heading("wire_mm", "wire, mm", "0.01"),
    Heading("inner_mm", "inside, mm", "0.01"),
    Heading("x_mm", "along, mm", "0.1"),
    Heading("y_mm", "across, mm", "0.1"),
    Heading("z_mm", "towards the front, mm", "0.1"),
    Heading("links", "links", "int"),
    Heading("face", "electrode from", words=KEYWORD),
    Heading("join_angle_deg", "join at, °", "0.1"),
    Heading("clearance_mm", "air beside the electrode, mm", "0.01"),
    Heading("spot_gap_mm", "air to the next wire, mm", "0.01"),
    Heading("closed_beforehand", "closed beforehand", words=KEYWORD),
]
_ORDER = [
    Heading("piece", "piece", words=LABEL),
    Heading("step", "step", "int"),
    Heading("pass", "pass", "int"),
    Heading("ring", "ring", "int"),
    Heading("row", "row", "int"),
    Heading("position", "place in its row", "int"),
    Heading("face", "electrode from", words=KEYWORD),
    Heading("join_angle_deg", "join at, °", "0.1"),
    Heading("power_j", "power, J", "0.1"),
    Heading("hits", "hits", "int"),
    Heading("start_s", "start, s", "int"),
    Heading("wait_before_s", "wait before, s", "sparse int"),
    Heading("interpass_low_c", "before the weld, low, °C", "int"),
    Heading("interpass_usual_c", "usual, °C", "int"),
    Heading("interpass_high_c", "high, °C", "int"),
    Heading("wait_for", "wait for", words=LABEL),
    Heading("clip_on_ring", "clip on ring", words=LABEL),
]
_PIECES = [
    Heading("piece", "piece"),
    Heading("section", "section", "int"),
    Heading("quantity", "copies", "int"),
    Heading("weave", "weave", words=LABEL),
    Heading("metal", "metal", words=LABEL),
    Heading("wire_mm", "wire, mm", "0.01"),
    Heading("inner_mm", "inside, mm", "0.01"),
    Heading("aspect_ratio", "inside over wire", "0.01"),
    Heading("smallest_aspect_ratio", "smallest that weaves", "0.01"),
    Heading("verdict", "how it will be", words=KEYWORD),
    Heading("mandrel", "mandrel, mm", "0.01"),
    Heading("rings", "rings", "int"),
    Heading("rows", "rows", "int"),
    Heading("length_mm", "length, mm", "0.1"),
    Heading("shorter_mm", "one repeat less, mm", "0.1"),
    Heading("longer_mm", "one repeat more, mm", "0.1"),
    Heading("rings_per_cm", "rings per cm", "0.1"),
    Heading("width_mm", "width, mm", "0.1"),
    Heading("thickness_mm", "thick, mm", "0.1"),
    Heading("mass_g", "weight, g", "0.01"),
    Heading("wire_length_m", "wire in the rings, m", "0.01"),
    Heading("links", "links", "int"),
]


def add_pieces(book: PlanBook, plan: Plan) -> None:
    """Add the sheet of pieces: what each section counts, measures and weighs."""
    page = book.page(
        "pieces",
        "Pieces",
        "Everything is for one copy.",  # short: the first columns are printed on both pages
        across=2,
    )
    rows = [
        _section_row(plan, piece, number)
        for piece in plan.pieces
        for number in range(1, len(piece.counts) + 1)
    ]
    page.repeat(page.table(_PIECES, rows), columns=2)
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
        "metal": spoken_metals(count, plan.job.metals),
        "mandrel": (need.mandrel_mm if need else count.mandrel_mm) or None,
        "wire_length_m": count.wire_length_m if count.rings else None,
    }
    for key in ("wire_mm", "inner_mm", "aspect_ratio", "rings", "links", "mass_g"):
        row[key] = getattr(count, key)
    if count.weave not in {LOOSE_JOINS, CONNECTING}:
        for key in ("smallest_aspect_ratio", "verdict", "rows", "length_mm", "shorter_mm",
                    "longer_mm", "rings_per_cm", "width_mm", "thickness_mm"):  # fmt: skip
            row[key] = getattr(count, key)
    return row


def add_rings(book: PlanBook, plan: Plan) -> None:
    """Add the sheet of rings, the main columns of rings.csv."""
    _add_long(book, plan, "rings", "Rings", "rings.csv", _RINGS, ring_table)


def add_weld_order(book: PlanBook, plan: Plan) -> None:
    """Add the weld order join by join, as in weld-order.csv."""
    _add_long(book, plan, "weld order", "Weld order", "weld-order.csv", _ORDER, order_table)


def _add_long(
    book: PlanBook,
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


def add_passes(book: PlanBook, plan: Plan) -> None:
    """Add the passes, each in the one line that the assistant follows."""
    page = book.page(
        "passes", "Passes", "Each pass is welded without turning the piece or changing power."
    )
    headings = [
        Heading("done", "done", words=TICK),
        Heading("piece", "piece"),
        Heading("number", "pass", "int"),
        Heading("text", "what to do", words=SENTENCE),
        Heading("joins", "joins", "int"),
        Heading("power", "power to try", "j"),
        Heading("hits", "hits", "int"),
        Heading("tip", "tip", words=SHORT),
        Heading("time", "time", words=DURATION),
        Heading("wait", "of it waiting", words=DURATION),
    ]
    rows = [
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
    ]
    page.repeat(page.table(headings, rows), filters=True)
    page.close()


def add_buy_list(book: PlanBook, plan: Plan) -> None:
    """Add what to buy for the whole batch."""
    page = book.page(
        "buy list",
        "Buy list",
        "For the whole batch: needed, less what is in stock, in whole packs. ▸ marks what to buy. "
        + FOLLOWS_NOT,
    )
    headings = [
        Heading("item", "item", words=SENTENCE),
        Heading("needed", "needed", "0.01"),
        Heading("in_stock", "in stock", "sparse"),
        Heading("to_buy", "to buy", "sparse"),
        Heading("unit", "unit", words=SHORT),
        Heading("packs", "packs", "sparse int"),
        Heading("price", f"price, {plan.estimates.currency}", "money"),
        Heading("left", "left over", "sparse"),
        Heading("note", "note", words=ITEM),
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
    page.repeat(page.table(headings, rows, total=total))
    page.close()


def _power_range(line: SettingLine) -> str:
    """Say between which powers the first setting is expected; nothing for the user's own."""
    power = next((figure for figure in line.figures if figure.key == "pulse-power"), None)
    return f"{power.low:.0f} – {power.high:.0f} J" if power is not None else ""


def add_settings(book: PlanBook, plan: Plan) -> None:
    """Add the welder settings to try first, with the steps and cautions."""
    page = book.page(
        "settings to try",
        "Settings to try",
        "Try on scrap of the same metal and wire first, then note yours.",
    )
    headings = [
        Heading("piece", "piece"),
        Heading("section", "section", "int"),
        Heading("metal", "metal", words=LABEL),
        Heading("wire_mm", "wire, mm", "0.01"),
        Heading("power", "power", "j"),
        Heading("range", "likely between", words=KEYWORD),
        Heading("hits", "hits", "int"),
        Heading("tip", "tip", words=SHORT),
        Heading("source", "where from", words=KEYWORD),
        Heading("steps", "steps", words=NAME),
        Heading("cautions", "cautions", words=SENTENCE),
        Heading("yours", "your setting", words=KEYWORD),
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
    page.repeat(page.table(headings, rows), filters=True)
    page.close()
