"""A begun plan whose files were damaged: replan says so, and leaves the folder as it is."""

from __future__ import annotations

import json

import pytest

from chainplan.errors import InputError
from chainplan.public.recording import progress
from chainplan.public.replanning import replan

ODD = (
    (("stamp", "seed"), "x"),
    (("stamp", "input_sha256"), None),
    (("job",), {}),
    (("pieces", 0, "quantity"), -1),
    (("pieces", 0, "rings"), "many"),
    (("pieces", 0, "sections", 0, "wire_mm"), []),
    (("order", "pieces"), None),
    (("order", "pieces", 0, "passes", 0, "setting"), None),
    (("order", "pieces", 0, "passes", 0, "setting", "tip"), "round"),
    (("order", "pieces", 0, "passes", 0, "face"), "side"),
    (("order", "pieces", 0, "passes", 0, "number"), 99),
    (("order", "pieces", 0, "earthing", "way"), "magnet"),
    (("order", "batch", "copy", 0), 0),
    (("order", "batch", "steps"), [1.5]),
    (("schedule", "tasks", 0, "start"), "2027-13-45"),
    (("schedule", "tasks", 0, "piece"), [1]),
    (("schedule", "tasks", 0, "station"), "paint"),
    (("schedule", "tasks", 0, "work_s"), -1),
    (("estimates", "quotes", 0, "cost"), "much"),
    (("estimates", "times", 0, "usual_min"), True),
    (("estimates", "due", 0), 7),
    (("bench", "calendar", "hours_per_day"), 0),
    (("bench", "calendar", "working_days"), "Xyz"),
    (("bench", "pace"), [None]),
    (("start_date",), 3),
    (("replan",), {"basis": 1}),
    (("replan",), {"basis": {}, "first": {}, "pace_s": {"Chain": ["x"]}}),
)
"""Where another thing is put, and what."""


@pytest.fixture(name="begun")
def fixture_begun(workshop):
    """A plan of which four joins are welded."""
    workshop.weld(workshop.order()[:4])
    return workshop


@pytest.mark.parametrize(("way", "value"), ODD, ids=[".".join(map(str, way)) for way, _ in ODD])
def test_replan_tells_a_damaged_record_and_changes_nothing(begun, way, value):
    """One message that names the folder; no file is touched."""
    path = begun.folder / "plan.json"
    text = path.read_text(encoding="utf-8")
    record = json.loads(text)
    holder = record
    for part in way[:-1]:
        holder = holder[part]
    holder[way[-1]] = value
    try:
        path.write_text(json.dumps(record), encoding="utf-8")
        before = {file: file.read_bytes() for file in begun.folder.rglob("*") if file.is_file()}
        with pytest.raises(InputError) as told:
            begun.replan(job=begun.job)
        after = {file: file.read_bytes() for file in begun.folder.rglob("*") if file.is_file()}
    finally:
        path.write_text(text, encoding="utf-8")
    assert before == after
    assert str(begun.folder) in str(told.value)
    assert str(told.value).isprintable()


@pytest.mark.parametrize("cell", [("ring", "99"), ("ring", "1"), ("wait_before_s", "-3"),
                                  ("start_s", "nan"), ("pass", "77"), ("hits", "")])  # fmt: skip
def test_a_weld_order_that_names_what_is_not_there_is_told(begun, cell):
    """By progress and replan alike."""
    path = begun.folder / "weld-order.csv"
    text = path.read_text(encoding="utf-8")
    lines = text.split("\n")
    column = lines[0].split(",").index(cell[0])
    parts = lines[2].split(",")
    assert parts[column] != cell[1]
    parts[column] = cell[1]
    try:
        path.write_text("\n".join([*lines[:2], ",".join(parts), *lines[3:]]), encoding="utf-8")
        for ask in (progress, replan):
            with pytest.raises(InputError, match="its plan cannot be read"):
                ask(begun.folder)
    finally:
        path.write_text(text, encoding="utf-8")
    assert progress(begun.folder)[0].pieces
