"""Tasks on a real cluster of several processes on this machine, one of which is killed at work."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from one_chain import BRACELET_AND_EARRING

pytest.importorskip("distributed")

from chainplan.errors import InputError
from chainplan.workers import Workers, side_by_side

ROOT = Path(__file__).parents[3]
SCRIPT = """
import json, os, signal, sys, threading, time
from pathlib import Path

import chainplan
from chainplan.errors import InputError
from chainplan.workers import Workers, side_by_side

FOLDER = Path(sys.argv[1])

def slow(number):
    Path(FOLDER, f"{number}-{os.getpid()}-{time.monotonic_ns()}").touch()
    time.sleep(0.4)
    return number, os.getpid()

def main():
    from dask.distributed import LocalCluster
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        where = Workers(cluster=cluster.scheduler_address)
        def kill():
            while len(list(FOLDER.iterdir())) < 3:
                time.sleep(0.05)
            seen = sorted(FOLDER.iterdir(), key=lambda path: int(path.name.split("-")[2]))
            os.kill(int(seen[-1].name.split("-")[1]), signal.SIGKILL)
        killer = threading.Thread(target=kill)
        killer.start()
        found = side_by_side(slow, list(range(12)), where)
        killer.join()
        job = chainplan.read_job(sys.argv[2])
        here = chainplan.make_plan(job)
        there = chainplan.make_plan(job, cluster=cluster.scheduler_address)
        same = [
            one.order.ring.tolist() == two.order.ring.tolist()
            and one.order.start_s.tolist() == two.order.start_s.tolist()
            for one, two in zip(here.pieces, there.pieces)
        ]
        import chainplan.store.version as version
        version.code_version = lambda: "another version"
        refused = ""
        try:
            side_by_side(slow, [1, 2], where)
        except InputError as error:
            refused = str(error)
        print(json.dumps({"found": found, "same": same, "refused": refused}))

if __name__ == "__main__":
    main()
"""


def test_a_worker_that_is_killed_loses_nothing_and_another_version_is_refused(
    tmp_path: Path,
) -> None:
    """Twelve tasks on two workers, one killed at work: twelve answers, in order, each once."""
    script, seen, job = tmp_path / "on_cluster.py", tmp_path / "seen", tmp_path / "job.toml"
    script.write_text(SCRIPT, encoding="utf-8")
    job.write_text(BRACELET_AND_EARRING, encoding="utf-8")
    seen.mkdir()
    done = subprocess.run(
        [sys.executable, str(script), str(seen), str(job)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=400,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout.splitlines()[-1])
    assert [number for number, _ in told["found"]] == list(range(12))
    begun = [path.name.split("-")[:2] for path in seen.iterdir()]
    assert len(begun) > 12  # the task of the killed worker was begun again
    assert len({pid for _, pid in begun}) >= 2  # on a busy machine one may end all of them
    assert told["same"] == [True, True]
    assert "another version" in told["refused"]


def test_a_scheduler_that_does_not_answer_is_one_message() -> None:
    """Nobody listens on that port."""
    with pytest.raises(InputError, match=r"no scheduler answers at tcp://127\.0\.0\.1:9"):
        side_by_side(abs, [1, 2], Workers(cluster="tcp://127.0.0.1:9"))
