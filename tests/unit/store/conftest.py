"""A small job, planned in a second, and a shelf of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import chainplan
from chainplan.store import ResultShelf

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.job import Job

JOB = """
[[piece]]
name = "Bracelet"
weave = "single-link"
wire_mm = 1.2
inner_mm = 5.0
metal = "copper"
rings = 14

[[piece]]
name = "Earring"
weave = "single-link"
wire_mm = 1.0
inner_mm = 4.0
metal = "sterling-silver"
rings = 6
"""


@pytest.fixture
def job(tmp_path: Path) -> Job:
    """Two invented pieces of a few rings."""
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return chainplan.read_job(path)


@pytest.fixture
def shelf(tmp_path: Path) -> ResultShelf:
    """An empty shelf."""
    return ResultShelf(folder=tmp_path / "shelf")
