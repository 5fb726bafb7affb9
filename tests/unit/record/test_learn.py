"""Learning from the record: against closed forms, scipy.stats, and workshops with known truth."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, Any

import numpy as np
import openpyxl
import pytest
from scipy import stats

import chainplan
from chainplan.cli import main
from chainplan.model.bench import pace_is_default
from chainplan.record.kept.store import Record
from chainplan.record.learning.curve import fit_curve, unit_share
from chainplan.record.learning.intervals import mean, ratio
from chainplan.record.learning.learn import learn_from
from chainplan.record.learning.yields import log_beta_binomial, pooled_yields, share

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    ("good", "tries", "a", "b"), [(0, 1, 1, 1), (97, 100, 19, 1), (3, 9, 0.5, 2.5)]
)
def test_the_beta_binomial_is_that_of_scipy(good: int, tries: int, a: float, b: float) -> None:
    ours = log_beta_binomial(*(np.array([float(x)]) for x in (good, tries, a, b)))
    assert ours[0] == pytest.approx(stats.betabinom.logpmf(good, tries, a, b), abs=1e-12)


def test_a_share_is_jeffreys_interval() -> None:
    found = share(47, 50)
    assert found.low == pytest.approx(stats.beta.ppf(0.05, 47.5, 3.5))
    assert found.high == pytest.approx(stats.beta.ppf(0.95, 47.5, 3.5))
    assert found.value == pytest.approx(stats.beta.mean(47.5, 3.5))


def test_one_group_of_many_joins_is_the_plain_beta() -> None:
    """With thousands of joins the pooling has nothing left to say."""
    (found,) = pooled_yields(np.array([9500.0]), np.array([10000.0]))
    assert found.low == pytest.approx(stats.beta.ppf(0.05, 9501, 501), abs=4e-4)
    assert found.high == pytest.approx(stats.beta.ppf(0.95, 9501, 501), abs=4e-4)


def test_a_group_with_few_joins_leans_on_the_others() -> None:
    good = np.array([970.0, 960.0, 965.0, 975.0, 1.0])
    found = pooled_yields(good, np.array([1000.0, 1000.0, 1000.0, 1000.0, 2.0]))
    assert found[4].value > 0.93  # one of two good, yet nobody's yield is a half
    assert found[4].high - found[4].low > 2 * (found[0].high - found[0].low)
    assert found[0].value == pytest.approx(0.97, abs=0.004)


def test_pooled_yields_agree_with_a_simulation_of_the_same_model() -> None:
    """Draw group yields and counts; keep the draws that give the counts seen (rejection)."""
    random = np.random.default_rng(5)
    draws = 600_000
    m = 1 / (1 + np.exp(-random.uniform(-2, 8, draws)))
    s = np.exp(random.uniform(np.log(2), np.log(5000), draws))
    p = random.beta((m * s)[:, None], ((1 - m) * s)[:, None], (draws, 2))
    k = random.binomial([20, 4], p)
    kept = p[(k[:, 0] == 18) & (k[:, 1] == 3)]
    assert len(kept) > 2000
    found = pooled_yields(np.array([18.0, 3.0]), np.array([20.0, 4.0]))
    for column, one in enumerate(found):
        assert one.value == pytest.approx(kept[:, column].mean(), abs=0.012)
        low, high = np.quantile(kept[:, column], [0.05, 0.95])
        assert (one.low, one.high) == (pytest.approx(low, abs=0.03), pytest.approx(high, abs=0.02))


def test_a_mean_has_students_interval() -> None:
    values = np.array([4.0, 5.0, 7.0, 6.5, 5.5])
    low, high = stats.t.interval(0.9, 4, values.mean(), stats.sem(values))
    assert mean(values)[:3] == pytest.approx((values.mean(), low, high))


def test_two_stints_are_too_few_for_an_interval() -> None:
    found = ratio(np.arange(6.0), np.ones(6), np.array([0, 0, 0, 1, 1, 1]))
    assert found.high == float("inf")
    assert found.groups == 2


@pytest.mark.parametrize("percent", [75.0, 88.0, 97.0])
def test_a_learning_curve_without_noise_is_found(percent: float) -> None:
    copy = np.array([1.0, 2, 3, 4, 5, 1, 2, 3])
    piece = np.array([0, 0, 0, 0, 0, 1, 1, 1])
    planned = np.where(piece == 0, 60.0, 20.0)
    minutes = planned * 1.25 * unit_share(copy, percent)
    curve = fit_curve(minutes, planned, copy, piece)
    assert curve is not None
    assert curve.rate.value == pytest.approx(percent, abs=0.06)
    assert curve.factor.value == pytest.approx(1.25, rel=0.002)


def test_two_copies_say_nothing_about_learning() -> None:
    two = np.array([1.0, 2.0])
    assert fit_curve(np.array([9.0, 8.0]), np.array([9.0, 9.0]), two, np.zeros(2, int)) is None


def lesson_of(workshop: Any, seed: int, rings: int = 60, **truth: float) -> tuple[Any, Any]:
    random = np.random.default_rng(seed)
    true = workshop.Truth(**truth)
    plan = workshop.invented_plan(copies=8, rings=rings)
    with Record.empty() as record:
        record.add(workshop.simulate(plan, true, random), plan=plan)
        return learn_from(record), true


def test_a_simulated_workshop_is_learnt(workshop: Any) -> None:
    lesson, _ = lesson_of(workshop, 1)
    by_key = {item.key: item for item in lesson.figures if not item.group}
    for key, true, reach in (
        ("pace.handle_s", 7.0, 0.1), ("stations.rework_s", 14.0, 0.2),
        ("stations.weave_ring_s", 13.0, 0.2), ("stations.learning_percent", 88.0, 0.06),
        ("wire.join_yield", 0.95, 0.03), ("welder.pulses_per_regrind", 120.0, 0.1),
        ("litres a puff", 0.12, 0.12), ("stations.clean_min", 5.0, 0.15),
    ):  # fmt: skip
        assert by_key[key].new == pytest.approx(true, rel=reach), key
        assert by_key[key].low < by_key[key].new < by_key[key].high
        assert by_key[key].n > 0
    assert by_key["pace.handle_s"].old == 5.0
    assert by_key["pace.handle_s"].enough
    assert {item.title for item in lesson.figures if item.key == "seconds a join"} == {
        f"seconds a join, by {kind}" for kind in ("piece", "weave", "metal and wire", "pass")
    }
    (setting,) = lesson.settings
    assert (setting.power_j, setting.hits, setting.tip, setting.best) == (8.0, 1, "sharp", True)


def test_intervals_hold_the_truth_about_as_often_as_they_say(workshop: Any) -> None:
    """Thirty workshops; the 90 % of an interval of 90 % have a standard error of 5.5 %.

    tests/bench/bench_learn.py does the same with two hundred.
    """
    held = dict.fromkeys(("pace.handle_s", "wire.join_yield", "stations.weave_ring_s"), 0)
    for seed in range(30):
        lesson, true = lesson_of(workshop, 100 + seed, rings=30)
        truth = {"pace.handle_s": true.handle_s, "wire.join_yield": true.join_yield,
                 "stations.weave_ring_s": 10 * true.weave_factor}  # fmt: skip
        for item in lesson.figures:
            if item.key in held:
                held[item.key] += item.low <= truth[item.key] <= item.high
    for key, count in held.items():
        assert 23 <= count <= 30, f"{key}: {count} of 30"
    assert sum(held.values()) < 90  # an interval that always holds is too wide


def test_pauses_do_not_make_a_bench_slow(workshop: Any) -> None:
    lesson, _ = lesson_of(workshop, 3, pause_chance=0.01)
    (handle,) = (item for item in lesson.figures if item.key == "pace.handle_s")
    assert handle.new == pytest.approx(7.0, rel=0.1)
    assert "were set apart: a join that took more than two minutes" in lesson.notes[0]
    assert not lesson.notes[0].startswith("0 ")


def test_a_join_found_bad_later_was_not_good_at_first_try(workshop: Any) -> None:
    plan = workshop.invented_plan(copies=1, rings=50)
    truth = workshop.Truth(join_yield=1.0)
    events = workshop.simulate(plan, truth, np.random.default_rng(1))
    done = [event for event in events if event.kind == "done"]
    later = [
        done[k]._replace(id=f"{k:08d}-aaaa-0000-0000-000000000000", kind=kind,
                         at_s=done[-1].at_s + 60)
        for k, kind in ((3, "again"), (4, "bad"))
    ]  # fmt: skip
    with Record.empty() as record:
        record.add([*events, *later], plan=plan)
        lesson = learn_from(record)
    (found,) = (item for item in lesson.figures if item.key == "wire.join_yield")
    assert found.basis == "48 of 50 first tries"


def test_settings_told_at_the_welder_are_kept_apart(workshop: Any) -> None:
    """Half the joins at 8 J as planned, then 10 J set by hand."""
    plan = workshop.invented_plan(copies=2, rings=60)
    events = workshop.simulate(plan, workshop.Truth(), np.random.default_rng(2))
    middle = events[len(events) // 2].at_s
    change = events[0]._replace(id="f" * 8 + "-0000-0000-0000-" + "0" * 12, kind="setting",
                                at_s=middle, power_j=10.0, bar=None)  # fmt: skip
    with Record.empty() as record:
        record.add([*events, change], plan=plan)
        lesson = learn_from(record)
    powers = {item.power_j: item.tries for item in lesson.settings}
    assert set(powers) == {8.0, 10.0}
    assert sum(powers.values()) == 120


@pytest.fixture
def learnt(tmp_path: Path, workshop: Any) -> Path:
    """A record's file with a simulated workshop in it."""
    path = tmp_path / "workshop.sqlite"
    plan = workshop.invented_plan(copies=8, rings=60, metal="sterling-silver")
    events = workshop.simulate(plan, workshop.Truth(), np.random.default_rng(4))
    ring = events[0]._replace(id="e" * 8 + "-0000-0000-0000-" + "0" * 12, kind="measured",
                              what="inner mm", metal="sterling-silver", wire_mm=1.0,
                              mandrel_mm=3.5, value=3.56, bar=None)  # fmt: skip
    count = ring._replace(id="d" * 8 + "-0000-0000-0000-" + "0" * 12, what="rings per cm",
                          piece="Evening necklace", value=10.2)  # fmt: skip
    with Record(path) as record:
        record.add([*events, ring, count], plan=plan)
    return path


def test_what_was_learnt_goes_into_the_jobs_own_sheets(
    learnt: Path, samples: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "necklace.xlsx"
    shutil.copy(samples / "necklace.xlsx", job)
    before, read = job.read_bytes(), chainplan.read_job(job)
    assert pace_is_default(read.bench)
    assert main(["learn", "--record", str(learnt), "--write", str(job)]) == 0
    said = capsys.readouterr().out
    assert (tmp_path / "necklace-as-it-was-1.xlsx").read_bytes() == before
    after = chainplan.read_job(job)
    assert not pace_is_default(after.bench)
    assert after.bench.pace.handle_s == pytest.approx(7.0, rel=0.15)
    assert "measured, n = " in said
    assert after.recorded[-1].power_j == 8.0
    assert after.measured_rings[-1].inner_mm == 3.56
    assert after.pieces[0].sections[0].measured_rings_per_cm == 10.2
    sheet = openpyxl.load_workbook(job)["bench"]
    sources = {row[1].value: row[6].value for row in sheet.iter_rows()}
    assert sources["handle s"].startswith("measured, n = ")
    assert sources["turn s"] == "invented default: put your own"
    assert [p.name for p in after.pieces] == [p.name for p in read.pieces]


def test_only_what_is_named_is_written(learnt: Path, samples: Path, tmp_path: Path) -> None:
    job = tmp_path / "necklace.xlsx"
    shutil.copy(samples / "necklace.xlsx", job)
    lesson = chainplan.learn(record=learnt)
    done = chainplan.write_learned(lesson, job, only=["pace.handle_s"])
    assert len(done.changes) == 1
    with pytest.raises(chainplan.InputError, match=r"did you mean 'pace\.handle_s'"):
        chainplan.write_learned(lesson, job, only=["pace.handles"])
    with pytest.raises(chainplan.InputError, match=r"name its \.xlsx"):
        chainplan.write_learned(lesson, samples / "necklace.toml")


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_the_picture_is_drawn_the_same_twice(learnt: Path, tmp_path: Path, ending: str) -> None:
    first, second = tmp_path / f"a.{ending}", tmp_path / f"b.{ending}"
    chainplan.learn(record=learnt, picture=first)
    chainplan.learn(record=learnt, picture=second)
    assert first.read_bytes() == second.read_bytes()
    if ending == "svg":
        assert "aim and weld one join" in first.read_text(encoding="utf-8")


def test_json_holds_every_figure(learnt: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["learn", "--record", str(learnt), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    (handle,) = (item for item in told["figures"] if item["key"] == "pace.handle_s")
    assert {"old", "new", "low", "high", "n", "enough"} <= set(handle)
    assert told["level"] == 0.9


def test_nothing_recorded_teaches_nothing(tmp_path: Path) -> None:
    with pytest.raises(chainplan.InputError, match="there is no record yet"):
        chainplan.learn(record=tmp_path / "none.sqlite")
    with Record.empty() as record:
        assert learn_from(record).figures == ()
