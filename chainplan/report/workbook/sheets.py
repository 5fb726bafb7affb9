"""The sheets that only tell: pieces, rings, weld order, passes, buy list, settings, time, dates."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.report.tables import ORDER_COLUMNS, RING_COLUMNS, order_table, ring_table
from chainplan.report.workbook.style import (
    MOST_ROWS,
    WRAP,
    Heading,
    open_sheet,
    put_columns,
    put_table,
    put_text,
)
from chainplan.units import show_duration

if TYPE_CHECKING:
    from collections.abc import Callable

    from openpyxl import Workbook

    from chainplan.model.plan import PiecePlan, Plan

_KINDS = {
    "_mm": "0.01",
    "_deg": "0.1",
    "_j": "j",
    "_s": "0.1",
    "_c": "c",
    "normal_x": "0.001",
    "normal_y": "0.001",
    "normal_z": "0.001",
}
_WORDS = {"piece", "weave", "metal", "face", "closed_beforehand"}


def add_pieces(book: Workbook, plan: Plan) -> None:
    """Add the sheet of pieces: what each section counts, measures and weighs."""
    sheet = book.create_sheet("pieces")
    open_sheet(
        sheet, "Pieces", "One line a section of a piece; counts and masses are for one copy."
    )
    headings = [
        Heading("piece", "piece", width=26),
        Heading("quantity", "copies", "int", 8),
        Heading("section", "section", "int", 8),
        Heading("weave", "weave", width=20),
        Heading("metal", "metal", width=18),
        Heading("wire_mm", "wire, mm", "0.01", 9),
        Heading("inner_mm", "inner diameter, mm", "0.01", 10),
        Heading("aspect_ratio", "aspect ratio", "0.01", 9),
        Heading("smallest_aspect_ratio", "smallest that weaves", "0.01", 10),
        Heading("verdict", "how it will be", width=16),
        Heading("rings", "rings", "int", 9),
        Heading("joins", "joins", "int", 9),
        Heading("rows", "rows", "int", 7),
        Heading("rings_per_cm", "rings per cm", "0.01", 9),
        Heading("length_mm", "length, mm", "0.1", 10),
        Heading("shorter_mm", "one repeat less, mm", "0.1", 10),
        Heading("longer_mm", "one repeat more, mm", "0.1", 10),
        Heading("width_mm", "width, mm", "0.1", 9),
        Heading("thickness_mm", "thickness, mm", "0.1", 10),
        Heading("mass_g", "mass, g", "0.1", 9),
        Heading("wire_length_m", "wire in the rings, m", "0.01", 10),
        Heading("notes", "notes", width=30),
    ]
    rows = []
    for piece in plan.pieces:
        for number, count in enumerate(piece.counts, 1):
            row: dict[str, Any] = {
                heading.key: getattr(count, heading.key)
                for heading in headings
                if hasattr(count, heading.key)
            }
            loose = count.weave == "loose-joins"
            if loose:
                for key in ("length_mm", "shorter_mm", "longer_mm", "rings_per_cm", "rows"):
                    row[key] = None
                for key in ("width_mm", "thickness_mm", "smallest_aspect_ratio"):
                    row[key] = None
            row |= {
                "piece": piece.piece.name,
                "quantity": piece.piece.quantity,
                "section": number,
                "notes": piece.piece.notes if number == 1 else "",
            }
            rows.append(row)
    put_table(sheet, headings, rows)


def add_rings(book: Workbook, plan: Plan) -> None:
    """Add the sheet of rings, as in rings.csv."""
    _add_long(book, plan, "rings", "Rings", "rings.csv", RING_COLUMNS, ring_table)


def add_weld_order(book: Workbook, plan: Plan) -> None:
    """Add the weld order join by join, as in weld-order.csv."""
    _add_long(book, plan, "weld order", "Weld order", "weld-order.csv", ORDER_COLUMNS, order_table)


def _add_long(
    book: Workbook,
    plan: Plan,
    name: str,
    title: str,
    file: str,
    columns: tuple[tuple[str, str], ...],
    make: Callable[[PiecePlan], dict[str, Any]],
) -> None:
    import numpy as np

    sheet = book.create_sheet(name)
    tables, rows, total = [], 0, 0
    for piece in plan.pieces:
        size = piece.layout.rings if make is ring_table else len(piece.order.ring)
        total += size
        if rows < MOST_ROWS and size:
            tables.append(make(piece))
            rows += size
    says = f"One copy of each piece. The same rows stand in {file}."
    if total > MOST_ROWS:
        says = f"The first {MOST_ROWS} of {total} rows; all of them stand in {file}."
    open_sheet(sheet, title, says)
    headings = [
        Heading(key, key.replace("_", " "), _kind(key), 12 if key != "piece" else 24)
        for key, _ in columns
    ]
    if not tables:
        put_table(sheet, headings, ())
        return
    sizes = [max(np.size(v) for v in table.values()) for table in tables]
    joined = {
        key: np.concatenate(
            [
                np.broadcast_to(np.asarray(table[key]), (size,))
                for table, size in zip(tables, sizes, strict=True)
            ]
        )
        for key, _ in columns
    }
    put_columns(sheet, headings, joined)


def _kind(key: str) -> str:
    if key in _WORDS:
        return "text"
    return next((kind for ending, kind in _KINDS.items() if key.endswith(ending)), "int")


def add_passes(book: Workbook, plan: Plan) -> None:
    """Add the passes, each in the one line that the assistant follows."""
    sheet = book.create_sheet("passes")
    open_sheet(sheet, "Passes", "Each pass is welded without turning the piece or changing power.")
    headings = [
        Heading("piece", "piece", width=24),
        Heading("number", "pass", "int", 7),
        Heading("text", "what to do", width=70),
        Heading("joins", "joins", "int", 8),
        Heading("power", "power to try, J", "j", 10),
        Heading("hits", "hits", "int", 7),
        Heading("tip", "tip", width=9),
        Heading("time", "time", width=14),
        Heading("wait", "of it waiting", width=14),
        Heading("done", "done", width=8),
    ]
    rows = (
        {
            "piece": piece.piece.name,
            "number": item.number,
            "text": item.text,
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
    put_table(sheet, headings, rows)


def add_buy_list(book: Workbook, plan: Plan) -> None:
    """Add what to buy for the whole batch."""
    sheet = book.create_sheet("buy list")
    open_sheet(
        sheet, "Buy list", "For the whole batch: needed, less what is in stock, in whole packs."
    )
    headings = [
        Heading("item", "item", width=34),
        Heading("metal", "metal", width=18),
        Heading("temper", "temper", width=12),
        Heading("size_mm", "size, mm", "0.01", 9),
        Heading("needed", "needed", "0.01", 10),
        Heading("in_stock", "in stock", "0.01", 10),
        Heading("to_buy", "to buy", "0.01", 10),
        Heading("unit", "unit", width=8),
        Heading("packs", "packs", "int", 8),
        Heading("price", f"price, {plan.estimates.currency}", "money", 12),
        Heading("note", "note", width=44),
    ]
    rows = ({h.key: getattr(line, h.key) for h in headings} for line in plan.estimates.buy)
    put_table(sheet, headings, rows)


def add_settings(book: Workbook, plan: Plan) -> None:
    """Add the welder settings to try first, with the steps and cautions."""
    sheet = book.create_sheet("settings to try")
    open_sheet(
        sheet,
        "Settings to try",
        "First settings, estimated: try on scrap of the same metal and wire, then note yours.",
    )
    headings = [
        Heading("piece", "piece", width=24),
        Heading("section", "section", "int", 8),
        Heading("metal", "metal", width=18),
        Heading("wire_mm", "wire, mm", "0.01", 9),
        Heading("power", "power, J", "j", 10),
        Heading("hits", "hits", "int", 7),
        Heading("tip", "tip", width=9),
        Heading("source", "where from", width=20),
        Heading("steps", "steps", width=60),
        Heading("cautions", "cautions", width=60),
        Heading("yours", "your setting", width=14),
    ]
    rows = (
        {
            "piece": line.piece,
            "section": line.section + 1,
            "metal": line.metal,
            "wire_mm": line.wire_mm,
            "power": line.setting.power_j,
            "hits": line.setting.hits,
            "tip": line.setting.tip,
            "source": line.setting.source,
            "steps": "\n".join(line.steps),
            "cautions": "\n".join(line.cautions),
        }
        for line in plan.estimates.settings
    )
    put_table(sheet, headings, rows)


def add_time(book: Workbook, plan: Plan) -> None:
    """Add the time at each station, as low, usual and high."""
    sheet = book.create_sheet("time")
    open_sheet(sheet, "Time", "All copies of a piece, in minutes at each station.")
    headings = [
        Heading("piece", "piece", width=26),
        Heading("station", "station", width=14),
        Heading("low_min", "low, min", "0.1", 10),
        Heading("usual_min", "usual, min", "0.1", 10),
        Heading("high_min", "high, min", "0.1", 10),
        Heading("basis", "what it counts", width=70),
    ]
    rows = ({h.key: getattr(line, h.key) for h in headings} for line in plan.estimates.times)
    put_table(sheet, headings, rows)


def add_calendar(book: Workbook, plan: Plan) -> None:
    """Add who is worked on when, and which due dates are kept."""
    sheet = book.create_sheet("calendar")
    dated = any(line.start is not None for line in plan.estimates.calendar)
    says = "Working hours from the start of the job."
    if not dated:
        says += " Give the job a start date to see days."
    open_sheet(sheet, "Calendar", says)
    headings = [
        Heading("piece", "piece", width=24),
        Heading("due", "due", "date", 12),
        Heading("done", "done", "date", 12),
        Heading("late_days", "days late", "int", 9),
        Heading("chance_in_time", "chance to be in time", "%", 12),
    ]
    rows = [{h.key: getattr(line, h.key) for h in headings} for line in plan.estimates.due]
    last = put_table(sheet, headings, rows, filters=False)
    headings = [
        Heading("piece", "piece", width=24),
        Heading("station", "station", width=14),
        Heading("start", "from", "text", 18),
        Heading("end", "to", "text", 18),
        Heading("start_h", "from, working h", "0.1", 14),
        Heading("end_h", "to, working h", "0.1", 12),
    ]
    work = (
        {
            "piece": line.piece,
            "station": line.station,
            "start": f"{line.start:%Y-%m-%d %H:%M}" if line.start else None,
            "end": f"{line.end:%Y-%m-%d %H:%M}" if line.end else None,
            "start_h": line.start_h,
            "end_h": line.end_h,
        }
        for line in plan.estimates.calendar
    )
    end = put_table(sheet, headings, work, top=last + 3, filters=False)
    sheet.print_title_rows = None
    sheet.print_area = f"A1:F{end}"


def add_sources(book: Workbook, plan: Plan) -> None:
    """Add every value used: unit, range, where it comes from."""
    sheet = book.create_sheet("sources")
    open_sheet(
        sheet,
        "Sources and assumptions",
        "Every value that the plan rests on. 'From memory' and 'no source' mean just that.",
    )
    headings = [
        Heading("title", "value", width=46),
        Heading("usual", "usual", "general", 14),
        Heading("low", "low", "general", 12),
        Heading("high", "high", "general", 12),
        Heading("unit", "unit", width=12),
        Heading("source", "source", width=70),
    ]
    rows = [{h.key: getattr(figure, h.key) for h in headings} for figure in plan.estimates.sources]
    seen = set()
    for piece in plan.pieces:
        for name, low, usual, high, unit, source in piece.heat.assumptions:
            line = (name, low, usual, high, unit, source)
            if line not in seen:
                seen.add(line)
                keys = ("title", "low", "usual", "high", "unit", "source")
                rows.append(dict(zip(keys, line, strict=True)))
    put_table(sheet, headings, rows)


def add_cautions(book: Workbook, cautions: tuple[str, ...]) -> None:
    """Add the cautions, once for the whole book."""
    sheet = book.create_sheet("cautions")
    open_sheet(
        sheet, "Before you weld", "Read once, every time somebody new sits down.", wide=False
    )
    sheet.column_dimensions["A"].width = 100
    for row, text in enumerate(cautions, 4):
        cell = sheet.cell(row=row, column=1)
        put_text(cell, f"•  {text}")
        cell.alignment = WRAP
