"""What the bench sheet knows: cautions, pieces, passes, joins, pictures, and the turns of work."""

from __future__ import annotations

import hashlib
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.model.workshop.bench_log import GUARDED, LOG_COLUMNS, LOG_RESULTS
from chainplan.model.workshop.schedule import FITTING, TUMBLING
from chainplan.reference.cautions import cautions
from chainplan.reference.texts import bench_texts, texts_of
from chainplan.report.bench_sheet.weaving import weaving_content
from chainplan.report.diagram.drawn.drawn_piece import DrawnPiece
from chainplan.report.text.instructions import (
    earthed_how,
    ends_in_tweezers,
    fingers_hold,
    limit_name,
    limits_in_words,
    loose_rings,
    pass_text,
    setting_text,
    source_in,
    topic_key,
)

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.model.order import Pass, WeldOrder
    from chainplan.model.piece.layout import Layout
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.reference.texts import Texts

MOST_JOINS = 60_000
"""Joins, all copies together, that a sheet can take one by one; beyond, it lists passes only, as
the page would be larger than some tablets open."""
MOST_DRAWN = 40_000
"""Rings up to which a piece's picture is put into the sheet."""
_NEWS = "what changed since the last plan"
SHARED_TEXTS = ("link.", "who.", "no_entry.", "board.", "trust.")
"""Beginnings of the keys of texts that only a shared sheet and its board show."""
PAPER_TEXTS = (
    "line.", "sheet.", "caution.", "topic.", "column.", "limit.", "metal.", "temper.", "fitting.",
    "earthed.", "part.", "source.", "note.groove", "note.scaled", "note.first",
)  # fmt: skip
"""Beginnings of the keys of texts that the sheet's program does not fill in itself."""
GUARD_MS = 600
"""A tap so soon after a join came up was meant for the one before: a double tap takes up to about
half a second, and no join can be found, aimed at and welded in that time (judgement)."""
HOLD_MS = 1200
"""How long Done is held down to go on during a wait: longer than any tap (judgement)."""
AWAY_S = 180
AWAY_TIMES = 10
"""A gap of more than so many seconds, and so many times what the join was planned to take, is time
away: it is set apart, and no pace is told from it (judgement)."""
SKIPPED_S = 60
"""Most seconds that a join waits for the time that joins left out before it would have taken."""
FASTER_SHARE = 0.9
"""Share of the planned seconds below which a hand counts as quicker than the plan (judgement)."""
LARGE_FROM_S = 5
"""Waits from so many seconds on are counted down over the whole screen (judgement)."""


def bench_content(plan: Plan) -> dict[str, Any]:
    """Return what the page shows, as plain values."""
    bench = plan.job.bench
    heat, electrode = bench.heat, bench.electrode
    t = texts_of(bench.sheet.language)
    told = (t("sheet.news_rest"),) if plan.news else ()
    joins = int(np.sum(plan.batch.steps))
    found = cautions(plan.metals)
    topics = list(dict.fromkeys(item.topic for item in found))
    content: dict[str, Any] = {
        "job": plan.job.name,
        "stamp": plan.stamp.of_work,
        "plan": plan.stamp.input_sha256[:12],
        "cautions": [
            *(
                {"topic": t(topic_key(_NEWS)), "text": text, "source": ""}
                for text in (plan.news if t.language == "en" else told)
            ),
            *(
                {
                    "topic": t(topic_key(item.topic)),
                    "text": t(f"caution.{item.key}"),
                    "source": source_in(item, t),
                }
                for item in sorted(found, key=lambda item: topics.index(item.topic))
            ),
        ],
        "language": bench.sheet.language,
        "texts": {
            key: text
            for key, text in bench_texts(bench.sheet.language).items()
            if not key.startswith((*SHARED_TEXTS, *PAPER_TEXTS))
        },
        "guard_ms": GUARD_MS,
        "hold_ms": HOLD_MS,
        "away_s": AWAY_S,
        "away_times": AWAY_TIMES,
        "skipped_s": SKIPPED_S,
        "faster_share": FASTER_SHARE,
        "large_from_s": LARGE_FROM_S,
        "columns": [[name, t(f"column.{name}")] for name in LOG_COLUMNS],
        "results": list(LOG_RESULTS),
        "guarded": list(GUARDED),
        "hold_mm": [heat.hold_from_mm, heat.hold_to_mm],
        "electrode": {
            "half_angle_rad": round(float(np.radians(electrode.tip_half_angle_deg)), 4),
            "shank_mm": electrode.shank_mm,
            "stick_out_mm": electrode.stick_out_mm,
            "holder_mm": electrode.holder_mm,
        },
        "hold_both": heat.sides_held > 1,
        "hold_end": ends_in_tweezers(heat),
        "one_by_one": joins <= MOST_JOINS,
        "pieces": [
            _piece(
                number,
                piece,
                joined=joins <= MOST_JOINS,
                bare=heat.held_bare,
                woven=_woven(plan, piece),
                t=t,
            )
            | (weaving_content(plan, piece, t) if joins <= MOST_JOINS else {})
            for number, piece in enumerate(plan.pieces)
        ],
        "turns": _turns(plan) if joins <= MOST_JOINS else [],
        "checks": _checks(plan),
    }
    digest = hashlib.sha256(repr(sorted(content.items())).encode()).hexdigest()
    content["key"] = digest[:16]
    return content


def _turns(plan: Plan) -> list[list[int]]:
    """List the turns of work: piece, copy (from 0), first step, steps."""
    number = {piece.piece.name: k for k, piece in enumerate(plan.pieces)}
    batch = plan.batch
    rows = zip(
        batch.piece, batch.copy.tolist(), batch.first_step.tolist(), batch.steps.tolist(),
        strict=True,
    )  # fmt: skip
    return [[number[name], copy - 1, first, steps] for name, copy, first, steps in rows]


def _checks(plan: Plan) -> list[dict[str, Any]]:
    """List the joins of each lot that are to be checked: piece, copy and ring, from 0."""
    number = {piece.piece.name: k for k, piece in enumerate(plan.pieces)}
    return [
        {
            "lot": sample.lot,
            "joins": sample.joins,
            "limit": f"{sample.aql_percent:g}",
            "accept": sample.accept,
            "reject": sample.reject,
            "drawn": [[number[name], copy - 1, ring - 1] for name, copy, ring in sample.drawn],
            "found": list(sample.found),
        }
        for sample in plan.samples
    ]


def _woven(plan: Plan, piece: PiecePlan) -> list[str]:
    """When each copy lies woven by the schedule, to the minute; "" where it is not known."""
    found = [""] * piece.piece.quantity
    if plan.job.start_date is None:
        return found
    for task in plan.schedule.tasks:
        before = task.station in (TUMBLING, "weave", FITTING)
        if task.piece == piece.piece.name and before and task.end is not None:
            for copy in range(task.copy - 1, task.copy - 1 + task.copies):
                found[copy] = max(found[copy], task.end.isoformat()[:16])
    return found


def _piece(
    number: int, plan: PiecePlan, *, joined: bool, bare: bool, woven: list[str], t: Texts
) -> dict[str, Any]:
    order, layout = plan.order, plan.layout
    drawn = DrawnPiece(number=number, plan=plan, t=t)
    limits = {part.name: round(part.limit_c) for part in plan.piece.parts}  # others have none: 0
    piece: dict[str, Any] = {
        "name": plan.piece.name,
        "quantity": plan.piece.quantity,
        "notes": plan.piece.notes,
        "rings": layout.rings,
        "length_mm": round(layout.length_mm, 1),
        "rows": 1 if drawn.sheet is None else int(layout.row.max(initial=0)) + 1,
        "bench_s": round(order.bench_time_s),
        "woven": woven,
        "closed": int(np.count_nonzero(plan.joins.pre_closed)),
        "limits": limits_in_words(order.limits, t),
        "earthed": "" if order.earthing is None else earthed_how(order.earthing, t),
        "short": bare and not fingers_hold(order),
        "passes": [_pass(drawn, work) for work in order.passes],
        "parts": [
            {"name": zone.name, "text": zone.text, "limit": limits.get(zone.name, 0),
             "left": round(zone.left_mm, 1), "right": round(zone.right_mm, 1), "warm": zone.warm}
            for zone in drawn.zones()
        ],
    }  # fmt: skip
    if joined:
        piece["ring"] = order.ring.tolist()
        piece["wait"] = np.round(order.wait_s).astype(int).tolist()
        piece["pace"] = _pace(order)
        piece["warm"] = np.round(order.interpass_high_c).astype(int).tolist()
        piece["below"] = _below(order)
        piece["reasons"] = [t.say(limit_name(check)) for check in order.limits]
        piece["why"] = [] if order.wait_limit is None else order.wait_limit.tolist()
        clip = None if order.earthing is None else order.earthing.clip_ring
        piece["clip"] = [] if clip is None else (clip + 1).tolist()
        piece["row"] = (layout.row[order.ring] + 1).tolist() if piece["rows"] > 1 else []
        piece["column"] = (layout.column[order.ring] + 1).tolist() if piece["rows"] > 1 else []
        outside = [] if drawn.sheet is None else layout.section[order.ring] != drawn.sheet
        piece["beside"] = np.flatnonzero(outside).tolist()  # rings that hold fittings: in no row
        piece["unit"] = drawn.unit
        if drawn.unit != "ring" and piece["rows"] == 1:
            piece["of_unit"] = drawn.unit_number.tolist()
        piece["start_mm"] = round(drawn.start_mm, 1)
        piece["rest_s"] = math.ceil(order.rest_s)
        piece["cold_s"] = math.ceil(order.cold_s)
        piece["faster"] = [
            {"share": item.share, "wait": np.ceil(item.wait_s).astype(int).tolist()}
            for item in order.faster
        ]
        piece["sizes"] = [
            {
                "metal": t.metal(section.metal),
                "wire": f"{section.wire_mm:.3g}",
                "inner": f"{section.inner_mm:.3g}",
            }
            for section in layout.sections
        ]
        piece["size_of"] = layout.section.tolist() if len(layout.sections) > 1 else []
        piece["loose"] = np.flatnonzero(loose_rings(layout)[order.ring]).tolist()
        piece["both"] = np.flatnonzero(plan.joins.two_sides_wanted[order.ring]).tolist()
    if joined and layout.rings <= MOST_DRAWN:
        piece["picture"] = _picture(plan)
        piece["links"] = _links(layout)
    return piece


def _links(layout: Layout) -> list[list[int]]:
    """List the rings that each ring goes through."""
    pairs = np.concatenate([layout.links, layout.links[:, ::-1]])
    pairs = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
    ends = np.searchsorted(pairs[:, 0], np.arange(1, layout.rings))
    return [np.unique(part).tolist() for part in np.split(pairs[:, 1], ends)]


def _below(order: WeldOrder) -> list[int]:
    """Least limit of each step's ring before its weld, in whole °C; 0: none."""
    limit_c = order.limit_before_c
    below: list[int] = np.where(np.isfinite(limit_c), np.round(limit_c), 0).astype(int).tolist()
    return below


def _pass(drawn: DrawnPiece, work: Pass) -> dict[str, Any]:
    view = drawn.view(work)
    return {
        "number": work.number,
        "text": pass_text(work, drawn.t),
        "face": work.face,
        "first": work.first_step,
        "joins": work.joins,
        "seconds": round(work.seconds),
        "setting": setting_text(work.setting, drawn.t),
        "power": f"{work.setting.power_j:.3g}",
        "hits": work.setting.hits,
        "tip": str(work.setting.tip),
        "note": drawn.t.note(work.setting.note),
        "up": list(view.up),
        "toward": list(view.toward),
    }


def _pace(order: WeldOrder) -> list[int]:
    """Tenths of a second that each join takes without its wait; together the bench time."""
    worked_s = order.start_s - np.cumsum(order.wait_s)
    worked_s[-1:] = order.bench_time_s - order.wait_s.sum()  # none if nothing is welded
    tenths = np.round(worked_s * 10).astype(int)
    return [int(step) for step in np.diff(tenths, prepend=0)]


def _picture(plan: PiecePlan) -> dict[str, Any]:
    """Poses of the rings and places of the joins, in hundredths of a mm."""
    layout, joins = plan.layout, plan.joins
    surface = joins.point_mm + joins.approach * layout.wire_mm[:, None] / 2
    return {
        "centre": _hundredths(layout.centre_mm),
        "normal": [round(part) for part in (np.ravel(layout.normal) * 1000).tolist()],
        "radius": _shortest(layout.mean_radius_mm),
        "wire": _shortest(layout.wire_mm),
        "join": _hundredths(surface),
        "approach": [round(part) for part in (np.ravel(joins.approach) * 1000).tolist()],
        "closed": np.flatnonzero(joins.closed).tolist(),
    }


def _hundredths(values: npt.NDArray[np.float64]) -> list[int]:
    return [round(value) for value in (np.ravel(values) * 100).tolist()]


def _shortest(values: npt.NDArray[np.float64]) -> list[int]:
    """Hundredths, or a single one if all are alike."""
    whole = _hundredths(values)
    return whole[:1] if len(set(whole)) == 1 else whole
