"""Where the system is Windows, as far as that can be pretended: locks, names, what is left out."""

from __future__ import annotations

import os
import sys
import types
from pathlib import Path

import pytest

from chainplan.errors import InputError
from chainplan.writing import change, fresh_folder, lock, syncing


@pytest.fixture(name="locked")
def fixture_locked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, int, int]]:
    """Pretend: another name of the system, its own module of locks, and none of ours."""
    taken: list[tuple[int, int, int]] = []
    fake = types.ModuleType("msvcrt")
    fake.LK_NBLCK = 2  # type: ignore[attr-defined]
    fake.locking = lambda *args: taken.append(args)  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "msvcrt", fake)
    monkeypatch.setitem(sys.modules, "fcntl", None)  # importing it would fail
    system = types.SimpleNamespace(**{k: getattr(os, k) for k in dir(os) if k[:2] != "__"})
    system.name = "nt"
    for gone in ("chown", "O_NOFOLLOW", "link"):
        delattr(system, gone)
    for module in (lock, change, syncing):
        monkeypatch.setattr(module, "os", system)
    return taken


def write(target: Path, text: str) -> None:
    """Write one plan of two files."""
    with fresh_folder(target) as new:
        (new / "plan.json").write_text(text, encoding="utf-8")
        (new / "charts").mkdir()
        (new / "charts" / "cost.svg").write_text(text, encoding="utf-8")


def test_a_folder_is_written_and_written_again(
    tmp_path: Path, locked: list[tuple[int, int, int]]
) -> None:
    """With the lock of that system, without owners and without syncing folders."""
    for text in ("one", "two"):
        write(tmp_path / "out", text)
        assert (tmp_path / "out" / "plan.json").read_text(encoding="utf-8") == text
        assert (tmp_path / "out" / "charts" / "cost.svg").read_text(encoding="utf-8") == text
    assert {(how, count) for _, how, count in locked} == {(2, 1)}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_lock_that_another_run_has_is_waited_for_and_told(
    tmp_path: Path, locked: list[tuple[int, int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """That system says so by a refusal of rights."""
    del locked

    def refuse(*_: int) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(sys.modules["msvcrt"], "locking", refuse)
    monkeypatch.setattr(lock, "PATIENCE_S", 0.05)
    with pytest.raises(InputError, match="another run of chainplan is writing there"):
        write(tmp_path / "out", "one")


def test_a_workbook_that_is_open_elsewhere_stops_the_change_with_its_name(
    tmp_path: Path, locked: list[tuple[int, int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """There a file that another program holds can be neither replaced nor linked nor moved."""
    del locked
    write(tmp_path / "out", "one")
    held = tmp_path / "out" / "plan.json"
    for name in ("replace", "rename"):
        known = getattr(Path, name)

        def refuse(self: Path, target: Path, known: object = known) -> Path:
            if held in (self, Path(target)):
                raise PermissionError(32, "used by another process", str(held))
            return known(self, target)  # type: ignore[operator]

        monkeypatch.setattr(Path, name, refuse)
    monkeypatch.setattr(Path, "hardlink_to", refuse_link)
    with pytest.raises(InputError, match=r"plan\.json"):
        write(tmp_path / "out", "two")
    assert held.read_text(encoding="utf-8") == "one"
    assert (tmp_path / "out" / "charts" / "cost.svg").read_text(encoding="utf-8") == "one"


def refuse_link(self: Path, target: Path) -> None:
    """Refuse hard links, as some disks do."""
    raise OSError(1, "not permitted")
