"""A million events: recorded, summed and learnt from, at growing size.

    python tests/bench/bench_record.py [most events]

Seconds are those of the processor, so that other work does not count. Growth is linear if each
row's figures are about twice those of the row above it.
"""

from __future__ import annotations

import csv
import datetime
import sys
import tempfile
import time
import uuid
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from simulated_workshop import START_S, invented_plan

from chainplan.model.workshop.bench_log import LOG_COLUMNS
from chainplan.record.kept.store import Record
from chainplan.record.learning.learn import learn_from
from chainplan.record.progress import progress_of
from chainplan.record.reading.cells import open_table
from chainplan.record.reading.checks import check_together
from chainplan.record.reading.logs import LogReader

COPIES = 20


def write_log(path: Path, mark: str, rings: int) -> None:
    """Write the log of a whole job, as the bench sheet does."""
    random = np.random.default_rng(1)
    work_s = random.lognormal(1.8, 0.3, COPIES * rings)
    at_s = START_S + np.cumsum(work_s)
    random_ids = [int.from_bytes(random.bytes(16), "big") for _ in work_s]
    zone = datetime.timezone(datetime.timedelta(hours=1))
    with path.open("w", newline="", encoding="utf-8-sig") as file:
        writer = csv.writer(file)
        writer.writerow(list(LOG_COLUMNS))
        row = 0
        for copy in range(1, COPIES + 1):
            for ring in range(1, rings + 1):
                at = datetime.datetime.fromtimestamp(at_s[row], zone)
                writer.writerow([mark, "Chain", copy, ring, 1, ring, "done", "",
                                 at.isoformat(timespec="seconds"), f"{work_s[row]:.1f}", 0, "",
                                 "Ann", "", str(uuid.UUID(int=random_ids[row]))])  # fmt: skip
                row += 1


def main(most: int) -> None:
    """Measure at an eighth, a quarter, half and the whole."""
    now = datetime.datetime(2027, 1, 11)
    print(f"{'events':>9} {'read s':>8} {'checked s':>9} {'recorded s':>10} {'again s':>8} "
          f"{'progress s':>10} {'learnt s':>9} {'MB':>6}")  # fmt: skip
    for size in (most // 8, most // 4, most // 2, most):
        rings = size // COPIES
        plan = invented_plan(copies=COPIES, rings=rings)
        with tempfile.TemporaryDirectory() as folder:
            log, file = Path(folder) / "log.csv", Path(folder) / "workshop.sqlite"
            write_log(log, plan.mark, rings)
            times = [time.process_time()]
            found = [LogReader(plan).read(open_table(log, lambda *_: []))]
            times.append(time.process_time())
            with Record(file) as record:
                check_together(record, plan, found)
                times.append(time.process_time())
                events = [item.event for item in found[0].told]
                if record.add(events, plan=plan) != COPIES * rings:
                    raise SystemExit("events were lost")
                times.append(time.process_time())
                if record.add(events, plan=plan):
                    raise SystemExit("events were taken twice")
                times.append(time.process_time())
                done = progress_of(record, plan, now, lambda _: now)
                if sum(piece.done for piece in done.pieces) != COPIES * rings:
                    raise SystemExit("joins were lost")
                times.append(time.process_time())
                learn_from(record)
                times.append(time.process_time())
            spans = np.diff(times)
            print(f"{COPIES * rings:9d} {spans[0]:8.1f} {spans[1]:9.1f} {spans[2]:10.1f} "
                  f"{spans[3]:8.1f} {spans[4]:10.1f} {spans[5]:9.1f} "
                  f"{file.stat().st_size / 1e6:6.0f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
