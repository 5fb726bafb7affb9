"""The schedule for people: blocks of quarters of an hour, calendar.ics, the page for the wall."""

from __future__ import annotations

import copy
import datetime
import itertools
from types import SimpleNamespace

import icalendar
import pypdfium2
import pytest

from chainplan.examine.days.appointments import check_blocks, check_calendar_file
from chainplan.examine.findings import Teller
from chainplan.model.workshop.schedule import Person
from chainplan.report.charts.people import people_chart
from chainplan.report.paper.pdf import write_pdf
from chainplan.report.text.blocks import blocks_of
from chainplan.report.text.record import blocks_record
from chainplan.report.week.ics import calendar_ics
from chainplan.report.week.pages import week_sheets
from chainplan.schedule.turns import calendar_of, due_of

THURSDAY = datetime.date(2027, 3, 4)
PEOPLE = (Person(label="Ann"), Person(label="Ben", day_starts_h=11, hours_per_day=4))


@pytest.fixture(scope="module")
def planned(workshop, a_work):
    """A plan as far as calendars look at it: two people, eight days, one piece away for assay."""
    works = [
        a_work("Necklace, long", copies=3, due=datetime.date(2027, 3, 18), hallmark_days=5),
        a_work("Cuff; wide", weave_h=4.0, settings=("18 J",), bought_for=frozenset({"coil"})),
    ]
    shop = workshop(people=PEOPLE)
    schedule = shop.schedule(*works)
    written = shop.written(schedule, works)
    plan = SimpleNamespace(
        job=SimpleNamespace(name="fair", start_date=THURSDAY),
        stamp=SimpleNamespace(version="0"),
        schedule=schedule,
        pieces=tuple(SimpleNamespace(piece=SimpleNamespace(name=work.piece)) for work in works),
        estimates=SimpleNamespace(
            calendar=calendar_of(schedule, shop.shop), due=due_of(schedule, shop.shop)
        ),
    )
    written["schedule"]["blocks"] = blocks_record(blocks_of(plan))
    return plan, written


def test_blocks_are_quarters_of_an_hour_and_hold_all_longer_work(planned):
    plan, _ = planned
    blocks = blocks_of(plan)
    for block in blocks:
        for moment in (block.start, block.end):
            assert (moment.minute % 15, moment.second) == (0, 0)
        assert block.hours >= 0.25
    for line in plan.estimates.calendar:
        if line.hours < 0.4:
            continue
        middle = line.start + (line.end - line.start) / 2
        (block,) = [b for b in blocks if b.person == line.person and b.start <= middle <= b.end]
        assert (line.piece, line.station) in {(p, s) for p, own in block.work for s in own}


def test_short_work_before_a_pause_stands_with_what_was_before():
    """Two minutes between longer work and a wait for the tumbler are no appointment."""
    start = datetime.datetime(2027, 3, 1, 9)
    minutes = (("coil", "Cuff", 0, 23), ("cut", "Chain", 23, 25), ("weave", "Chain", 80, 140))
    lines = tuple(
        SimpleNamespace(
            piece=piece, station=station, person="Ann", machine="",
            start=start + datetime.timedelta(minutes=begin),
            end=start + datetime.timedelta(minutes=end),
        )
        for station, piece, begin, end in minutes
    )  # fmt: skip
    plan = SimpleNamespace(
        estimates=SimpleNamespace(calendar=lines), schedule=SimpleNamespace(people=("Ann",))
    )
    first, second = blocks_of(plan)
    assert (first.start, first.end) == (start, start + datetime.timedelta(minutes=30))
    assert first.work == (("Cuff", ("coil",)), ("Chain", ("cut",)))
    assert second.start == start + datetime.timedelta(minutes=75)


def test_nobody_has_two_blocks_at_once(planned):
    plan, _ = planned
    for person in ("Ann", "Ben"):
        own = [block for block in blocks_of(plan) if block.person == person]
        assert all(a.end <= b.start for a, b in itertools.pairwise(own))


def test_the_calendar_file_comes_back_as_it_was_meant(planned):
    plan, _ = planned
    data = calendar_ics(plan)
    assert data == calendar_ics(plan)
    assert all(len(line) <= 75 for line in data.split(b"\r\n"))
    calendar = icalendar.Calendar.from_ical(data)
    events = list(calendar.walk("VEVENT"))
    assert len({str(event["uid"]) for event in events}) == len(events)
    timed = [event for event in events if isinstance(event["dtstart"].dt, datetime.datetime)]
    assert [(event["dtstart"].dt, event["dtend"].dt, str(event["summary"])) for event in timed] == [
        (b.start, b.end, f"{b.person}: {b.text}") for b in blocks_of(plan)
    ]
    whole = {str(event["summary"]): event for event in events if event not in timed}
    away = whole["at the assay office: Necklace, long"]
    (task,) = [task for task in plan.schedule.tasks if task.station == "assay office"]
    assert away["dtstart"].dt == task.start.date() + datetime.timedelta(days=1)
    assert away["dtend"].dt == task.end.date()  # the day after the last, as RFC 5545 counts
    (ready,) = [text for text in whole if text.startswith("ready: Necklace, long")]
    assert "(wanted by Thu 18 Mar)" in ready


class Files(SimpleNamespace):
    """The written files as the examiner has them."""

    def estimates(self, name):
        return self.plan["estimates"][name]


def block_findings(written):
    teller = Teller("blocks of work are the schedule")
    check_blocks(Files(plan=written), teller)
    return list(teller.findings)


def test_the_examiner_finds_nothing_in_our_blocks_and_every_change(planned):
    _, written = planned
    assert block_findings(written) == []
    for change in (
        lambda block: block.update(person="Cleo"),
        lambda block: block.update(start=block["start"].replace("T09", "T02")),
        lambda block: block.update(end=block["end"].replace(":00:00", ":01:00")),
        lambda block: block["work"][0].update(piece="another"),
        lambda block: block["work"].clear(),
    ):
        changed = copy.deepcopy(written)
        for block in changed["schedule"]["blocks"]:
            change(block)
        assert block_findings(changed)


def findings(folder, written, data):
    (folder / "calendar.ics").write_bytes(data)
    teller = Teller("the calendar is the schedule")
    check_calendar_file(Files(folder=folder, plan=written), teller)
    return list(teller.findings)


def test_the_examiner_finds_nothing_in_ours(planned, tmp_path):
    plan, written = planned
    assert findings(tmp_path, written, calendar_ics(plan)) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"DTSTART:20270304T09", b"DTSTART:20270304T29"),
        (b"CATEGORIES:Ann", b"CATEGORIES:Ben"),
        (rb"weave\, ", rb"inspect\, "),
        (b"SUMMARY:ready: Cuff", b"SUMMARY:later: Cuff"),
        (b"DTEND:2027030", b"DTEND:2027020"),
    ],
)
def test_the_examiner_finds_what_was_changed(planned, tmp_path, old, new):
    plan, written = planned
    data = calendar_ics(plan)
    assert old in data
    assert findings(tmp_path, written, data.replace(old, new, 1))


def test_the_page_for_the_wall_has_each_block_under_its_day(planned):
    plan, _ = planned
    sheets = week_sheets(plan)
    weeks = {block.start.isocalendar().week for block in blocks_of(plan)}
    assert len(sheets) >= len(weeks)
    text = ""
    for page in pypdfium2.PdfDocument(write_pdf(sheets, title="weeks")):
        text += page.get_textpage().get_text_bounded()
        page.close()
    for block in blocks_of(plan):
        assert f"{block.start:%H:%M} – {block.end:%H:%M}" in text
    for word in ("Ann", "Ben", "Thu 4 Mar", "delivery", "assay office"):
        assert word in text


def test_a_page_too_short_for_a_day_goes_on_on_the_next(planned):
    plan, _ = planned
    many = [line for line in plan.estimates.calendar if line.person == "Ann"][:1] * 40
    quarter = datetime.timedelta(minutes=30)
    start = datetime.datetime(2027, 3, 4, 0, 0)
    lines = tuple(
        SimpleNamespace(
            piece=f"piece {k}", station="weave", person="Ann", machine="",
            start=start + k * quarter,
            end=start + (k + 1) * quarter,
        )
        for k in range(len(many))
    )  # fmt: skip
    crowded = SimpleNamespace(
        **{**vars(plan), "estimates": SimpleNamespace(calendar=lines, due=())}
    )
    sheets = week_sheets(crowded)
    told = [mark.text for sheet in sheets for mark in sheet.marks if hasattr(mark, "text")]
    assert sum("weave: piece" in text for text in told) == 40
    for sheet in sheets:
        assert all(m.y_mm < sheet.height_mm for m in sheet.marks if hasattr(m, "y_mm"))


def test_the_picture_has_a_row_a_person(planned):
    plan, _ = planned
    names = [piece.piece.name for piece in plan.pieces]
    figure = people_chart(plan.estimates.calendar, plan.schedule.people, names)
    (ax,) = figure.axes
    assert [label.get_text() for label in ax.get_yticklabels()] == ["Ann", "Ben"]
    wide = sum(bar.get_width() for bar in ax.patches)
    assert wide == pytest.approx(sum(line.hours for line in plan.estimates.calendar), abs=0.02)


def test_a_few_minutes_alone_on_a_day_stand_in_the_quarter_in_which_they_lie(planned):
    plan, _ = planned
    start = datetime.datetime(2027, 3, 4, 9, 8)
    line = SimpleNamespace(
        piece="cuff", station="cut", person="Ann", machine="", start=start,
        end=start + datetime.timedelta(seconds=158),
    )  # fmt: skip
    alone = SimpleNamespace(
        **{**vars(plan), "estimates": SimpleNamespace(calendar=(line,), due=())}
    )
    (block,) = blocks_of(alone)
    assert (block.start.strftime("%H:%M"), block.end.strftime("%H:%M")) == ("09:00", "09:15")
