"""A small plan's folder with invented numbers, and logs as a bench sheet writes them."""

from __future__ import annotations

import csv
import datetime
import hashlib
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from chainplan.model.workshop.bench_log import LOG_COLUMNS
from chainplan.report.text.record import plain

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

ZONE = datetime.timezone(datetime.timedelta(hours=1))
START = datetime.datetime(2027, 1, 11, 9, 0, tzinfo=ZONE)
"""A Monday morning."""

HANDLE_S = 5.0
STATION_MIN = {"weave": 60.0, "clean": 4.0, "inspect": 2.0, "finish": 6.0}


def write_folder(
    folder: Path,
    pieces: Sequence[tuple[str, int, int]] = (("Chain", 1, 20),),
    *,
    job: str = "invented",
    seed: int = 0,
    bench: dict[str, Any] | None = None,
) -> Path:
    """Write plan.json and weld-order.csv of a job: name, copies and rings of each piece."""
    from chainplan.model.bench import Bench

    folder.mkdir(parents=True, exist_ok=True)
    settings = plain(Bench())
    for name, value in (bench or {}).items():
        group, _, setting = name.partition(".")
        settings[group][setting] = value
    digest = hashlib.sha256(repr((job, pieces, bench)).encode()).hexdigest()
    setting = {"power_j": 8.0, "hits": 1, "tip": "sharp"}
    turns = [(name, copy, 0, rings) for name, copies, rings in pieces for copy in
             range(1, copies + 1)]  # fmt: skip
    record = {
        "stamp": {"program": "chainplan", "version": "0", "input_sha256": digest, "seed": seed},
        "job": job,
        "start_date": "2027-01-11",
        "bench": settings,
        "pieces": [
            {
                "name": name, "quantity": copies, "rings": rings,
                "sections": [
                    {"weave": "single-link", "metal": "copper", "wire_mm": 1.0, "inner_mm": 4.0,
                     "mandrel_mm": 4.0, "rings": rings, "links": rings - 1}
                ],
            }
            for name, copies, rings in pieces
        ],
        "order": {
            "pieces": [
                {"piece": name, "bench_time_s": HANDLE_S * rings,
                 "passes": [{"number": 1, "setting": setting}]}
                for name, _, rings in pieces
            ],
            "batch": {
                "piece": [turn[0] for turn in turns], "copy": [turn[1] for turn in turns],
                "first_step": [turn[2] for turn in turns], "steps": [turn[3] for turn in turns],
            },
        },
        "estimates": {
            "currency": "EUR",
            "times": [
                {"piece": name, "station": station, "usual_min": minutes * copies}
                for name, copies, _ in pieces for station, minutes in STATION_MIN.items()
            ],
        },
    }  # fmt: skip
    (folder / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    with (folder / "weld-order.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        heads = "step,pass,piece,ring,section,power_j,hits,start_s,wait_before_s"
        writer.writerow(heads.split(","))
        for name, _, rings in pieces:
            for step in range(1, rings + 1):
                row = (step, 1, name, rings + 1 - step, 1, 8.0, 1, HANDLE_S * step, 0.0)
                writer.writerow(row)
    return folder


def mark_of(folder: Path) -> str:
    """The plan's mark as bench logs have it."""
    record = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return str(record["stamp"]["input_sha256"][:12])


Tap = tuple[str, int, int, str, float]
"""Piece, copy, ring, result and the seconds from the start at which it was tapped."""


def write_log(
    path: Path, folder: Path, taps: Sequence[Tap], *, work_s: float = 6.0, mark: str = ""
) -> Path:
    """Write a log as the bench sheet does."""
    rings = {
        name["name"]: name["rings"]
        for name in json.loads((folder / "plan.json").read_text(encoding="utf-8"))["pieces"]
    }
    with path.open("w", newline="", encoding="utf-8-sig") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow(list(LOG_COLUMNS))
        for piece, copy, ring, result, after_s in taps:
            at = (START + datetime.timedelta(seconds=after_s)).isoformat(timespec="seconds")
            step = max(rings.get(piece, ring) + 1 - ring, 1)
            writer.writerow(
                [mark or mark_of(folder), piece, copy, step, 1, ring, result, "", at, work_s, 0]
            )
    return path


@pytest.fixture(scope="session")
def make_folder() -> Callable[..., Path]:
    """Write the folder of a plan: :func:`write_folder`."""
    return write_folder


@pytest.fixture(scope="session")
def make_log() -> Callable[..., Path]:
    """Write a log: :func:`write_log`."""
    return write_log


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The folder of a plan with one chain of twenty joins."""
    return write_folder(tmp_path / "output" / "invented")


@pytest.fixture
def log_of(tmp_path: Path, folder: Path) -> Callable[..., Path]:
    """Writes a log of the folder's plan: ``log_of(name, taps)``."""

    def write(name: str, taps: Sequence[Tap], **more: Any) -> Path:
        return write_log(tmp_path / name, folder, taps, **more)

    return write


@pytest.fixture(scope="session")
def workshop() -> Any:
    """The simulated workshop: a module with ``invented_plan``, ``simulate`` and ``Truth``."""
    import importlib.util
    import sys

    place = Path(__file__).parents[2] / "simulated_workshop.py"
    spec = importlib.util.spec_from_file_location("simulated_workshop", place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
