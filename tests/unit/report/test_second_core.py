"""Pages are drawn on a second core; what goes wrong there is not lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from chainplan.report import second_core

if TYPE_CHECKING:
    from pathlib import Path


def fail() -> None:
    message = "no ink"
    raise ValueError(message)


@pytest.mark.parametrize("platform", ["linux", "elsewhere"])
def test_both_works_are_done(
    platform: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where there is no second core the work is done all the same."""
    monkeypatch.setattr(second_core.sys, "platform", platform)
    with second_core.beside(lambda: (tmp_path / "a").write_text("pages")):
        (tmp_path / "b").write_text("tables")
    assert (tmp_path / "a").read_text() == "pages"
    assert (tmp_path / "b").read_text() == "tables"


@pytest.mark.parametrize(("platform", "kind"), [("linux", RuntimeError), ("elsewhere", ValueError)])
def test_an_error_on_the_second_core_is_raised_here(
    platform: str, kind: type[Exception], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder with missing pages must never take the place of the old one."""
    monkeypatch.setattr(second_core.sys, "platform", platform)
    with pytest.raises(kind, match="no ink"), second_core.beside(fail):
        pass


def test_an_error_here_ends_the_other_work(tmp_path: Path) -> None:
    """The first error counts; nothing goes on writing behind it."""
    with pytest.raises(ValueError, match="no ink"), second_core.beside(lambda: None):
        fail()
