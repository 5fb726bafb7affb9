"""Builders of job files for these tests, and weave names so that the reader stands alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import openpyxl
import pytest

from chainplan.model.piece.weave_names import WeaveName, WeaveNames

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

HEADINGS = ["name", "weave", "wire mm", "inner mm", "metal", "length mm"]
GOOD_ROW = ["Plain chain", "single-link", 1.0, 4.0, "copper", 200]


@pytest.fixture
def four_weaves() -> WeaveNames:
    """A chain, another with a trade name, a sheet, and a weave of two ring sizes."""
    return WeaveNames(
        (
            WeaveName(key="single-link", title="Single link", trade_names=("1-in-1",)),
            WeaveName(key="byzantine"),
            WeaveName(key="european-4-in-1", form="sheet"),
            WeaveName(key="two-sizes", second_ring="needed"),
        )
    )


@pytest.fixture
def workbook(tmp_path: Path) -> Callable[..., Path]:
    """Write a workbook from rows by sheet; sheets are pieces with one good row unless given."""

    def write(**sheets: list[list[Any]]) -> Path:
        book = openpyxl.Workbook()
        book.remove(book.active)
        for name, rows in (sheets or {"pieces": [HEADINGS, GOOD_ROW]}).items():
            page = book.create_sheet(name)
            for row in rows:
                page.append(row)
        path = tmp_path / "job.xlsx"
        book.save(path)
        return path

    return write


@pytest.fixture
def toml(tmp_path: Path) -> Callable[..., Path]:
    """Write a TOML job with one good piece, some of its keys changed or dropped (None)."""

    def write(more: str = "", **changed: str | None) -> Path:
        row = {
            "name": '"Plain chain"',
            "weave": '"single-link"',
            "wire": '"1.0mm"',
            "inner": '"4 mm"',
            "metal": '"copper"',
            "length": '"20 cm"',
            **changed,
        }
        lines = [f"{key} = {value}\n" for key, value in row.items() if value is not None]
        path = tmp_path / "job.toml"
        path.write_text("".join(["[[piece]]\n", *lines, more]), encoding="utf-8")
        return path

    return write
