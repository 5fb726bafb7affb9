"""A run that is killed at any step leaves a folder that tells its state and that the next mends."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[2] / "bench" / "kill_writer.py"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the script forks the runs that it kills")
def test_a_kill_before_each_step_on_the_disk_is_mended() -> None:
    """The script compares every file and everything of the user's after each kill."""
    root = Path(__file__).parents[3]
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--every-step"],
        env={**os.environ, "PYTHONPATH": str(root)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    told = {line[:28].strip(): int(line[28:]) for line in done.stdout.splitlines()}
    assert told["steps of a change"] > 50
    assert told["steps of one taken back"] > 50
    assert told["killed in the change"] > 50
    assert told["mixed, and said so"] > 20
