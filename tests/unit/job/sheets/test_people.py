"""The sheet of people: who works, when, at which stations."""

from __future__ import annotations

import pytest
from one_chain import job_of

from chainplan.errors import InputError
from chainplan.model.workshop.schedule import Person


def test_people_are_read_as_they_are_written(tmp_path, four_weaves):
    rows = """
[[person]]
person = "Ann"
hours = 4
begins = 8.5
working_days = "Mon to Thu"
days_off = "9 March 2027"
stations = "Weave, finish"
pace = 1.2
[[person]]
person = "Ben"
"""
    assert job_of(tmp_path, four_weaves, rows).people == (
        Person(
            label="Ann", hours_per_day=4.0, day_starts_h=8.5, working_days="Mon Tue Wed Thu",
            days_off="2027-03-09", stations="weave, finish", pace=1.2,
        ),
        Person(label="Ben"),
    )  # fmt: skip


def test_every_fault_of_the_sheet_is_told_at_once(tmp_path, four_weaves):
    rows = """
[[person]]
person = "Ann"
stations = "weave, knit"
working_days = "Mon-Frei"
days_off = "next Friday"
[[person]]
person = "ann"
hours = 30
"""
    with pytest.raises(InputError) as caught:
        job_of(tmp_path, four_weaves, rows)
    text = str(caught.value)
    for words in ("'knit', which is no station", "Mon-Frei", "next Friday", "second person", "30"):
        assert words in text


def test_without_the_sheet_nobody_is_listed(tmp_path, four_weaves):
    assert job_of(tmp_path, four_weaves, "").people == ()
