"""The long sheets of a workbook, there on request: rings and weld order, cell by cell."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.printed.cells import table_below

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.printed.cells import Sheet
    from chainplan.examine.reading import PieceFiles, PlanFiles

MOST_ROWS = 50_000
"""Rows that a sheet takes; the rest stands in the CSV file alone."""
_RINGS = {
    "piece": "piece", "ring": "ring", "section": "section", "row": "row",
    "place in its row": "position", "wire, mm": "wire_mm", "inside, mm": "inner_mm",
    "along, mm": "x_mm", "across, mm": "y_mm", "towards the front, mm": "z_mm", "links": "links",
    "electrode from": "face", "join at, °": "join_angle_deg",
    "air beside the electrode, mm": "clearance_mm", "air to the next wire, mm": "spot_gap_mm",
    "closed beforehand": "closed_beforehand",
}  # fmt: skip
_STEPS = {
    "piece": "piece", "step": "step", "pass": "pass", "ring": "ring", "row": "row",
    "place in its row": "position", "electrode from": "face", "join at, °": "join_angle_deg",
    "power, J": "power_j", "hits": "hits", "start, s": "start_s", "wait before, s": "wait_before_s",
    "before the weld, low, °C": "interpass_low_c", "usual, °C": "interpass_usual_c",
    "high, °C": "interpass_high_c", "wait for": "wait_for", "clip on ring": "clip_on_ring",
}  # fmt: skip
_ROUNDED = {"start_s": 0.051, "wait_before_s": 0.051, "power_j": 0.00051}
"""What the table rounds of a column more than a ten-thousandth."""
_OFF = 0.000101
"""Of all other columns: written to four decimals, with a hundredth for binary numbers."""


def check_long_sheets(files: PlanFiles, book: dict[str, Sheet], teller: Teller) -> None:
    """Compare the sheets that are there with rings.csv and weld-order.csv."""
    for name, columns in (("rings", _RINGS), ("weld order", _STEPS)):
        if name not in book:
            continue
        try:
            rows = table_below(book[name], tuple(columns))
        except LookupError as error:
            teller.tell("plan.xlsx", name, str(error), "the table of the plan")
            continue
        tables = [piece.rings if name == "rings" else _rows_of(piece) for piece in files.pieces]
        total = sum(len(table["ring"]) for table in tables)
        teller.same("plan.xlsx", f"{name}, rows", len(rows), min(total, MOST_ROWS))
        for heading, column in columns.items():
            wanted = np.concatenate([table[column] for table in tables])[:MOST_ROWS]
            cells = [row.get(heading) for row in rows[: len(wanted)]]
            _compare(name, heading, column, cells, wanted[: len(cells)], teller)


def _rows_of(piece: PieceFiles) -> dict[str, Any]:
    """Give the rows of the weld order as they are numbered in its table."""
    steps = piece.steps
    if "row_step" not in steps:
        return steps
    return steps | {"step": steps["row_step"], "start_s": steps["row_start_s"]}


def _compare(
    name: str, heading: str, column: str, cells: list[float | str | None], wanted: Any,
    teller: Teller,
) -> None:  # fmt: skip
    if column in ("piece", "face", "closed_beforehand", "wait_for", "clip_on_ring"):
        told = ["" if cell is None else _plain(cell) for cell in cells]
        odd = [k for k, (a, b) in enumerate(zip(told, wanted.tolist(), strict=True)) if a != b]
    else:
        numbers = np.array([0.0 if cell is None else _number(cell) for cell in cells])
        off = _ROUNDED.get(column, _OFF)
        odd = np.flatnonzero(~(np.abs(numbers - wanted.astype(float)) <= off)).tolist()
    for k in odd[:3]:
        teller.tell("plan.xlsx", f"{name}, row {k + 1} of its table, {heading}", cells[k],
                    wanted[k])  # fmt: skip


def _plain(cell: float | str) -> str:
    return f"{cell:.0f}" if isinstance(cell, float) else cell


def _number(cell: float | str) -> float:
    return cell if isinstance(cell, float) else float("nan")
