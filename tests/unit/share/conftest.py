"""A planned folder, and the server on it as a process."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest
from at_share import Server, plan_folder

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a small plan."""
    return plan_folder(tmp_path_factory.mktemp("planned"))


@pytest.fixture
def folder(planned: Path, tmp_path: Path) -> Path:
    """A copy of it, with nothing recorded yet."""
    return shutil.copytree(planned, tmp_path / "plans" / "invented")


@pytest.fixture
def server(folder: Path) -> Iterator[Server]:
    """The server, listening."""
    one = Server(folder).start()
    yield one
    one.stop()


@pytest.fixture(scope="module")
def still(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server for all that must leave no trace."""
    place = tmp_path_factory.mktemp("still") / "plans" / "invented"
    one = Server(shutil.copytree(planned, place)).start()
    yield one
    one.stop()
