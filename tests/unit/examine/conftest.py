"""A small finished plan in a folder, with everything in it that a plan may have."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace

import pytest

import chainplan
from chainplan.examine import examine_folder
from chainplan.examine.reading import read_folder
from chainplan.report.bench_sheet.page import bench_sheet_html
from chainplan.report.diagram.weld_order import write_diagrams

JOB = """
start_date = 2027-01-11

[bench.money]
tax_percent = 19.0

[[piece]]
name = "Short chain"
quantity = 2
weave = "byzantine"
wire_mm = 1.0
inner_mm = 3.6
metal = "sterling-silver"
length_mm = 62.0
clasp_length_mm = 8.0
due = 2027-01-15

[[piece]]
name = "Joined"
section = 1
weave = "single-link"
wire_mm = 1.2
inner_mm = 5.0
metal = "copper"
length_mm = 30.0
list_price = 48.0

[[piece]]
name = "Joined"
section = 2
weave = "box-chain"
wire_mm = 1.0
inner_mm = 4.4
metal = "sterling-silver"
length_mm = 30.0

[[piece]]
name = "Patch"
weave = "japanese-4-in-1"
wire_mm = 1.0
inner_mm = 5.0
metal = "copper"
length_mm = 40.0
rows = 3
closing_way = "as many as possible beforehand"

[[piece]]
name = "Hoop"
weave = "single-link"
wire_mm = 2.2
inner_mm = 8.0
metal = "copper"
rings = 9
closed_loop = true

[[piece]]
name = "Pendants"
weave = "loose-joins"
wire_mm = 0.9
inner_mm = 5.0
metal = "copper"
rings = 3

[[part]]
piece = "Short chain"
part = "diamond"
kind = "diamond"
limit_c = 60.0
place_mm = 0.0
from = "end"
covers_mm = 8.0
source = "invented"

[[price]]
item = "sterling-silver"
price = 1.05
per = "g"

[[price]]
item = "wire premium sterling-silver"
price = 0.35
per = "g"

[[price]]
item = "copper"
price = 16.0
per = "kg"

[[price]]
item = "argon"
price = 95.0
per = "cylinder"

[[price]]
item = "electrode tip"
price = 2.4
per = "each"

[[price]]
item = "clasp"
price = 3.2
per = "each"

[[price]]
item = "overhead"
price = 4.5
per = "hour"

[[price]]
item = "welder"
price = 2900
per = "each"

[[stock]]
kind = "wire"
metal = "copper"
size_mm = 1.0
amount = 0.3
pack = 2.5
"""


@pytest.fixture(scope="session", name="good_plan")
def fixture_good_plan(tmp_path_factory):
    """A finished plan, and the file of its job."""
    job = tmp_path_factory.mktemp("good") / "small.toml"
    job.write_text(JOB, encoding="utf-8")
    return chainplan.make_plan(chainplan.read_job(job)), job


@pytest.fixture(scope="session", name="good")
def fixture_good(good_plan):
    """The folder of a finished plan; not to be written to."""
    plan, job = good_plan
    return chainplan.write_plan(plan, job.parent / "plan")


@pytest.fixture(scope="session", name="in_language")
def fixture_in_language():
    """Write what is read at the bench in another language, beside a copy of the other files."""

    def write(plan, good, folder, language):
        sheet = replace(plan.job.bench.sheet, language=language)
        job = replace(plan.job, bench=replace(plan.job.bench, sheet=sheet))
        shutil.copytree(good, folder)
        record = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        stamp = replace(plan.stamp, work_sha256=record["stamp"]["work_sha256"])
        plan = replace(plan, job=job, stamp=stamp)
        write_diagrams(plan, folder)
        (folder / "bench-sheet.html").write_text(bench_sheet_html(plan), encoding="utf-8")
        record["bench"]["sheet"]["language"] = language
        (folder / "plan.json").write_text(json.dumps(record), encoding="utf-8")
        return folder

    return write


@pytest.fixture(scope="session", name="bare")
def fixture_bare(good, tmp_path_factory):
    """The same files, to be changed and put back."""
    folder = tmp_path_factory.mktemp("bare") / "plan"
    shutil.copytree(good, folder)
    return folder


@pytest.fixture(scope="module", name="files")
def fixture_files(good):
    """The files of the good plan, read once."""
    assert examine_folder(good).ok
    return read_folder(good)
