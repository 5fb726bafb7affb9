"""The plan as plain records: what ``plan.json`` holds and the command line gives as JSON.

Floats are rounded to six significant digits: more would be noise of the machine, not knowledge.
"""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.kinds import Form
from chainplan.model.workshop.machines import machines_there
from chainplan.report.text.blocks import blocks_of
from chainplan.report.text.evidence import collect, heat_record, loop_record

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from chainplan.model.check import OrderCheck
    from chainplan.model.job import HeatSensitivePart
    from chainplan.model.order import Earthing, Gains, Unpaused, WeldOrder
    from chainplan.model.piece.count import Count, WeaveDescription
    from chainplan.model.piece.layout import Layout
    from chainplan.model.piece.weave import Weave
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.model.workshop.schedule import Schedule
    from chainplan.report.text.blocks import WorkBlock
    from chainplan.report.text.evidence import PieceEvidence

DIGITS = 6
"""Significant digits: more would be noise of the machine."""

COUNT_KEYS = (
    "weave", "metal", "wire_mm", "inner_mm", "mandrel_mm", "aspect_ratio", "smallest_aspect_ratio",
    "verdict", "looseness", "rings", "wanted_rings", "joins", "links", "repeats", "rows",
    "lies", "rings_per_cm", "computed_rings_per_cm", "length_mm", "shorter_mm", "longer_mm",
    "width_mm", "thickness_mm", "ring_mass_g", "mass_g", "wire_length_m", "wire_with_kerf_m",
    "suitable_inner_mm", "reasons", "tolerance",
)  # fmt: skip
"""The keys of one counted section, in plan.json and in ``chainplan count --json``."""


class ToldMoment(float):
    """Hours from a start, told to the second: six digits would not do for a year of work."""


def plain(value: Any) -> Any:
    """Turn dataclasses, arrays, dates and money into what JSON can hold, rounded."""
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, ToldMoment):
        return round(float(value), 6)
    if isinstance(value, float):
        return _rounded(value)
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, (datetime.date, datetime.datetime)):
        return value.isoformat()
    if is_dataclass(value):
        return {item.name: plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    return [plain(item) for item in value]


def _rounded(value: float) -> float | None:
    if not math.isfinite(value):
        return None
    rounded = float(f"{value:.{DIGITS}g}")
    return rounded or 0.0


def to_json(record: Any) -> str:
    """Write a record as JSON text with stable keys."""
    return "".join(_json_parts(record))


def write_json(path: Path, record: Any) -> None:
    """Write a record as ``to_json`` does into a file, bit by bit: a large plan takes no memory."""
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.writelines(_json_parts(record))


def _json_parts(record: Any) -> Iterator[str]:
    encoder = json.JSONEncoder(ensure_ascii=False, indent=2, allow_nan=False)
    return encoder.iterencode(plain(record))


def count_record(count: Count) -> dict[str, Any]:
    """Record of a count, with the keys that stay the same from version to version."""
    record = {key: plain(getattr(count, key)) for key in COUNT_KEYS}
    if count.graded:
        record["graded"] = count.graded
    if count.metals:
        record |= {"design": count.design, "metals": plain(count.metals)}
    if count.lying_otherwise:
        record["lying_otherwise"] = plain(count.lying_otherwise)
    if count.made_from is not None:
        record["made_from"] = plain(count.made_from)
    return record


def weaves_record(weaves: Sequence[Weave]) -> list[dict[str, Any]]:
    """Record of ``chainplan weaves --json``."""
    return [
        {
            "weave": weave.key,
            "title": weave.title,
            "form": weave.form,
            "family": weave.family,
            "trade_names": list(weave.trade_names),
            "rings_per_repeat": len(weave.ring_class),
        }
        for weave in weaves
    ]


def weave_record(described: WeaveDescription) -> dict[str, Any]:
    """Record of ``chainplan weaves NAME --json``."""
    weave = described.weave
    return {
        **weaves_record([weave])[0],
        "links_per_repeat": len(weave.links),
        "smallest_aspect_ratio": plain(described.smallest_aspect_ratio),
        "notes": weave.notes,
        "source": weave.source,
        "count": count_record(described.count) if described.count else None,
    }


def order_check_record(result: OrderCheck) -> dict[str, Any]:
    """Record of ``chainplan order --check --json``; steps and rings count from 1."""
    return {
        "piece": result.piece,
        "ok": result.ok,
        "joins": result.joins,
        "bench_time_s": plain(result.bench_time_s),
        "planned_s": plain(result.planned_s),
        "violations": [
            {**plain(item), "step": item.step + 1, "ring": item.ring + 1}
            for item in result.violations
        ],
    }


def plan_record(plan: Plan, evidence: Sequence[PieceEvidence] = ()) -> dict[str, Any]:
    """Record of a whole plan, as ``plan.json`` holds it.

    ``evidence``: of each piece, if it has been collected already.
    """
    stamp = plan.stamp
    known = evidence or [collect(piece) for piece in plan.pieces]
    return {
        "stamp": {
            "program": stamp.program,
            "version": stamp.version,
            "input_sha256": stamp.input_sha256,
            "work_sha256": stamp.work_sha256,
            "seed": stamp.seed,
        },
        "job": plan.job.name,
        "job_file": plan.job.file,
        "start_date": plain(plan.job.start_date),
        "bench": plain(plan.job.bench),
        "pieces": [_piece_record(plan, *pair) for pair in zip(plan.pieces, known, strict=True)],
        "order": {
            "pieces": [_order_record(piece) for piece in plan.pieces],
            "batch": plain(plan.batch),
        },
        "schedule": {
            **schedule_record(plan.schedule),
            "hours": plain(plan.job.people),
            "machines": plain(machines_there(plan.job.machines)),
            "blocks": blocks_record(blocks_of(plan)),
        },
        "estimates": plain(plan.estimates),
        "samples": plain(plan.samples),
        "warnings": list(plan.warnings),
        **({} if plan.replan is None else {"replan": plain(plan.replan)}),
    }


def blocks_record(blocks: Sequence[WorkBlock]) -> list[dict[str, Any]]:
    """Record of the calendar as people plan: person, quarters of an hour, pieces with stations."""
    return [
        {
            "person": block.person,
            "start": plain(block.start),
            "end": plain(block.end),
            "work": [{"piece": p, "stations": list(stations)} for p, stations in block.work],
        }
        for block in blocks
    ]


def schedule_record(schedule: Schedule) -> dict[str, Any]:
    """Record of the schedule: tasks with their moments, late pieces, what is proved."""
    return {
        "tasks": [
            {
                "piece": task.piece,
                "copy": task.copy,
                "copies": task.copies,
                "section": task.section,
                "station": task.station,
                "person": task.person,
                "machine": task.machine,
                "start": plain(task.start),
                "end": plain(task.end),
                "start_h": ToldMoment(task.start_s / 3600),
                "end_h": ToldMoment(task.end_s / 3600),
                "work_s": task.work_s,
                "first_step": task.first_step,
                "steps": task.steps,
                "visit": task.session,
            }
            for task in schedule.tasks
        ],
        "late": plain(schedule.late),
        "bound": plain(schedule.bound),
        "gap": plain(schedule.gap),
        "people": list(schedule.people),
        "delivered": plain(schedule.delivered),
        "waits": plain(schedule.waits),
        "deliveries": plain(schedule.deliveries),
        "changes": schedule.changes,
        "change_costs_s": plain(schedule.change_costs_s),
        "further_set_ups": schedule.further_set_ups,
        "advice": plain(schedule.advice),
        "way": schedule.way,
    }


def _piece_record(whole: Plan, plan: PiecePlan, evidence: PieceEvidence) -> dict[str, Any]:
    layout, joins = plan.layout, plan.joins
    lengths = [section.length_mm for section in plan.piece.sections]
    lines = [line for line in whole.estimates.settings if line.piece == plan.piece.name]
    first = lines[int(layout.material[0])].setting
    return {
        "name": plan.piece.name,
        "quantity": plan.piece.quantity,
        "rings": layout.rings,
        "joins": sum(section.joins for section in layout.sections),
        "links": len(layout.links),
        "length_mm": plain(layout.length_mm),
        "clasp_length_mm": plain(plan.piece.clasp_length_mm),
        "residual_gap_mm": plain(layout.residual_gap_mm),
        "joints_mm": plain(_joints_mm(layout)),
        "asked_mm": plain(sum(mm for mm in lengths if mm is not None) or None),
        "rounding": plan.piece.rounding,
        "loop": plain(loop_record(plan)),
        "sections": [
            {
                **count_record(count),
                "repeat_rings": _repeat_rings(layout, number),
                "wanted_mm": plain(section.wanted_mm),
                "fitting": None if asked.fitting is None else asked.fitting + 1,
            }
            for number, (count, section, asked) in enumerate(
                zip(plan.counts, layout.sections, plan.piece.sections, strict=True)
            )
        ],
        "joins_per_face": joins.joins_per_face(),
        "pre_closed": [int(ring) + 1 for ring in joins.pre_closed.nonzero()[0]],
        "closing_way": joins.way,
        "closing_ways": plain(joins.ways),
        "parts": [_part_record(part) for part in plan.piece.parts],
        "fittings": _fittings_record(plan),
        "stand_by": [
            {
                **{k: v for k, v in plain(item).items() if v is not None},
                "touching": [ring + 1 for ring in item.touching],
                "nearest_ring": item.nearest_ring + 1,
            }
            for item in plan.stand_by
        ],
        "heat": plain(heat_record(plan, evidence, first.power_j * first.hits)),
    }


def _repeat_rings(layout: Layout, section: int) -> list[int]:
    """List which rings of its weave's repeat a section has: one of few rows may lack some."""
    found: list[int] = (np.unique(layout.place[layout.section == section]) + 1).tolist()
    return found


def _joints_mm(layout: Layout) -> float:
    """Return what connecting rings and fittings in line add to the woven sections."""
    woven = [s.length_mm for s in layout.sections if s.form not in {Form.LOOSE, Form.CONNECTING}]
    return layout.length_mm - sum(woven) if woven else 0.0


def _part_record(part: HeatSensitivePart) -> dict[str, Any]:
    """Record of a heat-sensitive part; rings from 1."""
    record: dict[str, Any] = plain(part)
    if part.stand is not None:
        record["stand"]["rings"] = [ring + 1 for ring in part.stand.rings]
    return record


def _fittings_record(plan: PiecePlan) -> list[dict[str, Any]]:
    """Record of the fittings with their places; rings from 1; an extra has none."""
    laid = {item.index: item for item in plan.layout.fittings}
    records = []
    for index, fitting in enumerate(plan.piece.fittings):
        record: dict[str, Any] = plain(fitting)
        for key in ("wire_mm", "inner_mm", "metal"):  # they stand in the section of its rings
            del record[key]
        record["connecting_rings"] = record.pop("rings") * fitting.sides
        record["where"] = record.pop("place")
        item = laid.get(index)
        record["in_line"] = fitting.in_line
        record["rings"] = [] if item is None else [ring + 1 for ring in item.rings]
        record["from_mm"] = [] if item is None else plain(item.from_mm)
        record["to_mm"] = [] if item is None else plain(item.to_mm)
        records.append(record)
    return records


def _gains_record(gains: Gains) -> dict[str, Any]:
    """Give the numbers behind the sentences, with what follows from them; rings from 1."""
    asked = gains.asked_by
    return {
        **plain(gains),
        "unpaused": [_unpaused_record(item) for item in gains.unpaused],
        "saved_usual_s": plain(gains.saved_usual_s),
        "saved_high_s": plain(gains.saved_high_s),
        "detour_for": None
        if asked is None or gains.is_end_to_end
        else {key: _unpaused_record(asked)[key] for key in ("kind", "name", "limit_c", "ring")},
    }


def _unpaused_record(item: Unpaused) -> dict[str, Any]:
    return {**plain(item), "ring": item.ring + 1 if item.ring >= 0 else None}


def _waits_record(order: WeldOrder) -> list[dict[str, Any]]:
    """Say what asks for waits: the limit, seconds in all, how many, and the longest with its ring.

    Which step waits for what stands in the weld order's table, for every step.
    """
    if order.wait_limit is None:
        return []
    out = []
    for number in np.unique(order.wait_limit[order.wait_limit >= 0]).tolist():
        steps = np.flatnonzero(order.wait_limit == number)
        longest = int(steps[np.argmax(order.wait_s[steps])])
        check = order.limits[number]
        out.append(
            {
                "kind": check.kind,
                "name": check.name,
                "limit_c": plain(check.limit_c),
                "waits": len(steps),
                "seconds": plain(float(order.wait_s[steps].sum())),
                "longest_s": plain(float(order.wait_s[longest])),
                "longest_at_ring": int(order.ring[longest]) + 1,
                "longest_at_step": longest + 1,
            }
        )
    return out


def _earthing_record(earthing: Earthing) -> dict[str, Any]:
    """Say how the piece is earthed, rings from 1; where the clip sits stands with every step."""
    record: dict[str, Any] = plain(replace(earthing, clip_ring=None))
    del record["clip_ring"]
    places = [ring + 1 for ring in earthing.clip_places]
    return {**record, "clip_moves": earthing.clip_moves, "clip_places": places}


def _order_record(plan: PiecePlan) -> dict[str, Any]:
    order = plan.order
    return {
        "piece": plan.piece.name,
        "status": order.status,
        "joins": len(order.ring),
        "bench_time_s": plain(order.bench_time_s),
        "lower_bound_s": plain(order.lower_bound_s),
        "gap": plain(order.gap),
        "bound_parts": plain(order.bound_parts),
        "free_time_s": plain(order.free_time_s),
        "passes": plain(order.passes),
        "comparisons": plain(order.comparisons),
        "limits": [
            {**plain(item), "ring": item.ring + 1 if item.ring >= 0 else None}
            for item in order.limits
        ],
        "set_aside": plain(order.set_aside),
        "chance": plain(order.chance),
        "waits": _waits_record(order),
        "gained": list(order.gained),
        "earthing": None if order.earthing is None else _earthing_record(order.earthing),
        "gains": None if order.gains is None else _gains_record(order.gains),
        "advice": list(order.advice),
        "advised": plain(order.advised),
        "rings": (order.ring + 1).tolist(),
    }
