"""Planning again: done stays done, the rest keeps its order or is ordered anew."""

from __future__ import annotations

import datetime
import json
import re
from typing import Any

import numpy as np
import openpyxl
import pytest

import chainplan
from chainplan.cli import main
from chainplan.estimate import first_settings
from chainplan.order import verify_order
from chainplan.order.proof.verify import list_too_warm, simulate_order
from chainplan.public.pieces import heat_of
from chainplan.record.kept.store import Record


def test_with_nothing_done_and_nothing_changed_the_order_stays(workshop: Any) -> None:
    before = workshop.rows()
    done = workshop.replan()
    assert workshop.rows() == before
    assert (done.welded, done.left) == (0, 24)


def test_the_rest_of_the_order_is_the_old_one_byte_for_byte(workshop: Any) -> None:
    before, order = workshop.rows(), workshop.order()
    workshop.weld(order[:7])
    done = workshop.replan()
    assert workshop.rows() == before[7:]
    assert (done.welded, done.left) == (7, 17)
    again = workshop.replan()
    assert workshop.rows() == before[7:]
    assert again.left == 17
    workshop.weld(order[7:9])
    workshop.replan()
    assert workshop.rows() == before[9:]
    assert chainplan.progress(workshop.folder)[0].pieces[0].done == 9


def test_joins_welded_out_of_turn_leave_the_others_in_their_order(workshop: Any) -> None:
    """With the waits that they had, or, where a simulation from cold asks for it, with others."""
    before, order = workshop.rows(), workshop.order()
    workshop.weld([order[3], order[20], order[11]])
    done = workshop.replan()
    assert workshop.order() == [ring for k, ring in enumerate(order) if k not in (3, 20, 11)]
    (piece,) = done.plan.pieces
    bench = done.plan.job.bench
    wrong = verify_order(
        piece.layout, piece.joins, piece.heat, piece.order.ring, piece.order.start_s,
        settings=[line.setting for line in first_settings(done.plan.job, piece.layout)],
        pace=bench.pace, limits=bench.heat,
    )  # fmt: skip
    assert [item for item in wrong if item.kind != "too soon"] == []
    told = [float(row.split(",")[12]) for row in workshop.rows()]
    assert told == piece.order.wait_s.round(1).tolist()
    kept = [row for k, row in enumerate(before) if k not in (3, 20, 11)]
    assert (workshop.rows() == kept) is not any("waits of its own" in text for text in done.news)


def test_joins_left_out_at_the_end_leave_every_row_as_it_was(workshop: Any) -> None:
    """What is left is as cool as it was: byte for byte."""
    before, order = workshop.rows(), workshop.order()
    workshop.weld(order[-3:])
    workshop.replan()
    assert workshop.rows() == before[:-3]


def test_what_is_not_good_comes_back_with_one_more_hit(workshop: Any) -> None:
    order = workshop.order()
    hits = {int(row.split(",")[3]): int(row.split(",")[10]) for row in workshop.rows()}
    workshop.weld(order[:10])
    workshop.weld([order[2]], "bad")
    workshop.weld([order[5]], "broken")
    done = workshop.replan()
    rows = {int(row.split(",")[3]): row.split(",") for row in workshop.rows()}
    assert int(rows[order[2]][10]) == hits[order[2]] + 1
    assert int(rows[order[5]][10]) == hits[order[5]]
    assert workshop.order()[:14] == order[10:]
    assert set(workshop.order()[14:]) == {order[2], order[5]}
    texts = [work.text for work in done.plan.pieces[0].order.passes]
    assert any(f"welded again with one more hit: ring {order[2]}" in text for text in texts)
    assert any(f"ring replaced: welded anew: ring {order[5]}" in text for text in texts)
    workshop.weld(workshop.order())
    assert workshop.replan().left == 0


def test_a_copy_that_is_welded_for_the_first_time_gets_no_hit_more(two_copies: Any) -> None:
    """Copies share one order: what is a repair on the first copy is a first weld on the second."""
    order = two_copies.order()
    two_copies.weld(order[:4])
    two_copies.weld(order[2:3], "again")
    passes = two_copies.replan().plan.pieces[0].order.passes
    assert passes[-1].setting.hits == passes[0].setting.hits + 1
    assert "copy 2 is welded here for the first time: 1 hit, not one more" in (
        passes[-1].setting.note
    )
    assert sum(ring == order[2] for _, ring in two_copies.turns()) == 2


@pytest.mark.parametrize("limit", [40, 45])
def test_a_changed_limit_orders_the_rest_anew_within_it(workshop: Any, limit: int) -> None:
    order = workshop.order()
    workshop.weld(order[:8])
    workshop.change(limit)
    done = workshop.replan()
    assert set(workshop.order()) == set(order[8:])
    assert any(f"highest interpass c: {limit}.0 °C instead of 60.0" in text for text in done.news)
    (piece,) = done.plan.pieces
    bench = done.plan.job.bench
    wrong = verify_order(
        piece.layout, piece.joins, piece.heat, piece.order.ring, piece.order.start_s,
        settings=[line.setting for line in first_settings(done.plan.job, piece.layout)],
        pace=bench.pace, limits=bench.heat,
    )  # fmt: skip
    assert wrong == ()
    kept = workshop.rows()
    workshop.replan()
    assert workshop.rows() == kept


def test_a_setting_that_the_order_does_not_rest_on_keeps_it(workshop: Any) -> None:
    before, order = workshop.rows(), workshop.order()
    workshop.weld(order[:5])
    text = workshop.job.read_text(encoding="utf-8")
    more = "\n[bench.money]\nlabour_per_hour = 45\n"
    workshop.job.write_text(text + more, encoding="utf-8")
    done = workshop.replan()
    assert workshop.rows() == before[5:]
    assert any("labour per hour: 45 per hour instead of 30" in line for line in done.news)


def test_each_copy_is_asked_for_what_it_lacks(two_copies: Any) -> None:
    order = two_copies.order()
    two_copies.weld(order[:6], copy=1)
    two_copies.weld(order[:2], copy=2)
    done = two_copies.replan()
    assert done.left == 12
    assert sorted(two_copies.turns()) == sorted(
        [(1, ring) for ring in order[6:]] + [(2, ring) for ring in order[2:]]
    )


def test_a_log_of_the_old_sheet_is_still_taken_after_planning_again(workshop: Any) -> None:
    order = workshop.order()
    late = workshop.log(order[:4])
    workshop.weld(order[4:6])
    workshop.change(45)
    workshop.replan()
    done = chainplan.record_logs([late], workshop.folder)
    assert not done.faults, done.faults
    assert chainplan.progress(workshop.folder)[0].pieces[0].done == 6
    assert chainplan.record_logs([late], workshop.folder).files[0].known == 4


def test_papers_and_sheet_say_what_changed(whole_workshop: Any) -> None:
    workshop = whole_workshop
    workshop.weld(workshop.order()[:3])
    workshop.change(45)
    news = workshop.replan().news
    sheet = (workshop.folder / "bench-sheet.html").read_text(encoding="utf-8")
    assert "what changed since the last plan" in sheet
    assert json.dumps(news[0], ensure_ascii=False)[1:-1] in sheet
    record = json.loads((workshop.folder / "plan.json").read_text(encoding="utf-8"))
    assert record["replan"]["welded"] == {"Chain": [3]}
    assert record["replan"]["news"] == list(news)
    pypdfium2 = pytest.importorskip("pypdfium2")
    page = pypdfium2.PdfDocument(workshop.folder / "weld-order.pdf")[0]
    text = " ".join(page.get_textpage().get_text_bounded().split())
    assert "What changed since the last plan" in text
    assert "3 of 12 joins are welded and stay as they are." in text


def test_spent_and_to_come_stand_beside_the_first_quote(whole_workshop: Any) -> None:
    workshop = whole_workshop
    workshop.weld(workshop.order()[:6])
    news = "\n".join(workshop.replan().news)
    assert "At the welder: 36 s spent" in news
    assert "first plan " in news
    assert "All ready on 2027-01-12; first plan 2027-01-13." in news
    # The workbook has the table, paper and workbook's own sheet the sentences.
    book = openpyxl.load_workbook(workshop.folder / "plan.xlsx", data_only=True)
    assert book.sheetnames[1] == "spent and to come"
    rows = {row[0]: row for row in book["spent and to come"].iter_rows(values_only=True) if row[0]}
    quoted = float(sum(quote.cost for quote in workshop.plan.estimates.quotes))
    what, unit, first, spent, come, together, more = rows["cost of the job"][:7]
    assert (what, first) == ("cost of the job", quoted)
    assert together == pytest.approx(spent + come, abs=0.01)
    assert more == pytest.approx(together - first, abs=0.01)
    assert rows["weld"][3] == 0.6  # six taps of six seconds
    assert f"{unit} spent" in news
    # Planned again once more, the first quote is still the first one's.
    workshop.weld(workshop.order()[:3])
    again = workshop.replan().plan.replan
    assert again["first"]["cost"] == f"{quoted:.2f}"
    assert {row["what"]: row for row in again["costs"]}["weld"]["spent"] == 0.9


def too_warm(plan: Any, order: Any, heat: Any, ring: Any, start_s: Any) -> list[int]:
    """Steps of a run of welds that pass a limit of temperature, by the verifier."""
    (piece,) = plan.pieces
    bench = plan.job.bench
    seen = simulate_order(
        piece.layout, piece.joins, heat, ring, start_s, pace=bench.pace, limits=bench.heat,
        corners=heat.bad_corners,
    )  # fmt: skip
    return [item.step for item in list_too_warm(seen, heat, bench.heat)]


def test_repairs_wait_for_their_own_heat_and_that_of_the_rest(workshop: Any) -> None:
    """One more hit is one more pulse's heat; the waits are the shortest that keep the limits."""
    order = workshop.order()
    workshop.weld(order[:10])
    workshop.weld([order[9], order[8], order[7], order[2]], "bad")
    plan = workshop.replan().plan
    (piece,) = plan.pieces
    rest, bench = piece.order, plan.job.bench
    assert len(rest.ring) == 18
    energy_j = np.array([line.setting.power_j * line.setting.hits
                         for line in first_settings(plan.job, piece.layout)])  # fmt: skip
    more = energy_j[piece.layout.material]
    power_j = rest.passes[-1].setting.power_j
    more[rest.ring[14:]] += power_j
    heat = heat_of(plan.job, piece.piece, piece.layout, more)
    assert [k for k in too_warm(plan, rest, heat, rest.ring, rest.start_s) if k >= 14] == []
    # Sooner than that, some limit is passed: the waits are needed.
    waits_s = rest.wait_s[14:]
    assert waits_s.max() > 0
    assert (waits_s == np.round(waits_s)).all()
    early = rest.start_s - np.concatenate([np.zeros(14), np.cumsum(waits_s)])
    assert [k for k in too_warm(plan, rest, heat, rest.ring, early) if k >= 14] != []
    # And they are told as warm as they are.
    seen = simulate_order(
        piece.layout, piece.joins, heat, rest.ring, rest.start_s, pace=bench.pace,
        limits=bench.heat, corners=heat.bad_corners,
    )  # fmt: skip
    warmest = np.max([run.before_c for run in seen.runs.values()], axis=0)
    assert rest.interpass_high_c[14:] == pytest.approx(warmest[14:], abs=0.2)
    assert rest.interpass_high_c[14:].max() > bench.heat.room_c + 5
    assert rest.passes[-1].wait_s == pytest.approx(waits_s.sum())
    end_s = sum(work.seconds for work in rest.passes)
    assert rest.bench_time_s == pytest.approx(end_s, abs=0.5)


def test_a_piece_that_was_welded_minutes_ago_is_begun_when_it_has_cooled(workshop: Any) -> None:
    """The last welds are simulated with what is left: a long wait soon after, none later."""
    import datetime

    order = workshop.order()
    workshop.weld([*order[1:24:2]])  # side by side, ten seconds apart, without a wait
    with Record(workshop.folder.parent / "workshop.sqlite", read_only=True) as record:
        ((last_s,),) = record.rows("SELECT max(at_s) FROM event")
    waits, first_waits_s = [], []
    for minutes in (0.2, 2, 14.9, 16):
        now = datetime.datetime.fromtimestamp(last_s + 60 * minutes)
        news = chainplan.replan(workshop.folder, now=now).news
        (told,) = [line for line in news if "The last weld was" in line] or [""]
        found = re.search(r"let it cool (.*?) before the next join", told)
        waits.append(found and found.group(1))
        assert bool(told) is (minutes < 15)
        assert found or not told or "go on at once" in told
        first_waits_s.append(workshop.waits()[0])
    assert waits[0] is not None
    assert waits[2:] == [None, None]
    # The order itself begins from that heat, and from cold again once it has gone.
    assert first_waits_s[0] > 30
    assert first_waits_s[0] > first_waits_s[1]
    assert first_waits_s[2:] == [0, 0]


def test_an_order_made_anew_begins_from_the_heat_of_the_last_welds(workshop: Any) -> None:
    """The examiner looks at it too; the copy next morning begins without that wait."""
    import datetime

    order = workshop.order()
    workshop.weld([*order[1:24:2]])
    with Record(workshop.folder.parent / "workshop.sqlite", read_only=True) as record:
        ((last_s,),) = record.rows("SELECT max(at_s) FROM event")
    workshop.change(55)
    soon = datetime.datetime.fromtimestamp(last_s + 15)
    news = chainplan.replan(workshop.folder, now=soon).news
    assert any("ordered anew" in line and "let it cool" in line for line in news)
    assert workshop.waits()[0] > 30
    cool = chainplan.replan(workshop.folder, now=datetime.datetime.fromtimestamp(last_s + 4000))
    assert not any("let it cool" in line for line in cool.news)
    assert workshop.waits()[0] == 0


def test_the_turn_of_a_copy_that_is_still_warm_begins_later(two_copies: Any) -> None:
    import datetime

    order = two_copies.order()
    two_copies.weld([*order[1:24:2]])
    with Record(two_copies.folder.parent / "workshop.sqlite", read_only=True) as record:
        ((last_s,),) = record.rows("SELECT max(at_s) FROM event")
    soon = datetime.datetime.fromtimestamp(last_s + 15)
    done = chainplan.replan(two_copies.folder, now=soon)
    assert any("copy 1: let it cool" in line for line in done.news)
    begins = dict(
        zip(done.plan.batch.copy.tolist(), done.plan.batch.start_s.tolist(), strict=False)
    )
    assert begins[1] > 30


def test_other_rings_for_a_piece_that_was_begun_are_refused(workshop: Any) -> None:
    before = workshop.rows()
    workshop.weld(workshop.order()[:1])
    workshop.change(60, rings=30)
    with pytest.raises(chainplan.InputError, match="has other rings now, but 1 of its joins"):
        workshop.replan()
    assert workshop.rows() == before


def test_a_job_that_moved_is_asked_for(workshop: Any) -> None:
    moved = workshop.place / "moved.toml"
    workshop.job.rename(moved)
    with pytest.raises(chainplan.InputError, match="name it with --job"):
        workshop.replan()
    assert workshop.replan(job=moved).left == 24


def test_the_command_says_what_changed(workshop: Any, capsys: pytest.CaptureFixture[str]) -> None:
    workshop.weld(workshop.order()[:2])
    assert main(["replan", str(workshop.folder), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["welded"], told["left"]) == (2, 22)
    assert main(["replan", str(workshop.folder)]) == 0
    assert "22 joins are left" in capsys.readouterr().out


def test_steps_begin_anew_on_the_sheet_and_cover_all_that_is_left(workshop: Any) -> None:
    workshop.weld(workshop.order()[:9])
    (piece,) = workshop.replan().plan.pieces
    order = piece.order
    assert [work.first_step for work in order.passes] == np.cumsum(
        [0, *(work.joins for work in order.passes)]
    )[:-1].tolist()
    assert sum(work.joins for work in order.passes) == len(order.ring) == 15
    assert order.bench_time_s == pytest.approx(sum(work.seconds for work in order.passes), abs=0.5)


def test_a_join_of_one_copy_of_several_is_not_asked_for_again(
    small_workshop: Any, tmp_path: Any
) -> None:
    """Every ring is still open on some copy, and a turn has lost but its first or last join."""
    for place in (0, 1, 3):
        (tmp_path / str(place)).mkdir()
        workshop = small_workshop(tmp_path / str(place), rings=4, copies=2)
        ring = workshop.order()[place]
        chainplan.record_logs([workshop.log([ring])], workshop.folder)
        workshop.replan()
        assert sorted(workshop.turns()) == [
            (copy, each) for copy in (1, 2) for each in (1, 2, 3, 4) if (copy, each) != (1, ring)
        ]


def test_what_moved_on_the_calendar_is_told(workshop: Any) -> None:
    """A day off and a slower workshop: the chain is ready later, and begun later."""
    untouched = workshop.replan()
    assert "On the calendar no piece moved to another day or into other hands." in untouched.news
    text = workshop.job.read_text(encoding="utf-8")
    off = '\n[bench.calendar]\ndays_off = "2027-01-13 2027-01-14"\n'
    workshop.job.write_text(text + off, encoding="utf-8")
    (told,) = [line for line in workshop.replan().news if line.startswith("Moved: ")]
    assert told == (
        "Moved: Chain: ready Fri 15 Jan instead of Wed 13 Jan; "
        "begun Fri 15 Jan instead of Wed 13 Jan."
    )


PEOPLE = """
[[person]]
person = "Ann"
days_off = "{off}"
"""


def test_a_person_who_is_ill_moves_what_she_does_and_nothing_else(workshop: Any) -> None:
    """Ann is ill on the Wednesday on which the chain is made; well again, all is as it was."""
    text = workshop.job.read_text(encoding="utf-8")
    workshop.job.write_text(text + PEOPLE.format(off="2027-01-13"), encoding="utf-8")
    ill = workshop.replan().news
    assert "Changed: people: Ann is new." in ill
    assert any(
        line.startswith("Moved: Chain: ready Thu 14 Jan instead of Wed 13 Jan; begun Thu 14 Jan ")
        for line in ill
    ), ill
    workshop.job.write_text(text + PEOPLE.format(off=""), encoding="utf-8")
    well = workshop.replan().news
    assert "Changed: people, Ann: days off none instead of 2027-01-13." in well
    assert any(
        line.startswith("Moved: Chain: ready Wed 13 Jan instead of Thu 14 Jan") for line in well
    ), well


URGENT = """
[[piece]]
name = "Urgent"
weave = "single-link"
wire_mm = 1.2
inner_mm = 5.0
metal = "copper"
rings = 12
due = 2027-01-14
late_weight = 20
minutes = "weave 200"
"""


def test_an_urgent_order_goes_first_and_says_what_it_moves(workshop: Any) -> None:
    """It came on Tuesday and takes most of Thursday: the chain is ready a day later than before."""
    text = workshop.job.read_text(encoding="utf-8")
    slow = text.replace("rings = 24", 'rings = 24\nminutes = "weave 560"')
    workshop.job.write_text(slow, encoding="utf-8")
    before = workshop.replan().plan
    workshop.job.write_text(
        slow.replace("[bench.heat]", f"{URGENT}\n[bench.heat]"), encoding="utf-8"
    )
    after = workshop.replan()
    assert any(line.startswith("New on the calendar: Urgent, ready ") for line in after.news)
    ready = {each.piece: each.ready for each in after.plan.schedule.pieces}
    (then,) = [each.ready for each in before.schedule.pieces]
    assert ready["Urgent"] <= datetime.date(2027, 1, 14)
    assert ready["Chain"] > then
    moved = [line for line in after.news if line.startswith("Moved: Chain: ready ")]
    assert len(moved) == 1, after.news
    first = min(task.start for task in after.plan.schedule.tasks)
    assert first.date() >= datetime.date(2027, 1, 12), "nothing is begun before the order came"
    workshop.job.write_text(slow, encoding="utf-8")
    assert "No longer on the calendar: Urgent." in workshop.replan().news


def test_a_finished_rest_is_examined_as_a_whole_plan_is(whole_workshop: Any) -> None:
    """Every check runs on it; a wrong time, limit, turn or pass of a rest is found."""
    import csv

    from chainplan.examine import examine_folder
    from chainplan.examine.registry import CHECKS

    workshop = whole_workshop
    order = workshop.order()
    workshop.weld([*order[:4], order[7]])
    workshop.weld([order[2]], "bad")
    workshop.replan()
    found = examine_folder(workshop.folder)
    assert found.ok, found.text()
    assert len(found.checks) == len(CHECKS)
    record = workshop.folder / "plan.json"
    table = workshop.folder / "weld-order.csv"
    good, rows = record.read_text(encoding="utf-8"), table.read_text(encoding="utf-8")

    def wrong(change: Any) -> set[str]:
        plan = json.loads(good)
        change(plan)
        record.write_text(json.dumps(plan), encoding="utf-8")
        try:
            return {item.check for item in examine_folder(workshop.folder).findings}
        finally:
            record.write_text(good, encoding="utf-8")

    def longer(plan: Any) -> None:
        plan["order"]["pieces"][0]["bench_time_s"] += 3

    def cooler(plan: Any) -> None:
        for row in plan["order"]["pieces"][0]["limits"]:
            row["high_c"] -= 3

    def later(plan: Any) -> None:
        plan["order"]["batch"]["start_s"][-1] += 5

    def one_more(plan: Any) -> None:
        plan["order"]["pieces"][0]["passes"][-1]["joins"] += 1

    def quicker(plan: Any) -> None:
        plan["replan"]["pace_s"]["Chain"][3] -= 2

    assert "bench times and the bound" in wrong(longer)
    assert "limits hold at the peaks" in wrong(cooler)
    assert wrong(one_more) >= {"passes are those of the table", "the paper is the weld order"}
    assert "passes are those of the table" in wrong(quicker)
    assert wrong(later)
    lines = rows.splitlines()
    number = [k for k, row in enumerate(csv.reader(lines)) if k][-1]
    cells = lines[number].split(",")
    cells[3] = str(order[0])  # a join that is welded
    table.write_text("\n".join([*lines[:number], ",".join(cells), ""]), encoding="utf-8")
    assert not examine_folder(workshop.folder).ok


def test_sheet_review_and_the_next_sheet_name_the_same_joins_to_check(workshop: Any) -> None:
    (planned,) = workshop.plan.samples
    workshop.weld(workshop.order()[:10])
    checked = workshop.log([planned.drawn[0][2]], "good")
    assert not chainplan.record_logs([checked], workshop.folder).faults
    (looked,) = chainplan.review(workshop.folder).samples
    assert looked.drawn == planned.drawn
    assert (looked.good, looked.found[0]) == (1, "good")
    (again,) = workshop.replan().plan.samples
    assert again == looked
    # A copy more makes another lot, but most of its joins were drawn before.
    workshop.change(60, copies=2)
    (larger,) = workshop.replan().plan.samples
    assert larger.joins == 2 * planned.joins
    assert larger.found.count("good") == larger.good
