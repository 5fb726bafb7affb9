"""Working days and days off, read in one place for the job's reader and the calendar alike."""

import datetime

import pytest

from chainplan.errors import InputError
from chainplan.model.bench.groups import CalendarSettings
from chainplan.model.workweek import read_days_off, read_working_days, write_working_days
from chainplan.schedule.workdays import WorkDays


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("Mon-Fri", "Mon Tue Wed Thu Fri"),
        ("Mon–Sat", "Mon Tue Wed Thu Fri Sat"),
        ("mon - FRI", "Mon Tue Wed Thu Fri"),
        ("Monday to Thursday", "Mon Tue Wed Thu"),
        ("Mon—Tue, thu; Saturdays", "Mon Tue Thu Sat"),
        ("Tues, Thurs & Sun.", "Tue Thu Sun"),
        ("Mon,Tue and Wed", "Mon Tue Wed"),
        ("Sat-Mon", "Mon Sat Sun"),
        ("fri fri", "Fri"),
    ],
)
def test_working_days_are_read_as_single_days_and_ranges(text, days):
    """A range read as its first day alone would make every date of the plan wrong."""
    assert write_working_days(read_working_days(text)) == days


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("Mon-", "'Mon-'"),
        ("-Fri", "'-Fri'"),
        ("Mon-Wed-Fri", "'Mon-Wed-Fri'"),
        ("Mon-Mon", "'Mon-Mon'"),
        ("Mon Fryday", "'Fryday'"),
        ("Monster", "'Monster'"),
        ("1-5", "'1-5'"),
        ("M-F", "'M-F'"),
        ("weekdays", "'weekdays'"),
        ("Mon/Fri", "'Mon/Fri'"),
        ("Montag", "'Montag'"),
    ],
)
def test_working_days_are_refused_when_any_word_is_none(text, named):
    """What is not understood is named with an example, never taken in part."""
    with pytest.raises(InputError) as caught:
        read_working_days(text)
    assert named in str(caught.value)
    assert "Mon-Fri" in str(caught.value)


def test_days_off_are_read_in_every_spelling_that_means_one_day():
    """The same spellings as in the columns for dates."""
    read = read_days_off("2027-01-01, 1 March 2027; 2027-05-05 2027-05-06\n13/04/2027")
    assert sorted(day.isoformat() for day in read) == [
        "2027-01-01", "2027-03-01", "2027-04-13", "2027-05-05", "2027-05-06",
    ]  # fmt: skip


def test_every_faulty_day_off_is_named_at_once():
    """People mend the cell once; what is no date as a whole is named as a whole."""
    with pytest.raises(InputError) as caught:
        read_days_off("2027-01-01 2027-13-01, Easter, next Friday, 03/04/2027")
    message = str(caught.value)
    assert "'2027-13-01', 'Easter', 'next Friday', '03/04/2027'" in message
    assert "'2027-01-01'" not in message


def test_calendar_and_reader_agree_on_a_range_of_days():
    """Settings made in code go to the calendar without the reader in between."""
    settings = CalendarSettings(working_days="Mon-Wed", days_off="1 March 2027")
    days = WorkDays.of(datetime.date(2027, 3, 1), settings)
    assert [days.working_day(k).isoformat() for k in range(3)] == [
        "2027-03-02", "2027-03-03", "2027-03-08",
    ]  # fmt: skip
