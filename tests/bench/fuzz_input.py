"""Tries every reader of files on damaged, swollen and nonsensical files; prints what went wrong.

    python tests/bench/fuzz_input.py [cases of each kind] [kinds …]

A case begins with a good file of its kind; Hypothesis draws where it is cut, what is put in and how
often a stretch is repeated. Only an ``InputError`` may come out, within the time and memory that
``chainplan.bounds`` promise, in short plain messages. What does not is kept, with its traceback, in
the folder that is printed. A table counts cases, tracebacks, slow ones, large ones and long ones by
kind: all but the first must be zero, and the exit status says so. Kinds: job files of three sorts
(``laid``: and their pieces laid out), weld order, bench log, log typed by hand, weave, grid,
picture, logo, cooling curve, words and changes of the command line, every file of a finished plan,
and of a plan that is begun and planned again (``replan``; planning and writing left out).
"""

from __future__ import annotations

import contextlib
import io
import re
import resource
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fuzz_seeds import (
    BEGUN_AT,
    SAMPLES,
    begun_plan,
    known_plan,
    parts_of,
    seeds,
    small_plan,
    with_odd_value,
    with_true_sums,
)
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError
from chainplan.estimate.price.what_if import change_job
from chainplan.examine import examine_folder
from chainplan.heat.measured.readings import read_readings
from chainplan.job import check_job, read_job, section_from_words
from chainplan.job.files.drawn import read_grid, read_picture
from chainplan.job.files.first_sheet import first_sheet_rows
from chainplan.job.files.logo import check_logo
from chainplan.job.table import Findings
from chainplan.order import read_order
from chainplan.public.jobs import check_job as check_and_lay
from chainplan.public.jobs import weave_names
from chainplan.record.reading.cells import open_table
from chainplan.record.reading.logs import LogReader
from chainplan.record.reading.plan_folder import read_counts, read_plan_folder
from chainplan.weave.library import read_weave_file

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.errors import Fault

MOST_REPEATED = 200_000
"""Bytes that a repeated stretch swells to at most: larger files are pinned in the tests."""
MOST_MESSAGE = 5 * BOUNDS.message_letters

NASTY = (
    "", "0", "-1", "1e999", "1e99999999999999999999", "nan", "inf", "0x" + "f" * 150, "9" * 150,
    "1_0", "1 2 mm", "5/16 in", "1/0 in", "٣", "½", "18", "18AWG", "03/04/2027", "2027-13-45",
    "2027-03-01T14:30:00Z", "=1+1", "'=cmd|x'", '"', "'", '"""', "'''", "[", "]", "[[", "]]", "{",
    "}", "#", ",", ";", "\t", "\n", "\r", "\r\n", "\0", "\x1b[2J", "\ufeff", "\u202e", "💍", "\\",
    "\\u0000", "\\ud800", "a.b.c.d", "a." * 30, "../x", "con", "[bench.heat]\nroom_c = 1e6\n",
    "[[piece]]\n", "[[piece.section]]\n", "name", "piece", "own", "loose-joins", "mine.toml",
    "<c>", "</c>", "<row>", '<c r="A1" t="s"><v>99999</v></c>', '<c t="n"><v>1e400</v></c>',
    '<c r="XFD1"/>', '<c t="d"><v>x</v></c>', "<!DOCTYPE a>", "&amp;", "&x;", 's="99999"', "<f>",
    "true", "false", "yes", "x" * 300, "é" * 70,
)  # fmt: skip
Edit = tuple[str, float, int, str, bytes, int]
"""What is done, where, over how many bytes, the text or bytes put in, and how often."""
PARTING = re.compile(rb"[,;\t\n=<>|]")
edits = st.lists(
    st.tuples(
        st.sampled_from(["cell", "cell", "cut", "put", "repeat", "swap", "bytes"]),
        st.floats(0, 1, exclude_max=True),
        st.integers(0, 80),
        st.sampled_from(NASTY),
        st.binary(max_size=6),
        st.integers(1, 2000),
    ),
    min_size=1,
    max_size=5,
)


def edited(content: bytes, changes: list[Edit]) -> bytes:
    """Return a file with some stretches cut, put in, repeated, exchanged or damaged."""
    for what, place, length, text, raw, times in changes:
        at = int(place * len(content))
        head, cut, tail = content[:at], content[at : at + length], content[at + length :]
        if what == "cut":
            content = head + tail
        elif what == "put":
            content = head + text.encode() + cut + tail
        elif what == "swap":
            content = head + text.encode() + tail
        elif what == "cell":
            near = PARTING.search(content, at)
            first = max(content.rfind(mark, 0, at) for mark in (b",", b";", b"\n", b"=", b">")) + 1
            content = content[:first] + text.encode() + content[near.start() if near else at :]
        elif what == "bytes":
            content = head + raw + tail
        else:
            times = min(times, MOST_REPEATED // max(len(cut), 1))
            content = head + cut * times + tail
    return content


def edited_workbook(content: bytes, changes: list[Edit], member: int) -> bytes:
    """Return a workbook with one part edited, or left out, or the whole file damaged."""
    if member < 0:
        return edited(content, changes)
    parts = parts_of(content)
    chosen = list(parts)[member % len(parts)]
    if member > 2 * len(parts):
        del parts[chosen]
    else:
        parts[chosen] = edited(parts[chosen], changes)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as target:
        for name, data in parts.items():
            target.writestr(name, data)
    return packed.getvalue()


def read_log(path: Path) -> tuple[Fault, ...]:
    """Read a bench log, or one typed by hand, as the record does."""
    return tuple(LogReader(PLAN).read(open_table(path, first_sheet_rows)).faults)


def look_at_logo(path: Path) -> tuple[Fault, ...]:
    """Look at the picture for the head of quotes as a job's reader does."""
    findings = Findings()
    check_logo(path.name, path.parent, "job › bench", findings)
    return tuple(findings.faults)


def count_words(path: Path) -> None:
    """Count as the command line does from its words, parted by bars."""
    words = path.read_text(encoding="utf-8", errors="surrogateescape").split(" | ")
    weave, wire, inner, metal, length, second, mandrel, temper, rows = (words + [""] * 9)[:9]
    by_mandrel = len(words) % 2 == 0
    section_from_words(
        weave=weave, wire=wire, metal=metal, length=length, temper=temper or None,
        rows=rows or None, second_wire=second or None, weaves=NAMES,
        inner=None if by_mandrel else inner, mandrel=mandrel if by_mandrel else None,
    )  # fmt: skip


def change_prices(path: Path) -> None:
    """Change prices as the command line does, each word by itself."""
    for word in path.read_text(encoding="utf-8", errors="surrogateescape").split(" | "):
        try:
            change_job(JOB, [word])
        except InputError as error:
            if len(str(error)) > MOST_MESSAGE or not str(error).isprintable():
                raise


def read_plan(path: Path) -> None:
    """Read a finished plan as record, progress, what-if and the examiner do."""
    for read in (read_plan_folder, read_counts, examine_folder):
        try:
            read(path.parent)
        except InputError as error:
            faults = [str(fault) for fault in error.faults] or [str(error)]
            if any(len(said) > MOST_MESSAGE or not said.isprintable() for said in faults):
                raise


class _TakenError(Exception):
    """A plan was taken, and all that is left is to write its rest."""


def plan_again(path: Path) -> None:
    """Plan the rest of a begun plan, up to the writing."""
    from unittest import mock

    from chainplan.public import plan as planning
    from chainplan.public.replanning import replan

    record = path.parent / "workshop.sqlite"
    record.write_bytes(AGAIN["record"])
    with (
        mock.patch.object(planning, "make_plan", return_value=AGAIN["plan"]),
        mock.patch.object(planning, "write_plan", side_effect=_TakenError),
        contextlib.suppress(_TakenError),
    ):
        replan(path.parent, record=record, job=AGAIN["job"], now=BEGUN_AT)


NAMES = weave_names()
PLAN = known_plan()
JOB = read_job(SAMPLES / "necklace.toml", weaves=NAMES)
READERS: dict[str, tuple[str, Callable[[Path], object]]] = {
    "csv": ("job.csv", lambda path: check_job(path, weaves=NAMES)),
    "toml": ("job.toml", lambda path: check_job(path, weaves=NAMES)),
    "xlsx": ("job.xlsx", lambda path: check_job(path, weaves=NAMES)),
    "order": ("own.csv", lambda path: read_order(path, "A")),
    "log": ("log.csv", read_log),
    "typed": ("typed.csv", read_log),
    "typed-xlsx": ("typed.xlsx", read_log),
    "weave": ("mine.toml", read_weave_file),
    "grid": ("g.csv", lambda path: read_grid(path, path.name, {})),
    "grid-xlsx": ("g.xlsx", lambda path: read_grid(path, path.name, {})),
    "picture": ("p.png", lambda path: read_picture(path, path.name, ["brass", "copper"], {})),
    "logo": ("logo.png", look_at_logo),
    "cooling": ("cooling.csv", read_readings),
    "words": ("words.txt", count_words),
    "changes": ("changes.txt", change_prices),
    "laid": ("laid.toml", check_and_lay),
    "plan": ("plan.json", read_plan),
    "replan": ("plan.json", plan_again),
}
LONGER = {"changes": 5, "laid": 10, "plan": 10, "replan": 10}
"""Kinds of which a case takes some tenths of a second: one in so many is tried, none is slow."""


@dataclass
class Tally:
    """What came of the cases of one kind."""

    cases: int = 0
    tracebacks: int = 0
    slow: int = 0
    large: int = 0
    long: int = 0
    slowest_s: float = 0.0
    kept: dict[str, int] = field(default_factory=dict)

    @property
    def is_clean(self) -> bool:
        """Whether nothing went wrong."""
        return not (self.tracebacks or self.slow or self.large or self.long)


def try_one(kind: str, content: bytes, folder: Path, tally: Tally, file: str = "") -> None:
    """Read one file and note what is wrong with how that went."""
    name, read = READERS[kind]
    path = folder / (file or name)
    path.write_bytes(content)
    forget_peak()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.process_time()
    told: list[str] = []
    wrong = ""
    try:
        found = read(path)
        if isinstance(found, tuple):
            told = [str(fault) for fault in found]
    except InputError as error:
        told = [str(fault) for fault in error.faults] or [str(error)]
    except Exception:
        tally.tracebacks += 1
        wrong = traceback.format_exc()
    used_s = time.process_time() - start
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    tally.cases += 1
    tally.slowest_s = max(tally.slowest_s, used_s)
    if used_s > BOUNDS.refused_within_s and kind not in LONGER:
        tally.slow += 1
        wrong = wrong or f"{used_s:.1f} s"
    if kind not in LONGER and (after - before) * 1024 > BOUNDS.refused_within_bytes - OWN_BYTES:
        tally.large += 1
        wrong = wrong or f"{(after - before) // 1024} MB more than before"
    if any(len(text) > MOST_MESSAGE or not text.isprintable() for text in told):
        tally.long += 1
        wrong = wrong or "\n".join(told)
    if wrong:
        keep(kind, content, wrong, tally)


def forget_peak() -> None:
    """Set the peak of this process's memory back to what it takes now; Linux alone can.

    Hypothesis keeps all that it has drawn, so that the peak grows from case to case.
    """
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


def keep(kind: str, content: bytes, wrong: str, tally: Tally) -> None:
    """Keep one file of each way of going wrong."""
    mark = wrong.strip().splitlines()[-1][:200]
    tally.kept[mark] = tally.kept.get(mark, 0) + 1
    if tally.kept[mark] == 1:
        number = len(tally.kept)
        (KEPT / f"{kind}-{number}.bin").write_bytes(content)
        (KEPT / f"{kind}-{number}.txt").write_text(wrong, encoding="utf-8", errors="replace")


SEEDS = seeds()
OWN_BYTES = 45_000_000
"""What a process takes that reads one job; the rest of the bound is for the file."""
PLANNED: dict[str, bytes] = {}
AGAIN: dict[str, Any] = {}
"""The plan that is begun, its job, its record, and the folders' files."""
KEPT = Path(tempfile.mkdtemp(prefix="fuzz-input-"))


def case_of(kind: str, changes: list[Edit], seed: int, member: int) -> bytes:
    """Make one damaged file of a kind."""
    good = SEEDS[kind][seed % len(SEEDS[kind])]
    if kind.endswith("xlsx"):
        return edited_workbook(good, changes, member)
    content = edited(good, changes)
    return with_true_sums(content) if kind in ("picture", "logo") and member % 2 else content


def run_kind(kind: str, cases: int, folder: Path) -> Tally:
    """Try so many cases of one kind."""
    tally = Tally()

    @settings(
        max_examples=cases, database=None, deadline=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(changes=edits, seed=st.integers(0, 3), member=st.integers(-2, 40))
    def tried(changes: list[Edit], seed: int, member: int) -> None:
        if kind == "replan":
            _try_again(folder, changes, seed, member, tally)
            return
        if kind != "plan":
            try_one(kind, case_of(kind, changes, seed, member), folder, tally)
            return
        name = sorted(PLANNED)[member % len(PLANNED)] if seed else "plan.json"
        for other, content in PLANNED.items():
            (folder / other).write_bytes(content)
        content = PLANNED[name]
        if name.endswith(".xlsx"):
            content = edited_workbook(content, changes, member)
        elif not seed:
            content = with_odd_value(content, changes[0][1], changes[0][5] + member)
        else:
            content = edited(content, changes)
        try_one(kind, content, folder, tally, name)

    tried()
    return tally


def _try_again(folder: Path, changes: list[Edit], seed: int, member: int, tally: Tally) -> None:
    """Damage one file of a plan that is begun, and plan its rest."""
    files = AGAIN["folders"][seed % 2]
    for other, content in files.items():
        (folder / other).write_bytes(content)
    name = "plan.json" if seed < 2 else sorted(files)[member % len(files)]
    if name == "plan.json" and seed < 2:
        content = with_odd_value(files[name], changes[0][1], changes[0][5] + member)
    else:
        content = edited(files[name], changes)
    try_one("replan", content, folder, tally, name)


def main() -> int:
    """Run the kinds that are asked for and print a table."""
    words = sys.argv[1:]
    cases = int(words.pop(0)) if words and words[0].isdigit() else 1000
    kinds = words or list(READERS)
    warnings.simplefilter("ignore")
    headings = ("kind", "cases", "tracebacks", "slow", "large", "long", "slowest s")
    print("".join(f"{text:>12}" for text in headings))
    is_clean = True
    with tempfile.TemporaryDirectory() as place:
        if "plan" in kinds:
            (Path(place) / "made").mkdir()
            PLANNED.update(small_plan(Path(place) / "made"))
        if "replan" in kinds:
            begun = Path(place) / "begun"
            begun.mkdir()
            AGAIN["plan"], AGAIN["folders"] = begun_plan(begun)
            AGAIN["job"] = begun / "begun.toml"
            AGAIN["record"] = (begun / "output" / "workshop.sqlite").read_bytes()
        for kind in kinds:
            folder = Path(place) / kind
            folder.mkdir()
            for name in ("picture", "grid"):
                file = folder / READERS[name][0].replace("p.", "picture.").replace("g.", "grid.")
                file.write_bytes(SEEDS[name][0])
            t = run_kind(kind, cases // LONGER.get(kind, 1), folder)
            is_clean &= t.is_clean
            row = (kind, t.cases, t.tracebacks, t.slow, t.large, t.long, round(t.slowest_s, 2))
            print("".join(f"{value!s:>12}" for value in row), flush=True)
            for mark, times in t.kept.items():
                print(f"    {times} × {mark}")
    print(f"kept in {KEPT}")
    return 0 if is_clean else 1


if __name__ == "__main__":
    sys.exit(main())
