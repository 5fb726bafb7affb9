"""rings.csv and weld-order.csv: one row a ring and one row a join, as columns of arrays."""

from __future__ import annotations

import csv
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.piece.joins import FACES
from chainplan.report.text.evidence import collect, links_table

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    import numpy.typing as npt
    import pandas as pd

    from chainplan.arrays import FloatArray
    from chainplan.model.order import WeldOrder
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.report.text.evidence import PieceEvidence

RING_COLUMNS = (
    ("piece", "name of the piece"),
    ("ring", "number of the ring, from 1 at the start of the piece"),
    ("section", "section of the piece, from 1"),
    ("row", "row across the piece, from 1"),
    ("position", "place along its row, from 1"),
    ("weave", "weave of the section"),
    ("metal", "metal of the ring"),
    ("wire_mm", "wire diameter, mm"),
    ("inner_mm", "inner diameter, mm"),
    ("heat_kind", "row of the piece's heat.ring_kinds in plan.json, from 1"),
    ("x_mm", "centre along the piece, mm"),
    ("y_mm", "centre across the piece, mm"),
    ("z_mm", "centre towards the front, mm"),
    ("normal_x", "direction of the ring's axis"),
    ("normal_y", "direction of the ring's axis"),
    ("normal_z", "direction of the ring's axis"),
    ("links", "rings that pass through this one"),
    ("join_angle_deg", "place of the join on the ring; 0 is towards the front"),
    ("join_x_mm", "the join along the piece, mm"),
    ("join_y_mm", "the join across the piece, mm"),
    ("join_z_mm", "the join towards the front, mm"),
    ("approach_x", "direction from the join towards the electrode's holder"),
    ("approach_y", "direction from the join towards the electrode's holder"),
    ("approach_z", "direction from the join towards the electrode's holder"),
    ("face", "face that the electrode comes from"),
    ("clearance_mm", "air between the electrode and the nearest other ring, mm"),
    ("spot_gap_mm", "air from the wire at the join to the nearest other wire, mm; 0: they touch"),
    ("closed_beforehand", "yes: welded shut before weaving"),
    ("fitting", "what the ring goes through that is no ring"),
)
LINK_COLUMNS = (
    ("piece", "name of the piece"),
    ("ring", "number of a ring, as in rings.csv"),
    ("other", "number of the other ring, higher"),
    ("how", "link; closing link, round the end of a loop; touch: they touch without a link"),
    ("kind", "row of the piece's heat.pair_kinds in plan.json, from 1"),
)
ORDER_COLUMNS = (
    ("step", "number of the join in the order, from 1"),
    ("pass", "pass, from 1"),
    ("piece", "name of the piece"),
    ("ring", "number of the ring, as in the diagrams"),
    ("section", "section of the piece, from 1"),
    ("row", "row across the piece, from 1"),
    ("position", "place along its row, from 1"),
    ("face", "face that the electrode comes from"),
    ("join_angle_deg", "place of the join on the ring; 0 is towards the front"),
    ("power_j", "power to try first, J"),
    ("hits", "pulses on this join"),
    ("start_s", "planned start, s from taking up the piece"),
    ("wait_before_s", "wait before this join, s"),
    ("interpass_low_c", "expected temperature just before the weld, °C, low"),
    ("interpass_usual_c", "the same, usual"),
    ("interpass_high_c", "the same, high"),
    ("limit_before_c", "how warm the ring may be before its weld, °C; empty: as warm as it gets"),
    ("wait_for", "limit that asks for the wait"),
    ("clip_on_ring", "ring that the return lead's clip sits on; empty: there is no clip"),
)


ROWS_AT_ONCE = 50_000
"""Rows turned into cells at a time: those of a million rings would take half a gigabyte."""


def ring_table(plan: PiecePlan, evidence: PieceEvidence | None = None) -> dict[str, Any]:
    """One row a ring of one copy: a column name to an array or a constant."""
    layout, joins = plan.layout, plan.joins
    sections = layout.sections
    number = layout.section
    return {
        "piece": plan.piece.name,
        "ring": np.arange(1, layout.rings + 1),
        "section": number + 1,
        "row": layout.row + 1,
        "position": layout.column + 1,
        "weave": np.array([s.weave for s in sections], dtype=object)[number],
        "metal": np.array([m.metal for m in layout.materials], dtype=object)[layout.material],
        "wire_mm": layout.wire_mm.round(4),
        "inner_mm": (2 * layout.mean_radius_mm - layout.wire_mm).round(4),
        "heat_kind": (evidence or collect(plan)).rings.of_row + 1,
        **_split(layout.centre_mm, ("x_mm", "y_mm", "z_mm"), 4),
        **_split(layout.normal, ("normal_x", "normal_y", "normal_z"), 6),
        "links": layout.degree,
        "join_angle_deg": _degrees(joins.angle_rad),
        **_split(joins.point_mm, ("join_x_mm", "join_y_mm", "join_z_mm"), 4),
        **_split(joins.approach, ("approach_x", "approach_y", "approach_z"), 6),
        "face": _faces(joins.face),
        "clearance_mm": joins.clearance_mm.round(3) + 0.0,
        "spot_gap_mm": joins.spot_gap_mm.round(3) + 0.0,
        "closed_beforehand": np.where(joins.pre_closed, "yes", "no"),
        "fitting": _fittings_of_rings(plan),
    }


def _fittings_of_rings(plan: PiecePlan) -> Any:
    """Name what each ring goes through that is no ring, shape (n,); "" for nothing."""
    names = np.full(plan.layout.rings, "", dtype=object)
    for laid in plan.layout.fittings:
        for ring in laid.rings:
            names[ring] = f"{names[ring]}, {laid.name}" if names[ring] else laid.name
    return names


def order_table(plan: PiecePlan) -> dict[str, Any]:
    """One row a join in the order to weld: a column name to an array or a constant."""
    order, layout = plan.order, plan.layout
    ring = order.ring
    settings = {item.number: item.setting for item in order.passes}
    numbers = range(max(settings, default=0) + 1)
    power = np.array([settings[n].power_j if n in settings else 0.0 for n in numbers])
    hits = np.array([settings[n].hits if n in settings else 0 for n in numbers])
    return {
        "step": np.arange(1, len(ring) + 1) if order.row_step is None else order.row_step,
        "pass": order.pass_number,
        "piece": plan.piece.name,
        "ring": ring + 1,
        "section": layout.section[ring] + 1,
        "row": layout.row[ring] + 1,
        "position": layout.column[ring] + 1,
        "face": _faces(plan.joins.face[ring]),
        "join_angle_deg": _degrees(plan.joins.angle_rad[ring]),
        "power_j": power[order.pass_number],
        "hits": hits[order.pass_number],
        "start_s": (order.start_s if order.row_start_s is None else order.row_start_s).round(1),
        "wait_before_s": (order.wait_s if order.row_wait_s is None else order.row_wait_s).round(1),
        "interpass_low_c": order.interpass_low_c.round().astype(int),
        "interpass_usual_c": order.interpass_usual_c.round().astype(int),
        "interpass_high_c": order.interpass_high_c.round().astype(int),
        "limit_before_c": _limits_before(order),
        "wait_for": wait_reasons(order),
        "clip_on_ring": clip_rings(order),
    }


def _limits_before(order: WeldOrder) -> FloatArray:
    """Return the least limit of each step's ring before its weld, NaN where there is none. [°C]."""
    limit_c = order.limit_before_c.round(2)
    return np.where(np.isfinite(limit_c), limit_c, np.nan)


def wait_reasons(order: WeldOrder) -> npt.NDArray[np.str_]:
    """Name the limit that asks for the wait before each step, "" where there is none, (k,)."""
    names = np.asarray([*(check.name for check in order.limits), ""])
    if order.wait_limit is None:
        return np.full(order.ring.shape, "")
    return names[order.wait_limit]


def clip_rings(order: WeldOrder) -> npt.NDArray[np.str_]:
    """Name the ring that the clip sits on at each step, from 1, "" without a clip, (k,)."""
    clip = None if order.earthing is None else order.earthing.clip_ring
    return np.full(order.ring.shape, "") if clip is None else (clip + 1).astype(str)


def frames_of(plan: Plan) -> dict[str, pd.DataFrame]:
    """Return the tables of a plan as DataFrames, by the names of the workbook's sheets."""
    import pandas as pd

    estimates = plan.estimates
    order = [pd.DataFrame(order_table(piece)) for piece in plan.pieces]
    passes = [
        {"piece": piece.piece.name, **_plain_fields(item)}
        for piece in plan.pieces
        for item in piece.order.passes
    ]
    lists = {
        "passes": passes,
        "wire": [_plain_fields(line) for line in estimates.wire],
        "buy list": [_plain_fields(line) for line in estimates.buy],
        "time": [_plain_fields(line) for line in estimates.times],
        "cost": [_plain_fields(line) for line in estimates.costs],
        "price": [_plain_fields(line) for line in estimates.quotes],
        "calendar": [_plain_fields(line) for line in estimates.calendar],
        "sources": [_plain_fields(line) for line in estimates.sources],
    }
    return {
        "rings": pd.concat([pd.DataFrame(ring_table(p)) for p in plan.pieces], ignore_index=True),
        "weld order": pd.concat(order, ignore_index=True),
        **{name: pd.DataFrame(rows) for name, rows in lists.items()},
    }


def _plain_fields(line: Any) -> dict[str, Any]:
    """Give the fields of a dataclass, those of a nested one beside them."""
    found: dict[str, Any] = {}
    for item in fields(line):
        value = getattr(line, item.name)
        found |= _plain_fields(value) if is_dataclass(value) else {item.name: value}
    return found


def write_tables(plan: Plan, folder: Path, evidence: Sequence[PieceEvidence]) -> None:
    """Write rings.csv, links.csv and weld-order.csv of the whole job into a folder."""
    known = list(zip(plan.pieces, evidence, strict=True))
    write_csv(folder / "rings.csv", RING_COLUMNS, (ring_table(*pair) for pair in known))
    write_csv(folder / "links.csv", LINK_COLUMNS, (links_table(*pair) for pair in known))
    write_csv(
        folder / "weld-order.csv", ORDER_COLUMNS, (order_table(piece) for piece in plan.pieces)
    )


def write_csv(
    path: Path, columns: tuple[tuple[str, str], ...], tables: Iterable[Mapping[str, Any]]
) -> None:
    """Write tables below one another as CSV: UTF-8, comma, decimal point, quotes where needed.

    A text that a spreadsheet could take for a formula gets an apostrophe in front.
    """
    names = [name for name, _ in columns]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(names)
        for table in tables:
            length = max(np.size(table[name]) for name in names if np.ndim(table[name]))
            for begin in range(0, length, ROWS_AT_ONCE):
                some = slice(begin, min(begin + ROWS_AT_ONCE, length))
                cells = [_cells(table[name], some) for name in names]
                writer.writerows(zip(*cells, strict=True))


def _cells(values: Any, some: slice) -> list[Any]:
    """Turn some rows of a column into plain cells; numbers that are not known stay empty."""
    if isinstance(values, str):
        return [_harmless(values)] * (some.stop - some.start)
    array = np.asarray(values)[some]
    if array.dtype.kind in "USO":
        texts: list[str] = array.tolist()
        known = {text: _harmless(text) for text in set(texts)}
        return [known[text] for text in texts]
    numbers: list[Any] = array.tolist()
    if array.dtype.kind != "f":
        return numbers
    return [None if number != number else number for number in numbers]


def _harmless(text: str) -> str:
    """Keep a text from becoming a formula.

    Examples
    --------
    >>> _harmless("plain"), _harmless("=1+1")
    ('plain', "'=1+1")
    """
    return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def _split(points: Any, names: tuple[str, str, str], digits: int) -> dict[str, Any]:
    return {name: points[:, k].round(digits) + 0.0 for k, name in enumerate(names)}


def _degrees(angle_rad: Any) -> Any:
    return np.degrees(angle_rad).round(1) % 360.0


def _faces(face: Any) -> Any:
    return np.array([*FACES, "none"], dtype=object)[face]
