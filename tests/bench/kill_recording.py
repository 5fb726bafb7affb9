"""Kill a process while it records, at random moments, and look at what is left.

    python tests/bench/kill_recording.py [kills]

After every kill the file must open, hold every event that was confirmed before, hold each batch
whole or not at all, and take the rest. Two processes record at once in every round.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from chainplan.model.workshop.record import Event
from chainplan.record.kept.store import Record

BATCH = 7
WRITER = """
import sys
from chainplan.record.kept.store import Record
sys.path.insert(0, {here!r})
from kill_recording import batch
with Record(sys.argv[1], check=False) as record:
    number = int(sys.argv[3])
    print("open", flush=True)
    while True:
        record.add(batch(int(sys.argv[2]), number))
        print(number, flush=True)
        number += 1
"""


def batch(writer: int, number: int) -> list[Event]:
    """Make the events of one batch, the same ones for the same numbers."""
    return [
        Event(id=f"{writer:08d}-{number:04d}-{k:04d}-0000-{number:012d}", kind="note", at="",
              at_s=float(number), person=str(writer), note=f"{number} {k}", lot="x" * 300)
        for k in range(BATCH)
    ]  # fmt: skip


def start(path: Path, writer: int, number: int) -> subprocess.Popen[str]:
    """Start a process that records batch after batch and says when each is confirmed."""
    code = WRITER.format(here=str(Path(__file__).parent))
    return subprocess.Popen(
        [sys.executable, "-c", code, str(path), str(writer), str(number)],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip


def confirmed(process: subprocess.Popen[str]) -> int:
    """Return the last batch that a killed process confirmed; −1 for none."""
    said = (process.communicate()[0] or "").split()
    whole = [word for word in said if word.isdecimal()]
    return int(whole[-1]) if whole else -1


def main(kills: int) -> None:
    """Kill, look, and go on."""
    chance = random.Random(7)
    lost = torn = broken = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "workshop.sqlite"
        following = [0, 0]
        sure = [-1, -1]
        for kill in range(kills):
            processes = [start(path, writer, following[writer]) for writer in (0, 1)]
            for process in processes:
                if process.stdout is not None and chance.random() < 0.8:
                    process.stdout.readline()
            time.sleep(chance.random() * 0.05)
            for process in processes:
                os.kill(process.pid, signal.SIGKILL)
            for writer, process in enumerate(processes):
                sure[writer] = max(sure[writer], confirmed(process))
            try:
                with Record(path) as record:
                    rows = record.rows("SELECT person, at_s, count(*) FROM event GROUP BY 1, 2")
            except Exception as error:
                print(f"kill {kill}: {error}")
                broken += 1
                break
            torn += sum(count != BATCH for _, _, count in rows)
            for writer in (0, 1):
                there = {int(at_s) for person, at_s, _ in rows if person == str(writer)}
                lost += len(set(range(sure[writer] + 1)) - there)
                following[writer] = max(there, default=-1) + 1
            if len(rows) > 3000:  # go on with a fresh file: opening looks through all of it
                path.unlink()
                following, sure = [0, 0], [-1, -1]
    print(f"{kills} kills of 2 processes: {lost} confirmed batches lost, {torn} torn, "
          f"{broken} files that did not open")  # fmt: skip
    if lost or torn or broken:
        raise SystemExit(1)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
