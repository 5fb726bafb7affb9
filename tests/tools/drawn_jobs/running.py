"""Plans a drawn job through the command line and goes on with it as a shop would."""

from __future__ import annotations

import contextlib
import csv
import datetime
import io
import re
import shutil
import time
import tomllib
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chainplan.cli import main
from chainplan.job import write_job
from drawn_jobs.designs import PICTURE
from drawn_jobs.rings import OWN_WEAVE, SAMPLES

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

PLANNED, REFUSED, FAULT = "planned", "refused", "fault"
MAY_REFUSE = ("compare", "price-list", "what-if")
"""Questions that do not go with every piece: a closed loop has no row of lengths."""
TRACE = re.compile(r"^Traceback .*?(?=^chainplan: )", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True, kw_only=True)
class Run:
    """What became of a job: planned, refused with a message, or a fault with all that was said."""

    outcome: str
    step: str = "plan"
    said: str = ""
    seconds: float = 0.0


def write_files(content: dict[str, list[dict[str, Any]]], folder: Path) -> Path:
    """Write a job beside the files that it may name."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in (OWN_WEAVE, PICTURE):
        shutil.copy(SAMPLES / name, folder / name)
    return write_job(content, folder / "job.toml")


def command(*words: object) -> tuple[int, str, str]:
    """Run one command with every warning an error; status, what was said, and the trace of it."""
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("error")
        code = main([*map(str, words), "--debug"])
    told = err.getvalue()
    return code, TRACE.sub("", told), told


def run_job(job: Path, *, follow: Sequence[str] = ()) -> Run:
    """Plan a job into the folder beside it and do what ``follow`` names with the plan.

    A job may be refused, no more: whatever ends otherwise is a fault. A plan that was written is
    to be taken by each command after it.
    """
    begun = time.process_time()

    def ended(outcome: str, step: str, said: str) -> Run:
        return Run(outcome=outcome, step=step, said=said, seconds=time.process_time() - begun)

    out = job.parent / "plan"
    code, said, told = command("plan", job, "--out", out, "--workers", 1)
    if code == 2 and said.strip():
        return ended(REFUSED, "plan", said)
    if code:
        return ended(FAULT, "plan", told)
    refused: list[str] = []
    for name in follow:
        for words in FOLLOW_UPS[name](job, out):
            code, said, told = command(*words)
            if code == 1 or (code and words[0] not in MAY_REFUSE):
                return ended(FAULT, f"{name}: {words[0]}", told)
            if code:
                refused.append(f"{words[0]}: {said}")
    return ended(PLANNED, "plan", "".join(refused))


Words = tuple[object, ...]


def _examine(_: Path, out: Path) -> list[Words]:
    return [("examine", out)]


def _dearer(job: Path, out: Path) -> list[Words]:
    """Plan the same pieces at other prices, from the store."""
    text = job.read_text(encoding="utf-8")
    changed = text.replace("price = ", "price = 1")
    job.write_text(changed, encoding="utf-8")
    return [("plan", job, "--out", out, "--workers", 1)]


def _begun(job: Path, out: Path) -> list[Words]:
    """Weld some joins, one of them twice, hand the log over and plan the rest."""
    with (out / "weld-order.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    piece = rows[0]["piece"]
    rings = [row["ring"] for row in rows if row["piece"] == piece]
    some = rings[: max(1, len(rings) // 3)]
    at = datetime.datetime(2027, 1, 11, 9, 0)
    log = job.parent / "bench.csv"
    with log.open("w", encoding="utf-8", newline="") as file:
        lines = csv.writer(file)
        lines.writerow(["result", "at", "person", "piece", "copy", "ring", "work_s"])
        for number, ring in enumerate(some):
            at += datetime.timedelta(seconds=9)
            first = "again" if number == 1 else "done"
            lines.writerow([first, f"{at:%Y-%m-%d %H:%M:%S}", "Ann", piece, 1, ring, 7.5])
    record = ("--record", job.parent / "workshop.sqlite")
    return [
        ("record", log, "--plan", out, *record),
        ("progress", out, *record),
        ("replan", out, *record),
        ("examine", out),
        ("learn", *record),
        ("review", out, *record),
    ]


def _asked(job: Path, _: Path) -> list[Words]:
    return [("quote", job, "--workers", 1), ("check", job)]


def _compared(job: Path, _: Path) -> list[Words]:
    """Ask about the first piece in other sizes, metals and lengths."""
    first = tomllib.loads(job.read_text(encoding="utf-8"))["piece"][0]
    name = first["name"]
    inner = f"{first['inner_mm']}mm,{first['inner_mm'] * 1.1:.3f}mm" if "inner_mm" in first else ""
    sizes = ("--inner", inner) if inner else ("--metal", "copper,sterling-silver")
    return [
        ("compare", job, "--piece", name, *sizes, "--workers", 1, "--target", "under 30 g"),
        ("price-list", job, "--piece", name, "--lengths", "4cm,60mm", "--workers", 1),
    ]


def _what_if(job: Path, out: Path) -> list[Words]:
    return [("what-if", job, "wage=35", "yield=0.95", "--plan", out)]


FOLLOW_UPS: dict[str, Callable[[Path, Path], list[Words]]] = {
    "examine": _examine,
    "dearer": _dearer,
    "begun": _begun,
    "asked": _asked,
    "compared": _compared,
    "what-if": _what_if,
}
"""What a shop does with a plan, by name: the commands, each of which must end well."""
