"""Reads the files of a plan as they stand in their folder; knows columns and keys alone."""

from __future__ import annotations

import csv
import json
import math
import re
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError, cut
from chainplan.examine.alike import kinds_of_rows, kinds_of_texts
from chainplan.examine.findings import Finding

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from chainplan.arrays import FloatArray, IndexArray

RINGS, STEPS, LINKS, PLAN, SHEET = (
    "rings.csv", "weld-order.csv", "links.csv", "plan.json", "bench-sheet.html",
)  # fmt: skip
_TEXT = {
    "piece",
    "weave",
    "metal",
    "face",
    "closed_beforehand",
    "fitting",
    "how",
    "limit_before_c",
    "wait_for",
    "clip_on_ring",
}
_WHOLE = {
    "ring", "section", "row", "position", "heat_kind", "links", "step", "pass", "hits", "other",
    "kind", "interpass_low_c", "interpass_usual_c", "interpass_high_c",
}  # fmt: skip
COLUMNS = {
    RINGS: (
        "piece", "ring", "section", "row", "position", "weave", "metal", "wire_mm", "inner_mm",
        "heat_kind", "x_mm", "y_mm", "z_mm", "normal_x", "normal_y", "normal_z", "links",
        "join_angle_deg", "join_x_mm", "join_y_mm", "join_z_mm", "approach_x", "approach_y",
        "approach_z", "face", "clearance_mm", "spot_gap_mm", "closed_beforehand",
        "fitting",
    ),
    LINKS: ("piece", "ring", "other", "how", "kind"),
    STEPS: (
        "step", "pass", "piece", "ring", "section", "row", "position", "face", "join_angle_deg",
        "power_j", "hits", "start_s", "wait_before_s", "interpass_low_c", "interpass_usual_c",
        "interpass_high_c", "limit_before_c", "wait_for", "clip_on_ring",
    ),
}  # fmt: skip
LARGE_BYTES = 2_000_000
"""Tables beyond are read by a quicker reader that costs a tenth of a second to load."""
_RING = re.compile(r"[1-9][0-9]{0,15}")
_BEGIN, _END = '<script type="application/json" id="content">', "</script>"

Table = dict[str, Any]
"""A column's name to an array of its values."""


def _as_read(files: PieceFiles | PlanFiles) -> dict[str, Any]:
    """Take the fields that were read; what is worked out from them may be growing meanwhile."""
    return {
        item.name: {} if item.default_factory is dict else getattr(files, item.name)
        for item in fields(files)
    }


@dataclass(frozen=True)
class PieceFiles:
    """All that the files say of one piece."""

    name: str
    record: dict[str, Any]  # of plan.json's pieces
    order: dict[str, Any]  # of plan.json's order.pieces
    sheet: dict[str, Any]  # of the bench sheet
    rings: Table
    links: Table
    steps: Table
    language: str = "en"  # of bench sheet and pages
    _coded: dict[str, tuple[list[str], IndexArray]] = field(default_factory=dict, init=False)

    def __getstate__(self) -> dict[str, Any]:
        """Send what was read alone."""
        return _as_read(self)

    @cached_property
    def count(self) -> int:
        """Rows in rings.csv."""
        return len(self.rings["ring"])

    @cached_property
    def centre_mm(self) -> FloatArray:
        """Centres of the rings, shape (n, 3). [mm]."""
        return _points(self.rings, "x_mm", "y_mm", "z_mm")

    @cached_property
    def normal(self) -> FloatArray:
        """Directions of the rings' axes, shape (n, 3)."""
        return _points(self.rings, "normal_x", "normal_y", "normal_z")

    @cached_property
    def join_mm(self) -> FloatArray:
        """Joins on the middle of the wire, shape (n, 3). [mm]."""
        return _points(self.rings, "join_x_mm", "join_y_mm", "join_z_mm")

    @cached_property
    def approach(self) -> FloatArray:
        """Directions from the joins to the electrode's holder, shape (n, 3)."""
        return _points(self.rings, "approach_x", "approach_y", "approach_z")

    @cached_property
    def radius_mm(self) -> FloatArray:
        """Mean radii, shape (n,). [mm]."""
        radius: FloatArray = (self.rings["inner_mm"] + self.rings["wire_mm"]) / 2
        return radius

    @cached_property
    def wire_mm(self) -> FloatArray:
        """Wire diameters, shape (n,). [mm]."""
        wire: FloatArray = self.rings["wire_mm"]
        return wire

    @cached_property
    def materials(self) -> tuple[list[tuple[int, str, float]], IndexArray]:
        """Section (from 0), metal and wire that rings share, sorted; which of them each has."""
        metals, metal = self.coded("metal")
        section, wire = self.rings["section"] - 1, (self.wire_mm * 1000).round()
        first, of_ring = kinds_of_rows(section, metal, wire)
        named = [(int(section[k]), metals[metal[k]], int(wire[k]) / 1000) for k in first.tolist()]
        return named, of_ring

    def coded(self, column: str) -> tuple[list[str], IndexArray]:
        """Words of a column of rings.csv, sorted, and which of them each ring has."""
        if column not in self._coded:
            self._coded[column] = kinds_of_texts(self.rings[column].tolist())
        return self._coded[column]

    @cached_property
    def clip(self) -> IndexArray | None:
        """Ring the clip sits on at each step, from 0; None without one, or with one missing."""
        words, place = kinds_of_texts(self.steps["clip_on_ring"].tolist())
        if not words or not all(_RING.fullmatch(text) for text in words):
            return None
        clip: IndexArray = np.array([int(text) - 1 for text in words], dtype=np.intp)[place]
        return clip if clip.max() < self.count else None

    @cached_property
    def is_loose(self) -> bool:
        """Whether its joins belong to no weave."""
        return bool((self.rings["weave"] == "loose-joins").all())

    @cached_property
    def connecting(self) -> tuple[bool, ...]:
        """Whether each section is rings in a row, of no weave."""
        return tuple(s["weave"] == "connecting-rings" for s in self.record["sections"])

    @cached_property
    def welded(self) -> IndexArray:
        """Ring of each step, from 0, shape (k,)."""
        ring: IndexArray = self.steps["ring"].astype(np.intp) - 1
        return ring


@dataclass(frozen=True)
class PlanFiles:
    """The files of one plan, read."""

    folder: Path
    plan: dict[str, Any]
    sheet: dict[str, Any]
    pieces: tuple[PieceFiles, ...]
    broken: tuple[Finding, ...]  # what could not be read as it should
    whole: bool = True  # whether enough could be read for the checks to run
    _values: dict[str, Any] = field(default_factory=dict)
    _of_pieces: dict[str, dict[str, list[dict[str, Any]]]] = field(default_factory=dict)
    simulated: dict[str, Any] = field(default_factory=dict)  # whole pieces, for checks that follow

    def __getstate__(self) -> dict[str, Any]:
        """Send what was read alone."""
        return _as_read(self)

    @property
    def rest(self) -> bool:
        """Whether the plan is of what was left when it was made again."""
        return "replan" in self.plan

    @cached_property
    def sources(self) -> dict[str, dict[str, Any]]:
        """The values used, by key: settings of the bench, metals, prices."""
        return {row["key"]: row for row in self.plan["estimates"]["sources"]}

    def value(self, key: str) -> float:
        """Usual value of a source, by its key; NaN if it is not listed."""
        row = self.sources.get(key)
        return math.nan if row is None else float(row["usual"])

    def estimates(self, name: str) -> list[dict[str, Any]]:
        """List the rows of one table of the estimates."""
        rows: list[dict[str, Any]] = self.plan["estimates"][name]
        return rows

    def of_piece(self, name: str, piece: str) -> list[dict[str, Any]]:
        """List the rows of one table of the estimates that belong to a piece."""
        rows = self.estimates(name)
        if name not in self._of_pieces:
            by_piece: dict[str, list[dict[str, Any]]] = {}
            for row in rows:
                by_piece.setdefault(row["piece"], []).append(row)
            self._of_pieces[name] = by_piece
        return self._of_pieces[name].get(piece, [])


def _points(table: Table, *names: str) -> FloatArray:
    return np.column_stack([table[name] for name in names])


def read_folder(folder: Path) -> PlanFiles:
    """Read the files of a plan.

    Raises
    ------
    InputError
        If a file is missing or is no CSV or JSON at all.
    """
    broken: list[Finding] = []
    for name in (RINGS, STEPS, LINKS, PLAN, SHEET):
        if not (folder / name).is_file():
            message = f"{folder}: no file {name}; name the folder that a plan was written into"
            raise InputError(message)
        if (folder / name).stat().st_size > BOUNDS.plan_bytes:
            message = f"{folder / name}: at most {BOUNDS.plan_bytes / 1e6:g} MB are taken"
            raise InputError(message)
    try:
        plan = json.loads((folder / PLAN).read_text(encoding="utf-8"), parse_constant=_no_number)
        _, _, page = (folder / SHEET).read_text(encoding="utf-8").partition(_BEGIN)
        content, end, _ = page.partition(_END)
        sheet = json.loads(content if end else "", parse_constant=_no_number)
        tables = {name: read_table(folder / name, broken) for name in COLUMNS}
        pieces = tuple(_pieces(plan, sheet, tables, broken))
    except (
        AttributeError, IndexError, KeyError, RecursionError, TypeError, ValueError, csv.Error,
    ) as error:  # fmt: skip
        message = f"{folder}: its files cannot be read as a plan ({cut(repr(error))})"
        raise InputError(message) from None
    return PlanFiles(folder, plan, sheet, pieces, tuple(broken), whole=not broken)


def _no_number(text: str) -> float:
    message = f"{text} is no number"
    raise ValueError(message)


def read_table(path: Path, broken: list[Finding]) -> Table:
    """Read one CSV file as columns of numbers and texts."""
    if path.stat().st_size > LARGE_BYTES:
        try:
            return _read_large(path)
        except ValueError:
            pass  # some cell is no number: the slower way says which
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.reader(file)
        header = next(reader, [])
        cells: list[str] = []  # one long list: a list a row would be gone over again and again
        for row in reader:
            if len(row) != len(header):
                message = f"{path.name}: a row of {len(row)} cells, {len(header)} columns"
                raise ValueError(message)
            cells += row
    if len(set(header)) < len(header):
        message = f"{path.name} has a column twice"
        raise ValueError(message)
    table = {name: cells[k :: len(header)] for k, name in enumerate(header)}
    result: Table = {}
    for name in COLUMNS[path.name]:
        if name not in table:
            message = f"{path.name} has no column {name!r}"
            raise ValueError(message)
        result[name] = _read_column(path.name, name, table[name], broken)
    return result


def _read_large(path: Path) -> Table:
    """Read a table of many rows, all of whose cells are as they should be.

    Raises
    ------
    ValueError
        If a number is none, or a column is missing.
    """
    import pandas as pd

    names = COLUMNS[path.name]
    kinds = {name: str if name in _TEXT else np.float64 for name in names}
    frame = pd.read_csv(
        path, usecols=list(names), dtype=kinds, keep_default_na=False, float_precision="round_trip"
    )
    table: Table = {}
    for name in names:
        values = frame[name].to_numpy(dtype=object if name in _TEXT else np.float64)
        if name in _TEXT:
            words, place = np.unique(values.astype(str), return_inverse=True)
            plain = np.array([word.removeprefix("'") for word in words.tolist()], dtype=object)
            values = plain[place]
        elif not np.isfinite(values).all():
            message = f"{name}: not finite"
            raise ValueError(message)
        if name in _WHOLE:
            if (values != np.round(values)).any():
                message = f"{name}: not whole"
                raise ValueError(message)
            values = values.astype(np.int64)
        table[name] = values
    return table


def _read_column(file: str, name: str, texts: list[str], broken: list[Finding]) -> Any:
    if name in _TEXT:
        marked = [text for text in set(texts) if text.startswith("'")]
        plain = {text: text[1:] for text in marked}
        return np.array([plain.get(t, t) for t in texts] if marked else texts, dtype=object)
    try:
        values = np.fromiter(map(float, texts), dtype=np.float64, count=len(texts))
    except ValueError:
        values = np.array([_read_number(text) for text in texts])
    wrong = ~np.isfinite(values)
    if name in _WHOLE:
        wrong |= values != np.round(np.where(np.isfinite(values), values, 0.5))
    for row in np.flatnonzero(wrong)[:5].tolist():
        allowed = "a whole number" if name in _WHOLE else "a number"
        broken.append(
            Finding("every number is one", file, f"row {row + 2}, {name}", texts[row], allowed)
        )
    return values.astype(np.int64) if name in _WHOLE and not wrong.any() else values


def _read_number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan


def _pieces(
    plan: dict[str, Any], sheet: dict[str, Any], tables: dict[str, Table], broken: list[Finding]
) -> Iterator[PieceFiles]:
    """Sort the rows of the tables by piece."""
    rows = {name: _rows_by_piece(table) for name, table in tables.items()}
    records = plan["pieces"]
    orders = {order["piece"]: order for order in plan["order"]["pieces"]}
    sheets = {item["name"]: item for item in sheet["pieces"]}
    names = [record["name"] for record in records]
    for file, found in rows.items():
        unknown = sorted(found.keys() - set(names))
        broken.extend(
            Finding("the pieces", file, "piece", name, f"one of {names}") for name in unknown
        )
    for record in records:
        name = record["name"]
        own = {
            file: {
                column: values[rows[file].get(name, slice(0, 0))] for column, values in t.items()
            }
            for file, t in tables.items()
        }
        if "replan" in plan:
            own[STEPS] = _as_left(own[STEPS], plan["replan"]["pace_s"].get(name, []), name, broken)
        yield PieceFiles(
            name,
            record,
            orders[name],
            sheets[name],
            own[RINGS],
            own[LINKS],
            own[STEPS],
            str(sheet["language"]),
        )


def _as_left(steps: Table, pace_s: list[float], name: str, broken: list[Finding]) -> Table:
    """Count what is left of an order from its own beginning; the rows' own numbers stay beside.

    Rows of an order that goes on keep number and start of the first plan; the seconds that each
    takes now stand in plan.json.
    """
    left = {**steps, "row_step": steps["step"], "row_start_s": steps["start_s"]}
    if len(pace_s) != len(steps["step"]):
        found = f"{len(pace_s)} of {len(steps['step'])} steps"
        broken.append(Finding("the pieces", PLAN, f"replan, pace_s, {name}", found, "every step"))
        return left
    left["step"] = np.arange(1, len(pace_s) + 1)
    left["start_s"] = np.cumsum(np.asarray(pace_s, dtype=float) + steps["wait_before_s"])
    return left


def _rows_by_piece(table: Table) -> dict[str, Any]:
    """Find each piece's rows: a slice where they follow one another, as they should."""
    names = table["piece"]
    if not len(names):
        return {}
    edges = np.flatnonzero(names[1:] != names[:-1]) + 1
    starts, ends = [0, *edges.tolist()], [*edges.tolist(), len(names)]
    found: dict[str, list[slice]] = {}
    for start, end in zip(starts, ends, strict=True):
        found.setdefault(names[start], []).append(slice(start, end))
    return {name: own[0] if len(own) == 1 else np.r_[tuple(own)] for name, own in found.items()}
