"""Plans that the record knows, and which of them are the same work."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.workshop.record import KnownPiece, KnownPlan, KnownSection, KnownTask, Turn

if TYPE_CHECKING:
    from chainplan.record.kept.store import Record


def of_record(record: Record, plan: KnownPlan) -> KnownPlan:
    """Give a plan read from a folder the place that the record has for it."""
    rows = record.rows("SELECT root, follows FROM plan WHERE key = ?", (plan.key,))
    if rows:
        return replace(plan, root=rows[0][0], follows=rows[0][1] or "")
    if plan.follows:
        rows = record.rows("SELECT root FROM plan WHERE key = ?", (plan.follows,))
        if rows:
            return replace(plan, root=rows[0][0])
    return plan


def same_work(record: Record, plan: KnownPlan) -> tuple[KnownPlan, ...]:
    """Every plan of the same work but this one, the earliest first."""
    keys = record.rows(
        "SELECT key FROM plan WHERE root = ? AND key <> ? ORDER BY rowid", (plan.root, plan.key)
    )
    return tuple(known_plan(record, key) for (key,) in keys)


def plan_keys(record: Record) -> tuple[str, ...]:
    """Keys of every plan that the record knows, in the order in which it got to know them."""
    return tuple(key for (key,) in record.rows("SELECT key FROM plan ORDER BY rowid"))


def known_plan(record: Record, key: str) -> KnownPlan:
    """Read a plan back from the record."""
    ((mark, stamp, job, currency, follows, root),) = record.rows(
        "SELECT mark, stamp, job, currency, follows, root FROM plan WHERE key = ?", (key,)
    )
    pieces = record.rows(
        "SELECT number, name, copies, rings FROM plan_piece WHERE plan = ? ORDER BY number", (key,)
    )
    turns = record.rows(
        "SELECT piece, copy, first_step, steps FROM plan_turn WHERE plan = ? ORDER BY number",
        (key,),
    )
    tasks = record.rows(
        'SELECT piece, copy, copies, station, person, machine, start, "end", work_s, first_step, '
        "steps FROM plan_task WHERE plan = ? ORDER BY number",
        (key,),
    )
    settings = record.rows("SELECT name, value FROM plan_setting WHERE plan = ?", (key,))
    return KnownPlan(
        key=key,
        mark=mark,
        stamp=stamp,
        job=job,
        currency=currency,
        follows=follows or "",
        root=root,
        pieces=tuple(_piece(record, key, *piece) for piece in pieces),
        turns=tuple(Turn(*row) for row in turns),
        tasks=tuple(KnownTask(*row) for row in tasks),
        bench={name: json.loads(value) for name, value in settings},
    )


def _piece(record: Record, key: str, number: int, name: str, copies: int, rings: int) -> KnownPiece:
    at = (key, number)
    sections = record.rows(
        "SELECT weave, metal, wire_mm, inner_mm, mandrel_mm, rings, links FROM plan_section "
        "WHERE plan = ? AND piece = ? ORDER BY number",
        at,
    )
    joins = record.rows(
        "SELECT ring, pass, section, power_j, hits, tip, pace_s, wait_s, metal FROM plan_join "
        "WHERE plan = ? AND piece = ? ORDER BY step",
        at,
    )
    minutes = record.rows(
        "SELECT station, minutes FROM plan_station WHERE plan = ? AND piece = ?", at
    )
    columns = list(zip(*joins, strict=True)) or [()] * 9
    names = ("weave", "metal", "wire_mm", "inner_mm", "mandrel_mm", "rings", "links")
    return KnownPiece(
        name=name,
        copies=copies,
        rings=rings,
        sections=tuple(KnownSection(**dict(zip(names, row, strict=True))) for row in sections),
        ring=np.array(columns[0], dtype=np.int32),
        pass_number=np.array(columns[1], dtype=np.int32),
        section=np.array(columns[2], dtype=np.int32),
        power_j=np.array(columns[3], dtype=float),
        hits=np.array(columns[4], dtype=np.int32),
        tip=tuple(columns[5]),
        pace_s=np.array(columns[6], dtype=float),
        wait_s=np.array(columns[7], dtype=float),
        metal=tuple(columns[8]) if any(columns[8]) else (),
        station_min=dict(minutes),
    )


def latest_plans(record: Record) -> tuple[str, ...]:
    """Key of the latest plan of every work, in the order in which they were begun."""
    rows = record.rows(
        "SELECT key FROM plan AS p WHERE rowid = "
        "(SELECT max(rowid) FROM plan AS q WHERE q.root = p.root) ORDER BY rowid"
    )
    return tuple(key for (key,) in rows)
