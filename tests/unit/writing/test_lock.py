"""Two runs into one folder come one after the other; a dead one is told from a living one."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from chainplan.errors import InputError
from chainplan.writing import fresh_folder, lock

ROOT = Path(__file__).parents[3]
WRITE_SLOWLY = """
import sys
from pathlib import Path
from chainplan.writing import fresh_folder
with fresh_folder(Path(sys.argv[1])) as new:
    (new / "plan.json").write_text("first")
    print("writing", flush=True)
    sys.stdin.readline()
"""


def start(target: Path) -> subprocess.Popen[str]:
    run = subprocess.Popen(
        [sys.executable, "-c", WRITE_SLOWLY, str(target)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert run.stdout is not None
    assert run.stdout.readline().strip() == "writing"
    return run


def test_a_second_run_waits_for_the_first(tmp_path: Path) -> None:
    """What it writes stands in the end, and the first run's files stood whole before."""
    first = start(tmp_path / "job")
    ended: list[float] = []

    def let_go() -> None:
        time.sleep(0.3)
        ended.append(time.monotonic())
        first.communicate("\n")

    helper = threading.Thread(target=let_go)
    helper.start()
    with fresh_folder(tmp_path / "job") as new:
        begun = time.monotonic()
        assert (tmp_path / "job" / "plan.json").read_text() == "first"
        (new / "plan.json").write_text("second")
    helper.join()
    assert begun > ended[0]
    assert first.returncode == 0
    assert (tmp_path / "job" / "plan.json").read_text() == "second"
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_a_second_run_that_has_waited_long_enough_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And leaves the first alone."""
    monkeypatch.setattr(lock, "PATIENCE_S", 0.2)
    first = start(tmp_path / "job")
    with pytest.raises(InputError, match="another run"), fresh_folder(tmp_path / "job"):
        pass
    first.communicate("\n")
    assert first.returncode == 0
    assert (tmp_path / "job" / "plan.json").read_text() == "first"


def test_what_a_dead_run_left_goes_at_the_next_run_whatever_its_age(tmp_path: Path) -> None:
    """The lock went with the run."""
    first = start(tmp_path / "job")
    first.kill()
    first.communicate()
    assert [p.name for p in tmp_path.iterdir()] == [".job.chainplan-change"]
    with fresh_folder(tmp_path / "job") as new:
        assert list(new.iterdir()) == []
        (new / "plan.json").write_text("second")
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_a_folder_of_the_user_s_under_our_hidden_name_is_not_cleared(tmp_path: Path) -> None:
    """It is known as ours only by what it holds."""
    mine = tmp_path / ".job.chainplan-change"
    mine.mkdir()
    (mine / "diary.txt").write_text("mine")
    with pytest.raises(InputError, match="not made by it"), fresh_folder(tmp_path / "job"):
        pass
    assert (mine / "diary.txt").read_text() == "mine"
    assert not (tmp_path / "job").exists()
