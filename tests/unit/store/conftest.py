"""A small job, planned in a second, and a shelf of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from one_chain import BRACELET_AND_EARRING

import chainplan
from chainplan.store import ResultShelf

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.job import Job


@pytest.fixture
def job(tmp_path: Path) -> Job:
    """Two invented pieces of a few rings."""
    path = tmp_path / "job.toml"
    path.write_text(BRACELET_AND_EARRING, encoding="utf-8")
    return chainplan.read_job(path)


@pytest.fixture
def shelf(tmp_path: Path) -> ResultShelf:
    """An empty shelf."""
    return ResultShelf(folder=tmp_path / "shelf")
