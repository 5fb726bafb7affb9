"""Changes one thing at a time in some modules and counts how many changes the tests notice.

    python tests/bench/mutate.py                                     one small module a folder
    python tests/bench/mutate.py heat/following/sums weave/laying/tiling --minutes 20
    python tests/bench/mutate.py order                               all of a folder
    python tests/bench/mutate.py order heat --sample 150             drawn by seed from all of it

Works on a copy in a temporary folder, with mutmut (``pip install mutmut``; it needs fork). For each
folder its own tests, its properties and the published values are run. Prints the share noticed, by
folder (of a sample with its 95 % interval by Wilson), and every change that no test noticed. One
that changes no result (an equivalent one) belongs into ``EQUIVALENT``, with the reason.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDERS = ("order", "heat", "weave", "join", "estimate")
SMALL = ("heat/matrix", "weave/shape/orientation", "join/sides", "estimate/material/spares")
COPIED = ("chainplan", "tests", "samples", "output", "README.md", "DEVELOPERS.md", ".ci")
NOTICED, SURVIVED, NO_TEST, TIMEOUT, LEFT = (
    "noticed",
    "survived",
    "no test",
    "too long",
    "not tried",
)
STATUS = {0: SURVIVED, 1: NOTICED, 3: NOTICED, 5: NO_TEST, 33: NO_TEST, None: LEFT}
STATUS |= dict.fromkeys((24, 36, 152, 255, -24, -9, -11), TIMEOUT)
WIDER = "a window that is wider still adds terms too small to change the sum"
NO_SIDE = "a side without a score is passed over, be it −inf or no number"
NODES = "every node has an entry on the diagonal, so the shape is found to be the same"
NET = "another net of first tries; the refining reaches the same roll from it"
IN_ANY_CASE = "nothing is welded before the first step: too warm among all steps too, or never"
BOTH_LOOKS = "all steps are looked at in either case; a few of them first saves time only"
NO_COPY = "a decimal made from a decimal is the same"
ROLLS = "rolls = np.linspace(-np.pi, np.pi, "
AROUND = "around = np.arange("
EQUIVALENT = {
    f"{ROLLS}tuned.roll_points, endpoint=None, dtype=np.float64)": NET,
    f"{ROLLS}tuned.roll_points, endpoint=True, dtype=np.float64)": NET,
    f"{ROLLS}tuned.roll_points, dtype=np.float64)": NET,
    f"{ROLLS}endpoint=False, dtype=np.float64)": NET,
    f"{ROLLS}tuned.roll_points, endpoint=False, dtype=None)": "the same type without being named",
    f"{ROLLS}tuned.roll_points, endpoint=False, )": "the same type without being named",
    "step = float(rolls[2] - rolls[0])": NET,
    f"{AROUND}-2.0, 1.0 + tuned.roll_spacing / 2, tuned.roll_spacing)": NET,
    f"{AROUND}-1.0, 1.0 - tuned.roll_spacing / 2, tuned.roll_spacing)": NET,
    f"{AROUND}-1.0, 2.0 + tuned.roll_spacing / 2, tuned.roll_spacing)": NET,
    f"{AROUND}-1.0, 1.0 + tuned.roll_spacing * 2, tuned.roll_spacing)": NET,
    f"{AROUND}-1.0, 1.0 + tuned.roll_spacing / 3, tuned.roll_spacing)": NET,
    "rolls = best - step * around": "the net is the same on both sides",
    "every = np.arange(nodes, dtype=None)": "takes more room only",
    "every = np.arange(nodes, )": "takes more room only",
    "matrix = coo_matrix((values, (rows, columns)), shape=None).tocsr()": NODES,
    "matrix = coo_matrix((values, (rows, columns)), ).tocsr()": NODES,
    "other[first < 0] = None": NO_SIDE,
    "spread = tuning().binomial_width * math.sqrt(mean / (1 - bad_share)) + 30": WIDER,
    "spread = tuning().binomial_width * math.sqrt(mean * (1 + bad_share)) + 30": WIDER,
    "spread = tuning().binomial_width * math.sqrt(mean * (2 - bad_share)) + 30": WIDER,
    "spread = tuning().binomial_width * math.sqrt(mean * (1 - bad_share)) + 31": WIDER,
    "weight = np.exp(logs + logs.max())": "a factor that all weights have cancels",
    "short = weight[max(spares + 1 - first, 1) :]": "the first weight changes no sum",
    "cost = to_money(shared + sum(extra, ), money.decimals)": "0 and Decimal(0) are the same start",
    "kept: Any = new if (isinstance(old, Decimal)) and False else type(old)(new)": NO_COPY,
    "zip(loads_mn, (ARGON_W_MK, AIR_W_MK, AIR_W_MK), strict=False)": "three loads in any case",
    "limit_c = item.limit_c or 1.0": "it is asked only of what has a limit, above zero",
    "hot = every[:1]": IN_ANY_CASE,
    "sums.cool_to_hold(trial.order, trial.start_s, None)": BOTH_LOOKS,
    "sums.cool_to_hold(trial.order, trial.start_s, )": BOTH_LOOKS,
}
"""Changes that no test can notice: the line that is put in, and why."""
SETTINGS = """
[tool.mutmut]
source_paths = ["chainplan"]
only_mutate = {modules}
also_copy = {also}
pytest_add_cli_args = ["-p", "no:cacheprovider"]
pytest_add_cli_args_test_selection = {tests}
"""


def tests_of(folder: str) -> list[str]:
    """Return what is run for the modules of a folder."""
    properties = sorted((ROOT / "tests" / "properties").glob(f"test_{folder}*.py"))
    also = (
        ["tests/interface/test_questions.py", "tests/unit/schedule"] if folder == "estimate" else []
    )
    found = [
        f"tests/unit/{folder}",
        *also,
        *(f"tests/properties/{path.name}" for path in properties),
    ]
    return [*found, "tests/validation"]


def modules_of(words: list[str]) -> dict[str, list[str]]:
    """Turn words such as ``heat`` or ``heat/sums`` into module files by folder."""
    found: dict[str, list[str]] = {}
    for word in words:
        folder = word.split("/")[0]
        if folder not in FOLDERS:
            sys.exit(f"{word}: name modules of {', '.join(FOLDERS)}")
        path = ROOT / "chainplan" / word
        files = sorted(path.rglob("*.py")) if path.is_dir() else [path.with_suffix(".py")]
        names = [f.relative_to(ROOT).as_posix() for f in files if f.name != "__init__.py"]
        found.setdefault(folder, []).extend(names)
    return found


def make_copy(place: Path, modules: list[str], tests: list[str]) -> None:
    """Copy the project and say in the copy what is to be changed and which tests are run."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, place / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy2(source, place / name)
    settings = SETTINGS.format(
        modules=json.dumps(modules),
        also=json.dumps([name for name in COPIED if name != "chainplan"]),
        tests=json.dumps(tests),
    )
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    (place / "pyproject.toml").write_text(text + settings, encoding="utf-8")


def draw_names(place: Path, count: int, seed: int) -> list[str]:
    """Have all changes made without trying one, and draw some of them by seed."""
    run_mutants(place, 3600, ["chainplan.nothing_is_called_so"])
    names = [
        name
        for meta in sorted((place / "mutants" / "chainplan").rglob("*.meta"))
        for name in json.loads(meta.read_text(encoding="utf-8"))["exit_code_by_key"]
    ]
    print(f"{len(names)} changes in all", flush=True)
    return random.Random(seed).sample(names, min(count, len(names)))


def wilson(noticed: int, tried: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (Wilson, J. Am. Stat. Assoc. 22, 1927, 209-212)."""
    z, share = 1.96, noticed / tried
    middle = (share + z * z / (2 * tried)) / (1 + z * z / tried)
    half = z * math.sqrt(share * (1 - share) / tried + (z / (2 * tried)) ** 2) / (1 + z * z / tried)
    return middle - half, middle + half


def run_mutants(place: Path, seconds: float, names: list[str]) -> None:
    """Run mutmut in the copy, on all changes or those named, until it is done or the time is up."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    with (place / "log.txt").open("w", encoding="utf-8") as log:
        command = [sys.executable, "-m", "mutmut", "run"]
        process = subprocess.Popen(
            [*command, "--max-children", str(os.cpu_count() or 1), *names],
            cwd=place, env=environment, stdout=log, stderr=subprocess.STDOUT,
            start_new_session=True,
        )  # fmt: skip
        try:
            process.wait(seconds)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGINT)
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)


def show(place: Path, name: str) -> str:
    """Return a change as the lines that it takes out and puts in."""
    shown = subprocess.run(
        [sys.executable, "-m", "mutmut", "show", name],
        cwd=place, capture_output=True, text=True, check=False,
    )  # fmt: skip
    lines = [
        line
        for line in shown.stdout.splitlines()
        if line[:1] in "+-" and line[:3] not in ("---", "+++")
    ]
    return "\n".join(f"    {line}" for line in lines)


def try_modules(
    modules: list[str], tests: list[str], minutes: float, sample: int, seed: int
) -> Counter[str]:
    """Try the changes of some modules, all or a sample; print those that went unnoticed."""
    place = Path(tempfile.mkdtemp(prefix="mutants-"))
    told = Counter[str]()
    try:
        make_copy(place, modules, tests)
        run_mutants(place, 60 * minutes, draw_names(place, sample, seed) if sample else [])
        found = sorted((place / "mutants" / "chainplan").rglob("*.meta"))
        for meta in found:
            codes = json.loads(meta.read_text(encoding="utf-8"))["exit_code_by_key"]
            for name, code in codes.items():
                status = STATUS.get(code, NOTICED)
                if status in (SURVIVED, NO_TEST):
                    change = show(place, name)
                    put_in = [line[5:].strip() for line in change.splitlines() if line[4] == "+"]
                    reason = next((EQUIVALENT[line] for line in put_in if line in EQUIVALENT), "")
                    status = "equivalent" if reason else status
                    print(f"{status}: {name}  {reason}\n{change}", flush=True)
                told[status] += 1
        if set(told) <= {LEFT}:
            print((place / "log.txt").read_text(encoding="utf-8")[-3000:])
    finally:
        shutil.rmtree(place, ignore_errors=True)
    return told


def main() -> None:
    """Print a table of the share noticed by folder."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument(
        "modules", nargs="*", default=list(SMALL), help="heat, heat/following/sums …"
    )
    parser.add_argument("--minutes", type=float, default=10, help="at most, a folder")
    parser.add_argument("--sample", type=int, default=0, help="so many changes, drawn by seed")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tests", nargs="+", help="run these instead of the folder's own")
    args = parser.parse_args()
    rows = []
    for folder, modules in modules_of(args.modules).items():
        started = time.perf_counter()
        tests = args.tests or tests_of(folder)
        told = try_modules(modules, tests, args.minutes, args.sample, args.seed)
        rows.append((folder, told, time.perf_counter() - started))
    kinds = (NOTICED, TIMEOUT, SURVIVED, NO_TEST, "equivalent", LEFT)
    print(
        "folder    " + "".join(f"{kind:>12}" for kind in kinds) + "       share   95 %      seconds"
    )
    for folder, told, seconds in rows:
        tried = sum(told[kind] for kind in kinds[:4])
        noticed = told[NOTICED] + told[TIMEOUT]
        low, high = wilson(noticed, tried) if tried and args.sample else (math.nan, math.nan)
        share = noticed / tried if tried else math.nan
        counts = "".join(f"{told[kind]:>12}" for kind in kinds)
        print(f"{folder:<10}{counts}{share:>12.0%}{low:>7.0%}-{high:.0%}{seconds:>10.0f}")


if __name__ == "__main__":
    main()
