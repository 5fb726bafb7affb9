"""The sheet of machines: which station needs them, how many there are, when they stand."""

from __future__ import annotations

import pytest
from one_chain import job_of

from chainplan.errors import InputError
from chainplan.job import read_job, write_job
from chainplan.model.workshop.machines import Machine, MachineStation, machines_there

ROWS = """
[[machine]]
machine = "welder"
station = "weld"
number = 2
days_off = "9 March 2027"
[[machine]]
machine = "saw"
station = "cut"
"""
READ = (
    Machine(label="welder", station=MachineStation.WELD, number=2, days_off="2027-03-09"),
    Machine(label="saw", station=MachineStation.CUT),
)


def test_machines_are_read_as_they_are_written(tmp_path, four_weaves):
    assert job_of(tmp_path, four_weaves, ROWS).machines == READ


@pytest.mark.parametrize("name", ["again.xlsx", "again.toml"])
def test_machines_are_written_and_read_again(tmp_path, four_weaves, name):
    job = job_of(tmp_path, four_weaves, ROWS)
    write_job(job, tmp_path / name)
    assert read_job(tmp_path / name, weaves=four_weaves).machines == READ


def test_every_fault_of_the_sheet_is_told_at_once(tmp_path, four_weaves):
    rows = """
[[machine]]
machine = "welder"
station = "weave"
[[machine]]
machine = "Polisher"
station = "finish"
number = 2
days_off = "some Friday"
[[machine]]
machine = "polisher 2"
station = "finish"
[[machine]]
machine = "saw"
station = "cut"
number = 0
"""
    with pytest.raises(InputError) as caught:
        job_of(tmp_path, four_weaves, rows)
    text = str(caught.value)
    for words in (
        "'weave'", "coil, cut, tumble", "some Friday", "second machine called 'polisher",
        "number is 0",
    ):  # fmt: skip
        assert words in text


def test_a_workshop_that_lists_none_has_one_welder_and_one_tumbler():
    labels = [label for machine in machines_there(()) for label in machine.labels]
    assert labels == ["welder", "tumbler"]
    labels = [label for machine in machines_there(READ) for label in machine.labels]
    assert labels == ["welder 1", "welder 2", "saw", "tumbler"]
