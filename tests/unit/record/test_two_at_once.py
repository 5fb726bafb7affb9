"""Two processes that record at once lose nothing, and one that is killed leaves a whole file."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

from chainplan.record.kept.store import Record

ROOT = Path(__file__).parents[3]
WRITER = """
import sys
from chainplan.model.workshop.record import Event
from chainplan.record.kept.store import Record
with Record(sys.argv[1]) as record:
    for number in range(int(sys.argv[3])):
        record.add([
            Event(id=f"{sys.argv[2]}-0000-0000-{k:04d}-{number:012d}", kind="note", at="",
                  at_s=float(number), note=str(k)) for k in range(3)
        ])
        print(number, flush=True)
"""


def start(path: Path, writer: str, batches: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), writer, str(batches)],
        stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def test_two_processes_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "workshop.sqlite"
    both = [start(path, writer, 25) for writer in ("aaaaaaaa", "bbbbbbbb")]
    for process in both:
        process.communicate(timeout=120)
        assert process.returncode == 0
    with Record(path, read_only=True) as record:
        assert record.rows("SELECT count(*), count(DISTINCT id) FROM event") == [(150, 150)]


def test_a_killed_process_leaves_what_it_confirmed(tmp_path: Path) -> None:
    """tests/bench/kill_recording.py does this hundreds of times."""
    path = tmp_path / "workshop.sqlite"
    process = start(path, "cccccccc", 100_000)
    assert process.stdout is not None
    for _ in range(5):
        process.stdout.readline()
    os.kill(process.pid, signal.SIGKILL)
    rest = process.communicate()[0].split("\n")
    sure = max([4, *(int(line) for line in rest[:-1] if line.isdecimal())])
    with Record(path) as record:
        rows = record.rows("SELECT at_s, count(*) FROM event GROUP BY 1 ORDER BY 1")
    assert [count for _, count in rows] == [3] * len(rows)
    assert len(rows) >= sure + 1
