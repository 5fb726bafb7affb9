"""Plans sound jobs drawn by chance, goes on with some as a shop would, and prints how it went.

    python tests/bench/random_jobs.py 100 700                  100 small jobs, numbers 700 to 799
    python tests/bench/random_jobs.py 5 7 --large              pieces of 400 to 2500 rings
    python tests/bench/random_jobs.py 100 700 --only 712,731   two of them
    python tests/bench/random_jobs.py 100 700 --kept FOLDER    where faults are kept

Every job must come out as a plan that passes the examiner, or be refused with a message about the
input. A fault (a trace, a contradiction that the examiner found, a warning of a library, a refused
follow-up of a plan that was written) is kept in a folder of its own: the job file, which can be
planned again by ``chainplan plan FOLDER/job.toml``, and all that was said. The table counts jobs
planned, refused by kind of message, and faults; the exit status is 1 if there is one.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tools"))

from drawn_jobs import FOLLOW_UPS, LARGE, SMALL, Run, draw_job, run_job, write_files

SHARE = 4
"""One job in so many is gone on with in one way, in turn."""


def kind_of(said: str) -> str:
    """The first fault of a message without its place, names and numbers."""
    first = said.strip().splitlines()[0].removeprefix("chainplan: ")
    plain = re.sub(r"^.*?job\.toml[^:]*:\s*", "", first)
    plain = re.sub(r"'[^']*'|\"[^\"]*\"", "…", plain)
    return re.sub(r"-?\d+(?:[.,]\d+)*", "#", plain)[:110]


def _last_line(said: str) -> str:
    return kind_of(said.strip().splitlines()[-1])


def keep_fault(folder: Path, kept: Path, name: str, run: Run) -> None:
    """Put the job and all that was said where it can be planned again."""
    place = kept / name
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    for path in folder.iterdir():
        if path.is_file():
            shutil.copy(path, place / path.name)
    (place / "said.txt").write_text(f"{run.step}\n\n{run.said}", encoding="utf-8")


def main() -> int:
    """Draw, plan and go on; print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("count", type=int)
    parser.add_argument("first", type=int, help="number of the first job")
    parser.add_argument("--large", action="store_true")
    parser.add_argument("--only", default="", help="numbers of jobs, with commas")
    parser.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir()) / "drawn-jobs")
    parser.add_argument("--share", type=int, default=SHARE)
    args = parser.parse_args()
    os.environ["CHAINPLAN_CACHE"] = tempfile.mkdtemp(prefix="drawn-cache-")
    only = {int(word) for word in args.only.split(",") if word}
    runs: list[tuple[int, Run]] = []
    for number in range(args.first, args.first + args.count):
        if only and number not in only:
            continue
        content = draw_job(number, LARGE if args.large else SMALL)
        ways = tuple(FOLLOW_UPS)
        follow = (ways[number // args.share % len(ways)],) if number % args.share == 0 else ()
        with tempfile.TemporaryDirectory(prefix="drawn-job-") as place:
            folder = Path(place) / "job"
            run = run_job(
                write_files(content, folder), follow=tuple(FOLLOW_UPS) if only else follow
            )
            if run.outcome != "planned":
                keep_fault(folder, args.kept, f"{run.outcome}-{number}", run)
        runs.append((number, run))
        first = (run.said.strip().splitlines() or [""])[-1][:150]
        print(f"{number:5} {run.outcome:8} {run.seconds:6.1f} s {run.step:18} {first}", flush=True)
    shutil.rmtree(os.environ["CHAINPLAN_CACHE"], ignore_errors=True)
    return tell(runs)


def tell(runs: list[tuple[int, Run]]) -> int:
    """Print the table; 1 if there was a fault."""
    outcomes = Counter(run.outcome for _, run in runs)
    seconds = sum(run.seconds for _, run in runs)
    print(f"\n{len(runs)} jobs in {seconds:.0f} s of the processor: " + ", ".join(
        f"{outcomes[name]} {name}" for name in ("planned", "refused", "fault")
    ))  # fmt: skip
    kinds = Counter(kind_of(run.said) for _, run in runs if run.outcome == "refused")
    kinds += Counter(f"fault: {_last_line(run.said)}" for _, run in runs if run.outcome == "fault")
    for kind, count in kinds.most_common():
        print(f"{count:5}  {kind}")
    return 1 if outcomes["fault"] else 0


if __name__ == "__main__":
    began = time.time()
    sys.exit(main())
