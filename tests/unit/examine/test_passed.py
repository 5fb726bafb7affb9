"""What the same content has passed is not examined again, and nothing wrong gets by for that."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from chainplan.errors import InputError
from chainplan.examine import Passed, examine_folder
from chainplan.examine.passed import UNKNOWN, watch
from chainplan.examine.reading import read_folder
from chainplan.store import ResultShelf
from tests.unit.examine.test_mutations import NAMES, PRINTED, load_mutations


class InMemory:
    """Kept results in a dictionary."""

    def __init__(self) -> None:
        self.held: dict[str, Any] = {}

    def get(self, key: str) -> Any:
        return self.held.get(key)

    def put(self, key: str, value: object) -> None:
        self.held[key] = value


def findings(folder: Path, passed: Passed | None) -> list[str]:
    """What is found, in lines; that it cannot be read as a plan counts as one."""
    try:
        found = examine_folder(folder, without=PRINTED, passed=passed)
    except InputError as error:
        return [str(error)]
    return sorted(map(str, found.findings))


def test_the_same_files_are_examined_once(bare: Path, tmp_path: Path) -> None:
    """The heavy checks are left out the second time, from a store of files too; notes are kept."""
    passed = Passed(ResultShelf(folder=tmp_path / "shelf"), "1")
    first, second = (examine_folder(bare, passed=passed) for _ in range(2))
    assert first.passed_before == ()
    assert {"limits hold at the peaks", "joins are out in the open"} <= set(second.passed_before)
    assert (first.ok, second.ok) == (True, True)
    assert first.notes == second.notes
    assert first.checks == second.checks
    # The paper, the workbook and pictures are files of their own, which are always opened.
    assert not set(PRINTED) & set(second.passed_before)
    other = examine_folder(bare, passed=Passed(ResultShelf(folder=tmp_path / "shelf"), "2"))
    assert other.passed_before == ()
    for path in (tmp_path / "shelf").rglob("*.kept"):
        path.write_bytes(path.read_bytes()[:-3])
    assert examine_folder(bare, passed=passed).passed_before == ()


@pytest.mark.parametrize("seed", [3])
def test_a_changed_number_is_found_whatever_has_passed_before(bare: Path, seed: int) -> None:
    """Of plans with one number changed, the findings are the same as of an examination anew."""
    files = {name: (bare / name).read_text(encoding="utf-8") for name in NAMES}
    passed = Passed(InMemory(), "1")
    assert findings(bare, passed) == []
    before = dict(passed.kept.held)  # type: ignore[attr-defined]
    tried = told = 0
    for number, mutation in enumerate(load_mutations().all_mutations(files, seed, 1)):
        if number % 12:
            continue
        path = bare / mutation.file
        path.write_text(mutation.text, encoding="utf-8")
        kept = InMemory()
        kept.held = dict(before)
        anew, again = findings(bare, None), findings(bare, Passed(kept, "1"))
        path.write_text(files[mutation.file], encoding="utf-8")
        assert again == anew, f"{mutation.file}, {mutation.field}: {mutation.place}"
        tried, told = tried + 1, told + bool(anew)
    assert tried > 25
    assert told > 0.7 * tried


def test_nothing_is_kept_of_a_check_that_finds_something(bare: Path, tmp_path: Path) -> None:
    """So it is told again."""
    folder = Path(shutil.copytree(bare, tmp_path / "plan"))
    path = folder / "weld-order.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join([lines[0], lines[2], lines[1], *lines[3:]]), encoding="utf-8")
    passed = Passed(InMemory(), "1")
    first, second = findings(folder, passed), findings(folder, passed)
    assert first
    assert first == second


def test_every_way_to_read_is_noted(bare: Path) -> None:
    """Keys by name; whatever goes through all of them counts as not known."""
    files = watch(read_folder(bare))
    assert files.plan["estimates"]["currency"] == files.whole_files.plan["estimates"]["currency"]
    assert files.plan.get("nothing") is None
    assert files.value("bench.heat.hold_from_mm") > 0
    assert "rest" not in files.sheet
    assert files.rest is False
    assert files.read == {
        "plan estimates currency", "plan nothing", "source bench.heat.hold_from_mm", "sheet rest",
        "plan replan",
    }  # fmt: skip
    for way in (
        list, len, dict, lambda it: {**it}, lambda it: it | {}, lambda it: {} | it,
        lambda it: it.items(), lambda it: it.values(), lambda it: it.copy(), lambda it: it == {},
    ):  # fmt: skip
        files = watch(read_folder(bare))
        way(files.plan["schedule"])
        assert UNKNOWN in files.read, way
    for name in ("folder", "_values"):
        files = watch(read_folder(bare))
        assert getattr(files, name) is not None
        assert files.read == {UNKNOWN}
