"""Small invented jobs that are planned, welded in part and planned again."""

from __future__ import annotations

import csv
import datetime
import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

import chainplan
from chainplan.examine import Examination
from chainplan.model.workshop.bench_log import LOG_COLUMNS

if TYPE_CHECKING:
    from pathlib import Path

START = datetime.datetime(2027, 1, 11, 9, 0, tzinfo=datetime.UTC)
NOW = datetime.datetime(2027, 1, 12, 9, 0)
JOB = """start_date = 2027-01-11

[[piece]]
name = "Chain"
quantity = {copies}
weave = "single-link"
wire_mm = 1.2
inner_mm = 5.0
metal = "copper"
rings = {rings}

[bench.heat]
highest_interpass_c = {limit}
"""


class Workshop:
    """A job's file, its plan's folder, and logs of what was welded."""

    def __init__(self, place: Path, *, rings: int = 24, copies: int = 1) -> None:
        self.place, self.rings, self.copies = place, rings, copies
        self.job = place / "invented.toml"
        self.folder = place / "output" / "invented"
        self.taps = 0
        self.change(60)
        self.plan = chainplan.make_plan(chainplan.read_job(self.job))
        chainplan.write_plan(self.plan, self.folder)

    def change(self, limit: float, **more: int) -> None:
        """Write the job with another limit of temperature, or other rings or copies."""
        sizes = {"rings": self.rings, "copies": self.copies, **more}
        self.job.write_text(JOB.format(limit=limit, **sizes), encoding="utf-8")

    def rows(self) -> list[str]:
        """The lines of the weld order, without the heading."""
        text = (self.folder / "weld-order.csv").read_text(encoding="utf-8")
        return text.splitlines()[1:]

    def order(self) -> list[int]:
        """Rings of the weld order, from 1."""
        with (self.folder / "weld-order.csv").open(encoding="utf-8", newline="") as file:
            return [int(row["ring"]) for row in csv.DictReader(file)]

    def waits(self) -> list[float]:
        """Waits before the joins of the weld order. [s]"""
        with (self.folder / "weld-order.csv").open(encoding="utf-8", newline="") as file:
            return [float(row["wait_before_s"]) for row in csv.DictReader(file)]

    def turns(self) -> list[tuple[int, int]]:
        """Copy and ring of every join that the folder still asks for."""
        record = json.loads((self.folder / "plan.json").read_text(encoding="utf-8"))
        batch, rings = record["order"]["batch"], self.order()
        return [
            (copy, rings[k])
            for copy, first, steps in zip(
                batch["copy"], batch["first_step"], batch["steps"], strict=True
            )
            for k in range(first, first + steps)
        ]

    def log(self, rings: list[int], result: str = "done", copy: int = 1) -> Path:
        """Write a log of some rings, each ten seconds after the last."""
        record = json.loads((self.folder / "plan.json").read_text(encoding="utf-8"))
        mark = record["stamp"]["input_sha256"][:12]
        path = self.place / f"log-{self.taps}.csv"
        with path.open("w", newline="", encoding="utf-8-sig") as file:
            writer = csv.writer(file)
            writer.writerow(list(LOG_COLUMNS))
            for ring in rings:
                self.taps += 1
                at = (START + datetime.timedelta(seconds=10 * self.taps)).isoformat()
                writer.writerow([mark, "Chain", copy, "", "", ring, result, "", at, 6.0, 0])
        return path

    def weld(self, rings: list[int], result: str = "done", copy: int = 1) -> None:
        """Weld some rings and hand the log over."""
        done = chainplan.record_logs([self.log(rings, result, copy)], self.folder)
        assert not done.faults, done.faults

    def replan(self, **more: Any) -> Any:
        """Plan again on the morning after."""
        return chainplan.replan(self.folder, now=NOW, **more)


_RINGS = "rings = {rings}\n"
TWO_METALS = (
    JOB.replace(
        _RINGS,
        _RINGS
        + """design = "by turns"

[[design]]
design = "by turns"
rule = "list along"
which = "{which}"
metals = "C copper, S sterling-silver"
""",
    )
    + """
[[price]]
item = "copper"
price = 10.0
per = "kg"

[[price]]
item = "sterling-silver"
price = 900.0
per = "kg"
"""
)


class TwoMetals(Workshop):
    """The same with every third ring of silver."""

    def change(self, limit: float, which: str = "CCS", **more: int) -> None:
        sizes = {"rings": self.rings, "copies": self.copies, **more}
        self.job.write_text(TWO_METALS.format(limit=limit, which=which, **sizes), encoding="utf-8")

    def settings(self) -> dict[int, tuple[str, int, str]]:
        """What the folder's order asks of each ring: power, hits and metal, by its number."""
        with (self.folder / "rings.csv").open(encoding="utf-8", newline="") as file:
            metal = {int(row["ring"]): row["metal"] for row in csv.DictReader(file)}
        with (self.folder / "weld-order.csv").open(encoding="utf-8", newline="") as file:
            rows = [(int(row["ring"]), row) for row in csv.DictReader(file)]
        return {ring: (row["power_j"], int(row["hits"]), metal[ring]) for ring, row in rows}


@pytest.fixture
def two_metals(tmp_path: Path) -> TwoMetals:
    """A chain of copper with every third ring of silver."""
    return TwoMetals(tmp_path)


@pytest.fixture
def two_in_two_metals(tmp_path: Path) -> TwoMetals:
    """Two of them."""
    return TwoMetals(tmp_path, copies=2)


MADE: dict[str, Any] = {}
"""Whole plans by the job that they are of: the same job gives the same plan every time."""


@pytest.fixture(autouse=True)
def made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plan the same job once for all tests, wherever its file stands."""
    from chainplan.public import plan as planning

    real = chainplan.make_plan  # asked for first: the package finds its names when used

    def make_plan(job: Any, **more: Any) -> Any:
        key = repr((job.pieces, job.bench, job.people, job.machines, job.start_date))
        if key not in MADE:
            MADE[key] = real(job, **more)
        plan = MADE[key]
        stamp = replace(plan.stamp, input_sha256=job.input_sha256)
        return replace(plan, job=job, stamp=stamp)

    for module in (chainplan, planning):
        monkeypatch.setattr(module, "make_plan", make_plan)


@pytest.fixture
def only_orders(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the pictures and the workbook, which take most of a plan's time."""
    for name in (
        "workbook.write_workbook", "charts.write_charts", "diagram.weld_order.write_diagrams",
        "diagram.join_pictures.write_join_pictures", "workbook.by_hand.write_by_hand",
        "bench_sheet.write_bench_sheet",
    ):  # fmt: skip
        monkeypatch.setattr(f"chainplan.report.{name}", lambda *_, **__: None)
    # Without these files there is nothing whole to examine: whole_workshop is examined.
    nothing = Examination(folder="", checks=(), findings=(), notes=())
    monkeypatch.setattr("chainplan.examine.examine_folder", lambda *_, **__: nothing)


@pytest.fixture
def workshop(tmp_path: Path, only_orders: None) -> Workshop:
    """One copper chain of 24 rings, planned."""
    return Workshop(tmp_path)


@pytest.fixture
def two_copies(tmp_path: Path, only_orders: None) -> Workshop:
    """Two copies of a chain of ten rings."""
    return Workshop(tmp_path, rings=10, copies=2)


@pytest.fixture
def whole_workshop(tmp_path: Path) -> Workshop:
    """One chain of twelve rings with all its papers."""
    return Workshop(tmp_path, rings=12)


@pytest.fixture
def small_workshop(only_orders: None) -> type[Workshop]:
    """The class, for who needs several."""
    return Workshop
