"""Reads a plan's folder as the record keeps it: ``plan.json`` and ``weld-order.csv``."""

from __future__ import annotations

import contextlib
import datetime
import hashlib
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError, cut
from chainplan.intake import read_bytes, read_plan_record
from chainplan.model.estimate import FittingCount, PieceCounts, RingGroup
from chainplan.model.workshop.bench_log import unguarded
from chainplan.model.workshop.record import KnownPiece, KnownPlan, KnownSection, KnownTask, Turn
from chainplan.record.reading.sound import (
    look_at_people,
    look_at_piece,
    look_at_settings,
    look_at_task,
    number_of,
    refuse_unless,
    text_of,
    whole_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

MARK = 12
"""Digits of the input's hash by which a bench log names its plan."""
KEY = 16
"""Digits of the hash by which a plan is told from every other: 64 bits."""
UNREADABLE = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)
"""What reading meets where a record holds another kind of thing than it should."""
_NUMBERS = ("step", "pass", "ring", "section", "power_j", "hits", "start_s", "wait_before_s")


def read_plan_folder(folder: str | Path) -> KnownPlan:
    """Read the plan in a folder.

    Raises
    ------
    InputError
        If the folder holds no whole plan.
    """
    folder = Path(folder)
    record, table_bytes = _files(folder)
    with told_as_damage(folder):
        return _known(folder, record, table_bytes)


@contextlib.contextmanager
def told_as_damage(folder: Path) -> Iterator[None]:
    """Tell what fails in here, where nothing but a folder's files can be at fault, as their damage.

    Raises
    ------
    InputError
        If the files hold another kind of thing than they should.
    """
    try:
        yield
    except InputError:
        raise
    except UNREADABLE as error:
        message = (
            f"{folder}: its plan cannot be read ({cut(f'{type(error).__name__}: {error}')}); plan "
            "the job again"
        )
        raise InputError(message) from error


def read_counts(folder: str | Path) -> tuple[tuple[PieceCounts, ...], float, str]:
    """Read what the estimates of a written plan were worked out from.

    Returns
    -------
    tuple
        The counted pieces, the welding time of the batch over that of its pieces one after another
        [-], and the hash of the job file.

    Raises
    ------
    InputError
        If the folder holds no whole plan.
    """
    folder = Path(folder)
    record, _ = _files(folder)
    with told_as_damage(folder):
        estimates = record["estimates"]
        counts = tuple(_counts_of(item) for item in estimates["counts"])
        return counts, float(estimates["weld_share"]), str(record["stamp"]["input_sha256"])


def _counts_of(item: Mapping[str, Any]) -> PieceCounts:
    """Make one counted piece of its record."""
    own = dict(item)
    own["groups"] = tuple(RingGroup(**group) for group in own["groups"])
    own["fittings"] = tuple(
        FittingCount(**each | {"price": _decimal(each["price"])}) for each in own["fittings"]
    )
    own["minutes"] = tuple((station, float(each)) for station, each in own["minutes"])
    own["wage_above_per_hour"] = Decimal(own["wage_above_per_hour"])
    if own["due"] is not None:
        own["due"] = datetime.date.fromisoformat(own["due"])
    own["list_price"] = _decimal(own["list_price"])
    return PieceCounts(**own)


def _decimal(value: str | None) -> Decimal | None:
    return None if value is None else Decimal(value)


def _files(folder: Path) -> tuple[dict[str, Any], bytes]:
    if not folder.is_dir():
        message = f"{folder}: there is no such folder; name the folder of a plan"
        raise InputError(message)
    for name in ("plan.json", "weld-order.csv"):
        if not (folder / name).is_file():
            message = f"{folder}: holds no plan: {name} is not there"
            raise InputError(message)
    table = folder / "weld-order.csv"
    return (
        read_plan_record(folder / "plan.json"),
        read_bytes(table, BOUNDS.plan_bytes, allowed="name the folder of a plan"),
    )


def _known(folder: Path, record: dict[str, Any], table_bytes: bytes) -> KnownPlan:
    stamp = record["stamp"]
    said = (
        f"{stamp['program']} {stamp['version']} · input {stamp['input_sha256']} · "
        f"seed {stamp['seed']}"
    )
    rows = _order_rows(table_bytes)
    minutes: dict[str, dict[str, float]] = {}
    for line in record["estimates"]["times"]:
        minutes.setdefault(line["piece"], {})[text_of(line["station"])] = number_of(
            line["usual_min"], 0, 1e9
        )
    orders = {line["piece"]: line for line in record["order"]["pieces"]}
    pieces = tuple(
        _piece(item, orders[item["name"]], rows.get(item["name"]), minutes.get(item["name"], {}))
        for item in record["pieces"]
    )
    several = [
        item["name"] for item in record["pieces"]
        if any(len(section.get("metals") or ()) > 1 for section in item["sections"])
    ]  # fmt: skip
    metals = _metals(folder / "rings.csv", several) if several else {}
    pieces = tuple(
        replace(piece, metal=tuple(metals[piece.name][piece.ring - 1].tolist()))
        if piece.name in metals
        else piece
        for piece in pieces
    )
    paces = record.get("replan", {}).get("pace_s", {})
    pieces = tuple(_paced(piece, paces.get(piece.name)) for piece in pieces)
    names = [piece.name for piece in pieces]
    refuse_unless(len(set(names)) == len(names), "a piece stands twice")
    key = hashlib.sha256(said.encode() + b"\n" + table_bytes).hexdigest()[:KEY]
    return KnownPlan(
        key=key,
        mark=stamp["input_sha256"][:MARK],
        stamp=said,
        job=text_of(record["job"]),
        pieces=pieces,
        turns=_turns(record["order"]["batch"]),
        tasks=tuple(_tasks(record.get("schedule", {}).get("tasks", ()))),
        bench=_bench(record),
        currency=text_of(record["estimates"].get("currency") or ""),
        follows=text_of(record.get("replan", {}).get("follows", "")),
        root=key,
    )


def _paced(piece: KnownPiece, told: Sequence[float] | None) -> KnownPiece:
    """Give a piece of a rest its own pace; that of a whole plan follows from its rows."""
    if told is None:
        return piece
    pace_s = np.array([number_of(each, 0, 1e9) for each in told], dtype=float)
    refuse_unless(len(pace_s) == piece.joins, "seconds of other steps than there are")
    return replace(piece, pace_s=pace_s)


def _order_rows(table: bytes) -> dict[str, dict[str, Any]]:
    """Columns of the weld order by piece."""
    import io

    import pandas as pd

    frame = pd.read_csv(
        io.BytesIO(table), usecols=["piece", *_NUMBERS], dtype={"piece": str},
        keep_default_na=False,
    )  # fmt: skip
    found = {}
    for name, part in frame.groupby("piece", sort=False):
        part = part.sort_values("step", kind="stable")
        found[unguarded(str(name))] = {column: part[column].to_numpy() for column in _NUMBERS}
    return found


def _metals(path: Path, names: Sequence[str]) -> dict[str, Any]:
    """Metal of each ring of some pieces, in the order of the rings."""
    import io

    import pandas as pd

    table = read_bytes(path, BOUNDS.plan_bytes, allowed="name the folder of a plan")
    frame = pd.read_csv(
        io.BytesIO(table), usecols=["piece", "ring", "metal"], dtype={"piece": str, "metal": str},
        keep_default_na=False,
    )  # fmt: skip
    return {
        unguarded(str(name)): part.sort_values("ring", kind="stable")["metal"].to_numpy()
        for name, part in frame.groupby("piece", sort=False)
        if unguarded(str(name)) in names
    }


def _piece(
    item: Mapping[str, Any],
    order: Mapping[str, Any],
    rows: Mapping[str, Any] | None,
    minutes: Mapping[str, float],
) -> KnownPiece:
    if rows is None:
        rows = {column: np.zeros(0) for column in _NUMBERS}
    wait_s = rows["wait_before_s"].astype(float)
    worked_s = rows["start_s"].astype(float) - np.cumsum(wait_s)
    worked_s[-1:] = float(order["bench_time_s"]) - wait_s.sum()
    tips = {entry["number"]: entry["setting"]["tip"] for entry in order["passes"]}
    look_at_piece(item, rows, worked_s, list(tips))
    passes = rows["pass"].astype(np.int32)
    return KnownPiece(
        name=text_of(item["name"]),
        copies=int(item["quantity"]),
        rings=int(item["rings"]),
        sections=tuple(_section(section) for section in item["sections"]),
        ring=rows["ring"].astype(np.int32),
        pass_number=passes,
        section=rows["section"].astype(np.int32),
        power_j=rows["power_j"].astype(float),
        hits=rows["hits"].astype(np.int32),
        tip=tuple(text_of(tips[number]) for number in passes.tolist()),
        pace_s=np.maximum(np.diff(worked_s, prepend=0.0), 0.0),
        wait_s=wait_s,
        station_min=dict(minutes),
    )


def _section(section: Mapping[str, Any]) -> KnownSection:
    mandrel = section.get("mandrel_mm")
    return KnownSection(
        weave=text_of(section["weave"]),
        metal=text_of(section["metal"]),
        wire_mm=number_of(section["wire_mm"], 0, 1e3),
        inner_mm=number_of(section["inner_mm"], 0, 1e4),
        mandrel_mm=None if mandrel is None else number_of(mandrel, 0, 1e4),
        rings=whole_of(section["rings"], 0),
        links=whole_of(section["links"], 0),
    )


def _turns(batch: Mapping[str, Any]) -> tuple[Turn, ...]:
    columns = (batch["piece"], batch["copy"], batch["first_step"], batch["steps"])
    return tuple(
        Turn(text_of(name), whole_of(copy, 1), whole_of(first, 0), whole_of(steps, 0))
        for name, copy, first, steps in zip(*columns, strict=True)
    )


def _tasks(tasks: Sequence[Mapping[str, Any]]) -> Iterator[KnownTask]:
    """Give the schedule's lines; none without dates."""
    for task in tasks:
        if task["start"] is not None:
            look_at_task(task)
            yield KnownTask(**{name: task[name] for name in KnownTask._fields})


def _bench(record: Mapping[str, Any]) -> dict[str, Any]:
    """List every bench setting of the plan by "group.name", its first day and what it quoted."""
    look_at_settings(record["bench"])
    look_at_people(record.get("schedule", {}).get("hours", []))
    if record.get("start_date") is not None:
        datetime.date.fromisoformat(text_of(record["start_date"]))
    found = {
        f"{group}.{name}": value
        for group, settings in record["bench"].items()
        for name, value in settings.items()
    }
    estimates = record["estimates"]
    quotes, wires = estimates.get("quotes", []), estimates.get("wire", [])
    return {
        **found,
        "job.start_date": record.get("start_date"),
        "job.people": record.get("schedule", {}).get("hours", []),
        "quote.cost": sum(float(quote["cost"]) for quote in quotes),
        "quote.price": sum(float(q["price_each"]) * int(q["quantity"]) for q in quotes),
        "quote.metal_g": sum(float(wire["mass_used_g"]) for wire in wires),
        "quote.rings": sum(int(w["rings"]) + int(w["spare_rings"]) for w in wires),
    }
