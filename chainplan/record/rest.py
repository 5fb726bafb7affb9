"""What is left of a plan: which joins, in which order, and what has to be welded again."""

from __future__ import annotations

import csv
import hashlib
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.frozen import frozen
from chainplan.intake import read_plan_record
from chainplan.model.kinds import ReturnLead, Tip
from chainplan.model.order import WeldSetting
from chainplan.model.piece.joins import FACES
from chainplan.model.said import Phrase, read_said
from chainplan.model.workshop.bench_log import STATIONS, unguarded
from chainplan.record.kept.joins import DONE, NOT_GOOD, STATE_OF_KIND, join_states
from chainplan.record.progress import stations_finished
from chainplan.record.reading.plan_folder import told_as_damage

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.arrays import BoolArray, FloatArray, IntArray
    from chainplan.model.workshop.record import KnownPiece, KnownPlan
    from chainplan.record.kept.store import Record


@frozen
class PieceState:
    """Where the joins of one piece stand; arrays are by ring from 0, copies along the first."""

    done: BoolArray  # (copies, rings)
    touched: BoolArray  # (copies, rings) welded once at least, whatever became of it
    again: BoolArray  # (rings,) not good in some copy: one more hit
    replaced: BoolArray  # (rings,) ring replaced or opened in some copy: to be welded anew


def piece_states(record: Record, whole: KnownPlan) -> dict[str, PieceState]:
    """Say where every join of a plan stands, from all events of its work."""
    places, state = join_states(record, whole)
    anew = _welded_anew(record, whole)
    found = {}
    for piece in whole.pieces:
        start = places.first[piece.name]
        block = state[start : start + piece.copies * piece.rings].reshape(-1, piece.rings)
        not_good = (block == NOT_GOOD).any(axis=0)
        replaced = np.zeros(piece.rings, dtype=bool)
        rings = [ring - 1 for name, ring in anew if name == piece.name and ring <= piece.rings]
        replaced[rings] = True
        found[piece.name] = PieceState(
            done=block == DONE,
            touched=(block == DONE) | (block == NOT_GOOD),
            again=not_good & ~replaced,
            replaced=not_good & replaced,
        )
    return found


def stations_passed(
    record: Record, whole: KnownPlan, states: Mapping[str, PieceState]
) -> dict[str, frozenset[str]]:
    """Find the stations through which all copies of each piece have passed.

    As told, and those before welding where every copy is begun there: it has been woven.
    """
    told = stations_finished(record, whole)
    found = {}
    for piece in whole.pieces:
        last = min(
            max((STATIONS.index(name) for name in told.get((piece.name, copy), ())), default=-1)
            for copy in range(1, piece.copies + 1)
        )
        if piece.name in states and states[piece.name].done.any(axis=1).all():
            last = max(last, STATIONS.index("weld") - 1)
        passed = set(STATIONS[: last + 1]) - {"weld"}
        if last < STATIONS.index("weld"):
            passed.discard("set up")  # the welder is set up anew whenever work goes on
        found[piece.name] = frozenset(passed)
    return found


def _welded_anew(record: Record, whole: KnownPlan) -> set[tuple[str, int]]:
    """Find the joins whose last event is a broken or an opened ring."""
    kinds = ", ".join(repr(kind) for kind in STATE_OF_KIND)
    rows = record.rows(
        "SELECT piece, ring, kind FROM (SELECT e.*, row_number() OVER "
        "(PARTITION BY e.piece, e.copy, e.ring ORDER BY e.at_s DESC, e.seq DESC) AS age "
        "FROM event_now AS e JOIN plan AS p ON p.key = e.plan "
        f"WHERE p.root = ? AND e.kind IN ({kinds})) WHERE age = 1",
        (whole.root or whole.key,),
    )
    return {(name, ring) for name, ring, kind in rows if kind in ("broken", "opened")}


@frozen
class FolderPass:
    """A pass as its folder has it."""

    number: int
    text: str
    face: str
    setting: WeldSetting
    said: Phrase | None


@frozen
class FolderEarthing:
    """How a piece is earthed, as its folder has it."""

    way: ReturnLead
    why: str
    clip_s: float
    tweezers_s: float


@frozen
class FolderOrder:
    """The order of one piece as its folder has it; arrays of shape (k,)."""

    step: IntArray
    ring: IntArray  # from 0
    pass_number: IntArray
    start_s: FloatArray
    wait_s: FloatArray
    pace_s: FloatArray  # seconds of each step without its wait
    interpass_low_c: FloatArray
    interpass_usual_c: FloatArray
    interpass_high_c: FloatArray
    wait_for: tuple[str, ...]  # name of the limit that asks for each wait
    passes: tuple[FolderPass, ...]
    clip: IntArray | None  # ring that the clip sits on at each step, from 0; None: no clip
    earthing: FolderEarthing | None
    warm: bool = False  # whether it began from the heat of earlier welds


def folder_orders(folder: str | Path) -> dict[str, FolderOrder]:
    """Read the order of every piece of a plan's folder, with its passes.

    Raises
    ------
    InputError
        If the folder's files are damaged.
    """
    with told_as_damage(Path(folder)):
        return _folder_orders(Path(folder))


def _folder_orders(folder: Path) -> dict[str, FolderOrder]:
    text = (folder / "weld-order.csv").read_text(encoding="utf-8")
    rows: dict[str, list[dict[str, str]]] = {}
    for row in csv.DictReader(io.StringIO(text)):
        rows.setdefault(unguarded(row["piece"]), []).append(row)
    record = read_plan_record(folder / "plan.json")
    paces = record.get("replan", {}).get("pace_s", {})
    rings = {item["name"]: int(item["rings"]) for item in record["pieces"]}
    found = {}
    for item in record["order"]["pieces"]:
        part = rows.get(item["piece"], [])

        def column(name: str, part: list[dict[str, str]] = part) -> FloatArray:
            return np.array([float(row[name]) for row in part])

        found[item["piece"]] = FolderOrder(
            step=column("step").astype(np.int32),
            ring=(column("ring") - 1).astype(np.int32),
            pass_number=column("pass").astype(np.int32),
            start_s=column("start_s"),
            wait_s=column("wait_before_s"),
            pace_s=np.array(paces[item["piece"]], dtype=float)
            if item["piece"] in paces
            else np.diff(column("start_s") - np.cumsum(column("wait_before_s")), prepend=0.0),
            interpass_low_c=column("interpass_low_c"),
            interpass_usual_c=column("interpass_usual_c"),
            interpass_high_c=column("interpass_high_c"),
            wait_for=tuple(row.get("wait_for") or "" for row in part),
            passes=tuple(_pass(entry) for entry in item["passes"]),
            clip=_clip(part),
            earthing=_earthing(item.get("earthing")),
            warm=item["piece"] in record.get("replan", {}).get("begun_warm", ()),
        )
        _look_at(found[item["piece"]], rings[item["piece"]])
    return found


_SETTING = ("source", "note", "spot_mm")


def _pass(entry: Mapping[str, Any]) -> FolderPass:
    told = entry["setting"]
    setting = WeldSetting(
        power_j=float(told["power_j"]), hits=int(told["hits"]), tip=Tip(told["tip"]),
        **{name: told[name] for name in _SETTING if name in told},
    )  # fmt: skip
    face = FACES[FACES.index(entry["face"])]
    return FolderPass(number=int(entry["number"]), text=str(entry["text"]), face=face,
                      setting=setting, said=read_said(entry.get("said")))  # fmt: skip


def _earthing(told: Mapping[str, Any] | None) -> FolderEarthing | None:
    if told is None:
        return None
    return FolderEarthing(
        way=ReturnLead(told["way"]), why=str(told["why"]), clip_s=float(told["clip_s"]),
        tweezers_s=float(told["tweezers_s"]),
    )  # fmt: skip


def _look_at(order: FolderOrder, rings: int) -> None:
    """Refuse an order that names rings or passes that are not there, or whose numbers are none.

    Raises
    ------
    ValueError
        If it does.
    """
    named = [order.ring] if order.clip is None else [order.ring, order.clip]
    passes = [work.number for work in order.passes]
    numbers = [order.start_s, order.wait_s, order.pace_s, order.interpass_high_c]
    good = (
        all(((ring >= 0) & (ring < rings)).all() for ring in named)
        and len(np.unique(order.ring)) == len(order.ring) == len(order.pace_s)
        and bool(np.isin(order.pass_number, passes).all())
        and all(np.isfinite(values).all() for values in numbers)
        and bool((order.wait_s >= 0).all())
    )
    if not good:
        message = "its weld order names rings or passes that are not there, or no numbers"
        raise ValueError(message)


def _clip(rows: list[dict[str, str]]) -> IntArray | None:
    told = [row.get("clip_on_ring") or "" for row in rows]
    return np.array([int(ring) - 1 for ring in told], dtype=np.int32) if all(told) else None


def order_basis(ring: IntArray, wait_s: FloatArray, power_j: FloatArray, hits: IntArray) -> str:
    """Digest of a piece's whole order: the same if nothing that the order rests on has changed.

    ``ring`` counts from 0; waits are compared to a tenth of a second, as the folder has them.
    """
    table = np.column_stack([ring, np.round(wait_s, 1), np.round(power_j, 6), hits]).astype(float)
    return hashlib.sha256(table.tobytes()).hexdigest()[:16]


def folder_basis(folder: str | Path, known: KnownPlan) -> dict[str, str]:
    """Digests of the whole orders that the orders in a folder came from."""
    record = read_plan_record(Path(folder) / "plan.json")
    if "replan" in record:
        with told_as_damage(Path(folder)):
            return dict(record["replan"]["basis"])
    return {piece.name: _basis(piece) for piece in known.pieces}


def _basis(piece: KnownPiece) -> str:
    return order_basis(piece.ring - 1, piece.wait_s, piece.power_j, piece.hits)
