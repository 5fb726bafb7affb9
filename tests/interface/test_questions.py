"""Questions before planning: which ring, how long, what from the shelf, what if."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

import chainplan
from chainplan import cli
from chainplan.model.job import StockItem
from chainplan.model.kinds import StockKind

NECKLACE = Path(__file__).parents[2] / "samples" / "necklace.toml"


@pytest.fixture(scope="module")
def job() -> chainplan.Job:
    """The sample necklace, with a shelf of known things."""
    stock = (
        StockItem(kind=StockKind.WIRE, metal="sterling-silver", size_mm=1.0, amount=20.0),
        StockItem(kind=StockKind.WIRE, metal="sterling-silver", size_mm=0.8, amount=1.0),
        StockItem(kind=StockKind.WIRE, metal="copper", size_mm=1.2, amount=50.0),
        StockItem(kind=StockKind.MANDREL, size_mm=3.5, amount=1),
        StockItem(kind=StockKind.MANDREL, size_mm=2.5, amount=1),
    )
    return replace(chainplan.read_job(NECKLACE), stock=stock)


def test_fit_lists_the_shelf_first_and_says_how_each_ring_feels(job: chainplan.Job) -> None:
    """A chain's mass a centimetre is that of its rings; a larger ring makes a looser weave."""
    fit = chainplan.fit_rings(weave="single-link", wire="1.0mm", job=job)
    assert [ring.in_stock for ring in fit.rings][:2] == [True, True]
    assert not any(ring.in_stock for ring in fit.rings[2:])
    for ring in fit.rings:
        assert ring.rings_per_cm == pytest.approx(10 / ring.inner_mm, rel=1e-4)
        assert ring.mandrel_mm is not None
        assert ring.mandrel_mm < ring.inner_mm
        count = chainplan.count_rings(weave="single-link", wire=1.0, inner=ring.inner_mm, rings=40)
        assert ring.verdict == count.verdict
        assert ring.mass_g_per_cm == pytest.approx(ring.rings_per_cm * count.ring_mass_g)
    words = [ring.verdict for ring in sorted(fit.rings, key=lambda ring: ring.inner_mm)]
    assert words == sorted(words, key=["very tight", "tight", "supple", "loose"].index)


def test_fit_of_one_feel_finds_mandrels_within_its_band() -> None:
    """Bands are narrower than the usual series: then a finer one is taken."""
    for feel in ("very tight", "tight", "supple", "loose"):
        fit = chainplan.fit_rings(weave="byzantine", wire=0.9, feel=feel)
        assert {ring.verdict for ring in fit.rings} == {feel}
    with pytest.raises(chainplan.InputError, match="supple"):
        chainplan.fit_rings(weave="byzantine", wire=0.9, feel="suple")


def test_fit_counts_a_sheet_of_two_ring_sizes_by_the_engine() -> None:
    """Rings and mass of a centimetre are those that a long strip has."""
    fit = chainplan.fit_rings(weave="japanese-12-in-2", wire=1.2, feel="loose", rows=3)
    ring = fit.rings[0]
    count = chainplan.count_rings(
        weave="japanese-12-in-2", wire=1.2, inner=ring.inner_mm, rings=400, rows=3
    )
    assert ring.rings_per_cm == pytest.approx(count.rings_per_cm)
    per_ring_g = count.mass_g / count.rings
    assert ring.mass_g_per_cm == pytest.approx(count.rings_per_cm * per_ring_g)


def test_fit_answers_on_the_command_line_with_a_picture(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The list has the keys that people script against."""
    picture = tmp_path / "fit.svg"
    words = ["fit", "--weave", "byzantine", "--wire", "0.9mm", "--feel", "supple"]
    assert cli.main([*words, "--json", "--picture", str(picture)]) == 0
    rings = json.loads(capsys.readouterr().out)["rings"]
    assert rings
    assert {"inner_mm", "mandrel_mm", "verdict", "rings_per_cm"} <= set(rings[0])
    assert "supple" in picture.read_text(encoding="utf-8")
    assert cli.main(words) == 0
    assert "rings per cm" in capsys.readouterr().out


RING = {"weave": "byzantine", "wire": "1.0mm", "inner": "3.5mm"}


@pytest.mark.parametrize("limit", [{"from_wire": "6m"}, {"from_mass": "50g"}])
def test_the_longest_chain_takes_what_there_is_and_one_repeat_more_takes_too_much(
    limit: dict[str, str],
) -> None:
    """Spare rings, the saw's cut and coil ends are taken off; what is left is below a repeat."""
    count = chainplan.count_rings(**RING, **limit)
    made = count.made_from
    assert made is not None
    takes, there = (made.wire_length_m, 6) if "from_wire" in limit else (made.mass_used_g, 50)
    assert made.wire_length_m > count.wire_with_kerf_m
    repeat = takes / count.repeats
    assert takes <= there < takes + 3 * repeat
    assert count.rings == 6 * count.repeats


def test_a_budget_is_the_price_that_the_customer_pays(job: chainplan.Job) -> None:
    """It needs the job's prices, and a metal without a price is refused."""
    count = chainplan.count_rings(**RING, from_budget=200, job=job)
    assert count.made_from is not None
    assert count.made_from.price_with_tax is not None
    assert Decimal(190) < count.made_from.price_with_tax <= Decimal(200)
    with pytest.raises(chainplan.InputError, match="needs a job"):
        chainplan.count_rings(**RING, from_budget=200)
    with pytest.raises(chainplan.InputError, match="no price"):
        chainplan.count_rings(**RING, metal="copper", from_budget=200, job=replace(job, prices=()))
    with pytest.raises(chainplan.InputError, match="not enough for one repeat"):
        chainplan.count_rings(**RING, from_wire="2cm")
    with pytest.raises(chainplan.InputError, match="one of"):
        chainplan.count_rings(**RING, from_wire="2m", length="3cm")


def test_the_shelf_gives_substitutes_the_best_first(job: chainplan.Job) -> None:
    """Wire of another metal is none; where wire runs short that is said; a bad ring comes last."""
    shelf = chainplan.substitute_rings(job)
    assert {ring.metal for ring in shelf.rings} == {"sterling-silver"}
    assert {(ring.wire_mm, ring.mandrel_mm) for ring in shelf.rings} == {
        (1.0, 3.5), (1.0, 2.5), (0.8, 3.5), (0.8, 2.5),
    }  # fmt: skip
    first = shelf.rings[0]
    assert (first.wire_mm, first.mandrel_mm, first.enough) == (1.0, 3.5, True)
    thin = next(ring for ring in shelf.rings if (ring.wire_mm, ring.mandrel_mm) == (0.8, 3.5))
    assert not thin.enough
    assert "of wire missing" in thin.reason
    assert shelf.rings[-1].rings == 0
    assert "smallest" in shelf.rings[-1].reason
    with pytest.raises(chainplan.InputError, match="stock"):
        chainplan.substitute_rings(replace(job, stock=()))


def test_what_if_moves_cost_by_what_changed(job: chainplan.Job) -> None:
    """Metal by ten per cent moves the cost by ten per cent of the metal's lines."""
    answer = chainplan.what_if(job, ["metal:sterling-silver+10%"])
    (line,) = answer.lines
    assert line.cost_after > line.cost_before
    assert line.price_after > line.price_before
    wage = chainplan.what_if(job, ["wage=60"]).lines[0]
    same = chainplan.what_if(job, [f"wage={job.bench.money.labour_per_hour}"]).lines[0]
    assert wage.cost_after > same.cost_after == same.cost_before == line.cost_before
    worse = chainplan.what_if(job, ["yield=80%"]).lines[0]
    assert worse.cost_after > worse.cost_before
    taxed = chainplan.what_if(job, ["tax=20"])
    (line,) = taxed.lines
    assert line.price_before == line.price_after == line.with_tax_before
    assert line.with_tax_after == pytest.approx(
        line.price_after * Decimal("1.2"), abs=Decimal("0.01")
    )
    assert taxed.tax == "prices before tax, and with tax: 0 % before, 20 % after"


def test_what_if_of_a_plan_begins_at_the_plan_s_own_quotes(tmp_path: Path) -> None:
    """From the plan in memory and from its folder alike; another job's plan is refused."""
    job = chainplan.read_job(NECKLACE)
    short = replace(
        job,
        pieces=tuple(
            replace(
                piece,
                parts=(),
                clasp_length_mm=0.0,
                sections=tuple(replace(s, length_mm=30.0) for s in piece.sections),
            )
            for piece in job.pieces
        ),
    )
    plan = chainplan.make_plan(short)
    answer = chainplan.what_if(short, ["margin=50"], plan=plan)
    quote = plan.estimates.quotes[0]
    assert answer.lines[0].cost_before == answer.lines[0].cost_after == quote.cost_each
    assert answer.lines[0].price_before == quote.price_each
    assert answer.lines[0].price_after == pytest.approx(quote.cost_each * 2)
    folder = chainplan.write_plan(plan, tmp_path / "plan")
    assert chainplan.what_if(short, ["margin=50"], plan=folder).lines == answer.lines
    with pytest.raises(chainplan.InputError, match="another state"):
        chainplan.what_if(replace(short, input_sha256="0"), ["margin=50"], plan=folder)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("wage", "cannot be read"),
        ("wgae=3", "wage"),
        ("metal:gold-18k-yellow+5%", "no price|not known"),
        ("yield=2", "0.3 to 1"),
        ("handle s=3", "weld order"),
        ("wage=-100", "out of bounds"),
        ("metal:sterling-silver-120%", "more than all"),
    ],
)
def test_what_if_refuses_what_it_cannot_answer(change: str, said: str, job: chainplan.Job) -> None:
    """With the words that may have been meant, or why the plan has to be made anew."""
    with pytest.raises(chainplan.InputError, match=said):
        chainplan.what_if(job, [change])


def test_a_missed_target_does_not_hide_how_the_ring_weaves(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Both stand on the line: the verdict on the ring, and what it misses."""
    words = ["compare", str(NECKLACE), "--inner", "3.5mm,4.0mm", "--target", "under 1 g"]
    assert cli.main(words) == 0
    lines = [line for line in capsys.readouterr().out.splitlines() if "misses" in line]
    said = [line.rpartition("  ")[2].split("; ") for line in lines]
    assert [(words[0], words[-1]) for words in said] == [
        ("tight", "misses: under 1 g"), ("supple", "misses: under 1 g"),
    ]  # fmt: skip


def test_sizes_that_suit_are_named_for_a_ring_that_suits_too() -> None:
    """Each of them weaves well; those nearest to the ring are named."""
    count = chainplan.count_rings(weave="byzantine", wire=1.0, inner=4.0, rings=60)
    assert count.verdict == "supple"
    assert 4.0 in count.suitable_inner_mm
    for inner_mm in count.suitable_inner_mm:
        other = chainplan.count_rings(weave="byzantine", wire=1.0, inner=inner_mm, rings=60)
        assert other.verdict in ("tight", "supple")


def test_counts_that_judge_no_ring_are_the_counts_of_a_plan() -> None:
    """Leaving out how rings suit leaves every count, length and mass as it is."""
    from chainplan.public.counting import count_piece

    for name in ("necklace.toml", "stone-necklace.toml", "dangles.toml"):
        for piece in chainplan.read_job(NECKLACE.with_name(name)).pieces:
            bare, judged = count_piece(piece, judged=False), count_piece(piece)
            for one, other in zip(bare, judged, strict=True):
                assert one.limits is None
                assert other.limits is not None or other.weave == "connecting-rings"
                for key in ("rings", "joins", "links", "length_mm", "mass_g", "wire_length_m"):
                    assert getattr(one, key) == getattr(other, key)
