"""Tries every reader of files on damaged, swollen and nonsensical files; prints what went wrong.

    python tests/bench/fuzz_input.py [cases of each kind] [kinds …]

A case begins with a good file of its kind; Hypothesis draws where it is cut, what is put in and how
often a stretch is repeated. Only an ``InputError`` may come out, within the time and memory that
``chainplan.bounds`` promise, in short plain messages. What does not is kept, with its traceback, in
the folder that is printed. A table counts cases, tracebacks, slow ones, large ones and long ones by
kind: all but the first must be zero, and the exit status says so.
"""

from __future__ import annotations

import io
import resource
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError
from chainplan.job import check_job
from chainplan.job.files.first_sheet import first_sheet_rows
from chainplan.model.workshop.bench_log import LOG_COLUMNS
from chainplan.model.workshop.record import KnownPiece, KnownPlan
from chainplan.order import read_order
from chainplan.public.jobs import weave_names
from chainplan.record.reading.cells import open_table
from chainplan.record.reading.logs import LogReader
from chainplan.weave.library import LIBRARY_FOLDER, read_weave_file

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.errors import Fault

ROOT = Path(__file__).resolve().parents[2]
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
edits = st.lists(
    st.tuples(
        st.sampled_from(["cut", "put", "repeat", "swap", "bytes"]),
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
        elif what == "bytes":
            content = head + raw + tail
        else:
            times = min(times, MOST_REPEATED // max(len(cut), 1))
            content = head + cut * times + tail
    return content


def edited_workbook(changes: list[Edit], member: int) -> bytes:
    """Return a workbook with one part edited, or left out, or the whole file damaged."""
    if member < 0:
        return edited(SEEDS["xlsx"][0], changes)
    packed = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(SEEDS["xlsx"][0])) as source,
        zipfile.ZipFile(packed, "w") as target,
    ):
        names = sorted(source.namelist())
        chosen = names[member % len(names)]
        for name in names:
            data = source.read(name)
            if name == chosen:
                if member > 2 * len(names):
                    continue
                data = edited(data, changes)
            target.writestr(name, data)
    return packed.getvalue()


def small_workbook() -> bytes:
    """Make a workbook that holds one of everything, so that a case takes little time."""
    from openpyxl import Workbook

    from chainplan.job import content_of, read_job

    content = content_of(read_job(ROOT / "samples" / "craft-fair.xlsx"))
    book = Workbook()
    book.remove(book.active)
    for sheet, rows in content.items():
        page = book.create_sheet(sheet)
        names = list(dict.fromkeys(name for row in rows[:6] for name in row))
        page.append([f"{name} mm" if name in LENGTHS else name for name in names])
        for row in rows[:6]:
            values = [row.get(name) for name in names]
            page.append([v if isinstance(v, int | float | str) else v and str(v) for v in values])
    whole = io.BytesIO()
    book.save(whole)
    return whole.getvalue()


LENGTHS = {"wire", "inner", "mandrel", "length", "clasp length", "place", "covers", "size"}
SEEDS: dict[str, list[bytes]] = {
    "csv": [(ROOT / "samples" / "pieces.csv").read_bytes()],
    "toml": [(ROOT / "samples" / "necklace.toml").read_bytes()],
    "order": [
        b"step,ring,start_s,piece\n"
        + b"".join(b"%d,%d,%d.5,A\n" % (n, n, 9 * n) for n in range(1, 40))
    ],
    "log": [
        ",".join(name for name, _ in LOG_COLUMNS).encode() + b"\n"
        + b"abcdef012345,Chain,1,1,1,7,done,'=x,2027-03-01T09:00:00+01:00,9.5,0\n" * 9
    ],
    "weave": [path.read_bytes() for path in sorted(LIBRARY_FOLDER.glob("*.toml"))[:4]],
}  # fmt: skip


def known_plan() -> KnownPlan:
    """Make the invented plan that the seed's bench log belongs to."""
    ones = np.ones(40, dtype=np.int32)
    piece = KnownPiece(
        name="Chain", copies=2, rings=40, sections=(), ring=np.arange(1, 41, dtype=np.int32),
        pass_number=ones, section=ones, power_j=8.0 * ones, hits=ones, tip=("sharp",) * 40,
        pace_s=5.0 * ones, wait_s=0.0 * ones,
    )  # fmt: skip
    return KnownPlan(
        key="k", mark="abcdef012345", stamp="invented", job="invented", pieces=(piece,), turns=(),
        bench={}, root="k",
    )  # fmt: skip


def read_log(path: Path) -> tuple[Fault, ...]:
    """Read a bench log as the record does."""
    return tuple(LogReader(PLAN).read(open_table(path, first_sheet_rows)).faults)


NAMES = weave_names()
PLAN = known_plan()
READERS: dict[str, tuple[str, Callable[[Path], object]]] = {
    "csv": ("job.csv", lambda path: check_job(path, weaves=NAMES)),
    "toml": ("job.toml", lambda path: check_job(path, weaves=NAMES)),
    "xlsx": ("job.xlsx", lambda path: check_job(path, weaves=NAMES)),
    "order": ("own.csv", lambda path: read_order(path, "A")),
    "log": ("log.csv", read_log),
    "weave": ("mine.toml", read_weave_file),
}


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


def try_one(kind: str, content: bytes, folder: Path, tally: Tally) -> None:
    """Read one file and note what is wrong with how that went."""
    name, read = READERS[kind]
    path = folder / name
    path.write_bytes(content)
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
    if used_s > BOUNDS.refused_within_s:
        tally.slow += 1
        wrong = wrong or f"{used_s:.1f} s"
    if after > before and after * 1024 > BOUNDS.refused_within_bytes:
        tally.large += 1
        wrong = wrong or f"{after // 1024} MB"
    if any(len(text) > MOST_MESSAGE or not text.isprintable() for text in told):
        tally.long += 1
        wrong = wrong or "\n".join(told)
    if wrong:
        keep(kind, content, wrong, tally)


def keep(kind: str, content: bytes, wrong: str, tally: Tally) -> None:
    """Keep one file of each way of going wrong."""
    mark = wrong.strip().splitlines()[-1][:200]
    tally.kept[mark] = tally.kept.get(mark, 0) + 1
    if tally.kept[mark] == 1:
        number = len(tally.kept)
        (KEPT / f"{kind}-{number}.bin").write_bytes(content)
        (KEPT / f"{kind}-{number}.txt").write_text(wrong, encoding="utf-8", errors="replace")


KEPT = Path(tempfile.mkdtemp(prefix="fuzz-input-"))


def run_kind(kind: str, cases: int, folder: Path) -> Tally:
    """Try so many cases of one kind."""
    tally = Tally()

    @settings(
        max_examples=cases, database=None, deadline=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(changes=edits, seed=st.integers(0, 3), member=st.integers(-2, 40))
    def tried(changes: list[Edit], seed: int, member: int) -> None:
        seeds = SEEDS[kind]
        if kind == "xlsx":
            content = edited_workbook(changes, member)
        else:
            content = edited(seeds[seed % len(seeds)], changes)
        try_one(kind, content, folder, tally)

    tried()
    return tally


def main() -> int:
    """Run the kinds that are asked for and print a table."""
    words = sys.argv[1:]
    cases = int(words.pop(0)) if words and words[0].isdigit() else 1000
    kinds = words or list(READERS)
    warnings.simplefilter("ignore")
    SEEDS["xlsx"] = [small_workbook()]
    headings = ("kind", "cases", "tracebacks", "slow", "large", "long", "slowest s")
    print("".join(f"{text:>12}" for text in headings))
    is_clean = True
    with tempfile.TemporaryDirectory() as place:
        for kind in kinds:
            t = run_kind(kind, cases, Path(place))
            is_clean &= t.is_clean
            row = (kind, t.cases, t.tracebacks, t.slow, t.large, t.long, round(t.slowest_s, 2))
            print("".join(f"{value!s:>12}" for value in row), flush=True)
            for mark, times in t.kept.items():
                print(f"    {times} × {mark}")
    print(f"kept in {KEPT}")
    return 0 if is_clean else 1


if __name__ == "__main__":
    sys.exit(main())
