"""Small laid-out pieces and bare networks for the heat stage's tests."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pytest
from plain_section import plain_section

from chainplan.model.bench.groups import HeatSettings
from chainplan.model.piece.layout import Layout
from chainplan.reference import find_metal, metal_keys

if TYPE_CHECKING:
    from chainplan.model.metal import Metal

LayoutMaker = Callable[..., Layout]


def lay_rings(
    centre: np.ndarray,
    links: np.ndarray,
    *,
    form: str = "chain",
    rows: int = 1,
    row: np.ndarray | None = None,
    wire_mm: float = 1.0,
    inner_mm: float = 4.5,
    metal: str = "sterling-silver",
    contacts: np.ndarray | None = None,
) -> Layout:
    n = len(centre)
    zeros = np.zeros(n, dtype=np.int32)
    length = float(np.ptp(centre[:, 0])) + inner_mm + 2 * wire_mm
    section = plain_section(
        n, len(links), form=form, metal=metal, wire_mm=wire_mm, inner_mm=inner_mm, rows=rows,
        length_mm=length, shorter_mm=length, longer_mm=length,
    )  # fmt: skip
    return Layout(
        piece="invented",
        centre_mm=centre.astype(float),
        normal=np.tile([0.0, 0.0, 1.0], (n, 1)),
        mean_radius_mm=np.full(n, (inner_mm + wire_mm) / 2),
        wire_mm=np.full(n, wire_mm),
        section=zeros,
        place=zeros,
        along=zeros,
        across=zeros,
        row=zeros if row is None else row.astype(np.int32),
        column=zeros,
        links=np.asarray(links, dtype=np.int32).reshape(-1, 2),
        contacts=np.zeros((0, 2), dtype=np.int32)
        if contacts is None
        else np.asarray(contacts, dtype=np.int32),
        sections=(section,),
        length_mm=length,
    )


def lay_chain(n: int, **keywords: object) -> Layout:
    """Single chain of n rings along x."""
    every = np.arange(n)
    centre = np.column_stack([4.5 * every, 0 * every, 0 * every])
    return lay_rings(centre, np.column_stack([every[:-1], every[1:]]), **keywords)


def lay_sheet(columns: int, rows: int, **keywords: object) -> Layout:
    """4-in-1 sheet: each ring of a column goes through two of the next; rows across."""
    column, row = np.divmod(np.arange(columns * rows), rows)
    number = np.arange(columns * rows).reshape(columns, rows)
    pairs = [np.column_stack([number[:-1].ravel(), number[1:].ravel()])]
    even, odd = number[:-1][0::2], number[:-1][1::2]
    after_even, after_odd = number[1:][0::2], number[1:][1::2]
    pairs.append(np.column_stack([even[:, 1:].ravel(), after_even[:, :-1].ravel()]))
    pairs.append(np.column_stack([odd[:, :-1].ravel(), after_odd[:, 1:].ravel()]))
    links = np.concatenate(pairs)
    links = links[np.lexsort((links[:, 1], links[:, 0]))]
    centre = np.column_stack([3.2 * column, 6.5 * (row + 0.5 * (column % 2)), 0 * row])
    return lay_rings(centre, links, form="sheet", rows=rows, row=row, **keywords)


@pytest.fixture
def chain() -> LayoutMaker:
    return lay_chain


@pytest.fixture
def sheet() -> LayoutMaker:
    return lay_sheet


@pytest.fixture
def rings() -> LayoutMaker:
    return lay_rings


@pytest.fixture
def metals() -> dict[str, Metal]:
    return {key: find_metal(key) for key in metal_keys()}


@pytest.fixture
def settings() -> HeatSettings:
    return HeatSettings()
