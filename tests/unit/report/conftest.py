"""Small invented plans with closed-form layouts, as the writers get them."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from chainplan.model.bench import Bench
from chainplan.model.estimate import Estimates
from chainplan.model.job import HeatSensitivePart, Job, Piece, Section
from chainplan.model.order import BatchOrder, LimitCheck, LimitKind, Pass, WeldOrder, WeldSetting
from chainplan.model.piece.joins import Joins
from chainplan.model.piece.layout import Layout, SectionLayout
from chainplan.model.piece.weave import Repeat
from chainplan.model.plan import PiecePlan, Plan, Stamp

SETTING = WeldSetting(power_j=10.0, hits=1, tip="sharp", source="estimate")


def chain_layout(rings: int, *, wire_mm: float = 1.0, inner_mm: float = 3.5) -> Layout:
    """Build a taut single-link chain: centres ID apart, planes leaning 45° to either side."""
    n = np.arange(rings)
    lean = np.where(n % 2, 1.0, -1.0) * np.pi / 4
    normal = np.column_stack([np.zeros(rings), np.cos(lean), np.sin(lean)])
    centre = np.column_stack([n * inner_mm, np.zeros(rings), np.zeros(rings)])
    links = np.column_stack([n[:-1], n[1:]]).astype(np.int32)
    return _layout("single-link", "chain", centre, normal, links, n * 0, n, wire_mm, inner_mm)


def sheet_layout(rows: int, columns: int, *, wire_mm: float = 1.0, inner_mm: float = 4.0) -> Layout:
    """Build rings in leaning rows, every other row shifted by half a ring, as in a sheet."""
    row, column = (grid.ravel() for grid in np.mgrid[:rows, :columns])
    outer = inner_mm + 2 * wire_mm
    centre = np.column_stack(
        [(column + 0.5 * (row % 2)) * outer, row * 0.43 * outer, np.zeros(row.size)]
    )
    lean = np.where(row % 2, 1.0, -1.0) * np.radians(35)
    normal = np.column_stack([np.zeros(row.size), np.sin(lean), np.cos(lean)])
    index = np.arange(row.size).reshape(rows, columns)
    links = np.column_stack([index[:-1].ravel(), index[1:].ravel()]).astype(np.int32)
    return _layout("sheet", "sheet", centre, normal, links, row, column, wire_mm, inner_mm)


def _layout(
    weave: str, form: str, centre: Any, normal: Any, links: Any, row: Any, column: Any,
    wire_mm: float, inner_mm: float,
) -> Layout:  # fmt: skip
    rings = len(centre)
    length = float(np.ptp(centre[:, 0])) + inner_mm + 2 * wire_mm
    rows = int(row.max()) + 1
    section = SectionLayout(
        weave=weave, form=form, metal="sterling-silver", temper="annealed", wire_mm=wire_mm,
        inner_mm=inner_mm, first_ring=0, rings=rings, joins=rings, links=len(links),
        repeats=int(column.max()) + 1, rows=rows, length_mm=length, shorter_mm=length - inner_mm,
        longer_mm=length + inner_mm, wanted_mm=None, width_mm=6.0, thickness_mm=4.0,
        rings_per_cm=10 / inner_mm, computed_rings_per_cm=10 / inner_mm,
    )  # fmt: skip
    whole = np.zeros(rings, dtype=np.int32)
    return Layout(
        piece="", centre_mm=centre.astype(float), normal=normal.astype(float),
        mean_radius_mm=np.full(rings, (inner_mm + wire_mm) / 2), wire_mm=np.full(rings, wire_mm),
        section=whole, place=whole, along=column.astype(np.int32), across=row.astype(np.int32),
        row=row.astype(np.int32), column=column.astype(np.int32), links=links, contacts=links,
        sections=(section,), length_mm=length,
    )  # fmt: skip


def piece_plan(
    name: str,
    layout: Layout,
    *,
    stride: int,
    faces: int = 2,
    quantity: int = 1,
    wait_s: float = 0.0,
    parts: tuple[HeatSensitivePart, ...] = (),
    notes: str = "",
) -> PiecePlan:
    """Weld every ``stride``-th join, front first; joins alternate between the faces."""
    n = layout.rings
    number = np.arange(n)
    face = (number % faces).astype(np.int8)
    angle = np.where(face == 0, 0.0, np.pi)
    up = np.where(face == 0, 1.0, -1.0)
    joins = Joins(
        piece=name, angle_rad=angle, point_mm=layout.point_mm(angle),
        approach=np.column_stack([0 * up, 0 * up, up]), face=face,
        faces_reachable=np.full(n, 3, dtype=np.uint8), clearance_mm=np.ones(n),
        spot_gap_mm=np.ones(n), free_arc_rad=np.ones(n), both_sides=np.zeros(n, dtype=bool),
        two_sides_wanted=np.zeros(n, dtype=bool), pre_closed=np.zeros(n, dtype=bool),
    )  # fmt: skip
    runs = [
        (code, rings[first::stride])
        for code in range(faces)
        for rings in [number[face == code]]
        for first in range(min(stride, len(rings)))
    ]
    passes, first_step = [], 0
    for k, (code, rings) in enumerate(runs, 1):
        side = ("front", "back")[code]
        text = f"{side}, every {stride}th ring from ring {rings[0] + 1}, {len(rings)} joins"
        passes.append(
            Pass(
                number=k,
                text=text,
                face=side,
                first_step=first_step,
                joins=len(rings),
                seconds=6.0 * len(rings),
                wait_s=wait_s,
                setting=SETTING,
            )
        )
        first_step += len(rings)
    ring = np.concatenate([rings for _, rings in runs]).astype(np.int32)
    waits = np.zeros(n)
    waits[[p.first_step for p in passes[1:]]] = wait_s
    order = WeldOrder(
        piece=name, status="complete", ring=ring,
        pass_number=np.repeat([p.number for p in passes], [p.joins for p in passes]).astype(
            np.int32
        ),
        start_s=np.arange(n) * 6.0 + np.cumsum(waits), wait_s=waits,
        interpass_low_c=np.full(n, 24.0), interpass_usual_c=np.full(n, 28.0),
        interpass_high_c=np.full(n, 35.0), passes=tuple(passes), bench_time_s=6.0 * n,
        lower_bound_s=5.5 * n, bound_parts={"handling": 5.0 * n}, free_time_s=5.8 * n,
        comparisons=(), limits=(), gained=("An invented sentence on what was gained.",),
    )  # fmt: skip
    section = Section(weave="single-link", metal="sterling-silver", wire_mm=1.0, inner_mm=3.5)
    piece = Piece(name=name, quantity=quantity, sections=(section,), parts=parts, notes=notes)
    heat: Any = SimpleNamespace(parts=())
    return PiecePlan(piece=piece, layout=layout, joins=joins, heat=heat, order=order)


def held_by_fingers(plan: PiecePlan) -> PiecePlan:
    """Let fingers hold a piece, within their limit."""
    check = LimitCheck(
        kind=LimitKind.FINGERS, name="fingers", where="", limit_c=48.0, low_c=24.0, usual_c=28.0,
        high_c=35.0, holds=True,
    )  # fmt: skip
    return replace(plan, order=replace(plan.order, limits=(check,)))


def whole_plan(*pieces: PiecePlan, name: str = "invented job") -> Plan:
    """Put piece plans into a plan, copies one after another."""
    stints = [
        (k, plan, copy) for k, plan in enumerate(pieces) for copy in range(plan.piece.quantity)
    ]
    steps = np.array([len(plan.order.ring) for _, plan, _ in stints], dtype=np.int32)
    return Plan(
        stamp=Stamp(program="chainplan", version="0.0", input_sha256="0" * 64, seed=0),
        job=Job(name=name, pieces=tuple(plan.piece for plan in pieces), bench=Bench()),
        pieces=tuple(pieces),
        batch=BatchOrder(
            piece=tuple(plan.piece.name for _, plan, _ in stints),
            copy=np.array([copy + 1 for *_, copy in stints], dtype=np.int32),
            first_step=np.zeros(len(stints), dtype=np.int32), steps=steps,
            start_s=np.concatenate([[0.0], np.cumsum(steps[:-1]) * 6.0]),
            bench_time_s=float(steps.sum() * 6.0), one_after_another_s=float(steps.sum() * 6.0),
            interleaved=False,
        ),
        estimates=Estimates(),
    )  # fmt: skip


def taut_single_link(aspect_ratio: float) -> Repeat:
    """The taut single-link chain: its repeat of two rings is 2·ID long (exact)."""
    lean = np.array([1.0, -1.0]) * np.pi / 4
    return Repeat(
        weave="single-link",
        aspect_ratio=aspect_ratio,
        state="taut",
        centre=np.array([(0.0, 0.0, 0.0), (aspect_ratio, 0.0, 0.0)]),
        normal=np.column_stack([np.zeros(2), np.cos(lean), np.sin(lean)]),
        mean_radius=np.full(2, (aspect_ratio + 1) / 2),
        wire=np.ones(2),
        ring_class=np.zeros(2, dtype=np.int32),
        vectors=np.array([(2 * aspect_ratio, 0.0, 0.0)]),
        turn_rad=0.0,
        links=np.array([(0, 1, 0, 0), (1, 0, 1, 0)], dtype=np.int32),
        contacts=np.array([(0, 1, 0, 0), (1, 0, 1, 0)], dtype=np.int32),
        residual_gap=0.0,
        width=aspect_ratio + 2,
        thickness=aspect_ratio + 2,
    )


SPRING_CLASP = HeatSensitivePart(
    piece="necklace", name="spring clasp", kind="spring", limit_c=120.0, place_mm=0.0, from_end=True
)


@pytest.fixture(scope="session")
def invented_bracelet() -> Plan:
    """Twelve rings of a chain, two passes from the front and two from the back."""
    return whole_plan(piece_plan("bracelet", chain_layout(12), stride=2, wait_s=2.0))


@pytest.fixture(scope="session")
def invented_necklace() -> Plan:
    """A chain of 700 rings with a clasp that must stay cool."""
    layout = chain_layout(700, wire_mm=0.6, inner_mm=1.2)
    return whole_plan(piece_plan("necklace", layout, stride=12, wait_s=4.0, parts=(SPRING_CLASP,)))


@pytest.fixture(scope="session")
def invented_sheet() -> Plan:
    """A sheet of 30 rows of 40 rings."""
    return whole_plan(piece_plan("sheet", sheet_layout(30, 40), stride=3))


@pytest.fixture(scope="session")
def invented_long_chain() -> Plan:
    """A chain of 5 000 rings."""
    return whole_plan(piece_plan("long chain", chain_layout(5000), stride=12))


@pytest.fixture(scope="session")
def invented_large_sheet() -> Plan:
    """A sheet of 300 rows of 300 rings."""
    return whole_plan(piece_plan("large sheet", sheet_layout(300, 300), stride=5))


@pytest.fixture(scope="session")
def invented_batch() -> Plan:
    """Two copies of a small chain in turns: three joins of the one, three of the other, and on."""
    plan = piece_plan("earring", chain_layout(6), stride=2, quantity=2)
    whole = whole_plan(plan)
    turns = np.array([(1, 0), (2, 0), (1, 3), (2, 3)], dtype=np.int32)
    batch = BatchOrder(
        piece=("earring",) * 4,
        copy=turns[:, 0],
        first_step=turns[:, 1],
        steps=np.full(4, 3, dtype=np.int32),
        start_s=np.arange(4) * 18.0,
        bench_time_s=72.0,
        one_after_another_s=90.0,
        interleaved=True,
    )
    return replace(whole, batch=batch)


@pytest.fixture(scope="session")
def build() -> Any:
    """The builders themselves, for plans that one test needs."""
    return SimpleNamespace(
        chain=chain_layout, sheet=sheet_layout, piece=piece_plan, plan=whole_plan,
        held=held_by_fingers, clasp=SPRING_CLASP, setting=SETTING, repeat=taut_single_link,
    )  # fmt: skip
