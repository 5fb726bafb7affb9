"""Plans whose files hold another kind of thing than they should: told, never a traceback."""

from __future__ import annotations

import json

import pytest

from chainplan.errors import InputError
from chainplan.examine import examine_folder
from chainplan.record.reading.plan_folder import read_counts, read_plan_folder

ODD = (
    (("estimates", "buy", 0, "item"), [1]),
    (("estimates", "sources", 0, "key"), None),
    (("order", "pieces", 0, "passes", 0, "text"), []),
    (("order", "pieces", 0, "gains"), 7),
    (("order", "pieces", 0, "chance", "by_limit"), True),
    (("pieces", 0, "heat", "corners"), []),
    (("schedule", "tasks", 0, "visit"), "x"),
    (("bench", "welder"), [None]),
    (("stamp",), {}),
)
"""Where another thing is put, and what."""


@pytest.mark.parametrize(("way", "value"), ODD)
def test_a_record_with_an_odd_value_is_told(bare, way, value):
    """By the examiner always; by those who read a plan where they look at it."""
    path = bare / "plan.json"
    text = path.read_text(encoding="utf-8")
    record = json.loads(text)
    holder = record
    for part in way[:-1]:
        holder = holder[part]
    holder[way[-1]] = value
    path.write_text(json.dumps(record), encoding="utf-8")
    try:
        told = [said_by(read, bare) for read in (examined, read_plan_folder, read_counts)]
    finally:
        path.write_text(text, encoding="utf-8")
    assert told[0]
    assert all(said.isprintable() and "Traceback" not in said for said in told)


def examined(folder):
    """Examine a plan; a finding is as good as a refusal."""
    findings = examine_folder(folder).findings
    if findings:
        raise InputError(str(findings[0]))


def said_by(read, folder):
    """Say what a reader refuses a folder with; nothing if it takes it."""
    try:
        read(folder)
    except InputError as error:
        return str(error)
    return ""


def test_an_empty_table_is_told(bare):
    """A file of no byte has no first line either."""
    path = bare / "links.csv"
    content = path.read_bytes()
    try:
        path.write_bytes(b"")
        with pytest.raises(InputError, match=r"links\.csv has no column"):
            examine_folder(bare)
    finally:
        path.write_bytes(content)


def test_paper_whose_pages_cannot_be_read_is_a_finding(bare):
    """The head of the file may be whole and a page not."""
    path = bare / "weld-order.pdf"
    content = path.read_bytes()
    try:
        for damage in (content[: len(content) // 2], content.replace(b"/Contents", b"/Kontents"),
                       content.replace(b"/Type /Page", b"/Type /Pine")):  # fmt: skip
            path.write_bytes(damage)
            assert not examine_folder(bare).ok
    finally:
        path.write_bytes(content)
