"""Planning again: done stays done, the rest keeps its order or is ordered anew."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

import chainplan
from chainplan.cli import main
from chainplan.estimate import settings_of_layout
from chainplan.order import verify_order


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
    before, order = workshop.rows(), workshop.order()
    workshop.weld([order[3], order[20], order[11]])
    done = workshop.replan()
    assert workshop.rows() == [row for k, row in enumerate(before) if k not in (3, 20, 11)]
    assert not any("wait longer" in line for line in done.news)
    (piece,) = done.plan.pieces
    bench = done.plan.job.bench
    wrong = verify_order(
        piece.layout, piece.joins, piece.heat, piece.order.ring, piece.order.start_s,
        settings=[line.setting for line in settings_of_layout(done.plan.job, piece.layout)],
        pace=bench.pace, limits=bench.heat,
    )  # fmt: skip
    assert [item for item in wrong if item.kind != "too soon"] == []


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
        settings=[line.setting for line in settings_of_layout(done.plan.job, piece.layout)],
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


def test_spent_and_to_come_stand_beside_the_first_quote(workshop: Any) -> None:
    workshop.weld(workshop.order()[:12])
    news = "\n".join(workshop.replan().news)
    assert "At the welder: 1 min 12 s spent" in news
    assert "first planned were" in news
    assert "Finished about 2027-01-12" in news


def test_a_weld_of_minutes_ago_is_told(workshop: Any) -> None:
    import datetime

    workshop.weld(workshop.order()[:1])
    last = datetime.datetime.fromtimestamp(1799658010) + datetime.timedelta(minutes=4)
    news = chainplan.replan(workshop.folder, now=last).news
    assert any("the piece may still be warm" in line for line in news)


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
