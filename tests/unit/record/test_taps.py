"""The short way for a sheet's own rows gives the events that the reader of any row gives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.model.workshop.bench_log import LOG_COLUMNS
from chainplan.record.reading import taps
from chainplan.record.reading.cells import open_table
from chainplan.record.reading.logs import LogReader

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

    from chainplan.model.workshop.record import KnownPlan
    from chainplan.record.reading.logs import Log

ID = "00000000-0000-4000-8000-0000000000"
PLAIN = {
    "piece": "Chain", "copy": "2", "step": "3", "pass": "1", "ring": "3", "result": "done",
    "note": "", "at": "2027-03-01T10:00:05+01:00", "work_s": "6.5", "waited_s": "0",
    "apart_s": "", "person": "Ann", "undoes": "",
}  # fmt: skip
OTHERS: list[dict[str, str]] = [
    {}, {"result": "again"}, {"result": "good", "step": "", "pass": ""}, {"result": "Done"},
    {"result": "finished"}, {"result": "undo", "undoes": f"{ID}00"}, {"note": "smoke"},
    {"work_s": ""}, {"work_s": "6,5"}, {"work_s": "-1"}, {"work_s": "1e3"}, {"waited_s": "x"},
    {"ring": "03"}, {"ring": "9999"}, {"ring": "1-3", "step": ""}, {"ring": ""}, {"step": "4"},
    {"step": "0"}, {"copy": ""}, {"copy": "99"}, {"piece": "Other"}, {"piece": " Chain "},
    {"at": "2027-03-01T10:00:65+01:00"}, {"at": "2027-03-01T09:00:00+01:00"}, {"at": ""},
    {"at": "2027-03-01T10:00:06.250+01:00"},
    {"at": "2027-13-01T10:00:05+01:00"}, {"at": "2027-03-01T25:00:05+01:00"},
    {"at": "1927-03-01T10:00:05+01:00"}, {"person": "'=Ann"}, {"person": " Ann "}, {"person": ""},
    {"person": "A" * 600}, {"id": "x"}, {"id": ""}, {"plan": "000000000000"}, {"plan": ""},
    {"at": "2027-03-01 10:00:06"},
]  # fmt: skip


def read(path: Path, plan: KnownPlan) -> Log:
    return LogReader(plan).read(open_table(path, lambda *_: []), person="Bob")


def test_both_ways_read_the_same(
    workshop: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every odd row between plain ones: the same events, the same faults, and plain ones taken."""
    plan = workshop.invented_plan(copies=3, rings=10)
    names = list(LOG_COLUMNS)
    lines = [",".join(names)]
    for number, other in enumerate(OTHERS):
        for more in ({}, other):
            row = PLAIN | {"plan": plan.mark, "id": f"{ID}{len(lines):02x}", "copy": "1"} | more
            cells = (f'"{row[name]}"' if "," in row[name] else row[name] for name in names)
            lines.append(",".join(cells))
        assert len(lines) == 2 * number + 3
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    short = read(path, plan)
    taken: list[object] = []
    usual = taps.Taps.event

    def counted(self: taps.Taps, *values: object) -> object:
        found = usual(self, *values)  # type: ignore[arg-type]
        taken.append(found)
        return found

    monkeypatch.setattr(taps.Taps, "event", counted)
    read(path, plan)
    assert sum(item is not None for item in taken) >= len(OTHERS)
    monkeypatch.setattr(taps.Taps, "event", lambda *_: None)
    long = read(path, plan)
    assert short.told == long.told
    assert short.faults == long.faults
    assert short.bad_rows == long.bad_rows
