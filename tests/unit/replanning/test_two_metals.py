"""Pieces of several metals planned again: settings, spent material and designs follow the ring."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest

import chainplan
from chainplan.errors import InputError


@pytest.mark.usefixtures("only_orders")
def test_each_ring_keeps_its_own_setting_in_what_is_left(two_metals: Any) -> None:
    """As before where nothing changed, and in an order made anew; passes are of one setting."""
    first = two_metals.settings()
    assert {metal for _, _, metal in first.values()} == {"copper", "sterling-silver"}
    assert len({power for power, _, _ in first.values()}) == 2
    done = two_metals.order()[:7]
    two_metals.weld(done)
    two_metals.replan()
    left = {ring: kind for ring, kind in first.items() if ring not in done}
    assert two_metals.settings() == left
    two_metals.change(45)
    two_metals.replan()
    assert two_metals.settings() == left
    record = json.loads((two_metals.folder / "plan.json").read_text(encoding="utf-8"))
    order, rings = record["order"]["pieces"][0], two_metals.order()
    for work in order["passes"]:
        some = rings[work["first_step"] : work["first_step"] + work["joins"]]
        assert len({left[ring] for ring in some}) == 1


@pytest.mark.usefixtures("only_orders")
def test_joins_that_are_not_good_come_back_by_metal_with_one_more_hit(two_metals: Any) -> None:
    first = two_metals.settings()
    copper = next(ring for ring, kind in first.items() if kind[2] == "copper")
    silver = next(ring for ring, kind in first.items() if kind[2] == "sterling-silver")
    two_metals.weld(two_metals.order()[:6])
    two_metals.weld([copper, silver], "again")
    two_metals.replan()
    for ring in (copper, silver):
        power, hits, metal = first[ring]
        assert two_metals.settings()[ring] == (power, hits + 1, metal)
    record = json.loads((two_metals.folder / "plan.json").read_text(encoding="utf-8"))
    repairs = [p for p in record["order"]["pieces"][0]["passes"] if "not good" in p["text"]]
    assert len(repairs) == 2


@pytest.mark.usefixtures("only_orders")
def test_another_design_for_a_piece_that_was_begun_is_refused(two_metals: Any) -> None:
    """The same rings in number and size, but silver where copper was welded."""
    two_metals.weld(two_metals.order()[:6])
    two_metals.change(60, which="CSC")
    with pytest.raises(InputError, match="has other rings now, but 6 of its joins are welded"):
        two_metals.replan()


@pytest.mark.usefixtures("only_orders")
def test_material_is_spent_by_the_copies_that_are_begun(two_in_two_metals: Any) -> None:
    """One of two copies is begun: half of the metal of both kinds is spent, and no more."""
    workshop = two_in_two_metals
    workshop.weld(workshop.order()[:1])
    workshop.replan()
    record = json.loads((workshop.folder / "plan.json").read_text(encoding="utf-8"))
    metal = sum(
        Decimal(line["amount"]) for line in record["estimates"]["costs"]
        if line["item"].startswith(("metal", "scrap"))
    )  # fmt: skip
    row = next(r for r in record["replan"]["costs"] if r["what"] == "all other costs")
    assert metal > 0
    others = Decimal(str(row["together"])) - metal
    assert Decimal(str(row["spent"])) == pytest.approx(metal / 2 + others / 48, abs=Decimal("0.02"))


@pytest.mark.usefixtures("only_orders")
def test_what_is_spent_is_told_metal_by_metal(two_in_two_metals: Any) -> None:
    """One copy of two is begun: half of each metal's wire is spent, in grams and in money."""
    workshop = two_in_two_metals
    workshop.weld(workshop.order()[:1])
    workshop.replan()
    record = json.loads((workshop.folder / "plan.json").read_text(encoding="utf-8"))
    rows = {row["what"]: row for row in record["replan"]["costs"]}
    titles = {"copper": "Copper C110", "sterling-silver": "Sterling silver 925"}
    for key, title in titles.items():
        used_g = sum(w["mass_used_g"] for w in record["estimates"]["wire"] if w["metal"] == key)
        assert used_g > 0
        row = rows[title]
        assert (row["unit"], row["first"]) == ("g", pytest.approx(used_g, abs=0.011))
        assert row["spent"] == pytest.approx(used_g / 2, abs=0.011)
        assert row["to_come"] == pytest.approx(used_g / 2, abs=0.011)
        money = sum(
            Decimal(line["amount"]) for line in record["estimates"]["costs"]
            if line["item"].endswith(f": {title}")
        )  # fmt: skip
        spent = rows[f"of these {title}"]
        assert Decimal(str(spent["together"])) == money > 0
        assert Decimal(str(spent["spent"])) == pytest.approx(money / 2, abs=Decimal("0.011"))
    assert any(text.startswith("Metal: ") for text in record["replan"]["news"])


def test_yield_is_learnt_by_metal(two_metals: Any) -> None:
    """Each metal's joins have a yield of their own, at the power that they were welded with."""
    first = two_metals.settings()
    rings = two_metals.order()
    silver = [ring for ring in rings if first[ring][2] == "sterling-silver"]
    two_metals.weld([ring for ring in rings if ring not in silver])
    for _ in range(2):
        two_metals.weld(silver[:4], "again")
    two_metals.weld(silver)
    learnt = chainplan.learn(record=two_metals.folder.parent / "workshop.sqlite")
    found = {f.group: f for f in learnt.figures if f.title.startswith("yield by metal")}
    copper, other = sorted(found)
    assert copper.startswith("copper 1.2 mm at")
    assert other.startswith("sterling-silver 1.2 mm at")
    assert found[copper].new > found[other].new
